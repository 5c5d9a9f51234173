"""Opens a line in the educator's own editor, where he has said which one and how it is told a line."""

import re
import shlex
import subprocess
import threading
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

from builder.findings.message_words import quoted
from builder.place import Place

VARIABLE = "PRESCRUB_EDITOR"
EXAMPLE = "'someeditor --line {line} {path}' or 'someeditor://open?file={path}&line={line}'"
_ADDRESS = re.compile(r"(?P<scheme>[a-z][a-z0-9+.-]+):")
_NO_EDITOR = frozenset({"javascript", "data", "vbscript", "http", "https", "blob", "about"})
_NOTHING = subprocess.DEVNULL
_PLACE = re.compile(r"\{(path|line|column)\}")


class OwnEditor:
    """How a line is opened: by an address that the browser follows, or by a command; "" where not at all.

    VISUAL and EDITOR are not asked: they mean programs of a terminal, and do not say how a line is named. Raises
    ValueError, in plain words, where ``how`` names no file or is an address of another kind.
    """

    def __init__(self, how: str) -> None:
        self.how = how.strip()
        match = _ADDRESS.match(self.how)
        self.is_address = bool(match)
        if self.how and "{path}" not in self.how:
            raise ValueError(f"{quoted(how)} does not say where the file's name goes. Write it as {EXAMPLE}.")
        if match and match["scheme"] in _NO_EDITOR:
            raise ValueError(f"{quoted(how)} is not an editor's address. Write it as {EXAMPLE}.")

    @classmethod
    def chosen(cls, option: str | None, environment: Mapping[str, str]) -> "OwnEditor":
        """Return the editor of the command line, else of the environment."""
        return cls(option if option is not None else environment.get(VARIABLE, ""))

    def address(self, root: Path, at: Place) -> str:
        """Return the address that opens the place ``at`` below ``root``; "" where there is none."""
        if not self.is_address:
            return ""
        return _filled(self.how, quote((root / at.file).resolve().as_posix(), safe="/:"), at)

    def open(self, root: Path, at: Place) -> str:
        """Start the command for the place ``at`` below ``root``; return why it cannot be, "" where it was."""
        if not self.how or self.is_address:
            return "No editor was named when the preview was started."
        words = [_filled(word, str((root / at.file).resolve()), at) for word in shlex.split(self.how)]
        try:
            # A list of words, never a shell: a file's name cannot become a command.
            process = subprocess.Popen(words, stdin=_NOTHING, stdout=_NOTHING, stderr=_NOTHING)  # noqa: S603
            threading.Thread(target=process.wait, daemon=True).start()  # so that nothing is left of it when it ends
        except OSError as error:
            return f"{words[0]} cannot be started ({error.strerror or error})."
        return ""


def _filled(text: str, path: str, at: Place) -> str:
    values = {"path": path, "line": str(at.line), "column": str(at.column)}
    return _PLACE.sub(lambda match: values[match[1]], text)

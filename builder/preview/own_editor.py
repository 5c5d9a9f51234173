"""Opens a line in the educator's own editor, where he has said which one and how it is told a line."""

from __future__ import annotations

import re
import shlex
import subprocess
import threading
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

from builder.findings.message_words import quoted

VARIABLE = "PRESCRUB_EDITOR"
EXAMPLE = "'someeditor --line {line} {path}' or 'someeditor://open?file={path}&line={line}'"
_ADDRESS = re.compile(r"(?P<scheme>[a-z][a-z0-9+.-]+):")
_NO_EDITOR = frozenset({"javascript", "data", "vbscript", "http", "https", "blob", "about"})
_NOTHING = subprocess.DEVNULL
_PLACES = ("path", "line", "column")
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
            raise ValueError(f"{quoted(how)} is no editor's address. Write it as {EXAMPLE}.")

    @classmethod
    def chosen(cls, option: str | None, environment: Mapping[str, str]) -> OwnEditor:
        """Return the editor of the command line, else of the environment."""
        return cls(option if option is not None else environment.get(VARIABLE, ""))

    def address(self, root: Path, name: str, line: int, column: int) -> str:
        """Return the address that opens a line of the file ``name``; "" where there is none."""
        if not self.is_address:
            return ""
        path = quote((root / name).resolve().as_posix(), safe="/:")
        return _filled(self.how, (path, str(line), str(column)))

    def open(self, root: Path, name: str, line: int, column: int) -> str:
        """Start the command for a line of the file ``name``; return why it cannot be, "" where it was."""
        if not self.how or self.is_address:
            return "No editor is named."
        values = (str((root / name).resolve()), str(line), str(column))
        words = [_filled(word, values) for word in shlex.split(self.how)]
        try:
            # A list of words, never a shell: a file's name cannot become a command.
            process = subprocess.Popen(words, stdin=_NOTHING, stdout=_NOTHING, stderr=_NOTHING)  # noqa: S603
            threading.Thread(target=process.wait, daemon=True).start()  # so that nothing is left of it when it ends
        except OSError as error:
            return f"{words[0]} cannot be started ({error.strerror or error})."
        return ""


def _filled(text: str, values: tuple[str, str, str]) -> str:
    by_name = dict(zip(_PLACES, values, strict=True))
    return _PLACE.sub(lambda match: by_name[match[1]], text)

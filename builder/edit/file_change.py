"""What front matter holds once the places are forgotten, the edits that can be asked for, and why one is refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.place import WHERE_KEY

Value = str | list["Value"] | dict[str, "Value"] | None
"""A piece of front matter: text, a list, a mapping whose keys are text, or None for a key that stands empty."""

Path = tuple[str | int, ...]
"""The way to a value: keys of mappings, and numbers of list entries counted from 0."""


class CannotEdit(Exception):
    """Raised where an edit cannot be made without touching more than was asked; says why, and what to do.

    ``line`` is the line of the file that stands in the way, counted from 1; 0 where there is none.
    """

    def __init__(self, reason: str, hint: str, line: int = 0) -> None:
        super().__init__(reason)
        self.reason = reason
        self.hint = hint
        self.line = line


class Unfit(Exception):
    """Raised where what was filled in cannot be written; ``problems`` say what is wrong, each with its field."""

    def __init__(self, *problems: tuple[Path, str]) -> None:
        super().__init__("; ".join(text for _, text in problems))
        self.problems = problems


def plain(value: Any) -> Value:
    """Return ``value``, as the loader reads it, without places."""
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items() if key != WHERE_KEY}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    return None if value is None else str(value)


def at(value: Value, path: Path) -> Value:
    """Return what stands at ``path`` of ``value``. Raises LookupError where nothing does."""
    for part in path:
        if isinstance(value, dict) and isinstance(part, str):
            value = value[part]
            continue
        if not isinstance(value, list) or not isinstance(part, int) or not 0 <= part < len(value):
            raise LookupError(path)
        value = value[part]
    return value


@dataclass(frozen=True, slots=True)
class ListEntry:
    """An entry of a list as it is wanted; ``origin`` is where it stood in the file as opened, None for a new one."""

    value: Wanted
    origin: Path | None = None


class Ordered(dict[str, "Wanted"]):
    """A mapping whose keys are to stand in this order, such as a kit or the ways of a choice."""


Wanted = str | Sequence["Wanted"] | Mapping[str, "Wanted"] | ListEntry | None
"""A Value whose list entries may say where they stood, so that an entry that moved keeps its remarks and its manner."""


@dataclass(frozen=True, slots=True)
class Put:
    """``wanted`` stands at ``path``: what is there is changed as little as can be, what is not is put in."""

    path: Path
    wanted: Wanted


@dataclass(frozen=True, slots=True)
class Drop:
    """The key or list entry at ``path`` goes."""

    path: Path


@dataclass(frozen=True, slots=True)
class ProseEdit:
    """The prose of the file is ``text``."""

    text: str


@dataclass(frozen=True, slots=True)
class FileChange:
    """What is to become of a file: ``text`` None takes it away; ``seen`` is the digest of what the author saw.

    ``seen`` None: the file must not be there yet.
    """

    text: str | bytes | None
    seen: str | None

    @property
    def content(self) -> bytes | None:
        """The bytes that the file is to hold; a line end is written as it is."""
        return self.text.encode("utf-8") if isinstance(self.text, str) else self.text


Edit = Put | Drop | ProseEdit


def settled(wanted: Wanted) -> Value:
    """Return ``wanted`` without the origins of its rows."""
    if isinstance(wanted, ListEntry):
        return settled(wanted.value)
    if wanted is None or isinstance(wanted, str):
        return wanted
    if isinstance(wanted, Mapping):
        return {key: settled(inner) for key, inner in wanted.items()}
    return [settled(inner) for inner in wanted]

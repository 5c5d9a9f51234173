"""The edits that can be asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder.edit.values import Path, Value


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

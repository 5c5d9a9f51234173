"""The catalogues: names become the one entry they mean."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Generic, Protocol, TypeVar

from builder.place import Text


class _Entry(Protocol):
    @property
    def id(self) -> Text: ...
    @property
    def name(self) -> Text: ...
    @property
    def also(self) -> tuple[Text, ...]: ...


E = TypeVar("E", bound=_Entry)


def plain_name(words: str) -> str:
    """Return ``words`` as names are compared: small letters, one hyphen for each run of spaces."""
    return "-".join(words.casefold().split())


class Catalogue(Generic[E]):
    """Entries by id, found by id, name or other name. Frozen once made; the first of two equal names wins."""

    def __init__(self, entries: Iterable[E] = ()) -> None:
        self.entries: tuple[E, ...] = tuple(entries)
        names: dict[str, E] = {}
        for entry in self.entries:
            names.setdefault(plain_name(entry.id), entry)
        for entry in self.entries:
            for name in (entry.name, *entry.also):
                names.setdefault(plain_name(name), entry)
        self._names: Mapping[str, E] = names

    def find(self, words: str) -> E | None:
        """Return the entry that ``words`` (an id or a name) means, or None."""
        return self._names.get(plain_name(words))

    def near(self, words: str) -> str | None:
        """Return the name in the catalogue that looks most like ``words``, or None where none does."""
        close = get_close_matches(plain_name(words), self._names, n=1, cutoff=0.7)
        return str(self._names[close[0]].name) if close else None

    def __iter__(self) -> Iterator[E]:
        return iter(self.entries)

    def __len__(self) -> int:
        return len(self.entries)

"""The catalogues: names become the one entry they mean."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Generic, TypeVar

from builder.findings.message_words import near
from builder.model.pages import Item, Structure
from builder.place import Text

E = TypeVar("E", bound=Structure | Item)


def plain_name(words: str) -> str:
    """Return ``words`` as names are compared: small letters, one hyphen for each run of spaces."""
    return "-".join(words.casefold().split())


class Catalogue(Generic[E]):
    """Entries by id, found by id, name or other name. Frozen once made; the first of two equal names wins.

    ``under`` is the catalogue that is asked for what this one does not have, read only then; its entries with an id in
    ``hidden`` are not found: this one has another in their place, or has switched them off. ``whole`` are the ids of
    entries that take nothing from there.
    """

    def __init__(
        self,
        entries: Iterable[E] = (),
        under: Callable[[], Catalogue[E]] | None = None,
        hidden: Iterable[str] = (),
        whole: Iterable[str] = (),
    ) -> None:
        self.entries: tuple[E, ...] = tuple(entries)
        self._under = under
        self.hidden = frozenset(hidden)
        self.whole = frozenset(whole)
        names: dict[str, E] = {}
        for entry in self.entries:
            names.setdefault(plain_name(entry.id), entry)
        for entry in self.entries:
            for name in _names(entry):
                names.setdefault(plain_name(name), entry)
        self._names: Mapping[str, E] = names

    def find(self, words: str) -> E | None:
        """Return the entry that ``words`` (an id or a name) means, or None."""
        entry = self._names.get(plain_name(words))
        if entry is None and self._under is not None:
            below = self._under().find(words)
            if below is not None and below.id in self.hidden:
                return self._names.get(plain_name(below.id))
            return below
        return entry

    def near(self, words: str) -> str | None:
        """Return the name in the catalogue that looks most like ``words``, or None where none does."""
        for names in (self._names, {plain_name(name): entry for entry in self.everything() for name in _names(entry)}):
            close = near(plain_name(words), names)
            if close:
                return str(names[close].name)
        return None

    def everything(self) -> Iterator[E]:
        """Yield every entry that can be found, this catalogue's own first."""
        yield from self.entries
        if self._under is not None:
            yield from (entry for entry in self._under().everything() if not self._has(entry))

    def _has(self, entry: E) -> bool:
        """Tell whether an entry of the catalogue under this one is here already, by its id or by a name."""
        return entry.id in self.hidden or any(plain_name(name) in self._names for name in _names(entry))

    def names(self) -> Iterator[Text]:
        """Yield every name by which an entry can be called."""
        for entry in self.everything():
            yield from _names(entry)

    def __iter__(self) -> Iterator[E]:
        return iter(self.entries)

    def __len__(self) -> int:
        return len(self.entries)


def _names(entry: Structure | Item) -> tuple[Text, ...]:
    return (entry.name, *entry.also)

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
        self._called = [(entry, tuple(map(plain_name, _names(entry)))) for entry in self.entries]
        names: dict[str, E] = {}
        for entry in self.entries:
            names.setdefault(plain_name(entry.id), entry)
        for entry, called in self._called:
            for name in called:
                names.setdefault(name, entry)
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
        for names in (self._names, {name: entry for entry, called in self._everything_called() for name in called}):
            close = near(plain_name(words), names)
            if close:
                return str(names[close].name)
        return None

    def everything(self) -> Iterator[E]:
        """Yield every entry that can be found, this catalogue's own first."""
        return (entry for entry, _ in self._everything_called())

    def _everything_called(self) -> Iterator[tuple[E, tuple[str, ...]]]:
        """Yield every entry with its names as names are compared; one that is here by id or a name hides that below."""
        yield from self._called
        if self._under is not None:
            for entry, called in self._under()._everything_called():
                if entry.id not in self.hidden and self._names.keys().isdisjoint(called):
                    yield entry, called

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

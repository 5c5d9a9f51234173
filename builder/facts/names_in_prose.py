"""The names of the catalogues where prose mentions them, and what an instruction in prose does to them."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from builder.facts.anatomy import anatomy
from builder.facts.catalogue_names import items_named, structures_named
from builder.facts.remembered import once_per_department, once_per_text
from builder.grouping import word_set
from builder.model.action import Action
from builder.model.library import Library
from builder.model.pages import Item, Structure

Entry = Structure | Item
_TOKEN = re.compile(r"[^\W_]+")
_BREAK = re.compile(r"[^\w\s-]")


class NameInText(NamedTuple):
    """A name of the catalogues in a text: from ``start`` to ``stop``, and what it names."""

    start: int
    stop: int
    entry: Entry


ShortForms = Mapping[str, tuple[Entry, ...]]
"""What the short forms that a text may use mean."""

_NO_SHORT: ShortForms = {}


class NamesInProse:
    """Every name of the catalogues, found in prose word by word; the longest name wins.

    A part of a name is so never taken for another: "cord tape" does not mention the cord.
    """

    def __init__(self, library: Library) -> None:
        self.anatomy = anatomy(library)
        self._found: dict[str, Entry | None] = {}
        self.items = library.items
        self._by_first: dict[str, list[tuple[tuple[str, ...], Entry]]] = defaultdict(list)
        entries: tuple[Entry, ...] = (*structures_named(library), *items_named(library))
        for entry in entries:
            for name in (entry.name, *entry.also):
                parts = tuple(_TOKEN.findall(name.casefold()))
                if parts and self._means(name, entry):
                    self._by_first[parts[0]].append((parts, entry))
        for found in self._by_first.values():
            found.sort(key=lambda named: -len(named[0]))
        self._starts = {form for first in self._by_first for form in plurals(first)}
        self._short: dict[tuple[str, ...], ShortForms] = {}

    def _means(self, name: str, entry: Entry) -> bool:
        """Tell whether ``name`` means ``entry`` here, as one too: a department's own swab is meant by ``swabs``."""
        meant = (self.find(name), self.find(name.removesuffix("s")))
        return all(other is None or other.id == entry.id for other in meant)

    def find(self, name: str) -> Entry | None:
        """Return the structure or item that ``name`` means."""
        if name not in self._found:
            self._found[name] = self.anatomy.structure(name) or self.anatomy.item(name)
        return self._found[name]

    def handled(self, actions: Iterable[Action]) -> dict[str, Entry]:
        """Return by id all structures and items that ``actions`` deal with."""
        named = (
            name
            for action in actions
            for name in (*action.objects, *action.using, *filter(None, (action.inside, action.on)))
        )
        return {str(entry.id): entry for name in named if (entry := self.find(name)) is not None}

    def short_forms(self, entries: Mapping[str, Entry]) -> ShortForms:
        """Return the short forms of ``entries``, which stand by their ids; made once for the same ones."""
        ids = tuple(entries)
        if ids not in self._short:
            self._short[ids] = short_forms(entries.values())
        return self._short[ids]

    def mentions(self, text: str, short: ShortForms = _NO_SHORT) -> Iterator[NameInText]:
        """Yield each name in ``text``, and each of ``short``, which are the short forms that this text may use.

        ``the nerves`` is as many mentions at one place as it means nerves.
        """
        firsts = {words.partition(" ")[0] for words in short}
        begins = self._starts.union(firsts, [f"{first}s" for first in firsts]) if firsts else self._starts
        small = text.casefold()
        words = _TOKEN.findall(small)
        if begins.isdisjoint(words):
            return
        tokens = list(_TOKEN.finditer(small))
        position = 0
        for here, word in enumerate(words):
            if here < position or word not in begins:
                continue
            named = self._at(text, words, tokens, here) if word in self._starts else None
            length, entries = (named[0], (named[1],)) if named is not None else _short(words, here, short)
            position = here + length
            yield from (NameInText(tokens[here].start(), tokens[position - 1].end(), meant) for meant in entries)

    def _at(self, text: str, words: list[str], tokens: list[re.Match[str]], position: int) -> tuple[int, Entry] | None:
        """Return how many words a name at ``position`` has, and what it names."""
        word = words[position]
        for first in (word, word.removesuffix("s"), word.removesuffix("es")):
            for parts, entry in self._by_first.get(first, ()):
                here = words[position : position + len(parts)]
                if len(here) < len(parts) or tuple(here[:-1]) != parts[:-1] or here[-1] not in plurals(parts[-1]):
                    continue
                apart = text[tokens[position].end() : tokens[position + len(parts) - 1].start()]
                if not _BREAK.search(apart):
                    return len(parts), entry
        return None


def _short(words: list[str], position: int, short: ShortForms) -> tuple[int, tuple[Entry, ...]]:
    """Return how many words a short form at ``position`` has, and what it means."""
    for length in (2, 1) if position + 1 < len(words) else (1,):
        form = " ".join(words[position : position + length])
        meant = short.get(form) or short.get(form.removesuffix("s"))
        if meant:
            return length, meant
    return 1, ()


names_in_prose = once_per_department(NamesInProse)


@once_per_text
def named_in(library: Library, text: str, short: ShortForms = _NO_SHORT) -> tuple[NameInText, ...]:
    """Return what ``text`` names, by the names of the catalogues and by ``short``."""
    return tuple(names_in_prose(library).mentions(text, short))


def plurals(word: str) -> tuple[str, ...]:
    """Return ``word`` as one and as several."""
    return word, f"{word}s", f"{word}es"


_KINDS = word_set("aponeurosis artery bone duct fascia ligament muscle nerve sheath tendon vein vessels")


def short_forms(entries: Iterable[Entry]) -> dict[str, tuple[Entry, ...]]:
    """Return what the end of a name means where only one of ``entries`` ends with it, and what means all of them.

    ``the duct``; ``the nerves``, ``each nerve`` where two are nerves; ``the internal oblique`` for a muscle so named.
    """
    by_word: dict[str, list[Entry]] = defaultdict(list)
    found: dict[str, tuple[Entry, ...]] = {}
    for entry in entries:
        words = _TOKEN.findall(entry.name.casefold())
        if len(words) > 1:
            by_word[words[-1]].append(entry)
        if len(words) == 3 and words[-1] in _KINDS:
            found[" ".join(words[:-1])] = (entry,)
            if words[0].endswith(("us", "is")):  # Latin nouns: the transversus, the rectus
                by_word[words[0]].append(entry)
    for word, named in by_word.items():
        found[word if len(named) == 1 else f"{word}s"] = tuple(named)
        found[f"each {word}"] = found[f"every {word}"] = tuple(named)
    return found

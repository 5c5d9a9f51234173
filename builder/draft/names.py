"""Names of the catalogues in what people write and say: as they are, in the plural, misspelt, or misheard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from builder.load.pronunciations import is_word
from builder.model.library import Library
from builder.model.pages import Item, Structure

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)?")
_SHORTEST_FUZZY = 7
_ALIKE = 86
_VERY_ALIKE = 91
_SMALL_LIST = """
the a an of and or to in on at by for with from into then that this is are was be it its you we i as so not no your
our his her their through over under between round around up down out off
"""
_SMALL = frozenset(_SMALL_LIST.split())
# What the names of anatomy and of things used end with; a word before one of these belongs to a name.
STRUCTURE_NOUNS_LIST = """
artery arteries vein veins nerve nerves muscle muscles ligament tendon tendons fascia aponeurosis sheath duct gland
cartilage membrane mesentery pulley retinaculum bursa plexus sinus isthmus peritoneum pleura tunica ring canal
septum vessels bundle branch arch cord
"""
STRUCTURE_NOUNS = frozenset(STRUCTURE_NOUNS_LIST.split())
ITEM_NOUNS_LIST = """
forceps clamp clamps retractor retractors suture sutures stitch needle needles drain catheter tube cannula blade
scissors dilator dilators guidewire wire dressing swab swabs pack packs sponge syringe probe hook spatula scalpel
knife tie ties clips stapler speculum trocar introducer sheath bandage gauze splint tape ribbon
"""
ITEM_NOUNS = frozenset(ITEM_NOUNS_LIST.split())


@dataclass(frozen=True, slots=True)
class Mention:
    """A name of a catalogue in a text: from ``start`` to ``end``; ``heard`` are the words, ``name`` what they mean."""

    start: int
    end: int
    name: str
    heard: str
    is_structure: bool
    kind: str
    exact: bool


class Names:
    """Finds the names of a department's catalogues. One instance a draft: words are compared once."""

    def __init__(self, library: Library) -> None:
        self._entries: dict[str, Structure | Item] = {}
        self._longest = 1
        for entry in (*library.structures, *library.items):
            for name in (entry.name, entry.id, *entry.also):
                words = [_singular(word) for word in _WORD.findall(name.casefold())]
                self._entries.setdefault("".join(words), entry)
                self._longest = max(self._longest, len(words))
        self._keys = list(self._entries)
        self._kept: dict[tuple[str, ...], tuple[str, bool] | None] = {}

    def mentions(self, text: str) -> list[Mention]:
        """Return the names in ``text`` in order; the longest name at each place."""
        words = [(match.start(), match.end(), match.group()) for match in _WORD.finditer(text)]
        found: list[Mention] = []
        at = 0
        while at < len(words):
            mention = self._at(text, words, at)
            if mention is None:
                at += 1
                continue
            found.append(mention)
            at = next((number for number in range(at, len(words)) if words[number][0] >= mention.end), len(words))
        return found

    def _at(self, text: str, words: list[tuple[int, int, str]], at: int) -> Mention | None:
        """Return the name that begins with the word ``at``: an exact one before one that is only alike."""
        best: Mention | None = None
        for count in range(min(self._longest + 2, len(words) - at), 0, -1):
            window = words[at : at + count]
            between = text[window[0][0] : window[-1][1]]
            if any(sign in between for sign in ",;:.!?()\n"):
                continue
            found = self._meant(tuple(word.casefold() for _, _, word in window))
            if found is None:
                continue
            key, exact = found
            entry = self._entries[key]
            structure = isinstance(entry, Structure)
            mention = Mention(window[0][0], window[-1][1], str(entry.name), between, structure, entry.kind.value, exact)
            if exact:
                return mention
            best = best or mention
        return best

    def _meant(self, words: tuple[str, ...]) -> tuple[str, bool] | None:
        if words not in self._kept:
            self._kept[words] = self._looked_up(words)
        return self._kept[words]

    def _looked_up(self, words: tuple[str, ...]) -> tuple[str, bool] | None:
        if words[0] in _SMALL or words[-1] in _SMALL:
            return None
        key = "".join(_singular(word) for word in words)
        if key in self._entries:
            return key, True
        if len(key) < _SHORTEST_FUZZY or not self._keys:
            return None
        strange = any(not is_word(word) for word in words)
        if len(words) == 1 and not strange:
            return None
        found = process.extractOne(key, self._keys, scorer=fuzz.ratio, score_cutoff=_ALIKE if strange else _VERY_ALIKE)
        if found is None or len(found[0]) < _SHORTEST_FUZZY:
            return None
        return found[0], False

    def near(self, words: str, many: int = 2) -> tuple[str, ...]:
        """Return the names in the catalogues that look most like ``words``; none where none does."""
        key = "".join(_singular(word) for word in _WORD.findall(words.casefold()))
        found = process.extract(key, self._keys, scorer=fuzz.WRatio, score_cutoff=72, limit=many + 2)
        return tuple(dict.fromkeys(str(self._entries[one[0]].name) for one in found))[:many]


def _singular(word: str) -> str:
    bare = word.replace("’", "'").removesuffix("'s").replace("'", "")
    if len(bare) > 3 and bare.endswith("s") and not bare.endswith(("ss", "us", "is", "as")):
        return f"{bare[:-3]}y" if bare.endswith("ies") and len(bare) > 5 else bare[:-1]
    return bare


_NOUN_PHRASE = re.compile(r"(?:[^\W\d_][\w-]*\s+){1,3}?(?P<noun>[^\W\d_][\w-]*)")


def looks_like_a_name(text: str, taken: list[Mention]) -> Iterator[tuple[int, str, str]]:
    """Yield ``(offset, words, kind)`` of words that end as names do and are no name of the catalogues."""
    words = [(match.start(), match.end(), match.group()) for match in _WORD.finditer(text)]
    for number, (start, end, word) in enumerate(words):
        low = word.casefold()
        kind = "structure" if low in STRUCTURE_NOUNS else "item" if low in ITEM_NOUNS else ""
        if not kind or any(one.start < end and start < one.end for one in taken):
            continue
        first = number
        while (
            first
            and number - first < 3
            and _qualifies(words[first - 1][2], text[words[first - 1][1] : words[first][0]])
        ):
            first -= 1
        if first < number and not any(one.start < end and words[first][0] < one.end for one in taken):
            yield words[first][0], text[words[first][0] : end], kind


_NO_PART_LIST = """
one two three four five six more another each both any some all every other same first second third last next new
small large big long short fine wide deep whole left right upper lower there here now just if when where tie tied
cut divide find identify open close clamp clip place put insert remove see look use using take pass pull push hold
keep leave grasp pick expose free ligate stitch sew need have has had will can should must may would could do does
did don't never always again also only than what which who these those my me us them they he she about after before
until once because but place out get got go make made want count counts give protect avoid injure hurt damage feel
free inspect check withdraw advance thread slide lay apply
"""
_NO_PART = _SMALL | frozenset(_NO_PART_LIST.split())


def _qualifies(word: str, between: str) -> bool:
    """Tell whether ``word`` can be part of the name behind it."""
    low = word.casefold()
    if between.strip(" -") or low in _NO_PART or low.isdigit() or low.endswith("ly"):
        return False
    return not (low.endswith("ing") and is_word(low))

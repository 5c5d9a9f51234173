"""Names of the catalogues in what people write and say: as they are, in the plural, misspelt, or misheard."""

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from rapidfuzz import fuzz, process

from builder.draft.mishearings import SoundIndex, SoundsLike
from builder.facts.imperatives import stem
from builder.facts.remembered import once_per_library
from builder.grouping import word_set
from builder.load.pronunciations import is_word
from builder.model import common_catalogue
from builder.model.library import Library
from builder.model.pages import Item, Structure

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)?")
_SHORTEST_FUZZY = 7
_ALIKE = 85
_NEAR = 60
_FARTHEST = 2
"""Letters more or fewer: beyond that it is another word, such as the operation for the tube of it."""
_VERY_ALIKE = 91
_SMALL = word_set("""
the a an of and or to in on at by for with from into then that this is are was be it its you we i as so not no your
our his her their through over under between round around up down out off
""")
_NEVER = _SMALL - {"of", "and"}
_WHERE = word_set("""
anterior posterior superficial deep internal external inner outer medial lateral middle upper lower left right proximal
distal common short long
""")
"""What tells one artery from another only beside more words."""
# What the names of anatomy and of things used end with; a word before one of these belongs to a name.
STRUCTURE_NOUNS = word_set("""
artery arteries vein veins nerve nerves muscle muscles ligament tendon tendons fascia aponeurosis sheath duct gland
cartilage membrane mesentery pulley retinaculum bursa plexus sinus isthmus peritoneum pleura tunica ring canal
septum vessels bundle branch arch cord
""")
ITEM_NOUNS = word_set("""
forceps clamp clamps retractor retractors suture sutures stitch needle needles drain catheter tube cannula blade
scissors dilator dilators guidewire wire dressing swab swabs pack packs sponge syringe probe hook spatula scalpel
knife tie ties clips stapler speculum trocar introducer sheath bandage gauze splint tape ribbon
""")


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

    @property
    def is_apart(self) -> bool:
        """Tell whether it is said in more words than the name has: ``prota mine``."""
        return len(self.heard.replace("-", " ").split()) > len(self.name.replace("-", " ").split())


class CatalogueNames:
    """Finds the names of the catalogues. One instance a Library: words are compared once.

    Only the department's own names are also found misspelt or misheard; those of the common catalogue as they are.
    """

    def __init__(self, library: Library) -> None:
        self._entries: dict[str, Structure | Item] = {}
        self._longest = 1
        own: set[Structure | Item] = {*library.structures, *library.items}
        known: list[Structure | Item] = [*library.structures.everything(), *library.items.everything()]
        self._keys: list[str] = []
        for entry in known:
            for name in (entry.name, entry.id, *entry.also):
                words = [_singular(word) for word in _WORD.findall(name.casefold())]
                self._entries.setdefault("".join(words), entry)
                if entry in own:
                    self._keys.append("".join(words))
                self._longest = max(self._longest, len(words))
        self._spaced = [str(entry.name) for entry in dict.fromkeys(self._entries.values())]
        self._terms = (*library.terms, *common_catalogue.terms())
        self._kept: dict[tuple[str, ...], tuple[str, bool] | None] = {}

    def mentions(self, text: str) -> list[Mention]:
        """Return the names in ``text`` in order; what is written right goes before what is only alike."""
        words = [(match.start(), match.end(), match.group()) for match in _WORD.finditer(text)]
        mentions: dict[int, tuple[int, Mention]] = {}
        for exact in (True, False):
            at = 0
            while at < len(words):
                if at not in mentions:
                    free = next((number for number in range(at, len(words)) if number in mentions), len(words))
                    longest = self._longest_name(text, words[at:free], exact)
                    if longest is None:
                        at += 1
                        continue
                    mentions[at] = (at + longest[0], longest[1])
                at = mentions[at][0]
        return [mention for _, (_, mention) in sorted(mentions.items())]

    def _longest_name(self, text: str, words: list[tuple[int, int, str]], exact: bool) -> tuple[int, Mention] | None:
        """Return the longest name with which ``words`` begin, and how many of them it takes."""
        for count in range(min(self._longest + 2, len(words)), 0, -1):
            window = words[:count]
            between = text[window[0][0] : window[-1][1]]
            if any(sign in between for sign in ",;:.!?()\n"):
                continue
            meant = self._meant(tuple(word.casefold() for _, _, word in window))
            if meant is None or meant[1] is not exact:
                continue
            entry = self._entries[meant[0]]
            is_structure = isinstance(entry, Structure)
            return count, Mention(
                window[0][0], window[-1][1], str(entry.name), between, is_structure, entry.kind.value, exact
            )
        return None

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
        if len(key) < _SHORTEST_FUZZY or not self._keys or any(word in _NEVER for word in words):
            return None
        strange = any(not is_word(word) for word in words)
        if len(words) == 1 and not strange:
            return None
        best = process.extractOne(key, self._keys, scorer=fuzz.ratio, score_cutoff=_ALIKE if strange else _VERY_ALIKE)
        if best is None or len(best[0]) < _SHORTEST_FUZZY or abs(len(best[0]) - len(key)) > _FARTHEST:
            return None
        return best[0], False

    @cached_property
    def _without_noun(self) -> dict[str, set[Structure | Item]]:
        """The names of structures without their last word, where that only says of what kind they are."""
        short: dict[str, set[Structure | Item]] = defaultdict(set)
        for entry in dict.fromkeys(self._entries.values()):
            for name in (entry.name, *entry.also) if isinstance(entry, Structure) else ():
                rest, _, noun = str(name).casefold().rpartition(" ")
                if rest and noun in STRUCTURE_NOUNS and rest not in common_catalogue.may_be():
                    short[rest].add(entry)
        return short

    def without_noun(self, said: str) -> Structure | Item | None:
        """Return the one structure that is meant by its name without ``vein`` or ``nerve``: ``the long saphenous``."""
        meant = self._without_noun.get(said.casefold(), set())
        return next(iter(meant)) if len(meant) == 1 else None

    def akin(self, title: str) -> Iterator[Structure]:
        """Yield what ``title`` names, then the one artery, duct or nerve that has its name of that.

        Of the submandibular gland that is the submandibular duct.
        """
        named = [found for one in self.mentions(title) if one.is_structure and (found := self.structure(one.name))]
        yield from named
        words = {self.plain(word) for word in _WORD.findall(title)} - _WHERE
        by_noun: dict[str, set[Structure]] = defaultdict(set)
        for rest, entries in self._without_noun.items():
            if words.issuperset(self.plain(rest).split()):
                for entry in entries:
                    head, _, noun = str(entry.name).rpartition(" ")
                    if isinstance(entry, Structure) and self.plain(head) == self.plain(rest) and entry not in named:
                        by_noun[noun].add(entry)
        yield from (entry for meant in by_noun.values() if len(meant) == 1 for entry in meant)

    @cached_property
    def _sounds(self) -> SoundIndex:
        names = (str(name) for entry in dict.fromkeys(self._entries.values()) for name in (entry.name, *entry.also))
        return SoundIndex(names, (str(words) for term in self._terms for words in (term.short, term.long)))

    def structure(self, name: str) -> Structure | None:
        """Return the structure of that name, if there is one."""
        entry = self._entries.get("".join(_singular(word) for word in _WORD.findall(name.casefold())))
        return entry if isinstance(entry, Structure) else None

    def heard(self, text: str) -> list[SoundsLike]:
        """Return the likely mishearings in ``text``."""
        right = [mention for mention in self.mentions(text) if mention.exact and not mention.is_apart]
        return self._sounds.heard(text, ((mention.start, mention.end) for mention in right))

    @staticmethod
    def plain(words: str) -> str:
        """Return ``words`` as names are compared: small letters, each word in the singular."""
        return " ".join(_singular(word) for word in _WORD.findall(words.casefold()))

    def near(self, words: str, many: int = 2) -> tuple[str, ...]:
        """Return the names in the catalogues that look most like ``words``; none where none does."""
        nearest = process.extract(
            self.plain(words), self._spaced, scorer=fuzz.token_sort_ratio, score_cutoff=_NEAR, limit=many
        )
        return tuple(str(name) for name, *_ in nearest)


@once_per_library
def names_of(library: Library) -> CatalogueNames:
    """Return the names of the catalogues of ``library``."""
    return CatalogueNames(library)


def _singular(word: str) -> str:
    bare = word.replace("’", "'").removesuffix("'s").replace("'", "")
    if len(bare) > 3 and bare.endswith("s") and not bare.endswith(("ss", "us", "is", "as")):
        return f"{bare[:-3]}y" if bare.endswith("ies") and len(bare) > 5 else bare[:-1]
    return bare


def looks_like_a_name(text: str, taken: list[Mention]) -> Iterator[tuple[int, str, str]]:
    """Yield ``(offset, words, kind)`` of words that end as names do but are not names of the catalogues."""
    words = [(match.start(), match.end(), match.group()) for match in _WORD.finditer(text)]
    for number, (start, end, word) in enumerate(words):
        low = word.casefold()
        kind = "structure" if low in STRUCTURE_NOUNS else "item" if low in ITEM_NOUNS else ""
        if not kind or any(name.start < end and start < name.end for name in taken):
            continue
        first = number
        while (
            first
            and number - first < 3
            and _qualifies(words[first - 1][2], text[words[first - 1][1] : words[first][0]])
        ):
            first -= 1
        if first < number and not any(name.start < end and words[first][0] < name.end for name in taken):
            yield words[first][0], text[words[first][0] : end], kind


NO_PART = _SMALL | word_set("""
old like spare dark pale bright brown white red blue green thick thin soft hard clean dirty loose tight empty plain
one two three four five six more another each both any some all every other same first second third last next new
small large big long short fine wide deep whole left right upper lower there here now just if when where tie tied
cut divide find identify open close clamp clip place put insert remove see look use using take pass pull push hold
keep leave grasp pick expose free ligate stitch sew need have has had will can should must may would could do does
did don't never always again also only than what which who these those my me us them they he she about after before
until once because but place out get got go make made want count counts give protect avoid injure hurt damage feel
free inspect check withdraw advance thread slide lay apply
""")


def _qualifies(word: str, between: str) -> bool:
    """Tell whether ``word`` can be part of the name after it."""
    low = word.casefold()
    if between == "-":
        return True
    if between.strip(" -") or low in NO_PART or low.isdigit() or low.endswith("ly"):
        return False
    return not (low.endswith("ing") and stem(low))

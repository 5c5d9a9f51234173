"""What the prose of a step says is done, ordered or forbidden, in terms that its actions can be compared with."""

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from builder.facts.clauses import Clause, Mood, base, clauses
from builder.facts.names_in_prose import Entry, NameInText, ShortForms, named_in, names_in_prose
from builder.facts.remembered import once_per_library, once_per_text
from builder.grouping import by_first
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Step, Structure

DOES: Mapping[str, frozenset[Verb]] = {
    "cut": frozenset({Verb.DIVIDE, Verb.OPEN, Verb.EXCISE}),
    "excise": frozenset({Verb.EXCISE, Verb.REMOVE}),
    "remove": frozenset({Verb.REMOVE, Verb.EXCISE, Verb.RELEASE}),
    "tie": frozenset({Verb.TIE, Verb.SUTURE}),
    "clamp": frozenset({Verb.CLAMP}),
    "clip": frozenset({Verb.CLAMP, Verb.SEAL, Verb.PLACE}),
    "seal": frozenset({Verb.SEAL}),
    "suture": frozenset({Verb.SUTURE, Verb.CLOSE, Verb.TIE, Verb.PLACE}),
    "close": frozenset({Verb.CLOSE, Verb.SUTURE, Verb.TIE, Verb.SEAL}),
    "open": frozenset({Verb.OPEN, Verb.DIVIDE}),
    "release": frozenset({Verb.RELEASE, Verb.REMOVE, Verb.DIVIDE, Verb.OPEN}),
    "use": frozenset({Verb.PLACE, Verb.REMOVE}),
    "place": frozenset({Verb.PLACE}),
    "inject": frozenset({Verb.INJECT}),
    "see": frozenset({Verb.IDENTIFY}),
    "inspect": frozenset({Verb.INSPECT}),
    "protect": frozenset({Verb.PROTECT}),
    "count": frozenset({Verb.COUNT}),
    "irrigate": frozenset({Verb.IRRIGATE}),
}
"""What is done in the words of prose, and the verbs of the actions that do it."""

_BY_VERB = by_first("""
cut divide transect sever snip, excise resect, remove, tie ligate, clamp, clip, seal coagulate,
suture stitch sew oversew, close, open incise nick score lengthen extend widen enlarge, release unclamp,
place insert put lay set push pack pass, inject, see identify find locate, inspect examine check, protect guard,
count recount, irrigate wash rinse flush
""")
_AWAY = re.compile(r"\b(?:out|off|away)\b")
_PUT_AWAY = re.compile(r"\b(?:away|aside|down|out of reach)\b")
_ASIDE = re.compile(r"\b(?:aside|away|back|clear|to one side|out of the way)\b")
_FOR_OR_AT = re.compile(r"\s+(?:(?:again|once more|back)\s+)?(?P<word>for|at)\b")
_TO_COUNT = re.compile(r"\s+for\s+(?:the|a|another)\s+(?:\w+\s+)?count\b|\s*(?:the\s+)?count\s*$")
_WHERE = re.compile(
    r"\b(?:from|below|behind|above|beside|to|towards|along|between|on|onto|into|near|under|over|of|by|with|round|around|"
    r"beyond|beneath|until|about|than|like)\b",
    re.IGNORECASE,
)
_JOINS = re.compile(r"[\s,]*(?:and|or)?\s*(?:the|both|each|a|an)?\s*$")
_PRONOUN = re.compile(r"\s*(?:off\s+|out\s+)?(?:it|them|both|neither)\b(?!\s+\w+\s+of)")
_NUMBER_WORDS = {
    "single": 1, "one": 1, "pair": 2, "both": 2, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12,
}  # fmt: skip
_NUMBER = re.compile(
    rf"\b(?P<number>[0-9]{{1,3}}|{'|'.join(_NUMBER_WORDS)})\s+(?:of\s+)?(?:the\s+)?(?:[a-z-]+\s+)?$", re.IGNORECASE
)
_MAKES_NONE = re.compile(r"\s+no (?:\w+ ){0,2}(?:cut|incision|opening|hole|wound)\b", re.IGNORECASE)
_WITH_SO_MANY = re.compile(
    rf"\b(?:with|using|between|in)\s+(?:the\s+)?(?P<number>[0-9]{{1,2}}|{'|'.join(_NUMBER_WORDS)})\s+(?:[a-z-]+\s+)?$",
    re.IGNORECASE,
)
_LEFT_AS = re.compile(
    r"\b(?P<how>un(?P<undone>[a-z]+)|uncut|open|closed|alone|untouched|whole|intact|in place|in|on)\b"
    r"(?!\s+(?:the|its)\b)"
)
_PART_OF = re.compile(
    r"\b(?:pair|all|both|each|some|rest|tip|end|edge|edges|base|neck|root|stump|body|middle|top|wall|front|back|side|tail|"
    r"surface|head|mouth|rim|part|half|trunk|branch|length) of\b",
    re.IGNORECASE,
)
_MOST_WORDS_BETWEEN = 4
_FAR = 160
"""Characters: what ``it`` means stands no further away."""


_WITHOUT_NAME = re.compile(
    r"\b(?:cut|divide|transect|sever|snip|excise|resect|count|irrigate|wash|rinse|flush)", re.IGNORECASE
)
"""What is looked at although nothing is named; a text with neither says nothing that could be compared."""


class ToldAction(NamedTuple):
    """One thing that prose says: what is done (a key of ``DOES``), to what, how many, and in which clause.

    ``forbidden``: it is said not to be done. ``start`` to ``stop`` are the words that say so.
    """

    doing: str
    entries: tuple[Entry, ...]
    number: int | None
    forbidden: bool
    clause: Clause
    start: int
    stop: int

    def is_done_by(self, action: Action, ids: frozenset[str]) -> bool:
        """Tell whether ``action``, which deals with ``ids``, is this; unnamed things match any, and so does a clamp."""
        stays = self.forbidden and self.clause.mood is Mood.DONE
        is_clipped = self.doing == "clip" and any("clip" in str(name).casefold() for name in action.using)
        if action.verb not in DOES[self.doing] and not is_clipped:
            return False
        any_will_do = not self.entries or self.doing == "count" or (action.verb is Verb.RELEASE and not stays)
        return any_will_do or any(entry.id in ids for entry in self.entries)


@once_per_library
def handled_in(library: Library, step: Step) -> Mapping[str, Entry]:
    """Return by id all structures and items that the actions of ``step`` deal with."""
    return names_in_prose(library).handled(step.actions)


@once_per_library
def short_forms_in(library: Library, step: Step) -> ShortForms:
    """Return the short forms that the texts of ``step`` may use: those of what its actions deal with."""
    return names_in_prose(library).short_forms(handled_in(library, step))


@once_per_library
def clauses_of(_: Library, step: Step) -> tuple[Clause, ...]:
    """Return the clauses of the prose of ``step``."""
    return tuple(clauses(step.body.shown))


def mentions_in(library: Library, step: Step) -> tuple[NameInText, ...]:
    """Return what the prose of ``step`` names, also by the short forms of what its actions deal with."""
    return named_in(library, step.body.shown, short_forms_in(library, step))


@once_per_library
def told_actions(library: Library, step: Step) -> tuple[ToldAction, ...]:
    """Return what the prose of ``step`` says is done, in the order in which it is written."""
    text, mentions = step.body.shown, mentions_in(library, step)
    return _told_in(library, text, mentions) if mentions or _WITHOUT_NAME.search(text) else ()


def told_of(library: Library, step: Step, text: str) -> tuple[ToldAction, ...]:
    """Return what ``text``, such as the advice of a caution of ``step``, says is done."""
    return _told_in(library, text, named_in(library, text, short_forms_in(library, step)))


_WITH_MORE = {
    "take lift pull draw come": "out off away",
    "hold draw sweep retract keep": "aside away back clear side way",
    "look feel search": "for at",
}
"""Verbs that mean that something is done only with another word in the sentence."""


@lru_cache(maxsize=8192)
def _companions(word: str) -> frozenset[str] | None:
    """Return the words one of which ``word`` needs to tell of something done, none where it needs no other.

    None where it never does.
    """
    verb = base(word)
    if (
        verb in _BY_VERB
        or verb in ("leave", "make")
        or word.startswith(("stay", "remain"))
        or word in _NUMBER_WORDS
        or word[:1].isdigit()
    ):
        return frozenset()
    needed = {more for verbs, words in _WITH_MORE.items() if verb in verbs.split() for more in words.split()}
    return frozenset(needed) or None


_ANY_WORD = re.compile(r"[^\W_]+")


def _may_tell(sentence: str) -> bool:
    """Tell at little cost whether ``sentence`` may say that something is done."""
    words = _ANY_WORD.findall(sentence.casefold())
    for word in words:
        more = _companions(word)
        if more is not None and (not more or not more.isdisjoint(words)):
            return True
    return False


@once_per_text
def _told_in(_: Library, text: str, mentions: tuple[NameInText, ...]) -> tuple[ToldAction, ...]:
    told: list[ToldAction] = []
    for clause in clauses(text, _may_tell):
        told.extend(_told(text, clause, mentions, told[-1] if told else None))
    for index in range(len(told) - 2, -1, -1):  # "clamp and divide the artery": both are done to the artery
        this, following = told[index], told[index + 1]
        blank = not text[this.clause.start : this.clause.stop].strip()
        alike = (this.clause.sentence, this.clause.mood) == (following.clause.sentence, following.clause.mood)
        if blank and not this.entries and alike:
            told[index] = this._replace(entries=following.entries)
    return tuple(told)


def _told(text: str, clause: Clause, mentions: Sequence[NameInText], before: ToldAction | None) -> Iterator[ToldAction]:
    direct = _direct(text, clause, mentions)
    yield from _used_with(text, clause, mentions)
    yield from _put_on(text, clause, mentions, direct)
    if clause.verb == "leave" and clause.mood is Mood.ORDER:
        yield from _left(text, clause, mentions, direct, before)
    elif (
        clause.verb in ("put", "lay", "place", "return") and direct and _BACK.search(text, direct[-1].stop, clause.stop)
    ):
        entries = tuple(mention.entry for mention in direct)
        yield ToldAction("excise", entries, None, not clause.negated, clause, clause.begin, clause.stop)
    elif clause.verb == "make" and (none := _MAKES_NONE.match(text, clause.start, clause.stop)):
        yield ToldAction("open", (), None, not clause.negated, clause, clause.begin, none.end())
    elif (doing := _doing(text, clause)) is not None:
        entries = tuple(mention.entry for mention in direct)
        stop = direct[-1].stop if direct else clause.stop
        if not entries and (pronoun := _PRONOUN.match(text, clause.start, clause.stop)):
            entries, stop = _meant(clause, mentions, before), pronoun.end()
            if doing == "remove" and not any(isinstance(entry, Item) for entry in entries):
                entries = tuple(one.entry for one in _named_before(clause, mentions, Item))[-1:]
            elif doing not in _DONE_TO_ITEMS and entries and all(map(_is_tool, entries)):
                entries = tuple(one.entry for one in _named_before(clause, mentions, Structure))[-1:]
            clause = clause._replace(negated=clause.negated or pronoun.group().strip() == "neither")
        if _fits(doing, entries):
            start = clause.begin if clause.mood is not Mood.UNDER else clause.start
            number = _number(text, clause, mentions, direct)
            denied = clause.negated or clause.under == "without"
            yield ToldAction(doing, entries, number, denied, clause, start, max(stop, clause.start))
    elif direct and clause.mood is Mood.ORDER and isinstance(direct[0].entry, Item):
        number = _number(text, clause, mentions, direct)
        entries = tuple(mention.entry for mention in direct)
        yield from (
            (ToldAction("use", entries, number, clause.negated, clause, clause.begin, direct[-1].stop),)
            if number
            else ()
        )


def _used_with(text: str, clause: Clause, mentions: Sequence[NameInText]) -> Iterator[ToldAction]:
    """Yield the things of which a clause says that it is done with so many: with two hooks."""
    for mention in mentions[bisect_left(mentions, (clause.start,)) :] if clause.mood is Mood.ORDER else ():
        if mention.stop > clause.stop:
            break
        match = _WITH_SO_MANY.search(text, clause.start, mention.start)
        if match is not None and isinstance(mention.entry, Item):
            number = _NUMBER_WORDS.get(match["number"].casefold()) or int(match["number"])
            yield ToldAction("use", (mention.entry,), number, clause.negated, clause, match.start(), mention.stop)


def _is_tool(entry: Entry) -> bool:
    return isinstance(entry, Item) and entry.kind is ItemKind.INSTRUMENT


_BACK = re.compile(r"\s*back (?:in|into|to|where)\b")
_SHUTS = re.compile(r"\b(?:clamp|clip|tie|ligature|bulldog)\b", re.IGNORECASE)
_ONTO = re.compile(r"\s*(?:on|onto|across|round|around)(?: the| each| both)?\s*")


def _put_on(
    text: str, clause: Clause, mentions: Sequence[NameInText], direct: Sequence[NameInText]
) -> Iterator[ToldAction]:
    """Yield what is clamped, clipped or tied in the words that a clamp, clip or tie is put on it."""
    is_put = clause.mood is Mood.ORDER and direct and _BY_VERB.get(clause.verb) == "place"
    if is_put and isinstance(direct[0].entry, Item) and _SHUTS.search(direct[0].entry.name):
        start = direct[-1].stop
        for mention in mentions[bisect_left(mentions, (start,)) :]:
            is_on_it = mention.stop <= clause.stop and _ONTO.fullmatch(text, start, mention.start)
            if is_on_it and isinstance(mention.entry, Structure):
                yield ToldAction("clip", (mention.entry,), None, clause.negated, clause, clause.begin, mention.stop)


def _fits(doing: str, entries: Sequence[Entry]) -> bool:
    """Tell whether it can be meant: an organ that is pushed is not placed, and a thread that is cut is no tissue."""
    if doing == "place":
        return all(isinstance(entry, Item) for entry in entries)
    return doing in _DONE_TO_ITEMS or not entries or any(isinstance(entry, Structure) for entry in entries)


_DONE_TO_ITEMS = frozenset({"remove", "inject", "see", "inspect", "count", "release", "irrigate"})


def _doing(text: str, clause: Clause) -> str | None:
    after = text[clause.start : min(clause.stop, clause.start + 80)]
    if clause.mood is not Mood.DONE:
        if clause.verb in ("take", "lift", "pull", "draw", "come") and _AWAY.search(after):
            return "remove"
        if clause.verb in ("put", "lay", "set") and _PUT_AWAY.search(after):
            return None
        if clause.verb in ("hold", "draw", "sweep", "retract", "keep") and _ASIDE.search(after):
            return "protect"
        if clause.verb in ("look", "feel", "search") and (match := _FOR_OR_AT.match(after)):
            return "see" if match["word"] == "for" else "inspect"
        if (clause.verb == "ask" or not clause.verb) and _TO_COUNT.match(after):
            return "count"
    return _BY_VERB.get(clause.verb)


def _direct(text: str, clause: Clause, mentions: Sequence[NameInText]) -> list[NameInText]:
    """Return the mentions that are the object: next to the verb, or joined to such a one by ``and``."""
    found: list[NameInText] = []
    for mention in mentions[bisect_left(mentions, (clause.start,)) :]:
        if mention.stop > clause.stop:
            break
        between = text[found[-1].stop if found else clause.start : mention.start]
        if _JOINS.fullmatch(between) if found else _is_near(between):
            found.append(mention)
        else:
            break
    return found


def _is_near(between: str) -> bool:
    return len(between.split()) <= _MOST_WORDS_BETWEEN and not _WHERE.search(_PART_OF.sub("", between))


def _meant(clause: Clause, mentions: Sequence[NameInText], before: ToldAction | None) -> tuple[Entry, ...]:
    """Return what a pronoun means: what something was done to, unless something else was named since."""
    index = bisect_left(mentions, (clause.begin,)) - 1
    near = index >= 0 and clause.begin - mentions[index].stop < _FAR
    if before is not None and before.entries and near and mentions[index].stop <= before.clause.stop:
        return before.entries
    return tuple(one.entry for one in mentions if one.start == mentions[index].start) if near else ()


def _named_before(clause: Clause, mentions: Sequence[NameInText], kind: type[Entry]) -> Iterator[NameInText]:
    """Yield what is named shortly before ``clause`` and is of ``kind``: what is taken out is a thing."""
    for mention in mentions[: bisect_left(mentions, (clause.begin,))]:
        if isinstance(mention.entry, kind) and clause.begin - mention.stop < _FAR:
            yield mention


def _number(text: str, clause: Clause, mentions: Sequence[NameInText], direct: Sequence[NameInText]) -> int | None:
    """Return how many of the first object there are: one above and one below are two."""
    if not direct:
        return None
    start, total = clause.start, 0
    for mention in mentions[bisect_left(mentions, (direct[0].start,)) :]:
        if mention.stop > clause.stop:
            break
        match = _NUMBER.search(text, start, mention.start) if mention.entry is direct[0].entry else None
        if match is not None:
            total += _NUMBER_WORDS.get(match["number"].casefold()) or int(match["number"])
        start = mention.stop
    altogether = _ALTOGETHER.search(text, direct[-1].stop, clause.stop)
    if altogether is not None:
        number = altogether["all"] or altogether["number"]
        return _NUMBER_WORDS.get(number.casefold()) or int(number)
    ends = _ENDS.search(text, clause.start, clause.stop) if clause.verb == "tie" else None
    return total or (None if ends is None else 2 if ends["both"] else 1)


_A_NUMBER = rf"[0-9]{{1,3}}|{'|'.join(_NUMBER_WORDS)}"
_ALTOGETHER = re.compile(
    rf"\ball (?P<all>{_A_NUMBER})\b|\b(?P<number>{_A_NUMBER})(?: of them)? (?:in all|altogether|in total)\b",
    re.IGNORECASE,
)
_ENDS = re.compile(r"\b(?:(?P<both>at both ends|twice)|at one end|once(?=\s*[,.;]|$))")


def _left(
    text: str, clause: Clause, mentions: Sequence[NameInText], direct: Sequence[NameInText], before: ToldAction | None
) -> Iterator[ToldAction]:
    """Yield what ``leave the artery untied`` forbids; an item that is left in is placed."""
    pronoun = _PRONOUN.match(text, clause.start, clause.stop)
    entries = tuple(mention.entry for mention in direct) or (_meant(clause, mentions, before) if pronoun else ())
    if not entries or text[clause.start : clause.stop].lstrip().startswith("no "):
        return
    stop = direct[-1].stop if direct else pronoun.end() if pronoun else clause.stop
    how = _LEFT_AS.search(text, stop, min(clause.stop, stop + 30))
    forbidden = _FORBIDDEN.get(how["how"], ()) if how else ()
    if how and how["undone"]:
        forbidden = (_BY_VERB.get(base(how["undone"]), ""),)
    for doing in filter(None, forbidden):
        yield ToldAction(doing, entries, None, not clause.negated, clause, clause.begin, how.end() if how else stop)
    if direct and isinstance(entries[0], Item) and not clause.negated and "until" not in clause.unders:
        yield ToldAction("place", entries, _number(text, clause, mentions, direct), False, clause, clause.begin, stop)


_FORBIDDEN = {
    "open": ("close", "suture"),
    "closed": ("open",),
    "alone": ("cut", "excise", "tie", "clamp", "seal"),
    "untouched": ("cut", "excise", "tie", "clamp", "seal"),
    "uncut": ("cut",),
    "whole": ("cut",),
    "intact": ("cut",),
    "in": ("remove",),
    "on": ("remove",),
    "in place": ("remove",),
}

"""One reading of a sentence: its clauses, each with verb, mood, negation and what it depends on.

Not a grammar of English: the short sentences of instructions ("Do not divide the duct until you see ...", "Close the
skin, then ask for the count") and no more. What is not understood is no clause of its own but part of the one before,
so that rules that ask for a verb, an order or a prohibition stay silent about it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

from builder.facts.imperatives import VERBS, stem


class Mood(Enum):
    """Is it ordered (``Divide it``), told of as done (``it is divided``), or part of another clause (``before you ...``)?"""

    ORDER = "order"
    DONE = "done"
    UNDER = "under"


class Clause(NamedTuple):
    """A clause of a text.

    ``verb`` is the plain form. ``under`` is the word that makes it depend on another (``if``, ``until``); ``unders`` are
    all such words of its sentence. ``start`` to ``stop`` are the words it is about: what follows the verb, or, where
    something is told of as done, what stands before it. ``lead`` are the words before the verb, ``sentence`` is a number.
    """

    verb: str
    mood: Mood
    negated: bool
    under: str
    unders: frozenset[str]
    begin: int
    start: int
    stop: int
    lead: str
    sentence: int

    @property
    def is_conditional(self) -> bool:
        """Tell whether it is done on some condition only, not on the way of every patient."""
        return not self.unders.isdisjoint(_CONDITIONS)


_CONDITIONS = frozenset({"if", "unless", "where", "except", "wherever"})
_SENTENCE = re.compile(r"(?:[^.;:!?\n]|\.(?=\w)|:(?=\S)|\n(?!\s*(?:\n|[-*]\s|\d+[.)]\s)))+")
_UNDERS = (
    r"if|when|once(?! more\b)|after|before|until|till|unless|while|because|where|wherever|so that|as soon as|as long as|which|that|"
    r"who|than|except|without|whether|how|what"
)
_PIECE = re.compile(rf",\s+|\s+(?:and|or|but|then)\s+|\s+[-–]\s+|\s+(?=(?:{_UNDERS})\s)", re.IGNORECASE)  # noqa: RUF001
_BEGINNING = re.compile(
    rf"(?P<lead>(?:(?:and|then|but|or|now|next|first|second|only|always|finally|last|again|afterwards|later|just|please|"
    rf"also|still|[a-z]+ly)[\s,]+)*)(?:(?P<under>{_UNDERS})\s+)?"
    r"(?P<negated>(?:there is no need to|(?:you )?(?:need not|must not|should not|may not|cannot|do not have to|do not need to|"
    r"don['’]t need to|needn['’]t|mustn['’]t)|do not|don['’]t|never|skip|avoid|no need to|not)\s+)?"
    r"(?:you\s+)?(?P<perfect>(?:have|has|had|will|can|may|must|should)\s+)?(?P<verb>[a-z]+(?:-[a-z]+)?)",
    re.IGNORECASE,
)
_PASSIVE = re.compile(
    r"\s(?:is|are|was|were|has been|have been|must|must be|may be|should be|should|comes?|goes|stays?)"
    r"(?P<negated> not| never)?(?: be)?(?: now| first| still)? (?P<verb>[a-z]+)\b",
    re.IGNORECASE,
)
_NOT_AN_ORDER = frozenset("is are was were has have had will can may must should it there you we they this".split())
# Verbs that are things as well: after "and" or a comma they are verbs only before what can be their object.
_THING_OR_VERB = frozenset(
    "bandage block cement clamp clip drain drape dress dressing graft hand head leg mark mesh needle pack pin plaster "
    "plate plug probe screw seal snare splint stent stitch suture swab tape tie wire cut count bite point band light "
    "dry clean clear open close water open free firm still cover feel look need start edge round place".split()
)
_OBJECT = re.compile(
    r"\s+(?:the|a|an|it|its|them|this|that|these|those|both|each|every|all|any|your|his|her|their|no|nothing|one|two|"
    r"three|four|five|six|for|at|to|in|on|off|out|down|up|through|across|aloud|again|with|between|[0-9])\b|\s*$",
    re.IGNORECASE,
)
_NEXT = re.compile(r"\s+([A-Za-z-]+)")
_IRREGULAR = {
    "found": "find", "seen": "see", "taken": "take", "left": "leave", "drawn": "draw", "sewn": "sew", "given": "give",
    "held": "hold", "torn": "tear", "laid": "lay", "brought": "bring", "driven": "drive", "eaten": "eat", "tied": "tie",
}  # fmt: skip


@lru_cache(maxsize=4096)
def base(word: str) -> str:
    """Return the plain form of a verb that is written in any form, or "" where it is none that is known."""
    word = word.casefold()
    return word if word in VERBS else _IRREGULAR.get(word) or stem(word) or ""


def clauses(text: str) -> Iterator[Clause]:
    """Yield the clauses of ``text`` in the order in which they are written."""
    for number, sentence in enumerate(_SENTENCE.finditer(text)):
        yield from _in_sentence(text, sentence.start(), sentence.end(), number)


def _in_sentence(text: str, start: int, stop: int, number: int) -> Iterator[Clause]:
    edges = [start, *(edge for match in _PIECE.finditer(text, start, stop) for edge in match.span()), stop]
    read: list[Clause] = []
    before = start
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        clause = _clause(text, begin, end, number, is_first=not read, joined=text[before:begin])
        before = end
        if clause is not None:
            read.append(clause)
        elif read:
            read[-1] = read[-1]._replace(stop=end if read[-1].mood is not Mood.DONE else read[-1].stop)
    unders = frozenset(clause.under for clause in read if clause.under)
    yield from (clause._replace(unders=unders) for clause in read)


def _clause(text: str, begin: int, end: int, number: int, *, is_first: bool, joined: str) -> Clause | None:
    while begin < end and not text[begin].isalnum() and text[begin] not in "<":
        begin += 1
    match = _BEGINNING.match(text, begin, end)
    if match is None:
        return None
    under = (match["under"] or "").casefold()
    lead = f"{joined} {match['lead'] or ''}".casefold()
    if not under and not match["perfect"] and _begins_an_order(match, text, end, is_first=is_first):
        verb = base(match["verb"])
        return Clause(
            verb, Mood.ORDER, bool(match["negated"]), "", frozenset(), begin, match.end("verb"), end, lead, number
        )
    return _told(text, match, begin, end, number, under, lead)


def _begins_an_order(match: re.Match[str], text: str, end: int, *, is_first: bool) -> bool:
    word = match["verb"].casefold()
    if word not in VERBS or word in _NOT_AN_ORDER:
        return word == "the" and (match["negated"] or "").casefold().startswith(("skip", "avoid"))
    if match["negated"] or word not in _THING_OR_VERB and is_first or _OBJECT.match(text, match.end(), end):
        return True
    following = _NEXT.match(text, match.end(), end)
    return is_first and following is not None and not (following[1].endswith("s") and base(following[1]))


def _told(text: str, match: re.Match[str], begin: int, end: int, number: int, under: str, lead: str) -> Clause | None:
    """Return a clause that tells of something as done, or depends on another; None where there is no verb."""
    mood = Mood.UNDER if under else Mood.DONE
    passive = _PASSIVE.search(text, begin, end)
    if passive is not None and base(passive["verb"]):
        subject = match.end("under") if under else begin
        negated = bool(passive["negated"]) or text[subject:end].lstrip()[:3].casefold() == "no "
        verb = base(passive["verb"])
        return Clause(verb, mood, negated, under, frozenset(), begin, subject, passive.start(), lead, number)
    if under:
        return Clause(
            base(match["verb"]), mood, bool(match["negated"]), under, frozenset(), begin, match.end(), end, lead, number
        )
    return None


_DETERMINER = re.compile(
    r"\s+(?:the|a|an|it|its|them|that|this|both|each|every|all|your|his|her|their|aloud|no|for|at)\b"
)


def opens_with_order(text: str) -> bool:
    """Tell whether ``text`` surely begins with an order; ``Drain in place`` and ``Clear bile runs`` do not."""
    first = next(clauses(text), None)
    if first is None or first.mood is not Mood.ORDER or text[: first.begin].strip():
        return False
    return first.negated or first.verb not in _THING_OR_VERB or _DETERMINER.match(text, first.start) is not None

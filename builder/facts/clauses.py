"""One reading of a sentence: its clauses, each with verb, mood, negation and what it depends on.

Not a grammar of English: the short sentences of instructions ("Do not divide the duct until you see ...", "Close the
skin, then ask for the count") and no more. What is not understood is no clause of its own but part of the one before,
so that rules that ask for a verb, an order or a prohibition stay silent about it.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

from builder.facts.imperatives import VERBS, stem
from builder.grouping import word_set


class Mood(Enum):
    """Is it ordered (``Divide it``), told of as done (``it is divided``), or does it depend on another clause?"""

    ORDER = "order"
    DONE = "done"
    UNDER = "under"


class Clause(NamedTuple):
    """A clause of a text.

    ``verb`` is the plain form. ``under`` is the word that makes it depend on another (``if``, ``until``); ``unders``
    are such words of its sentence that it depends on. ``start`` to ``stop`` are the words it is about: what follows the
    verb, or what stands before it where something is told of as done. ``lead`` is what stands before, ``sentence`` a
    number.
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
_SENTENCE = re.compile(r"(?:[^.;:!?\n]++|\.(?=\w)|:(?=\S)|\n(?!\s*(?:\n|[-*]\s|\d+[.)]\s)))+")
_UNDERS = (
    r"if|when|once(?! more\b)|after|before|until|till|unless|while|because|"
    r"where(?! (?:it|they|you) (?:is|are|lies?|runs?|cross(?:es)?)\b)|"
    r"wherever|so that|as soon as|"
    r"as long as|which|(?<!after )(?<!After )that|who|than|except|without|whether|how|what"
)
# A run of spaces is tried once, from its first: where the target of a link was hidden it is long.
_PIECE = re.compile(
    r"[,\s](?:(?<=,)\s++|(?<=\s)(?<!\s\s)\s*+"
    rf"(?:(?:and|or|but|then)\s++|-\s++|(?=[abehiostuw])(?=(?:{_UNDERS})\s)))",
    re.IGNORECASE,
)
_NEED_NOT = (
    r"there is no need to|no need to|(?:you )?(?:need not|must not|should not|may not|cannot|do not have to|"
    r"do not need to|don['’]t need to|needn['’]t|mustn['’]t)"
)
_BEGINNING = re.compile(
    r"(?P<lead>(?:(?:and|then|but|or|now|next|first|second|only|always|finally|last|again|afterwards|later|just|please|"
    rf"also|still|after (?:that|this)(?=,? [a-z])|[a-z]++(?<=ly))[\s,]+)*)(?:(?P<under>{_UNDERS})\s+)?"
    rf"(?P<negated>(?:{_NEED_NOT}|do not|don['’]t|never|skip|avoid|not)\s+)?"
    r"(?:you\s+)?(?P<perfect>(?:have|has|had|will|can|may|must|should)\s+)?(?P<verb>[a-z]+(?:-[a-z]+)?)",
    re.IGNORECASE,
)
_BEGINS_OTHERWISE_LIST = """
afterwards after again also always and as because before but can cannot do don except finally first had has have how if
just last later may must mustn need needn never next no not now once only or please second shall should skip avoid so
still than that then there till unless until what when where wherever whether which while who will without you
"""
_BEGINS_OTHERWISE = frozenset(_BEGINS_OTHERWISE_LIST.split())
"""The first words of all that may stand before the verb, beside what ends with ``ly``."""

_FIRST_WORD = re.compile(r"[a-z]+", re.IGNORECASE)
# Where the first word is none of these it is the verb, and finding that out takes a tenth of the time.
_PLAIN_BEGINNING = re.compile(
    r"(?P<lead>)(?P<under>(?!))?(?P<negated>(?!))?(?P<perfect>(?!))?(?P<verb>[a-z]+(?:-[a-z]+)?)", re.IGNORECASE
)
_PASSIVE = re.compile(
    r"\s(?:(?:comes?|came) (?P<off>off|out|away)|(?P<stays>stays?|remains?)"
    r"(?: in place| in| on| there| where (?:it is|they are))?(?=\s*$)|"
    r"(?:is|are|was|were|has been|have been|must|must be|may be|should be|should|need|needs|comes?|goes|stays?|"
    r"do(?:es)?(?P<unneeded> not|n['’]t) (?:need|have))"
    r"(?P<negated> not| never)?(?: to)?(?: be)?(?: now| first| still)? (?P<verb>[a-z]+))\b",
    re.IGNORECASE,
)
_AUXILIARY = word_set(
    "come comes came is are was were has have must may should need needs go goes stay stays remain remains"
)
_NOT_AN_ORDER = word_set("is are was were has have had will can may must should it there you we they this")
# Verbs that are things as well: after "and" or a comma they are verbs only before what can be their object.
_THING_OR_VERB = word_set("""
band bandage bite block cement clamp clean clear clip close count cover cut drain drape dress dressing dry edge feel
firm free graft hand head leg light look mark mesh need needle open pack pin place plaster plate plug point probe
round screw seal snare splint start stent still stitch suture swab tape tie water wire
""")
_OBJECT = re.compile(
    r"\s+(?:the|a|an|it|its|them|this|that|these|those|both|each|every|all|any|your|his|her|their|no|nothing|one|two|"
    r"three|four|five|six|for|at|to|in|on|off|out|down|up|through|across|aloud|again|with|between|[0-9])\b|\s*$",
    re.IGNORECASE,
)
_NEXT = re.compile(r"\s+([A-Za-z-]+)")
_IRREGULAR = {
    "found": "find", "seen": "see", "taken": "take", "left": "leave", "drawn": "draw", "sewn": "sew", "given": "give",
    "held": "hold", "torn": "tear", "laid": "lay", "brought": "bring", "driven": "drive", "eaten": "eat", "tied": "tie",
    "sent": "send",
}  # fmt: skip


@lru_cache(maxsize=4096)
def base(word: str) -> str:
    """Return the plain form of a verb that is written in any form, or "" where it is none that is known."""
    word = word.casefold()
    return word if word in VERBS else _IRREGULAR.get(word) or stem(word) or ""


def clauses(text: str, wanted: Callable[[str], bool] | None = None) -> Iterator[Clause]:
    """Yield the clauses of ``text``, or of those of its sentences that are ``wanted``, as they are written."""
    for number, sentence in enumerate(_SENTENCE.finditer(text)):
        if wanted is not None and not wanted(sentence.group()):
            continue
        yield from _in_sentence(text, sentence.start(), sentence.end(), number)


class _Piece(NamedTuple):
    """What stands between two commas or joining words: where, in which sentence, what joins it to what is before it."""

    begin: int
    end: int
    sentence: int
    joined: str
    is_first: bool


@lru_cache(maxsize=8192)  # several rules read the same sentence
def _in_sentence(text: str, start: int, stop: int, number: int) -> tuple[Clause, ...]:
    read: list[Clause] = []
    before = begin = start
    depends = False
    for joint in (*_PIECE.finditer(text, start, stop), None):
        end = joint.start() if joint is not None else stop
        first = end - len(text[begin:end].lstrip(_BEFORE_WORDS))
        clause = _clause(text, _Piece(first, end, number, text[before:begin], not read))
        before = end
        begin = joint.end() if joint is not None else stop
        if clause is not None:
            read.append(clause)
            depends = depends or bool(clause.under)
        elif read and read[-1].mood is not Mood.DONE:
            read[-1] = read[-1]._replace(stop=end)
    if not depends:
        return tuple(read)
    return tuple(clause._replace(unders=_unders(read, place)) for place, clause in enumerate(read))


def _unders(read: Sequence[Clause], place: int) -> frozenset[str]:
    """Return what a clause depends on: what follows it, what begins its sentence, and what is joined on before it.

    ``Press until it is dry, and leave it``: only to press ends then. ``Press, and if it bleeds, tie it``: to tie too.
    """
    return frozenset(
        clause.under
        for number, clause in enumerate(read)
        if clause.under and (number >= place or number == 0 or "," in clause.lead or _JOINED.search(clause.lead))
    )


_JOINED = re.compile(r"\b(?:and|but|then|or)\b")


def _clause(text: str, piece: _Piece) -> Clause | None:
    word = _FIRST_WORD.match(text, piece.begin, piece.end)
    first = word.group().casefold() if word is not None else ""
    is_plain = first and first not in _BEGINS_OTHERWISE and not first.endswith("ly")
    match = (_PLAIN_BEGINNING if is_plain else _BEGINNING).match(text, piece.begin, piece.end)
    if match is None:
        return None
    lead, under, negated, perfect, verb = match.groups("")
    told = Clause(
        base(verb),
        Mood.UNDER if under else Mood.ORDER,
        bool(negated),
        under.casefold(),
        _NONE,
        match.end("lead"),
        match.end(),
        piece.end,
        f"{piece.joined} {lead}".casefold(),
        piece.sentence,
    )
    if not under and not perfect and _begins_an_order(match, text, piece):
        return told
    may_be_passive = not _AUXILIARY.isdisjoint(text[piece.begin : piece.end].casefold().split())
    passive = _PASSIVE.search(text, piece.begin, piece.end) if may_be_passive else None
    if passive is None:
        return told if under else None
    moves = bool(passive["off"] or (passive["stays"] and not under))
    done = "remove" if moves else base(passive["verb"] or "")
    if not done:
        return told if under else None
    subject = match.end("under") if under else piece.begin
    denied = (
        bool(passive["negated"] or passive["unneeded"])
        or (moves and not passive["off"])
        or text[subject : piece.end].lstrip()[:3].casefold() == "no "
    )
    mood = told.mood if under else Mood.DONE
    return told._replace(verb=done, mood=mood, negated=denied, start=subject, stop=passive.start())


_BEFORE_WORDS = " \n\t-*>\"'(["
_NONE: frozenset[str] = frozenset()


def _begins_an_order(match: re.Match[str], text: str, piece: _Piece) -> bool:
    word = match["verb"].casefold()
    if word not in VERBS or word in _NOT_AN_ORDER:
        return word == "the" and (match["negated"] or "").casefold().startswith(("skip", "avoid"))
    is_plain = piece.is_first and word not in _THING_OR_VERB
    if match["negated"] or is_plain or _OBJECT.match(text, match.end(), piece.end):
        return True
    following = _NEXT.match(text, match.end(), piece.end)
    return piece.is_first and following is not None and not (following[1].endswith("s") and base(following[1]))


_DETERMINER = re.compile(
    r"\s+(?:the|a|an|it|its|them|that|this|both|each|every|all|your|his|her|their|aloud|no|for|at)\b"
)


def opens_with_order(text: str) -> bool:
    """Tell whether ``text`` surely begins with an order; ``Drain in place`` and ``Clear bile runs`` do not."""
    first = next(clauses(text), None)
    if first is None or first.mood is not Mood.ORDER or text[: first.begin].strip():
        return False
    return first.negated or first.verb not in _THING_OR_VERB or _DETERMINER.match(text, first.start) is not None

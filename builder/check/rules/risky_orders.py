"""Orders that nobody may give: to act without sight, with force, without a check, or against a caution."""

import re
from collections.abc import Iterator, Sequence
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import TellsToDo, answers_in, cautions_of
from builder.facts.clauses import Mood, clauses
from builder.facts.remembered import once_per_library
from builder.facts.stems import stems
from builder.facts.texts import corpus, words_in, words_said
from builder.facts.told_actions import clauses_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Caution, Step

_ACTED_ON = frozenset({"prose", "if_not", "recovery", "avoid", "if_it_happens"})
_SIGHTLESS = re.compile(
    r"\bblind(?:ly)?\b(?! (?:end|loop|pouch|sac|stump|spot|ending|alley|patient|trial|study))|"
    r"by feel\b(?! *(?:first|alone is|, then|and then))|out of sight\b",
    re.IGNORECASE,
)
_DENIED = re.compile(r"\b(?:no|not|never|nothing|none|without|nobody|don['’]t|avoid|double[ -])\b", re.IGNORECASE)


_DENYING = words_in("no not never nothing none without nobody don't avoid double")


@finds("blind-order", piecewise=True)
def blind_orders(library: Library) -> Iterator[Hit]:
    """Yield each order to act without sight: a blind clamp, a blind stitch."""
    texts = corpus(library)
    for match in filter(
        None, (_SIGHTLESS.match(texts.whole, at) for at in texts.where(("blind", "by feel", "out of sight")))
    ):
        if texts.piece(match.start()).role not in _ACTED_ON:
            continue
        start, stop = texts.sentence_span(match.start())
        sentence = texts.whole[start:stop]
        for clause in clauses(sentence):
            if clause.mood is Mood.ORDER and start + clause.begin <= match.start() < start + clause.stop:
                words = sentence[clause.begin : clause.stop]
                if not clause.negated and not _DENIED.search(words):
                    message = f"{quoted(' '.join(words.split()))} is an order to act without sight"
                    yield Hit(texts.place(match.start()), message, "Write what is seen first, or what to do instead.")


_CHECKS_LIST = """
ask aspirate check confirm count draw examine feel flush identify inspect listen look measure read see test
verify wait watch
"""
_CHECKS = frozenset(_CHECKS_LIST.split())
_OTHER_SENSE = re.compile(
    r"(?:look (?:for|after)|feel for|draw (?!back)|count on|see to|ask (?:for|the patient to)|read into|"
    r"wait (?!for the (?:answer|count|reply|result|anaesthetist|team)|to (?:hear|see|be told)|$))"
)
"""Where a verb undone is no check left out: nobody is to look for what must not be touched."""

_LEAVES_OUT = re.compile(
    r"(?:skip|omit|leave out|forgo|ignore|disregard|dispense with)\s+(?:the|this|that|any|a|all)\s+"
    r"(?:\w+\s+){0,2}?(?:counts?|checks?|checklist|tests?|scan|X-ray|pause|time[- ]out|alarms?|resistance|pain|"
    r"warnings?|labels?|limits?)\b",
    re.IGNORECASE,
)
_FORCE = re.compile(
    r"\b(?:^force (?:it|them|the)|"
    r"with (?:\w+ ){0,2}force|by force|forcefully|forcibly|against (?:any |the |all )?resistance|"
    r"all (?:your|the|its) (?:force|strength|weight)|as (?:hard|fast|far|deep|tight) as (?:you can|it (?:will|"
    r"can) go|possible|it goes|the [a-z]+ will)|"
    r"(?:pull|push|drag|advance|pass|insert|twist|draw)\b[^,.;]*\bhard(?:er)?)\b",
    re.IGNORECASE,
)
_HINTS = (
    "forc", "resistance", "hard", "strength", "weight", "as far as", "as fast as", "as deep as", "as tight as", "skip",
    "omit", "leave out", "forgo", "ignore", "disregard", "dispense", "not ", "n't ", "n’t ", "never ", "without ",
    "no need",
)  # fmt: skip
# What is left out is a check, or force is used.
_A_CHECK = (
    r"\b(?:ask|aspirat|check|confirm|count|draw|examin|feel|flush|identif|inspect|listen|look|measur|read|see|test|verif|"
    r"wait|watch)"
)
_MAY_BE_RECKLESS = re.compile(
    rf"without\b.*?{_A_CHECK}|"
    rf"(?:not|n['’]t|never|skip|avoid|no)[\s\[]+(?:(?:have|need) to[\s\[]+)?(?:you[\s\[]+)?"
    rf"(?:(?:have|has|had|will|can|may|must|should)[\s\[]+)?{_A_CHECK}|"
    r"\b(?:skip|omit|leave out|forgo|ignore|disregard|dispense|forc|resistance|hard|strength|weight|"
    r"as (?:far|fast|deep|tight))",
    re.IGNORECASE | re.DOTALL,
)
_NOT_YET = re.compile(r"\b(?:before|yet|too early|too soon)\W*$")
_DELAYS = frozenset({"if_not", "recovery", "if_it_happens"})
"""Where not to wait is often the right order."""


@finds("reckless-order", piecewise=True)
def reckless_orders(library: Library) -> Iterator[Hit]:
    """Yield each order to leave out a check, or to use force; what is said on a condition may be right."""
    texts = corpus(library)
    seen: set[int] = set()
    for at in texts.where(_HINTS):
        piece = texts.piece(at)
        start, stop = texts.sentence_span(at) if piece.role in _ACTED_ON else (-1, -1)
        if start < 0 or start in seen or not _MAY_BE_RECKLESS.search(texts.whole, start, stop):
            continue
        seen.add(start)
        sentence = texts.whole[start:stop].replace("[", "").replace("]", "")  # of links
        words = _reckless(sentence, delays=piece.role in _DELAYS)
        if words:
            message = f"{quoted(words)} is an order to leave out a check, or to use force"
            yield Hit(texts.place(at), message, "Write what is checked first, or when it may be left out.")


def _reckless(sentence: str, *, delays: bool) -> str:
    """Return the words of ``sentence`` that order a check left out, or force; "" where none do."""
    read = list(clauses(sentence))
    for clause in read:
        words = " ".join(sentence[clause.begin : clause.stop].split())
        rest = " ".join(sentence[clause.start : clause.stop].strip(" .,;").split())
        is_check = clause.verb in _CHECKS and not (delays and clause.verb == "wait")
        left_out = is_check and not _OTHER_SENSE.match(f"{clause.verb} {rest}") and not _NOT_YET.search(sentence)
        if clause.under == "without" and is_check and not any(one.negated or one.is_conditional for one in read):
            return words
        if clause.mood is not Mood.ORDER or clause.is_conditional:
            continue
        if (clause.negated and left_out) or _LEAVES_OUT.match(sentence, clause.begin, clause.stop):
            return words
        if not clause.negated and _FORCE.search(words) and not _DENIED.search(words):
            return words
    return ""


@finds("caution-contradicted", piecewise=True)
def caution_contradicted(library: Library) -> Iterator[Hit]:
    """Yield each order of a step that forbids what a caution of it advises, or orders what it forbids."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            denies = _denies(library, step, step.body.source)
            cautions = [one for one in cautions_of(procedure, step) if denies or _denies(library, one, one.avoid)]
            told = (
                answers_in(step.body.shown, clauses_of(library, step), limited=False)
                if cautions and step.body.source
                else []
            )
            for caution in cautions if told else ():
                advised = _advised(library, caution)
                pairs = ((one, other) for one in told for other in advised if one.verb == other.verb)
                for one, other in pairs:
                    if one.forbidden != other.forbidden and one.about & other.about:
                        message = f"{quoted(one.said)} is what the text says, but the caution says {quoted(other.said)}"
                        also = (SecondPlace(caution.avoid.at, "the caution"),)
                        yield Hit(
                            step.body.place(one.begin), message, "Make the text and the caution say the same.", also
                        )
            yield from _rescues_differ(step, cautions_of(procedure, step))


def _denies(library: Library, page: Step | Caution, text: str) -> bool:
    return not _DENYING.isdisjoint(words_said(library, page)) and _DENIED.search(text) is not None


@once_per_library
def _advised(_: Library, caution: Caution) -> list[TellsToDo]:
    return answers_in(caution.avoid, limited=False)


def _rescues_differ(step: Step, cautions: Sequence[Caution]) -> Iterator[Hit]:
    """Yield each two texts on what to do when it goes wrong that order opposites of the same thing."""
    texts = [text for text in (step.recovery, step.if_not, *(one.if_it_happens for one in cautions)) if text]
    may_differ = len(texts) > 1 and any(verb in " ".join(texts).casefold() for verb in _OF_EACH_PAIR)
    told = [(text, answers_in(text, limited=False)) for text in texts] if may_differ else []
    for (text, answers), (other_text, others) in combinations(told, 2):
        pair = next(((one, other) for one in answers for other in others if _opposite_deeds(one, other)), None)
        if pair is not None:
            message = f"{quoted(pair[0].said)} and {quoted(pair[1].said)} are opposite answers to one trouble"
            also = (SecondPlace(other_text.at, "the other answer"),)
            yield Hit(text.at, message, "Write which of the two is right, in both places.", also)


_OPPOSITE_DEEDS_LIST = """
push draw, push pull, leave cut, leave take, leave remove, leave pull, tighten loosen, tighten cut
"""
_OPPOSITE_DEEDS = {frozenset(pair.split()) for pair in _OPPOSITE_DEEDS_LIST.split(",")}
_OF_EACH_PAIR = ("push", "leave", "tighten")
"""A verb of each pair: without one no two are opposites."""

_NO_THING = stems("it them back out off in on again place until the by still whole first end ends now open")


def _opposite_deeds(one: TellsToDo, other: TellsToDo) -> bool:
    verbs = frozenset((one.verb, other.verb))
    if verbs not in _OPPOSITE_DEEDS or one.forbidden or other.forbidden:
        return False
    things = one.about - _NO_THING, other.about - _NO_THING
    return bool(things[0] & things[1]) or ("push" in verbs and not all(things))

"""What one text of a step denies (``no suction``, ``never in iodine``), no other orders or waits for."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.clauses import base
from builder.facts.imperatives import VERBS
from builder.facts.stems import senses
from builder.facts.texts import words_in, words_said
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.place import Place, Text

_DENYING = words_in("no not never without")
_DENIAL = re.compile(
    r"\b(?:no|never|without|not)\s+(?!(?:more|less|later|longer|only|yet|be|been|a|all|too|very|one|other|so|as|until|"
    r"before|enough|that|sure|to|the)\b)(?P<how>(?:(?:in|on|with|by|under|use|put|any)\s+)*)(?P<what>[^,.;:!?()]+)",
    re.IGNORECASE,
)
_CLAUSE = re.compile(r"(?:[^,.;:!?]++|[.,](?=\d))+")
_DEPENDS = re.compile(
    r"\b(?:no|not|never|without|nothing|nobody|none|neither|if|unless|or|where|instead|stop|avoid|too|than|from|off|"
    r"clear|away|after|other)\b|n['’]t\b",
    re.IGNORECASE,
)
_WAITED_FOR = re.compile(r"\b(?:until|when|once)\b", re.IGNORECASE)
_CLAUSE_BEFORE = re.compile(r"[.;!?](?!\d)")
_GIVEN = re.compile(r"\b(?:if|when|where|with|unless|after|in)\b[^,]*,|(?:\s-|:)\s*$", re.IGNORECASE)
"""Before a denial: it holds on a condition only."""
_VERB = re.compile(r"\W*(?:(?:and|then|now|or) )*([a-z]+)", re.IGNORECASE)
_OF_IT = re.compile(r"\W*(?:it|them)?\W*")
_DOES_IT = re.compile(r"\s+(?:it|them|on|hard|firmly)\b(?!\s+(?:back|out|off|away)\b)|\W*$", re.IGNORECASE)
"""What follows the verb where what it is done to is not named: in a denial, and where it is ordered."""
_MAY = re.compile(r"\b(?:may|must|can)\b", re.IGNORECASE)
_MAYS = senses("may must can")
_OF = re.compile(r"\b(?:from|of|in|on|at|out|into|through)\b", re.IGNORECASE)
_HOW = r"\b(?:use|with|in|into|under|by|to|connect|apply|put on)\s+(?:\w+\s+)?"


class _StepText(NamedTuple):
    """A text of a step, what it says, whether it is the cue, and whether what it denies holds for every patient."""

    text: Text | Prose
    said: str
    is_cue: bool
    denies: bool = True

    def at(self, offset: int) -> Place:
        return self.text.place(offset) if isinstance(self.text, Prose) else self.text.at


@finds("said-and-denied", piecewise=True)
def said_and_denied(library: Library) -> Iterator[Hit]:
    """Yield each clause of a step that orders, or waits for, what another text of it or a caution denies."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            pages = (step, *cautions_of(procedure, step))
            if any(not _DENYING.isdisjoint(words_said(library, page)) for page in pages):
                yield from _said_and_denied(list(_texts(procedure, step)))


def _texts(procedure: Procedure, step: Step) -> Iterator[_StepText]:
    said = (step.title, step.cue, step.recovery, *(action.what for action in step.actions))
    advice = (caution.avoid for caution in cautions_of(procedure, step))
    yield from (_StepText(text, str(text), text is step.cue) for text in (*said, *advice) if text is not None)
    yield _StepText(step.body, step.body.shown, is_cue=False)
    if step.if_not is not None:
        yield _StepText(step.if_not, step.if_not, is_cue=False, denies=False)


def _senses(text: str) -> frozenset[str]:
    return frozenset(word.removesuffix("e") for word in senses(text))  # one bubble, two bubbles


def _said_and_denied(told: list[_StepText]) -> Iterator[Hit]:
    clauses = [(one, clause, _senses(clause.group())) for one in told for clause in _CLAUSE.finditer(one.said)]
    for denying in (one for one in told if one.denies):
        for denial in _DENIAL.finditer(denying.said):
            before = _CLAUSE_BEFORE.split(denying.said[: denial.start()])[-1]
            if _GIVEN.search(before):
                continue
            what = _senses(_OF.split(denial["what"])[0] if denying.is_cue else denial["what"])
            what -= _MAYS
            said = next(
                (
                    (one, clause)
                    for one, clause, words in clauses
                    if what
                    and what <= words
                    and one is not denying
                    and _affirms(clause.group(), denial, denying, what, is_cue=one.is_cue)
                ),
                None,
            )
            if said is not None:
                one, clause = said
                words, denied = (quoted(" ".join(match.group().split())) for match in (clause, denial))
                begin = clause.start() + len(clause.group()) - len(clause.group().lstrip())
                also = (SecondPlace(denying.at(denial.start()), "denied here"),)
                message = f"{words} is said here, but {denied} as well"
                yield Hit(one.at(begin), message, "Write which of the two is right, in both places.", also)


def _affirms(clause: str, denial: re.Match[str], denying: _StepText, what: frozenset[str], *, is_cue: bool) -> bool:
    """Tell whether ``clause`` says for certain what is denied; of one word, that it is used."""
    if _DEPENDS.search(_OF.split(clause)[0] if is_cue else clause):
        return False
    if denying.is_cue:
        return _WAITED_FOR.search(clause) is not None or _MAY.search(clause) is not None
    if _WAITED_FOR.search(clause):
        return False
    if is_cue and len(what) > 1:
        return _MAY.search(denial["what"]) is not None
    if len(what) > 1:
        return (verb := _VERB.match(clause)) is not None and verb[1].casefold() in VERBS
    return _does(clause, denial["what"])


def _does(clause: str, what: str) -> bool:
    """Tell whether ``clause`` orders the one verb of ``what``, or uses the one thing."""
    word, verb = what.split(maxsplit=1)[0], _VERB.match(clause)
    if verb is not None and verb[1].casefold() in VERBS and base(verb[1]) == base(word):
        return bool(_OF_IT.fullmatch(what, len(word)) and _DOES_IT.match(clause, verb.end()))
    first = re.escape(word)
    return (
        re.search(rf"{_HOW}{first}\b(?!\s+(?!in|on|at|to|for|of|over|before|while|and)[a-z])", clause, re.IGNORECASE)
        is not None
    )

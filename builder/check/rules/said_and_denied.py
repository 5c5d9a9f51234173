"""What one text of a step denies (``no suction``, ``never in iodine``), no other orders or waits for."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.clauses import Mood, base, clauses
from builder.facts.imperatives import VERBS
from builder.facts.names_in_prose import names_in_prose
from builder.facts.stems import senses, stem_of
from builder.facts.texts import words_in, words_said
from builder.facts.walk import every_aftercare
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
_HEADS = re.compile(r"[^.;!?:]*:\s")
"""From a denial on: it is what the rest of the sentence is done for, ``no voice: call``."""
_VERB = re.compile(r"\W*(?:(?:and|then|now|or) )*([a-z]+)", re.IGNORECASE)
_OF_IT = re.compile(r"\W*(?:it|them)?\W*")
_DOES_IT = re.compile(r"\s+(?:it|them|on|hard|firmly)\b(?!\s+(?:back|out|off|away)\b)|\W*$", re.IGNORECASE)
"""What follows the verb where what it is done to is not named: in a denial, and where it is ordered."""
_MAY = re.compile(r"\b(?:may|must|can)\b", re.IGNORECASE)
_MAYS = senses("may must can")
_OF = re.compile(r"\b(?:from|of|in|on|at|out|into|through)\b", re.IGNORECASE)
_HOW = r"\b(?:use|with|in|into|under|by|to|connect|apply|put on)\s+(?:\w+\s+)?"


class _StepText(NamedTuple):
    """A text of a step or an item, what it says, whether it is the cue, and whether its denials hold on every way."""

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
        yield from _turned_round(procedure)
        yield from _cuts_what_it_guards(library, procedure)
    for item in every_aftercare(library):
        texts = [item.title, item.patient_text] if not _DENYING.isdisjoint(words_said(library, item)) else []
        told = [_StepText(text, text, is_cue=False) for text in texts if text is not None]
        yield from _said_and_denied([*told, _StepText(item.body, item.body.shown, is_cue=False)]) if told else ()


def _texts(procedure: Procedure, step: Step) -> Iterator[_StepText]:
    said = (step.title, step.cue, step.recovery, *(action.what for action in step.actions))
    advice = (caution.avoid for caution in cautions_of(procedure, step))
    yield from (_StepText(text, str(text), text is step.cue) for text in (*said, *advice) if text is not None)
    yield _StepText(step.body, step.body.shown, is_cue=False)
    if step.if_not is not None:
        yield _StepText(step.if_not, step.if_not, is_cue=False, denies=False)


_RATHER = re.compile(
    r"\b(?P<this>\w{3,}),? (?:(?:and )?(?:not|never|no)|instead of|rather than)"
    r"(?: (?:on|with|to|in|by|through|the|an?|your|at|into))* (?P<that>\w{3,})\b",
    re.IGNORECASE,
)
"""One thing and not another: a slab, not a ring; hooks instead of forceps."""
_JOINT = re.compile(r"\b(?:not|never|no|instead|rather)\b")


def _turned_round(procedure: Procedure) -> Iterator[Hit]:
    """Yield each text that puts one thing before another, where another text of the procedure has it the other way."""
    known: dict[tuple[str, str], tuple[str, Place]] = {}
    for text in _advice_of(procedure):
        said = text.shown if isinstance(text, Prose) else str(text)
        for match in _RATHER.finditer(said) if _JOINT.search(said) else ():
            at = text.place(match.start()) if isinstance(text, Prose) else text.at
            this, that = stem_of(match["this"].casefold()), stem_of(match["that"].casefold())
            against = known.get((that, this))
            known.setdefault((this, that), (match.group(), at))
            if against is not None and this != that:
                message = f"{quoted(match.group())} is said here, but {quoted(against[0])} as well"
                also = (SecondPlace(against[1], "the other way round"),)
                yield Hit(at, message, "Write which of the two is right, in both places.", also)


def _advice_of(procedure: Procedure) -> Iterator[Text | Prose]:
    texts: list[Text | Prose | None] = []
    for step in procedure.steps.values():
        texts += [step.title, step.body, step.cue, step.why]
    for caution in procedure.cautions.values():
        texts += [caution.avoid, caution.if_it_happens, caution.body]
    for item in procedure.aftercare_items.values():
        texts += [item.title, item.patient_text, item.body]
    return (text for text in texts if text is not None)


_CUTTING = frozenset({"cut", "divide", "excise", "tie", "clip", "transect", "sever", "ligate"})


def _cuts_what_it_guards(library: Library, procedure: Procedure) -> Iterator[Hit]:
    """Yield the advice of a caution that cuts or ties the very nerve, vessel or duct which it lists as at risk."""
    names = names_in_prose(library)
    for caution in procedure.cautions.values():
        at_risk = {str(one.id): one for name in caution.at_risk if (one := names.find(name))}
        short = names.short_forms(at_risk)
        for text in (caution.avoid, caution.if_it_happens) if at_risk else ():
            for clause in clauses(text or ""):
                if clause.verb not in _CUTTING or clause.mood is not Mood.ORDER or clause.negated or text is None:
                    continue
                mention = next(iter(names.mentions(text[clause.start : clause.stop], short)), None)
                words = text[clause.start : clause.stop][: mention.start].split() if mention is not None else ["far"]
                if mention is not None and str(mention.entry.id) in at_risk and {"the", "it"}.issuperset(words):
                    said = quoted(" ".join(text[clause.begin : clause.stop].split()))
                    also = (SecondPlace(caution.at_risk[0].at, "at risk"),)
                    message = f"{said} does what this caution is there to prevent"
                    yield Hit(text.at, message, "Write what is cut, and what is kept.", also)


def _senses(text: str) -> frozenset[str]:
    return frozenset(word.removesuffix("e") for word in senses(text))  # one bubble, two bubbles


def _said_and_denied(told: list[_StepText]) -> Iterator[Hit]:
    clauses = [(one, clause, _senses(clause.group())) for one in told for clause in _CLAUSE.finditer(one.said)]
    for denying in (one for one in told if one.denies):
        for denial in _DENIAL.finditer(denying.said):
            before = _CLAUSE_BEFORE.split(denying.said[: denial.start()])[-1]
            if _GIVEN.search(before) or _HEADS.match(denying.said, denial.start()):
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

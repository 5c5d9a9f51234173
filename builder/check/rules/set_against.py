"""What a text of a step sets against the very structure that the step lists as at risk."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.clauses import Mood
from builder.facts.names_in_prose import NamesInProse, names_in_prose
from builder.facts.told_actions import clauses_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Step

_EDGE = (
    r"(?:blade|edge|tip|points?|teeth|hook|retractor|diathermy|hot|needle|knife|scalpel|scissors|drain|jaws|suction)"
)
_SET = re.compile(
    rf"\b{_EDGE}\b[^.;]*\b(?:on|onto|at|against|towards?)\s+(?:the\s+|both\s+)?(?:[a-z]+\s+)?$|"
    r"\b(?:cut|open|slit|split|incise|nick|extend|lengthen|divide|dissect)\b[^.;]*\btowards?\s+(?:the\s+|both\s+)?(?:[a-z]+\s+)?$",
    re.IGNORECASE,
)
_NOT = re.compile(
    r"\b(?:no|not|never|nothing|without|away|off|clear|keep|protect|guard|look|see)\b|n['’]t\b", re.IGNORECASE
)


@finds("set-against-danger", piecewise=True)
def set_against_danger(library: Library) -> Iterator[Hit]:
    """Yield each order that cuts towards, or lays an edge or a tip on, what its step lists as at risk."""
    names = names_in_prose(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if step.at_risk and step.body.source:
                yield from _set_against(library, step, names)


def _set_against(library: Library, step: Step, names: NamesInProse) -> Iterator[Hit]:
    text, at_risk = step.body.shown, {str(one.id): one for name in step.at_risk if (one := names.find(name))}
    here = {
        str(one.id)
        for action in step.actions
        for name in filter(None, (action.on, action.inside))
        if (one := names.find(name))
    }
    short = names.short_forms(at_risk)
    for clause in clauses_of(library, step):
        if clause.mood is not Mood.ORDER or clause.negated or clause.is_conditional:
            continue
        for mention in names.mentions(text[clause.begin : clause.stop], short):
            said = text[clause.begin : clause.begin + mention.start]
            risky = str(mention.entry.id) in at_risk and str(mention.entry.id) not in here
            if risky and _SET.search(said) and not _NOT.search(said):
                words = " ".join(text[clause.begin : clause.begin + mention.stop].split())
                message = f"{quoted(words)} sets it against what this step lists as at risk"
                also = (SecondPlace(step.where.key("at_risk"), "at risk"),)
                yield Hit(step.body.place(clause.begin), message, "Write which way it points, away from that.", also)
                break

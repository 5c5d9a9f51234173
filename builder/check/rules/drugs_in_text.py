"""The drug that a text gives is the one of its step's action and dose."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.clauses import Mood
from builder.facts.dose_mentions import drug_names
from builder.facts.told_actions import clauses_of
from builder.facts.walk import doses
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.place import Text

_GIVES = re.compile(
    r"\b(?:give|inject|infuse|draw up|run in)\s+(?:[0-9][\w.,/% ]*? (?:of )?|a dose of |the )?$", re.IGNORECASE
)


@finds("other-drug-in-text", piecewise=True)
def other_drug_in_text(library: Library) -> Iterator[Hit]:
    """Yield each drug that the prose of a step gives, and that only other drugs are in its actions and doses."""
    known = drug_names(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            acted = [name for action in step.actions if action.verb is Verb.INJECT for name in action.objects]
            given = [*acted, *(dose.drug for dose in doses(step))]
            text = step.body.shown
            for clause in clauses_of(library, step) if given and text else ():
                if clause.mood is not Mood.ORDER or clause.negated or clause.is_conditional:
                    continue
                drug = known.search(text, clause.start, clause.stop)
                gives = drug is not None and _GIVES.search(text, clause.begin, drug.start())
                if drug is not None and gives and not _is_known(drug.group(), procedure, given):
                    message = f"{quoted(drug.group())} is given in the text, but {quoted(given[0])} by action and dose"
                    also = (SecondPlace(given[0].at, "the other drug"),)
                    yield Hit(step.body.place(drug.start()), message, "Name the same drug in both places.", also)


def _is_known(drug: str, procedure: Procedure, given: list[Text]) -> bool:
    small = drug.casefold()
    return any(small in name.casefold() or name.casefold() in small for name in (*given, *procedure.kit))

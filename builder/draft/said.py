"""What a sentence says beside its role: what to avoid, how grave that is, a critical step, how long it takes."""

import re

from builder.draft.sentence_roles import SaidRole
from builder.draft.verbs import number_of_word
from builder.facts.gravity import gravest
from builder.model.pages import Signal

_AVOID = re.compile(r"\b(?:never|not|don't|do not|mustn't|avoid|careful|take care|watch|beware|mind)\b", re.IGNORECASE)
_HAZARD = re.compile(
    r"\b(?:danger|risk|hazard|trap|pitfall|mistake|at risk|easily|can (?:injure|damage|tear|perforate))", re.IGNORECASE
)
_OTHERWISE = re.compile(r"^\W*(?:otherwise|or else|if you do\b)", re.IGNORECASE)
_GOES_ON = re.compile(r"^\W*(?:it|that|this|they|those|and|because|which)\b", re.IGNORECASE)
CRITICAL = re.compile(
    r"\b(?:critical|crucial|vital|key) (?:step|part|point|moment|bit|manoeuvre)|\bmost important (?:step|part|thing|"
    r"moment)|\bthis step is (?:critical|crucial|vital)",
    re.IGNORECASE,
)
_MINUTES = re.compile(
    r"\b(?:takes?|allow|about|another|next)\b[^.]{0,20}?\b(?P<number>\d{1,2}|[a-z]+) minutes?\b", re.IGNORECASE
)


def says_what_to_avoid(text: str) -> bool:
    """Tell whether a warning says what to avoid, and not only what it is that threatens."""
    return bool(_AVOID.search(text)) and not _HAZARD.search(text)


def comes_of_it(text: str, role: SaidRole | None) -> bool:
    """Tell whether a sentence after a warning says what comes of it."""
    is_more = role in (SaidRole.DANGER, SaidRole.WHY) and _GOES_ON.match(text)
    return bool(is_more or _OTHERWISE.match(text))


def signal_of(text: str) -> str:
    """Return the signal word that what is lost asks for; what is not graded is a warning until it is."""
    grade = gravest(text)
    is_called = re.search(r"\b(?:danger\w*|life.threatening)\b", text, re.IGNORECASE)
    return Signal.DANGER.value if is_called else grade[0].value if grade else Signal.WARNING.value


def minutes_in(text: str) -> str:
    """Return the minutes that the step takes, as the sentence says; "" where it does not."""
    match = _MINUTES.search(text)
    if not match:
        return ""
    return str(number_of_word(match["number"]) or "")

"""What is done when it happens does not make it worse: oxygen in a fire, more of the drug in an allergy.

The rows are standard first-aid and theatre teaching (common practice), each a trouble and the orders that feed it.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.stems import senses
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Caution, Step

_MORE = r"(?:give|inject|finish|continue(?: with)?|repeat|push|run in)(?: in)? "


class _Worse(NamedTuple):
    """A trouble, by the words of hazard and sign, the orders that make it worse, and why."""

    trouble: re.Pattern[str]
    orders: re.Pattern[str]
    because: str


def _row(trouble: str, orders: str, because: str) -> _Worse:
    return _Worse(
        re.compile(rf"\b(?:{trouble})", re.IGNORECASE), re.compile(rf"\b(?:{orders})\b", re.IGNORECASE), because
    )


_ROWS = (
    _row(
        r"fires?\b|flames?\b|alight|ignit|burning\b",
        r"oxygen (?:up|on|higher)|(?:turn|put) up the oxygen|(?:raise|increase|more|give) (?:the )?oxygen|"
        r"drapes on|leave the drapes|diathermy on",
        "oxygen and drapes feed a fire",
    ),
    _row(
        r"local anaesthetic|anaesthetic in the blood",
        rf"{_MORE}(?:the rest|the remainder|what is left|more|another dose|lidocaine)",
        "more local anaesthetic deepens the poisoning",
    ),
    _row(
        r"[a-z ]*\b(?:harm(?:ed|s)? (?:by|from)|poison|toxic|overdos|too much|given (?:on|to|too|twice|with))",
        rf"{_MORE}(?:a (?:second|further) dose|another dose|more of it)",
        "more of what does the harm deepens it",
    ),
    _row(
        r"leak|urine (?:leak|runs)|bile (?:leak|runs)",
        r"(?:take|pull|draw) (?:the )?(?:drain|catheter)(?: and (?:the )?(?:drain|catheter))? out|"
        r"remove the (?:drain|catheter)",
        "what leaks needs its way out",
    ),
    _row(
        r"[a-z ]*\b(?:caught|stitched (?:in|to)|sewn (?:in|to)|in (?:a|the) stitch)\b",
        r"leave (?:it|the (?:stitch|suture|clip|tie))(?: in)?",
        "what is caught is freed at once",
    ),
    _row(
        r"[a-z ]*\b(?:cut|torn|tears|opened|injured|hole|bleed\w*)\b",
        r"(?:go on|carry on|keep on|continue) (?:cutting|pulling|pushing|dissecting|sewing|dividing)",
        "what did the harm is stopped first",
    ),
    _row(
        r"catheter|urethra|false passage",
        r"(?:leave|keep) the balloon (?:full|filled|up)",
        "a full balloon tears what it is drawn through",
    ),
    _row(
        r"allerg|anaphyla",
        rf"{_MORE}(?:the rest|the remainder|what is left|the drug|the antibiotic|the infusion|another dose)",
        "what set off an allergy is stopped",
    ),
    _row(
        r"air (?:embol|in the (?:heart|veins?|blood))|gas embol",
        r"nitrous oxide (?:up|on)|(?:give|turn up) (?:the )?nitrous oxide|head up|raise the head|"
        r"sit (?:her|him|the \w+) up",
        "nitrous oxide swells the bubble, and a raised head draws in more air",
    ),
    _row(
        r"bleed|haemorrhag",
        r"give (?:more |the )?(?:heparin|enoxaparin|warfarin|aspirin|alteplase)",
        "what thins the blood feeds the bleeding",
    ),
    _row(
        r"(?:tension )?pneumothorax|air leak",
        r"clamp the (?:chest )?drain|clamp the tube",
        "a clamped drain lets the air build up",
    ),
    _row(
        r"potassium|hyperkal",
        r"give (?:more )?(?:potassium|suxamethonium)",
        "both raise the potassium further",
    ),
)
_PART = re.compile(r"[^.,;:]+")
_NOT = re.compile(r"\b(?:no|not|never|stop|without|until|after|if|unless|when|once)\b|n['’]t\b", re.IGNORECASE)


@finds("rescue-makes-worse", piecewise=True)
def rescue_makes_worse(library: Library) -> Iterator[Hit]:
    """Yield each order under ``if_it_happens`` that feeds the trouble it is to end."""
    for _, page in pages(library):
        if isinstance(page, Step) and page.error and page.recovery and senses(page.recovery) <= senses(page.error):
            message = f"{quoted(page.recovery)} makes it worse: it is the slip itself"
            also = (SecondPlace(page.error.at, "the slip"),)
            yield Hit(page.recovery.at, message, "Write what puts the slip right.", also)
        text = page.if_it_happens if isinstance(page, Caution) else None
        if not isinstance(page, Caution) or text is None:
            continue
        trouble = f"{page.hazard} {page.sign or ''}"
        for row in _ROWS:
            parts = _PART.findall(text) if row.orders.search(text) and row.trouble.search(trouble) else ()
            wrong = next((part for part in parts if row.orders.search(part) and not _NOT.search(part)), None)
            if wrong is not None:
                message = f"{quoted(' '.join(wrong.split()))} makes it worse: {row.because}"
                also = (SecondPlace(page.hazard.at, "the hazard"),)
                yield Hit(text.at, message, "Write what ends it: stop, turn down, take away.", also)
                break

"""What comes first is said alike in all texts of a procedure, and is what the trade does first.

The rows are standard teaching (common practice): skin is cleaned before it is draped, a balloon is filled once urine
runs and emptied before what it holds is drawn, what holds a drain is cut before the drain is drawn.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.told_orders import ToldOrder, orders_told
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library


@finds("order-told-otherwise", piecewise=True)
def order_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each sentence that puts two things in the opposite order of another sentence of the procedure."""
    for home, orders in orders_told(library).items():
        known: dict[tuple[str, str], ToldOrder] = {}
        for order in orders if home else ():
            first, then = order.words
            keys = [(one, other) for one in sorted(first) for other in sorted(then)]
            against = next((one for key in keys if (one := known.get(key[::-1])) and order.is_reversed(one)), None)
            if against is not None:
                wrong, right = (against, order) if order.is_slip else (order, against)
                how = "the order of the common slip" if right.is_slip else "the other order of"
                message = f"{quoted(wrong.said)} is {how} {quoted(right.said)}"
                also = (SecondPlace(right.at, "the common slip" if right.is_slip else "the other order"),)
                yield Hit(wrong.at, message, "Write which comes first, in both places.", also)
            for key in keys:
                known.setdefault(key, order)


class _Row(NamedTuple):
    """What comes first, what comes only then, and the sentence of the trade that says so."""

    first: re.Pattern[str]
    then: re.Pattern[str]
    right: str


def _row(first: str, then: str, right: str) -> _Row:
    return _Row(re.compile(first, re.IGNORECASE), re.compile(then, re.IGNORECASE), right)


_ROWS = (
    _row(
        r"\b(?:clean|paint|prep|prepare|disinfect|scrub)(?:ed|s)?\b(?!.*\b(?:lens|camera|scope|wound|hands?|table)\b)|"
        r"\b(?:let|wait|until)\b.*\bdry\b",
        r"^\W*(?:\w+ )?drape\b|\b(?:is|are) draped\b|\bdrapes (?:are|go) on\b",
        "the skin is cleaned, and dry, before it is draped",
    ),
    _row(
        r"\burine\b",
        r"\b(?:fill|inflate)\b.*\bballoon\b|\bballoon is (?:filled|inflated)",
        "a balloon is filled only once urine runs",
    ),
    _row(
        r"\b(?:empty|deflate|let down|let)\b.*\b(?:balloon|cuff)\b|\b(?:balloon|cuff) is (?:empt|down|deflat)",
        r"\b(?:draw|pull|take|slide)\b.*\b(?:catheter|tube)\b|\b(?:catheter|tube) (?:is|comes) (?:out|drawn|pulled)",
        "the balloon or cuff is emptied before what it holds is drawn",
    ),
    _row(
        r"\b(?:cut|release|undo)\b.*\b(?:stitch|suture)(?!\w* ends)|\b(?:stitch|suture) is (?:cut|out)\b",
        r"\b(?:draw|pull|take|slide)\b.*\bdrain\b|\bdrain is (?:drawn|pulled|out)\b",
        "the stitch that holds a drain is cut before the drain is drawn",
    ),
    _row(r"\b(?:draw back|aspirate|pull back)\b", r"\binject\w*\b", "who injects draws back first"),
    _row(
        r"\blabel(?:l?ed|s)?\b",
        r"\bsen[dt]\b|\bleaves?\b.*\b(?:room|theatre)\b",
        "what is sent away is labelled before it leaves",
    ),
    _row(
        r"\bmark(?:ed|s)?\b.*\b(?:side|site|limb|leg|arm|breast)\b|\b(?:side|site|limb) is marked\b",
        r"\basleep\b|\bsedat|\banaesthetised\b|\bdraped?\b",
        "the side is marked while the patient is awake",
    ),
    _row(
        r"\ballerg",
        r"\b(?:give|inject)\b|\b(?:is|are|has been) (?:in|given|injected)\b",
        "allergies are asked about before a drug is given",
    ),
    _row(
        r"\bantibiotics?\b",
        r"^\W*(?:the )?(?:first |skin |knife )*(?:cut|incision)\b|\bskin (?:is|has been) (?:cut|opened)\b",
        "the antibiotic is in before the skin is cut",
    ),
    _row(
        r"\bcount(?:ed|s)?\b(?!.*\b(?:again|second|last|final|another|more)\b)",
        r"\b(?:skin|wound|belly|abdomen|chest|neck|uterus|cavity|layers?) (?:is|are|has been) "
        r"(?:closed|shut|sutured|stitched)\b",
        "a count comes before the closing, while what is missing can still be found",
    ),
    _row(
        r"\b(?:test|pinch|prick)\b.*\b(?:block|skin|numb)\b|\bskin is numb\b",
        r"\b(?:cut|incise|open) (?:the )?skin\b",
        "numb skin is tested before it is cut",
    ),
)


@finds("order-against-trade", piecewise=True)
def order_against_trade(library: Library) -> Iterator[Hit]:
    """Yield each sentence that puts first what the trade does only then."""
    for orders in orders_told(library).values():
        for order in orders:
            row = next((row for row in _ROWS if row.then.search(order.first) and row.first.search(order.then)), None)
            if row is not None and not (row.first.search(order.first) or row.then.search(order.then)):
                yield Hit(order.at, f"{quoted(order.said)}: {row.right}", "Write it in the order in which it is done.")

"""What the checks looked at, in words for a reader: families of checks, not seventy names of faults."""

from __future__ import annotations

from collections.abc import Iterable

# By the letters that a check's id starts with.
FAMILIES = {
    "XR": "Everything that is named exists: steps, cautions, aftercare, structures, items, figures.",
    "CI": "Every source that is cited exists.",
    "OR": "Every caution stands before the step it guards.",
    "PA": "On every way through the operation: structures are seen before they are cut, vessels are controlled before "
    "they are divided, what goes in comes out or has a day of removal, counts are called, and the kit is complete.",
    "SI": "Left and right are the same in text, actions and figures.",
    "DO": "Doses can be read, stay under their stated ceilings, and their tables have no gaps or overlaps.",
    "AF": "Aftercare is in order of time, and the patient is told the same as the staff.",
    "GA": "Critical steps say what must be seen, and what to do if it is not.",
    "SR": "Sources are complete and identified, and a statement has one or says that it is common practice.",
    "FG": "Every figure has a description, a credit and a consent.",
    "ED": "What was approved has not been changed since, and the record of issued codes is whole.",
    "RV": "Owner, approval and review date are stated.",
    "DR": "What a draft proposed is confirmed, or marked as not confirmed.",
    "WD": "Titles are instructions and sentences are short.",
    "RO": "Abbreviations are spelt out, and figures and tables are spoken of in the text.",
    "WP": "Units and numbers are written as the country's safety lists ask.",
    "ID": "No text, figure or file name looks as if it named a patient.",
}


def looked_at(ids: Iterable[str]) -> tuple[str, ...]:
    """Return what checks with these ``ids`` looked at, each family once, in the order of the table above."""
    ran = {id.rstrip("0123456789") for id in ids}
    return tuple(words for family, words in FAMILIES.items() if family in ran)

"""Words of the trade that a patient's text uses without plain words beside them."""

import re
from collections.abc import Iterator
from functools import cache

from builder.check.hit import Hit, finds
from builder.facts.walk import every_aftercare
from builder.findings.message_words import listed, quoted
from builder.load.packs import words
from builder.model.library import Library

_PLAIN_BESIDE = re.compile(r"\s*(?:\(|,? (?:which is|that is|meaning)\b)", re.IGNORECASE)
_NAMED = re.compile(r"(?:\([^()]*|\bcalled (?:an? |the )?|\bnamed )$", re.IGNORECASE)


@cache
def _jargon() -> re.Pattern[str]:
    known = "|".join(sorted(words("patients", "jargon"), key=len, reverse=True))
    ends = "|".join(words("patients", "endings"))
    return re.compile(rf"\b(?:{known}|[a-z]{{3,}}(?:{ends}))s?\b", re.IGNORECASE)


@finds("patient-told-in-jargon", piecewise=True)
def patient_told_in_jargon(library: Library) -> Iterator[Hit]:
    """Yield each patient's text with words that only the trade knows; what the terms explain has a rule of its own."""
    terms = {form.casefold() for term in library.terms for form in (term.short, term.long)}
    titles = {word for procedure in library.procedures for word in procedure.title.casefold().split()}
    known = terms | titles | words("patients", "known")
    for item in every_aftercare(library):
        text = item.patient_text
        found = []
        for match in _jargon().finditer(text or ""):
            word = match.group().casefold()
            explained = _PLAIN_BESIDE.match(text or "", match.end()) or _NAMED.search(text or "", 0, match.start())
            if word not in known and word.removesuffix("s") not in known and not explained:
                found.append(quoted(match.group()))
        if found and text is not None:
            few = "is a word" if len(set(found)) == 1 else "are words"
            message = f"{listed(dict.fromkeys(found))} {few} that patients do not know"
            yield Hit(text.at, message, "Write it in plain words, or put the plain words in brackets after it.")

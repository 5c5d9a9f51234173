"""A source about one subject does not back a text about another: a judgment on consent does not set a dose.

A subject is known by its words, in the title, keywords or key of a source and in the text (our own table). A source
about none of them, such as a guideline on the operation itself, may back anything.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.patient_advice import sentence_at
from builder.facts.texts import words_said
from builder.facts.walk import doses, pages
from builder.findings.message_words import quoted
from builder.load.sources.bibliography import RawSource
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Step
from builder.place import Text


class _Subject(NamedTuple):
    """What sources of one subject are called, the words of a text on it, and others that it may be about as well."""

    name: str
    of_source: re.Pattern[str]
    of_text: re.Pattern[str]
    beside: re.Pattern[str]


def _subject(name: str, *patterns: str) -> _Subject:
    return _Subject(name, *(re.compile(pattern, re.IGNORECASE) for pattern in patterns))


_SUBJECTS = (
    _subject(
        "blood clots",
        r"thrombo(?!scop)|\bvte\b|embol",
        r"clots?\b|thrombo|embol|parin\b|xaban\b|\bVTE\b",
        r"stocking|calf|aspirin|bleed|walk",
    ),
    _subject(
        "antibiotics",
        r"antimicrob|antibiotic|surgical site infection",
        r"antibiotic|\bcef|cillin\b|m[yi]cin\b|planin\b|nidazole\b|clav\b",
        r"infect|antisept|clean|wash|skin|wound|hair|glove|drape|warm",
    ),
    _subject(
        "consent", r"consent|montgomery|court", r"consent|\blaw\b|court", r"agree|risk|tell|talk|choose|choice|told"
    ),
    _subject(
        "counts",
        r"retained|surgical[- ]count|\bsponges?\b",
        r"\bcount",
        r"left (?:in|behind|over)|swab|needle|instrument|inside|checklist|sign",
    ),
    _subject(
        "local anaesthetics",
        r"local an(?:a)?esthetic",
        r"local an(?:a)?esthetic|caine\b|lipid",
        r"numb|anaesthe|inject|adrenaline|block|needle",
    ),
    _subject("opioids", r"opioid", r"opioid|morphine|codeine|oxycodone|tramadol", r"pain|sleepy|analges|breath"),
)


@finds("source-of-another-subject")
def source_of_another_subject(library: Library) -> Iterator[Hit]:
    """Yield each citation of a source about one subject for a text that is about another one that has its sources."""
    about = {key: subject for key, source in library.sources.items() if (subject := _about(source)) is not None}
    for key, says in _cited(library) if about else ():
        subject = about.get(str(key))
        if subject is None or subject.of_text.search(says) or subject.beside.search(says):
            continue
        other = next((one for one in dict.fromkeys(about.values()) if one.of_text.search(says)), None)
        if other is not None:
            message = f"{quoted(key)} is about {subject.name}, and this text about {other.name}"
            yield Hit(key.at, message, "Cite a source about this, or write what this one says of it.")


def _about(source: RawSource) -> _Subject | None:
    """Return the subject of ``source``, where it has one alone."""
    words = " ".join((str(source.key), source.fields.get("title", ""), source.fields.get("keywords", "")))
    found = [subject for subject in _SUBJECTS if subject.of_source.search(words)]
    return found[0] if len(found) == 1 else None


def _cited(library: Library) -> Iterator[tuple[Text, str]]:
    """Yield each key that is cited with the words that it backs: those of its sentence, its dose or its page."""
    for _, page in pages(library):
        if isinstance(page, Step | Caution | Aftercare) and page.evidence:
            words = " ".join(words_said(library, page))
            yield from ((citation.source, words) for citation in page.evidence)
        for dose in doses(page):
            yield from ((citation.source, f"{dose.drug} {dose.route or ''}") for citation in dose.evidence)
        for link in page.body.links if isinstance(page, Step | Caution | Aftercare) else ():
            if link.kind == "source" and link.clear:
                at = page.body.source.find(f"[{link.words}]")
                yield from ((target, sentence_at(page.body.shown, max(at, 0))) for target in link.targets)

"""The patient's sheet on A4, and in large print: what to do first, in plain words, with how hard it is to read.

Only ``patient_text`` of aftercare is shown. Nothing is shortened for large print; it only takes more pages.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builder.compose.document import Document, LeftOut, Renderer, promised
from builder.compose.view.head import CallView, head_of
from builder.compose.view.words import Speller
from builder.facts.readability import Score, count, hard_words, scores, sentences_of
from builder.facts.times import hours_of
from builder.load.pronunciations import syllables
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure, When

PATIENT_CAUTION = (
    "This sheet is general advice. It does not know you. "
    "Where your own team has told you something else, do what they said."
)
_CALLS = ("call", "ring", "phone", "tell us", "ambulance", "999", "emergency")
_AT_ONCE = ("at once", "ambulance", "999", "straight away", "immediately", "emergency")
_SENTENCE_END = re.compile(r"(?<=[.!?])(?=\s)|(?<=\n)")
_MOST_HARD_WORDS = 12


@dataclass(frozen=True, slots=True)
class SentenceView:
    """One sentence; ``urgent`` where it says to call at once."""

    text: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class AdviceView:
    """One item of advice: its ``anchor``, ``when`` in plain words ("" where only an event says it), its sentences."""

    anchor: str
    when: str
    sentences: tuple[SentenceView, ...]
    to_call: bool


@dataclass(frozen=True, slots=True)
class ReadingView:
    """How hard the sheet is to read: each formula with its value, the spread of the grades, and the hard words."""

    scores: tuple[tuple[str, str], ...]
    spread: str
    hard: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PatientView:
    """The sheet. ``first`` are the items that say when to call; ``advice`` are all others, as the source has them."""

    large: bool
    calls: tuple[CallView, ...]
    first: tuple[AdviceView, ...]
    advice: tuple[AdviceView, ...]
    reading: ReadingView
    caution = PATIENT_CAUTION


def compose(library: Library, procedure: Procedure, renderer: Renderer, *, large: bool = False) -> Document:
    """Return the patient's sheet of ``procedure`` as HTML for the typesetter; ``large``: in large print."""
    view = patient_view(library, procedure, large=large)
    silent = [item for item in procedure.aftercare_items.values() if item.patient_text is None]
    name = "patient-sheet-large" if large else "patient-sheet"
    return Document.about(
        procedure,
        "patient-sheet",
        f"{name}.pdf",
        renderer.render("sheets/patient_sheet.html.j2", view=view, head=head_of(library, procedure)),
        musts=tuple(
            must
            for advice in (*view.first, *view.advice)
            for must in promised("patient", advice.anchor, *(line.text for line in advice.sentences))
        ),
        left_out=tuple(LeftOut("aftercare", str(item.id), "it has no words for the patient") for item in silent),
        explained={"reading": dict(view.reading.scores), "hard_words": list(view.reading.hard)},
    )


def patient_view(library: Library, procedure: Procedure, *, large: bool) -> PatientView:
    """Return the view of the sheet; every text final."""
    speller = Speller(library.terms, plain=True)
    items = [item for item in procedure.aftercare_items.values() if item.patient_text is not None]
    # What to do at once stands first on the sheet, so its abbreviations are spelt out first.
    ordered = sorted(items, key=lambda item: not _to_call(item))
    shown = [
        AdviceView(f"advice-{item.id}", _when(item.when), tuple(_lines(item, speller)), _to_call(item))
        for item in ordered
    ]
    return PatientView(
        large=large,
        calls=_calls(library, items),
        first=tuple(advice for advice in shown if advice.to_call),
        advice=tuple(advice for advice in shown if not advice.to_call),
        reading=reading_of([str(item.patient_text) for item in items]),
    )


def _to_call(item: Aftercare) -> bool:
    """Tell whether the item is about when to call: its title says so, or most of its sentences do."""
    told = sentences_of(str(item.patient_text))
    calling = [line for line in told if line.strip().casefold().startswith(_CALLS[:3])]
    return "call" in item.title.casefold().split() or len(calling) * 2 > len(told)


def _lines(item: Aftercare, speller: Speller) -> Iterator[SentenceView]:
    for text in map(speller.text, sentences_of_kept(str(item.patient_text))):
        low = text.casefold()
        yield SentenceView(text, any(word in low for word in _AT_ONCE) and any(word in low for word in _CALLS))


def _when(when: When) -> str:
    """Return a time in plain words. An event is left out: it is named in words for the staff."""
    if when.until is None or hours_of(when.until) is None:
        return ""
    start = hours_of(when.start)
    if not start:
        return f"For the first {_time(when.until)}" if start == 0 else ""
    return f"From {_time(when.start)} until {_time(when.until)} after the operation"


def _time(words: str) -> str:
    number, _, unit = words.partition(" ")
    name = {"h": "hour", "hr": "hour"}.get(unit, unit.removesuffix("s"))
    return f"{number} {name}" if number == "1" else f"{number} {name}s"


def sentences_of_kept(text: str) -> list[str]:
    """Return the sentences of ``text`` as written: nothing of it is lost, and numbers keep their points."""
    return [words.strip() for words in _SENTENCE_END.split(text) if words.strip()]


def _calls(library: Library, items: Iterable[Aftercare]) -> tuple[CallView, ...]:
    """Return the numbers of the roles that the patient's texts name; without any, the first ward that is listed."""
    told = " ".join(str(item.patient_text) for item in items).casefold()
    listed = [CallView(str(contact.role), str(contact.number)) for contact in library.department.call]
    named = [call for call in listed if call.role.casefold() in told]
    return tuple(named or [call for call in listed if "ward" in call.role.casefold()][:1])


def reading_of(texts: list[str]) -> ReadingView:
    """Return how hard ``texts`` are to read by each formula, as a spread, and the words of three syllables or more."""
    formulas = scores(count(texts, syllables))
    grades = [score.value for score in formulas if score.is_grade]
    low, high = (str(max(0, round(value))) for value in (min(grades), max(grades))) if grades else ("", "")
    spread = f"school grade {low} to {high}" if grades else "nothing to read"
    shown = tuple((score.name, _shown(score)) for score in formulas)
    return ReadingView(shown, spread, tuple(word for word, _ in hard_words(texts, syllables)[:_MOST_HARD_WORDS]))


def _shown(score: Score) -> str:
    return f"grade {max(0.0, score.value):.1f}" if score.is_grade else f"{min(100.0, max(0.0, score.value)):.0f} of 100"

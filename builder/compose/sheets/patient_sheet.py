"""The patient's sheet on A4, and in large print: what to do first, in plain words, with how hard it is to read.

Only ``patient_text`` of aftercare is shown. Nothing is shortened for large print; it only takes more pages.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.compose.document import Document, LeftOut
from builder.compose.render import Renderer
from builder.compose.sheets.sheet_head import CallView, Head, head_of
from builder.compose.view.spelling import Speller
from builder.compose.view.view import Must
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

    head: Head
    large: bool
    caution: str
    calls: tuple[CallView, ...]
    first: tuple[AdviceView, ...]
    advice: tuple[AdviceView, ...]
    reading: ReadingView


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the patient's sheet of ``procedure`` as HTML for the typesetter."""
    return _document(library, procedure, renderer, large=False)


def compose_large(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the same sheet in large print."""
    return _document(library, procedure, renderer, large=True)


def _document(library: Library, procedure: Procedure, renderer: Renderer, *, large: bool) -> Document:
    view = patient_view(library, procedure, large=large)
    silent = [item for item in procedure.aftercare_items.values() if item.patient_text is None]
    name = "patient-sheet-large" if large else "patient-sheet"
    return Document(
        kind="patient-sheet",
        procedure=procedure.id,
        edition=procedure.edition,
        title=procedure.title,
        name=f"{procedure.id}/{name}.pdf",
        text=renderer.render("sheets/patient_sheet.html.j2", view=view, head=view.head),
        musts=tuple(_musts(view)),
        left_out=tuple(LeftOut("aftercare", str(item.id), "it has no words for the patient") for item in silent),
        explained={"reading": dict(view.reading.scores), "hard_words": list(view.reading.hard)},
    )


def patient_view(library: Library, procedure: Procedure, *, large: bool) -> PatientView:
    """Return the view of the sheet; every text final."""
    speller = Speller(library.terms, plain=True)
    items = [item for item in procedure.aftercare_items.values() if item.patient_text is not None]
    # What to do at once stands first on the sheet, so its abbreviations are spelt out first.
    ordered = sorted(items, key=lambda item: not _to_call(item))
    shown = [_advice(item, speller) for item in ordered]
    return PatientView(
        head=head_of(library, procedure),
        large=large,
        caution=PATIENT_CAUTION,
        calls=_calls(library, items),
        first=tuple(one for one in shown if one.to_call),
        advice=tuple(one for one in shown if not one.to_call),
        reading=reading_of([str(item.patient_text) for item in items]),
    )


def _to_call(item: Aftercare) -> bool:
    """Tell whether the item is about when to call: its title says so, or most of its sentences do."""
    told = sentences_of(str(item.patient_text))
    calling = [one for one in told if one.strip().casefold().startswith(_CALLS[:3])]
    return "call" in item.title.casefold().split() or len(calling) * 2 > len(told)


def _advice(item: Aftercare, speller: Speller) -> AdviceView:
    lines = tuple(_line(speller.text(one.strip())) for one in sentences_of_kept(str(item.patient_text)))
    return AdviceView(f"advice-{item.id}", _when(item.when), lines, _to_call(item))


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
    found: list[str] = []
    start = 0
    for place, sign in enumerate(text):
        ends = sign in ".!?" and (place + 1 == len(text) or text[place + 1].isspace())
        if ends or sign == "\n":
            found.append(text[start : place + 1].strip())
            start = place + 1
    found.append(text[start:].strip())
    return [one for one in found if one]


def _line(text: str) -> SentenceView:
    low = text.casefold()
    return SentenceView(text, any(word in low for word in _AT_ONCE) and any(word in low for word in _CALLS))


def _calls(library: Library, items: Iterable[Aftercare]) -> tuple[CallView, ...]:
    """Return the numbers of the roles that the patient's texts name; without any, the first ward that is listed."""
    told = " ".join(str(item.patient_text) for item in items).casefold()
    listed = [CallView(str(one.role), str(one.number)) for one in library.department.call]
    named = [one for one in listed if one.role.casefold() in told]
    return tuple(named or [one for one in listed if "ward" in one.role.casefold()][:1])


def reading_of(texts: list[str]) -> ReadingView:
    """Return how hard ``texts`` are to read by each formula, as a spread, and the words of three syllables or more."""
    found = scores(count(texts, syllables))
    grades = [one.value for one in found if one.is_grade]
    spread = f"school grade {_grade(min(grades))} to {_grade(max(grades))}" if grades else "nothing to read"
    shown = tuple((one.name, _shown(one)) for one in found)
    return ReadingView(shown, spread, tuple(word for word, _ in hard_words(texts, syllables)[:_MOST_HARD_WORDS]))


def _grade(value: float) -> str:
    return str(max(0, round(value)))


def _shown(score: Score) -> str:
    return f"grade {max(0.0, score.value):.1f}" if score.is_grade else f"{min(100.0, max(0.0, score.value)):.0f} of 100"


def _musts(view: PatientView) -> Iterable[Must]:
    for advice in (*view.first, *view.advice):
        for line in advice.sentences:
            yield Must("patient", advice.anchor, line.text)

"""The patient's sheet on A4, and in large print: what calls for help in one box, then what to do by time.

Only ``patient_text`` of aftercare is shown, every sentence once. Nothing is shortened for large print; it only takes
more pages. How hard it is to read is for staff: it stands in build-report.json and on the page of the procedure.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.view.head import CallView, head_of
from builder.compose.view.outline import in_time
from builder.compose.view.words import Speller, parted, time_words
from builder.facts.for_patients import (
    Phase,
    Urgency,
    called_by_patients,
    is_normal,
    number_from_home,
    phase,
    told_sentences,
    urgency,
)
from builder.facts.readability import Score, count, hard_words, scores
from builder.facts.times import hours_of
from builder.findings.message_words import capital
from builder.grouping import grouped
from builder.load.program_words import gettext, noted
from builder.load.pronunciations import syllables
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure, When

PATIENT_CAUTION = noted(
    "This sheet is general advice. It does not know you. "
    "Where your own team has told you something else, do what they said."
)
_URGENCIES = {
    Urgency.AMBULANCE: noted("Call an ambulance"),
    Urgency.AT_ONCE: noted("Get help at once"),
    Urgency.CALL: noted("Call us"),
    Urgency.TELL: noted("While you are in hospital, tell us"),
}
_PHASES = {
    Phase.HOSPITAL: noted("While you are in hospital"),
    Phase.DAYS: noted("The first days at home"),
    Phase.WEEKS: noted("The weeks after"),
    Phase.VISIT: noted("Before you come back or see your nurse"),
}
_MOST_HARD_WORDS = 12


@dataclass(frozen=True, slots=True)
class SentenceView:
    """One sentence as it stands on the sheet, with the ``anchor`` of the item that it is from."""

    anchor: str
    text: str


@dataclass(frozen=True, slots=True)
class AdviceView:
    """Sentences under one heading: a time, or an event in the patient's words."""

    heading: str
    sentences: tuple[SentenceView, ...]


@dataclass(frozen=True, slots=True)
class PhaseView:
    """A time of the recovery: its ``title``, and its advice in order."""

    title: str
    advice: tuple[AdviceView, ...]


@dataclass(frozen=True, slots=True)
class ReadingView:
    """How hard the sheet is to read: each formula with its value, the spread of the grades, and the hard words."""

    scores: tuple[tuple[str, str], ...]
    spread: str
    hard: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PatientView:
    """The sheet: ``box`` is everything that calls for help, the most urgent first; ``calls`` have numbers that work
    from home, "" where the department gives none."""

    large: bool
    calls: tuple[CallView, ...]
    box: tuple[AdviceView, ...]
    phases: tuple[PhaseView, ...]
    normal: tuple[SentenceView, ...]

    @property
    def caution(self) -> str:
        """What holds of every sheet."""
        return gettext(PATIENT_CAUTION)


def compose(library: Library, procedure: Procedure, renderer: Renderer, *, large: bool = False) -> Document:
    """Return the patient's sheet of ``procedure`` as HTML for the typesetter; ``large``: in large print."""
    view, reading = patient_view(library, procedure, large=large), reading_of(patient_texts(procedure))
    silent = [item for item in procedure.aftercare_items.values() if item.patient_text is None]
    name, template = "patient-sheet-large" if large else "patient-sheet", "sheets/patient_sheet.html.j2"
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, template))
    return Document.about(
        procedure,
        "patient-sheet",
        f"{name}.pdf",
        renderer.render(template, view=view, head=head),
        musts=(*head.musts, *_musts(view)),
        left_out=tuple(LeftOut("aftercare", str(item.id), "it has no words for the patient") for item in silent),
        explained={"reading": dict(reading.scores), "hard_words": list(reading.hard)},
    )


def _musts(view: PatientView) -> Iterator[Must]:
    """Yield every sentence in the order of reading; what calls for help is on the first page, but in large print."""
    helping = [line for part in view.box for line in part.sentences]
    advice = (part.sentences for phase in view.phases for part in phase.advice)
    for line in helping:
        yield from promised("patient" if view.large else "help", line.anchor, line.text)
    for call in view.calls:
        yield from promised("patient" if view.large else "help", f"call-{call.role}", call.number)
    for line in chain(*advice, view.normal):
        yield from promised("patient", line.anchor, line.text)


def patient_view(library: Library, procedure: Procedure, *, large: bool) -> PatientView:
    """Return the view of the sheet; every text final."""
    speller, items = Speller(library.terms, plain=True), procedure.aftercare_items
    told = [(item, sentence) for item in in_time(items.values()) for sentence in told_sentences(item)]
    urgent = grouped((fast, pair) for pair in told if (fast := urgency(pair[1])) is not None)
    normal = [pair for pair in told if urgency(pair[1]) is None and is_normal(pair[1])]
    advice = [pair for pair in told if urgency(pair[1]) is None and not is_normal(pair[1])]
    by_phase = grouped((phase(item, items), (item, sentence)) for item, sentence in advice)
    # An abbreviation is spelt out at its first use on the sheet, so sentences are spelt in the order of reading.
    calls = tuple(CallView(str(call.role), number_from_home(call)) for call in called_by_patients(library, procedure))
    box = tuple(
        AdviceView(
            f"{gettext(title)}{_by_telephone(fast, calls)}", tuple(_line(pair, speller) for pair in urgent[fast])
        )
        for fast, title in _URGENCIES.items()
        if fast in urgent
    )
    phases = tuple(
        PhaseView(gettext(title), tuple(_advice(by_phase[each], speller)))
        for each, title in _PHASES.items()
        if each in by_phase
    )
    return PatientView(large, calls, box, phases, tuple(_line(pair, speller) for pair in normal))


def _by_telephone(fast: Urgency, calls: tuple[CallView, ...]) -> str:
    """Return the number for those who need help ``fast``; "" where there are more than one, which stand at the foot."""
    numbers = [call.number for call in calls if call.number]
    return f": {numbers[0]}" if len(numbers) == 1 and fast in {Urgency.AT_ONCE, Urgency.CALL} else ""


def _advice(pairs: list[tuple[Aftercare, str]], speller: Speller) -> Iterator[AdviceView]:
    for heading, alike in grouped((_heading(item.when), (item, sentence)) for item, sentence in pairs).items():
        yield AdviceView(heading, tuple(_line(pair, speller) for pair in alike))


def _line(pair: tuple[Aftercare, str], speller: Speller) -> SentenceView:
    """Return a sentence; one that left the first of its item says again for whom it is."""
    item, sentence = pair
    words = capital(str(item.only_if.words)) if item.only_if else ""
    return SentenceView(f"advice-{item.id}", speller.text(_bound(sentence, words)))


def _bound(sentence: str, words: str) -> str:
    return sentence if not words or sentence.startswith(words) else f"{words}: {sentence}"


def _heading(when: When) -> str:
    """Return a time in plain words; an event as the educator words it for patients, because ``until`` is for staff."""
    if when.words:
        return capital(str(when.words))
    if when.until is None:
        return gettext("From the start")
    start = hours_of(when.start)
    if hours_of(when.until) is None or start is None:
        return gettext("Until your team says otherwise")
    if not start:
        return _the_first(when.until)
    return gettext(
        "From %(start)s until %(until)s after the operation", start=time_words(when.start), until=time_words(when.until)
    )


def _the_first(until: str) -> str:
    """Return for how long from the start: one of a unit, or several."""
    whole = {
        "1 hour": gettext("For the first hour"), "1 day": gettext("For the first day"),
        "1 week": gettext("For the first week"), "1 month": gettext("For the first month"),
    }  # fmt: skip
    number, unit = parted(until)
    return whole.get(f"{number} {unit}") or gettext("For the first %(time)s", time=time_words(until))


def patient_texts(procedure: Procedure) -> list[str]:
    """Return what patients are told after ``procedure``, item by item."""
    return [str(item.patient_text) for item in procedure.aftercare_items.values() if item.patient_text is not None]


def reading_of(texts: list[str]) -> ReadingView:
    """Return how hard ``texts`` are to read by each formula, as a spread, and the words of three syllables or more."""
    formulas = scores(count(texts, syllables))
    grades = [score.value for score in formulas if score.is_grade]
    low, high = (str(max(0, round(value))) for value in (min(grades), max(grades))) if grades else ("", "")
    spread = gettext("school grade %(low)s to %(high)s", low=low, high=high) if grades else gettext("nothing to read")
    shown = tuple((score.name, _shown(score)) for score in formulas)
    return ReadingView(shown, spread, tuple(word for word, _ in hard_words(texts, syllables)[:_MOST_HARD_WORDS]))


def _shown(score: Score) -> str:
    if score.is_grade:
        return gettext("grade %(grade)s", grade=f"{max(0.0, score.value):.1f}")
    return gettext("%(part)s of 100", part=f"{min(100.0, max(0.0, score.value)):.0f}")

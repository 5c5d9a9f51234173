"""The patient's sheet on A4, and in large print: what calls for help in one box, then what to do by time.

Only ``patient_text`` of aftercare is shown, every sentence once; the last part is to be written on, for what is agreed
with one patient. Nothing is shortened for large print; it only takes
more pages. How hard it is to read is for staff: it stands in build-report.json and on the page of the procedure.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain

from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.view.head import CallView, head_of
from builder.compose.view.outline import in_time
from builder.compose.view.words import Speller, labelled, parted, time_words
from builder.facts.directions import is_right_to_left
from builder.facts.for_patients import (
    Phase,
    Urgency,
    bound,
    called_by_patients,
    is_normal,
    number_from_home,
    phase,
    told_sentences,
    urgency,
)
from builder.facts.readability import Score, count, hard_words, scores
from builder.facts.times import hours_of
from builder.facts.translations import Wording, withheld
from builder.findings.message_words import capital
from builder.grouping import grouped
from builder.load.program_words import gettext, noted, spoken
from builder.load.pronunciations import syllables
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure

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
    from home, "" where the department gives none. A translated one says in which language names are ``written_in``, and
    its mark in English too."""

    large: bool
    calls: tuple[CallView, ...]
    box: tuple[AdviceView, ...]
    phases: tuple[PhaseView, ...]
    normal: tuple[SentenceView, ...]
    written_in: str = ""
    english_mark: str = ""
    is_right_to_left: bool = field(default_factory=lambda: is_right_to_left(spoken()))

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
        musts=(*head.musts, *musts_of(view)),
        left_out=(
            *(LeftOut("aftercare", str(item.id), "it has no words for the patient") for item in silent),
            *(LeftOut("translation", language, why) for language, why in withheld(procedure)),
        ),
        explained={"reading": dict(reading.scores), "hard_words": list(reading.hard)},
    )


def musts_of(view: PatientView) -> Iterator[Must]:
    """Yield every sentence in the order of reading; what calls for help is on the first page, but in large print."""
    yield from promised("running", "mark-in-english", view.english_mark)
    helping = [line for part in view.box for line in part.sentences]
    advice = (part.sentences for phase in view.phases for part in phase.advice)
    for line in helping:
        yield from promised("patient" if view.large else "help", line.anchor, line.text)
    for call in view.calls:
        yield from promised("patient" if view.large else "help", f"call-{call.role}", call.number)
    for line in chain(*advice, view.normal):
        yield from promised("patient", line.anchor, line.text)


def patient_view(
    library: Library, procedure: Procedure, *, large: bool = False, worded: Wording | None = None
) -> PatientView:
    """Return the view of the sheet; every text final. ``worded`` are its texts in the language that is spoken, by item
    and original, where that is not the author's."""
    speller, items = Speller(library.terms if worded is None else (), plain=True), procedure.aftercare_items
    told = [(item, sentence) for item in in_time(items.values()) for sentence in told_sentences(item)]
    urgent = grouped((fast, pair) for pair in told if (fast := urgency(pair[1])) is not None)
    normal = [pair for pair in told if urgency(pair[1]) is None and is_normal(pair[1])]
    advice = [pair for pair in told if urgency(pair[1]) is None and not is_normal(pair[1])]

    def line(pair: tuple[Aftercare, str]) -> SentenceView:
        text = _worded(pair[0], bound(*pair), worded)
        return SentenceView(f"advice-{pair[0].id}", speller.text(text))

    by_phase = grouped((phase(item, items), (item, sentence)) for item, sentence in advice)
    # An abbreviation is spelt out at its first use on the sheet, so sentences are spelt in the order of reading.
    calls = tuple(CallView(str(call.role), number_from_home(call)) for call in called_by_patients(library, procedure))
    box = tuple(
        AdviceView(_by_telephone(fast, gettext(title), calls), tuple(map(line, urgent[fast])))
        for fast, title in _URGENCIES.items()
        if fast in urgent
    )
    phases = tuple(
        PhaseView(
            gettext(title),
            tuple(
                AdviceView(heading, tuple(map(line, alike)))
                for heading, alike in grouped((_heading(pair[0], worded), pair) for pair in by_phase[each]).items()
            ),
        )
        for each, title in _PHASES.items()
        if each in by_phase
    )
    return PatientView(large, calls, box, phases, tuple(map(line, normal)))


def _by_telephone(fast: Urgency, title: str, calls: tuple[CallView, ...]) -> str:
    """Return ``title`` with the number for those who need help ``fast``; of several, all stand at the foot."""
    numbers = [call.number for call in calls if call.number]
    has_one = len(numbers) == 1 and fast in {Urgency.AT_ONCE, Urgency.CALL}
    return labelled(title, numbers[0]) if has_one else title


def _worded(item: Aftercare, text: str, worded: Wording | None) -> str:
    return text if worded is None else worded[str(item.id), " ".join(text.split())]


def _heading(item: Aftercare, worded: Wording | None) -> str:
    """Return a time in plain words; an event as the educator words it for patients, because ``until`` is for staff."""
    when = item.when
    if when.words:
        return capital(_worded(item, str(when.words), worded))
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

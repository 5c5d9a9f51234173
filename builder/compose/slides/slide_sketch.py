"""What the slides of a procedure hold, in reading order, before they are set or chosen for a session.

One step a slide. A caution that does not fit on the slide of its step has one of its own before it; the figure has one
behind it where it does not fit; a critical step is followed by its stop point.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from builder.compose.slides.slide import Sketch, SlidePart, SlidePicture, SpeakerNote, Speech, filled
from builder.compose.slides.slide_beside import CautionSlides, figure_sketches, reminded, with_figure
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_text import cites_in, is_practice, joined, runs, said, stopped
from builder.compose.view.head import call_of
from builder.compose.view.outline import StepBlock, every_block
from builder.compose.view.parts_view import ChoiceView, DoseView, StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import step_words, uncapital
from builder.model.library import Library
from builder.model.pages import Procedure

_MOST_MERGED = 6  # pointers of a figure that shares its slide with the step
_LIST_WORDS, _LIST_LINES = 34, 7
_PARTING = {"choose": "Choose", "option": "If needed", "follow": "As chosen before"}
_ASK_WAY, _ASK_STOP, _ASK_OPTION = 20.0, 15.0, 12.0

Pictures = Mapping[str, SlidePicture]
"""Pictures by the id of the figure."""


def sketches_of(library: Library, procedure: Procedure, pictures: Pictures) -> tuple[Sketch, ...]:
    """Return every slide from the one behind the title to the aftercare, in reading order."""
    return tuple(_Sketcher(library, procedure, pictures).all())


class _Sketcher:
    """Sketches one procedure."""

    def __init__(self, library: Library, procedure: Procedure, pictures: Pictures) -> None:
        self.library = library
        self.pictures = pictures
        self.view = view_of(library, procedure)
        self.cautions = CautionSlides(library, self.view.references)

    def all(self) -> Iterator[Sketch]:
        yield from self._why()
        yield from self._before()
        yield from self._blocks(self.view.blocks, "")
        yield from self._aftercare()

    def _why(self) -> Iterator[Sketch]:
        view = self.view
        if view.summary:
            yield Sketch(
                "statement", "why", "why", view.summary, Speech(view.summary, said(view.body_html)), "What it is for",
                backing=cites_in((view.cites_html, view.body_html), view.references),
                practice=is_practice(view.cites_html),
            )  # fmt: skip
        for figure in view.figures:
            yield from figure_sketches(figure, self.pictures[figure.id], block="why")

    def _before(self) -> Iterator[Sketch]:
        kit = ", ".join(f"{item.number} × {item.name}" for item in self.view.kit)
        for turn, some in enumerate(_chunks(self.view.before_you_start)):
            asides = filled(SpeakerNote("Kit", "" if turn else stopped(kit)))
            yield Sketch(
                "checklist", _turned("before", turn), "before", _numbered("Check this before you start", turn),
                Speech(joined(*some)), "Before you start", parts=tuple(SlidePart("check", line, "□") for line in some),
                asides=asides,
            )  # fmt: skip

    def _blocks(self, blocks: Sequence[StepView | ChoiceView], lead: str) -> Iterator[Sketch]:
        for block in blocks:
            yield from self._step(block, lead) if isinstance(block, StepView) else self._choice(block, lead)

    # choices

    def _choice(self, choice: ChoiceView, lead: str) -> Iterator[Sketch]:
        first = next(_numbers((choice,)), "")
        anchor = f"{choice.kind}-{choice.id}-{first}".lower().rstrip("-")
        for caution in choice.cautions:
            yield self.cautions.alone(caution, anchor, f"Before: {uncapital(choice.title)}")
        ways = tuple(_ways(choice))
        told = joined(choice.when, *(f"{way.mark}, {uncapital(way.text)}" if way.mark else way.text for way in ways))
        title = f"{_PARTING[choice.kind]}: {uncapital(choice.title)}"
        either = " or ".join(uncapital(branch.label) for branch in choice.branches)
        prompts = {
            "choose": (f"Which way would you take here, and what decides it: {either}?", _ASK_WAY),
            "option": (f"When is this needed: {uncapital(choice.title)}?", _ASK_OPTION),
        }
        prompt, wait = prompts.get(choice.kind, ("What follows from the choice made before?", _ASK_OPTION))
        yield Sketch(
            "choice", anchor, anchor, title, Speech(joined(title, told), prompt=prompt, wait=wait),
            _eyebrow("The way parts", lead), parts=filled(SlidePart("lead", choice.when), *ways),
        )  # fmt: skip
        for branch in choice.branches:
            inner = f"if {uncapital(choice.title)}" if choice.kind == "option" else uncapital(branch.label)
            if choice.kind == "follow" and branch.name in ("taken", "left-out"):
                inner = f"{uncapital(choice.title)} {uncapital(branch.label)}"
            yield from self._blocks(branch.blocks, inner)

    # steps

    def _step(self, step: StepView, lead: str) -> Iterator[Sketch]:
        base = self._bare(step, lead)
        apart = step.cautions
        if len(apart) == 1 and not step.figures:
            both = self.cautions.beside(base, apart[0])
            base, apart = (both, ()) if both else (base, apart)
        for caution in apart:
            yield self.cautions.alone(caution, step.anchor, f"Before step {step.number}")
        base = reminded(base, (*apart, *step.reminders))
        figures = list(step.figures)
        if len(figures) == 1 and len(figures[0].pointers) <= _MOST_MERGED:
            both = with_figure(base, figures[0], self.pictures[figures[0].id])
            base, figures = (both, []) if both else (base, figures)
        yield base
        for figure in figures:
            sketches = figure_sketches(figure, self.pictures[figure.id], step.anchor)
            yield from (replace(sketch, mark=step.number, critical=step.page.critical) for sketch in sketches)
        for turn, dose in enumerate(step.doses):
            yield from self._dose(dose, step, turn)
        if step.page.if_not and (step.page.critical or step.page.call):
            yield self._stop(step, lead)

    def _bare(self, step: StepView, lead: str) -> Sketch:
        page = step.page
        shows_stop = bool(page.if_not and (page.critical or page.call))
        unless = "" if shows_stop or not page.if_not else f"If not: {page.if_not}"
        slip = joined(page.error and f"The slip: {page.error}", page.recovery and f"The way back: {page.recovery}")
        cue = page.cue and f"Go on when: {page.cue}"
        full = joined(page.title, page.why, said(step.body_html), cue, unless, slip)
        counts = (SlidePart("count", count) for count in dict.fromkeys(step.counts))
        asides = filled(
            SpeakerNote("In this order", stopped("; ".join(step.actions))),
            SpeakerNote("Trainee", stopped(step.supervision)),
            SpeakerNote("Basis", stopped(step.basis)),
            SpeakerNote("In theatre", step.minutes and f"About {step.minutes} minute{'s' * (step.minutes != '1')}."),
        )
        return Sketch(
            "step", step.anchor, step.anchor, step.page.title,
            Speech(joined(step.page.title, cue, unless), full),
            _eyebrow("Critical step" if step.page.critical else "Step", lead), step.number, step.page.critical,
            parts=filled(*counts, SlidePart("cue", step.page.cue or "", "Go on when")), asides=asides,
            backing=cites_in((step.body_html, step.cites_html), self.view.references),
            practice=is_practice(step.cites_html),
        )  # fmt: skip

    def _dose(self, dose: DoseView, step: StepView, turn: int) -> Iterator[Sketch]:
        lines = (*dose.lines, *dose.rows, ("Not covered", dose.not_covered))
        for part, some in enumerate(_chunks([f"{label}: {value}" for label, value in lines if value])):
            id = _turned(f"dose-{step.anchor}", turn * 10 + part)
            yield Sketch(
                "list", id, step.anchor, _numbered(f"Dose: {dose.drug}", part), Speech(joined(*some)),
                f"Step {step.number}", step.number, step.page.critical,
                parts=tuple(SlidePart("item", line.partition(": ")[2], line.partition(": ")[0]) for line in some),
                backing=cites_in((dose.cites_html,), self.view.references), practice=is_practice(dose.cites_html),
            )  # fmt: skip

    def _stop(self, step: StepView, lead: str) -> Sketch:
        call = call_of(self.library, step.page.call)
        called = f"{call.role}, {call.number}" if call else ""
        parts = filled(SlidePart("unless", step.page.cue or "", "If this is not so"), SlidePart("call", called, "Call"))
        spoken = joined("If not", step.page.if_not, called and f"Call: {called}")
        prompt = f"Step {step.number}: the cue is not there. What do you do?"
        stop = Sketch(
            "stop", f"stop-{step.anchor}", step.anchor, step.page.if_not or "",
            Speech(spoken.replace("If not. ", "If not: ", 1), prompt=prompt, wait=_ASK_STOP),
            _eyebrow(f"Stop point of step {step.number}", lead), step.number, step.page.critical, parts=parts,
        )  # fmt: skip
        # The cue has been shown with the step: it gives way to what to do and whom to call.
        return stop if fits(stop) else replace(stop, parts=stop.without("unless"))

    # behind the steps

    def _aftercare(self) -> Iterator[Sketch]:
        items = {f"{item.when}: {item.page.title}": item for item in self.view.aftercare}
        for turn, some in enumerate(_chunks(tuple(items))):
            shown = [items[line] for line in some]
            html = [text for item in shown for text in (item.body_html, item.cites_html)]
            doses = [_dose_words(dose) for item in shown for dose in item.doses]
            told = joined(
                *(joined(f"{item.when}: {uncapital(item.page.title)}", said(item.body_html)) for item in shown)
            )
            yield Sketch(
                "list", _turned("aftercare", turn), _turned("aftercare", turn),
                _numbered("See to this afterwards", turn), Speech(joined(*some), told), "Aftercare",
                parts=tuple(SlidePart("item", item.page.title, item.when) for item in shown),
                asides=tuple(SpeakerNote("Dose", dose) for dose in doses),
                backing=cites_in(html, self.view.references), practice=any(map(is_practice, html)),
            )  # fmt: skip


def count_sketch(counts: Mapping[str, Sequence[StepBlock]]) -> Iterator[Sketch]:
    """Yield the slide of all ``counts``: at which steps what is counted aloud."""
    if counts:
        lines = [(step_words(block.number for block in blocks), uncapital(text)) for text, blocks in counts.items()]
        yield Sketch(
            "list", "counts", "counts", "Count aloud, and wait for the answer",
            Speech(joined(*(f"{label}: {text}" for label, text in lines))), "Counts",
            parts=tuple(SlidePart("item", text, label) for label, text in lines),
        )  # fmt: skip


def _numbers(blocks: Iterable[StepView | ChoiceView]) -> Iterator[str]:
    return (block.number for block in every_block(blocks) if isinstance(block, StepView))


def _ways(choice: ChoiceView) -> Iterator[SlidePart]:
    for branch in choice.branches:
        steps = uncapital(step_words(_numbers(branch.blocks))) or "nothing more to do"
        if choice.kind == "option":
            yield SlidePart("branch", f"If so: {steps}")
            yield SlidePart("branch", "If not: go on without")
        else:
            yield SlidePart("branch", f"{branch.label}: {steps}", mark=branch.letter)


def _dose_words(dose: DoseView) -> str:
    rows = "; ".join(f"{label} {value}" for label, value in (*dose.lines, *dose.rows))
    return joined(f"{dose.drug}: {rows}", dose.not_covered and f"Not covered: {dose.not_covered}")


def _eyebrow(words: str, lead: str) -> str:
    return f"{words}, {lead}" if lead else words


def _chunks(lines: Sequence[str]) -> list[list[str]]:
    """Cut ``lines`` into as few runs as slides allow, the longest of them as short as may be."""
    least = runs(lines, _LIST_WORDS, _LIST_LINES)
    evener = (runs(lines, most, _LIST_LINES) for most in range(1, _LIST_WORDS))
    return next((some for some in evener if len(some) <= len(least)), least)


def _turned(id: str, turn: int) -> str:
    return id if turn == 0 else f"{id}-{turn + 1}"


def _numbered(title: str, turn: int) -> str:
    return title if turn == 0 else f"{title} ({turn + 1})"

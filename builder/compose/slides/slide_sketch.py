"""What the slides of a procedure hold, in reading order, before they are set or chosen for a session.

One step a slide. A caution that does not fit on the slide of its step has one of its own before it; the figure has one
behind it where it does not fit; a critical step is followed by its stop point.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from builder.compose.sheets.sheet_head import call_of
from builder.compose.slides.slide import Sketch, SlidePart, SlidePicture, SpeakerNote, Speech
from builder.compose.slides.slide_caution import caution_sketch, reminded, with_caution
from builder.compose.slides.slide_figure import figure_sketches, with_figure
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_type import words_in
from builder.compose.slides.slide_words import cites_in, dose_words, is_practice, joined, said, stopped, uncapital
from builder.compose.view.procedure_view import kit_of, view_of
from builder.compose.view.view import CautionView, ChoiceView, DoseView, ProcedureView, StepView
from builder.compose.view.words import sentence
from builder.findings.message_words import listed
from builder.model.action import Verb
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
        self.procedure = procedure
        self.pictures = pictures
        self.view: ProcedureView = view_of(library, procedure)
        self.counts = {
            str(step.id): [sentence(library, one) for one in step.actions if one.verb is Verb.COUNT]
            for step in procedure.steps.values()
        }

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
            yield from (replace(one, block="why") for one in figure_sketches(figure, self.pictures[figure.id]))

    def _before(self) -> Iterator[Sketch]:
        lines = list(self.view.before_you_start)
        kit = ", ".join(f"{one.number} × {one.name}" for one in kit_of(self.library, self.procedure))
        for turn, some in enumerate(_chunks(lines)):
            asides = (SpeakerNote("Kit", stopped(kit)),) if kit and turn == 0 else ()
            yield Sketch(
                "checklist", _turned("before", turn), "before", _numbered("Check this before you start", turn),
                Speech(joined(*some)), "Before you start", parts=tuple(SlidePart("check", one, "□") for one in some),
                asides=asides,
            )  # fmt: skip

    def _blocks(self, blocks: Sequence[StepView | ChoiceView], lead: str) -> Iterator[Sketch]:
        for block in blocks:
            yield from self._step(block, lead) if isinstance(block, StepView) else self._choice(block, lead)

    # choices

    def _choice(self, choice: ChoiceView, lead: str) -> Iterator[Sketch]:
        first = next(iter(_numbers(choice)), "")
        anchor = f"{choice.kind}-{choice.id}-{first}".lower().rstrip("-")
        for caution in choice.cautions:
            yield self._caution(caution, anchor, f"Before: {uncapital(choice.title)}")
        ways = tuple(_ways(choice))
        told = joined(choice.when, *(f"{way.mark}, {uncapital(way.text)}" if way.mark else way.text for way in ways))
        title = f"{_PARTING[choice.kind]}: {uncapital(choice.title)}"
        prompts = {
            "choose": (f"Which way would you take here, and what decides it: {_either(choice)}?", _ASK_WAY),
            "option": (f"When is this needed: {uncapital(choice.title)}?", _ASK_OPTION),
        }
        prompt, wait = prompts.get(choice.kind, ("What follows from the choice made before?", _ASK_OPTION))
        yield Sketch(
            "choice", anchor, anchor, title, Speech(joined(title, told), prompt=prompt, wait=wait),
            _eyebrow("The way parts", lead), parts=(*((SlidePart("lead", choice.when),) * bool(choice.when)), *ways),
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
            both = with_caution(self.library, base, apart[0], self.view.references)
            base, apart = (both, ()) if both else (base, apart)
        for caution in apart:
            yield self._caution(caution, step.anchor, f"Before step {step.number}")
        base = reminded(base, (*apart, *step.reminders))
        figures = list(step.figures)
        if len(figures) == 1 and len(figures[0].pointers) <= _MOST_MERGED:
            both = with_figure(base, figures[0], self.pictures[figures[0].id])
            base, figures = (both, []) if both else (base, figures)
        yield base
        for figure in figures:
            for one in figure_sketches(figure, self.pictures[figure.id]):
                yield replace(one, block=step.anchor, mark=step.number, critical=step.critical)
        for turn, dose in enumerate(step.doses):
            yield from self._dose(dose, step, turn)
        if step.if_not and (step.critical or step.call):
            yield self._stop(step, lead)

    def _bare(self, step: StepView, lead: str) -> Sketch:
        shows_stop = bool(step.if_not and (step.critical or step.call))
        unless = "" if shows_stop or not step.if_not else f"If not: {step.if_not}"
        slip = joined(step.error and f"The slip: {step.error}", step.recovery and f"The way back: {step.recovery}")
        cue = step.cue and f"Go on when: {step.cue}"
        full = joined(step.title, step.why, said(step.body_html), cue, unless, slip)
        counts = self.counts.get(step.id, [])
        parts = (
            *(SlidePart("count", one) for one in dict.fromkeys(counts)),
            *((SlidePart("cue", step.cue, "Go on when"),) * bool(step.cue)),
        )
        asides = (
            SpeakerNote("In this order", stopped("; ".join(step.actions))) if step.actions else None,
            SpeakerNote("Trainee", stopped(step.supervision)) if step.supervision else None,
            SpeakerNote("Basis", stopped(step.basis)),
            SpeakerNote("In theatre", f"About {step.minutes} minute{'s' * (step.minutes != '1')}.")
            if step.minutes
            else None,
        )
        return Sketch(
            "step", step.anchor, step.anchor, step.title,
            Speech(joined(step.title, cue, unless), full),
            _eyebrow("Critical step" if step.critical else "Step", lead), step.number, step.critical,
            parts=parts, asides=tuple(one for one in asides if one),
            backing=cites_in((step.body_html, step.cites_html), self.view.references),
            practice=is_practice(step.cites_html),
        )  # fmt: skip

    def _dose(self, dose: DoseView, step: StepView, turn: int) -> Iterator[Sketch]:
        lines = [*dose.lines, *dose.rows, *((("Not covered", dose.not_covered),) if dose.not_covered else ())]
        for part, some in enumerate(_chunks([f"{label}: {value}" for label, value in lines])):
            id = _turned(f"dose-{step.anchor}", turn * 10 + part)
            yield Sketch(
                "list", id, step.anchor, _numbered(f"Dose: {dose.drug}", part), Speech(joined(*some)),
                f"Step {step.number}", step.number, step.critical,
                parts=tuple(SlidePart("item", one.partition(": ")[2], one.partition(": ")[0]) for one in some),
                backing=cites_in((dose.cites_html,), self.view.references), practice=is_practice(dose.cites_html),
            )  # fmt: skip

    def _stop(self, step: StepView, lead: str) -> Sketch:
        call = call_of(self.library, step.call) if step.call else None
        called = f"{call.role}, {call.number}" if call else ""
        parts = (
            *((SlidePart("unless", step.cue, "If this is not so"),) * bool(step.cue)),
            *((SlidePart("call", called, "Call"),) * bool(called)),
        )
        spoken = joined("If not", step.if_not, called and f"Call: {called}")
        prompt = f"Step {step.number}: the cue is not there. What do you do?"
        stop = Sketch(
            "stop", f"stop-{step.anchor}", step.anchor, step.if_not,
            Speech(spoken.replace("If not. ", "If not: ", 1), prompt=prompt, wait=_ASK_STOP),
            _eyebrow(f"Stop point of step {step.number}", lead), step.number, step.critical, parts=parts,
        )  # fmt: skip
        # The cue has been shown with the step: it gives way to what to do and whom to call.
        return stop if fits(stop) else replace(stop, parts=tuple(one for one in parts if one.role != "unless"))

    def _caution(self, caution: CautionView, block: str, eyebrow: str) -> Sketch:
        return caution_sketch(self.library, caution, block, eyebrow, self.view.references)

    # behind the steps

    def _aftercare(self) -> Iterator[Sketch]:
        items = {f"{one.when}: {one.title}": one for one in self.view.aftercare}
        for turn, some in enumerate(_chunks(list(items))):
            shown = [items[one] for one in some]
            html = [text for one in shown for text in (one.body_html, one.cites_html)]
            doses = [dose_words(dose) for one in shown for dose in one.doses]
            told = joined(*(joined(f"{one.when}: {uncapital(one.title)}", said(one.body_html)) for one in shown))
            yield Sketch(
                "list", _turned("aftercare", turn), _turned("aftercare", turn),
                _numbered("See to this afterwards", turn), Speech(joined(*some), told), "Aftercare",
                parts=tuple(SlidePart("item", one.title, one.when) for one in shown),
                asides=tuple(SpeakerNote("Dose", one) for one in doses),
                backing=cites_in(html, self.view.references), practice=any(map(is_practice, html)),
            )  # fmt: skip


def count_sketch(library: Library, procedure: Procedure, view: ProcedureView) -> Iterator[Sketch]:
    """Yield the slide of all counts: at which steps what is counted aloud."""
    steps: dict[str, list[str]] = {}
    for number, id in _steps(view.blocks):
        for action in procedure.steps[id].actions:
            if action.verb is Verb.COUNT:
                steps.setdefault(sentence(library, action), []).append(number)
    lines = {
        f"Step{'s' * (len(set(numbers)) > 1)} {listed(list(dict.fromkeys(numbers)))}": text
        for text, numbers in steps.items()
    }
    if lines:
        parts = tuple(SlidePart("item", uncapital(text), label) for label, text in lines.items())
        told = joined(*(f"{label}: {uncapital(text)}" for label, text in lines.items()))
        yield Sketch(
            "list", "counts", "counts", "Count aloud, and wait for the answer", Speech(told), "Counts", parts=parts
        )


def _steps(blocks: Sequence[StepView | ChoiceView]) -> Iterator[tuple[str, str]]:
    for block in blocks:
        if isinstance(block, StepView):
            yield block.number, block.id
        else:
            for branch in block.branches:
                yield from _steps(branch.blocks)


def _numbers(choice: ChoiceView) -> Iterator[str]:
    return (number for number, _ in _steps((choice,)))


def _ways(choice: ChoiceView) -> Iterator[SlidePart]:
    for branch in choice.branches:
        numbers = list(dict.fromkeys(number for number, _ in _steps(branch.blocks)))
        steps = f"step{'s' * (len(numbers) > 1)} {listed(numbers)}" if numbers else "nothing more to do"
        if choice.kind == "option":
            yield SlidePart("branch", f"If so: {steps}")
            yield SlidePart("branch", "If not: go on without")
        else:
            yield SlidePart("branch", f"{branch.label}: {steps}", mark=branch.letter)


def _either(choice: ChoiceView) -> str:
    return " or ".join(uncapital(branch.label) for branch in choice.branches)


def _eyebrow(words: str, lead: str) -> str:
    return f"{words}, {lead}" if lead else words


def _chunks(lines: Sequence[str]) -> list[list[str]]:
    """Cut ``lines`` into as few runs as slides allow, the longest of them as short as may be."""
    least = _runs(lines, _LIST_WORDS)
    evener = (_runs(lines, most) for most in range(1, _LIST_WORDS))
    return next((one for one in evener if len(one) <= len(least)), least)


def _runs(lines: Sequence[str], most: int) -> list[list[str]]:
    runs: list[list[str]] = []
    words = 0
    for line in lines:
        count = words_in(line)
        if not runs or words + count > most or len(runs[-1]) == _LIST_LINES:
            runs.append([])
            words = 0
        runs[-1].append(line)
        words += count
    return runs


def _turned(id: str, turn: int) -> str:
    return id if turn == 0 else f"{id}-{turn + 1}"


def _numbered(title: str, turn: int) -> str:
    return title if turn == 0 else f"{title} ({turn + 1})"

"""What the slides of a procedure hold, in reading order, before they are set or chosen for a session.

One step a slide, with its cautions, its sign to go on and, where there is room, what to do if it does not come. A
caution that does not fit on the slide of its step has one of its own before it; the figure has one after it where it
does not fit. A choice among ways has a slide; what a step is an option for stands on the slide of that step.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.compose.map.map_drawing import draw_line
from builder.compose.map.map_view import map_of
from builder.compose.slides.slide import Slide, SlidePart, SlidePicture, filled
from builder.compose.slides.slide_beside import (
    called,
    caution_alone,
    figure_sketches,
    reminded,
    with_cautions,
    with_figure,
)
from builder.compose.slides.slide_layout import fits, on_few, turned
from builder.compose.slides.slide_text import cites_in, joined, plain_signs, said, stopped
from builder.compose.view.outline import StepBlock, every_block
from builder.compose.view.parts_view import CautionView, ChoiceView, DoseView, FigureView, ProcedureView, StepView
from builder.compose.view.words import labelled, option_words, step_words, uncapital
from builder.load.program_words import gettext, ngettext, noted
from builder.model.library import Library

_MOST_MERGED = 6  # pointers of a figure that shares its slide with the step
_MOST_COLUMNS, _LEAST_ASPECT = 17, 2.4  # beyond these the numbers of the map would be too small for a slide
_PARTING = {"choose": noted("Choose"), "option": noted("If needed"), "follow": noted("As chosen before")}


def sketches_of(library: Library, view: ProcedureView, aspects: Mapping[str, float]) -> tuple[Slide, ...]:
    """Return every slide from the one behind the title to the aftercare, in reading order; ``aspects`` are those of the
    figures by their paths, width by height."""
    return tuple(_Sketcher(library, view, aspects).all())


@dataclass(frozen=True, slots=True)
class _Entry:
    """How the first of some blocks is come to: the ``lead`` that names their way, what is ``told`` of it, and the
    cautions that stand before it."""

    lead: str = ""
    told: tuple[str, ...] = ()
    cautions: tuple[CautionView, ...] = ()

    def after(self, words: str) -> str:
        return f"{words}, {self.lead}" if self.lead else words


class _Sketcher:
    """Sketches one procedure."""

    def __init__(self, library: Library, view: ProcedureView, aspects: Mapping[str, float]) -> None:
        self.library = library
        self.view = view
        self.aspects = aspects

    def picture(self, figure: FigureView) -> SlidePicture:
        return SlidePicture(figure.path, plain_signs(figure.alt), self.aspects[figure.path])

    def all(self) -> Iterator[Slide]:
        yield from self._why()
        yield from self._before()
        yield from self._map()
        yield from self._blocks(self.view.blocks, _Entry())
        yield from self._aftercare()

    def _why(self) -> Iterator[Slide]:
        view = self.view
        if view.summary:
            yield Slide(
                "statement", "why", "why", view.summary, joined(view.summary, said(view.body_html)),
                gettext("What it is for"),
                backing=cites_in((view.cites_html, view.body_html), view.references),
            )  # fmt: skip
        for figure in view.figures:
            yield from figure_sketches(figure, self.picture(figure), block="why")

    def _before(self) -> Iterator[Slide]:
        lines = self.view.before_you_start
        kit = ", ".join(f"{item.number} × {item.name}" for item in self.view.kit)

        def slide(some: Sequence[str]) -> Slide:
            return Slide(
                "checklist", "before", "before", gettext("Check this before you start"), joined(*some),
                gettext("Before you start"),
                parts=tuple(SlidePart("check", line, "□") for line in some),
                asides=filled(SlidePart(gettext("Kit"), stopped(kit) if some[0] == lines[0] else "")),
            )  # fmt: skip

        yield from on_few(lines, slide)

    def _map(self) -> Iterator[Slide]:
        """Yield the map of the operation: its line, to be seen whole before its steps are."""
        view = map_of(self.library, self.view.page)
        last = view.steps[-1].number if view.steps else ""
        labels = dict.fromkeys(choice.label for choice in view.choices)
        alt = gettext("The line of steps from 1 to %(last)s, parting and joining at the choices.", last=last)
        drawing = draw_line(view, alt)
        if view.columns <= _MOST_COLUMNS and drawing.width / drawing.height > _LEAST_ASPECT:
            picture = SlidePicture("", alt, round(drawing.width / drawing.height, 3), drawing=drawing.scalable)
            key = gettext("Black numbers are critical steps. A triangle marks a danger, strokes a count.")
            steps = "; ".join(f"{step.number}, {uncapital(step.title)}" for step in view.steps)
            whole = Slide(
                "map", "map", "map", gettext("The operation at a glance"), joined(key, *labels), gettext("Map"),
                picture=picture,
                parts=tuple(SlidePart("fact", label) for label in labels),
                asides=(SlidePart(gettext("Steps"), stopped(steps)),),
            )  # fmt: skip
            yield whole if fits(whole) else replace(whole, parts=())

    def _blocks(self, blocks: Sequence[StepView | ChoiceView], entry: "_Entry") -> Iterator[Slide]:
        """Yield the slides of ``blocks``; the first of them also tells what comes before them by ``entry``."""
        for block in blocks:
            yield from self._step(block, entry) if isinstance(block, StepView) else self._choice(block, entry)
            entry = _Entry(entry.lead)

    # choices

    def _choice(self, choice: ChoiceView, entry: "_Entry") -> Iterator[Slide]:
        """Yield the slides of a choice: one among ways has a slide of its own, what may be done is told at its step."""
        cautions = (*entry.cautions, *choice.cautions)
        if choice.kind == "choose":
            base, left = with_cautions(self._choose(choice, entry), cautions, self.view.references)
            yield base
            entry, cautions = _Entry(entry.lead), tuple(left)
        for branch in (branch for branch in choice.branches if branch.blocks):
            lead = uncapital(option_words(choice.title, branch.name) or branch.label)
            told = joined(
                labelled(gettext(_PARTING[choice.kind]), uncapital(choice.title if choice.kind == "option" else lead)),
                choice.when,
            )
            more = () if choice.kind == "choose" else (told,)
            yield from self._blocks(branch.blocks, _Entry(lead, (*entry.told, *more), cautions))
            cautions = ()

    def _choose(self, choice: ChoiceView, entry: "_Entry") -> Slide:
        first = next(_numbers((choice,)), "")
        anchor = f"{choice.kind}-{choice.id}-{first}".lower().rstrip("-")
        ways = tuple(_ways(choice))
        told = joined(choice.when, *(f"{way.mark}, {uncapital(way.text)}" for way in ways))
        title = labelled(gettext(_PARTING[choice.kind]), uncapital(choice.title))
        return Slide(
            "choice", anchor, anchor, title, joined(*entry.told, title, told),
            entry.after(gettext("The way parts")),
            parts=filled(*(SlidePart("lead", words) for words in entry.told), SlidePart("lead", choice.when), *ways),
        )  # fmt: skip

    # steps

    def _step(self, step: StepView, entry: "_Entry") -> Iterator[Slide]:
        cautions = (*entry.cautions, *step.cautions)
        base, apart = with_cautions(self._bare(step, entry), cautions, self.view.references)
        for caution in apart:
            yield caution_alone(
                caution, self.view.references, step.anchor, gettext("Before step %(number)s", number=step.number)
            )
        here = {caution.anchor for caution in entry.cautions}
        base = reminded(base, (*apart, *(one for one in step.reminders if one.anchor not in here)))
        unless = replace(base, parts=(*base.parts, SlidePart("unless", step.page.if_not or "", gettext("If not"))))
        figures = list(step.figures)
        if len(figures) == 1 and len(figures[0].pointers) <= _MOST_MERGED:
            both = with_figure(base, figures[0], self.picture(figures[0]))
            base, figures = (both, []) if both else (base, figures)
        yield unless if step.page.if_not and not base.picture and fits(unless) else base
        for figure in figures:
            sketches = figure_sketches(figure, self.picture(figure), step.anchor)
            yield from (replace(sketch, mark=step.number, critical=step.page.critical) for sketch in sketches)
        for turn, dose in enumerate(step.doses):
            yield from self._dose(dose, step, turn)

    def _bare(self, step: StepView, entry: "_Entry") -> Slide:
        page = step.page
        cue = page.cue and gettext("Go on when: %(cue)s", cue=page.cue)
        unless = page.if_not and gettext("If not: %(if_not)s", if_not=page.if_not)
        slip = joined(
            page.error and gettext("Common slip: %(error)s", error=page.error),
            page.recovery and gettext("Put it right: %(recovery)s", recovery=page.recovery),
        )
        told = joined(*entry.told, page.title, page.why, said(step.body_html), cue, unless, called(step.call), slip)
        counts = (SlidePart("count", count) for count in dict.fromkeys(step.counts))
        count = 1 if step.minutes == "1" else 2
        lasts = ngettext("About %(minutes)s minute.", "About %(minutes)s minutes.", count, minutes=step.minutes)
        asides = filled(
            SlidePart(gettext("In this order"), stopped("; ".join(step.actions))),
            SlidePart(gettext("Trainee"), stopped(step.supervision)),
            SlidePart(gettext("Basis"), stopped(step.basis)),
            SlidePart(gettext("In theatre"), step.minutes and lasts),
        )
        return Slide(
            "step", step.anchor, step.anchor, page.title, told,
            entry.after(gettext("Critical step") if page.critical else gettext("Step")), step.number, page.critical,
            parts=filled(
                *(SlidePart("lead", words) for words in entry.told), *counts,
                SlidePart("cue", step.page.cue or "", gettext("Go on when")),
            ),
            asides=asides, backing=cites_in((step.body_html, step.cites_html), self.view.references),
        )  # fmt: skip

    def _dose(self, dose: DoseView, step: StepView, turn: int) -> Iterator[Slide]:
        def slide(some: Sequence[str]) -> Slide:
            parts = (line.partition(": ") for line in some)
            return Slide(
                "list", turned(f"dose-{step.anchor}", turn * 10), step.anchor,
                gettext("Dose: %(drug)s", drug=dose.drug), joined(*some),
                gettext("Step %(number)s", number=step.number), step.number, step.page.critical,
                parts=tuple(SlidePart("item", value, label) for label, _, value in parts),
                backing=cites_in((dose.cites_html,), self.view.references),
            )  # fmt: skip

        lines = (*dose.lines, *dose.rows, (gettext("Not covered"), dose.not_covered))
        yield from on_few([labelled(label, value) for label, value in lines if value], slide)

    # after the steps

    def _aftercare(self) -> Iterator[Slide]:
        items = {f"{item.when}: {item.page.title}": item for item in self.view.aftercare}

        def slide(some: Sequence[str]) -> Slide:
            shown = [items[line] for line in some]
            told = (joined(f"{item.when}: {uncapital(item.page.title)}", said(item.body_html)) for item in shown)
            html = [text for item in shown for text in (item.body_html, item.cites_html)]
            return Slide(
                "list", "aftercare", "aftercare", gettext("See to this afterwards"), joined(*told),
                gettext("Aftercare"),
                parts=tuple(SlidePart("item", item.page.title, item.when) for item in shown),
                asides=tuple(SlidePart(gettext("Dose"), _dose_words(dose)) for item in shown for dose in item.doses),
                backing=cites_in(html, self.view.references),
            )  # fmt: skip

        yield from on_few(tuple(items), slide)


def with_counts(sketches: Sequence[Slide], counts: Mapping[str, Sequence[StepBlock]]) -> tuple[Slide, ...]:
    """Return ``sketches`` with what is counted aloud, and at which steps: on the map, where there is room, else on the
    last list of what is checked before the start, else after them on a slide of their own."""
    if not counts:
        return tuple(sketches)
    lines = [(step_words(block.number for block in blocks), uncapital(text)) for text, blocks in counts.items()]
    told = [labelled(label, text) for label, text in lines]
    counted = tuple(SlidePart("count", line) for line in told)
    for one in reversed(sketches):  # the map comes after what is checked
        both = replace(one, parts=(*one.parts, *counted), say=joined(one.say, *told))
        if one.kind in ("map", "checklist") and fits(both):
            return tuple(both if sketch is one else sketch for sketch in sketches)
    apart = Slide(
        "list", "counts", "counts", gettext("Count aloud, and wait for the answer"), joined(*told), gettext("Counts"),
        parts=tuple(SlidePart("item", text, label) for label, text in lines),
    )  # fmt: skip
    return (*sketches, apart)


def _numbers(blocks: Iterable[StepView | ChoiceView]) -> Iterator[str]:
    return (block.number for block in every_block(blocks) if isinstance(block, StepView))


def _ways(choice: ChoiceView) -> Iterator[SlidePart]:
    for branch in choice.branches:
        steps = uncapital(step_words(_numbers(branch.blocks))) or gettext("nothing more to do")
        yield SlidePart("branch", f"{branch.label}: {steps}", mark=branch.letter)


def _dose_words(dose: DoseView) -> str:
    rows = "; ".join(f"{label} {value}" for label, value in (*dose.lines, *dose.rows))
    told = dose.not_covered and gettext("Not covered: %(not_covered)s", not_covered=dose.not_covered)
    return joined(f"{dose.drug}: {rows}", told)

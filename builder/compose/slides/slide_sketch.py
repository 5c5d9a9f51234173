"""What the slides of a procedure hold, in reading order, before they are set or chosen for a session.

One step a slide, with its cautions, its sign to go on and, where there is room, what to do if it does not come. A
caution that does not fit on the slide of its step has one of its own before it; the figure has one after it where it
does not fit. A choice among ways has a slide; what a step is an option for stands on the slide of that step.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.compose.map.map_drawing import draw_line
from builder.compose.map.map_view import map_of
from builder.compose.slides.slide import Sketch, SlidePart, SlidePicture, SpeakerNote, Speech, filled
from builder.compose.slides.slide_beside import CautionSlides, figure_sketches, reminded, with_figure
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_text import cites_in, is_practice, joined, runs, said, stopped, words_in
from builder.compose.view.head import call_of
from builder.compose.view.outline import GRAVITY, StepBlock, every_block
from builder.compose.view.parts_view import CautionView, ChoiceView, DoseView, StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import option_words, step_words, uncapital
from builder.load.program_words import gettext, ngettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

_MOST_MERGED = 6  # pointers of a figure that shares its slide with the step
_MOST_COLUMNS, _LEAST_ASPECT = 17, 2.4  # beyond these the numbers of the map would be too small for a slide
_PARTING = {"choose": noted("Choose"), "option": noted("If needed"), "follow": noted("As chosen before")}

Pictures = Mapping[str, SlidePicture]
"""Pictures by the id of the figure."""


def sketches_of(library: Library, procedure: Procedure, pictures: Pictures) -> tuple[Sketch, ...]:
    """Return every slide from the one behind the title to the aftercare, in reading order."""
    return tuple(_Sketcher(library, procedure, pictures).all())


@dataclass(frozen=True, slots=True)
class _Entry:
    """How the first of some blocks is come to: the ``lead`` that names their way, what is ``told`` of it, and the
    cautions that stand before it."""

    lead: str = ""
    told: tuple[str, ...] = ()
    cautions: tuple[CautionView, ...] = ()


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
        yield from self._map()
        yield from self._blocks(self.view.blocks, _Entry())
        yield from self._aftercare()

    def _why(self) -> Iterator[Sketch]:
        view = self.view
        if view.summary:
            yield Sketch(
                "statement", "why", "why", view.summary, Speech(joined(view.summary, said(view.body_html))),
                gettext("What it is for"),
                backing=cites_in((view.cites_html, view.body_html), view.references),
                practice=is_practice(view.cites_html),
            )  # fmt: skip
        for figure in view.figures:
            yield from figure_sketches(figure, self.pictures[figure.id], block="why")

    def _before(self) -> Iterator[Sketch]:
        kit = ", ".join(f"{item.number} × {item.name}" for item in self.view.kit)

        def slide(turn: int, some: Sequence[str]) -> Sketch:
            return Sketch(
                "checklist",
                _turned("before", turn),
                "before",
                _numbered(gettext("Check this before you start"), turn),
                Speech(joined(*some)),
                gettext("Before you start"),
                parts=tuple(SlidePart("check", line, "□") for line in some),
                asides=filled(SpeakerNote(gettext("Kit"), "" if turn else stopped(kit))),
            )

        yield from _on_few(self.view.before_you_start, slide)

    def _map(self) -> Iterator[Sketch]:
        """Yield the map of the operation: its line, to be seen whole before its steps are."""
        view = map_of(self.library, self.view.page)
        title = gettext("The operation at a glance")
        last = view.steps[-1].number if view.steps else ""
        labels = dict.fromkeys(choice.label for choice in view.choices)
        alt = gettext("The line of steps from 1 to %(last)s, parting and joining at the choices.", last=last)
        drawing = draw_line(view, alt)
        if view.columns <= _MOST_COLUMNS and drawing.width / drawing.height > _LEAST_ASPECT:
            picture = SlidePicture("map", "", alt, round(drawing.width / drawing.height, 3), drawing=drawing.scalable)
            key = gettext("Black numbers are critical steps. A triangle marks a danger, strokes a count.")
            steps = "; ".join(f"{step.number}, {uncapital(step.title)}" for step in view.steps)
            whole = Sketch(
                "map", "map", "map", title, Speech(joined(key, *labels)), gettext("Map"), picture=picture,
                parts=tuple(SlidePart("fact", label) for label in labels),
                asides=(SpeakerNote(gettext("Steps"), stopped(steps)),),
            )  # fmt: skip
            yield whole if fits(whole) else replace(whole, parts=())

    def _blocks(self, blocks: Sequence[StepView | ChoiceView], entry: "_Entry") -> Iterator[Sketch]:
        """Yield the slides of ``blocks``; the first of them also tells what comes before them by ``entry``."""
        for block in blocks:
            yield from self._step(block, entry) if isinstance(block, StepView) else self._choice(block, entry)
            entry = _Entry(entry.lead)

    # choices

    def _choice(self, choice: ChoiceView, entry: "_Entry") -> Iterator[Sketch]:
        """Yield the slides of a choice: one among ways has a slide of its own, what may be done is told at its step."""
        cautions = (*entry.cautions, *choice.cautions)
        if choice.kind == "choose":
            base, left = self._beside(self._choose(choice, entry), cautions)
            yield base
            entry, cautions = _Entry(entry.lead), left
        for branch in (branch for branch in choice.branches if branch.blocks):
            lead = uncapital(option_words(choice.title, branch.name) or branch.label)
            told = joined(
                f"{gettext(_PARTING[choice.kind])}: {uncapital(choice.title if choice.kind == 'option' else lead)}",
                choice.when,
            )
            more = () if choice.kind == "choose" else (told,)
            yield from self._blocks(branch.blocks, _Entry(lead, (*entry.told, *more), cautions))
            cautions = ()

    def _choose(self, choice: ChoiceView, entry: "_Entry") -> Sketch:
        first = next(_numbers((choice,)), "")
        anchor = f"{choice.kind}-{choice.id}-{first}".lower().rstrip("-")
        ways = tuple(_ways(choice))
        told = joined(choice.when, *(f"{way.mark}, {uncapital(way.text)}" for way in ways))
        title = f"{gettext(_PARTING[choice.kind])}: {uncapital(choice.title)}"
        return Sketch(
            "choice", anchor, anchor, title, Speech(joined(*entry.told, title, told)),
            _eyebrow(gettext("The way parts"), entry.lead),
            parts=filled(*(SlidePart("lead", words) for words in entry.told), SlidePart("lead", choice.when), *ways),
        )  # fmt: skip

    def _beside(self, base: Sketch, cautions: Sequence[CautionView]) -> tuple[Sketch, tuple[CautionView, ...]]:
        """Return ``base`` with as many of ``cautions`` as its slide has room for, the gravest first, and the others;
        what is said of those comes before what is said of the step."""
        apart, told = [], []
        for caution in sorted(cautions, key=lambda caution: GRAVITY[caution.page.signal]):
            both = self.cautions.beside(base, caution)
            if both is None:
                apart.append(caution)
            else:
                base = both
                told.append(self.cautions.said_of(caution))
        speech = replace(base.speech, text=joined(*told, base.speech.text))
        return replace(base, speech=speech), tuple(apart)

    # steps

    def _step(self, step: StepView, entry: "_Entry") -> Iterator[Sketch]:
        base, apart = self._beside(self._bare(step, entry), (*entry.cautions, *step.cautions))
        for caution in apart:
            yield self.cautions.alone(caution, step.anchor, gettext("Before step %(number)s", number=step.number))
        here = {caution.anchor for caution in entry.cautions}
        base = reminded(base, (*apart, *(one for one in step.reminders if one.anchor not in here)))
        unless = replace(base, parts=(*base.parts, SlidePart("unless", step.page.if_not or "", gettext("If not"))))
        figures = list(step.figures)
        if len(figures) == 1 and len(figures[0].pointers) <= _MOST_MERGED:
            both = with_figure(base, figures[0], self.pictures[figures[0].id])
            base, figures = (both, []) if both else (base, figures)
        yield unless if step.page.if_not and not base.picture and fits(unless) else base
        for figure in figures:
            sketches = figure_sketches(figure, self.pictures[figure.id], step.anchor)
            yield from (replace(sketch, mark=step.number, critical=step.page.critical) for sketch in sketches)
        for turn, dose in enumerate(step.doses):
            yield from self._dose(dose, step, turn)

    def _bare(self, step: StepView, entry: "_Entry") -> Sketch:
        page = step.page
        call = call_of(self.library, page.call)
        called = gettext("Call: %(role)s, %(number)s", role=call.role, number=call.number) if call else ""
        cue, unless = (
            page.cue and gettext("Go on when: %(cue)s", cue=page.cue),
            page.if_not and gettext("If not: %(if_not)s", if_not=page.if_not),
        )
        slip = joined(
            page.error and gettext("Common slip: %(error)s", error=page.error),
            page.recovery and gettext("Put it right: %(recovery)s", recovery=page.recovery),
        )
        counts = (SlidePart("count", count) for count in dict.fromkeys(step.counts))
        asides = filled(
            SpeakerNote(gettext("In this order"), stopped("; ".join(step.actions))),
            SpeakerNote(gettext("Trainee"), stopped(step.supervision)),
            SpeakerNote(gettext("Basis"), stopped(step.basis)),
            SpeakerNote(
                gettext("In theatre"),
                step.minutes
                and ngettext(
                    "About %(minutes)s minute.",
                    "About %(minutes)s minutes.",
                    1 if step.minutes == "1" else 2,
                    minutes=step.minutes,
                ),
            ),
        )
        return Sketch(
            "step",
            step.anchor,
            step.anchor,
            step.page.title,
            Speech(joined(*entry.told, page.title, page.why, said(step.body_html), cue, unless, called, slip)),
            _eyebrow(gettext("Critical step") if step.page.critical else gettext("Step"), entry.lead),
            step.number,
            step.page.critical,
            parts=filled(
                *(SlidePart("lead", words) for words in entry.told),
                *counts,
                SlidePart("cue", step.page.cue or "", gettext("Go on when")),
            ),
            asides=asides,
            backing=cites_in((step.body_html, step.cites_html), self.view.references),
            practice=is_practice(step.cites_html),
        )

    def _dose(self, dose: DoseView, step: StepView, turn: int) -> Iterator[Sketch]:
        lines = (*dose.lines, *dose.rows, (gettext("Not covered"), dose.not_covered))

        def slide(part: int, some: Sequence[str]) -> Sketch:
            id = _turned(f"dose-{step.anchor}", turn * 10 + part)
            return Sketch(
                "list",
                id,
                step.anchor,
                _numbered(gettext("Dose: %(drug)s", drug=dose.drug), part),
                Speech(joined(*some)),
                gettext("Step %(number)s", number=step.number),
                step.number,
                step.page.critical,
                parts=tuple(SlidePart("item", line.partition(": ")[2], line.partition(": ")[0]) for line in some),
                backing=cites_in((dose.cites_html,), self.view.references),
                practice=is_practice(dose.cites_html),
            )

        yield from _on_few([f"{label}: {value}" for label, value in lines if value], slide)

    # after the steps

    def _aftercare(self) -> Iterator[Sketch]:
        items = {f"{item.when}: {item.page.title}": item for item in self.view.aftercare}

        def slide(turn: int, some: Sequence[str]) -> Sketch:
            shown = [items[line] for line in some]
            html = [text for item in shown for text in (item.body_html, item.cites_html)]
            doses = [_dose_words(dose) for item in shown for dose in item.doses]
            told = joined(
                *(joined(f"{item.when}: {uncapital(item.page.title)}", said(item.body_html)) for item in shown)
            )
            return Sketch(
                "list", _turned("aftercare", turn), _turned("aftercare", turn),
                _numbered(gettext("See to this afterwards"), turn), Speech(told), gettext("Aftercare"),
                parts=tuple(SlidePart("item", item.page.title, item.when) for item in shown),
                asides=tuple(SpeakerNote(gettext("Dose"), dose) for dose in doses),
                backing=cites_in(html, self.view.references), practice=any(map(is_practice, html)),
            )  # fmt: skip

        yield from _on_few(tuple(items), slide)


def count_sketch(counts: Mapping[str, Sequence[StepBlock]]) -> Iterator[Sketch]:
    """Yield the slide of all ``counts``: at which steps what is counted aloud."""
    if counts:
        lines = [(step_words(block.number for block in blocks), uncapital(text)) for text, blocks in counts.items()]
        yield Sketch(
            "list", "counts", "counts", gettext("Count aloud, and wait for the answer"),
            Speech(joined(*(f"{label}: {text}" for label, text in lines))), gettext("Counts"),
            parts=tuple(SlidePart("item", text, label) for label, text in lines),
        )  # fmt: skip


def with_counts(sketches: Iterable[Sketch], counts: Sequence[Sketch]) -> tuple[Sketch, ...]:
    """Return ``sketches`` with the counts on the map, where there is room, else on the last list of what is checked
    before the start, else after them on a slide of their own."""
    kept = list(sketches)
    places = [at for at, sketch in enumerate(kept) if sketch.kind in ("map", "checklist")]
    for count in counts:
        told = [SlidePart("count", f"{part.label}: {part.text}") for part in count.parts]
        for at in reversed(places):  # the map comes after what is checked
            text = joined(kept[at].speech.text, count.speech.text)
            both = replace(kept[at], parts=(*kept[at].parts, *told), speech=replace(kept[at].speech, text=text))
            if fits(both):
                return (*kept[:at], both, *kept[at + 1 :])
    return (*kept, *counts)


def _numbers(blocks: Iterable[StepView | ChoiceView]) -> Iterator[str]:
    return (block.number for block in every_block(blocks) if isinstance(block, StepView))


def _ways(choice: ChoiceView) -> Iterator[SlidePart]:
    for branch in choice.branches:
        steps = uncapital(step_words(_numbers(branch.blocks))) or gettext("nothing more to do")
        yield SlidePart("branch", f"{branch.label}: {steps}", mark=branch.letter)


def _dose_words(dose: DoseView) -> str:
    rows = "; ".join(f"{label} {value}" for label, value in (*dose.lines, *dose.rows))
    return joined(
        f"{dose.drug}: {rows}",
        dose.not_covered and gettext("Not covered: %(not_covered)s", not_covered=dose.not_covered),
    )


def _eyebrow(words: str, lead: str) -> str:
    return f"{words}, {lead}" if lead else words


def _on_few(lines: Sequence[str], slide: Callable[[int, Sequence[str]], Sketch]) -> list[Sketch]:
    """Return the slides of ``lines``: as few as take them, the longest of them as short as may be."""
    made: list[Sketch] = []
    for most in range(1, len(lines) + 1):
        even = (runs(lines, words) for words in range(1, words_in(" ".join(lines)) + 2))
        made = [slide(turn, some) for turn, some in enumerate(next(some for some in even if len(some) <= most))]
        if all(map(fits, made)):
            break
    return made


def _turned(id: str, turn: int) -> str:
    return id if turn == 0 else f"{id}-{turn + 1}"


def _numbered(title: str, turn: int) -> str:
    return title if turn == 0 else f"{title} ({turn + 1})"

"""What a document shows, ready to be arranged: every text final, every number given. Templates only place it.

Texts that end in ``html`` are clean HTML; all others are plain text that the template escapes.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from builder.compose.view.head import CallView, call_of
from builder.compose.view.local_view import LocalView
from builder.compose.view.outline import Block, Branch, ChoiceBlock, StepBlock, step_blocks
from builder.compose.view.rendered_prose import ProseWriter, References, ReferenceView
from builder.compose.view.words import (
    SIDES,
    branch_label,
    item_name,
    labelled,
    sentence,
    signal_word,
    structure_name,
    verb_words,
    when_words,
)
from builder.facts.dose_table import extra_lines, limits, rows
from builder.grouping import grouped
from builder.load.program_words import gettext, noted
from builder.model.action import Side, Verb
from builder.model.dose import Dose
from builder.model.fields import Page
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Aftercare, Basis, Caution, Procedure, Step

_FORKS = {"choose": noted("Choose"), "option": noted("Option"), "follow": noted("As chosen before")}


class Showing:
    """A view of a ``page`` of the model, in which a template finds what the view itself does not say."""

    __slots__ = ()
    page: Page

    def __getitem__(self, name: str) -> Any:
        try:
            return getattr(self.page, name)
        except AttributeError:
            raise KeyError(name) from None


@dataclass(frozen=True, slots=True)
class CautionView(Showing):
    """A caution; one that only reminds of it has no prose and nobody to call."""

    page: Caution
    anchor: str
    signal_word: str
    body_html: str = ""
    cites_html: str = ""
    call: CallView | None = None


@dataclass(frozen=True, slots=True)
class PointerView:
    """A numbered mark on a figure at ``x``, ``y`` per cent."""

    number: int
    x: str
    y: str
    name: str


@dataclass(frozen=True, slots=True)
class FigureView:
    """A numbered figure; ``path`` is the file in the department's folder."""

    id: str
    anchor: str
    number: int
    path: str
    alt: str
    caption: str
    credit: str
    side: str
    pointers: tuple[PointerView, ...]


@dataclass(frozen=True, slots=True)
class DoseView:
    """A dose as the educator states it; ``lines`` are (label, value) pairs in reading order."""

    drug: str
    lines: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, str], ...]
    not_covered: str
    cites_html: str


@dataclass(frozen=True, slots=True)
class StepView(Showing):
    """A step; ``reminders`` are cautions that stand earlier and guard it too. ``actions`` say what is done, in order,
    with what stands out in each (``verbs``), ``counts`` which of them are counts; ``basis`` whether it is principle,
    preference or local policy."""

    page: Step
    anchor: str
    number: str
    basis: str
    supervision: str
    minutes: str
    cautions: tuple[CautionView, ...]
    reminders: tuple[CautionView, ...]
    body_html: str
    actions: tuple[str, ...]
    verbs: tuple[str, ...]
    counts: tuple[str, ...]
    figures: tuple[FigureView, ...]
    doses: tuple[DoseView, ...]
    cites_html: str
    call: CallView | None


@dataclass(frozen=True, slots=True)
class BranchView:
    """One way on: ``label`` names it, ``spoken`` says of what; an option, named by its choice, shows no ``heading``."""

    name: str
    letter: str
    label: str
    heading: str
    spoken: str
    blocks: "tuple[StepView | ChoiceView, ...]"


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """A place where the way parts: ``kind`` is choose, option or follow; ``anchor`` is unique in the document."""

    kind: str
    id: str
    anchor: str
    title: str
    heading: str
    when: str
    cautions: tuple[CautionView, ...]
    branches: tuple[BranchView, ...]


@dataclass(frozen=True, slots=True)
class AftercareView(Showing):
    """One item of aftercare; ``when`` in words."""

    page: Aftercare
    anchor: str
    when: str
    concerns: str
    goes_with: tuple[str, ...]
    body_html: str
    doses: tuple[DoseView, ...]
    cites_html: str


@dataclass(frozen=True, slots=True)
class KitView:
    """One line of the kit list."""

    number: int
    name: str
    counted: bool


@dataclass(frozen=True, slots=True)
class ProcedureView(Showing):
    """A whole procedure in one document's order, with that document's own numbering of references and figures."""

    page: Procedure
    summary: str
    setting: str
    side: str
    status: str
    owner: str
    review_by: str
    department: str
    site: str
    language: str
    call: tuple[tuple[str, str], ...]
    before_you_start: tuple[str, ...]
    kit: tuple[KitView, ...]
    figures: tuple[FigureView, ...]
    body_html: str
    cites_html: str
    blocks: tuple[StepView | ChoiceView, ...]
    aftercare: tuple[AftercareView, ...]
    references: tuple[ReferenceView, ...]
    usual_caution: str
    local: tuple[LocalView, ...]


def figures_of(procedure: Procedure, blocks: Iterable[Block]) -> list[Figure]:
    """Return the figures in the order they appear; one that is shown again keeps its first number."""
    shown = {figure.id: figure for figure in procedure.figure}
    for block in step_blocks(blocks):
        for figure in block.step.figure:
            shown.setdefault(figure.id, figure)
    return list(shown.values())


def counts_called(library: Library, blocks: Iterable[Block]) -> dict[str, list[StepBlock]]:
    """Return each count in words with the steps that call it, in reading order."""
    steps = step_blocks(blocks)
    return grouped((text, block) for block in steps for text in _sentences(library, block.step, Verb.COUNT))


def _sentences(library: Library, step: Step, *verbs: Verb) -> tuple[str, ...]:
    """Return what is done in ``step``, or what of it is one of ``verbs``."""
    return tuple(sentence(library, action) for action in step.actions if not verbs or action.verb in verbs)


def _told(library: Library, step: Step) -> tuple[str, ...]:
    """Return what is done in ``step``, why in this order, and whether the operation ends with it."""
    sentences = _sentences(library, step)
    order = (
        (gettext("In this order: %(order_matters)s", order_matters=step.order_matters),) if step.order_matters else ()
    )
    stops = (
        (gettext("The operation stops here: %(stops_here)s", stops_here=step.stops_here),) if step.stops_here else ()
    )
    other = library.by_id.get(step.converts_to) if step.converts_to else None
    goes_on = (
        (gettext("Go on with: %(title)s", title=other.title if other else step.converts_to),)
        if step.converts_to
        else ()
    )
    return (*order, *sentences, *stops, *goes_on)


class PartsWriter:
    """Makes views in reading order; one instance a document."""

    def __init__(self, library: Library, procedure: Procedure, prose: ProseWriter, references: References) -> None:
        self.library = library
        self.procedure = procedure
        self.prose = prose
        self.references = references
        self._changed = {change.id for change in library.local_of(procedure) if change.kind == "step"}
        self._figures: dict[str, int] = {}
        self._forks = 0

    def blocks(self, blocks: Iterable[Block]) -> tuple[StepView | ChoiceView, ...]:
        """Return the views of ``blocks``."""
        return tuple(self.step(block) if isinstance(block, StepBlock) else self._choice(block) for block in blocks)

    def _choice(self, block: ChoiceBlock) -> ChoiceView:
        self._forks += 1
        return ChoiceView(
            kind=block.kind,
            id=block.id,
            anchor=f"{block.id}-{self._forks}",
            title=block.title,
            heading=labelled(gettext(_FORKS[block.kind]), block.title),
            when=block.when,
            cautions=tuple(map(self.caution, block.cautions)),
            branches=tuple(self._branch(block, branch) for branch in block.branches),
        )

    def _branch(self, block: ChoiceBlock, branch: Branch) -> BranchView:
        label, is_option = branch_label(branch.name), block.kind == "option"
        heading, spoken = ("", block.title) if is_option else (label, f"{block.title}: {label}")
        return BranchView(branch.name, branch.letter, label, heading, spoken, self.blocks(branch.blocks))

    def step(self, block: StepBlock) -> StepView:
        """Return the view of a step with the cautions that stand before it."""
        step = block.step
        cautions = tuple(map(self.caution, block.cautions))
        body, basis = self.prose.html(step.body, heading=4), _basis(step)
        doses, actions = tuple(map(self.dose, step.dose)), _told(self.library, step)
        verbs = {sentence(self.library, action): verb_words(action) for action in step.actions}
        return StepView(
            step,
            anchor=block.anchor,
            number=block.number,
            basis=gettext("%(basis)s, changed here", basis=basis) if str(step.id) in self._changed else basis,
            supervision=gettext(step.supervision.value) if step.supervision else "",
            minutes=str(step.minutes) if step.minutes is not None else "",
            cautions=cautions,
            reminders=tuple(
                CautionView(caution, f"caution-{caution.id}", signal_word(caution.signal))
                for caution in block.reminders
            ),
            body_html=body,
            actions=actions,
            verbs=tuple(verbs.get(told) or told.partition(" ")[0] for told in actions),
            counts=_sentences(self.library, step, Verb.COUNT),
            figures=self.figures(step.figure),
            doses=doses,
            cites_html=self.references.backing(step.evidence, step.common_practice),
            call=call_of(self.library, step.call),
        )

    def caution(self, caution: Caution) -> CautionView:
        """Return the view of a caution."""
        return CautionView(
            caution,
            anchor=f"caution-{caution.id}",
            signal_word=signal_word(caution.signal),
            body_html=self.prose.html(caution.body, heading=4),
            cites_html=self.references.backing(caution.evidence, caution.common_practice),
            call=call_of(self.library, caution.call),
        )

    def figures(self, figures: Iterable[Figure]) -> tuple[FigureView, ...]:
        """Return the figures that have not been shown yet, numbered on."""
        return tuple(self._figure(figure) for figure in figures if figure.id not in self._figures)

    def _figure(self, figure: Figure) -> FigureView:
        number = self._figures.setdefault(figure.id, len(self._figures) + 1)
        pointers = tuple(
            PointerView(
                number, str(pointer.spot[0]), str(pointer.spot[1]), structure_name(self.library, pointer.structure)
            )
            for number, pointer in enumerate(figure.pointers, start=1)
        )
        return FigureView(
            id=figure.id,
            anchor=f"figure-{figure.id}",
            number=number,
            path=f"content/procedures/{self.procedure.id}/figures/{figure.file}",
            alt=figure.alt or "",
            caption=figure.caption or "",
            credit=figure.credit or "",
            # A drawing that looks alike on both sides names none.
            side=gettext(SIDES[figure.side]) if figure.side and figure.side is not Side.EITHER else "",
            pointers=pointers,
        )

    def dose(self, dose: Dose) -> DoseView:
        """Return the view of a dose: as stated, what follows from it, and its table in exact numbers."""
        written = (
            (gettext("Strength"), dose.strength),
            (gettext("Route"), dose.route),
            (gettext("Dose"), dose.amount),
            (gettext("Every"), dose.every),
            (gettext("Ceiling by weight"), dose.per_weight),
            (gettext("Never more than"), dose.cap),
            (gettext("Draw up in steps of"), dose.draw_up),
        )
        return DoseView(
            drug=item_name(self.library, dose.drug),
            lines=(*((label, str(value)) for label, value in written if value), *extra_lines(dose)),
            rows=tuple((row.weight, str(row)) for row in rows(dose)),
            not_covered=limits(dose),
            cites_html=self.references.backing(dose.evidence, dose.common_practice),
        )

    def aftercare(self, item: Aftercare) -> AftercareView:
        """Return the view of an item of aftercare."""
        others = self.procedure.aftercare_items
        return AftercareView(
            item,
            anchor=f"aftercare-{item.id}",
            when=when_words(item.when),
            concerns=item_name(self.library, item.concerns) if item.concerns else "",
            goes_with=tuple(str(others[id].title) for id in item.goes_with if id in others),
            body_html=self.prose.html(item.body, heading=4),
            doses=tuple(map(self.dose, item.dose)),
            cites_html=self.references.backing(item.evidence, item.common_practice),
        )


def _basis(step: Step) -> str:
    if step.basis is Basis.PREFERENCE:
        return gettext("Preference of the %(whose)s", whose=step.whose) if step.whose else gettext("Preference")
    return gettext("Local policy") if step.basis is Basis.LOCAL_POLICY else gettext("Principle")

"""Views of the parts of a procedure: steps, cautions, figures, doses, aftercare."""

from __future__ import annotations

from collections.abc import Iterable

from builder.compose.view.outline import Block, StepBlock, step_blocks
from builder.compose.view.references import References
from builder.compose.view.rendered_prose import ProseWriter
from builder.compose.view.timeline import when_words
from builder.compose.view.view import (
    AftercareView,
    CautionView,
    DoseView,
    FigureView,
    PointerView,
    ReminderView,
    StepView,
)
from builder.compose.view.words import SIDES, SIGNAL_WORDS, item_name, sentence, structure_name
from builder.facts.dose_table import extra_lines, limits, rows
from builder.model.action import Side
from builder.model.dose import Dose
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Aftercare, Basis, Caution, Procedure, Step


def figures_of(procedure: Procedure, blocks: Iterable[Block]) -> list[Figure]:
    """Return the figures in the order they appear; one that is shown again keeps its first number."""
    steps = [block.step for block in step_blocks(blocks)]
    found = {figure.id: figure for figure in procedure.figure}
    for step in steps:
        for figure in step.figure:
            found.setdefault(figure.id, figure)
    return list(found.values())


class PartsWriter:
    """Makes views in reading order; one instance a document."""

    def __init__(self, library: Library, procedure: Procedure, prose: ProseWriter, references: References) -> None:
        self.library = library
        self.procedure = procedure
        self.prose = prose
        self.references = references
        self._figures: dict[str, int] = {}

    def step(self, block: StepBlock) -> StepView:
        """Return the view of a step with the cautions that stand before it."""
        step = block.step
        cautions = tuple(self.caution(one) for one in block.cautions)
        body = self.prose.html(step.body, heading=4)
        doses = tuple(self.dose(one) for one in step.dose)
        return StepView(
            id=step.id,
            anchor=block.anchor,
            number=block.number,
            title=step.title,
            critical=step.critical,
            basis=_basis(step),
            supervision=step.supervision.value if step.supervision else "",
            minutes=str(step.minutes) if step.minutes is not None else "",
            cautions=cautions,
            reminders=tuple(_reminder(one) for one in block.reminders),
            body_html=body,
            actions=tuple(sentence(self.library, action) for action in step.actions),
            cue=step.cue or "",
            if_not=step.if_not or "",
            why=step.why or "",
            error=step.error or "",
            recovery=step.recovery or "",
            call=step.call or "",
            figures=self.figures(step.figure),
            doses=doses,
            cites_html=self.references.backing(step.evidence, step.common_practice),
        )

    def caution(self, caution: Caution) -> CautionView:
        """Return the view of a caution."""
        return CautionView(
            id=caution.id,
            anchor=f"caution-{caution.id}",
            signal=caution.signal.value,
            signal_word=SIGNAL_WORDS[caution.signal.value],
            hazard=caution.hazard,
            consequence=caution.consequence,
            avoid=caution.avoid,
            sign=caution.sign or "",
            if_it_happens=caution.if_it_happens or "",
            call=caution.call or "",
            body_html=self.prose.html(caution.body, heading=4),
            cites_html=self.references.backing(caution.evidence, caution.common_practice),
        )

    def figures(self, figures: Iterable[Figure]) -> tuple[FigureView, ...]:
        """Return the figures that have not been shown yet, numbered on."""
        return tuple(self._figure(one) for one in figures if one.id not in self._figures)

    def _figure(self, figure: Figure) -> FigureView:
        number = self._figures.setdefault(figure.id, len(self._figures) + 1)
        pointers = tuple(
            PointerView(place, str(one.spot[0]), str(one.spot[1]), structure_name(self.library, one.structure))
            for place, one in enumerate(figure.pointers, start=1)
        )
        return FigureView(
            id=figure.id,
            anchor=f"figure-{figure.id}",
            number=number,
            path=f"content/procedures/{self.procedure.id}/figures/{figure.file}",
            alt=figure.alt or "",
            caption=figure.caption or "",
            credit=figure.credit or "",
            side=_figure_side(figure),
            pointers=pointers,
        )

    def dose(self, dose: Dose) -> DoseView:
        """Return the view of a dose: as stated, what follows from it, and its table in exact numbers."""
        written = (
            ("Strength", dose.strength),
            ("Route", dose.route),
            ("Dose", dose.amount),
            ("Every", dose.every),
            ("Ceiling by weight", dose.per_weight),
            ("Never more than", dose.cap),
            ("Draw up in steps of", dose.draw_up),
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
            id=item.id,
            anchor=f"aftercare-{item.id}",
            title=item.title,
            when=when_words(item.when),
            who=item.who or "",
            concerns=item_name(self.library, item.concerns) if item.concerns else "",
            goes_with=tuple(str(others[id].title) for id in item.goes_with if id in others),
            body_html=self.prose.html(item.body, heading=4),
            patient_text=item.patient_text or "",
            doses=tuple(self.dose(one) for one in item.dose),
            cites_html=self.references.backing(item.evidence, item.common_practice),
        )


def _basis(step: Step) -> str:
    if step.basis is Basis.PREFERENCE:
        return f"Preference of the {step.whose}" if step.whose else "Preference"
    return "Local policy" if step.basis is Basis.LOCAL_POLICY else "Principle"


def _reminder(caution: Caution) -> ReminderView:
    signal = caution.signal.value
    return ReminderView(f"caution-{caution.id}", signal, SIGNAL_WORDS[signal], caution.hazard)


def _figure_side(figure: Figure) -> str:
    """Return which side is drawn; a drawing that looks alike on both names none."""
    if figure.side is None or figure.side is Side.EITHER:
        return ""
    return SIDES[figure.side]

"""What a patient's consent covers no longer: such a picture is in no output."""

from collections.abc import Callable
from dataclasses import replace

from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Procedure, Step

FigureChoice = Callable[[Procedure, Figure], Figure | None]


def withdrawn(library: Library) -> frozenset[str]:
    """Return the ids of the consents that were withdrawn up to today."""
    consents = library.consents
    return frozenset(
        str(consent.id) for consent in consents if consent.withdrawn and consent.withdrawn <= library.today
    )


def without_withdrawn(library: Library) -> Library:
    """Return ``library`` without the figures whose consent was withdrawn; the same one where there are none."""
    gone = withdrawn(library)
    if not gone:
        return library
    return with_figures(library, lambda _, figure: None if str(figure.consent) in gone else figure)


def with_figures(library: Library, chosen: FigureChoice) -> Library:
    """Return ``library`` with each figure replaced by what ``chosen`` returns for it, or left out for None."""
    return replace(library, procedures=tuple(_procedure(procedure, chosen) for procedure in library.procedures))


def _procedure(procedure: Procedure, chosen: FigureChoice) -> Procedure:
    steps = {id: step.model_copy(update=_update(procedure, step, chosen)) for id, step in procedure.parts.steps.items()}
    update = {**_update(procedure, procedure, chosen), "parts": replace(procedure.parts, steps=steps)}
    return fresh(procedure.model_copy(update=update))


def _update(procedure: Procedure, page: Procedure | Step, chosen: FigureChoice) -> dict[str, tuple[Figure, ...]]:
    return {"figure": tuple(kept for figure in page.figure if (kept := chosen(procedure, figure)) is not None)}


def fresh(procedure: Procedure) -> Procedure:
    """Return ``procedure`` without what it remembers of the parts it had before."""
    for name in ("entries", "cautions", "guarding", "aftercare_items"):
        procedure.__dict__.pop(name, None)
    return procedure

"""The table of outputs of a procedure. A new one is a file in ``compose/`` and a row here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from builder.compose import (
    booklet,
    card,
    card_sheet,
    count_sheet,
    handout,
    package,
    patient_sheet,
    rehearsal,
    single,
    what_now,
)
from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.model.library import Library
from builder.model.pages import Procedure

SITE = "site"


@dataclass(frozen=True, slots=True)
class Output:
    """An output: the ``name`` by which it is asked for, and what composes it."""

    name: str
    compose: Callable[[Library, Procedure, Renderer], Document]


# The page of each procedure is not a row: it links to what the rows made.
OUTPUTS: tuple[Output, ...] = (
    Output("handout", handout.compose),
    Output("card", card.compose),
    Output("card-sheet-fold", card_sheet.fold),
    Output("card-sheet-duplex", card_sheet.duplex),
    Output("card-sheet-booklet", booklet.compose),
    Output("count-sheet", count_sheet.compose),
    Output("what-now", what_now.compose),
    Output("rehearsal", rehearsal.compose),
    Output("rehearsal-text", rehearsal.compose_text),
    Output("patient-sheet", patient_sheet.compose),
    Output("patient-sheet-large", patient_sheet.compose_large),
    Output("self-test-package", package.compose),
    Output("single-file", single.compose),
)
NAMES = (SITE, *(output.name for output in OUTPUTS))

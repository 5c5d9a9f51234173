"""Aftercare that is bound to an option: for the patients it is for, and said to be so where one sheet serves all."""

from __future__ import annotations

from department import BASE, read

from builder.compose.card.ways import way_of
from builder.compose.consents import fresh
from builder.compose.sheets.patient_sheet import patient_view
from builder.model.library import Library
from builder.model.pages import Procedure

TAKEN = {"anaesthesia": "local", "drain": "taken"}
LEFT_OUT = {"anaesthesia": "local", "drain": "left-out"}


def base() -> tuple[Library, Procedure]:
    library = read(BASE)[0]
    return library, library.procedures[0]


def sheet(library: Library, procedure: Procedure) -> str:
    view = patient_view(library, procedure, large=False)
    parts = (*view.box, *(part for phase in view.phases for part in phase.advice))
    return " ".join(line.text for part in parts for line in part.sentences)


def test_one_sheet_for_all_ways_says_for_whom_the_drain_is() -> None:
    library, procedure = base()
    assert "If a drain was left in: Your drain comes out after one or two days." in sheet(library, procedure)
    assert procedure.aftercare_items["drain-out"].title == "Take the drain out (if a drain was left in)"


def test_what_is_made_for_a_patient_with_a_drain_says_it_without_the_condition() -> None:
    library, procedure = base()
    told = sheet(library, way_of(procedure, TAKEN, library.items))
    assert "Your drain comes out" in told
    assert "If a drain" not in told


def test_nothing_of_the_drain_is_told_to_a_patient_without_one() -> None:
    library, procedure = base()
    assert "drain" not in sheet(library, way_of(procedure, LEFT_OUT, library.items))


def test_a_bound_item_that_takes_nothing_out_is_left_out_of_other_ways_too() -> None:
    library, procedure = base()
    item = procedure.parts.aftercare["drain-out"].model_copy(update={"concerns": None})
    parts = type(procedure.parts)(procedure.parts.steps, procedure.parts.cautions, {"drain-out": item})
    bound = fresh(procedure.model_copy(update={"parts": parts}))
    assert set(way_of(bound, TAKEN, library.items).aftercare_items) == {"drain-out"}
    assert set(way_of(bound, LEFT_OUT, library.items).aftercare_items) == set()

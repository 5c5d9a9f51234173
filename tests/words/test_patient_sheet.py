"""The patient's sheet holds every word for the patient, what to do at once first, in a type that can be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import Overlay, read

from builder.compose.document import Renderer
from builder.compose.sheets import patient_sheet
from builder.compose.sheets.patient_sheet import patient_view, reading_of, sentences_of_kept
from builder.compose.view.words import Speller
from builder.facts.readability import sentences_of
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.model.build import build
from builder.model.library import Library
from builder.model.pages import Term
from builder.place import Text

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def demo() -> Library:
    return build(load(ROOT))[0]


def test_every_word_for_the_patient_is_on_the_sheet_once(demo: Library) -> None:
    renderer = Renderer(load_templates(ROOT))
    for procedure in demo.procedures:
        told = [str(item.patient_text) for item in procedure.aftercare_items.values() if item.patient_text]
        for large in (False, True):
            document = patient_sheet.compose(demo, procedure, renderer, large=large)
            assert sorted(must.text for must in document.musts) == sorted(
                line for text in told for line in sentences_of_kept(text)
            )
            assert document.kind == "patient-sheet"


def test_what_to_do_at_once_stands_first(demo: Library) -> None:
    for procedure in demo.procedures:
        view = patient_view(demo, procedure, large=False)
        assert view.first, procedure.id
        assert any(line.urgent for one in view.first for line in one.sentences)
        assert view.calls, procedure.id


def test_no_staff_text_is_on_the_sheet(demo: Library) -> None:
    renderer = Renderer(load_templates(ROOT))
    for procedure in demo.procedures:
        text = patient_sheet.compose(demo, procedure, renderer).text
        for item in procedure.aftercare_items.values():
            staff = item.body.source.strip().split("\n")[0]
            assert not staff or staff not in text


def test_reading_level_of_the_demo_is_one_that_patients_read(demo: Library) -> None:
    """At most school grade 8 by every formula: the range that American guidance names (PMC6334864, PMC3049622)."""
    for procedure in demo.procedures:
        for name, value in patient_view(demo, procedure, large=False).reading.scores:
            if value.startswith("grade"):
                assert float(value.split()[1]) <= 8, (procedure.id, name)


def test_formulas_are_shown_as_a_spread_with_the_hard_words() -> None:
    reading = reading_of(["Keep the dressing on for two days.", "Paracetamol helps. Call the emergency department."])
    assert [name for name, _ in reading.scores] == ["Flesch Reading Ease", "Flesch-Kincaid", "SMOG", "Coleman-Liau"]
    assert reading.spread.startswith("school grade ")
    assert reading.hard == ("department", "emergency", "paracetamol")


def test_no_word_is_lost_when_sentences_are_parted() -> None:
    text = "Take 2.5 mL. Do not drive! Is it hot? Call us"
    assert " ".join(sentences_of_kept(text)) == text
    assert len(sentences_of_kept(text)) == len(sentences_of(text)) == 4


SECOND = """---
title: Second look
specialty: general surgery
edition: "1.0"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
sequence: [look]
common_practice: true
---
"""
LOOK = "---\ntitle: Look at the wound\ncommon_practice: true\n---\n"


def test_procedure_without_words_for_patients_says_so(overlay: Overlay) -> None:
    folder = "content/procedures/second"
    library, _ = read(overlay({f"{folder}/procedure.md": SECOND, f"{folder}/steps/look.md": LOOK}))
    second = next(one for one in library.procedures if one.id == "second")
    document = patient_sheet.compose(library, second, Renderer(load_templates(ROOT)))
    assert "Nothing is written for patients yet" in document.text
    assert document.musts == ()


TERMS = (
    Term.model_validate({"short": Text("VTE"), "long": Text("venous thromboembolism"), "plain": Text("blood clot")}),
    Term.model_validate({"short": Text("WHO"), "long": Text("World Health Organization")}),
)


def test_first_use_is_spelt_out_and_later_ones_are_not() -> None:
    speller = Speller(TERMS)
    assert speller.text("Ask for the VTE risk and the WHO list.") == (
        "Ask for the venous thromboembolism (VTE) risk and the World Health Organization (WHO) list."
    )
    assert speller.html("<p>VTE and <b>WHO</b></p>") == "<p>VTE and <b>WHO</b></p>"


def test_each_document_spells_out_for_itself_and_patients_get_plain_words() -> None:
    assert Speller(TERMS).text("VTE") == "venous thromboembolism (VTE)"
    assert Speller(TERMS, plain=True).text("VTE") == "blood clot (VTE)"


@pytest.mark.parametrize(
    "text",
    ["the World Health Organization (WHO) list", "the WHO (World Health Organization) list", "WHOLE", "who calls"],
)
def test_what_is_spelt_out_by_hand_is_left_alone(text: str) -> None:
    assert Speller(TERMS).text(text) == text

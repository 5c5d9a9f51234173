"""The patient's sheet holds every word for the patient, what to do at once first, in a type that can be read."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from department import Overlay, read

from builder.compose.document import Renderer
from builder.compose.sheets import patient_sheet
from builder.compose.sheets.patient_sheet import patient_texts, patient_view, reading_of
from builder.compose.view.words import Speller
from builder.facts.for_patients import Urgency, told_sentences, urgency
from builder.facts.readability import sentences_of
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.model.build import build
from builder.model.library import Library
from builder.model.pages import Term
from builder.place import Text
from builder.publish.build_report import FileRead
from builder.publish.paper.pdf import Typesetter
from builder.readback.paper.pdf import read_back

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def demo() -> Library:
    return build(load(ROOT))[0]


def test_every_word_for_the_patient_is_on_the_sheet_once(demo: Library) -> None:
    renderer = Renderer(load_templates(ROOT))
    for procedure in demo.procedures:
        told = Counter(" ".join(patient_texts(procedure)).split())
        # For whom it is stands again with what was lifted into the box.
        for_whom = Counter(
            f"{item.only_if.words}:".casefold() for item in procedure.aftercare_items.values() if item.only_if
        )
        again = Counter(word for words in for_whom for word in words.split())
        for large in (False, True):
            document = patient_sheet.compose(demo, procedure, renderer, large=large)
            texts = [must.text for must in document.musts if not must.id.startswith(("call-", "mark"))]
            shown = Counter(" ".join(texts).split())
            assert not told - shown
            assert Counter(word.casefold() for word in (shown - told).elements()) <= again
            assert document.kind == "patient-sheet"


def test_everything_that_calls_for_help_is_in_the_box_the_most_urgent_first(demo: Library) -> None:
    for procedure in demo.procedures:
        view = patient_view(demo, procedure, large=False)
        boxed = [urgency(line.text) for part in view.box for line in part.sentences]
        assert boxed
        assert boxed == sorted(one for one in boxed if one is not None)
        rest = [line.text for phase in view.phases for part in phase.advice for line in part.sentences]
        assert [text for text in (*rest, *(line.text for line in view.normal)) if urgency(text) is not None] == []
        assert all(call.number.startswith("01632 960") for call in view.calls), "Ofcom: numbers for drama"
        assert view.calls


def test_advice_stands_in_order_of_time_and_events_have_a_heading_of_their_own(demo: Library) -> None:
    view = patient_view(demo, demo.by_id["open-mesh-inguinal-hernia"], large=False)
    assert [phase.title for phase in view.phases] == [
        "While you are in hospital",
        "The first days at home",
        "The weeks after",
    ]
    days = view.phases[1].advice
    assert [part.heading for part in days] == [
        "For the first 24 hours",
        "For the first 2 days",
        "For the first 5 days",
        "For the first 3 days",  # a rescue stands behind what it helps, though it ends first
        "While you take the stronger tablets",
    ]
    assert view.normal


@pytest.mark.parametrize(
    ("sentence", "fast"),
    [
        ("Call an ambulance if your chest hurts.", Urgency.AMBULANCE),
        ("Call at once if the bulge is hard.", Urgency.AT_ONCE),
        ("Ring the bell at once if the drain moves.", Urgency.AT_ONCE),
        ("At home, call the surgical ward for fever.", Urgency.CALL),
        ("If the bandage is tight, cut it open and call us.", Urgency.CALL),
        ("Tell us if you cannot pass urine.", Urgency.TELL),
        ("You do not need to call us for a bruise.", None),
        ("Do not call before noon.", None),
        ("A nurse may call on you at home.", None),
        ("Most people call it a dragging feeling.", None),
        ("Tell us your wishes.", None),
    ],
)
def test_a_sentence_calls_for_help_where_it_says_so(sentence: str, fast: Urgency | None) -> None:
    assert urgency(sentence) is fast


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
        for name, value in reading_of(patient_texts(procedure)).scores:
            if value.startswith("grade"):
                assert float(value.split()[1]) <= 8, (procedure.id, name)


def test_formulas_are_shown_as_a_spread_with_the_hard_words() -> None:
    reading = reading_of(["Keep the dressing on for two days.", "Paracetamol helps. Call the emergency department."])
    assert [name for name, _ in reading.scores] == ["Flesch Reading Ease", "Flesch-Kincaid", "SMOG", "Coleman-Liau"]
    assert reading.spread.startswith("school grade ")
    assert reading.hard == ("department", "emergency", "paracetamol")


def test_no_word_is_lost_when_sentences_are_parted(demo: Library) -> None:
    text = "Take 2.5 mL. Do not drive! Is it hot? Wait. Call us if it bleeds. It may need a stitch."
    item = next(iter(demo.procedures[0].aftercare_items.values())).model_copy(update={"patient_text": text})
    parts = told_sentences(item)
    assert " ".join(parts) == text
    assert parts[-1] == "Call us if it bleeds. It may need a stitch."
    assert len(parts) == len(sentences_of(text)) - 1


def finished(demo: Library, folder: Path, change: Callable[[str], str] = str) -> FileRead:
    """What is read back of the finished sheet of the hernia, the composed text of which ``change`` spoils."""
    made = patient_sheet.compose(demo, demo.by_id["open-mesh-inguinal-hernia"], Renderer(load_templates(ROOT)))
    spoilt = replace(made, text=change(made.text))
    path = folder / "made.pdf"
    path.write_bytes(Typesetter(ROOT).pdf(spoilt))
    return read_back(spoilt, path)


def test_the_finished_sheet_is_proved(demo: Library, tmp_path: Path) -> None:
    found = finished(demo, tmp_path)
    assert found.problems == ()
    assert found.pages == 2


def test_the_longest_sheet_of_the_demo_has_two_pages(demo: Library) -> None:
    made = patient_sheet.compose(demo, demo.by_id["caesarean-birth"], Renderer(load_templates(ROOT)))
    wide = replace(made, text=made.text.replace("</style>", "html { line-height: 1.5 }</style>"))
    pages = [len(pypdfium2.PdfDocument(Typesetter(ROOT).pdf(one))) for one in (made, wide)]
    assert pages == [2, 3], "the second is the control"


def _days_first(text: str) -> str:
    parts = re.findall(r'<section class="phase"><h2>.*?(?=<section class="phase"|</main>)', text, re.DOTALL)
    assert len(parts) == 4
    return text.replace(parts[0] + parts[1], parts[1] + parts[0])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("</style>", ".now { break-before: page }</style>"), "is not on the first page"),
        (lambda text: text.replace("01632 960006", "extension 0006"), "is not there"),
        (_days_first, "stands before what it should follow"),
        (lambda text: re.sub(r"<li>Call at once if the bulge.*?</li>", "", text), "is not there"),
        (lambda text: text.replace("A bruise of the groin", "Pain in the groin"), "is not there"),
    ],
)
def test_a_sheet_that_breaks_a_rule_is_refused(
    change: Callable[[str], str], said: str, demo: Library, tmp_path: Path
) -> None:
    problems = finished(demo, tmp_path, change).problems
    assert any(said in problem for problem in problems), problems


def test_no_word_for_staff_is_on_it(demo: Library) -> None:
    text = patient_sheet.compose(demo, demo.procedures[0], Renderer(load_templates(ROOT))).text
    for word in ("For staff", "Read back", "Flesch", "Reading level", "SMOG"):
        assert word not in text


def test_without_a_number_from_home_the_sheet_leaves_a_line_for_it(overlay: Overlay) -> None:
    text = (ROOT / "content/department.md").read_text(encoding="utf-8")
    call = "  - {role: surgical ward, number: extension 0006}\n"
    files = {
        "content/department.md": re.sub(r"  - \{role: .*\n", "", text).replace("call:\n", f"call:\n{call}"),
        "content/procedures/example/aftercare/call.md": "---\ntitle: Call\nwhen: {from: 0 h}\n"
        "patient_text: Call the surgical ward if it bleeds.\ncommon_practice: true\n---\n",
    }
    library, _ = read(overlay(files))
    made = patient_sheet.compose(library, library.procedures[0], Renderer(load_templates(ROOT)))
    assert "write it here" in made.text
    assert "extension 0006" not in made.text


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
    assert [must.text for must in document.musts] == ["Draft: not approved"]


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

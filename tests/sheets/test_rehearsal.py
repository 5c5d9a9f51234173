"""The rehearsal script: said in the first person, timed along the main line, every other way announced."""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from department import BASE, Overlay, read
from papers import document, library, proved, renderer, spoilt, typesetter

from builder.compose.document import Document
from builder.compose.sheets import rehearsal
from builder.model.library import Library
from builder.readback.paper.finished_pdf import MM
from builder.readback.paper.painted import picture_of, sheets_of
from builder.readback.text_files import TEXT

FOLDER = "content/procedures/example"


def script(root: Path = BASE) -> Document:
    lib = library(root)
    return rehearsal.compose(lib, lib.procedures[0], renderer(root), plain=True)


def fresh(root: Path) -> Library:
    return read(root)[0]


@pytest.mark.parametrize(
    ("title", "said"),
    [
        ("Open the canal", "I open the canal."),
        ("Count, then close the skin", "I count, then close the skin."),
        ("Let the placenta come, and see it whole", "I let the placenta come, and see it whole."),
        ("Be sure of the side", "I am sure of the side."),
        ("Behold the nerve", "I behold the nerve."),
        ("Keep your fingers on the wire", "I keep my fingers on the wire."),
        ("Check the images before you begin", "I check the images before I begin."),
        ("Ask the anaesthetist before you cut", "I ask the anaesthetist before I cut."),
        ("Let the nurse show you the count", "I let the nurse show me the count."),
        ("Wait until you are sure", "I wait until I am sure."),
        ("Have the drain laid out beside you", "I have the drain laid out beside me."),
        ("ECG leads on", "I ECG leads on."),
    ],
)
def test_an_instruction_is_said_in_the_first_person(title: str, said: str) -> None:
    assert rehearsal.first_person(title) == said


def test_the_clock_shows_when_each_step_begins_were_its_way_taken() -> None:
    """By hand from the minutes in tests/base: 1 + 3 + 4 + 6 + 8 on the main line; the drain (3) is left out."""
    begins = re.findall(r"^ *(\d+:\d\d)[^\n]*\n *(\w+) I ", script().text, re.MULTILINE)
    assert begins == [
        ("0:00", "1"), ("0:01", "2A"), ("0:01", "2B"), ("0:04", "3"), ("0:08", "4"), ("0:14", "5"), ("0:14", "6"),
        ("0:22", "7"),
    ]  # fmt: skip
    assert "The main line takes 22 minutes" in script().text


def test_every_other_way_is_announced_with_its_own_time() -> None:
    text = script().text
    assert "The way parts: Anaesthesia" in text
    assert re.search(r"^A  Local: \d+ minutes?, on the main line$", text, re.MULTILINE)
    assert re.search(r"^B  Spinal: \d+ minutes?$", text, re.MULTILINE)
    assert "Only if needed: Drain" in text
    assert re.search(r"^If so: adds \d+ minutes?$", text, re.MULTILINE)
    assert "As I chose before: Drain" in text
    assert "Drain was left out: nothing more to do, on the main line" in text


def test_minutes_that_nobody_wrote_make_the_total_a_least(overlay: Overlay) -> None:
    name = f"{FOLDER}/steps/cut-skin.md"
    silent = (BASE / name).read_text(encoding="utf-8").replace("minutes: 4\n", "")
    text = script(overlay({name: silent})).text
    assert "The main line takes at least 18 minutes" in text
    assert "0:04\n3 I cut the skin" in text


def test_nested_ways_are_on_the_main_line_only_if_all_around_them_are(overlay: Overlay) -> None:
    name = f"{FOLDER}/procedure.md"
    nested = (
        (BASE / name)
        .read_text(encoding="utf-8")
        .replace(
            "      steps: [place-drain]",
            "      steps: [{choose: {id: site, between: {left: [place-drain], right: [place-drain]}}}]",
        )
    )
    text = script(overlay({name: nested})).text
    assert re.search(r"^ +A  Left: 3 minutes$", text, re.MULTILINE)
    assert re.search(r"^A  Local: 3 minutes, on the main line$", text, re.MULTILINE)


def test_each_step_has_one_cue_or_says_that_none_is_written() -> None:
    procedure = fresh(BASE).procedures[0]
    text = script().text
    shown = text.count("I go on when:") + text.count("No cue is written.")
    assert shown == len(procedure.steps)
    for step in procedure.steps.values():
        assert step.cue is None or text.count(step.cue) == 1


def test_text_and_paper_promise_the_same() -> None:
    assert script().musts == document("rehearsal").musts


def test_signs_that_html_escapes_stand_in_the_text_as_they_are(overlay: Overlay, tmp_path: Path) -> None:
    step = (BASE / FOLDER / "steps/open-canal.md").read_text(encoding="utf-8")
    files = {f"{FOLDER}/steps/open-canal.md": step.replace("The nerve is seen", "The nerve isn't < 2 cm & is seen")}
    root = overlay(files)
    lib = fresh(root)
    made = rehearsal.compose(lib, lib.procedures[0], renderer(root), plain=True)
    assert "isn't < 2 cm & is seen" in made.text
    assert text_problems(made, made.text, tmp_path) == ()


def text_problems(made: Document, text: str, folder: Path) -> tuple[str, ...]:
    path = folder / "script.txt"
    path.write_bytes(text.encode())
    return TEXT.read_back(made, path).problems


def test_the_untouched_text_passes_and_a_spoilt_one_does_not(tmp_path: Path) -> None:
    made = script()
    assert text_problems(made, made.text, tmp_path) == ()
    lost = replace(made, text=made.text.replace("The nerve is seen along its whole length.", ""))
    assert any("cue" in problem for problem in text_problems(lost, lost.text, tmp_path))
    assert any("composed" in problem for problem in text_problems(made, made.text + "x", tmp_path))
    escaped = replace(made, text=made.text + "&amp;")
    assert any("markup" in problem for problem in text_problems(escaped, escaped.text, tmp_path))


def test_a_text_that_is_not_utf_8_is_named(tmp_path: Path) -> None:
    path = tmp_path / "script.txt"
    path.write_bytes(b"\xff\xfe")
    assert "UTF-8" in TEXT.read_back(script(), path).problems[0]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("The nerve is seen along its whole length.", "", "cue"),
        ("I find the nerve, then open the canal.", "", "nowhere"),
        (' <span class="critical-word">Critical</span>', "", "nowhere"),
        ("</style>", ".beat { break-inside: auto; color: #bbb }</style>", "contrast"),
        ("</style>", ".cue { height: 2mm; overflow: hidden }</style>", "cut off"),
    ],
)
def test_a_script_that_lost_something_is_refused(old: str, new: str, said: str, tmp_path: Path) -> None:
    made = spoilt(document("rehearsal"), old, new, count=-1)
    problems = proved(made, typesetter().pdf(made), tmp_path).problems
    assert any(said in problem for problem in problems), problems


def touching(data: bytes) -> list[str]:
    """Dark text of the finished file with an upright bar less than 0.8 mm to its left: ink higher than its line."""
    near, dots = [], 150 / 72
    with closing(pypdfium2.PdfDocument(data)) as opened:
        pages = list(opened)
        for sheet in sheets_of(pages):
            image = picture_of(pages)(sheet.number, 150).convert("L")
            for text in sheet.texts:
                left, high, low = text.box.left - 0.8 * MM, text.box.top + MM, text.box.bottom - MM
                top, bottom = round((sheet.height - high) * dots), round((sheet.height - low) * dots)
                columns = (
                    image.crop((x, top, x + 1, bottom)) for x in range(round(left * dots), round(left * dots) + 5)
                )
                if max(text.colour[:3]) < 128 and any(column.getextrema()[1] < 110 for column in columns):
                    near.append(text.named)
    return near


def test_text_never_touches_a_bar() -> None:
    demo = BASE.parents[1]
    made = rehearsal.compose(library(demo), library(demo).by_id["open-mesh-inguinal-hernia"], renderer(demo))
    assert touching(typesetter(demo).pdf(made)) == []
    close = spoilt(made, "</style>", ".way .parting { margin-left: 0 !important }</style>")
    assert any("The way parts" in text for text in touching(typesetter(demo).pdf(close))), "the control"

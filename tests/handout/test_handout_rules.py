"""The finished handout: few pages, no large hole, no tail of a step without its number, nothing told twice."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from department import BASE, DEMO, DEMO_IDS
from papers import library, proved, renderer, typesetter

from builder.compose.document import Document
from builder.compose.handout import handout
from builder.readback.comparison import bare
from builder.readback.paper.finished_pdf import HEADINGS, MM, FinishedPdf
from builder.readback.paper.pdf import _artefact

MOST_PAGES = {"open-mesh-inguinal-hernia": 12, "caesarean-birth": 13}
FEWEST_ON_LAST = 3
LARGEST_HOLE = 1 / 3
TOP_MM, BOTTOM_MM, BAR_MM = 280.0, 17.0, 30.0


@cache
def composed(id: str) -> Document:
    return handout.compose(library(DEMO), library(DEMO).by_id[id], renderer(DEMO))


@cache
def data(id: str, rules: str = "") -> bytes:
    """The finished handout; ``rules`` spoil its style sheet."""
    made = composed(id)
    return typesetter(DEMO).pdf(replace(made, text=made.text.replace("</style>", f"{rules}</style>", 1)))


def opened(id: str, folder: Path, stack: ExitStack, rules: str = "") -> FinishedPdf:
    path = folder / "handout.pdf"
    path.write_bytes(data(id, rules))
    return _artefact(path, stack)


def holes(artefact: FinishedPdf) -> list[float]:
    """The largest empty band of each page, as a share of its height between the margins; bars are not content."""
    found = []
    for sheet in artefact.sheets:
        boxes = [piece.box for piece in sheet.texts if piece.mark >= 0]
        boxes += [
            box
            for (page, _), drawn in artefact.drawn.items()
            for box in drawn
            if page == sheet.number and box.right - box.left > BAR_MM * MM
        ]
        bands = sorted((max(box.bottom / MM, BOTTOM_MM), min(box.top / MM, TOP_MM)) for box in boxes)
        reached, largest = BOTTOM_MM, 0.0
        for low, high in bands:
            largest = max(largest, low - reached)
            reached = max(reached, high)
        found.append(max(largest, TOP_MM - reached) / (TOP_MM - BOTTOM_MM))
    return found


def references_on_last(document: Document, artefact: FinishedPdf) -> int:
    """How many references begin on the last page."""
    last = bare("".join(piece.text for piece in artefact.sheets[-1].texts))
    return sum(bare(must.text.partition(" ")[2])[:20] in last for must in document.musts if must.kind == "reference")


def unnamed_tails(document: Document, artefact: FinishedPdf) -> Iterator[str]:
    """Yield each page that begins within a step and does not name its number at the head."""
    titles = {bare(must.text): must.text.split()[0] for must in document.musts if must.kind == "step"}
    tabs = {bare(re.sub("<[^>]*>", "", tab)) for tab in re.findall(r'<p class="tab">(.*?)</p>', document.text)}
    inside, seen = "", set[int]()
    for node in artefact.tree.walk():
        if node.role not in ("P", "LBody", "Figure", *HEADINGS):
            continue
        words, here = bare(artefact.text_of(node)), next((page for page, _ in node.marks()), 0)
        begins = node.role in HEADINGS or words in tabs
        if here and here not in seen:
            seen.add(here)
            heads = bare("".join(piece.text for piece in artefact.sheets[here - 1].pieces if piece.mark < 0))
            if inside and not begins and bare(f"step {inside}, continued") not in heads:
                yield f"page {here} goes on with step {inside} and does not say so"
        if begins:
            inside = titles.get(words, "")


@pytest.mark.parametrize("id", DEMO_IDS)
def test_a_handout_of_the_demo_keeps_the_rules(id: str, tmp_path: Path) -> None:
    found = proved(composed(id), data(id), tmp_path)
    assert found.problems == ()
    assert found.pages <= MOST_PAGES.get(id, 12)
    with ExitStack() as stack:
        artefact = opened(id, tmp_path, stack)
        assert max(holes(artefact)[:-1]) < LARGEST_HOLE
        assert list(unnamed_tails(composed(id), artefact)) == []
        assert references_on_last(composed(id), artefact) >= FEWEST_ON_LAST


def test_a_large_hole_is_noticed(tmp_path: Path) -> None:
    with ExitStack() as stack:
        artefact = opened("chest-drain-insertion", tmp_path, stack, ".step { break-before: page }")
        assert max(holes(artefact)[:-1]) > LARGEST_HOLE
        assert len(artefact.sheets) > 12, "and that there are too many pages"


def test_a_last_page_of_two_references_is_noticed(tmp_path: Path) -> None:
    with ExitStack() as stack:
        rules = ".references li:nth-last-child(2) { break-before: page }"
        artefact = opened("open-mesh-inguinal-hernia", tmp_path, stack, rules)
        assert references_on_last(composed("open-mesh-inguinal-hernia"), artefact) == 2


def test_a_tail_without_its_number_is_noticed(tmp_path: Path) -> None:
    with ExitStack() as stack:
        artefact = opened("open-mesh-inguinal-hernia", tmp_path, stack, ".step .how { string-set: none }")
        assert list(unnamed_tails(composed("open-mesh-inguinal-hernia"), artefact))


def unsorted_citations(text: str) -> list[str]:
    marks = re.findall(r'<sup class="cites">(.*?)</sup>', text)
    shown = [[int(number) for number in re.findall(r">(\d+)</a>", mark)] for mark in marks]
    assert any(len(numbers) > 1 for numbers in shown)
    return [str(numbers) for numbers in shown if numbers != sorted(numbers)]


def first_citations(text: str) -> list[int]:
    return list(dict.fromkeys(int(number) for number in re.findall(r'<a href="#ref-(\d+)" id="cite', text)))


def calls_without_number(text: str) -> list[str]:
    return re.findall(r'<b>Call:</b> [^<]*<b class="local">[^<\d]*</b>', text)


def told_twice(document: Document) -> list[str]:
    """What stands twice in one place: an action as another, a caution's line in its step, aftercare in a table too."""
    items = [must.text for must in document.musts if must.kind == "aftercare"]
    said = [item for item in items if document.text.count(f">{item}<") != 1]
    for step in re.findall(r'<section class="step.*?</section>', document.text, re.DOTALL):
        actions = re.findall(r"<li[^>]*>(.*?)</li>", step)
        prose = re.findall(r'<div class="body">(.*?)</div>', step, re.DOTALL)
        said += [action for action in actions if f"{action}." in "".join(prose)]
    return said


@pytest.mark.parametrize("id", DEMO_IDS)
def test_citations_are_sorted_and_numbered_by_first_appearance(id: str) -> None:
    text = composed(id).text
    assert unsorted_citations(text) == []
    assert first_citations(text) == sorted(first_citations(text))
    assert unsorted_citations('<sup class="cites"><a>2</a>, <a>1</a></sup>') == ["[2, 1]"], "the control"


@pytest.mark.parametrize("id", DEMO_IDS)
def test_a_number_stands_beside_each_role_to_call(id: str) -> None:
    text = composed(id).text
    assert text.count("<b>Call:</b>") > 3
    assert calls_without_number(text) == []
    assert calls_without_number(re.sub(r"extension.\d+", "", text)) != [], "the control"


@pytest.mark.parametrize("id", DEMO_IDS)
def test_nothing_is_told_twice(id: str) -> None:
    assert told_twice(composed(id)) == []


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text: re.sub(
            r"(<li>)(Identify [^<]*)(.*?<div class=\"body\">)", r"\1\2\3\2.", text, count=1, flags=re.DOTALL
        ),
        lambda text: text.replace("<h2>Aftercare</h2>", "<h2>Aftercare</h2><p>Paracetamol by the clock</p>"),
    ],
)
def test_what_is_told_twice_is_noticed(spoil: Callable[[str], str]) -> None:
    made = composed("open-mesh-inguinal-hernia")
    assert told_twice(replace(made, text=spoil(made.text)))


def narrow(change: Callable[[str], str] = lambda text: text) -> Document:
    """The smallest department's handout with a plate so narrow that its drawing nowhere reaches the frame."""
    made = handout.compose(library(BASE), library(BASE).procedures[0], renderer(BASE))
    assert "70mm" in made.text
    return replace(made, text=change(made.text.replace("70mm", "66mm")))


def test_pointers_are_held_to_a_frame_that_clips_nothing(tmp_path: Path) -> None:
    """The renderer drops such a clip: the frame is read from the operators of the page."""
    whole, moved = narrow(), narrow(lambda text: re.sub(r'(class="pointer" style="left: )[\d.]+%', r"\g<1>77%", text))
    assert proved(whole, typesetter(BASE).pdf(whole), tmp_path).problems == ()
    problems = proved(moved, typesetter(BASE).pdf(moved), tmp_path).problems
    assert any("mm from its place" in problem for problem in problems), problems

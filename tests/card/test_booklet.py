"""The fold-up booklet: folded in thought, each page meets the next; it is set as large as eight pages allow."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import page as page_validation
import pypdfium2
import pytest
from department import BASE
from papers import library, proved, renderer, spoilt, typesetter

from builder.compose.card.card_fit import DENSITIES
from builder.compose.card.card_sheet import HEIGHT_MM, PAGES, WIDTH_MM, booklet, placed_pages
from builder.compose.document import Document, Placed, Renderer
from builder.findings.finding import Refused
from builder.load.templates import load_templates
from builder.readback.paper.finished_pdf import MM
from builder.readback.paper.painted import sheets_of

CORNERS = ("TL", "TR", "BL", "BR")
SLACK_MM = 1.0


@cache
def made() -> Document:
    return booklet(library(), library().procedures[0], renderer())


@cache
def data() -> bytes:
    return typesetter().pdf(made())


def cornered() -> Document:
    """Eight pages that bear their number and corner, such as 3TL, in each of their corners."""
    css = (
        f"@page {{ size: {WIDTH_MM}mm {HEIGHT_MM}mm; margin: 6mm }} body, p {{ margin: 0 }}"
        "div { break-after: page; height: 90mm; position: relative } div:last-child { break-after: auto }"
        "p { position: absolute; font: 9pt 'Prescrub Sans'; line-height: 1 }"
        ".TL, .TR { top: 0 } .BL, .BR { bottom: 0 } .TL, .BL { left: 0 } .TR, .BR { right: 0 }"
    )
    pages = "".join(
        f"<div>{''.join(f'<p class={corner}>{number}{corner}</p>' for corner in CORNERS)}</div>"
        for number in range(1, PAGES + 1)
    )
    assert made().of is not None
    text = f'<html lang="en"><head><title>b</title><style>{css}</style></head><body>{pages}</body></html>'
    return replace(made().of, text=text)


@cache
def spots() -> dict[str, tuple[float, float]]:
    """Where each corner mark lies on the sheet, in mm from its top left, middle of the mark."""
    read = sheets_of(pypdfium2.PdfDocument(typesetter().pdf(replace(made(), of=cornered()))))
    assert len(read) == 1
    sheet = read[0]
    return {
        piece.text.strip(): (
            (piece.box.left + piece.box.right) / 2 / MM,
            (sheet.height - (piece.box.top + piece.box.bottom) / 2) / MM,
        )
        for piece in sheet.pieces
        if re.fullmatch(r"\d(TL|TR|BL|BR)", piece.text.strip())
    }


def shared_edge(one: Placed, other: Placed) -> tuple[str, float, float] | None:
    """The edge that two cells share: which way it runs, where it lies and where along it begins, in mm."""
    across, down = other.left_mm - one.left_mm, other.top_mm - one.top_mm
    if abs(across) == pytest.approx(WIDTH_MM) and down == 0:
        return "down", max(one.left_mm, other.left_mm), one.top_mm
    if abs(down) == pytest.approx(HEIGHT_MM) and across == 0:
        return "across", max(one.top_mm, other.top_mm), one.left_mm
    return None


def test_every_page_lies_on_the_sheet_once_and_fills_it() -> None:
    cells = placed_pages()
    assert sorted(one.page for one in cells) == list(range(1, PAGES + 1))
    corners = {(one.left_mm, one.top_mm) for one in cells}
    assert corners == {(column * 74.25, row * 105.0) for column in range(4) for row in range(2)}
    assert len(spots()) == PAGES * len(CORNERS)


@pytest.mark.parametrize("page", range(1, PAGES + 1))
def test_folded_over_the_edge_they_share_each_page_lies_on_the_next_head_on_head(page: int) -> None:
    """A leaf has two pages back to back, a spread two face to face: either way left lies on right and head on head."""
    following = page % PAGES + 1
    cells = {one.page: one for one in placed_pages()}
    edge = shared_edge(cells[page], cells[following])
    assert edge is not None, "they share no edge"
    way, at, _ = edge
    for corner, meets in (("TL", "TR"), ("TR", "TL"), ("BL", "BR"), ("BR", "BL")):
        x, y = spots()[f"{page}{corner}"]
        folded = (2 * at - x, y) if way == "down" else (x, 2 * at - y)
        assert folded == pytest.approx(spots()[f"{following}{meets}"], abs=SLACK_MM)


def test_the_cut_parts_exactly_the_pages_that_do_not_follow_each_other() -> None:
    edges = {
        (one.page, other.page): edge
        for one, other in combinations(sorted(placed_pages(), key=lambda cell: cell.page), 2)
        if (edge := shared_edge(one, other))
    }
    cut = {pair: edge for pair, edge in edges.items() if (pair[1] - pair[0]) % PAGES not in (1, PAGES - 1)}
    assert set(cut) == {(1, 6), (2, 5)}
    assert {edge[:2] for edge in cut.values()} == {("across", HEIGHT_MM)}
    dark = row_of_ink(HEIGHT_MM)
    begin, end = min(edge[2] for edge in cut.values()), max(edge[2] for edge in cut.values()) + WIDTH_MM
    assert share(dark, begin + 0.5, end - 0.5) > 0.99, "the cut is not drawn whole"
    assert 0.2 < share(dark, 6, begin - 0.5) < 0.9, "beside the cut it is to be folded"
    assert 0.2 < share(dark, end + 0.5, 291) < 0.9


DPI = 200


@cache
def picture() -> object:
    return pypdfium2.PdfDocument(data())[0].render(scale=DPI / 72).to_pil().convert("L")


def row_of_ink(top_mm: float) -> list[bool]:
    image = picture()
    rows = range(int((top_mm - 0.3) / 25.4 * DPI), int((top_mm + 0.6) / 25.4 * DPI) + 1)
    return [any(image.getpixel((x, y)) < 128 for y in rows) for x in range(image.width)]  # type: ignore[attr-defined]


def share(dark: list[bool], begin_mm: float, end_mm: float) -> float:
    part = dark[int(begin_mm / 25.4 * DPI) : int(end_mm / 25.4 * DPI)]
    return sum(part) / len(part)


def test_five_millimetres_stay_white_all_round() -> None:
    image = picture()
    edge = int(4.8 / 25.4 * DPI)
    width, height = image.size  # type: ignore[attr-defined]
    for box in (
        (0, 0, width, edge),
        (0, height - edge, width, height),
        (0, 0, edge, height),
        (width - edge, 0, width, height),
    ):
        assert image.crop(box).getextrema()[0] == 255  # type: ignore[attr-defined]


def test_it_passes_its_proofs_and_no_type_is_under_7_pt(tmp_path: Path) -> None:
    found = proved(made(), data(), tmp_path)
    assert found.problems == ()
    assert found.pages == 1
    assert found.smallest_type_pt >= 7.0


def test_its_pages_by_themselves_are_proved_and_tagged(tmp_path: Path) -> None:
    pages = made().of
    assert pages is not None
    found = proved(pages, typesetter().pdf(pages), tmp_path)
    assert found.problems == ()
    assert found.pages == PAGES
    assert page_validation.validate_pdf_bytes(typesetter().pdf(pages), profile="ua1").checks.failed == 0


def test_two_runs_give_the_same_bytes() -> None:
    again = booklet(library(), library().procedures[0], renderer())
    assert again == made()
    assert typesetter().pdf(again) == data()


def test_pages_that_are_left_over_are_for_notes() -> None:
    notes = made().explained["pages_of_notes"]
    assert made().of is not None
    assert notes > 0
    assert made().of.text.count('<section class="notes">') == notes


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('id="caution-toxic-dose"', 'id="caution-toxic-dose" style="color: #bbb"', "contrast"),
        ("The nerve is seen along its whole length.", "", "is not there"),
        ("</style>", ".notes { margin-left: -3mm }</style>", "margin"),
        ("</style>", ".cites { font-size: 5pt }</style>", "5.0 pt"),
    ],
)
def test_a_booklet_that_lost_something_is_refused(old: str, new: str, said: str, tmp_path: Path) -> None:
    assert made().of is not None
    sheet = replace(made(), of=spoilt(made().of, old, new, count=-1))
    problems = proved(sheet, typesetter().pdf(sheet), tmp_path).problems
    assert any(said in problem for problem in problems), problems


@pytest.mark.parametrize(
    "change",
    [
        lambda one: replace(one, page=2) if one.page == 1 else replace(one, page=1) if one.page == 2 else one,
        lambda one: replace(one, turned=not one.turned) if one.page == 5 else one,
        lambda one: replace(one, left_mm=one.left_mm + 6) if one.page == 3 else one,
    ],
    ids=["two pages change places", "a page stands on its head", "a page is moved"],
)
def test_a_sheet_whose_pages_lie_wrongly_is_refused(change: Callable[[Placed], Placed], tmp_path: Path) -> None:
    wrong = replace(made(), placed=tuple(change(one) for one in made().placed))
    assert proved(made(), typesetter().pdf(wrong), tmp_path).problems


def measured(pages: Callable[[float, str], int]) -> Renderer:
    """A renderer for which a page count is a matter of type size and text."""

    def measure(html: str) -> tuple[dict[str, float], ...]:
        size = re.search(r"html \{ font-size: ([\d.]+)pt", html)
        assert size is not None
        return ({},) * pages(float(size[1]), html)

    return Renderer(load_templates(BASE), measure)


def test_the_largest_type_in_which_all_of_it_fits_is_taken() -> None:
    made = booklet(library(), library().procedures[0], measured(lambda pt, _: 9 if pt > 8 else 8))
    assert made.explained["type_pt"] == 7.8
    assert made.left_out == ()


def test_what_is_least_grave_loses_its_longer_form_first() -> None:
    cue = "The nerve is seen along its whole length."
    long = "Tell the supervising surgeon before closing."  # of a warning

    def pages(_: float, html: str) -> int:
        return 9 if long in html else 7

    made = booklet(library(), library().procedures[0], measured(pages))
    assert made.of is not None
    assert long not in made.of.text
    assert cue in made.of.text  # of a critical step
    assert "Stop injecting and call for help." in made.of.text  # of a danger
    assert made.left_out
    assert made.explained["type_pt"] == DENSITIES[0].pt


def test_a_booklet_that_cannot_hold_what_it_must_says_so() -> None:
    with pytest.raises(Refused) as refused:
        booklet(library(), library().procedures[0], measured(lambda *_: 11))
    assert "takes 11 of 8 pages" in refused.value.finding.message
    assert refused.value.finding.at.file.endswith("procedure.md")

"""Sheets of cards: distinct content is placed, and fronts meet their backs when the paper is cut, folded or turned."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from papers import document, library, proved, renderer, typesetter

from builder.compose.card import card_sheet
from builder.compose.card.card_fit import FOLDED, SINGLE
from builder.compose.card.card_sheet import placed_sides
from builder.compose.document import Document, Placed
from builder.publish.paper.pdf import impose
from builder.readback.paper.finished_pdf import MM, PaintedText
from builder.readback.paper.painted import sheets_of

LAYOUTS = {"fold": card_sheet.fold, "duplex": card_sheet.duplex}
A4_WIDTH = 210 * MM


def sheet(layout: str) -> Document:
    return LAYOUTS[layout](library(), library().procedures[0], renderer())


def numbered_card(*names: str) -> Document:
    """A card whose sides bear only a name in their top left corner."""
    sides = "".join(f'<p style="break-after: page">{name}</p>' for name in names)
    css = (
        "@page { size: 105mm 148mm; margin: 10mm } body, p { margin: 0 } p { font-size: 20pt }"
        "p:last-child { break-after: auto }"
    )
    text = f'<html lang="en"><head><title>c</title><style>{css}</style></head><body>{sides}</body></html>'
    return replace(document("card"), text=text)


SIDES = ("FRONT", "SECOND", "THIRD", "BACK")


def names_on(layout: str, sides: int) -> list[PaintedText]:
    """What is printed where, with a card whose sides bear their names."""
    names = (SIDES[0], SIDES[-1]) if sides == SINGLE else SIDES
    made = replace(sheet(layout), of=numbered_card(*names), placed=placed_sides(layout, sides))
    read = sheets_of(pypdfium2.PdfDocument(typesetter().pdf(made)))
    return [piece for page in read for piece in page.pieces if piece.text.strip() in SIDES]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_sheet_passes_its_proofs(layout: str, tmp_path: Path) -> None:
    made = sheet(layout)
    found = proved(made, typesetter().pdf(made), tmp_path)
    assert found.problems == ()
    assert found.pages == {"fold": 1, "duplex": 2}[layout] + 1  # the last says how to print it
    assert found.smallest_type_pt >= 7


@pytest.mark.parametrize("layout", LAYOUTS)
def test_two_runs_give_the_same_bytes(layout: str) -> None:
    assert typesetter().pdf(sheet(layout)) == typesetter().pdf(sheet(layout))


def test_turned_over_its_long_edge_every_front_has_its_back_behind_it() -> None:
    pieces = names_on("duplex", SINGLE)
    fronts = [piece for piece in pieces if piece.page == 1]
    backs = [piece for piece in pieces if piece.page == 2]
    assert {piece.text.strip() for piece in fronts} == {"FRONT"}
    assert {piece.text.strip() for piece in backs} == {"BACK"}
    assert len(fronts) == len(backs) == 4
    # Seen through the paper from the front, what lies x mm from the left of page 2 lies x mm from the right.
    seen_through = {_cell(A4_WIDTH - piece.box.right, piece.box.bottom) for piece in backs}
    assert seen_through == {_cell(piece.box.left, piece.box.bottom) for piece in fronts}
    assert all(piece.turn == 0 and not piece.mirrored for piece in pieces)


def test_folded_down_the_middle_every_front_has_its_back_behind_it() -> None:
    pieces = names_on("fold", SINGLE)
    assert len(pieces) == 4
    fronts = {_cell(p.box.left, p.box.bottom) for p in pieces if p.text.strip() == "FRONT"}
    backs = {_cell(p.box.left, p.box.bottom) for p in pieces if p.text.strip() == "BACK"}
    # The fold lays column 0 behind column 1, row by row: a cover has its front on the right.
    assert fronts == {(1, 0), (1, 1)}
    assert backs == {(0, 0), (0, 1)}


def test_folded_twice_the_four_sides_are_read_in_order_and_none_stands_on_its_head() -> None:
    """Folded behind, the upper half turns over its lower edge; then left and right close like a book."""
    pieces = {piece.text.strip(): piece for piece in names_on("fold", FOLDED)}
    assert {name: _cell(piece.box.left, piece.box.bottom) for name, piece in pieces.items()} == {
        "FRONT": (1, 0), "BACK": (0, 0), "SECOND": (1, 1), "THIRD": (0, 1),
    }  # fmt: skip
    # What is folded behind and looked at from behind is turned by half a circle: printed so, it is upright.
    assert {name: piece.turn for name, piece in pieces.items()} == {
        "FRONT": 0, "BACK": 0, "SECOND": 180, "THIRD": 180,
    }  # fmt: skip
    # Seen from behind the right column is on the left: an open card shows side 2 on the left and 3 on the right.
    seen = {name: 1 - _cell(piece.box.left, piece.box.bottom)[0] for name, piece in pieces.items() if piece.turn}
    assert seen == {"SECOND": 0, "THIRD": 1}


def test_printed_on_both_sides_the_inner_sides_lie_behind_the_outer() -> None:
    pieces = names_on("duplex", FOLDED)
    assert {piece.turn for piece in pieces} == {0}
    behind = {
        (_cell(A4_WIDTH - piece.box.right, piece.box.bottom)): piece.text.strip() for piece in pieces if piece.page == 2
    }
    front = {_cell(piece.box.left, piece.box.bottom): piece.text.strip() for piece in pieces if piece.page == 1}
    assert {(front[cell], behind[cell]) for cell in front} == {("FRONT", "SECOND"), ("BACK", "THIRD")}
    assert len(front) == len(behind) == 4


@pytest.mark.parametrize("layout", LAYOUTS)
def test_how_to_print_stands_outside_the_card_and_the_printer_is_asked_not_to_scale(layout: str) -> None:
    data = typesetter().pdf(sheet(layout))
    read = sheets_of(pypdfium2.PdfDocument(data))
    words = [" ".join(piece.text for piece in page.texts) for page in read]
    assert "100\u00a0%" in words[-1]
    assert not [page for page in words[:-1] if "100\u00a0%" in page or "Cut along" in page or "Fold" in page]
    with pikepdf.open(io.BytesIO(data)) as made:
        assert made.Root.ViewerPreferences.PrintScaling == pikepdf.Name("/None")


def _cell(left: float, bottom: float) -> tuple[int, int]:
    return int(left // (105 * MM)), int(bottom // (148.5 * MM))


def test_a_page_that_is_turned_stands_on_its_head_in_its_cell() -> None:
    pages = typesetter().pdf(numbered_card("FRONT", "BACK"))
    under = typesetter().pdf(sheet("fold"))
    made = impose(under, pages, [Placed(1, 1, 105.0, 148.5, turned=True)])
    piece = next(
        p for s in sheets_of(pypdfium2.PdfDocument(made)) for p in s.pieces if p.text.strip() == "FRONT" and p.turn
    )
    assert piece.turn == 180
    assert not piece.mirrored
    # 10 mm from the left and top of the page is 10 mm from the right and bottom of its cell.
    assert piece.box.right == pytest.approx(200 * MM, abs=3)
    assert piece.box.bottom == pytest.approx(10.5 * MM, abs=6)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"placed": (Placed(1, 2, 0, 0), Placed(1, 1, 105, 0), Placed(1, 2, 0, 148.5))}, "same"),
        ({"placed": (Placed(1, 1, 0, 0), Placed(1, 1, 105, 0), Placed(1, 1, 0, 148.5))}, "is not there"),
        ({"placed": (Placed(1, 2, -9, 0), Placed(1, 1, 105, 0))}, "off the page"),
        ({"placed": (Placed(1, 2, 0, 0), Placed(1, 1, 60, 0))}, "“"),
        ({"placed": (Placed(1, 2, 0, 0, turned=True), Placed(1, 1, 105, 0))}, "is not there"),
    ],
)  # fmt: skip
def test_cards_laid_wrongly_are_caught(change: dict[str, tuple[Placed, ...]], said: str, tmp_path: Path) -> None:
    wanted = sheet("fold")
    made = typesetter().pdf(replace(wanted, **change))
    problems = proved(wanted, made, tmp_path).problems
    assert any(said in problem for problem in problems), problems


def test_a_mirrored_sheet_is_caught(tmp_path: Path) -> None:
    with pikepdf.open(io.BytesIO(typesetter().pdf(sheet("fold")))) as made:
        made.pages[0].contents_add(b"q -1 0 0 1 595.28 0 cm", prepend=True)
        made.pages[0].contents_add(b"Q")
        target = io.BytesIO()
        made.save(target)
    problems = proved(sheet("fold"), target.getvalue(), tmp_path).problems
    assert any("upright" in problem for problem in problems), problems

"""The map: every step, choice, danger, count, sight and bar once, drawn and in the tables, and nothing on another."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pypdfium2
import pytest
from decks import DEMO, DEMONSTRATION
from lxml import etree
from papers import document, library, proved, renderer, spoilt, typesetter
from small_procedures import Maker

from builder.compose.map.map_drawing import SIZES_PT, Drawing, draw, draw_line, marks_of
from builder.compose.map.map_view import MapBar, MapChoice, MapSight, MapStep, MapView, MapWay, map_of, windowed
from builder.compose.map.operation_map import ROOM, MapFigure, compose, drawings_of, figure_of, name_of, tables_of
from builder.compose.site import page
from builder.compose.slides.slide_text import width_of
from builder.compose.view.outline import ChoiceBlock, every_block, outline, step_blocks
from builder.facts.course import IN, OUT
from builder.readback.site.page import read_back

SVG = "{http://www.w3.org/2000/svg}"
MM = 25.4 / 72
TITLES = (
    "Count, then close the aponeurosis over the cord",
    "Look for every kind of sac",
    "Open the canal along its fibres, nerve in view",
    "Ask the anaesthetist before you cut",
)


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float
    words: str

    def meets(self, other: Box) -> bool:
        return (
            min(self.right, other.right) - max(self.left, other.left) > 0.05
            and min(self.bottom, other.bottom) - max(self.top, other.top) > 0.05
        )


def texts(svg: str) -> list[Box]:
    """The boxes of all text of a drawing: from the ascent of the capitals to just under the line."""
    root = etree.fromstring(svg.encode())
    pt = float(root.find(f"{SVG}g").get("font-size")) / MM
    found = []
    for node in root.iter(f"{SVG}text"):
        x, y = float(node.get("x")), float(node.get("y"))
        wide = width_of(node.text, pt, bold=node.get("font-weight") == "700") * MM
        found.append(Box(x, y - 0.73 * pt * MM, x + wide, y + 0.2 * pt * MM, node.text))
    return found


def words_of(svg: str) -> str:
    return "".join("".join(box.words for box in texts(svg)).split())


def bare(*words: object) -> str:
    return "".join("".join(map(str, words)).split())


@pytest.mark.parametrize("seed", range(60))
def test_everything_is_on_the_drawing_and_in_the_tables_once(seed: int) -> None:
    made = Maker(seed).library()
    (procedure,) = made.procedures
    view = map_of(made, procedure)
    blocks = outline(procedure)
    assert [(step.number, step.title) for step in view.steps] == [
        (block.number, block.step.title) for block in step_blocks(blocks)
    ]
    assert len(view.choices) == sum(isinstance(block, ChoiceBlock) for block in every_block(blocks))
    drawn = words_of(draw(view, "Map").svg)
    order = [
        *(bare(sight.at, sight.name) for sight in view.sights),
        *(bare(choice.label) for choice in view.choices),
        *(bare(step.number, step.title, *marks_of(step)) for step in view.steps),
        *(bare(bar.text) for bar in view.bars),
    ]
    headings = ("Seenbythen", "Steps", "Inthepatient", "Ward")
    for heading in headings:
        drawn = drawn.replace(heading, "", 1)
    assert drawn == "".join(order)
    tables = tables_of(view)
    assert [(bar.name, bar.course) for run in tables.bars for bar in run] == [
        (bar.name, bar.course) for bar in view.bars
    ]
    rows = [row for run in tables.steps for row in run]
    assert [row.number for row in rows if row.number] == [step.number for step in view.steps]
    assert sorted(name for row in rows for name in re.split(r", | and ", row.seen.lower()) if name) == sorted(
        sight.name.lower() for sight in view.sights for _ in sight.numbers
    )


@pytest.mark.parametrize("seed", range(60))
def test_no_text_lies_on_another_or_beyond_the_edge(seed: int) -> None:
    made = Maker(seed).library()
    for _, drawing in drawings_of(map_of(made, made.procedures[0]), "Map"):
        assert drawing.height <= ROOM
        assert lying_on_another(drawing) == []


def lying_on_another(drawing: Drawing) -> list[tuple[Box, Box]]:
    boxes = texts(drawing.svg)
    beyond = [(box, box) for box in boxes if box.left < 0 or box.right > drawing.width]
    return beyond + [(box, other) for at, box in enumerate(boxes) for other in boxes[at + 1 :] if box.meets(other)]


def long_map() -> MapView:
    """Seventeen steps with two choices, an option with a choice in it, twelve bars and fourteen sights."""
    ways = (
        MapWay(0, 0, 3, 3, 0), MapWay(1, 0, 3, 4, 0), MapWay(1, 0, 8, 9, 0), MapWay(1, 1, 8, 8, 1),
        MapWay(2, 1, 8, 8, 1), MapWay(0, 0, 13, 12, 0), MapWay(1, 0, 13, 13, 0),
    )  # fmt: skip
    choices = [MapChoice(3, "Anaesthetic: A local or B general"), MapChoice(8, "If needed: indirect sac")]
    choices += [
        MapChoice(8, "Handling of the sac: A reduce or B divide"),
        MapChoice(13, "Anaesthetic: A local or B general"),
    ]
    lanes = {3: ((0, "A"), (1, "B")), 4: ((0, ""), (1, "B")), 8: ((1, "A"), (2, "B")), 9: ((1, ""),), 13: ((1, "B"),)}
    steps = [
        MapStep(
            column, lane, f"{column}{letter}", TITLES[(column + lane) % 4], f"step-{column}-{lane}", bool(column % 3),
            ("Bowel in the sac",) if column % 2 else (), ("swabs",) if column in (9, 15) else (),
        )
        for column in range(1, 18)
        for lane, letter in lanes.get(column, ((0, ""),))
    ]  # fmt: skip
    bars = tuple(_retractor(at, at + 4) for at in range(1, 13))
    seen = (4, 4, 4, 5, 5, 5, 6, 6, 7, 7, 8, 9, 9, 11)
    sights = tuple(MapSight(column, (str(column),), "external oblique aponeurosis") for column in seen)
    return MapView(17, (*choices, *steps), ways, bars, sights)


def _retractor(first: int, last: int) -> MapBar:
    between = tuple(IN if first <= column < last else OUT for column in range(18))
    return MapBar(f"self-retaining retractor {first}", f"{first} to {last}", between, (first,), (last,), "")


def test_a_long_operation_fits_on_one_sheet_in_type_of_8_pt_with_no_word_broken() -> None:
    view = long_map()
    sheets = list(drawings_of(view, "Map"))
    assert len(sheets) == 1
    _, drawing = sheets[0]
    assert drawing.height <= ROOM
    assert drawing.broken == 0
    assert min(SIZES_PT) >= 8
    assert lying_on_another(drawing) == []
    assert {name for name, _, _ in drawing.pieces} == {bar.name for bar in view.bars}


def test_what_is_too_much_for_one_sheet_goes_on_on_the_next_and_nothing_is_lost() -> None:
    view = long_map()
    many = replace(view, bars=tuple(replace(bar, name=f"{bar.name}{turn}") for turn in "abcd" for bar in view.bars))
    sheets = list(drawings_of(many, "Map"))
    assert len(sheets) > 1
    assert [bar.name for part, _ in sheets for bar in part.bars] == [bar.name for bar in many.bars]
    assert all(drawing.height <= ROOM for _, drawing in sheets)
    left, right = windowed(view, 1, 9), windowed(view, 10, 17)
    assert [step.number for step in (*left.steps, *right.steps)] == [step.number for step in view.steps]
    assert left.goes_on
    assert not right.goes_on
    assert max(step.column for step in right.steps) == right.columns == 8
    crossing = [bar for bar in view.bars if bar.starts[0] <= 9 < bar.ends[0]]
    assert {bar.name for bar in left.bars} & {bar.name for bar in right.bars} == {bar.name for bar in crossing}


@pytest.mark.parametrize("name", DEMO)
def test_no_box_of_the_line_on_a_slide_touches_another_and_marks_stand_below(name: str) -> None:
    view = map_of(library(DEMONSTRATION), library(DEMONSTRATION).by_id[name])
    svg = draw_line(view, name).svg
    found = re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)"[^>]* stroke-width="0.4"', svg)
    lanes = defaultdict(list)
    for x, y, width in found:
        lanes[y].append((float(x), float(x) + float(width)))
    assert len(found) == len(view.steps)
    for boxes in lanes.values():
        assert all(one[1] < other[0] for one, other in pairwise(sorted(boxes)))
    marks = [float(y) for y in re.findall(r'<path d="M[\d.]+ ([\d.]+)h2.6l-1.3 -2.4z"', svg)]
    assert min(marks) > min(map(float, lanes))


def test_what_follows_an_option_names_the_option() -> None:
    labels = {
        choice.label
        for procedure in library(DEMONSTRATION).procedures
        for choice in map_of(library(DEMONSTRATION), procedure).choices
    }
    assert "As chosen before: A if large lobe" in labels
    assert not [label for label in labels if "left out" in label]


def test_a_bar_inside_one_step_of_one_way_is_hollow() -> None:
    view = long_map()
    step = view.steps[0]
    every = MapBar("probe", f"in {step.number} only", (OUT,) * 18, (step.column,), (), "")
    some = replace(every, course=f"in {step.number}, only if way in: blunt")
    solid, hollow = (draw(replace(view, bars=(bar,)), "Map").svg.count('fill="#fff"') for bar in (every, some))
    assert hollow == solid + 1


@pytest.mark.parametrize("name", DEMO)
def test_no_bar_goes_from_a_step_to_the_same_step(name: str) -> None:
    courses = [bar.course for bar in map_of(library(DEMONSTRATION), library(DEMONSTRATION).by_id[name]).bars]
    for part in (part for course in courses for part in course.split(", or ") if re.match(r"\d\S* .*to \d", part)):
        begin, end = (set(re.findall(r"\d+[A-Z]?", half)) for half in part.split(" to ", 1))
        assert not begin & end, part
    if name == "carpal-tunnel-decompression":
        assert "7 to 9, or in 9" in courses


@pytest.mark.parametrize("name", DEMO)
def test_the_key_stands_below_each_drawing_of_the_demonstration(name: str) -> None:
    of = library(DEMONSTRATION), library(DEMONSTRATION).by_id[name], renderer(DEMONSTRATION)
    pdf = pypdfium2.PdfDocument(typesetter(DEMONSTRATION).pdf(compose(*of)))
    across = [page.get_textpage().get_text_bounded() for page in pdf if page.get_width() > page.get_height()]
    pdf.close()
    assert across
    assert all("Black number: critical step." in text for text in across)


def test_marked_steps_are_marked() -> None:
    view = long_map()
    anchor = view.steps[4].anchor
    plain, marked = draw(view, "Map").svg, draw(replace(view, marked=frozenset({anchor})), "Map").svg
    assert marked.count("<rect") == plain.count("<rect") + 1


def test_the_sheet_is_proved_on_paper(tmp_path: Path) -> None:
    made = document("map")
    assert made.left_out == ()
    assert {must.kind for must in made.musts} >= {"sight", "choice", "step", "bar"}
    assert proved(made, typesetter().pdf(made), tmp_path).problems == ()


def rect_of(text: str, piece: list[object]) -> str:
    _, _, begins, ends = piece
    (found,) = re.findall(rf'<rect x="{begins:.2f}" y="[\d.]+" width="{ends - begins:.2f}" height="1.10"[^>]*/>', text)
    return str(found)


def test_a_bar_that_is_not_painted_is_noticed(tmp_path: Path) -> None:
    made = document("map")
    piece = made.explained["bars"][0]
    bad = spoilt(made, rect_of(made.text, piece), "")
    problems = proved(bad, typesetter().pdf(bad), tmp_path).problems
    assert len(problems) == 1
    assert f"the bar '{piece[1]}' is not painted" in problems[0]


def test_a_bar_that_ends_too_early_is_noticed(tmp_path: Path) -> None:
    made = document("map")
    whole = rect_of(made.text, made.explained["bars"][0])
    bad = spoilt(made, whole, re.sub(r'width="[\d.]+"', 'width="5.00"', whole))
    assert any("is not painted" in problem for problem in proved(bad, typesetter().pdf(bad), tmp_path).problems)


@pytest.mark.parametrize("kind", ["sight", "choice", "step", "bar"])
def test_a_text_that_is_lost_from_the_drawing_or_its_table_is_noticed(kind: str, tmp_path: Path) -> None:
    made = document("map")
    must = next(must for must in made.musts if must.kind == kind)
    last = must.text.split(": ")[-1].split()[-1]
    for place in ("drawing", "table"):
        cut = made.text.index('<section class="tables">')
        parts = [made.text[:cut], made.text[cut:]]
        at = 0 if place == "drawing" else 1
        assert last in re.sub(r"<[^>]*>", " ", parts[at]), (place, must)
        parts[at] = re.sub(rf"(?<=[> ]){re.escape(last)}(?=[< ])", "", parts[at], count=0)
        bad = replace(made, text="".join(parts))
        assert proved(bad, typesetter().pdf(bad), tmp_path).problems, (place, must)


@pytest.fixture(scope="module")
def on_the_page() -> MapFigure:
    return figure_of(library(), library().procedures[0])


def test_the_page_shows_the_drawing_and_its_tables(on_the_page: MapFigure) -> None:
    made = page.compose(library(), library().procedures[0], renderer())
    shown = made.text[made.text.index("<div") :]
    root = etree.fromstring(shown.encode(), etree.HTMLParser(encoding="utf-8"))
    (section,) = root.xpath("//section[@aria-labelledby='map']")
    (drawing,) = section.findall(".//svg")
    assert drawing.findtext("title") == name_of(library().procedures[0])
    drawn = bare(*(text for text in drawing.itertext()))
    for must in on_the_page.tables.musts:
        assert bare(must.text) in bare(*section.itertext()), must
    for bar in (bar for run in on_the_page.tables.bars for bar in run):
        assert bare(bar.text) in drawn
    assert [must.kind for must in made.musts].count("bar") == sum(map(len, on_the_page.tables.bars))


def test_a_bar_that_is_lost_from_the_page_is_noticed(on_the_page: MapFigure, tmp_path: Path) -> None:
    made = page.single_file(library(), library().procedures[0], renderer())
    bar = on_the_page.tables.bars[0][0]
    path = tmp_path / "page.html"
    for course, is_lost in ((bar.course, False), ("1 to 2", True)):
        row = f'<td class="first">{bar.name}</td><td>{bar.course}</td>'
        assert row in made.text
        path.write_text(made.text.replace(row, row.replace(bar.course, course)), encoding="utf-8")
        assert any(bar.name in problem for problem in read_back(made, path).problems) is is_lost

"""The map drawn as SVG. All lengths are mm; every text is measured, wrapped to the room it has, and lies on nothing.

From top to bottom: what has been seen, the lanes with their steps, the bars. A title stands above or below its lane,
whichever has room: the line of a choice that passes there, the next step on that side and the edge of the map bound it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from html import escape
from math import inf
from unicodedata import normalize

from builder.compose.map.map_view import STAYS, MapBar, MapStep, MapView, MapWay
from builder.compose.slides.slide_text import width_of
from builder.facts.course import IN
from builder.load.program_words import gettext, noted

WIDTH = 273.0
"""What an A4 sheet has room for across, between margins of 12 mm."""
SIZES_PT = (9.4, 8.7, 8.0)
"""Sizes of type, the largest that fits is taken; readable in the hand (common practice: 8 pt or more)."""
_MM = 25.4 / 72
_WARD, _WIDEST_COLUMN = 14.0, 42.0
_GAP, _BEND = 2.0, 0.6  # beside other text, and beside the line of a choice
_NODE, _MIDDLE = 3.0, 6.6  # half the height of a step's box, and where its middle lies in its column
_BAR, _ICON = 1.1, 2.9
_APART = 0.4  # half of what stays free between two boxes, where columns are narrow
_BARE_COLUMN, _BARE_WIDTH = 8.6, 116.0  # mm of a bare line: drawn as wide as a slide, its numbers are 24 pt or more
_OFF_SIDE = 300.0  # what it costs, in mm² of height, to put a title between two lanes, where it might be of either
_INK, _RED, _GRID = "#14181b", "#b8141f", "#ccd3d8"
DANGER, COUNT = noted("Danger"), noted("Count")
_Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing: its ``svg``, its size, and the pieces of each bar, as painted: from and to in mm;
    ``broken`` counts words that did not fit their room."""

    svg: str
    width: float
    height: float
    pieces: tuple[tuple[str, float, float], ...]
    broken: int

    @property
    def scalable(self) -> str:
        """The drawing without a size of its own: it fills what it stands in."""
        return self.svg.replace(f' width="{self.width:.2f}mm" height="{self.height:.2f}mm"', "", 1)


@dataclass(frozen=True, slots=True)
class _TitleBlock:
    """Lines of text that begin at ``x``, lines of ``marks`` after them, and where they end to the right and below."""

    x: float
    lines: list[str]
    marks: list[list[str]]
    end: float
    height: float


@dataclass(slots=True)
class _LaneRoom:
    """What stands in one lane: titles above and below its line, and where that runs."""

    above: dict[str, _TitleBlock] = field(default_factory=dict)
    below: dict[str, _TitleBlock] = field(default_factory=dict)
    y: float = 0.0


def draw(view: MapView, title: str, room: float = inf) -> Drawing:
    """Return the drawing of ``view``, called ``title`` for those who hear it, in the largest type that fits.

    Each bar has a row of its own, unless even in the smallest type that is higher than ``room`` in mm.
    """
    smallest = _Draughtsman(view, SIZES_PT[-1]).drawing(title)
    if smallest.height > room:
        return _Draughtsman(view, SIZES_PT[-1], is_tight=True).drawing(title)
    larger = (_Draughtsman(view, pt).drawing(title) for pt in SIZES_PT[:-1])
    return next((one for one in larger if one.height <= room and one.broken <= smallest.broken), smallest)


def draw_line(view: MapView, title: str) -> Drawing:
    """Return the line of steps alone, with numbers and marks and no words, to be read from the back of a room: as wide
    as its numbers need."""
    steps = tuple(replace(step, title="") for step in view.steps)  # choices are told in words beside it
    return _Draughtsman(replace(view, line=steps, sights=(), bars=()), SIZES_PT[0], is_bare=True).drawing(title)


@lru_cache(maxsize=8192)
def _wide(words: str, pt: float, bold: bool) -> float:  # a cache knows no names
    return width_of(words, pt, bold=bold)


class _Measure:
    """Measures and wraps text of one size."""

    def __init__(self, pt: float) -> None:
        self.pt = pt
        self.line_height = pt * 0.4

    def wide(self, words: str, *, bold: bool = False) -> float:
        """Return how wide ``words`` are in mm."""
        return _wide(words, self.pt, bold) * _MM

    def marks_wide(self, words: Sequence[str]) -> float:
        """Return how wide a line of marks is."""
        return sum(_ICON + self.wide(word, bold=True) + _GAP for word in words)

    def wrapped(self, words: str, width: float) -> tuple[list[str], int]:
        """Return ``words`` in lines of at most ``width`` mm, and how many words had to be broken for it."""
        lines, broken = [""], 0
        for word in words.split():
            longer = f"{lines[-1]} {word}".strip()
            if self.wide(longer) <= width:
                lines[-1] = longer
                continue
            rest = word
            while self.wide(rest) > width and len(rest) > 1:
                head = next(at for at in range(len(rest) - 1, 0, -1) if at == 1 or self.wide(rest[:at]) <= width)
                lines.append(rest[:head])
                rest, broken = rest[head:], broken + 1
            lines.append(rest)
        return [line for line in lines if line], broken


class _Draughtsman:
    """Draws one map from top to bottom."""

    def __init__(self, view: MapView, pt: float, *, is_tight: bool = False, is_bare: bool = False) -> None:
        self.view = view
        self.type = _Measure(pt)
        self.line_height = self.type.line_height
        self.row = self.line_height + 1.9
        self.is_tight = is_tight
        self.is_bare = is_bare
        bare = min(_BARE_COLUMN, _BARE_WIDTH / max(1, view.columns))
        self.column = bare if is_bare else min(_WIDEST_COLUMN, (WIDTH - _WARD) / max(1, view.columns))
        self.ward = self.left(view.columns + 1)
        self.width = self.ward + (0.0 if is_bare else _WARD)
        self.parts: list[str] = []
        self.pieces: list[tuple[str, float, float]] = []
        self.broken = 0
        parting = [way for way in view.ways if way.lane != way.parent]
        self.bends = [(self.fork(way), way.parent, way.lane) for way in parting if not way.is_cut[0]]
        self.bends += [(self.join(way), way.parent, way.lane) for way in parting if not way.ends and not way.is_cut[1]]
        self.lanes = [_LaneRoom() for _ in range(1 + max((way.lane for way in view.ways), default=0))]

    def left(self, column: int) -> float:
        return (column - 1) * self.column

    def at(self, column: int) -> float:
        return self.left(column) + (self.column / 2 if self.is_bare else _MIDDLE)

    def fork(self, way: MapWay) -> float:
        return self.left(way.first) + 0.5 + 0.9 * way.depth

    def join(self, way: MapWay) -> float:
        return self.left(max(way.first, way.last) + 1) - 0.5 - 0.9 * way.depth

    def drawing(self, title: str) -> Drawing:
        y = self.sights(self.heading(gettext("Seen by then"), 0.0)) if self.view.sights else 0.0
        y = self.steps(1.0 if self.is_bare else self.heading(gettext("Steps"), y))
        if not self.is_bare:
            below = self.heading(gettext("In the patient"), y)
            if not self.view.goes_on:
                self.text(self.ward + 1, y + 0.8, gettext("Ward"), bold=True)
            y = self.bars(below)
        columns = [] if self.is_bare else [*map(self.at, range(1, self.view.columns + 1)), self.ward]
        grid = "".join(f'<path d="M{x:.2f} 5.4V{y:.2f}" stroke="{_GRID}" stroke-width="0.15"/>' for x in columns)
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{self.width:.2f}mm" height="{y:.2f}mm" '
            f'viewBox="0 0 {self.width:.2f} {y:.2f}"><title>{escape(title)}</title>'
            f'<rect width="{self.width:.2f}" height="{y:.2f}" fill="#fff"/>{grid}'
            f'<g font-family="Prescrub Sans" font-size="{self.type.pt * _MM:.3f}" fill="{_INK}">'
            f"{''.join(self.parts)}</g></svg>"
        )
        return Drawing(svg, self.width, y, tuple(self.pieces), self.broken)

    # what everything is made of

    def text(self, x: float, y: float, words: str, *, bold: bool = False, white: bool = False) -> float:
        """Write ``words`` on a white ground, the top of their line at ``y``; return where they end."""
        end = x + self.type.wide(words, bold=bold)
        if not white:
            self.box((x - 0.3, y), (end - x + 0.6, self.line_height), "#fff")
        more = (' font-weight="700"' if bold else "") + (' fill="#fff"' if white else "")
        self.parts.append(
            f'<text x="{x:.2f}" y="{y + 0.8 * self.line_height:.2f}"{more}>{escape(normalize("NFC", words))}</text>'
        )
        return end

    def box(self, corner: _Point, size: _Point, fill: str, edge: float = 0.0) -> None:
        stroke = f' stroke="{_INK}" stroke-width="{edge}"' if edge else ""
        where = f'x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{size[0]:.2f}" height="{size[1]:.2f}"'
        self.parts.append(f'<rect {where} fill="{fill}"{stroke}/>')

    def line(self, path: str, width: float = 0.7, ink: str = _INK) -> None:
        self.parts.append(f'<path d="{path}" fill="none" stroke="{ink}" stroke-width="{width}"/>')

    def heading(self, words: str, y: float) -> float:
        """Write the heading of a band; return where the band begins."""
        self.line(f"M0 {y + 0.2:.2f}H{self.width:.2f}", 0.3)
        self.text(0.3, y + 0.8, words, bold=True)
        return y + 1.6 + self.line_height

    # what has been seen, and the steps

    def sights(self, y: float) -> float:
        texts = [(self.left(sight.column) + 1.2, sight.at, sight.name) for sight in self.view.sights]
        return self.packed(y, texts)

    def packed(self, y: float, texts: Iterable[tuple[float, str, str]]) -> float:
        """Write texts, the first word of each bold, where they begin or left of it, in as few rows as they need."""
        rows = _Rows()
        for begins, first, rest in texts:
            wide = self.type.wide(f"{first} ", bold=True) + self.type.wide(rest)
            x = max(0.3, min(begins, self.width - wide - 0.3))
            top = y + rows.place(x, x + wide) * self.line_height
            self.text(self.text(x, top, first, bold=True) + self.type.wide(" ", bold=True), top, rest)
        return y + rows.count * self.line_height + 1.0

    def steps(self, y: float) -> float:
        labels = ((choice, *choice.label.partition(": ")) for choice in self.view.choices)
        y = self.packed(y, [(self.left(one.column) + 1.2, title + colon, ways) for one, title, colon, ways in labels])
        sky = [(0.0, self.width, y)]
        for lane, room in enumerate(self.lanes):
            self.arrange_titles(lane, room)
            rails = [(0.0, self.width)] if not lane else [self.rail(way) for way in self.view.ways if way.lane == lane]
            needs = [(x, end, _NODE + 1.2) for x, end in rails]
            needs += [(block.x, block.end, block.height + _NODE + 2.8) for block in room.above.values()]
            needs += [(block.x, block.end, -_NODE) for block in room.below.values()]
            if not needs:
                continue
            room.y = max(_under(sky, x, end) + more for x, end, more in needs)
            sky += [(x, end, room.y + _NODE) for x, end in rails]
            sky += [(block.x, block.end, room.y + _NODE + 0.6 + block.height) for block in room.below.values()]
        self.rails()
        for step in self.view.steps:
            self.step(step)
        return _under(sky, 0.0, self.width) + 2.0

    def rail(self, way: MapWay) -> tuple[float, float]:
        return self.fork(way), self.join(way)

    def arrange_titles(self, lane: int, room: _LaneRoom) -> None:
        """Place titles below or above the line so that the fewest words are broken and no title is high."""
        steps = [step for step in self.view.steps if step.lane == lane]
        blocks = [list(self.fitted(steps, place)) for place in range(len(steps))]

        @cache
        def best(place: int, below: float, above: float) -> tuple[float, int, tuple[tuple[bool, _TitleBlock], ...]]:
            """Return the least cost from a step on, its broken words and the blocks, where two sides are free from
            there on."""
            if place == len(steps):
                return 0.0, 0, ()
            found = []
            for is_below, block, broken in blocks[place]:
                if (below if is_below else above) <= block.x:
                    free = block.end + 1.0
                    cost, others, rest = best(place + 1, free if is_below else below, above if is_below else free)
                    off_side = not is_below and (lane or self.is_bare)  # marks without words read as one row
                    cost += block.height**2 + 1000 * broken + _OFF_SIDE * bool(off_side)
                    found.append((cost, others + broken, ((is_below, block), *rest)))
            return min(found, key=lambda plan: plan[0], default=(inf, 0, ()))

        _, broken, plan = best(0, 0.0, 0.0)
        self.broken += broken
        for step, (is_below, block) in zip(steps, plan, strict=True):
            (room.below if is_below else room.above)[step.anchor] = block

    def fitted(self, steps: Sequence[MapStep], place: int) -> Iterator[tuple[bool, _TitleBlock, int]]:
        """Yield the blocks that a title may be: below its line or not, as wide as to the next step or the one after."""
        step, x = steps[place], self.at(steps[place].column) - (1.6 if self.is_bare else 5.2)
        following = [self.left(other.column) - _GAP for other in steps[place + 1 : place + 3]]
        for after in [*following, *([self.width] if len(following) < 2 else [])]:
            for is_below in (True, False):
                most = min(after, self.bound(x, step.lane, below=is_below) - _BEND) - x
                lines, broken = self.type.wrapped(step.title, most)
                block = self.block(x, lines, self.marks_of(step, most))
                yield is_below, block, broken + (block.end - x > most)

    def bound(self, x: float, lane: int, *, below: bool) -> float:
        """Return where the next line of a choice crosses this side of ``lane``, from just before ``x`` on."""
        bends = (at for at, top, bottom in self.bends if (top <= lane < bottom if below else top < lane <= bottom))
        return min((at for at in bends if at > x - _BEND), default=self.width)

    def block(self, x: float, lines: list[str], marks: list[list[str]]) -> _TitleBlock:
        widths = [*map(self.type.wide, lines), *(_ICON if self.is_bare else self.type.marks_wide(row) for row in marks)]
        return _TitleBlock(x, lines, marks, x + max(widths, default=0.0), (len(lines) + len(marks)) * self.line_height)

    def marks_of(self, step: MapStep, width: float) -> list[list[str]]:
        words = [self.shown(word) for word in marks_of(step)]
        return [words] if words and self.type.marks_wide(words) <= width else [[word] for word in words]

    def rails(self) -> None:
        """Draw the lines that the steps stand on, as they part and join."""
        end = self.width if self.view.goes_on else self.ward - 2
        self.line(f"M{self.at(1):.2f} {self.lanes[0].y:.2f}H{end:.2f}")
        for way in self.view.ways:
            y, parent = self.lanes[way.lane].y, self.lanes[way.parent].y
            stop = self.at(way.last) + _MIDDLE
            if way.lane != way.parent:
                leaves = f"M0 {y:.2f}" if way.is_cut[0] else f"M{self.fork(way):.2f} {parent:.2f}V{y:.2f}"
                joins = f"H{self.width:.2f}" if way.is_cut[1] else f"H{self.join(way):.2f}V{parent:.2f}"
                self.line(leaves + (f"H{stop:.2f}" if way.ends else joins))
            elif way.ends:
                self.box((stop, y - 0.5), (max(0.0, self.left(way.last + 1) - stop), 1.0), "#fff")
            if way.ends:
                self.line(f"M{stop:.2f} {y - 2:.2f}v4", 1.0)

    def step(self, step: MapStep) -> None:
        room = self.lanes[step.lane]
        half = max(3.2, self.type.wide(step.number, bold=True) / 2 + 1.0)
        if self.is_bare:
            half = min(half, self.column / 2 - _APART)
        x, y = self.at(step.column), room.y
        if step.anchor in self.view.marked:
            self.box((x - half - 1, y - _NODE - 0.2), (2 * half + 2, 2 * _NODE + 0.4), "#fff", 0.5)
        self.box((x - half, y - 2.6), (2 * half, 5.2), _INK if step.critical else "#fff", 0.4)
        number = x - self.type.wide(step.number, bold=True) / 2
        self.text(number, y - self.line_height / 2 + 0.1, step.number, bold=True, white=step.critical)
        block = room.above.get(step.anchor) or room.below[step.anchor]
        top = y + _NODE + 0.4 if step.anchor in room.below else y - _NODE - 0.4 - block.height
        for row, words in enumerate(block.lines):
            self.text(block.x, top + row * self.line_height, words)
        for row, marks in enumerate(block.marks, start=len(block.lines)):
            self.marks(block.x, top + row * self.line_height, marks)

    def shown(self, word: str) -> str:
        """Return the word of a mark; on a bare line the mark alone."""
        word = gettext(word)
        return word[:1] if self.is_bare else word

    def marks(self, x: float, y: float, words: Sequence[str]) -> None:
        for word in words:
            self.box((x - 0.3, y), (_ICON, self.line_height), "#fff")
            if word[:1] == gettext(DANGER)[:1]:
                self.parts.append(f'<path d="M{x:.2f} {y + 2.8:.2f}h2.6l-1.3 -2.4z" fill="{_RED}"/>')
                self.line(f"M{x + 1.3:.2f} {y + 1.2:.2f}v0.75m0 0.2v0.3", 0.35, "#fff")
            else:
                strokes = "".join(f"M{x + 0.1 + 0.6 * at:.2f} {y + 0.6:.2f}v2.2" for at in range(4))
                self.line(f"{strokes}M{x - 0.1:.2f} {y + 2.4:.2f}l2.5 -1.2", 0.3)
            x = x + _ICON + 0.4 if self.is_bare else self.text(x + _ICON, y, word, bold=True) + _GAP

    # the bars

    def bars(self, y: float) -> float:
        rows = _Rows()
        for bar in self.view.bars:
            start = self.at(bar.starts[0]) - (0.2 if bar.between[bar.starts[0]] & IN else 1.0) if bar.starts else 0.3
            x = max(0.3, min(start, self.width - self.type.wide(bar.text) - 0.3))
            lines, _ = self.type.wrapped(bar.text, self.width - x)
            ends = [
                x + self.type.wide(bar.text),
                *map(self.at, bar.ends),
                *([self.width] if bar.between[-1] & IN else []),
            ]
            row = rows.place(x if self.is_tight else 0.0, max(ends) if self.is_tight else self.width)
            top = y + row * self.row
            for words in lines:
                self.text(x, top, words)
                top += self.line_height
            self.bar(bar, top + 0.2)
            for _ in lines[1:]:
                rows.place(0.0, self.width)
        return y + rows.count * self.row + 0.6

    def bar(self, bar: MapBar, y: float) -> None:
        """Paint a bar: solid where the thing is in on every way, hollow where it is in on some."""
        ends = [0.0, *map(self.at, range(1, self.view.columns + 1)), self.end_of(bar)]
        for first, last, marks in _runs(bar.between):
            x, to = ends[first], ends[last + 1]
            self.piece(bar, x, to, y, is_solid=marks == IN)
        for column in bar.starts:
            if not bar.between[column] & IN:
                here = (step.number for step in self.view.steps if step.column == column)
                on_every_way = not any(f"in {number}, only if" in bar.course for number in here)
                self.piece(bar, self.at(column) - 1.0, self.at(column) + 1.0, y, is_solid=on_every_way)
        inside = {column for column, marks in enumerate(bar.between) if marks & IN}
        for column in sorted({*bar.starts, *bar.ends} & (inside | {column + 1 for column in inside})):
            self.line(f"M{self.at(column):.2f} {y - 0.3:.2f}v{_BAR + 0.6:.2f}", 0.5)
        if bar.between[-1] & IN and bar.fate == STAYS:
            self.parts.append(f'<path d="M{self.width - 2.2:.2f} {y - 0.6:.2f}l2.2 {_BAR / 2 + 0.6:.2f}l-2.2 1.15z"/>')

    def end_of(self, bar: MapBar) -> float:
        if self.view.goes_on:
            return self.width
        return self.width - 2.0 if bar.fate == STAYS else self.ward + 0.7 * _WARD

    def piece(self, bar: MapBar, x: float, to: float, y: float, *, is_solid: bool) -> None:
        self.box((x, y), (to - x, _BAR), _INK)
        if not is_solid:
            self.box((x + 0.25, y + 0.25), (to - x - 0.5, _BAR - 0.5), "#fff")
        self.pieces.append((bar.name, round(x, 2), round(to, 2)))


class _Rows:
    """Puts what lies side by side into as few rows as it needs."""

    def __init__(self) -> None:
        self._ends: list[float] = []

    @property
    def count(self) -> int:
        return len(self._ends)

    def place(self, x: float, end: float) -> int:
        """Return the first row that is free from ``x`` on."""
        row = next((row for row, taken in enumerate(self._ends) if taken <= x), self.count)
        self._ends[row : row + 1] = [end + _GAP]
        return row


def _under(sky: Iterable[tuple[float, float, float]], x: float, end: float) -> float:
    """Return how far down what lies between ``x`` and ``end`` reaches."""
    return max(bottom for left, right, bottom in sky if left < end and x < right)


def marks_of(step: MapStep) -> list[str]:
    """Return the words of the marks at ``step``."""
    return [word for word, told in ((DANGER, step.dangers), (COUNT, step.counts)) if told]


def _runs(between: Sequence[int]) -> list[tuple[int, int, int]]:
    """Return the runs of columns after which a bar goes on in one way: first, last, marks."""
    runs: list[tuple[int, int, int]] = []
    for column, marks in enumerate(between):
        if marks & IN:
            if runs and runs[-1][1:] == (column - 1, marks):
                runs[-1] = (runs[-1][0], column, marks)
            else:
                runs.append((column, column, marks))
    return runs

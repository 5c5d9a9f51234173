"""Where in its window a drawing has anything: a pointer to where nothing is drawn shows the wrong thing, or none."""

import re
from collections.abc import Mapping
from functools import lru_cache
from math import hypot, radians
from typing import NamedTuple
from xml.parsers import expat

from fontTools.misc.transform import Identity, Transform
from fontTools.pens.boundsPen import ControlBoundsPen
from fontTools.svgLib.path import parse_path
from fontTools.svgLib.path.shapes import PathBuilder

_SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
_KEPT_ASIDE = frozenset({"defs", "symbol", "marker", "pattern", "clipPath", "mask", "style", "title", "desc"})
# What these draw, and where, is not worked out.
_UNCERTAIN = frozenset({"use", "text", "image", "svg"})
_FUNCTION = re.compile(r"([a-zA-Z]+)\s*\(([^()]*)\)")
_SLACK = 0.02  # of the longer side of the window: thick lines reach further than their points

Box = tuple[float, float, float, float]
Spot = tuple[int, int]
"""Line and column in the file."""


class _Uncertain(Exception):
    pass


class _Place(NamedTuple):
    """What holds for what is drawn inside an element."""

    turn: Transform
    is_aside: bool


class DrawnGround:
    """The window of a drawing, the boxes of its shapes in it, and the places in the file of what lies ``outside``."""

    def __init__(self, window: Box, shapes: tuple[tuple[Box, Spot], ...]) -> None:
        self._window = window
        self._boxes = tuple(box for box, _ in shapes)
        self.outside = tuple(at for box, at in shapes if not _meets(box, window))

    def has_at(self, across: float, down: float) -> bool:
        """Tell whether anything lies ``across`` and ``down`` per cent of the window."""
        left, top, width, height = self._window
        x, y, slack = left + across / 100 * width, top + down / 100 * height, _SLACK * max(width, height)
        return any(a - slack <= x <= c + slack and b - slack <= y <= d + slack for a, b, c, d in self._boxes)


def _meets(box: Box, window: Box) -> bool:
    left, top, width, height = window
    return box[0] < left + width and box[2] > left and box[1] < top + height and box[3] > top


@lru_cache(maxsize=256)
def ground_of(drawing: str) -> DrawnGround | None:
    """Return where ``drawing`` has anything, None where that is not certain."""
    reader = _GroundReader()
    try:
        reader.parser.Parse(drawing.encode("utf-8", "replace"), True)
    except (expat.ExpatError, ValueError, ArithmeticError, IndexError, NotImplementedError, _Uncertain):
        return None
    return DrawnGround(reader.window, tuple(reader.shapes)) if reader.window and reader.shapes else None


class _GroundReader:
    def __init__(self) -> None:
        self.window: Box | None = None
        self.shapes: list[tuple[Box, Spot]] = []
        self.parser = expat.ParserCreate()
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = lambda _: self._open.pop()
        self._open: list[_Place] = []

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if not self._open:
            left, top, width, height = map(float, attributes.get("viewBox", "").replace(",", " ").split())
            self.window = left, top, width, height
            self._open.append(_Place(Identity, name != "svg"))
            return
        above = self._open[-1]
        if name in _UNCERTAIN and not above.is_aside:
            raise _Uncertain
        turn = above.turn.transform(_turn_of(attributes["transform"])) if "transform" in attributes else above.turn
        self._open.append(_Place(turn, above.is_aside or name in _KEPT_ASIDE))
        if name in _SHAPES and not self._open[-1].is_aside:
            at = self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber + 1
            self.shapes.extend((box, at) for box in _boxes_of(name, attributes, turn))


def _turn_of(transform: str) -> Transform:
    """Return what the attribute ``transform`` does (SVG 1.1, 7.6)."""
    turn = Identity
    for name, told in _FUNCTION.findall(transform):
        numbers = [float(number) for number in told.replace(",", " ").split()]
        match name, numbers:
            case "matrix", [a, b, c, d, e, f]:
                turn = turn.transform((a, b, c, d, e, f))
            case "translate", [x, *y]:
                turn = turn.translate(x, *y)
            case "scale", [x, *y]:
                turn = turn.scale(x, *y)
            case "rotate", [angle]:
                turn = turn.rotate(radians(angle))
            case "rotate", [angle, across, down]:
                turn = turn.translate(across, down).rotate(radians(angle)).translate(-across, -down)
            case (("skewX" | "skewY"), [angle]):
                turn = turn.skew(*((radians(angle), 0) if name == "skewX" else (0, radians(angle))))
            case _:
                raise _Uncertain
    return turn


class _Shape(NamedTuple):
    """An element as the library reads it."""

    tag: str
    attrib: Mapping[str, str]


def _boxes_of(name: str, attributes: Mapping[str, str], turn: Transform) -> list[Box]:
    pen, builder = ControlBoundsPen(None), PathBuilder()
    builder.add_path_from_element(_Shape(name, {key: attributes[key] for key in attributes if key != "transform"}))
    for path in builder.paths:
        parse_path(path, pen)
    if pen.bounds is None:
        return []
    left, top, right, bottom = pen.bounds
    thick = float(attributes.get("stroke-width", "0").removesuffix("px")) / 2
    thick *= max(hypot(turn[0], turn[1]), hypot(turn[2], turn[3]))
    corners = [turn.transformPoint((x, y)) for x in (left, right) for y in (top, bottom)]
    across, down = zip(*corners, strict=True)
    return [(min(across) - thick, min(down) - thick, max(across) + thick, max(down) + thick)]

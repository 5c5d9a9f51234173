"""What a drawing says that would not be shown, and what would take for ever to draw.

A drawing keeps its static shapes, text and paint (SVG 1.1). What else is in it, such as a link around a shape or one
more picture, is taken out before anybody sees it; so it is found first, at its line. What an editor keeps for itself
in a language of its own is never drawn, and nothing is said of it.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple
from xml.parsers import expat

from builder.findings.message_words import quoted

SVG = "http://www.w3.org/2000/svg"
XLINK_HREF = "http://www.w3.org/1999/xlink}href"
ELEMENTS = frozenset({
    "svg", "g", "defs", "symbol", "use", "title", "desc", "path", "rect", "circle", "ellipse", "line", "polyline",
    "polygon", "text", "tspan", "textPath", "marker", "linearGradient", "radialGradient", "stop", "pattern", "clipPath",
    "mask", "style",
})  # fmt: skip
"""Static shapes, text and paint. No script, no animation, no foreign content, no pictures inside pictures."""
_KEPT_ASIDE = frozenset({"defs", "symbol", "marker", "pattern", "clipPath", "mask", "stop"})
DEEPEST = 200
MOST_SHAPES = 20_000
"""What a drawing comes to once everything it uses again is drawn again."""
_REMOTE = ("url(", "@import", "expression", "javascript:", "\\")
# A style that moves, shapes or hides: a browser does it, paper does not, or only under some conditions.
_SHAPING = re.compile(
    r"(?<![-\w])(?:d|x|y|cx|cy|r|rx|ry|width|height|transform[-\w]*|translate|rotate|scale|offset[-\w]*|filter|content|"
    r"animation[-\w]*|transition[-\w]*|zoom|position|inset)\s*:|@[a-z]|:(?:hover|focus|target|active)\b",
    re.IGNORECASE,
)
# At an opacity below 0.1 black on white has a contrast of 1.2 to 1.
_HIDDEN = re.compile(
    r"(?<![-\w])(?:display\s*:\s*none|visibility\s*:\s*(?:hidden|collapse)|"
    r"opacity\s*:\s*(?:[.0%]+|0?\.0\d*)\s*(?:[;!}]|$))",
    re.IGNORECASE,
)
_HIDING = frozenset({"display", "visibility", "opacity"})
_GRADIENTS = frozenset({"linearGradient", "radialGradient"})
_PAINT = re.compile(r"""(?:fill|stroke)\s*:\s*url\(["']?#([^)"']+)["']?\)""")
_CLEAR = re.compile(r"(?<![-\w])stop-opacity\s*:\s*(?:[.0%]+|0?\.0\d*)\s*(?:;|$)")
_DASHES = re.compile(r"(?<![-\w])stroke-dasharray\s*:\s*([\d.,\s]*\d)")
_WIDTH = re.compile(r"(?<![-\w])stroke-width\s*:\s*([\d.]+)")
_LEAST_DASHED = 0.05  # of a dashed line: less than this, ends that are round counted in, is a line that is not seen
_UNSEEN = frozenset({"metadata", "script"})


class DrawingFault(NamedTuple):
    """What is wrong with a drawing: place, ``what`` in words, and what to do; ``is_whole``: it cannot be drawn."""

    line: int
    column: int
    what: str
    hint: str
    is_whole: bool = False


def fetches(text: str) -> bool:
    """Tell whether a style or attribute could name something outside the drawing; ``url(#id)`` stays inside it."""
    low = "".join(text.lower().split()).replace("url(#", "").replace("url('#", "").replace('url("#', "")
    return any(word in low for word in _REMOTE)


@lru_cache(maxsize=256)
def faults_of(drawing: str) -> tuple[DrawingFault, ...]:
    """Return what is wrong with the text of a ``drawing``, in order of place."""
    reader = _DrawingReader()
    try:
        reader.read(drawing)
    except _Stopped as stopped:
        return (*reader.faults, stopped.fault)
    except (expat.ExpatError, ValueError) as error:
        line, column = getattr(error, "lineno", 1), getattr(error, "offset", 0) + 1
        what = f"it cannot be read as an SVG drawing ({error})"
        return (*reader.faults, DrawingFault(line, column, what, "Save it again as plain SVG.", is_whole=True))
    return (*reader.faults, *reader.unseen(), *reader.bombs())


def _told(attributes: Mapping[str, str]) -> str:
    """Return what attributes and style of an element say of its look, as a style: what the style says is last."""
    keys = ("stop-opacity", "fill", "stroke", "stroke-width", "stroke-dasharray", *_HIDING)
    told = (f"{key}: {attributes[key]}" for key in keys if key in attributes)
    return "; ".join((*told, attributes.get("style", "")))


def _hiding_dashes(told: str) -> re.Match[str] | None:
    """Return the dashes of a line that come to next to nothing; round ends are as long as the line is wide."""
    match = _DASHES.search(told)
    lengths = [float(length) for length in match[1].replace(",", " ").split() if length.count(".") < 2] if match else []
    widths = _WIDTH.findall(told) or ["1"]
    drawn = sum(lengths[::2]) + float(widths[-1]) * len(lengths[::2])
    return match if len(lengths) > 1 and drawn < _LEAST_DASHED * sum(lengths) else None


class _Stopped(Exception):
    def __init__(self, fault: DrawingFault) -> None:
        super().__init__(fault.what)
        self.fault = fault


@dataclass(slots=True)
class _Grown:
    """An element with an id, and all in it: how many, and which ids they use again."""

    line: int
    column: int
    count: int = 1
    uses: list[str] = field(default_factory=list)


class _DrawingReader:
    """Reads the tags of one drawing; nothing is built, so its size does not matter."""

    def __init__(self) -> None:
        self.faults: list[DrawingFault] = []
        self._parser = expat.ParserCreate(namespace_separator="}")
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._data
        self._parser.EntityDeclHandler = self._entity
        self._depth = 0
        self._dropped = 0  # the depth of the outermost element that is not shown
        self._in_style = False
        self._style = ""
        self._open: list[tuple[int, _Grown]] = []
        self._grown: dict[str, _Grown] = {"": _Grown(1, 1)}
        self._stops: dict[str, list[bool]] = {}  # by gradient: of each stop, whether nothing of it is seen
        self._painted: list[tuple[str, DrawingFault]] = []

    def read(self, drawing: str) -> None:
        self._parser.Parse(drawing.encode("utf-8", "replace"), True)

    def _here(self, what: str, hint: str, *, is_whole: bool = False) -> DrawingFault:
        line, column = self._parser.CurrentLineNumber, self._parser.CurrentColumnNumber + 1
        return DrawingFault(line, column, what, hint, is_whole)

    def _entity(self, *_: object) -> None:
        raise _Stopped(self._here("it declares entities", "Save it again as plain SVG.", is_whole=True))

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        self._depth += 1
        space, _, name = tag.rpartition("}")
        if self._depth == 1 and (space, name) != (SVG, "svg"):
            raise _Stopped(self._here("it is not an SVG drawing", "Save it again as plain SVG.", is_whole=True))
        if self._depth > DEEPEST:
            what = f"its elements are nested more than {DEEPEST} deep"
            raise _Stopped(self._here(what, "Ungroup what is grouped again and again.", is_whole=True))
        if self._dropped:
            return
        if space != SVG or name not in ELEMENTS:
            self._dropped = self._depth
            if space == SVG and name not in _UNSEEN:
                hint = "Save the drawing as plain SVG, with text and shapes as they are and without links or pictures."
                self.faults.append(self._here(f"<{name}> and all in it", hint))
            return
        if told := self._hides(name, attributes):
            hint = "Delete what nobody is to see, or let it be seen: a pointer may name it."
            self.faults.append(self._here(f"<{name}> with {told} and all in it", hint))
        self._in_style, self._style = name == "style", ""
        self._grow(name, attributes)
        self._judge(attributes)
        self._paint(name, attributes)

    def _judge(self, attributes: Mapping[str, str]) -> None:
        for key, value in attributes.items():
            if key in ("href", XLINK_HREF):
                if not value.startswith("#"):
                    hint = "Draw the shape itself here; a drawing shows nothing of another file."
                    self.faults.append(self._here(f"what {quoted(value[:60])} names", hint))
            elif "}" not in key and not key.lower().startswith("on") and fetches(value):
                hint = "Paint with colours and gradients of the drawing itself."
                self.faults.append(self._here(f"{key}={quoted(value[:60])}", hint))

    def _paint(self, name: str, attributes: Mapping[str, str]) -> None:
        """Note what a gradient is made of, and what is painted with one."""
        told = _told(attributes)
        if name in _GRADIENTS:
            self._stops[attributes.get("id", "")] = []
        elif name == "stop" and self._stops:
            self._stops[next(reversed(self._stops))].append(bool(_CLEAR.search(told)))
        else:
            hint = "Delete what nobody is to see, or paint it with a colour."
            fault = self._here(f"<{name}> painted with nothing that is seen", hint)
            self._painted.extend((id, fault) for id in _PAINT.findall(told))

    def unseen(self) -> Iterator[DrawingFault]:
        """Yield a fault for what is painted with a gradient of which nothing is seen."""
        clear = {id for id, stops in self._stops.items() if stops and all(stops)}
        yield from dict.fromkeys(fault for id, fault in self._painted if id in clear)

    def _hides(self, name: str, attributes: Mapping[str, str]) -> str:
        """Return what of an element hides it or shapes it otherwise than its attributes say, "" where nothing does."""
        style = attributes.get("style", "")
        told = _told(attributes)
        match = _HIDDEN.search(told) or (_SHAPING.search(style) if self._depth > 1 else None) or _hiding_dashes(told)
        return quoted(match[0]) if match and name not in _KEPT_ASIDE else ""

    def _grow(self, name: str, attributes: Mapping[str, str]) -> None:
        for _, grown in self._open:
            grown.count += 1
        whole = self._grown[""]
        whole.count += 1
        if id := attributes.get("id"):
            place = self._parser.CurrentLineNumber, self._parser.CurrentColumnNumber + 1
            self._grown[id] = _Grown(*place)
            self._open.append((self._depth, self._grown[id]))
        target = attributes.get(XLINK_HREF, attributes.get("href", ""))
        if name == "use" and target.startswith("#"):
            for grown in (whole, *(grown for _, grown in self._open)):
                grown.uses.append(target[1:])

    def _data(self, text: str) -> None:
        if self._in_style:
            self._style += text

    def _end(self, _: str) -> None:
        if self._in_style and not self._dropped:
            self._judge_style()
        self._in_style = False
        if self._dropped == self._depth:
            self._dropped = 0
        if self._open and self._open[-1][0] == self._depth:
            self._open.pop()
        self._depth -= 1

    def _judge_style(self) -> None:
        if fetches(self._style):
            hint = "Write the style without addresses, or save the drawing as plain SVG."
            self.faults.append(self._here("a style that names another file", hint))
        elif match := _SHAPING.search(self._style) or _HIDDEN.search(self._style):
            hint = "Draw shapes where they are; let a style say only their paint."
            self.faults.append(self._here(f"what a style moves, shapes or hides ({quoted(match[0].strip())})", hint))

    def bombs(self) -> Iterator[DrawingFault]:
        """Yield a fault where the drawing uses itself, or comes to more shapes than anybody draws."""
        sizes: dict[str, int] = {}

        def size(id: str, deep: int) -> int:
            if deep > DEEPEST:
                return MOST_SHAPES + 1  # it uses itself, or as good as that
            if id not in sizes:
                grown = self._grown.get(id)
                total = grown.count if grown else 0
                for used in grown.uses if grown else ():
                    total += size(used, deep + 1)
                    if total > MOST_SHAPES:
                        break
                sizes[id] = total
            return sizes[id]

        if size("", 0) > MOST_SHAPES:
            what = f"it comes to more than {MOST_SHAPES:,} shapes, because what is used again uses others again"
            yield DrawingFault(1, 1, what, "Draw fewer shapes, and no shape by itself.", is_whole=True)

"""A figure with one mark on it, for a question that shows it without its numbers and legend."""

from io import BytesIO
from pathlib import Path
from typing import Any

from lxml import etree
from lxml.builder import ElementMaker
from PIL import Image, ImageDraw

from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.publish.pictures import clean_photograph, frame_of, safe_drawing, safe_picture

_SVG = "http://www.w3.org/2000/svg"
_RADIUS = 0.022
"""Of the mark, as part of the width of the figure."""
_RINGS = ((1.0, "#ffffff"), (0.8, "#b8141f"), (0.45, "#ffffff"))


def member(root: Path, path: str, x: str = "", y: str = "") -> bytes:
    """Return the figure at ``path`` in the folder ``root`` for a package, with a mark where ``x`` and ``y`` say.

    Raises PublishError where it is no picture.
    """
    if x and y:
        return marked_figure(root, path, float(x), float(y))
    return safe_picture(path, read_bytes(root, path, MAX_FIGURE_BYTES))


def marked_figure(root: Path, path: str, x: float, y: float) -> bytes:
    """Return the figure at ``path`` in the folder ``root`` with a mark at ``x`` and ``y`` per cent.

    Raises PublishError where it is no picture.
    """
    content = read_bytes(root, path, MAX_FIGURE_BYTES)
    if path.endswith(".svg"):
        return _marked_drawing(safe_drawing(path, content), x, y)
    return _marked_photograph(clean_photograph(path, content), x, y)


def _marked_drawing(content: bytes, x: float, y: float) -> bytes:
    drawing: Any = etree.fromstring(content)
    left, top, width, height = frame_of(content)
    svg = ElementMaker(namespace=_SVG)
    place = {"cx": f"{left + x / 100 * width:.2f}", "cy": f"{top + y / 100 * height:.2f}"}
    drawing.extend(svg.circle(r=f"{width * _RADIUS * part:.2f}", fill=ink, **place) for part, ink in _RINGS)
    return bytes(etree.tostring(drawing))


def _marked_photograph(content: bytes, x: float, y: float) -> bytes:
    with Image.open(BytesIO(content)) as opened:
        picture = opened.convert("RGB")
    across, down = x / 100 * picture.width, y / 100 * picture.height
    for part, ink in _RINGS:
        radius = picture.width * _RADIUS * part
        ImageDraw.Draw(picture).ellipse((across - radius, down - radius, across + radius, down + radius), fill=ink)
    target = BytesIO()
    picture.save(target, "PNG")
    return target.getvalue()

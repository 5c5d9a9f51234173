"""Figures for a .pptx: a PNG of bare points, and for drawings the cleaned SVG beside it, so that lines stay sharp."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import pypdfium2
from PIL import Image
from weasyprint import HTML

from builder.compose.slides.slide import SlidePicture
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.publish.paper.fetcher import ProjectFetcher
from builder.publish.pictures.drawings import safe_drawing
from builder.publish.pictures.images import clean_photograph

_WIDE = 1680
"""Points across a PNG that is made of a drawing: most of a slide on a common projector."""
_PAGE_PT = 480.0
_COLOURS = 200


@dataclass(frozen=True, slots=True)
class SlideImage:
    """A figure ready to be put into a file: its PNG, and its SVG where it is a drawing (else empty)."""

    points: bytes
    drawing: bytes = b""


def shown(root: Path, picture: SlidePicture) -> SlideImage:
    """Return the figure at ``picture.path`` in the department's folder ``root``; equal files give equal bytes.

    Raises PublishError, in plain words, where it is no picture.
    """
    content = read_bytes(root, picture.path, MAX_FIGURE_BYTES)
    if not picture.path.endswith(".svg"):
        return SlideImage(clean_photograph(picture.path, content))
    return SlideImage(_drawn(root, picture), safe_drawing(picture.path, content))


def _drawn(root: Path, picture: SlidePicture) -> bytes:
    height = _PAGE_PT / picture.aspect
    html = (
        f"<style>@page {{ size: {_PAGE_PT}pt {height}pt; margin: 0 }} body {{ margin: 0 }} "
        f"img {{ display: block; width: {_PAGE_PT}pt; height: {height}pt }}</style>"
        f'<img src="folder:{quote(picture.path)}">'
    )
    pdf = HTML(string=html, base_url=None, url_fetcher=ProjectFetcher(root)).write_pdf()
    document = pypdfium2.PdfDocument(pdf)
    try:
        image = document[0].render(scale=_WIDE / _PAGE_PT).to_pil().convert("RGB")
        # Drawings have few colours: a table of them makes the file a third of the size.
        image = image.quantize(_COLOURS, dither=Image.Dither.NONE)
    finally:
        document.close()
    target = BytesIO()
    image.save(target, "PNG", optimize=True)
    return target.getvalue()

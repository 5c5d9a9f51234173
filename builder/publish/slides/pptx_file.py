"""Writes a deck as a .pptx: every word in a placeholder of its layout, every picture described, notes on every slide.

The same deck gives the same bytes: times are those of the library's day, numbers follow the order of the slides.
A figure is a PNG of bare points, and for drawings the cleaned SVG beside it, so that lines stay sharp.
"""

import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import pypdfium2
from PIL import Image
from pptx import Presentation
from pptx.opc.constants import RELATIONSHIP_TYPE
from pptx.opc.package import Part
from pptx.opc.packuri import PackURI
from weasyprint import HTML

from builder.compose.document import Document
from builder.compose.slides.slide import Deck, Slide, SlidePart, SlidePicture
from builder.compose.slides.slides import deck_from
from builder.load.files import digest_of, read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.program_words import gettext
from builder.load.templates import FOLDER
from builder.publish.cache import digest_of_extras, digest_of_value
from builder.publish.output import packed
from builder.publish.paper.pdf import ProjectFetcher
from builder.publish.pictures import clean_photograph, safe_drawing
from builder.publish.slides.slide_look import TYPE, layout_of
from builder.publish.slides.slide_xml import box_shapes, finished, foot_shapes, note, picture, pointers

_WIDE = 1680
"""Points across a PNG that is made of a drawing: most of a slide on a common projector."""
_PAGE_PT = 480.0
_COLOURS = 200


def write_slides(document: Document, path: Path, root: Path) -> None:
    """Write ``document``, whose text is a Deck in JSON, to ``path``; its pictures lie in the folder ``root``."""
    path.write_bytes(_DeckWriter(deck_from(document.text), root).file())


class _DeckWriter:
    """Fills the base presentation with one deck."""

    def __init__(self, deck: Deck, root: Path) -> None:
        self.deck = deck
        self.root = root
        self.presentation: Any = Presentation(str(Path(__file__).with_name("template.pptx")))
        self.layouts = {layout.name: layout for layout in self.presentation.slide_layouts}
        self._figures: dict[str, tuple[bytes, Part | None]] = {}

    def file(self) -> bytes:
        """Return the finished file."""
        masters = self.presentation.slide_master, self.presentation.notes_master
        for page in (*masters, *self.presentation.slide_layouts):
            finished(page.element, self.deck.language)
        for slide in self.deck.slides:
            self._slide(slide)
        self._properties()
        made = BytesIO()
        self.presentation.save(made)
        with zipfile.ZipFile(made) as package:
            names = sorted(package.namelist(), key=lambda name: (name != "[Content_Types].xml", name))
            return packed((name, package.read(name)) for name in names)

    def _slide(self, slide: Slide) -> None:
        made = self.presentation.slides.add_slide(self.layouts[layout_of(slide.kind, slide.signal)])
        made.name = ""
        for shape in list(made.shapes):
            shape.element.getparent().remove(shape.element)
        tree = made.shapes.element  # shapes are put in as they are, in reading order
        turns: Counter[int] = Counter()
        for box in slide.boxes:
            tree.extend(box_shapes(box, turns))
            if box.role == "title":
                tree.extend(self._picture(made.part, slide))
        tree.extend(foot_shapes(self.deck.mark, self.deck.running))
        finished(tree, self.deck.language)
        self._notes(made.notes_slide, slide.notes)

    def _picture(self, part: Any, slide: Slide) -> Iterator[Any]:
        at, figure = slide.frame, slide.picture
        if at is None or figure is None:
            return
        if figure.path not in self._figures:
            self._figures[figure.path] = self._figure(figure)
        png, drawing = self._figures[figure.path]
        _, points = part.get_or_add_image_part(BytesIO(png))
        yield picture(figure, at, points, part.relate_to(drawing, RELATIONSHIP_TYPE.IMAGE) if drawing else "")
        if figure.spots:
            yield pointers(figure, at)

    def _figure(self, figure: SlidePicture) -> tuple[bytes, Part | None]:
        png, drawing = shown(self.root, figure)
        number = sum(part is not None for _, part in self._figures.values()) + 1
        name, package = PackURI(f"/ppt/media/drawing{number}.svg"), self.presentation.part.package
        return png, Part(name, "image/svg+xml", package, drawing) if drawing else None

    def _notes(self, page: Any, notes: tuple[SlidePart, ...]) -> None:
        body = page.notes_text_frame._txBody  # python-pptx has no way to say the language of a run
        for paragraph in page.notes_text_frame.paragraphs:
            body.remove(paragraph._p)
        body.extend(note(told.role, told.text) for told in notes)
        finished(page.element, self.deck.language)
        for shape, name in zip(page.shapes, ("Slide", "Notes"), strict=False):
            shape.name = name

    def _properties(self) -> None:
        deck, told = self.deck, self.presentation.core_properties
        told.author = told.last_modified_by = deck.department
        told.title = gettext("%(title)s: slides, edition %(edition)s", title=deck.title, edition=deck.edition)
        told.language = deck.language
        told.subject = deck.mark or gettext("Edition %(edition)s", edition=deck.edition)
        told.revision = 1
        if deck.day:
            told.created = told.modified = datetime.fromisoformat(f"{deck.day}T00:00:00")
        else:  # nobody has approved it, so no day is its own
            for moment in told._element.xpath("dcterms:created | dcterms:modified"):  # python-pptx cannot take it out
                told._element.remove(moment)


def shown(root: Path, picture: SlidePicture) -> tuple[bytes, bytes]:
    """Return the figure at ``picture.path`` in the department's folder ``root`` as PNG, and as SVG if it is a drawing
    (else empty); equal files give equal bytes.

    Raises PublishError, in plain words, where it is no picture.
    """
    if picture.drawing:
        drawing = picture.drawing.replace("Prescrub Sans", TYPE)  # a file cannot carry our type to every machine
        return drawn(root, picture.aspect, picture.drawing), drawing.encode()
    content = read_bytes(root, picture.path, MAX_FIGURE_BYTES)
    if not picture.path.endswith(".svg"):
        return clean_photograph(picture.path, content), b""
    image = f'<img src="folder:{quote(picture.path)}">'
    return drawn(root, picture.aspect, image), safe_drawing(picture.path, content)


_OUR_TYPE = " ".join(
    f'@font-face {{ font-family: "Prescrub Sans"; font-weight: {weight}; src: url("templates:fonts/{file}.ttf") }}'
    for weight, file in ((400, "PrescrubSans-Regular"), (700, "PrescrubSans-Bold"))
)


_SHOWN = re.compile(r'src="folder:([^"]+)"')
_MOST_DRAWN = 128
_DRAWN: dict[str, bytes] = {}
"""Figures that this process has drawn, by a digest of all that they are made of: departments share them."""


def drawn(root: Path, aspect: float, image: str) -> bytes:
    """Return the HTML ``image``, a figure ``aspect`` times as wide as high, as PNG."""
    height = _PAGE_PT / aspect
    html = (
        f"<style>{_OUR_TYPE} @page {{ size: {_PAGE_PT}pt {height}pt; margin: 0 }} body {{ margin: 0 }} "
        f"img, svg {{ display: block; width: {_PAGE_PT}pt; height: {height}pt }}</style>{image}"
    )
    files = [digest_of(read_bytes(root, unquote(name), MAX_FIGURE_BYTES)) for name in _SHOWN.findall(image)]
    key = digest_of_value([html, files, digest_of_extras(root / FOLDER)])
    if key not in _DRAWN:
        if len(_DRAWN) >= _MOST_DRAWN:
            _DRAWN.clear()
        _DRAWN[key] = _points(html, root)
    return _DRAWN[key]


def _points(html: str, root: Path) -> bytes:
    pdf = HTML(string=html, base_url=None, url_fetcher=ProjectFetcher(root)).write_pdf()
    with closing(pypdfium2.PdfDocument(pdf)) as document:
        points = document[0].render(scale=_WIDE / _PAGE_PT).to_pil().convert("RGB")
    # Drawings have few colours: a table of them makes the file a third of the size.
    points = points.quantize(_COLOURS, dither=Image.Dither.NONE)
    target = BytesIO()
    points.save(target, "PNG", optimize=True)
    return target.getvalue()

"""Writes a deck as a .pptx: every word in a placeholder of its layout, every picture described, notes on every slide.

The same deck gives the same bytes: times are those of the library's day, numbers follow the order of the slides.
A figure is a PNG of bare points, and for drawings the cleaned SVG beside it, so that lines stay sharp.
"""

import re
import zipfile
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
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
from builder.compose.slides.slide import Deck, Slide, SlideBox, SlidePicture, SpeakerNote
from builder.compose.slides.slides import deck_from, placed
from builder.load.files import digest_of, read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.program_words import gettext
from builder.load.templates import FOLDER
from builder.publish.cache import digest_of_extras, digest_of_value
from builder.publish.output import packed
from builder.publish.paper.pdf import ProjectFetcher
from builder.publish.pictures import clean_photograph, safe_drawing
from builder.publish.slides.slide_look import LOOKS, TYPE, layout_of
from builder.publish.slides.slide_xml import (
    Shapes,
    bars,
    foot_shapes,
    landmark,
    note,
    picture,
    pointers,
    signal,
    text_shape,
)

_TREE_HEAD = 2  # of a shape tree: its name and its frame
_LANDMARKS = ("number", "critical", "letter")
_WIDE = 1680
"""Points across a PNG that is made of a drawing: most of a slide on a common projector."""
_PAGE_PT = 480.0
_COLOURS = 200


@dataclass(frozen=True, slots=True)
class SlideImage:
    """A figure ready to be put into a file: its PNG, and its SVG where it is a drawing (else empty)."""

    points: bytes
    drawing: bytes = b""


def write_slides(document: Document, path: Path, root: Path) -> None:
    """Write ``document``, whose text is a Deck in JSON, to ``path``; its pictures lie in the folder ``root``."""
    path.write_bytes(_DeckWriter(deck_from(document.text), root).file())


class _DeckWriter:
    """Fills the base presentation with one deck."""

    def __init__(self, deck: Deck, root: Path) -> None:
        self.deck = deck
        self.root = root
        self.presentation: Any = _template(deck.language)
        self.layouts = {layout.name: layout for layout in self.presentation.slide_layouts}
        self._shown: dict[str, SlideImage] = {}
        self._drawings: dict[str, Part] = {}

    def file(self) -> bytes:
        """Return the finished file."""
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
        tree = made.shapes._spTree  # shapes are put in as they are, in reading order
        for shape in list(tree)[_TREE_HEAD:]:
            tree.remove(shape)
        shapes = Shapes(self.deck.language)
        turns: Counter[int] = Counter()
        for box in slide.boxes:
            tree.extend(_shapes(box, shapes, turns))
            if box.role == "title" and slide.picture:
                self._picture(made, tree, slide, shapes)
        tree.extend(foot_shapes(shapes, self.deck.mark, self.deck.running))
        self._notes(made, slide.notes)

    def _picture(self, made: Any, tree: Any, slide: Slide, shapes: Shapes) -> None:
        at, figure = placed(slide), slide.picture
        if at is None or figure is None:
            return
        if figure.anchor not in self._shown:
            self._shown[figure.anchor] = shown(self.root, figure)
        image = self._shown[figure.anchor]
        _, points = made.part.get_or_add_image_part(BytesIO(image.points))
        drawing = made.part.relate_to(self._drawing(figure, image), RELATIONSHIP_TYPE.IMAGE) if image.drawing else ""
        tree.append(picture(figure, at, points, drawing, shapes))
        if figure.spots:
            tree.append(pointers(figure, at, shapes))

    def _drawing(self, figure: SlidePicture, image: SlideImage) -> Part:
        if figure.anchor not in self._drawings:
            name = PackURI(f"/ppt/media/drawing{len(self._drawings) + 1}.svg")
            package = self.presentation.part.package
            self._drawings[figure.anchor] = Part(name, "image/svg+xml", package, image.drawing)
        return self._drawings[figure.anchor]

    def _notes(self, made: Any, notes: tuple[SpeakerNote, ...]) -> None:
        page = made.notes_slide
        body = page.notes_text_frame._txBody  # python-pptx has no way to say the language of a run
        for paragraph in body.findall(f"{{{body.nsmap['a']}}}p"):
            body.remove(paragraph)
        body.extend(note(told.label, told.text, Shapes(self.deck.language)) for told in notes)
        for number, shape in enumerate(page.shapes, start=2):
            shape.name = {2: "Slide", 3: "Notes"}.get(number, shape.name)

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


def _template(language: str) -> Any:
    """Return the presentation that every file starts from, the words of its placeholders in ``language``."""
    presentation: Any = Presentation(str(Path(__file__).with_name("template.pptx")))
    layouts = [layout.element for layout in presentation.slide_layouts]
    for page in (presentation.slide_master.element, presentation.notes_master.element, *layouts):
        for words in page.iter("{*}rPr", "{*}endParaRPr"):
            words.set("lang", language)
    return presentation


def _shapes(box: SlideBox, shapes: Shapes, turns: Counter[int]) -> Any:
    """Yield the shapes of ``box``, in reading order."""
    if box.role in _LANDMARKS:
        yield landmark(box, shapes)
    elif box.role == "signal":
        yield from signal(box, shapes)
    else:
        yield from bars(box, shapes)
        idx = LOOKS[box.role].idx if box.role in LOOKS else 0
        yield text_shape(box, shapes, turns[idx])
        turns[idx] += 1


def shown(root: Path, picture: SlidePicture) -> SlideImage:
    """Return the figure at ``picture.path`` in the department's folder ``root``; equal files give equal bytes.

    Raises PublishError, in plain words, where it is no picture.
    """
    if picture.drawing:
        drawing = picture.drawing.replace("Prescrub Sans", TYPE)  # a file cannot carry our type to every machine
        return SlideImage(drawn(root, picture.aspect, picture.drawing), drawing.encode())
    content = read_bytes(root, picture.path, MAX_FIGURE_BYTES)
    if not picture.path.endswith(".svg"):
        return SlideImage(clean_photograph(picture.path, content))
    image = f'<img src="folder:{quote(picture.path)}">'
    return SlideImage(drawn(root, picture.aspect, image), safe_drawing(picture.path, content))


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

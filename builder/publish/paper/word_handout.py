"""Writes the handout as a .docx: the words of the paper in their order, for a department that keeps its papers so.

The HTML that the typesetter sets is walked node by node: headings, paragraphs, lists and tables become those of the
word processor, a figure a picture with its numbers and its description. The same handout gives the same bytes.
"""

import re
import zipfile
from collections.abc import Iterator
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote, unquote

import docx
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Mm, Pt, RGBColor
from lxml import html
from PIL import Image

from builder.compose.document import Document
from builder.compose.view.words import SHORT_CAUTION
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.program_words import gettext
from builder.publish.output import packed
from builder.publish.pictures import clean_photograph
from builder.publish.slides.pptx_file import drawn

_BLOCKS = frozenset({
    "article", "caption", "div", "figcaption", "figure", "footer", "h1", "h2", "h3", "h4", "header", "li", "main", "ol",
    "p", "section", "table", "ul", "img",
})  # fmt: skip
_PASSED_OVER = frozenset({"style", "script", "svg", "head", "title"})
_APART = frozenset({"number", "label", "tick"})
"""Classes of words that a style sheet sets apart from what follows; here a space does."""
_A4, _MARGIN, _PICTURE_WIDE, _PICTURE_HIGH = (Mm(210), Mm(297)), Mm(20), 120.0, 110.0
_INK = RGBColor(0x1A, 0x1A, 0x1A)
_DAY = datetime(2000, 1, 1)  # noqa: DTZ001  # the format has no zone; the clock's would change the file each time
_POINTERS = (
    "<style>span { position: absolute; width: 14pt; height: 14pt; margin: -8pt 0 0 -8pt; background: #fff; "
    "border: 1pt solid #000; border-radius: 50%; text-align: center; font: bold 10pt/14pt 'Prescrub Sans' }</style>"
)
_VIEW = re.compile(rb'viewBox="[\d.\-]+[ ,]+[\d.\-]+[ ,]+([\d.]+)[ ,]+([\d.]+)"')


class _Run(NamedTuple):
    words: str
    bold: bool = False
    italic: bool = False
    raised: bool = False


_PLAIN = _Run("")


def write_handout(document: Document, path: Path, root: Path) -> None:
    """Write ``document``, a handout, to ``path``; its figures lie in the folder ``root``."""
    path.write_bytes(_WordHandout(document, root).file())


class _WordHandout:
    def __init__(self, document: Document, root: Path) -> None:
        self.document = document
        self.root = root
        self.tree = html.document_fromstring(document.text.encode(), parser=html.HTMLParser(encoding="utf-8"))
        self.made: Any = docx.Document()
        self.guards = False
        """Whether what is written now belongs to a caution."""

    def file(self) -> bytes:
        """Return the finished file."""
        self._set_up()
        self._block(self.tree.find("body"))
        made = BytesIO()
        self.made.save(made)
        with zipfile.ZipFile(made) as package:
            names = sorted(package.namelist(), key=lambda name: (name != "[Content_Types].xml", name))
            return packed((name, package.read(name)) for name in names)

    def _set_up(self) -> None:
        outer = self.made.part.package.rels  # the library's empty document brings a photograph of itself
        for id in [id for id, one in outer.items() if one.reltype.endswith("/thumbnail")]:
            del outer[id]
        told, [section] = self.made.core_properties, self.made.sections
        told.title, told.author = (
            str(self.tree.findtext(".//title")),
            str(self.tree.xpath("//meta[@name='author']/@content")[0]),
        )
        told.keywords, told.language, told.comments = self.document.keywords, self.tree.get("lang", ""), ""
        told.created = told.modified = _DAY
        section.page_width, section.page_height = _A4
        section.left_margin = section.right_margin = section.top_margin = section.bottom_margin = _MARGIN
        marks = [must.text for must in self.document.musts if must.kind == "running"]
        title, edition = self.document.title, self.document.edition
        named = gettext("%(title)s, edition %(edition)s", title=title, edition=edition)
        section.header.paragraphs[0].text = " · ".join([named, *marks])
        section.footer.paragraphs[0].text = gettext(SHORT_CAUTION)
        section.footer.paragraphs[0].alignment = WD_ALIGN_PARAGRAPH.CENTER
        normal = self.made.styles["Normal"]
        normal.font.name, normal.font.size, normal.paragraph_format.space_after = "Arial", Pt(10), Pt(4)
        for style in (self.made.styles[name] for name in ("Title", "Heading 2", "Heading 3", "Heading 4")):
            fonts = style.element.rPr.get_or_add_rFonts()
            for face in ("w:ascii", "w:hAnsi"):
                fonts.set(qn(face), "Arial")
                fonts.attrib.pop(qn(f"{face}Theme"), None)
            style.font.color.rgb = _INK
        normal.element.rPr.append(_element("w:lang", {"w:val": self.tree.get("lang", "")}))

    def _block(self, node: Any) -> None:
        tag, was = str(node.tag), self.guards
        self.guards = was or "caution" in node.get("class", "").split() or "danger" in node.get("class", "").split()
        if tag == "table":
            self._table(node)
        elif tag == "img":
            self._picture(node)
        elif tag in ("h1", "h2", "h3", "h4"):
            self._paragraph([*_runs(node)], f"Heading {tag[1]}" if tag != "h1" else "Title")
        else:
            self._flow(node, {"li": "List Bullet"}.get(tag, "Normal"))
        self.guards = was

    def _flow(self, node: Any, style: str) -> None:
        """Write what stands in ``node``: words between blocks as paragraphs."""
        pending, number = [_Run(node.text or "")], 0
        ordered = node.tag == "ol" and "references" not in node.get("class", "")
        for child in node:
            if child.tag in _BLOCKS:
                self._paragraph(pending, style)
                pending = []
                if ordered and "said" not in child.get("class", ""):
                    number += 1
                    self._paragraph([_Run(f"{number}. "), *_runs(child)], "List Paragraph")
                else:
                    self._block(child)
            elif isinstance(child.tag, str) and "pointer" not in child.get("class", "").split():
                pending += _inline(child)
            pending.append(_Run(child.tail or ""))
        self._paragraph(pending, style)

    def _paragraph(self, runs: list[_Run], style: str) -> None:
        if not "".join(run.words for run in runs).strip():
            return
        made = self.made.add_paragraph(style="Normal" if style == "List Bullet" and self._is_numbered(runs) else style)
        if self.guards:
            made.paragraph_format.left_indent = Mm(4)
            edge = _element("w:left", {"w:val": "single", "w:sz": "24", "w:space": "6", "w:color": "A3341F"})
            made._p.get_or_add_pPr().append(_element("w:pBdr", {}, edge))
            made.paragraph_format.keep_together = True
        self._write(made, runs)

    @staticmethod
    def _is_numbered(runs: list[_Run]) -> bool:
        first = next(run.words for run in runs if run.words.strip()).strip()
        return first.isdigit() or first.startswith("□")

    @staticmethod
    def _write(paragraph: Any, runs: list[_Run]) -> None:
        space = True  # none at the beginning, and never two
        for run in runs:
            words = re.sub(r"\s+", " ", run.words)
            words = words[1:] if space and words.startswith(" ") else words
            if words:
                made = paragraph.add_run(words)
                made.bold, made.italic, made.font.superscript = run.bold or None, run.italic or None, run.raised or None
                space = words.endswith(" ")

    def _table(self, node: Any) -> None:
        for caption in node.iter("caption"):
            self._paragraph([_Run("", bold=True), *(run._replace(bold=True) for run in _runs(caption))], "Normal")
        rows = [[cell for cell in row if cell.tag in ("th", "td")] for row in node.iter("tr")]
        made = self.made.add_table(len(rows), max(map(len, rows)), style="Table Grid")
        for row, cells in zip(made.rows, rows, strict=True):
            for place, cell in zip(row.cells, cells, strict=False):
                bold = cell.tag == "th"
                self._write(place.paragraphs[0], [run._replace(bold=run.bold or bold) for run in _runs(cell)])
        if node.find("thead") is not None:
            made.rows[0]._tr.get_or_add_trPr().append(_element("w:tblHeader", {}))

    def _picture(self, node: Any) -> None:
        scheme, _, name = unquote(node.get("src", "")).partition(":")
        if scheme != "folder":  # the code's address stands in words beside it
            return
        aspect, points = self._points(name, node.getparent().findall("span"))
        wide = min(_PICTURE_WIDE, _PICTURE_HIGH * aspect)
        run = self.made.add_paragraph().add_run()
        shape = run.add_picture(BytesIO(points), width=Mm(wide))
        shape._inline.docPr.set("descr", node.get("alt", ""))

    def _points(self, name: str, pointers: list[Any]) -> tuple[float, bytes]:
        content = read_bytes(self.root, name, MAX_FIGURE_BYTES)
        if name.endswith(".svg"):
            view = _VIEW.search(content)
            width, height = (float(view[1]), float(view[2])) if view else (4.0, 3.0)
        else:
            with Image.open(BytesIO(clean_photograph(name, content))) as photograph:
                width, height = photograph.size
        spots = "".join(f'<span style="{one.get("style")}">{one.text}</span>' for one in pointers)
        return width / height, drawn(self.root, width / height, f'{_POINTERS}<img src="folder:{quote(name)}">{spots}')


def _runs(node: Any, inherited: _Run = _PLAIN) -> Iterator[_Run]:
    """Yield the words of ``node`` with how they look, blocks within it set apart by a space."""
    yield inherited._replace(words=node.text or "")
    for child in node:
        if isinstance(child.tag, str):
            yield from _inline(child, inherited)
        yield inherited._replace(words=child.tail or "")


def _inline(node: Any, inherited: _Run = _PLAIN) -> Iterator[_Run]:
    if node.tag in _PASSED_OVER:
        return
    classes = node.get("class", "").split()
    look = inherited._replace(
        bold=inherited.bold or node.tag in ("b", "strong") or "label" in classes,
        italic=inherited.italic or node.tag in ("i", "em"),
        raised=inherited.raised or node.tag == "sup",
    )
    yield from _runs(node, look)
    if node.tag in _BLOCKS or node.tag == "br" or _APART & set(classes):
        yield look._replace(words=" ")


def _element(name: str, attributes: dict[str, str], *inner: Any) -> Any:
    made = OxmlElement(name)
    for key, value in attributes.items():
        made.set(qn(key), value)
    made.extend(inner)
    return made

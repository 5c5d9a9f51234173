"""Slide files (.pptx): titles, bullets, tables and notes of each slide in order, with the pictures.

Author and program are not looked at. Film and sound cannot be taken over; they are named.
"""

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pptx
from pptx.exc import PythonPptxError

from builder.load.told.draft_source import MOST_PICTURES, Passage, PassageKind, RawPicture, Source, SourceForm, clean
from builder.load.told.office import A, alt_of, blips, broken, local_name, looked_over, parsed
from builder.load.told.outline_lines import OutlineLine, number_of, passage_of, row_passage

_TITLES = frozenset({"title", "ctrTitle"})
_FURNITURE = frozenset({"dt", "ftr", "sldNum", "hdr"})
_P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
_DEEPEST = 20


def read_slide_file(name: str, content: bytes) -> Source:
    """Return the passages and pictures of a .pptx. Raises Refused where it cannot be opened."""
    looked_over(name, content)
    try:
        return _PresentationReader(pptx.Presentation(BytesIO(content))).source()
    except (PythonPptxError, KeyError, ValueError, SyntaxError, AttributeError, RecursionError):
        raise broken(name) from None


class _PresentationReader:
    """Reads one presentation; ``passages`` grow slide by slide."""

    def __init__(self, presentation: Any) -> None:
        self.presentation = presentation
        self.passages: list[Passage] = []
        self.pictures: list[RawPicture] = []
        self.films = 0
        self.last = self.title = 0

    def source(self) -> Source:
        for number, slide in enumerate(self.presentation.slides, start=1):
            self._slide(slide, f"slide {number}")
        left_out = []
        if self.films:
            left_out.append("1 film or sound" if self.films == 1 else f"{self.films} films or sounds")
        if len(self.pictures) > MOST_PICTURES:
            left_out.append(f"{len(self.pictures) - MOST_PICTURES} pictures beyond the first {MOST_PICTURES}")
        return Source(SourceForm.SLIDES, tuple(self.passages), tuple(self.pictures[:MOST_PICTURES]), tuple(left_out))

    def _slide(self, slide: Any, at: str) -> None:
        shapes = list(_shapes(slide.shapes._spTree))
        titles = [shape for shape in shapes if _placeholder(shape) in _TITLES]
        heading = clean(" ".join(_paragraphs(title) for title in titles))
        heading = heading.replace("\n", " ")
        if heading:
            typed = passage_of(OutlineLine(heading, 0, at), self.title)
            self.title = number_of(typed) or self.title
            is_title = any(_placeholder(title) == "ctrTitle" for title in titles)
            self.passages.append(replace(typed, kind=PassageKind.HEADING, level=0 if is_title else 1))
        else:
            # A slide without a title still begins something new.
            self.passages.append(Passage(PassageKind.HEADING, "", at, 1))
        self.last = 0
        for shape in shapes:
            if shape not in titles and _placeholder(shape) not in _FURNITURE:
                self._shape(shape, slide.part, at)
        self._notes(slide, at)
        self._beside(slide.part, at)

    def _shape(self, shape: Any, part: Any, at: str) -> None:
        if shape.find(f".//{A}videoFile") is not None or shape.find(f".//{A}audioFile") is not None:
            self.films += 1
        elif local_name(shape) == "graphicFrame":
            self._frame(shape, part, at)
        else:
            for paragraph in shape.iter(f"{A}p"):
                self._lines(paragraph, at)
            self._picture(shape, part, at)

    def _lines(self, paragraph: Any, at: str) -> None:
        properties = paragraph.find(f"{A}pPr")
        written = properties.get("lvl", "0") if properties is not None else "0"
        level = int(written) if written.isdigit() else 0
        numbered = properties is not None and properties.find(f"{A}buAutoNum") is not None
        for number, line in enumerate(map(clean, _paragraph(paragraph).split("\n"))):
            if not line:
                continue
            typed = passage_of(OutlineLine(line, 2 * level, at), self.last)
            if typed.kind is PassageKind.TEXT and number == 0:
                typed = Passage(PassageKind.ITEM, line, at, level, "#" if numbered else "", numbered)
            elif typed.kind is PassageKind.HEADING:
                typed = Passage(PassageKind.ITEM, line, at, level)
            self.last = number_of(typed) or self.last
            self.passages.append(typed)

    def _frame(self, frame: Any, part: Any, at: str) -> None:
        for row in frame.iter(f"{A}tr"):
            texts = (clean(_paragraphs(cell).replace("\n", " ")) for cell in row.iter(f"{A}tc"))
            if cells := list(filter(None, texts)):
                self.passages.append(row_passage(cells, at))
        for relation in frame.iter():
            # The words of a diagram are in a part of their own.
            for key, id in relation.attrib.items():
                if key.endswith("}dm") and id in part.rels and not part.rels[id].is_external:
                    root = parsed(part.rels[id].target_part.blob)
                    for paragraph in root.iter(f"{A}p"):
                        self._lines(paragraph, at)

    def _picture(self, shape: Any, part: Any, at: str) -> None:
        for id, crop in blips(shape):
            target = part.related_part(id) if id in part.rels and not part.rels[id].is_external else None
            if target is not None:
                self.pictures.append(RawPicture(target.blob, crop, alt_of(shape), at, len(self.passages) - 1))

    def _notes(self, slide: Any, at: str) -> None:
        if not slide.has_notes_slide:
            return
        for shape in _shapes(slide.notes_slide.shapes._spTree):
            if _placeholder(shape) in (*_FURNITURE, "sldImg"):
                continue
            for paragraph in shape.iter(f"{A}p"):
                for line in _paragraph(paragraph).split("\n"):
                    if clean(line):
                        self.passages.append(Passage(PassageKind.TEXT, clean(line), f"{at}, notes"))

    def _beside(self, part: Any, at: str) -> None:
        """Keep the comments on a slide, old and new form, without the names of who wrote them."""
        for relation in part.rels.values():
            if relation.is_external or not relation.reltype.rsplit("/", 1)[-1].lower().startswith("comments"):
                continue
            root = parsed(relation.target_part.blob)
            texts = [comment.text or "" for comment in root.iter(f"{_P}text")]
            texts += [_paragraph(paragraph) for paragraph in root.iter(f"{A}p")]
            said = (clean(text).replace("\n", " ") for text in texts if clean(text))
            self.passages.extend(Passage(PassageKind.ASIDE, text, f"{at}, comment") for text in said)


def _shapes(tree: Any, depth: int = 0) -> Iterator[Any]:
    """Yield the shapes of a slide in their order, those in groups too."""
    if depth > _DEEPEST:
        raise ValueError("its groups are nested too deeply")
    for element in tree:
        tag = local_name(element)
        if tag == "grpSp":
            yield from _shapes(element, depth + 1)
        elif tag == "AlternateContent":
            yield from _shapes(element[0], depth + 1)
        elif tag in ("sp", "pic", "graphicFrame", "cxnSp"):
            yield element


def _placeholder(shape: Any) -> str:
    """Return the kind of a placeholder; "" for any other shape."""
    mark = shape.find(f".//{_P}nvPr/{_P}ph")
    return str(mark.get("type", "body")) if mark is not None else ""


def _paragraphs(element: Any) -> str:
    return " ".join(_paragraph(paragraph) for paragraph in element.iter(f"{A}p"))


def _paragraph(paragraph: Any) -> str:
    runs = [(run.text or "") if run.tag == f"{A}t" else "\n" for run in paragraph.iter(f"{A}t", f"{A}br")]
    return "".join(runs).replace("\x0b", "\n")

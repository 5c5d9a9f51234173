"""Word-processor files (.docx): paragraphs in their order, with headings, numbering, tables, text boxes, footnotes and
comments. Author, title and whatever else a program writes about its user are not looked at.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import docx
from docx.opc.exceptions import OpcError

from builder.load.told.draft_source import Passage, PassageKind, RawPicture, Source, SourceForm, clean
from builder.load.told.office import alt_of, blips, broken, looked_over, parsed
from builder.load.told.outline_lines import OutlineLine, number_of, passage_of, row_passage, sentences_of

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_MC = "{http://schemas.openxmlformats.org/markup-compatibility/2006}"
_HEADING = re.compile(r"(?:heading|überschrift|titre)\s*(?P<level>\d)", re.IGNORECASE)
_LONGEST_HEADING = 70
_COUNT = re.compile(r"(?:x|×)?\s*\d{1,3}\s*(?:x|×)?")
_DEEPEST = 60
_BULLETS = frozenset({"bullet", "none"})
_BESIDE = {
    "footnotes": "footnote", "endnotes": "endnote", "comments": "comment", "header": "header", "footer": "footer",
}  # fmt: skip


def read_word_file(name: str, content: bytes) -> Source:
    """Return the passages and pictures of a .docx. Raises Refused where it cannot be opened."""
    looked_over(name, content)
    try:
        document = docx.Document(BytesIO(content))
        return _DocumentReader(document).source()
    except (OpcError, KeyError, ValueError, SyntaxError, AttributeError, RecursionError):
        raise broken(name) from None


class _DocumentReader:
    """Reads one document; ``passages`` grow in the order of the document."""

    def __init__(self, document: Any) -> None:
        self.part = document.part
        self.passages: list[Passage] = []
        self.pictures: list[RawPicture] = []
        self.left_out: list[str] = []
        self.paragraphs = 0
        self.last = 0
        self.places: dict[tuple[str, str], str] = {}
        self.styles = _styles_of(document)
        self.bullets = _bullets_of(document)

    def source(self) -> Source:
        self._blocks(self.part.element.body, self.part, 0)
        for part in self._beside():
            self._aside(*part)
        return Source(SourceForm.WORD, tuple(self.passages), tuple(self.pictures), tuple(self.left_out))

    def _blocks(self, parent: Any, part: Any, depth: int) -> None:
        if depth > _DEEPEST:
            raise ValueError("its tables are nested too deeply")
        for element in parent:
            if not isinstance(element.tag, str):
                continue
            if element.tag == f"{W}p":
                self._paragraph(element, part)
            elif element.tag == f"{W}tbl":
                self._table(element, part, depth)
            elif element.tag not in (f"{W}sectPr", f"{W}del", f"{_MC}Fallback"):
                # content controls, tracked insertions and the like hold blocks themselves
                self._blocks(element, part, depth + 1)

    def _paragraph(self, paragraph: Any, part: Any) -> None:
        self.paragraphs += 1
        at = f"paragraph {self.paragraphs}"
        lines = [clean(line) for line in _text(paragraph).split("\n")]
        lines = [line for line in lines if line]
        for number, line in enumerate(lines):
            self._keep(self._passage(paragraph, line, at, is_first=number == 0, is_only=len(lines) == 1))
        for mark in paragraph.iter():
            if mark.tag in _REFERENCES:
                self.places[_REFERENCES[mark.tag], mark.get(f"{W}id", "")] = at
        self._drawn(paragraph, part, at)
        for box in _boxes(paragraph):
            self._blocks(box, part, 1)

    def _keep(self, passage: Passage) -> None:
        self.last = number_of(passage) or self.last
        self.passages.append(passage)

    def _passage(self, paragraph: Any, line: str, at: str, *, is_first: bool, is_only: bool) -> Passage:
        typed = passage_of(OutlineLine(line, 0, at), self.last)
        style, level, bullet = self._style_and_list(paragraph)
        heading = _HEADING.match(style)
        if is_first and (heading or style.casefold() in ("title", "subtitle")):
            depth = int(heading["level"]) if heading else 1
            return replace(typed, kind=PassageKind.HEADING, level=depth, text=typed.text)
        if is_first and level is not None and not typed.is_numbered:
            bare = typed.text if typed.kind is PassageKind.ITEM else line
            return Passage(PassageKind.ITEM, bare, at, level, "" if bullet else "#", is_numbered=not bullet)
        if is_first and level is not None and typed.is_numbered:
            return replace(typed, level=max(level, typed.level))
        if is_only and typed.kind is PassageKind.TEXT and _is_bold(paragraph) and _could_be_heading(line):
            return replace(typed, kind=PassageKind.HEADING, level=5)
        return typed

    def _style_and_list(self, paragraph: Any) -> tuple[str, int | None, bool]:
        """Return the name of the style, the level in a list (None: in none), and whether that list has bullets."""
        number, level = _val(paragraph, *_LIST), _val(paragraph, *_LEVEL)
        name, style_number, style_level = self.styles.get(_val(paragraph, "pPr", "pStyle") or "", ("", None, None))
        number = number if number is not None else style_number
        if number in (None, "0"):
            return name, None, False
        deep = int(level or style_level or 0)
        return name, deep, self.bullets.get((number or "", deep), "bullet" in name.casefold())

    def _table(self, table: Any, part: Any, depth: int) -> None:
        headings: list[str] = []
        for number, row in enumerate(table.iter(f"{W}tr")):
            if next(row.iterancestors(f"{W}tbl")) is not table:
                continue
            self.paragraphs += 1
            at = f"table row {number + 1} near paragraph {self.paragraphs}"
            cells = [cell for cell in row.iter(f"{W}tc") if next(cell.iterancestors(f"{W}tr")) is row]
            if len(cells) == 1 and len(list(table.iter(f"{W}tc"))) <= 2:
                self._blocks(cells[0], part, depth + 1)  # a frame around text, not a table
                continue
            texts = [_cell(cell) for cell in cells]
            if number == 0 and len(texts) > 1 and all(map(_is_column_heading, texts)):
                headings = texts
                self.passages.append(Passage(PassageKind.ASIDE, "; ".join(filter(None, texts)), at))
            else:
                self._row(texts, headings, at)
            for cell in cells:
                self._drawn(cell, part, at)

    def _row(self, texts: list[str], headings: list[str], at: str) -> None:
        """Keep a row: its first cells as one line, later ones with the heading of their column before them."""
        kept = [text for text in texts if text]
        if not kept:
            return
        numbered = bool(re.fullmatch(r"(?:step\s*)?\d{1,2}\.?", kept[0], re.IGNORECASE))
        own = 2 if numbered else 1
        if not numbered and all(_COUNT.fullmatch(text) for text in kept[1:]) and len(kept) > 1:
            self._keep(Passage(PassageKind.ITEM, f"{kept[0]}: {', '.join(kept[1:])}", at))
            return
        first = row_passage(kept[:own], at)
        self._keep(
            first if first.is_numbered else replace(first, kind=PassageKind.ITEM, label="#", is_numbered=bool(headings))
        )
        for column, text in list(enumerate(texts))[own:]:
            if text:
                heading = headings[column] if column < len(headings) else ""
                self.passages.append(Passage(PassageKind.TEXT, f"{heading}: {text}" if heading else text, at))

    def _drawn(self, element: Any, part: Any, at: str) -> None:
        for drawing in (*element.iter(f"{W}drawing"), *element.iter(f"{W}pict")):
            if any(True for _ in drawing.iterancestors(f"{_MC}Fallback")):
                continue
            for id, crop in blips(drawing):
                target = part.related_parts.get(id)
                if target is not None:
                    self.pictures.append(RawPicture(target.blob, crop, alt_of(drawing), at, len(self.passages) - 1))

    def _beside(self) -> Iterator[tuple[str, Any]]:
        for relation in self.part.rels.values():
            kind = relation.reltype.rsplit("/", 1)[-1]
            if not relation.is_external and kind in _BESIDE:
                yield _BESIDE[kind], relation.target_part

    def _aside(self, kind: str, part: Any) -> None:
        root = part.element if hasattr(part, "element") else parsed(part.blob)
        seen = {passage.text for passage in self.passages if passage.at == kind}
        for note in root if kind in ("footnote", "endnote", "comment") else [root]:
            if not isinstance(note.tag, str) or note.get(f"{W}type") in ("separator", "continuationSeparator"):
                continue
            text = _joined(_text(paragraph).replace("\n", " ") for paragraph in note.iter(f"{W}p"))
            if text and text not in seen:
                seen.add(text)
                place = self.places.get((kind, note.get(f"{W}id", "")), "")
                self.passages.append(Passage(PassageKind.ASIDE, text, f"{kind} on {place}" if place else kind))


def _text(paragraph: Any) -> str:
    """Return the words of one paragraph with its line breaks; not those of boxes in it, nor what was struck out."""
    return "".join(
        (element.text or "") if element.tag == f"{W}t" else _INSTEAD.get(element.tag, "")
        for element in _inside(paragraph)
    )


_INSTEAD = {f"{W}br": "\n", f"{W}cr": "\n", f"{W}tab": " ", f"{W}noBreakHyphen": "-"}


_REFERENCES = {f"{W}{kind}Reference": kind for kind in ("comment", "footnote", "endnote")}
_SKIPPED = frozenset({f"{W}del", f"{W}moveFrom", f"{W}txbxContent", f"{_MC}Fallback", f"{W}pPr", f"{W}rPr"})


def _inside(element: Any) -> Iterator[Any]:
    stack = list(reversed(element))
    while stack:
        inner = stack.pop()
        if isinstance(inner.tag, str) and inner.tag not in _SKIPPED:
            yield inner
            stack.extend(reversed(inner))


def _boxes(paragraph: Any) -> Iterator[Any]:
    for box in paragraph.iter(f"{W}txbxContent"):
        outer = [parent for parent in box.iterancestors() if parent.tag in (f"{W}txbxContent", f"{_MC}Fallback")]
        if not any(parent.tag == f"{_MC}Fallback" or paragraph in parent.iterancestors() for parent in outer):
            yield box


def _is_column_heading(text: str) -> bool:
    return len(text.split()) <= 4 and (not text.endswith(".") or len(text) <= 4)


def _cell(cell: Any) -> str:
    return _joined(line for paragraph in cell.iter(f"{W}p") for line in _text(paragraph).split("\n"))


def _joined(lines: Iterable[str]) -> str:
    kept = [line for line in map(clean, lines) if line]
    return kept[0] if len(kept) == 1 else sentences_of(kept)


def _is_bold(paragraph: Any) -> bool:
    """Tell whether every word of the paragraph is bold or underlined, as headings are where no style is used."""
    runs = [run for run in paragraph.iter(f"{W}r") if any((text.text or "").strip() for text in run.iter(f"{W}t"))]
    return bool(runs) and all(_is_marked(run) for run in runs)


def _is_marked(run: Any) -> bool:
    for name in ("b", "u"):
        mark = run.find(f"{W}rPr/{W}{name}")
        if mark is not None and mark.get(f"{W}val", "true") not in ("0", "false", "none"):
            return True
    return False


def _could_be_heading(line: str) -> bool:
    return len(line) <= _LONGEST_HEADING and not line.endswith((".", ",", ";"))


_LIST, _LEVEL = ("pPr", "numPr", "numId"), ("pPr", "numPr", "ilvl")


def _val(element: Any, *names: str) -> str | None:
    """Return the value of what ``names`` lead to below ``element``; None where there is none."""
    inner = element.find("/".join(f"{W}{name}" for name in names))
    return inner.get(f"{W}val") if inner is not None else None


def _styles_of(document: Any) -> dict[str, tuple[str, str | None, str | None]]:
    """Return name, list and level of each style by its id; one without a list has that of the style it builds on."""
    written: dict[str, tuple[str, str | None, str | None]] = {}
    based: dict[str, str] = {}
    for style in document.styles.element.iter(f"{W}style"):
        id = style.get(f"{W}styleId", "")
        written[id] = (_val(style, "name") or "", _val(style, *_LIST), _val(style, *_LEVEL))
        based[id] = _val(style, "basedOn") or ""
    return {id: (name, *_inherited(id, written, based)) for id, (name, _, _) in written.items()}


def _inherited(
    id: str, styles: dict[str, tuple[str, str | None, str | None]], based: dict[str, str]
) -> tuple[str | None, str | None]:
    for _ in range(10):
        if id not in styles:
            break
        if styles[id][1] is not None:
            return styles[id][1], styles[id][2]
        id = based[id]
    return None, None


def _bullets_of(document: Any) -> dict[tuple[str, int], bool]:
    """Return by list and level whether it shows bullets and no numbers."""
    try:
        root = document.part.numbering_part.element
    except (KeyError, NotImplementedError):
        return {}
    formats: dict[str, dict[int, bool]] = {}
    for abstract in root.iter(f"{W}abstractNum"):
        levels = {int(one.get(f"{W}ilvl", "0")): _val(one, "numFmt") in _BULLETS for one in abstract.iter(f"{W}lvl")}
        formats.setdefault(abstract.get(f"{W}abstractNumId", ""), {}).update(levels)
    bullets: dict[tuple[str, int], bool] = {}
    for number in root.iter(f"{W}num"):
        levels = formats.get(_val(number, "abstractNumId") or "", {})
        bullets |= {(number.get(f"{W}numId", ""), level): is_bullet for level, is_bullet in levels.items()}
    return bullets

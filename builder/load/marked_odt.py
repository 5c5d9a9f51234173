"""An .odt that came back with tracked changes and comments: OpenDocument 1.3 part 3 (5.5 changes, 14.1 annotations).

What was struck out stands in a list before the text, and the text has a mark where it was: it is read at that mark, so
that a paragraph whose end was struck out is joined to the next one as it is in a .docx.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from builder.load.marked_text import (
    FOOTNOTE,
    MOST_NESTED,
    PICTURE,
    PROPERTY,
    Cell,
    MarkedFile,
    MarkedGatherer,
    TextMark,
    spaced,
)
from builder.load.told.office import local_name, parsed

_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_META = "{urn:oasis:names:tc:opendocument:xmlns:meta:1.0}"
_DC = "{http://purl.org/dc/elements/1.1/}"
_NAME, _CHANGE = f"{_TEXT}name", f"{_TEXT}change-id"
_PARAGRAPHS = ("p", "h")
_INSTEAD = {"s": " ", "tab": " ", "line-break": " ", "note": FOOTNOTE}
_ANCHORS = ("bookmark", "bookmark-start", "bookmark-end", "annotation", "annotation-end")
_CHANGES = ("change", "change-start", "change-end")
_PASSED_OVER = frozenset({"tracked-changes", "sequence-decls", "table-columns", "table-column", "soft-page-break"})


@dataclass(frozen=True, slots=True)
class _Revision:
    """One tracked change: its mark, and the paragraphs that were struck out."""

    mark: TextMark
    gone: tuple[Any, ...] = ()


def read_marked_odt(parts: Mapping[str, bytes]) -> MarkedFile:
    """Return what is in the .odt of these ``parts``. Raises KeyError, AttributeError or ValueError otherwise."""
    body = parsed(parts["content.xml"]).find(f"{_OFFICE}body/{_OFFICE}text")
    ends = frozenset(end.get(_NAME, "") for end in body.iter(f"{_TEXT}bookmark-end"))
    told = {_number(note): (_said(note, "creator"), _words_of(note)) for note in body.iter(f"{_OFFICE}annotation")}
    reader = _OdtReader(MarkedGatherer(ends, told), dict(_revisions(body)))
    reader.blocks(body, None)
    return reader.gathered.file(dict(_sent(parts["meta.xml"])))


def _sent(part: bytes) -> Iterator[tuple[int, str]]:
    for kept in parsed(part).iter(f"{_META}user-defined"):
        number = kept.get(f"{_META}name", "").removeprefix(PROPERTY)
        if number.isdecimal():
            yield int(number), "".join(kept.itertext())


def _number(note: Any) -> str:
    """Return what tells a comment from all others; one that is about no words may have no name."""
    return note.get(f"{_OFFICE}name") or f"comment {note.getroottree().getpath(note)}"


def _said(element: Any, name: str) -> str:
    return next((told.text or "" for told in element.iter(f"{_DC}{name}")), "")


def _words_of(element: Any) -> str:
    return spaced(f"{''.join(one.itertext())} " for one in element.iter(f"{_TEXT}p", f"{_TEXT}h"))


def _revisions(body: Any) -> Iterator[tuple[str, _Revision]]:
    for region in body.iterfind(f"{_TEXT}tracked-changes/{_TEXT}changed-region"):
        for change in list(region)[:1]:  # a second one says who had put in what is struck out
            kind = {"insertion": "ins", "deletion": "del"}.get(local_name(change), "")
            gone = tuple(change.iter(f"{_TEXT}p", f"{_TEXT}h")) if kind == "del" else ()
            yield (
                region.get(f"{_TEXT}id", ""),
                _Revision(TextMark(kind, _said(change, "creator") if kind else ""), gone),
            )


class _OdtReader:
    """Reads a text from its beginning to its end."""

    def __init__(self, gathered: MarkedGatherer, revisions: Mapping[str, _Revision]) -> None:
        self.gathered = gathered
        self.revisions = revisions
        self.coming: dict[str, TextMark] = {}
        self.tables = 0

    def blocks(self, parent: Any, cell: Cell | None, depth: int = 0) -> None:
        """Read what ``parent`` has: paragraphs, tables, and whatever holds such."""
        if depth > MOST_NESTED:
            raise ValueError("nested too deeply")
        for element in parent:
            name = local_name(element)
            if name in _PARAGRAPHS:
                self.gathered.paragraph(cell)
                self._inline(element, None, 0)
                self.gathered.end_of_paragraph(None)
            elif name == "table":
                self._table(element, depth)
            elif name == "change":
                self.gathered.paragraph(cell)
                self._change(element, name, 0)
                self.gathered.is_joined = True
            elif name in _CHANGES:
                self._change(element, name, 0)
            elif name in _ANCHORS:
                self._anchor(element, name, is_inline=False)
            elif name and name not in _PASSED_OVER:
                self.blocks(element, cell, depth + 1)

    def _table(self, table: Any, depth: int) -> None:
        self.tables += 1
        number = self.tables
        for row, line in enumerate(_children(table, ("table-row",))):
            for column, cell in enumerate(_children(line, ("table-cell", "covered-table-cell"))):
                self.gathered.is_joined = False  # no paragraph goes on in the next cell
                self.blocks(cell, (number, row, column), depth + 1)
        self.gathered.is_joined = False

    def _inline(self, parent: Any, struck: TextMark | None, depth: int) -> None:
        """Read the words of ``parent``, which are ``struck`` out or stand as the changes say that begin before them."""
        if depth > MOST_NESTED:
            raise ValueError("nested too deeply")
        self._words(parent.text, struck)
        for element in parent:
            name = local_name(element)
            if name in _INSTEAD:
                self._words(_INSTEAD[name], struck)
            elif name in _CHANGES:
                self._change(element, name, depth)
            elif name in _ANCHORS:
                self._anchor(element, name, is_inline=True)
            elif name == "frame":
                self._words(f" {_words_of(element)}" if _words_of(element) else PICTURE, struck)
            elif name and name not in _PASSED_OVER:
                self._inline(element, struck, depth + 1)
            self._words(element.tail, struck)

    def _words(self, words: str | None, struck: TextMark | None) -> None:
        if words:
            self.gathered.words(words, struck or next(reversed(self.coming.values()), TextMark()))

    def _change(self, element: Any, name: str, depth: int) -> None:
        number = element.get(_CHANGE, "")
        revision = self.revisions.get(number, _Revision(TextMark()))
        if name == "change-end":
            self.coming.pop(number, None)
        elif name == "change-start" and revision.mark.kind == "ins":
            self.coming[number] = revision.mark
        for place, paragraph in enumerate(revision.gone if name == "change" else ()):
            if place:
                self.gathered.end_of_paragraph(revision.mark)
                self.gathered.paragraph(None)
            self._inline(paragraph, revision.mark, depth + 1)

    def _anchor(self, element: Any, name: str, *, is_inline: bool) -> None:
        number = element.get(_NAME, "")
        if name.startswith("annotation"):
            begins = name == "annotation"
            if begins:
                self.gathered.comment(_number(element), is_inline=is_inline)
            if not begins or not element.get(f"{_OFFICE}name"):
                self.gathered.end_of_comment(_number(element))
        elif name == "bookmark-end":
            self.gathered.end_of_bookmark(number)
        else:
            # LibreOffice calls the bookmark of what was struck out "step_open_canal Copy 1".
            self.gathered.bookmark(number, number.partition(" ")[0], is_inline=is_inline)
            if name == "bookmark":
                self.gathered.end_of_bookmark(number)


def _children(element: Any, names: tuple[str, ...]) -> Iterator[Any]:
    """Yield the rows of a table or the cells of a row, through the groups that may stand between."""
    for child in element:
        if local_name(child) in names:
            yield child
        elif local_name(child) in ("table-header-rows", "table-rows", "table-row-group"):
            yield from _children(child, names)

"""A .docx that came back with tracked changes and comments.

Read with lxml: libraries for word-processor files leave out what was inserted, so that a changed dose reads as blank.
The elements are those of ECMA-376-1 (17.13.5 revisions, 17.13.4 comments, 17.13.6 bookmarks).
"""

from collections.abc import Iterator, Mapping
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
from builder.load.told.word_file import W

_INSTEAD = {
    "br": " ", "cr": " ", "tab": " ", "noBreakHyphen": "-", "drawing": PICTURE, "pict": PICTURE,
    "footnoteReference": FOOTNOTE, "endnoteReference": FOOTNOTE,
}  # fmt: skip
_PASSED_OVER = frozenset({"pPr", "rPr", "instrText", "Fallback", "sectPr", "tblPr", "tblGrid", "tcPr", "trPr"})
_COMES, _GOES = frozenset({"ins", "moveTo"}), frozenset({"del", "moveFrom"})


def read_marked_docx(parts: Mapping[str, bytes]) -> MarkedFile:
    """Return what is in the .docx of these ``parts``. Raises KeyError, AttributeError or ValueError otherwise."""
    body = parsed(parts["word/document.xml"]).find(f"{W}body")
    ends = frozenset(end.get(f"{W}id", "") for end in body.iter(f"{W}bookmarkEnd"))
    reader = _DocxReader(MarkedGatherer(ends, _comments_of(parts.get("word/comments.xml"))))
    reader.blocks(body, TextMark(), None)
    return reader.gathered.file(_sent(parts))


def _sent(parts: Mapping[str, bytes]) -> dict[int, str]:
    sent: dict[int, str] = {}
    for part, content in parts.items():
        if part.startswith("docProps/custom"):
            for kept in parsed(content):
                number = str(kept.get("name", "")).removeprefix(PROPERTY)
                if number.isdecimal():
                    sent[int(number)] = "".join(kept.itertext())
    return sent


def _comments_of(part: bytes | None) -> dict[str, tuple[str, str]]:
    """Return author and words of each comment by its number."""
    if part is None:
        return {}
    comments = parsed(part).iter(f"{W}comment")
    return {one.get(f"{W}id", ""): (one.get(f"{W}author", "") or "", _words_of(one)) for one in comments}


def _words_of(element: Any) -> str:
    paragraphs = ("".join(text.text or "" for text in one.iter(f"{W}t")) for one in element.iter(f"{W}p"))
    return spaced(f"{words} " for words in paragraphs)


def _inside(mark: TextMark, element: Any) -> TextMark:
    """Return the mark of what stands in ``element``: what goes, goes, whoever put it in before."""
    name = local_name(element)
    author = element.get(f"{W}author", "") or ""
    if name in _GOES:
        return TextMark("del", author)
    return TextMark("ins", author) if name in _COMES and mark.kind != "del" else mark


class _DocxReader:
    """Reads a body from its beginning to its end."""

    def __init__(self, gathered: MarkedGatherer) -> None:
        self.gathered = gathered
        self.tables = 0

    def blocks(self, parent: Any, mark: TextMark, cell: Cell | None, depth: int = 0) -> None:
        """Read what ``parent`` has: paragraphs, tables, and whatever holds such."""
        if depth > MOST_NESTED:
            raise ValueError("nested too deeply")
        for element in parent:
            name = local_name(element)
            if name == "p":
                self._paragraph(element, mark, cell)
            elif name == "tbl":
                self._table(element, mark, depth)
            elif name.startswith(("bookmark", "comment")):
                self._anchor(element, name)
            elif name and name not in _PASSED_OVER:
                self.blocks(element, _inside(mark, element), cell, depth + 1)

    def _table(self, table: Any, mark: TextMark, depth: int) -> None:
        self.tables += 1
        number = self.tables
        for row, line in enumerate(_children(table, "tr")):
            revised = line.find(f"{W}trPr")
            own = mark
            for change in revised if revised is not None else ():
                own = _inside(own, change)
            for column, cell in enumerate(_children(line, "tc")):
                self.gathered.is_joined = False  # no paragraph goes on in the next cell
                self.blocks(cell, own, (number, row, column), depth + 1)
        self.gathered.is_joined = False

    def _paragraph(self, paragraph: Any, mark: TextMark, cell: Cell | None) -> None:
        self.gathered.paragraph(cell)
        self._inline(paragraph, mark, 0)
        end = paragraph.find(f"{W}pPr/{W}rPr")
        struck = (_inside(mark, one) for one in (end if end is not None else ()) if local_name(one) in _GOES)
        self.gathered.end_of_paragraph(next(struck, None))

    def _inline(self, parent: Any, mark: TextMark, depth: int) -> None:
        if depth > MOST_NESTED:
            raise ValueError("nested too deeply")
        for element in parent:
            name = local_name(element)
            if name in ("t", "delText"):
                self.gathered.words(element.text or "", mark)
            elif name in _INSTEAD:
                self.gathered.words(_INSTEAD[name], mark)
            elif name.startswith(("bookmark", "comment")):
                self._anchor(element, name, is_inline=True)
            elif name == "p":  # in a text box
                self.gathered.words(f" {_words_of(element)}", mark)
            elif name and name not in _PASSED_OVER:
                self._inline(element, _inside(mark, element), depth + 1)

    def _anchor(self, element: Any, name: str, *, is_inline: bool = False) -> None:
        number = element.get(f"{W}id", "")
        if name == "bookmarkStart":
            self.gathered.bookmark(number, element.get(f"{W}name", ""), is_inline=is_inline)
        elif name == "bookmarkEnd":
            self.gathered.end_of_bookmark(number)
        elif name == "commentRangeStart":
            self.gathered.comment(number, is_inline=is_inline)
        elif name in ("commentRangeEnd", "commentReference"):
            self.gathered.end_of_comment(number)


def _children(element: Any, name: str) -> Iterator[Any]:
    """Yield the rows of a table or the cells of a row, through the content controls that may stand between."""
    for child in element:
        if local_name(child) == name:
            yield child
        elif local_name(child) in ("sdt", "sdtContent", "customXml"):
            yield from _children(child, name)

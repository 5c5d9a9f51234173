"""A .docx that came back with tracked changes and comments, as paragraphs with their ids, and who marked what.

Read with lxml: libraries for word-processor files leave out what was inserted, so that a changed dose reads as blank.
The elements are those of ECMA-376-1 (17.13.5 revisions, 17.13.4 comments, 17.13.6 bookmarks). What was only laid out
otherwise is not looked at. Two readings of every paragraph are kept: with all changes made, and with none.
"""

import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, NamedTuple

from lxml.etree import XMLSyntaxError

from builder.load.told.office import broken, local_name, looked_over, parsed
from builder.load.told.word_file import W

PROPERTY = "prescrub-copy-"
"""Custom properties of a copy begin so: what was sent, in parts short enough for every word processor."""
_MOST_NESTED = 60
_INSTEAD = {"br": " ", "cr": " ", "tab": " ", "noBreakHyphen": "-", "drawing": "[picture]", "pict": "[picture]"}
_PASSED_OVER = frozenset({"pPr", "rPr", "instrText", "Fallback", "sectPr", "tblPr", "tblGrid", "tcPr", "trPr"})
_COMES, _GOES = frozenset({"ins", "moveTo"}), frozenset({"del", "moveFrom"})


class MarkedText(NamedTuple):
    """A stretch of words: ``mark`` is "" for what was there and stays, "ins" for what comes, "del" for what goes."""

    words: str
    mark: str
    author: str


Cell = tuple[int, int, int]


@dataclass(slots=True)
class MarkedParagraph:
    """One paragraph with all changes made, which may have been several before. ``ids`` holds how many letters of it
    lie in each bookmark; ``cell`` is its table, row and column."""

    texts: list[MarkedText] = field(default_factory=list)
    ids: dict[str, int] = field(default_factory=dict)
    cell: Cell | None = None

    @property
    def after(self) -> str:
        """Its words with all changes made."""
        return _spaced(text.words for text in self.texts if text.mark != "del")

    @property
    def before(self) -> str:
        """Its words with no change made."""
        return _spaced(text.words for text in self.texts if text.mark != "ins")

    @property
    def authors(self) -> tuple[str, ...]:
        """Who marked it, each once; "" is somebody without a name."""
        return tuple(dict.fromkeys(text.author for text in self.texts if text.mark))


class MarkedComment(NamedTuple):
    """A comment: who wrote it, its words, the words it is about, and the id of the paragraph that those stand in."""

    author: str
    words: str
    about: str
    id: str


@dataclass(frozen=True, slots=True)
class MarkedFile:
    """What came back: ``sent`` are the properties by number, ``emptied`` the authors of what was taken out, by id."""

    sent: Mapping[int, str]
    paragraphs: tuple[MarkedParagraph, ...]
    comments: tuple[MarkedComment, ...]
    emptied: Mapping[str, tuple[str, ...]]


def read_marked_file(name: str, content: bytes) -> MarkedFile:
    """Return what is in the .docx ``content``, called ``name``. Raises Refused where it cannot be opened."""
    looked_over(name, content)
    try:
        with zipfile.ZipFile(BytesIO(content)) as package:
            parts = {part: package.read(part) for part in package.namelist() if part.endswith(".xml")}
        document = parsed(parts["word/document.xml"])
        body = document.find(f"{W}body")
        ends = frozenset(end.get(f"{W}id", "") for end in body.iter(f"{W}bookmarkEnd"))
        reader = _MarkedReader(_comments_of(parts.get("word/comments.xml")), ends)
        reader.blocks(body, _Mark(), None)
    except (KeyError, XMLSyntaxError, AttributeError, RecursionError, ValueError):
        raise broken(name) from None
    return reader.file(_sent(parts))


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
    return _spaced(f"{words} " for words in paragraphs)


def _spaced(words: Iterable[str]) -> str:
    return " ".join("".join(words).split())


class _Mark(NamedTuple):
    kind: str = ""
    author: str = ""

    def inside(self, element: Any) -> "_Mark":
        """Return the mark of what stands in ``element``: what goes, goes, whoever put it in before."""
        name = local_name(element)
        author = element.get(f"{W}author", "") or ""
        if name in _GOES:
            return _Mark("del", author)
        return _Mark("ins", author) if name in _COMES and self.kind != "del" else self


class _MarkedReader:
    """Reads a body from its beginning to its end, and joins paragraphs whose end is struck out."""

    def __init__(self, comments: Mapping[str, tuple[str, str]], ends: frozenset[str]) -> None:
        self.ends = ends
        self.paragraphs: list[MarkedParagraph] = []
        self.now = MarkedParagraph()
        self.is_joined = False
        self.open: dict[str, str] = {}
        self.gone: dict[str, list[str]] = {}
        self.told = comments
        self.about: dict[str, list[str]] = {}
        self.places: dict[str, MarkedParagraph] = {}
        self.listening: set[str] = set()
        self.tables = 0

    def file(self, sent: Mapping[int, str]) -> MarkedFile:
        comments = tuple(self._comments())
        kept = tuple(one for one in self.paragraphs if one.after or one.ids)
        return MarkedFile(sent, kept, comments, {id: tuple(dict.fromkeys(who)) for id, who in self.gone.items()})

    def _comments(self) -> Iterator[MarkedComment]:
        last = ""
        ids: dict[int, str] = {}
        for paragraph in self.paragraphs:
            last = next((name for name, letters in paragraph.ids.items() if letters), "") or next(
                iter(paragraph.ids), last
            )
            ids[id(paragraph)] = last
        for number, (author, words) in self.told.items():
            place = self.places.get(number)
            at = ids.get(id(place), "") if place is not None else ""
            yield MarkedComment(author, words, _spaced(self.about.get(number, ())), at)

    def blocks(self, parent: Any, mark: _Mark, cell: Cell | None, depth: int = 0) -> None:
        """Read what ``parent`` has: paragraphs, tables, and whatever holds such."""
        if depth > _MOST_NESTED:
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
                self.blocks(element, mark.inside(element), cell, depth + 1)

    def _table(self, table: Any, mark: _Mark, depth: int) -> None:
        self.tables += 1
        number = self.tables
        for row, line in enumerate(_children(table, "tr")):
            revised = line.find(f"{W}trPr")
            own = mark
            for change in revised if revised is not None else ():
                own = own.inside(change)
            for column, cell in enumerate(_children(line, "tc")):
                self.is_joined = False  # no paragraph goes on in the next cell
                self.blocks(cell, own, (number, row, column), depth + 1)
        self.is_joined = False

    def _paragraph(self, paragraph: Any, mark: _Mark, cell: Cell | None) -> None:
        if not self.is_joined:
            self.now = MarkedParagraph(cell=cell)
            self.paragraphs.append(self.now)
        self.now.ids |= {name: self.now.ids.get(name, 0) for name in self.open.values()}
        self._inline(paragraph, mark, 0)
        # LibreOffice splits a bookmark into two that begin, of which one ends.
        self.open = {number: name for number, name in self.open.items() if number in self.ends}
        end = paragraph.find(f"{W}pPr/{W}rPr")
        struck = [mark.inside(one) for one in end if local_name(one) in _GOES] if end is not None else []
        self.is_joined = bool(struck)
        for one in struck[:1]:
            self.now.texts += (MarkedText(" ", "", ""), MarkedText("", *one))

    def _inline(self, parent: Any, mark: _Mark, depth: int) -> None:
        if depth > _MOST_NESTED:
            raise ValueError("nested too deeply")
        for element in parent:
            name = local_name(element)
            if name in ("t", "delText"):
                self._words(element.text or "", mark)
            elif name in _INSTEAD:
                self._words(_INSTEAD[name], mark)
            elif name.startswith(("bookmark", "comment")):
                self._anchor(element, name, is_inline=True)
            elif name == "p":  # in a text box
                self._words(f" {_words_of(element)}", mark)
            elif name and name not in _PASSED_OVER:
                self._inline(element, mark.inside(element), depth + 1)

    def _words(self, words: str, mark: _Mark) -> None:
        self.now.texts.append(MarkedText(words, mark.kind, mark.author))
        for name in self.open.values():
            if mark.kind == "del":
                self.gone.setdefault(name, []).append(mark.author)
            else:
                self.now.ids[name] = self.now.ids.get(name, 0) + len(words.strip())
        for number in self.listening:
            self.about.setdefault(number, []).append(words if mark.kind != "del" else "")

    def _anchor(self, element: Any, name: str, *, is_inline: bool = False) -> None:
        number = element.get(f"{W}id", "")
        if name == "bookmarkStart":
            self.open[number] = element.get(f"{W}name", "")
            if is_inline:
                self.now.ids.setdefault(self.open[number], 0)
        elif name == "bookmarkEnd":
            self.open.pop(number, None)
        elif name == "commentRangeStart":
            self.listening.add(number)
        elif name in ("commentRangeEnd", "commentReference"):
            self.listening.discard(number)
            self.places[number] = self.now
        if name == "commentRangeStart" and is_inline:
            self.places.setdefault(number, self.now)


def _children(element: Any, name: str) -> Iterator[Any]:
    """Yield the rows of a table or the cells of a row, through the content controls that may stand between."""
    for child in element:
        if local_name(child) == name:
            yield child
        elif local_name(child) in ("sdt", "sdtContent", "customXml"):
            yield from _children(child, name)

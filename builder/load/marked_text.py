"""What a marked word-processor file says, whichever form it came in: paragraphs with their ids, and who marked what.

Two readings of every paragraph are kept: with all changes made, and with none. What was only laid out otherwise is not
looked at.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

PROPERTY = "prescrub-copy-"
"""Custom properties of a copy begin so: what was sent, in parts short enough for every word processor."""
PICTURE, FOOTNOTE = "[picture]", "[footnote]"
NOT_WORDS = (PICTURE, FOOTNOTE)
"""What stands in the words for what is none."""
MOST_NESTED = 60


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
        return spaced(text.words for text in self.texts if text.mark != "del")

    @property
    def before(self) -> str:
        """Its words with no change made."""
        return spaced(text.words for text in self.texts if text.mark != "ins")

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


class TextMark(NamedTuple):
    """What happens to a stretch of words ("ins", "del" or nothing), and who marked it."""

    kind: str = ""
    author: str = ""


def spaced(words: Iterable[str]) -> str:
    """Return ``words`` as one text with single spaces."""
    return " ".join("".join(words).split())


class MarkedGatherer:
    """Gathers what a reader meets from the beginning of a file to its end, and joins paragraphs whose end is struck
    out.

    Bookmarks and comments are known by their number in the file; ``ends`` are the bookmarks that end somewhere,
    ``told`` author and words of each comment.
    """

    def __init__(self, ends: frozenset[str], told: Mapping[str, tuple[str, str]]) -> None:
        self.ends = ends
        self.told = told
        self.is_joined = False
        self._paragraphs: list[MarkedParagraph] = []
        self._now = MarkedParagraph()
        self._open: dict[str, str] = {}
        self._gone: dict[str, list[str]] = {}
        self._about: dict[str, list[str]] = {}
        self._places: dict[str, MarkedParagraph] = {}
        self._listening: set[str] = set()

    def file(self, sent: Mapping[int, str]) -> MarkedFile:
        """Return all that was gathered."""
        comments = tuple(self._comments())
        kept = tuple(one for one in self._paragraphs if one.after or one.ids)
        return MarkedFile(sent, kept, comments, {id: tuple(dict.fromkeys(who)) for id, who in self._gone.items()})

    def _comments(self) -> Iterator[MarkedComment]:
        last = ""
        ids: dict[int, str] = {}
        for paragraph in self._paragraphs:
            last = next((name for name, letters in paragraph.ids.items() if letters), "") or next(
                iter(paragraph.ids), last
            )
            ids[id(paragraph)] = last
        for number, (author, words) in self.told.items():
            place = self._places.get(number)
            at = ids.get(id(place), "") if place is not None else ""
            yield MarkedComment(author, words, spaced(self._about.get(number, ())), at)

    def paragraph(self, cell: Cell | None) -> None:
        """Begin a paragraph, unless it goes on with the one before."""
        if not self.is_joined:
            self._now = MarkedParagraph(cell=cell)
            self._paragraphs.append(self._now)
        self._now.ids |= {name: self._now.ids.get(name, 0) for name in self._open.values()}

    def end_of_paragraph(self, struck: TextMark | None) -> None:
        """End a paragraph; where its end is ``struck`` out, the next one goes on with it."""
        # LibreOffice splits a bookmark into two that begin, of which one ends.
        self._open = {number: name for number, name in self._open.items() if number in self.ends}
        self.is_joined = struck is not None
        if struck is not None:
            self._now.texts += (MarkedText(" ", "", ""), MarkedText("", *struck))

    def words(self, words: str, mark: TextMark) -> None:
        """Take in words as they are marked."""
        self._now.texts.append(MarkedText(words, *mark))
        for name in set(self._open.values()):
            if mark.kind == "del":
                self._gone.setdefault(name, []).append(mark.author)
            else:
                self._now.ids[name] = self._now.ids.get(name, 0) + len(words.strip())
        for number in self._listening:
            self._about.setdefault(number, []).append(words if mark.kind != "del" else "")

    def bookmark(self, number: str, name: str, *, is_inline: bool) -> None:
        """Begin the bookmark ``name``."""
        self._open[number] = name
        if is_inline:
            self._now.ids.setdefault(name, 0)

    def end_of_bookmark(self, number: str) -> None:
        """End a bookmark."""
        self._open.pop(number, None)

    def comment(self, number: str, *, is_inline: bool) -> None:
        """Begin what a comment is about."""
        self._listening.add(number)
        if is_inline:
            self._places.setdefault(number, self._now)

    def end_of_comment(self, number: str) -> None:
        """End what a comment is about: it belongs where that ends."""
        self._listening.discard(number)
        self._places[number] = self._now

"""Reads a finished page back: all it promised is there, visible, in order; every link and picture leads somewhere.

libxml2 reads a page in C, and mends what it takes for a slip in ways of its own. So it is believed only where it mended
nothing: then each tag that it told of stands in the page, and each tag of the page was told of. Any other page is read
tag by tag with the parser of Python, which mends nothing, and each tag that is not closed where it should be is named.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from os.path import isfile
from pathlib import Path
from urllib.parse import unquote, urlsplit

from lxml import etree

from builder.compose.document import Document
from builder.findings.message_words import quoted
from builder.grouping import word_set
from builder.publish.build_report import FileRead
from builder.readback.comparison import missing

NAMES = (
    "everything promised is shown, visible and in order",
    "every link and picture leads to something that was published",
    "nothing is fetched from elsewhere",
)
# What stands inside is not shown, or only where something else cannot be.
_SILENT = word_set("""
audio canvas datalist iframe noembed noframes noscript object plaintext script style svg template textarea title video
xmp
""")
_FOLDED = frozenset({"details", "dialog"})
_HIDING = _SILENT | _FOLDED
# The void elements of the HTML standard (13.1.2), and the shapes of SVG.
_EMPTY = word_set("""
area base br col embed hr img input link meta param source track wbr circle ellipse line path polygon polyline rect use
""")
# Elements whose end tag may be left out (HTML standard, 13.1.2.4).
_CLOSED_BY_OTHERS = word_set("""
body caption colgroup dd dt head html li optgroup option p rp rt tbody td tfoot th thead tr
""")
_FETCHING = {"img": "src", "script": "src", "link": "href", "iframe": "src", "object": "data", "embed": "src"}


class PageContent:
    """What was found in a page: its ``words`` in reading order, its ``ids``, where its ``links`` lead, what is
    ``fetched`` to show it, and which tags are ``spoilt``, in plain words.

    ``start`` to ``close`` take what a parser tells; the end of an element must be told once for each start.
    """

    def __init__(self) -> None:
        self.words: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self.spoilt: list[str] = []
        self._starts = self._ends = 0
        self._is_doubtful = False  # there was a ``<`` that begins no tag, or may begin none
        self._hidden = 0  # how many elements are open, counted from the outermost that hides

    def start(self, tag: str, attributes: Mapping[str, str | None]) -> None:
        """Take a start tag."""
        self._starts += 1
        hides = tag in _HIDING and not (tag == "details" and "open" in attributes)
        if self._hidden or hides or "hidden" in attributes:
            self._hidden += 1
        if not attributes:
            return
        if "<" in "".join(map(str, attributes.values())):
            self._is_doubtful = True
        if "id" in attributes:
            self.ids.append(attributes["id"] or "")
        if tag == "a":
            if href := attributes.get("href"):
                self.links.append(href)
        elif tag in _FETCHING and _FETCHING[tag] in attributes and attributes.get("rel") != "canonical":
            self.fetched.append(attributes[_FETCHING[tag]] or "")

    def end(self, tag: str) -> None:
        """Take the end of an element."""
        if tag not in _EMPTY:
            self._ends += 1
        if self._hidden:
            self._hidden -= 1

    def data(self, text: str) -> None:
        """Take text."""
        if not self._hidden:
            self.words.append(text)
        elif "<" in text:  # script, style and the like hold what looks like tags
            self._is_doubtful = True

    def comment(self, _: str) -> None:
        """Take a comment."""
        self._is_doubtful = True

    def close(self) -> None:
        """Take the end of the page."""

    def tells_all_tags_of(self, raw: bytes) -> bool:
        """Tell whether what was taken is surely, tag for tag, what stands in ``raw`` behind its document type."""
        if self._is_doubtful or self._ends != raw.count(b"</"):
            return False
        doctype = raw[:20].lstrip().lower().startswith(b"<!doctype")
        return self._starts + self._ends + doctype == raw.count(b"<")


def shown_by(raw: bytes) -> PageContent:
    """Return what the page ``raw`` shows. Raises UnicodeDecodeError where it is not UTF-8."""
    text = raw.decode("utf-8")
    content = PageContent()
    parser = etree.HTMLParser(target=content, encoding="utf-8")
    parser.feed(raw)
    parser.close()
    if not len(parser.feed_error_log) and content.tells_all_tags_of(raw):
        return content
    reader = _TagByTag()
    reader.feed(text)
    reader.close()
    return reader.content


class _TagByTag(HTMLParser):
    """Takes the tags as they stand, and names those that are not closed where they should be."""

    def __init__(self) -> None:
        super().__init__()
        self.content = PageContent()
        self._open: list[tuple[str, int]] = []  # with the line of each

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # The first of two attributes of one name counts (HTML standard, 13.2.5.33).
        self.content.start(tag, dict(reversed(attrs)))
        if tag in _EMPTY:
            self.content.end(tag)
        else:
            self._open.append((tag, self.getpos()[0]))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        # Elsewhere the slash means nothing, and the element stays open.
        if tag not in _EMPTY and any(name == "svg" for name, _ in self._open):
            self._close()

    def handle_endtag(self, tag: str) -> None:
        if all(name != tag for name, _ in self._open):
            if tag not in _EMPTY:
                self.content.spoilt.append(f"the tag </{tag}> in line {self.getpos()[0]} closes nothing")
            return
        while self._open[-1][0] != tag:
            self._left_open()
        self._close()

    def handle_data(self, data: str) -> None:
        self.content.data(data)

    def close(self) -> None:
        if "<" in self.rawdata:  # what could not be read to its end: to a browser it is no text
            self.content.spoilt.append(
                f"the page ends within a tag or a comment that begins in line {self.getpos()[0]}"
            )
        super().close()
        while self._open:
            self._left_open()

    def _close(self) -> None:
        self.content.end(self._open.pop()[0])

    def _left_open(self) -> None:
        tag, line = self._open[-1]
        if tag not in _CLOSED_BY_OTHERS:
            self.content.spoilt.append(
                f"the tag <{tag}> of line {line} is not closed where it should be, so what follows may be shown wrongly"
            )
        self._close()


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the page at ``path`` that was made of ``document``."""
    shown = shown_by(path.read_bytes())
    # Spaces do not count: tags may stand between words.
    lost = missing(document.musts, _unspaced("".join(shown.words)), _unspaced)
    return FileRead((*shown.spoilt, *lost, *_repeated(shown.ids), *_dead_ends(shown, path)))


def _unspaced(text: str) -> str:
    return "".join(text.split())


def _repeated(ids: list[str]) -> Iterator[str]:
    if len(set(ids)) == len(ids):
        return
    for id, count in Counter(ids).items():
        if count > 1:
            yield f"the mark {quoted(id)} stands {count} times, so links to it are uncertain"


def _dead_ends(shown: PageContent, path: Path) -> Iterator[str]:
    marks = set(shown.ids)
    for link in dict.fromkeys(shown.links):
        if link.startswith("#"):
            if unquote(link[1:]) not in marks:
                yield f"the link {quoted(link)} leads nowhere"
            continue
        parts = urlsplit(link)
        if not parts.scheme and not parts.netloc and not _exists(path, parts.path):
            yield f"the link {quoted(link)} leads to a file that was not published"
    for name in dict.fromkeys(shown.fetched):
        parts = urlsplit(name)
        if parts.scheme == "data":
            continue
        if parts.scheme or parts.netloc:
            yield f"{quoted(name)} would be fetched from elsewhere"
        elif not _exists(path, parts.path):
            yield f"{quoted(name)} is shown and was not published"


def _exists(page: Path, name: str) -> bool:
    # Where the site lies on a server, or in which folder of a share, nobody knows here: ways from the top lead nowhere.
    if name.startswith("/"):
        return False
    return isfile(f"{page.parent}/{unquote(name)}")  # noqa: PTH113  # a dozen times a page: pathlib takes five times as long

"""Markdown bodies, with every link to a source, step, caution or figure placed; rendered by Python-Markdown.

A body is rendered when its HTML is first asked for: checking needs its text and links, not its HTML.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property

import markdown

from builder.place import Place, Text

LINK_KINDS = ("source", "step", "caution", "aftercare", "figure", "procedure")
_LINK = re.compile(
    r"\[(?P<text>[^\[\]]*)\]\(\s*(?P<kind>[a-z]+):(?P<target>[^)\n\"]{0,500})(?:(?<=\s)\"[^\"\n]{0,500}\"\s*)?\)"
)
_HIDDEN = re.compile(r"\]\([a-z]{1,20}:[^)\n]{0,500}\)|`[^`\n]*`")
_CODE = re.compile(r"`[^`\n]*`")


@dataclass(frozen=True, slots=True)
class Link:
    """One link in prose: ``kind`` of target, its ids with their places, the words it is written under.

    ``clear``: CommonMark makes it a link, because its target contains no space.
    """

    kind: str
    targets: tuple[Text, ...]
    words: str
    at: Place
    clear: bool = True


@dataclass(frozen=True)
class Prose:
    """A Markdown body as written, with its links in order. ``at`` is the place of its first line."""

    source: str
    links: tuple[Link, ...]
    at: Place

    @cached_property
    def html(self) -> str:
        """The body as HTML by Python-Markdown, not yet cleaned, links still ``kind:id``; made when first asked for."""
        return _engine().reset().convert(self.source) if self.source.strip() else ""

    @cached_property
    def shown(self) -> str:
        """``source``, of the same length, without the targets of links and code: nobody reads them aloud."""
        hides = "](" in self.source or "`" in self.source
        return _HIDDEN.sub(lambda hidden: " " * len(hidden.group()), self.source) if hides else self.source

    def __reduce__(self) -> tuple[type[Prose], tuple[str, tuple[Link, ...], Place]]:
        """What somebody worked out of it since is not sent to another process: equal prose gives equal bytes."""
        return Prose, (self.source, self.links, self.at)

    def place(self, offset: int) -> Place:
        """Return the place of the character at ``offset`` of ``source``."""
        line = bisect_right(self._starts, offset) - 1
        return Place(self.at.file, self.at.line + line, offset - self._starts[line] + (1 if line else self.at.column))

    @cached_property
    def _starts(self) -> list[int]:
        """Where each line starts: thousands of findings may ask for their place in one text."""
        return [0, *(match.end() for match in re.finditer("\n", self.source))]


EMPTY = Prose("", (), Place(""))


@cache
def _engine() -> markdown.Markdown:
    """The engine takes long to make, so it is kept, and reset before each use."""
    return markdown.Markdown(extensions=["tables", "sane_lists", "smarty"], output_format="html")


def read_prose(source: str, file: str, line: int) -> Prose:
    """Return the prose of ``source``, whose first line is ``line`` of ``file``."""
    return Prose(source, tuple(_links(source, file, line)) if "](" in source else (), Place(file, line))


def _links(source: str, file: str, first_line: int) -> Iterator[Link]:
    shown = _CODE.sub(lambda code: " " * len(code.group()), source) if "`" in source else source
    line, counted = first_line, 0
    for match in _LINK.finditer(shown):
        # The words of a link may run over a line's end, never over an empty line.
        if match["kind"] not in LINK_KINDS or "\n\n" in match["text"]:
            continue
        line += shown.count("\n", counted, match.start())
        counted = match.start()
        start = match.start("target")
        targets = _targets(match["target"], file, line + shown.count("\n", counted, start), _column(shown, start))
        at = Place(file, line, _column(shown, counted))
        clear = not any(map(str.isspace, match["target"].rstrip()))
        yield Link(match["kind"], tuple(targets), " ".join(match["text"].split()), at, clear)


def _column(text: str, offset: int) -> int:
    return offset - text.rfind("\n", 0, offset)


def _targets(written: str, file: str, line: int, column: int) -> Iterator[Text]:
    for part in written.split(","):
        indent = len(part) - len(part.lstrip())
        yield Text(part.strip(), Place(file, line, column + indent))
        column += len(part) + 1

"""Markdown bodies, with every link to a source, step, caution or figure placed; rendered by Python-Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property

import markdown

from builder.place import Place, Text

LINK_KINDS = ("source", "step", "caution", "aftercare", "figure", "procedure")
_LINK = re.compile(r"\[(?P<text>[^\]\n]*)\]\((?P<kind>[a-z]+):(?P<target>[^)\n]*)\)")
_CODE = re.compile(r"`[^`\n]*`")


@dataclass(frozen=True, slots=True)
class Link:
    """One link in prose: ``kind`` of target, its ids with their places, the words it is written under."""

    kind: str
    targets: tuple[Text, ...]
    words: str
    at: Place


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

    def place(self, offset: int) -> Place:
        """Return the place of the character at ``offset`` of ``source``."""
        before = self.source[:offset]
        return Place(
            self.at.file,
            self.at.line + before.count("\n"),
            self.at.column * ("\n" not in before) + offset - (before.rfind("\n") + 1) + ("\n" in before),
        )


EMPTY = Prose("", (), Place(""))


@cache
def _engine() -> markdown.Markdown:
    """The engine is dear to make and is kept; it is reset before each use."""
    return markdown.Markdown(extensions=["tables", "sane_lists", "smarty"], output_format="html")


def read_prose(source: str, file: str, line: int) -> Prose:
    """Return the prose of ``source``, whose first line is ``line`` of ``file``."""
    return Prose(source, tuple(_links(source, file, line)) if "](" in source else (), Place(file, line))


def _links(source: str, file: str, first_line: int) -> Iterator[Link]:
    for number, line in enumerate(source.split("\n"), start=first_line):
        if "](" not in line:
            continue
        shown = _CODE.sub(lambda code: " " * len(code.group()), line)
        for match in _LINK.finditer(shown):
            if match["kind"] in LINK_KINDS:
                start = match.start("target")
                targets = tuple(_targets(match["target"], file, number, start + 1))
                yield Link(match["kind"], targets, match["text"], Place(file, number, match.start() + 1))


def _targets(written: str, file: str, line: int, column: int) -> Iterator[Text]:
    for part in written.split(","):
        indent = len(part) - len(part.lstrip())
        yield Text(part.strip(), Place(file, line, column + indent))
        column += len(part) + 1

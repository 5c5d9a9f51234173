"""The text of a composed page as the Markdown that somebody would write who has mkdocs alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from lxml import html

_SKIPPED = frozenset({"script", "style", "svg", "template"})
_HEADINGS = {f"h{level}": "#" * level for level in range(1, 7)}
_MARKS = {"b": "**", "strong": "**", "em": "*", "i": "*", "code": "`"}
_SIGNS = re.compile(r"([\\`*_\[\]<>#|])")


def markdown_of(body: str) -> str:
    """Return the words of ``body``, one element of HTML, as Markdown: headings, paragraphs, lists, tables, links and
    pictures. Drawings, styles and scripts are left out, and so is what only arranges."""
    return "\n\n".join(_blocks(html.fragment_fromstring(body))) + "\n"


def _blocks(element: Any) -> Iterator[str]:
    if not isinstance(element.tag, str) or element.tag in _SKIPPED:
        return
    if element.tag in _HEADINGS:
        yield f"{_HEADINGS[element.tag]} {_line(element)}"
    elif element.tag in ("ul", "ol"):
        yield "\n".join(_items(element))
    elif element.tag == "table":
        yield "\n".join(_rows(element))
    elif _holds_blocks(element):
        for kid in element:
            yield from _blocks(kid)
    elif line := _line(element):
        yield line


_BLOCKS = ("p", "ul", "ol", "table", "div", "section", "nav", "figure", "article", "aside", *_HEADINGS)


def _holds_blocks(element: Any) -> bool:
    return element.tag != "p" and next(element.iterdescendants(*_BLOCKS), None) is not None


def _items(element: Any) -> Iterator[str]:
    mark = "-" if element.tag == "ul" else "1."
    for item in element.iterchildren("li"):
        text = "\n\n".join(_blocks(item)) if _holds_blocks(item) else _line(item)
        yield f"{mark:<4}" + text.replace("\n", "\n    ")


def _rows(element: Any) -> Iterator[str]:
    for place, row in enumerate(element.iter("tr")):
        cells = [_line(cell) for cell in row]
        yield f"| {' | '.join(cells)} |"
        if place == 0:
            yield "|---" * len(cells) + "|"


def _line(element: Any) -> str:
    return " ".join("".join(_inline(element)).split())


def _inline(element: Any) -> Iterator[str]:
    yield _SIGNS.sub(r"\\\1", element.text or "")
    for kid in element:
        if isinstance(kid.tag, str) and kid.tag not in _SKIPPED:
            inner, mark = "".join(_inline(kid)), _MARKS.get(kid.tag, "")
            if kid.tag == "a":
                yield f"[{inner}]({kid.get('href', '')})"
            elif kid.tag == "img":
                yield f"![{kid.get('alt', '')}]({kid.get('src', '')})"
            else:
                yield f"{mark}{inner}{mark}" if inner.strip() else inner
        yield " " + _SIGNS.sub(r"\\\1", kid.tail or "")

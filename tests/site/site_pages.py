"""Reading finished pages in tests."""

from __future__ import annotations

from pathlib import Path

from lxml import html


def page(folder: Path, name: str) -> html.HtmlElement:
    """Return the page ``name`` of the site in ``folder`` as a tree."""
    return html.document_fromstring((folder / name).read_bytes())


def texts(tree: html.HtmlElement, path: str) -> list[str]:
    """Return the text of every element at ``path``, with single spaces."""
    return [" ".join(one.text_content().split()) for one in tree.xpath(path)]

"""Writes a committee's copy as a word processor would save it as .odt, marked by hand after OpenDocument 1.3 part 3
(5.5 change tracking, 6.2.1 bookmarks, 14.1 annotations)."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping
from itertools import groupby
from xml.sax.saxutils import escape

from builder.compose.changes.committee_copy import CommitteeCopy, CopyPassage
from builder.compose.changes.sent import sent_words

_SPACES = " ".join(
    f'xmlns:{name}="{address}"'
    for name, address in {
        **{n: f"urn:oasis:names:tc:opendocument:xmlns:{n}:1.0" for n in ("office", "text", "table", "meta")},
        "draw": "urn:oasis:names:tc:opendocument:xmlns:drawing:1.0",
        "dc": "http://purl.org/dc/elements/1.1/",
    }.items()
)


def odt(copy: CommitteeCopy, marks: Mapping[str, str] | None = None, regions: str = "") -> bytes:
    """Return ``copy`` as an .odt in which each paragraph of ``marks`` (by its id) is that piece of XML."""
    tracked = f"<text:tracked-changes>{regions}</text:tracked-changes>"
    body = "".join(_blocks(copy, marks or {}))
    sent = f'<meta:user-defined meta:name="prescrub-copy-1">{escape(sent_words(copy))}</meta:user-defined>'
    parts = {
        "content.xml": f"<office:document-content {_SPACES}><office:body><office:text>{tracked}{body}</office:text>"
        "</office:body></office:document-content>",
        "meta.xml": f"<office:document-meta {_SPACES}><office:meta>{sent}</office:meta></office:document-meta>",
    }
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as package:
        for name, text in parts.items():
            package.writestr(name, text)
    return target.getvalue()


def _blocks(copy: CommitteeCopy, marks: Mapping[str, str]) -> Iterator[str]:
    for table, passages in groupby(copy.passages, lambda passage: passage.cell[0] if passage.cell else 0):
        if not table:
            yield from (marks.get(passage.name, paragraph(passage)) for passage in passages)
            continue
        yield "<table:table>"
        for _, row in groupby(passages, lambda passage: passage.cell[1] if passage.cell else 0):
            cells = (marks.get(passage.name, paragraph(passage)) for passage in row)
            cells = (f"<table:table-cell>{cell}</table:table-cell>" for cell in cells)
            yield f"<table:table-row>{''.join(cells)}</table:table-row>"
        yield "</table:table>"


def paragraph(passage: CopyPassage, words: str = "") -> str:
    """Return the paragraph of ``passage`` in its bookmark, with ``words`` of XML in place of its own."""
    name = passage.name
    inside = words or escape(passage.shown)
    start, end = f'<text:bookmark-start text:name="{name}"/>', f'<text:bookmark-end text:name="{name}"/>'
    return f"<text:p>{start}{inside}{end}</text:p>"


def rewritten(passage: CopyPassage, old: str, new: str) -> str:
    """Return the paragraph with the change ``d1`` where ``old`` was struck out and ``i1`` round ``new``."""
    before, after = map(escape, passage.shown.split(old, 1))
    come = f'<text:change-start text:change-id="i1"/>{escape(new)}<text:change-end text:change-id="i1"/>'
    return paragraph(passage, f'{before}<text:change text:change-id="d1"/>{come}{after}')


def struck(number: str, *paragraphs: str, author: str = "Ann Example") -> str:
    """Return the region of a deletion: what was struck out, and who did it."""
    return _region(number, "deletion", author, "".join(paragraphs))


def put_in(number: str, author: str = "Ann Example") -> str:
    """Return the region of an insertion."""
    return _region(number, "insertion", author)


def _region(number: str, kind: str, author: str, more: str = "") -> str:
    who = f"<dc:creator>{author}</dc:creator><dc:date>2026-11-30T09:00:00</dc:date>"
    change = f"<text:{kind}><office:change-info>{who}</office:change-info>{more}</text:{kind}>"
    return f'<text:changed-region text:id="{number}">{change}</text:changed-region>'

"""Marks a .docx by hand, as ECMA-376-1 (17.13: annotations) has it."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

from lxml import etree

NAMESPACE = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
W = f"{{{NAMESPACE}}}"
BY = f'xmlns:w="{NAMESPACE}" w:id="900" w:author="Ann Example" w:date="2026-11-30T09:00:00Z"'
Marking = Callable[[Any], None]
COMMENT = (
    '<w:comment w:id="{0}" w:author="{1}" w:date="0-00-00T00:00Z"><w:p><w:r><w:t>{2}</w:t></w:r></w:p></w:comment>'
)


_OFFICE = "application/vnd.openxmlformats-officedocument.wordprocessingml"
_LINK = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/comments"
_COMMENT_LINKS = {
    "[Content_Types].xml": f'<Override PartName="/word/comments.xml" ContentType="{_OFFICE}.comments+xml"/>',
    "word/_rels/document.xml.rels": f'<Relationship Id="rId90" Type="{_LINK}" Target="comments.xml"/>',
}


def without_ids(document: Any) -> None:
    etree.strip_elements(document, f"{W}bookmarkStart")


def marked(content: bytes, *markings: Marking, comments: str = "") -> bytes:
    """Return the file ``content`` with its document marked by hand."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    document = etree.fromstring(parts["word/document.xml"])
    for marking in markings:
        marking(document)
    parts["word/document.xml"] = etree.tostring(document)
    if comments:
        parts["word/comments.xml"] = f'<w:comments xmlns:w="{NAMESPACE}">{comments}</w:comments>'.encode()
        for name, element in _COMMENT_LINKS.items():
            end = parts[name].rindex(b"</")
            parts[name] = parts[name][:end] + element.encode() + parts[name][end:]
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as package:
        for name, part in parts.items():
            package.writestr(name, part)
    return target.getvalue()


def paragraph(document: Any, id: str) -> Any:
    return next(document.iterfind(f".//{W}bookmarkStart[@{W}name='{id}']")).getparent()


def run(paragraph: Any, words: str) -> Any:
    """Return the run of a paragraph that has ``words``."""
    return next(text.getparent() for text in paragraph.iter(f"{W}t") if words in text.text)


def fragment(xml: str) -> Any:
    return etree.fromstring(xml)


def rewritten(id: str, old: str, new: str, author: str = "Ann Example") -> Marking:
    """Track ``old`` as deleted and ``new`` as inserted; without an author it is only typed."""

    def mark(document: Any) -> None:
        place = run(paragraph(document, id), old)
        words = place.find(f"{W}t").text
        before, after = words.split(old, 1)
        if not author:
            place.find(f"{W}t").text = before + new + after
            return
        by = BY.replace("Ann Example", author)
        for part in (
            words_run(before),
            f"<w:del {by}><w:r><w:delText xml:space='preserve'>{old}</w:delText></w:r></w:del>" if old else "",
            f"<w:ins {by}>{words_run(new)}</w:ins>" if new else "",
            words_run(after),
        ):
            if part:
                place.addprevious(fragment(part))
        place.getparent().remove(place)

    return mark


def words_run(words: str) -> str:
    return f"<w:r xmlns:w='{NAMESPACE}'><w:t xml:space='preserve'>{words}</w:t></w:r>" if words else ""


def about(id: str, words: str, number: int) -> Marking:
    """Let the comment with this number be about ``words``."""

    def mark(document: Any) -> None:
        place = run(paragraph(document, id), words)
        place.addnext(fragment(f"<w:r xmlns:w='{NAMESPACE}'><w:commentReference w:id='{number}'/></w:r>"))
        for name, where in (("commentRangeStart", place.addprevious), ("commentRangeEnd", place.addnext)):
            where(fragment(f"<w:{name} xmlns:w='{NAMESPACE}' w:id='{number}'/>"))

    return mark

"""The e-book of a procedure, and of all: EPUB 3.3, one chapter a procedure, which says what its page on the site says.

Package, navigation and the properties of accessibility are those of EPUB 3.3 and EPUB Accessibility 1.1 of the W3C. A
chapter lies in a folder of its own with its figures, so that the book of the department takes it over as it is.
"""

import json
from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import Any, NamedTuple

from lxml import etree, html
from lxml.builder import ElementMaker

from builder.compose.document import Document, Renderer, xml_of
from builder.compose.site.own_page import own_page
from builder.compose.site.page import page_musts, page_values
from builder.compose.site.page_citation import in_force_since, page_address
from builder.compose.view.head import head_of
from builder.compose.view.procedure_view import picture_paths, view_of
from builder.compose.view.words import USUAL_CAUTION
from builder.compose.year.review_calendar import named
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Procedure

XHTML, SVG = "http://www.w3.org/1999/xhtml", "http://www.w3.org/2000/svg"
_OPS, _OPF, _DC = "http://www.idpf.org/2007/ops", "http://www.idpf.org/2007/opf", "http://purl.org/dc/elements/1.1/"
_LANG = "{http://www.w3.org/XML/1998/namespace}lang"
_CONTAINER = "urn:oasis:names:tc:opendocument:xmlns:container"
MIMETYPE = "application/epub+zip"
FOLDER, STYLE = "book", "book/book.css"
PACKAGE, NAVIGATION = f"{FOLDER}/package.opf", f"{FOLDER}/navigation.xhtml"
DEPARTMENT = "procedures.epub"
"""The book of all procedures, at the root of the site."""
_UNDATED = "1980-01-01"
"""Of a text that nobody approved: EPUB wants a day, and the clock's would change the book with each publish."""
_TYPES = {".xhtml": "application/xhtml+xml", ".svg": "image/svg+xml", ".png": "image/png", ".css": "text/css"}
_ACCESSIBILITY = (
    ("accessMode", "textual"),
    ("accessMode", "visual"),
    ("accessModeSufficient", "textual"),
    ("accessibilityFeature", "tableOfContents"),
    ("accessibilityFeature", "structuralNavigation"),
    ("accessibilityFeature", "alternativeText"),
    ("accessibilityFeature", "displayTransformability"),
    ("accessibilityFeature", "readingOrder"),
    ("accessibilityHazard", "none"),
)
_SUMMARY = noted(
    "All text can be read aloud and resized. Every figure has a description, and the map of "
    "the operation is told as tables too. Nothing is said by colour alone."
)
# Lower-case names that an HTML parser makes of those of SVG.
_SVG_NAMES = {"viewbox": "viewBox", "preserveaspectratio": "preserveAspectRatio"}


class Chapter(NamedTuple):
    """One procedure in a book: its id, its title with its edition, its files but the figures' bytes, and its contents
    (anchor and words)."""

    id: str
    title: str
    files: tuple[str, ...]
    contents: tuple[tuple[str, str], ...] = ()


class BookAbout(NamedTuple):
    """What a book says of itself."""

    identifier: str
    title: str
    language: str
    publisher: str
    modified: str
    note: str


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the book of ``procedure``; ``text`` is JSON, path to text, or to a figure of the folder."""
    view, head = view_of(library, procedure), head_of(library, procedure)
    values = {**page_values(library, view), "home": page_address(library, procedure), "alone": True}
    chapter_html, look = own_page(procedure, renderer, "book/chapter.html.j2", STYLE, values)
    pictures = {figure_of(str(procedure.id), path): {"path": path} for path in picture_paths(view)}
    contents = tuple((anchor, f"{number} {title}".strip()) for _, anchor, title, number in values["contents"])
    title = title_of(procedure)
    text = chapter_of(str(procedure.id))
    chapter = Chapter(str(procedure.id), title, (text, *pictures), contents)
    since = in_force_since(library, procedure)
    about = BookAbout(
        named(library, "book", str(procedure.id)), title, head.language, head.department,
        since.isoformat() if since else _UNDATED, head.mark,
    )  # fmt: skip
    files = {**book_files(about, [chapter], renderer.templates[STYLE]), text: xhtml_of(chapter_html), **pictures}
    return Document.about(
        procedure,
        "book",
        f"{procedure.id}.epub",
        json.dumps(files, ensure_ascii=False),
        resources=picture_paths(view),
        musts=(*look, *page_musts(library, view, labels=not look)),
    )


def of_department(library: Library, chapters: Sequence[Chapter], style: str) -> dict[str, str]:
    """Return the files of the book of all ``chapters`` that belong to none of them."""
    days = [since for one in library.procedures if (since := in_force_since(library, one))]
    department = library.department
    about = BookAbout(
        named(library, "book"), str(department.name), str(department.language), str(department.name),
        max(days).isoformat() if days else _UNDATED, "",
    )  # fmt: skip
    return book_files(about, chapters, style)


def title_of(procedure: Procedure) -> str:
    """Return what a reader of e-books shows in its list: an older edition must not pass for this one."""
    return gettext("%(title)s, edition %(edition)s", title=procedure.title, edition=procedure.edition)


def chapter_of(id: str) -> str:
    """Return the path of the chapter of the procedure ``id``."""
    return f"{FOLDER}/{id}/index.xhtml"


def figure_of(id: str, path: str) -> str:
    """Return where the figure at ``path`` of the department's folder lies in a book."""
    return f"{FOLDER}/{id}/figures/{PurePosixPath(path).name}"


def book_files(about: BookAbout, chapters: Sequence[Chapter], style: str) -> dict[str, str]:
    """Return the files of a book that belong to no chapter, in their order: the first tells readers what it is."""
    make = ElementMaker(namespace=_CONTAINER, nsmap={None: _CONTAINER})
    root = make.rootfile({"full-path": PACKAGE, "media-type": "application/oebps-package+xml"})
    return {
        "mimetype": MIMETYPE,
        "META-INF/container.xml": xml_of(make.container(make.rootfiles(root), version="1.0")),
        PACKAGE: xml_of(_package(about, chapters)),
        NAVIGATION: xml_of(_navigation(about, chapters)),
        STYLE: style,
    }


def _package(about: BookAbout, chapters: Sequence[Chapter]) -> Any:
    make = ElementMaker(namespace=_OPF, nsmap={None: _OPF})
    dc = ElementMaker(namespace=_DC, nsmap={"dc": _DC})
    accessible = (*_ACCESSIBILITY, ("accessibilitySummary", gettext(_SUMMARY)))
    told = [make.meta(value, property=f"schema:{name}") for name, value in accessible]
    listed = [("navigation", NAVIGATION, "nav"), ("style", STYLE, "")]
    texts: list[str] = []
    for number, chapter in enumerate(chapters, start=1):
        for place, name in enumerate(sorted(chapter.files, key=lambda name: not name.endswith(".xhtml"))):
            id = f"chapter-{number}" if not place else f"figure-{number}-{place}"
            listed.append((id, name, "" if place else "svg"))
        texts.append(f"chapter-{number}")
    return make.package(
        make.metadata(
            dc.identifier(f"urn:uuid:{about.identifier}", id="book"), dc.title(about.title),
            dc.language(about.language), dc.publisher(about.publisher), dc.creator(about.publisher),
            dc.description(" ".join(filter(None, (about.note, gettext(USUAL_CAUTION))))),
            make.meta(f"{about.modified}T00:00:00Z", property="dcterms:modified"), *told,
        ),
        make.manifest(*(_item(make, *one) for one in listed)),
        make.spine(*(make.itemref(idref=id) for id in ("navigation", *texts))),
        {"unique-identifier": "book", "version": "3.0", _LANG: about.language},
    )  # fmt: skip


def _item(make: ElementMaker, id: str, path: str, properties: str) -> Any:
    kind = _TYPES[PurePosixPath(path).suffix]
    more = {"properties": properties} if properties else {}
    return make.item(id=id, href=path.removeprefix(f"{FOLDER}/"), **{"media-type": kind}, **more)


def _navigation(about: BookAbout, chapters: Sequence[Chapter]) -> Any:
    make = ElementMaker(namespace=XHTML, nsmap={None: XHTML, "epub": _OPS})
    entries = [_entry(make, chapter) for chapter in chapters]
    return make.html(
        make.head(make.title(about.title), make.link(rel="stylesheet", type="text/css", href="book.css")),
        make.body(
            make.h1(about.title),
            *([make.p(about.note, {"class": "standing"})] if about.note else []),
            make.p(gettext(USUAL_CAUTION), {"class": "usual"}),
            make.nav(make.h2(gettext("Contents")), make.ol(*entries), {f"{{{_OPS}}}type": "toc"}),
        ),
        lang=about.language,
    )


def _entry(make: ElementMaker, chapter: Chapter) -> Any:
    href = chapter_of(chapter.id).removeprefix(f"{FOLDER}/")
    parts = [make.li(make.a(words, href=f"{href}#{anchor}")) for anchor, words in chapter.contents]
    return make.li(make.a(chapter.title, href=href), *([make.ol(*parts)] if parts else []))


def xhtml_of(text: str) -> str:
    """Return the HTML page ``text`` as XHTML that is good HTML too. Nothing in it folds or runs: not every reader of
    e-books can unfold a part."""
    root = html.document_fromstring(text.encode(), parser=html.HTMLParser(encoding="utf-8"))
    # Unfolded, what a fold is called only repeats the label below it, unless it is a heading.
    folds = (node for node in root.iter("summary") if not node.xpath("h2"))
    for node in [*root.iter("script"), *folds]:
        node.drop_tree()
    page: str = etree.tostring(_as_xhtml(root, XHTML, {None: XHTML}), encoding="unicode")
    return f"<!DOCTYPE html>\n{page}\n"


_UNFOLDED = {"details": "div", "summary": "div"}
_DROPPED = frozenset({"open", "xmlns"})
_VOID = frozenset({"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "wbr"})


def _as_xhtml(node: Any, space: str, names: dict[str | None, str] | None = None) -> Any:
    tag = str(node.tag)
    if tag == "svg":
        space, names = SVG, {None: SVG}
    tag = _UNFOLDED.get(tag, tag)
    attributes = {_SVG_NAMES.get(name, name): value for name, value in node.attrib.items() if name not in _DROPPED}
    made = etree.Element(f"{{{space}}}{tag}", attributes, nsmap=names or {None: space})
    made.text = node.text or ("" if tag not in _VOID else None)
    made.tail = node.tail
    made.extend(_as_xhtml(kid, space) for kid in node if isinstance(kid.tag, str))
    return made

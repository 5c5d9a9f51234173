"""Sets a document on paper: tagged PDF/UA-1 with a fixed identity, from project files only.

The typesetter is served the files it may use, and nothing else. Three schemes exist, so that no address can mean a file
elsewhere: ``folder:`` is a figure of the department's folder, ``templates:`` a font or picture of the templates, and
``code:`` the QR code of the address behind it, drawn here. Web addresses, ``data:`` and ``file:``, ways out of a folder
however they are encoded, links and other kinds of file are refused, and a refusal ends the document: the typesetter
would only log it.
"""

import hashlib
import logging
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pikepdf
from weasyprint import CSS, HTML
from weasyprint.formatting_structure.boxes import MarginBox, TextBox
from weasyprint.text.fonts import FontConfiguration
from weasyprint.text.line_break import split_first_line
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from builder.compose.code_mark import SCHEME, svg_of
from builder.compose.document import Document, Placed
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.files import read_bytes
from builder.load.templates import FOLDER, own_folder
from builder.publish.paper.tags import finish_tags
from builder.publish.publish_error import PublishError, collected

_LINKS = ("https", "http", "mailto", "tel")
_MM_PER_PX = 25.4 / 96
_PT_PER_MM = 72 / 25.4
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_MOST_STYLES = 64
_SAME_EVERYWHERE = "templates:"  # pictures of the templates, in every document
_IDENTIFIER_LENGTH = 32
MAX_BYTES = 20 * 1024 * 1024
_SCHEME = re.compile(r"(?P<scheme>[a-z]+):(?P<name>.*)", re.DOTALL)
_SERVED: Mapping[str, Mapping[str, str]] = {
    "folder": {".svg": "image/svg+xml", ".png": "image/png"},
    "templates": {".ttf": "font/ttf", ".svg": "image/svg+xml", ".png": "image/png"},
}


class ProjectFetcher(URLFetcher):  # type: ignore[misc]  # WeasyPrint publishes no types
    """Fetches for one department. ``refused`` holds what was asked for in vain, in order."""

    def __init__(self, root: Path) -> None:
        super().__init__()
        self.refused: list[str] = []
        own = own_folder()
        self._folders = {"folder": (root,), "templates": (root / FOLDER, own)}

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:  # noqa: ARG002  # part of the interface
        """Return the file that ``url`` names. Raises FatalURLFetchingError, after noting why, for anything else."""
        match = _SCHEME.fullmatch(url)
        if match and match["scheme"] == SCHEME:
            return self._code(url, unquote(match["name"]))
        served = _SERVED.get(match["scheme"]) if match else None
        if match is None or served is None:
            raise self._refuse(url, "only files of the department's folder and of the templates are shown")
        name = unquote(match["name"])
        if "%" in name:
            raise self._refuse(url, "its name is encoded more than once")
        ending = Path(name).suffix.lower()
        if ending not in served:
            raise self._refuse(url, f"only {', '.join(served)} files are shown")
        return URLFetcherResponse(url, self._bytes(url, match["scheme"], name), {"Content-Type": served[ending]})

    def _bytes(self, url: str, scheme: str, name: str) -> bytes:
        reason = ""
        for folder in self._folders[scheme]:
            try:
                return read_bytes(folder, name, MAX_BYTES)
            except Refused as refusal:
                reason = refusal.finding.message
        raise self._refuse(url, reason)

    def _code(self, url: str, address: str) -> URLFetcherResponse:
        try:
            drawn = svg_of(address)
        except ValueError:
            raise self._refuse(url, "no QR code holds it") from None
        return URLFetcherResponse(url, drawn.encode(), {"Content-Type": "image/svg+xml"})

    def _refuse(self, url: str, reason: str) -> FatalURLFetchingError:
        shown = url if len(url) <= 120 else f"{url[:120]}…"
        self.refused.append(f"{shown}: {reason}")
        return FatalURLFetchingError(self.refused[-1])


class Typesetter:
    """Sets documents of one department. Make one a process: fonts are read once."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._fonts = FontConfiguration()
        self._styles: dict[str, CSS] = {}
        self._images: dict[str, Any] = {}
        self._laid: tuple[str, Any] = ("", None)
        self._last: tuple[tuple[str, str], bytes] | None = None

    def pdf(self, document: Document) -> bytes:
        """Return ``document`` as PDF/UA-1, or a sheet of pages of another; the same document gives the same bytes.

        Raises PublishError where it asks for a file or a link it must not have, or where the typesetter complains.
        """
        if document.of is None:
            return self._tagged(document)
        # The single document is the accessible file; laid on a sheet its tags would say nothing true.
        return impose(self._set(document), self._tagged(document.of), document.placed)

    def for_screen(self, document: Document) -> bytes:
        """Return ``document`` as a PDF that is only looked at: without tags, which take a third of the time of writing.

        Raises PublishError as ``pdf`` does.
        """
        return self.pdf(document) if document.of is not None else self._set(document)

    def _tagged(self, document: Document) -> bytes:
        """Return ``document`` with its tags; the last one is kept, because sheets of cards carry one card in turn."""
        told = document.text, document.code
        if self._last is None or self._last[0] != told:
            self._last = (told, self._set(document, pdf_variant="pdf/ua-1", finisher=finish_tags))
        return self._last[1]

    def _set(self, document: Document, **options: Any) -> bytes:
        target = BytesIO()
        with self._guarded(document.name) as fetcher:
            laid, said = self._laid_alike(document, fetcher)
            _refuse_links(laid, document.name)
            laid.metadata.keywords = list(filter(None, [document.keywords]))
            with _saying(said):
                laid.write_pdf(target, pdf_identifier=_identifier(document), **options)
        return target.getvalue()

    def measure(self, html: str) -> tuple[Mapping[str, float], ...]:
        """Return, for each page, the distance in mm of every element with an id from the top of the page."""
        with self._guarded("a page that is measured") as fetcher:
            laid = self._lay_out(html, fetcher)
        return tuple({name: spot[1] * _MM_PER_PX for name, spot in page.anchors.items()} for page in laid.pages)

    def _lay_out(self, html: str, fetcher: ProjectFetcher) -> Any:
        """Return ``html`` as it is laid out; the last is kept, to be drawn as it was measured, or for a document that
        says little else."""
        if self._laid[0] != html:
            self._laid = (html, self._laid_out(html, fetcher))
        laid = self._laid[1]
        laid.fonts = {}  # of an earlier drawing
        return laid

    def _laid_alike(self, document: Document, fetcher: ProjectFetcher) -> tuple[Any, list[tuple[Any, str]]]:
        """Return what ``document`` is drawn of, and the lines in it that say something else with what they say."""
        if document.alike:
            laid, lines = self._lay_out(document.alike.text, fetcher), document.alike.lines
            boxes = [box for box in _lines_to_say(laid) if box.text in lines]
            if {box.text for box in boxes} == lines.keys():  # else one was broken
                return laid, [(box, lines[box.text]) for box in boxes]
        return self._lay_out(document.text, fetcher), []

    def _laid_out(self, html: str, fetcher: ProjectFetcher) -> Any:
        # A style sheet is parsed once, not once a document. All of them move, so that the order of rules stays.
        styles = [self._style(text, fetcher) for text in _STYLE.findall(html)]
        images = dict(self._images)
        page = HTML(string=_STYLE.sub("", html), base_url=None, url_fetcher=fetcher)
        laid = page.render(font_config=self._fonts, stylesheets=styles, cache=images)
        self._images = {url: image for url, image in images.items() if url.startswith(_SAME_EVERYWHERE)}
        return laid

    def _style(self, text: str, fetcher: ProjectFetcher) -> CSS:
        if text not in self._styles:
            if len(self._styles) >= _MOST_STYLES:
                self._styles.clear()
            self._styles[text] = CSS(string=text, base_url=None, url_fetcher=fetcher, font_config=self._fonts)
        return self._styles[text]

    @contextmanager
    def _guarded(self, name: str) -> Iterator[ProjectFetcher]:
        """Give a fetcher. What the typesetter may not have, and what it would only log, is an error: nothing is lost
        quietly. Then nothing is kept, so that it is refused the next time too."""
        fetcher = ProjectFetcher(self.root)
        try:
            with collected(logging.WARNING, "weasyprint") as said, suppress(FatalURLFetchingError):
                yield fetcher
            if fetcher.refused:
                refused = f"{name} asks for a file that it must not have: {fetcher.refused[0]}"
                raise PublishError(refused, is_content=True)
            if said:
                raise PublishError(f"{name} cannot be set: {'; '.join(said[:3])}", is_content=True)
        except BaseException:
            self._laid = ("", None)
            self._styles.clear()
            self._images.clear()
            raise


@contextmanager
def _saying(lines: list[tuple[Any, str]]) -> Iterator[None]:
    """Let each line of type say what stands beside it while it is drawn."""
    before = [(box, box.text) for box, _ in lines]
    for box, text in lines:
        _say(box, text)
    try:
        yield
    finally:
        for box, text in before:
            _say(box, text)


def _lines_to_say(laid: Any) -> Iterator[Any]:
    """Yield the lines in the margins, and those of an element that is marked."""
    for page in laid.pages:
        for part in page._page_box.descendants():
            is_marked = isinstance(part, MarginBox) or (part.element is not None and "data-said" in part.element.attrib)
            inside = part.descendants() if is_marked and not isinstance(part, TextBox) else ()
            yield from (box for box in inside if isinstance(box, TextBox))


def _say(box: Any, text: str) -> None:
    """Let a line of type say ``text``, where its alignment puts it; what it stands in is as wide as before."""
    said, _, _, width, _, _ = split_first_line(text, box.style, None, None, 0)
    if box.style["text_align_all"] == "center":
        box.position_x += (box.width - width) / 2
    box.text, box.width, box.pango_layout = text, width, said


def impose(sheets: bytes, pages: bytes, placed: Iterable[Placed]) -> bytes:
    """Return ``sheets`` with ``pages`` laid over it as ``placed`` says. The same input gives the same bytes."""
    with pikepdf.open(BytesIO(sheets)) as under, pikepdf.open(BytesIO(pages)) as over:
        forms: dict[int, pikepdf.Object] = {}
        for sheet in under.pages:
            # What the sheet's own content did to its axes is undone before a page is laid.
            sheet.contents_add(b"q", prepend=True)
            sheet.contents_add(b"Q")
        for spot in placed:
            if spot.page not in forms:
                forms[spot.page] = under.copy_foreign(over.pages[spot.page - 1].as_form_xobject())
            _lay(under.pages[spot.sheet - 1], forms[spot.page], spot)
        # What lies on a sheet must not be shrunk by a printer, so a viewer is asked not to scale (ISO 32000-1, 12.2).
        under.Root.ViewerPreferences = pikepdf.Dictionary(PrintScaling=pikepdf.Name("/None"))
        target = BytesIO()
        under.save(target, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
        return target.getvalue()


def _lay(sheet: pikepdf.Page, form: pikepdf.Object, spot: Placed) -> None:
    """Lay ``form`` at its own size with its top left corner where ``spot`` says."""
    width, height = (float(side) for side in form.BBox[2:])
    left = spot.left_mm * _PT_PER_MM
    bottom = float(sheet.mediabox[3]) - spot.top_mm * _PT_PER_MM - height
    matrix = (-1, 0, 0, -1, left + width, bottom + height) if spot.turned else (1, 0, 0, 1, left, bottom)
    name = pikepdf.Name(f"/Page{spot.page}")  # a name of our own: pikepdf would make one up
    sheet.add_resource(form, pikepdf.Name.XObject, name, replace_existing=True)
    numbers = " ".join(f"{part:.4f}".rstrip("0").rstrip(".") for part in matrix)
    sheet.contents_add(f"q {numbers} cm {name} Do Q".encode())


def _refuse_links(laid: Any, name: str) -> None:
    if laid.metadata.attachments:
        raise PublishError(f"{name} attaches a file; nothing is ever attached", is_content=True)
    for page in laid.pages:
        for kind, target, *_ in page.links:
            if kind == "attachment" or (kind == "external" and urlsplit(target).scheme not in _LINKS):
                raise PublishError(
                    f"{name} links to {quoted(target)}; only {', '.join(_LINKS)} links are kept", is_content=True
                )


def _identifier(document: Document) -> bytes:
    return hashlib.sha256(f"{document.name}\0{document.text}".encode()).hexdigest()[:_IDENTIFIER_LENGTH].encode()

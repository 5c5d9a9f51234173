"""The site: pages in their frame, the pictures they show, what they look like, and the index of the search.

A single file has style, script, type and pictures in it.
"""

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from html import escape
from pathlib import Path, PurePosixPath
from urllib.parse import unquote

from builder.compose.card import phone_card
from builder.compose.document import Document, Renderer
from builder.compose.evidence import evidence_pages
from builder.compose.site import hosting
from builder.compose.site.hosting import single_policy, site_policy
from builder.compose.site.page import POLICY_MARK, SCRIPT_MARK, STYLE_MARK
from builder.compose.site.web import Frame, WebPage, index_entry, index_script
from builder.compose.year import year_page
from builder.findings.message_words import quoted
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.program_words import spoken_script
from builder.load.templates import FOLDER, own_folder
from builder.model.library import Library
from builder.publish.pictures import put_file, safe_picture
from builder.publish.publish_error import PublishError

_LOOK = "site/look/"
_INDEX = "search/places.js"
# Names at the root of the site that a procedure cannot have.
_RESERVED = ("look", "search", hosting.FOLDER, evidence_pages.FOLDER, year_page.FOLDER)
MAX_SINGLE_BYTES = 2_000_000
_TYPES = {".svg": "image/svg+xml", ".png": "image/png"}
_PICTURE = re.compile(r'<img src="figures/([^"]+)"')
FONTS = ("fonts/PrescrubSans-Regular.woff2", "fonts/PrescrubSans-Italic.woff2", "fonts/PrescrubSans-Bold.woff2")
ASSETS = (*FONTS, "site/look/mark.svg")


@dataclass(frozen=True, slots=True)
class WrittenPage:
    """A page that was written: the ``document`` without its text, and its ``entry`` in the index ("" = none)."""

    document: WebPage
    entry: str


class Site:
    """The site of one department, written page by page into ``folder``."""

    def __init__(self, library: Library, renderer: Renderer, folder: Path) -> None:
        self.library = library
        self.folder = folder
        self.frame = Frame(library, renderer)
        self._index: list[str] = []
        self._names: dict[str, date | None] = {}

    def add_look(self, templates: Mapping[str, str]) -> None:
        """Write style sheets, scripts and type."""
        for name, text in templates.items():
            if name.startswith(_LOOK):
                self.write_file(
                    f"look/{name.removeprefix(_LOOK)}", spoken_script(text) if name.endswith(".js") else text
                )
        for name in ASSETS:
            put_file(self.folder / "look" / PurePosixPath(name).name, asset(self.library.root, name))

    def write(self, page: WebPage) -> WrittenPage:
        """Write ``page``, and the pictures it shows into ``figures/`` beside it."""
        if page.procedure in _RESERVED:
            raise PublishError(
                f"{quoted(page.procedure)} is a folder of the site itself. Rename the procedure.", is_content=True
            )
        self.write_file(page.name, self.frame.around(page))
        for resource in page.resources:
            picture = safe_picture(resource, read_bytes(self.library.root, resource, MAX_FIGURE_BYTES))
            put_file((self.folder / page.name).parent / "figures" / PurePosixPath(resource).name, picture)
        # The text is on the disk now; to keep a thousand of them in memory would cost much.
        entry = index_entry(page.name, page.title, page.sections) if page.sections else ""
        return WrittenPage(replace(page, text="", sections=()), entry)

    def take(self, written: WrittenPage) -> None:
        """Make what ``write`` returned, here or in another process, a page of the site; in the order of the index."""
        self._names[written.document.name] = written.document.modified
        if written.entry:
            self._index.append(written.entry)

    def finish(self) -> None:
        """Write what belongs to all pages: the index, the list of addresses, and the page for what is not there."""
        self.write_file(_INDEX, index_script(self._index))
        self.write_file("sitemap.xml", self.frame.sitemap(self._names))
        self.write_file("404.html", self.frame.not_found())

    def write_file(self, name: str, text: str) -> None:
        """Write a file that is not a page."""
        self.write_bytes(name, text.encode("utf-8"))

    def write_bytes(self, name: str, content: bytes) -> None:
        """Write a file that is no text."""
        put_file(self.folder / name, content)


class SingleFiles:
    """Writes single files of one department; style and script are the same in each, so one policy fits all."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self.root = root
        style = templates["site/look/site.css"]
        for name in FONTS:
            file = PurePosixPath(name).name
            style = style.replace(f'url("{file}")', f'url("{_inline("font/woff2", asset(root, name))}")')
        self.style = style
        # A script in the head runs before the page is there; `defer` works on files only.
        self.still_style = templates[phone_card.STYLE].strip()
        script = spoken_script(templates["site/look/site.js"])
        self.script = f"document.addEventListener('DOMContentLoaded',function(){{{script}}});"
        if "</" in self.style + self.script:
            raise PublishError("site.css and site.js may not hold `</`: it would end them inside a single file.")

    @property
    def site_policy(self) -> str:
        """The policy of a server that serves the site with its single files."""
        return site_policy(self.script, self.style, self.still_style)

    def write(self, document: Document, path: Path) -> None:
        """Write ``document`` to ``path``. Raises PublishError where it is larger than 2 MB."""
        pictures = {PurePosixPath(name).name: self._picture(name) for name in document.resources}
        head, body, rest = document.text.partition("<body>")
        head = head.replace(POLICY_MARK, escape(single_policy(self.style, self.script)), 1)
        head = head.replace(STYLE_MARK, self.style, 1).replace(SCRIPT_MARK, self.script, 1)
        rest = _PICTURE.sub(lambda match: f'<img src="{pictures[unquote(match[1])]}"', rest)
        content = f"{head}{body}{rest}".encode()
        if len(content) > MAX_SINGLE_BYTES:
            largest = max(pictures, key=lambda name: len(pictures[name]), default="its text")
            size = f"{len(content) / 1e6:.1f} MB"
            hint = f"The largest part is {largest}: save it smaller."
            raise PublishError(f"{document.name} has {size}; a single file has at most 2 MB. {hint}", is_content=True)
        path.write_bytes(content)

    def _picture(self, name: str) -> str:
        content = safe_picture(name, read_bytes(self.root, name, MAX_FIGURE_BYTES))
        return _inline(_TYPES[PurePosixPath(name).suffix], content)


def _inline(kind: str, content: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode()}"


def asset(root: Path, name: str) -> bytes:
    """Return the bytes of ``site_templates/name``, of the department in ``root`` where it has one. Raises Refused."""
    if (root / FOLDER / name).is_file():
        return read_bytes(root, f"{FOLDER}/{name}", MAX_FIGURE_BYTES)
    return read_bytes(own_folder(), name, MAX_FIGURE_BYTES)

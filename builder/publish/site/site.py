"""The site: plain Markdown and assets in a work folder, then mkdocs, called last.

mkdocs turns pages into HTML files in our own frame (``site_templates/site/theme``). It holds no logic of ours, so that
it can be exchanged. It is judged by what it raises, never by what it logs. The body of a page is finished HTML: given
to Markdown it would be parsed twice and come out as it was, so Markdown gets only the head of a page. A single file
has style, script, type and pictures in it.
"""

import base64
import errno
import logging
import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from html import escape
from pathlib import Path, PurePosixPath
from typing import Any, Self
from urllib.parse import unquote

import yaml

from builder.compose.card import phone_card
from builder.compose.document import Document
from builder.compose.evidence import evidence_pages
from builder.compose.site import hosting
from builder.compose.site.hosting import single_policy, site_policy
from builder.compose.site.page import POLICY_MARK, SCRIPT_MARK, STYLE_MARK
from builder.compose.site.web import WebPage, index_entry, index_script
from builder.findings.message_words import quoted
from builder.load.files import read_bytes, read_text
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.templates import FOLDER, own_folder
from builder.model.library import Library
from builder.publish.pictures import safe_picture
from builder.publish.publish_error import PublishError, collected

NAME = "mkdocs.yml"
# A department's file may not bring code (hooks, extensions, tags that name Python objects) nor move folders.
_TAKEN = ("site_description", "site_author", "copyright", "plugins")
_LOOK = "site/look/"
# What the theme and mkdocs bring that no page of ours asks for; the .gz holds the time of day.
_UNUSED = ("assets", "sitemap.xml.gz")
_END_OF_HEAD = "\n---\n"
_INDEX = "search/places.js"
# Names at the root of the site that a procedure cannot have.
_RESERVED = ("look", "search", hosting.FOLDER, evidence_pages.FOLDER)
MAX_SINGLE_BYTES = 2_000_000
_TYPES = {".svg": "image/svg+xml", ".png": "image/png"}
_PICTURE = re.compile(r'<img src="figures/([^"]+)"')
FONTS = (
    "fonts/PrescrubSans-Regular.woff2",
    "fonts/PrescrubSans-Italic.woff2",
    "fonts/PrescrubSans-Bold.woff2",
)
ASSETS = (*FONTS, "site/look/mark.svg")


@dataclass(frozen=True, slots=True)
class WrittenPage:
    """A page that was written: the ``document`` without its text, the ``place`` of its body, its ``entry`` in the index
    ("" = none)."""

    document: Document
    place: tuple[int, int]
    entry: str


class Site:
    """The sources of one site below ``folder``; built into ``new``. Use it as a context manager."""

    def __init__(self, library: Library, folder: Path, new: Path) -> None:
        self.library = library
        self.folder = folder
        self.docs = folder / "docs"
        self.bodies = Bodies(folder / "bodies")
        self.new = new
        self._made: set[Path] = set()
        self._index: list[str] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Take the sources away. Once a file system has written them out, that takes it a hundred times as long."""
        self.bodies.close()
        shutil.rmtree(self.docs, ignore_errors=True)  # what is left goes with the work folder

    def add_look(self, templates: Mapping[str, str]) -> None:
        """Write style sheets, scripts and type."""
        for name, text in templates.items():
            if name.startswith(_LOOK):
                self._write(self.docs / "look" / name.removeprefix(_LOOK), text.encode("utf-8"))
        for name in ASSETS:
            self._write(self.docs / "look" / PurePosixPath(name).name, asset(self.library.root, name))

    def write(self, page: WebPage) -> WrittenPage:
        """Write the Markdown of ``page``, and the pictures it shows into ``figures/`` beside it."""
        if page.procedure in _RESERVED:
            raise PublishError(
                f"{quoted(page.procedure)} is a folder of the site itself. Rename the procedure.", is_content=True
            )
        path = self.docs / page.name
        head, rule, body = page.text.partition(_END_OF_HEAD)
        self._write(path.with_suffix(".md"), f"{head}{rule}".encode())
        place = self.bodies.write(body.rstrip("\n"))
        for resource in page.resources:
            picture = safe_picture(resource, read_bytes(self.library.root, resource, MAX_FIGURE_BYTES))
            self._write(path.parent / "figures" / PurePosixPath(resource).name, picture)
        # The text is on the disk now; a thousand of them in memory would be dear.
        entry = index_entry(page.name, page.title, page.sections) if page.sections else ""
        return WrittenPage(replace(page, text="", sections=()), place, entry)

    def take(self, written: WrittenPage) -> None:
        """Make what ``write`` returned, here or in another process, a page of the site; in the order of the index."""
        page = written.document
        self.bodies.places[f"{page.name.removesuffix('.html')}.md"] = written.place
        if written.entry:
            self._index.append(written.entry)

    def write_file(self, name: str, text: str) -> None:
        """Write a file that is no page."""
        self._write(self.docs / name, text.encode("utf-8"))

    def build(self, frames: Mapping[str, Mapping[str, str]]) -> None:
        """Build the site. ``frames`` holds what stands around a page, by the way from it to the root (``..``).

        Raises PublishError where mkdocs gives up, and OSError.
        """
        # Imported here because it takes longer than all else together, and a check needs none of it.
        from mkdocs.commands.build import build  # noqa: PLC0415
        from mkdocs.config import load_config  # noqa: PLC0415
        from mkdocs.exceptions import MkDocsException  # noqa: PLC0415

        self._write(self.docs / _INDEX, index_script(self._index).encode("utf-8"))
        told = site_settings(self.library, self.docs, self.new)
        told["extra"] = {"frames": dict(frames), "language": str(self.library.department.language)}
        file = self.folder / NAME
        self._write(file, yaml.safe_dump(told, allow_unicode=True, width=1000).encode("utf-8"))
        with collected(logging.ERROR, "mkdocs", "MARKDOWN") as said:  # it speaks of files the educator never wrote
            try:
                config = load_config(str(file))
                config.extra["bodies"] = self.bodies
                build(config)
            except (MkDocsException, SystemExit) as error:
                gave_up = f"The site could not be built: {'; '.join(said) or error}."
                raise PublishError(f"{gave_up} If you have a {NAME} of your own, look there first.") from error
        for name in _UNUSED:
            path = self.new / name
            if path.is_dir():
                shutil.rmtree(path)
            else:
                path.unlink(missing_ok=True)

    def _write(self, path: Path, content: bytes) -> None:
        folder = path.parent
        if folder not in self._made:
            folder.mkdir(parents=True, exist_ok=True)
            self._made.add(folder)
        path.write_bytes(content)


class Bodies:
    """The finished HTML of each page by the address of its source, read when the frame is put around it.

    They lie in one ``file``: thousands of small ones take far longer to write and to take away. ``places`` holds start
    and length of each.
    """

    def __init__(self, file: Path) -> None:
        self.places: dict[str, tuple[int, int]] = {}
        self._file = file

    def write(self, html: str) -> tuple[int, int]:
        """Write ``html`` at the end of the file, whoever else does so at the same time, and return its place."""
        content = html.encode("utf-8")
        if os.write(self._handle, content) != len(content):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(self._file))
        return os.lseek(self._handle, 0, os.SEEK_CUR) - len(content), len(content)

    def close(self) -> None:
        """Throw all of it away."""
        if "_handle" in self.__dict__:
            os.close(self._handle)
            del self._handle
        self._file.unlink(missing_ok=True)

    def __getitem__(self, source: str) -> str:
        place, length = self.places[source]
        return os.pread(self._handle, length, place).decode("utf-8")

    @cached_property
    def _handle(self) -> int:
        return os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)


def site_settings(library: Library, docs: Path, site: Path) -> dict[str, Any]:
    """Return the settings of a build of ``docs`` into ``site``. Raises PublishError where a mkdocs.yml is unusable."""
    own = own_folder()
    settings = _read(own.parent)
    if (library.root / NAME).is_file() and library.root.resolve() != own.parent.resolve():
        settings |= _of_department(library.root)
    department = library.department
    settings["theme"]["custom_dir"] = str(own / "site" / "theme")
    return {
        **settings,
        "site_name": str(department.name),
        "site_url": f"{department.site.rstrip('/')}/" if department.site else "",
        "docs_dir": str(docs),
        "site_dir": str(site),
    }


def _of_department(root: Path) -> dict[str, Any]:
    found = _read(root)
    refused = sorted(found.keys() - {*_TAKEN, "site_name", "site_url", "theme"})
    if refused:
        raise PublishError(
            f"{NAME}: {', '.join(refused)} cannot be set by a department. Remove it; {', '.join(_TAKEN)} can be set.",
            is_content=True,
        )
    return {key: value for key, value in found.items() if key in _TAKEN}


def _read(folder: Path) -> dict[str, Any]:
    try:
        found = yaml.safe_load(read_text(folder, NAME))
    except yaml.YAMLError as error:
        line = error.problem_mark.line + 1 if isinstance(error, yaml.MarkedYAMLError) and error.problem_mark else 1
        raise PublishError(
            f"{NAME}:{line}: this cannot be read as YAML. Compare it with the one of prescrub.", is_content=True
        ) from None
    if not isinstance(found, dict):
        raise PublishError(f"{NAME} holds no settings. Remove it, or write `key: value` lines.", is_content=True)
    return found


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
        self.script = f"document.addEventListener('DOMContentLoaded',function(){{{templates['site/look/site.js']}}});"
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

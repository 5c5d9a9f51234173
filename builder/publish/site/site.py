"""The site: plain Markdown and assets in a work folder, then mkdocs, called last.

mkdocs turns pages into HTML files in our own frame (``site_templates/site/theme``). It holds no logic of ours, so that
it can be exchanged. It is judged by what it raises, never by what it logs. The body of a page is finished HTML: given
to Markdown it would be parsed twice and come out as it was, so Markdown gets only the head of a page.
"""

from __future__ import annotations

import errno
import logging
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Any

import yaml

from builder.compose.document import Document
from builder.compose.evidence import evidence_pages
from builder.compose.site import hosting
from builder.compose.site.search import index_entry, index_script
from builder.compose.site.web import WebPage
from builder.findings.message_words import quoted
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.model.library import Library
from builder.publish.pictures.drawings import safe_picture
from builder.publish.publish_error import PublishError
from builder.publish.site import mkdocs_settings
from builder.publish.site.assets import ASSETS, asset

_LOOK = "site/look/"
# What the theme and mkdocs bring that no page of ours asks for; the .gz holds the time of day.
_UNUSED = ("assets", "sitemap.xml.gz")
_END_OF_HEAD = "\n---\n"
_INDEX = "search/search_index.js"
# Names at the root of the site that a procedure cannot have.
_RESERVED = ("look", "search", hosting.FOLDER, evidence_pages.FOLDER)


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

    def __enter__(self) -> Site:
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
        told = mkdocs_settings.site_settings(self.library, self.docs, self.new)
        told["extra"] = {"frames": dict(frames), "language": str(self.library.department.language)}
        file = self.folder / mkdocs_settings.NAME
        self._write(file, yaml.safe_dump(told, allow_unicode=True, width=1000).encode("utf-8"))
        with _silent() as said:
            try:
                config = load_config(str(file))
                config.extra["bodies"] = self.bodies
                build(config)
            except (MkDocsException, SystemExit) as error:
                raise PublishError(_gave_up(error, said)) from error
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


@dataclass(frozen=True, slots=True)
class WrittenPage:
    """A page that was written: the ``document`` without its text, the ``place`` of its body, its ``entry`` in the index
    ("" = none)."""

    document: Document
    place: tuple[int, int]
    entry: str


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


@contextmanager
def _silent() -> Iterator[list[str]]:
    """Collect what mkdocs logs instead of printing it: it speaks of files the educator never wrote."""
    said: list[str] = []
    handler = logging.Handler(logging.ERROR)
    handler.emit = lambda record: said.append(record.getMessage())  # type: ignore[method-assign]
    loggers = [logging.getLogger(name) for name in ("mkdocs", "MARKDOWN")]
    before = [logger.propagate for logger in loggers]
    for logger in loggers:
        logger.addHandler(handler)
        logger.propagate = False
    try:
        yield said
    finally:
        for logger, propagate in zip(loggers, before, strict=True):
            logger.removeHandler(handler)
            logger.propagate = propagate


def _gave_up(error: Any, said: list[str]) -> str:
    reason = "; ".join(said) or str(error)
    return f"The site could not be built: {reason}. If you have a {mkdocs_settings.NAME} of your own, look there first."

"""What a process that makes outputs keeps ready between them; each part is made when it is first asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.publish.selftest.package import write_package

if TYPE_CHECKING:
    from builder.publish.paper.pdf import Typesetter
    from builder.publish.site.single import SingleFiles


class Equipment:
    """Type, templates, style and script for the department in ``root``."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self.root = root
        self.templates = templates

    @cached_property
    def typesetter(self) -> Typesetter:
        """What sets type; fonts are read once."""
        # Imported here because it takes half a second, and pages need none of it.
        from builder.publish.paper.pdf import Typesetter  # noqa: PLC0415

        return Typesetter(self.root)

    @cached_property
    def renderer(self) -> Renderer:
        """The templates, ready to be filled."""
        return Renderer(self.templates, self._measure)

    def _measure(self, html: str) -> tuple[Mapping[str, float], ...]:
        return self.typesetter.measure(html)

    @cached_property
    def single_files(self) -> SingleFiles:
        """What writes single files, and knows their policy. Raises PublishError and Refused."""
        from builder.publish.site.single import SingleFiles  # noqa: PLC0415

        return SingleFiles(self.root, self.templates)

    def write_pdf(self, document: Document, path: Path) -> None:
        """Write ``document`` to ``path`` as PDF. Raises PublishError where it asks for what it must not have."""
        path.write_bytes(self.typesetter.pdf(document))

    def write_plain_text(self, document: Document, path: Path) -> None:
        """Write the text of ``document`` as it is."""
        path.write_text(document.text, encoding="utf-8", newline="\n")

    def write_slides(self, document: Document, path: Path) -> None:
        """Write ``document``, a Deck in JSON, as .pptx."""
        # Imported here because the library that writes them takes long to import, and only slides need it.
        from builder.publish.slides.pptx_file import write_slides  # noqa: PLC0415

        write_slides(document, path, self.root)

    def write_package(self, document: Document, path: Path) -> None:
        """Write ``document``, texts by their paths in JSON, as a zip file."""
        write_package(document, path)

    def write_single_file(self, document: Document, path: Path) -> None:
        """Write ``document`` with all that it shows in it. Raises PublishError where it is too large."""
        self.single_files.write(document, path)

"""What a process that makes outputs keeps ready between them; each part is made when it is first asked for."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.compose.document import Document
from builder.compose.render import Renderer

if TYPE_CHECKING:
    from builder.publish.paper.pdf import Typesetter
    from builder.publish.site.single import SingleFiles

# The earliest time the format of a package knows: it does not tell when it was made.
_MOMENT = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = 0o100644 << 16


class Equipment:
    """Type, templates, style and script for the department in ``root``. Sent to another process it starts anew."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self.root = root
        self.templates = templates

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.root, self.templates)

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
        """Write ``document``, texts by their paths in JSON, as a zip file: the same bytes for the same texts."""
        with zipfile.ZipFile(path, "w") as package:
            for name, text in json.loads(document.text).items():
                entry = zipfile.ZipInfo(name, _MOMENT)
                entry.compress_type = zipfile.ZIP_DEFLATED
                entry.external_attr = _PLAIN_FILE
                package.writestr(entry, text.encode("utf-8"))

    def write_single_file(self, document: Document, path: Path) -> None:
        """Write ``document`` with all that it shows in it. Raises PublishError where it is too large."""
        self.single_files.write(document, path)

"""What all jobs of one publish share."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from builder.model.library import Library
from builder.publish.equipment import Equipment
from builder.publish.kept.cache import Cache
from builder.publish.output import Outputs
from builder.publish.site.site import Site
from builder.write.lock import helping


class Publication(Equipment):
    """What is published, and with what: the ``library`` as it is shown, the table of ``outputs``, the work ``folder``
    (with what is ``made``, and the ``new`` site), and the ``cache`` of files made before."""

    def __init__(
        self, library: Library, templates: Mapping[str, str], outputs: Outputs, folder: Path, cache: Cache | None
    ) -> None:
        super().__init__(library.root, templates)
        self.library = library
        self.outputs = outputs
        self.folder = folder
        self.made = folder / "made"
        self.new = folder / "new"
        self.cache = cache
        self._help = helping(folder)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.library, self.templates, self.outputs, self.folder, self.cache)

    @cached_property
    def site(self) -> Site:
        """The sources of the site."""
        return Site(self.library, self.folder, self.new)

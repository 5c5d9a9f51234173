"""``prescrub publish`` against the bare engines: mkdocs and WeasyPrint on the same composed pages."""

from __future__ import annotations

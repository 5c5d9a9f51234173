"""Packages: texts put into one zip file, the same bytes for the same texts."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

from builder.compose.document import Document

# The earliest time the format knows: a package does not tell when it was made.
_MOMENT = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = 0o100644 << 16


def write_package(document: Document, path: Path) -> None:
    """Write the files of ``document`` (JSON, path to text) to the zip file ``path``."""
    with zipfile.ZipFile(path, "w") as package:
        for name, text in json.loads(document.text).items():
            entry = zipfile.ZipInfo(name, _MOMENT)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = _PLAIN_FILE
            package.writestr(entry, text.encode("utf-8"))

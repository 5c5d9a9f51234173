"""Files of ``site_templates/`` that are no text: a department may keep its own under the same name."""

from __future__ import annotations

from pathlib import Path

from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.templates import FOLDER, own_folder

FONTS = (
    "fonts/PrescrubSans-Regular.woff2",
    "fonts/PrescrubSans-Italic.woff2",
    "fonts/PrescrubSans-Bold.woff2",
)
ASSETS = (*FONTS, "site/look/mark.svg")


def asset(root: Path, name: str) -> bytes:
    """Return the bytes of ``site_templates/name``, of the department in ``root`` where it has one. Raises Refused."""
    if (root / FOLDER / name).is_file():
        return read_bytes(root, f"{FOLDER}/{name}", MAX_FIGURE_BYTES)
    return read_bytes(own_folder(), name, MAX_FIGURE_BYTES)

"""What a picture holds, as one number: a drawing that was changed is a changed procedure."""

from __future__ import annotations

import hashlib
from pathlib import Path

from builder.findings.finding import Refused
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES


def picture_digest(root: Path, name: str) -> str:
    """Return the SHA-256 of the picture ``root/name`` in hexadecimal; "" where it cannot be read.

    A drawing is text: the line ends that a copy between systems changes do not count.
    """
    try:
        content = read_bytes(root, name, MAX_FIGURE_BYTES)
    except Refused:
        return ""  # whoever shows the picture says why
    if name.endswith(".svg"):
        content = content.replace(b"\r\n", b"\n")
    return hashlib.sha256(content).hexdigest()

"""Which papers a preview offers: all that are published, by the table of outputs."""

from __future__ import annotations

from builder.publish.outputs import OUTPUTS

SLIDES = "slides"
CARD = "card"
NAMES = tuple(output.name for output in OUTPUTS)
IN_TABS = tuple(name for name in (CARD, SLIDES) if name in NAMES)
_NO_PAPER = frozenset({"rehearsal-text", "self-test-package", "single-file"}) | {
    name for name in NAMES if name.endswith(("-pptx", "-file"))
}
LOOKED_AT = frozenset(NAMES) - _NO_PAPER
"""What has pages to look at; the others are only kept as files."""
_TITLES = {
    "card": "Pocket card",
    "card-sheet-fold": "Pocket card, one sheet to fold",
    "card-sheet-duplex": "Pocket card, printed on both sides",
    "card-sheet-booklet": "Pocket cards as a booklet",
    "rehearsal-text": "Rehearsal script, as text",
    "what-now": "What now? sheet",
    "patient-sheet": "Patient’s sheet",
    "patient-sheet-large": "Patient’s sheet, large print",
    "self-test-package": "Self-test package",
    "single-file": "Page as one file",
}


def titled(name: str) -> str:
    """Return what an output is called."""
    return _TITLES.get(name) or name.replace("-", " ").capitalize()

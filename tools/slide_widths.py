"""Writes builder/compose/slides/slide_widths.py: how wide each letter of a slide may come out.

Slides as PDF are set in Prescrub Sans. A .pptx names Arial, which is on Windows and macOS; elsewhere Liberation Sans
stands in for it with the same widths (its purpose, https://github.com/liberationfonts). One deck feeds both, so each
letter counts with the wider of the two.

    python tools/slide_widths.py LiberationSans-Regular.ttf LiberationSans-Bold.ttf
"""

from __future__ import annotations

import sys
from math import ceil
from pathlib import Path

from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parent.parent
OWN = ("PrescrubSans-Regular.ttf", "PrescrubSans-Bold.ttf")
HEAD = '''"""Widths of letters on slides, in thousandths of the type size: made by ``tools/slide_widths.py``.

Each is the wider of Prescrub Sans and of the widths that Arial and Liberation Sans share, rounded up.
"""

'''


def widths(path: Path) -> dict[int, int]:
    """Return the width of every character of the font at ``path``, in thousandths of the em, rounded up."""
    font = TTFont(path)
    unit = font["head"].unitsPerEm
    return {code: ceil(1000 * font["hmtx"][name][0] / unit) for code, name in font.getBestCmap().items()}


def wider(own: Path, other: Path) -> dict[int, int]:
    """Return for every character of ``own`` the wider width of both fonts."""
    there = widths(other)
    return {code: max(width, there.get(code, 0)) for code, width in widths(own).items()}


def table(name: str, found: dict[int, int]) -> str:
    """Return the table as Python text, characters by width."""
    by_width: dict[int, str] = {}
    for code, width in sorted(found.items()):
        if width:
            by_width[width] = by_width.get(width, "") + chr(code)
    rows = "".join(f"    {width}: {text!a},\n" for width, text in sorted(by_width.items()))
    return f"{name} = {{\n{rows}}}\n"


def main(regular: str, bold: str) -> None:
    """Write the module."""
    fonts = ROOT / "site_templates" / "fonts"
    tables = (
        table(name, wider(fonts / own, Path(other)))
        for name, own, other in zip(("REGULAR", "BOLD"), OWN, (regular, bold), strict=True)
    )
    text = HEAD + "# ruff: noqa: E501\n" + "".join(tables)
    (ROOT / "builder" / "compose" / "slides" / "slide_widths.py").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Writes builder/compose/slides/slide_widths.py: how wide each letter of a slide may come out.

Slides as PDF are set in Prescrub Sans. A .pptx names Arial, which is on Windows and macOS; elsewhere Liberation Sans
stands in for it with the same widths (its purpose, https://github.com/liberationfonts). One deck feeds both, so each
letter counts with the wider of the two.

    python tools/slide_widths.py LiberationSans-Regular.ttf LiberationSans-Bold.ttf
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from math import ceil
from pathlib import Path
from unicodedata import normalize

from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parent.parent
OWN = ("PrescrubSans-Regular.ttf", "PrescrubSans-Bold.ttf")
APART = "│"  # neither of the fonts has it
HEAD = '''"""Widths of letters on slides, in thousandths of the type size: made by ``tools/slide_widths.py``.

Each is the wider of Prescrub Sans and of the widths that Arial and Liberation Sans share, rounded up. ``slide_text``
reads them: entries stand apart by │, each a width of four figures and the letters of that width. Letters that are as
wide as the letter without its marks, in both faces, are only listed.
"""

'''


def widths(path: Path) -> dict[str, int]:
    """Return the width of every character of the font at ``path``, in thousandths of the em, rounded up."""
    font = TTFont(path)
    unit = font["head"].unitsPerEm
    return {chr(code): ceil(1000 * font["hmtx"][name][0] / unit) for code, name in font.getBestCmap().items()}


def wider(own: Path, other: Path) -> dict[str, int]:
    """Return for every character of ``own`` that has a width the wider one of both fonts."""
    there = widths(other)
    found = {sign: max(width, there.get(sign, 0)) for sign, width in widths(own).items()}
    return {sign: width for sign, width in sorted(found.items()) if width}


def module(regular: Mapping[str, int], bold: Mapping[str, int]) -> str:
    """Return the module that holds both tables."""
    alike = [sign for sign in regular if all(_is_as_its_base(sign, face) for face in (regular, bold))]
    tables = (("AS_THEIR_BASE", "".join(alike)), ("REGULAR", _table(regular, alike)), ("BOLD", _table(bold, alike)))
    return HEAD + "".join(f"{name} = (\n{_lines(text)})\n" for name, text in tables)


def _is_as_its_base(sign: str, face: Mapping[str, int]) -> bool:
    base = normalize("NFKD", sign)[0]
    return base != sign and face.get(base) == face[sign]


def _table(face: Mapping[str, int], alike: list[str]) -> str:
    by_width: dict[int, str] = {}
    for sign in face.keys() - alike:
        by_width[face[sign]] = by_width.get(face[sign], "") + sign
    return APART.join(f"{width:04}{''.join(sorted(signs))}" for width, signs in sorted(by_width.items()))


def _lines(text: str) -> str:
    """Return ``text`` as rows of string literals that stand behind one another."""
    rows = [""]
    for sign in text:
        if len(_literal(rows[-1] + sign)) > 114:
            rows.append("")
        rows[-1] += sign
    return "".join(f"    {_literal(row)}\n" for row in rows)


def _literal(row: str) -> str:
    """Return ``row`` between double quotes where it holds none, as the formatter wants it."""
    return repr(row) if '"' in row else '"' + repr(f"'{row}")[2:]


def main(regular: str, bold: str) -> None:
    """Write the module."""
    fonts = ROOT / "site_templates" / "fonts"
    faces = (wider(fonts / own, Path(other)) for own, other in zip(OWN, (regular, bold), strict=True))
    target = ROOT / "builder" / "compose" / "slides" / "slide_widths.py"
    target.write_text(module(*faces), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])

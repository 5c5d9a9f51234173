"""Says in a finished PDF which letter each glyph of our Arabic type is.

The typesetter names a glyph after the text that it first stood for. Of a letter with a mark on it that is nothing
for the letter and both for the mark, so whoever searches, copies or listens would meet other words than those seen.
"""

import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any

import pydyf
from fontTools.ttLib import TTFont

from builder.load.templates import own_folder

_OURS = re.compile(r"Prescrub-Arabic(?P<bold>-Bold)?$")
_NAMED = re.compile(rb"<(?P<glyph>[0-9a-f]{4})> <[0-9a-f]*>")


def name_letters(pdf: Any) -> None:
    """Name the glyphs of our Arabic type in ``pdf``, a pydyf.PDF about to be written, by the letters of its font."""
    for thing in pdf.objects:
        if isinstance(thing, pydyf.Dictionary) and "ToUnicode" in thing:
            name = thing["BaseFont"]
            if face := _OURS.search(name.decode() if isinstance(name, bytes) else str(name)):
                letters = _letters("Bold" if face["bold"] else "Regular")
                stream = pdf.objects[int(thing["ToUnicode"].split()[0])].stream
                stream[:] = [_named(line, letters) for line in stream]


def _named(line: bytes, letters: Mapping[bytes, bytes]) -> bytes:
    match = _NAMED.fullmatch(line)
    return letters.get(match["glyph"], line) if match else line


@cache
def _letters(face: str) -> Mapping[bytes, bytes]:
    """Return by its number, as it is written there, the line that names a glyph."""
    with TTFont(own_folder() / "fonts" / f"PrescrubArabic-{face}.ttf") as font:
        named = {
            font.getGlyphID(glyph): chr(letter) for letter, glyph in sorted(font.getBestCmap().items(), reverse=True)
        }
    lines = {}
    for number, letter in named.items():
        glyph = f"{number:04x}"
        text = unicodedata.normalize("NFKC", letter).strip() or letter
        lines[glyph.encode()] = f"<{glyph}> <{text.encode('utf-16-be').hex()}>".encode()
    return lines

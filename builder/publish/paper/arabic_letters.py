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
_SPELT = re.compile("uni(?:[0-9A-F]{4}){2,}")
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
    """Return by its number, as it is written there, the line that names a glyph. Signs such as brackets stay as the
    typesetter named them: their glyphs are mirrored."""
    lines = {}
    with TTFont(own_folder() / "fonts" / f"PrescrubArabic-{face}.ttf") as font:
        by_glyph = {glyph: chr(letter) for letter, glyph in sorted(font.getBestCmap().items(), reverse=True)}
        for glyph in font.getGlyphOrder():
            text = unicodedata.normalize("NFKC", by_glyph.get(glyph) or _spelt(glyph)).strip()
            if text and all(unicodedata.category(sign)[0] in "LM" for sign in text):
                number = f"{font.getGlyphID(glyph):04x}"
                lines[number.encode()] = f"<{number}> <{text.encode('utf-16-be').hex()}>".encode()
    return lines


def _spelt(glyph: str) -> str:
    """Return what the name of a glyph of several characters spells: ``uni0651064E``; "" where it spells nothing."""
    digits = glyph.removeprefix("uni") if _SPELT.fullmatch(glyph) else ""
    return "".join(chr(int(digits[at : at + 4], 16)) for at in range(0, len(digits), 4))

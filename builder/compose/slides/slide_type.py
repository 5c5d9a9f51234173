"""Sets words on a slide by counting: how many lines they take at a size, and where they may be parted.

Widths are those of the wider of two fonts (``slide_widths``), without kerning, so that what fits here fits in the PDF
and in a .pptx on a machine that has only the stock font.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from builder.compose.slides.slide_widths import BOLD, REGULAR

LEAST_PT = 24.0
"""No type on a slide is smaller (read from the back row: common practice)."""
_WIDEST = 1000
_TABLES = tuple({sign: width for width, signs in table.items() for sign in signs} for table in (REGULAR, BOLD))
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[^\s])")
# Programs break lines by rules of their own; a line is taken to be this much shorter than its box.
_SPARE = 0.985


def width_of(text: str, pt: float, *, bold: bool = False) -> float:
    """Return how wide ``text`` is in pt on one line."""
    table = _TABLES[bold]
    return sum(table.get(sign, _WIDEST) for sign in text) * pt / 1000


def lines_of(text: str, pt: float, width: float, *, bold: bool = False, indent: float = 0.0) -> int:
    """Return how many lines ``text`` takes in a box of ``width`` pt; the first begins ``indent`` pt in.

    A word longer than a line counts as more lines than one.
    """
    room = width * _SPARE
    count, used = 1, indent
    space = width_of(" ", pt, bold=bold)
    for word in text.split(" "):  # a no-break space keeps words together
        long = width_of(word, pt, bold=bold)
        if used and used + space + long > room and used > 0:
            count, used = count + 1, 0.0
        while long > room:
            count, long = count + 1, long - room
        used += long + (space if used else 0.0)
    return count


def longest_word(text: str, pt: float, *, bold: bool = False) -> float:
    """Return the width in pt of the longest word of ``text``."""
    return max((width_of(word, pt, bold=bold) for word in text.split()), default=0.0)


def sentences(text: str) -> list[str]:
    """Return the sentences of ``text``."""
    return [one for one in _SENTENCE.split(text.strip()) if one]


def words_in(text: str) -> int:
    """Return how many words ``text`` has: what stands between spaces and holds a letter or figure."""
    return sum(any(sign.isalnum() for sign in word) for word in text.split())


def runs(parts: list[str], most: int) -> Iterator[list[str]]:
    """Cut ``parts`` into runs of at most ``most`` words each; a part by itself may have more."""
    run: list[str] = []
    for part in parts:
        if run and sum(map(words_in, run)) + words_in(part) > most:
            yield run
            run = []
        run.append(part)
    if run:
        yield run

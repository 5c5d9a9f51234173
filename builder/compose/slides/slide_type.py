"""Sets words on a slide by counting: how many lines they take at a size, and where they may be parted.

Widths are those of the wider of two fonts (``slide_widths``), without kerning, so that what fits here fits in the PDF
and in a .pptx on a machine that has only the stock font.
"""

import re
from collections.abc import Sequence
from unicodedata import normalize

from builder.compose.slides.slide_widths import AS_THEIR_BASE, BOLD, REGULAR

LEAST_PT = 24.0
"""No type on a slide is smaller (read from the back row: common practice)."""
_WIDEST = 1000
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[^\s])")
# Programs break lines by rules of their own; a line is taken to be this much shorter than its box.
_SPARE = 0.985


def _face(table: str) -> dict[str, int]:
    own = {sign: int(entry[:4]) for entry in table.split("│") for sign in entry[4:]}
    return own | {sign: own[normalize("NFKD", sign)[0]] for sign in AS_THEIR_BASE}


WIDTHS = (_face(REGULAR), _face(BOLD))
"""Widths of letters in regular and bold type, in thousandths of its size."""


def width_of(text: str, pt: float, *, bold: bool = False) -> float:
    """Return how wide ``text`` is in pt on one line."""
    return sum(WIDTHS[bold].get(sign, _WIDEST) for sign in text) * pt / 1000


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
    return [words for words in _SENTENCE.split(text.strip()) if words]


def words_in(text: str) -> int:
    """Return how many words ``text`` has: what stands between spaces and holds a letter or figure."""
    return sum(any(sign.isalnum() for sign in word) for word in text.split())


def runs(lines: Sequence[str], most_words: int, most_lines: int) -> list[list[str]]:
    """Cut ``lines`` into runs of at most so many words and lines each; a line by itself may have more words."""
    cut: list[list[str]] = []
    words = 0
    for line in lines:
        count = words_in(line)
        if not cut or words + count > most_words or len(cut[-1]) == most_lines:
            cut.append([])
            words = 0
        cut[-1].append(line)
        words += count
    return cut

"""Words of a slide: how they are said (prose without marks of references, which go to the notes), how many lines they
take at a size, and where they may be parted.

Widths are those of the wider of two fonts (``slide_widths``), without kerning, so that what fits here fits in the PDF
and in a .pptx on a machine that has only the stock font.
"""

import re
from collections.abc import Iterable, Sequence
from html import unescape
from unicodedata import normalize

from builder.compose.slides.slide import Cite
from builder.compose.slides.slide_widths import AS_THEIR_BASE, BOLD, REGULAR
from builder.compose.view.rendered_prose import ReferenceView
from builder.compose.view.words import plain

LEAST_PT = 24.0
"""No type on a slide is smaller (read from the back row: common practice)."""
_WIDEST = 1000
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[^\s])")
# Programs break lines by rules of their own; a line is taken to be this much shorter than its box.
_SPARE = 0.985
_CITES = re.compile(r'\s*<sup class="cites">.*?</sup>|\s*<span class="practice">.*?</span>', re.DOTALL)
_CITE = re.compile(r'<a href="#ref-(\d+)"[^>]*>\d+</a>(?: \(([^)]*)\))?')
_ENDS = re.compile(r"</(?:p|li|h[1-6]|td|th|tr|blockquote)>")
# What no XML can hold (https://www.w3.org/TR/xml/#charsets), and no type can show.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_ENDED = (".", "!", "?", ":", ";", "…")


def _face(table: str) -> dict[str, int]:
    own = {sign: int(entry[:4]) for entry in table.split("│") for sign in entry[4:]}
    return own | {sign: own[normalize("NFKD", sign)[0]] for sign in AS_THEIR_BASE}


WIDTHS = (_face(REGULAR), _face(BOLD))
"""Widths of letters in regular and bold type, in thousandths of its size."""


def width_of(text: str, pt: float, *, bold: bool = False) -> float:
    """Return how wide ``text`` is in pt on one line."""
    return sum(WIDTHS[bold].get(sign, _WIDEST) for sign in text) * pt / 1000


def lines_of(text: str, pt: float, width: float, *, bold: bool = False) -> int:
    """Return how many lines ``text`` takes in a box of ``width`` pt; a longer word counts as more than one."""
    room = width * _SPARE
    count, used = 1, 0.0
    space = width_of(" ", pt, bold=bold)
    for word in text.split(" "):  # a no-break space keeps words together
        long = width_of(word, pt, bold=bold)
        if used and used + space + long > room:
            count, used = count + 1, 0.0
        while long > room:
            count, long = count + 1, long - room
        used += long + (space if used else 0.0)
    return count


def sentences(text: str) -> list[str]:
    """Return the sentences of ``text``."""
    return [words for words in _SENTENCE.split(text.strip()) if words]


def words_in(text: str) -> int:
    """Return how many words ``text`` has: what stands between spaces and holds a letter or figure."""
    return sum(any(sign.isalnum() for sign in word) for word in text.split())


def runs(lines: Sequence[str], most_words: int) -> list[list[str]]:
    """Cut ``lines`` into runs of at most so many words each; a line by itself may have more."""
    cut: list[list[str]] = []
    words = 0
    for line in lines:
        count = words_in(line)
        if not cut or words + count > most_words:
            cut.append([])
            words = 0
        cut[-1].append(line)
        words += count
    return cut


def said(html: str) -> str:
    """Return the words of clean HTML as running text; what a block holds ends like a sentence."""
    blocks = (" ".join(plain(block).split()) for block in _ENDS.split(_CITES.sub("", html)))
    return " ".join(stopped(block) for block in blocks if block)


def stopped(text: str) -> str:
    """Return ``text`` with a full stop where it has no end."""
    return text if not text or text.endswith(_ENDED) else f"{text}."


def plain_signs(text: str) -> str:
    """Return ``text`` without control characters."""
    return _CONTROL.sub("", text)


def joined(*texts: str | None) -> str:
    """Return texts as sentences behind one another."""
    return " ".join(stopped(text) for text in texts if text)


def cites_in(html: Iterable[str], references: Sequence[ReferenceView]) -> tuple[Cite, ...]:
    """Return the uses of sources in ``html``, each once, in order; the last is common practice, where it says so."""
    cites = (Cite(references[int(number) - 1].key, unescape(at)) for text in html for number, at in _CITE.findall(text))
    practice = [Cite("")] if any('class="practice"' in text for text in html) else []
    return tuple(dict.fromkeys((*cites, *practice)))

"""Words of a procedure as they are said at a slide: prose without marks of references, which go to the notes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import unescape

from builder.compose.slides.slide import Cite
from builder.compose.view.view import ReferenceView
from builder.compose.view.words import plain

_CITES = re.compile(r'\s*<sup class="cites">.*?</sup>|\s*<span class="practice">.*?</span>', re.DOTALL)
_CITE = re.compile(r'<a href="#ref-(\d+)"[^>]*>\d+</a>(?: \(([^)]*)\))?')
_ENDS = re.compile(r"</(?:p|li|h[1-6]|td|th|tr|blockquote)>")
_POINTING = re.compile(r" \((?:step|Figure) [0-9A-Z]+\)")
# What no XML can hold (https://www.w3.org/TR/xml/#charsets), and no type can show.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_ENDED = (".", "!", "?", ":", ";", "…")


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


def joined(*texts: str) -> str:
    """Return texts as sentences behind one another."""
    return " ".join(stopped(text) for text in texts if text)


def without_pointing(text: str) -> str:
    """Return ``text`` without marks such as ``(step 4)``, which lead astray where not every slide is shown."""
    return _POINTING.sub("", text)


def cites_in(html: Iterable[str], references: Sequence[ReferenceView]) -> tuple[Cite, ...]:
    """Return the uses of sources in ``html``, each once, in order."""
    cites = (Cite(references[int(number) - 1].key, unescape(at)) for text in html for number, at in _CITE.findall(text))
    return tuple(dict.fromkeys(cites))


def is_practice(html: str) -> bool:
    """Tell whether ``html`` says that it is common practice."""
    return 'class="practice"' in html

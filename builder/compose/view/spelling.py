"""Abbreviations are spelt out at their first use in each document: one Speller a document, fed in reading order."""

from __future__ import annotations

import re
from collections.abc import Iterable

from builder.model.pages import Term

_TAG = re.compile(r"(<[^>]*>)")


class Speller:
    """Spells out the short forms of ``terms``; with ``plain`` in the words for patients, where there are any.

    Only terms that are abbreviations (written in capitals) are spelt out; a writer who did it by hand is left alone.
    """

    def __init__(self, terms: Iterable[Term], *, plain: bool = False) -> None:
        self._long = {
            str(term.short): str(term.plain if plain and term.plain else term.long)
            for term in terms
            if str(term.short).rstrip("s").isupper()
        }
        self._others = {str(term.short): (str(term.long), str(term.plain or term.long)) for term in terms}
        words = sorted(self._long, key=len, reverse=True)
        self._pattern = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)") if words else None
        self._done: set[str] = set()

    def text(self, words: str) -> str:
        """Return plain text with each abbreviation that was not used before spelt out."""
        if self._pattern is None:
            return words
        return self._pattern.sub(lambda match: self._first(match, words), words)

    def html(self, html: str) -> str:
        """Return clean HTML with the words between its tags spelt out."""
        parts = _TAG.split(html)
        return "".join(part if part.startswith("<") else self.text(part) for part in parts)

    def _first(self, match: re.Match[str], words: str) -> str:
        short = match.group()
        if short in self._done:
            return short
        self._done.add(short)
        before = words[: match.start()].rstrip("( ").casefold()
        after = words[match.end() :].lstrip(" (").casefold()
        if any(before.endswith(form.casefold()) or after.startswith(form.casefold()) for form in self._others[short]):
            return short
        return f"{self._long[short]} ({short})"

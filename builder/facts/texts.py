"""Every text of a department in one string, so that a rule reads all of it in one pass.

A rule that searched each of a step's twenty texts on its own would spend its time on starting to search.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from builder.facts.remembered import once_per_library
from builder.facts.walk import Home, doses, pages
from builder.load.prose import Prose
from builder.model.fields import Node, Page
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Step
from builder.place import Place, Text

SEPARATOR = "\n\x1f"
"""Stands between two texts: no sentence, number or phrase runs over it."""

# What nobody reads aloud. Bounded, so that a text of nothing but brackets costs no more than any other.
_UNREAD = re.compile(r"\]\([^)\n]{0,500}\)|`[^`\n]{0,500}`|<https?://[^>\n]{0,500}>|https?://[^\s)>]{1,500}")


class TextPiece(NamedTuple):
    """One text: where it starts in the whole, the text itself, its page, procedure and what it is (``cue``, ...)."""

    start: int
    text: Text | Prose
    page: Page
    home: Home
    role: str

    def place(self, offset: int) -> Place:
        """Return the place of the character at ``offset`` of the whole; in front matter, of the text it stands in."""
        if isinstance(self.text, Prose):
            return self.text.place(offset - self.start)
        return self.text.at


class Corpus:
    """All texts, joined. ``whole`` has link targets, addresses and code blanked out: nobody reads them aloud."""

    def __init__(self, library: Library) -> None:
        self.pieces: list[TextPiece] = []
        texts: list[str] = []
        self._spans: dict[int, tuple[int, int]] = {}
        start = 0
        for home, page in pages(library):
            begins = start
            for role, text in _texts(page):
                texts.append(_shown(text.source) if isinstance(text, Prose) else text)
                self.pieces.append(TextPiece(start, text, page, home, role))
                start += len(texts[-1]) + len(SEPARATOR)
            self._spans[id(page)] = (begins, start)
        self.whole = SEPARATOR.join(texts)
        self._starts = [piece.start for piece in self.pieces]
        # Of the same length as ``whole``, as that of ``casefold`` need not be.
        self._small = (
            "".join(map(_small, self.whole)) if len(self.whole.lower()) != len(self.whole) else self.whole.lower()
        )

    def where(self, words: Iterable[str]) -> Iterator[int]:
        """Yield where each of ``words``, in small letters, stands, at the speed of a search for a plain string.

        A part of a longer word counts too: what is yielded is a place to look at, and to be read with a pattern.
        """
        for word in words:
            at = self._small.find(word)
            while at >= 0:
                yield at
                at = self._small.find(word, at + 1)

    def words(self, page: Page) -> frozenset[str]:
        """Return the words of all texts of ``page`` in small letters."""
        return words_in(self._small[slice(*self._spans.get(id(page), (0, 0)))])

    def piece(self, offset: int) -> TextPiece:
        """Return the piece that the character at ``offset`` belongs to."""
        return self.pieces[bisect_right(self._starts, offset) - 1]

    def place(self, offset: int) -> Place:
        """Return the place of the character at ``offset``."""
        return self.piece(offset).place(offset)

    def end(self, offset: int) -> int:
        """Return where the text that holds ``offset`` ends."""
        found = self.whole.find(SEPARATOR, offset)
        return found if found >= 0 else len(self.whole)

    def sentence(self, offset: int) -> str:
        """Return the sentence around ``offset``, cut at full stops, empty lines and the ends of the text."""
        return self.whole[slice(*self.sentence_span(offset))]

    def sentence_span(self, offset: int) -> tuple[int, int]:
        """Return where the sentence around ``offset`` starts and ends."""
        start = max(self.piece(offset).start, offset - _LONGEST_SENTENCE)
        before = self.whole[start:offset]
        cut = max(before.rfind(mark) for mark in (". ", ".\n", "? ", "! ", "\n\n", "\n- ", ": "))
        after = _END.search(self.whole, offset, offset + _LONGEST_SENTENCE)
        return start + cut + 1 if cut >= 0 else start, after.start() if after else min(
            len(self.whole), offset + _LONGEST_SENTENCE
        )


def _small(letter: str) -> str:
    return letter.lower() if len(letter.lower()) == 1 else letter


_LONGEST_SENTENCE = 600
"""Characters that are looked at on either side."""

_END = re.compile(r"[.?!](?=\s)|\n\n|\n- |\n\x1f")


def _shown(source: str) -> str:
    """Return prose without what nobody reads aloud, which is blanked out."""
    if "](" not in source and "`" not in source and "://" not in source:
        return source
    return _UNREAD.sub(lambda unread: " " * len(unread[0]), source)


_FIELDS = {
    Step: ("title", "cue", "if_not", "why", "error", "recovery", "call", "order_matters", "stops_here"),
    Caution: ("hazard", "consequence", "avoid", "sign", "if_it_happens", "call"),
    Aftercare: ("title", "patient_text"),
    Procedure: ("title", "summary", "setting"),
}
_OF_DOSE = ("strength", "route", "amount", "every", "per_weight", "cap", "draw_up", "not_covered")


def _texts(page: Page) -> Iterator[tuple[str, Text | Prose]]:
    yield from _written(page, _FIELDS.get(type(page), ()))
    if isinstance(page, Step):
        for action in page.actions:
            if action.what is not None:
                yield "what", action.what
    elif isinstance(page, Procedure):
        yield from (("before_you_start", line) for line in page.before_you_start)
    if isinstance(page, Step | Procedure):
        for figure in page.figure:
            yield from _written(figure, ("alt", "caption", "credit"))
    for dose in doses(page):
        yield from ((f"dose {role}", text) for role, text in _written(dose, _OF_DOSE))
        yield from (("dose band", band.amount) for band in dose.bands)
    if page.body.source:
        yield "prose", page.body


def _written(node: Node, roles: Iterable[str]) -> Iterator[tuple[str, Text]]:
    for role in roles:
        text = getattr(node, role)
        if text is not None:
            yield role, text


_NO_LETTERS = str.maketrans(dict.fromkeys(".,;:!?()[]{}<>|*`~&+=\"'‘’“”/–—", " "))


def words_in(text: str) -> frozenset[str]:
    """Return the words of ``text`` in small letters; of words with a hyphen their parts too."""
    words = text.casefold().translate(_NO_LETTERS).split()
    return frozenset((*words, *(part for word in words if "-" in word for part in word.split("-"))))


@once_per_library
def words_said(library: Library, page: Page) -> frozenset[str]:
    """Return the words of all texts of ``page``: a rule that needs another word has nothing to read there."""
    return corpus(library).words(page)


@once_per_library
def corpus(library: Library) -> Corpus:
    """Return all texts of ``library``."""
    return Corpus(library)

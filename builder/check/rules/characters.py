"""No character of any text file is something else than it looks like."""

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice

from builder.check.hit import Hit, finds
from builder.facts.deceiving import (
    COMMA,
    DIGIT,
    HIDDEN,
    LETTER,
    LONG,
    MIXED,
    NOT_SET,
    Deceiver,
    disguises,
    false_numbers,
    hidden_characters,
    long_words,
    not_in_type,
)
from builder.facts.directions import is_right_to_left
from builder.facts.remembered import once_per_library
from builder.facts.written import written
from builder.findings.message_words import quoted
from builder.load.folder import kind_of
from builder.model.library import Library
from builder.place import Place

_MOST = 50
"""Findings of one file: where there are more, the whole file was typed or copied wrongly."""

_NAMED = (HIDDEN, NOT_SET)
"""What is wrong begins with the character, and not with the words around it."""
_SET = "content/"
_NOT_PUBLISHED = ("/notes.md", "/told.yml")
_HINTS = {
    HIDDEN: "Remove it, with the letters beside it, and write them again.",
    MIXED: "Write the word again with Latin letters.",
    DIGIT: "Write the number with the digits 0 to 9 and a full stop as decimal point.",
    LETTER: "Write the number with digits alone.",
    NOT_SET: "Write it with words, or with another sign.",
    LONG: "Write it as two words, or with a hyphen.",
}


@once_per_library
def _deceivers(library: Library) -> tuple[tuple[Deceiver, str, Place], ...]:
    """Return what deceives in every file: the words, and where they are."""
    found = [*_in_texts(library), *_in_numbers(library), *_in_what_is_set(library)]
    return tuple(found)


def _in_texts(library: Library) -> Iterator[tuple[Deceiver, str, Place]]:
    for file, text in library.texts.items():
        for number, one in enumerate((*hidden_characters(text), *disguises(text))):
            if number == _MOST:
                break
            yield one, text[one.start : one.end], Place.after(file, text[: one.start])


def _in_numbers(library: Library) -> Iterator[tuple[Deceiver, str, Place]]:
    words = written(library)
    seen: Counter[str] = Counter()
    for one in false_numbers(words.whole):
        file = words.piece(one.start).file
        seen[file] += 1
        if seen[file] <= _MOST:
            yield one, words.whole[one.start : one.end], words.place(one.start)


def _in_what_is_set(library: Library) -> Iterator[tuple[Deceiver, str, Place]]:
    for file, text in library.texts.items():
        if file.startswith(_SET) and not file.endswith(_NOT_PUBLISHED):
            kind, _, id = kind_of(file)
            arabic = kind == "translation" and is_right_to_left(id)
            # A patient's sheet in another language is A4, and other languages write what English parts as one word.
            long = () if kind == "translation" else long_words(text)
            for one in islice((*not_in_type(text, arabic=arabic), *long), _MOST):
                yield one, text[one.start : one.end], Place.after(file, text[: one.start])


def _of_kind(kind: str) -> Callable[[Library], Iterator[Hit]]:
    def rule(library: Library) -> Iterator[Hit]:
        for one, shown, at in _deceivers(library):
            if one.kind == kind:
                hint = _HINTS.get(kind) or f"Write `{shown.replace(',', '.')}`."
                yield Hit(at, one.what if kind in _NAMED else f"{quoted(shown)} has {one.what}", hint)

    return rule


for _kind in (HIDDEN, MIXED, DIGIT, LETTER, COMMA, NOT_SET, LONG):
    finds(_kind, piecewise=True)(_of_kind(_kind))

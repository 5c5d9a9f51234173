"""What a draft is made from: an old outline, slides or a recorded talk, as a list of passages in their order."""

import re
import unicodedata
from dataclasses import dataclass, field, replace
from enum import Enum

from builder.findings.register import refuse
from builder.place import Place

MOST_TEXT_BYTES = 4 * 1024 * 1024
MOST_PACKED_BYTES = 64 * 1024 * 1024
MOST_LETTERS = 300_000
"""A talk of five hours; more is not a single procedure, and would not fit into the notes that are read again."""
MOST_PASSAGES = 20_000
MOST_PICTURES = 200


class PassageKind(Enum):
    """What a passage is in its source."""

    HEADING = "heading"
    ITEM = "item"
    TEXT = "text"
    SPEECH = "speech"
    ASIDE = "aside"
    """Speaker notes, comments, footnotes, headers: said beside the text and not in its order."""


class SourceForm(Enum):
    """What the source is, as it is named to the educator."""

    ANSWERS = "the answers"
    OUTLINE = "the outline"
    WORD = "the word-processor file"
    SLIDES = "the slides"
    TALK = "the talk"


@dataclass(frozen=True, slots=True)
class TimeMark:
    """Where in a passage of speech a time is: ``offset`` in the text, ``seconds``, and the ``pause`` before it."""

    offset: int
    seconds: int
    pause: float = 0.0


@dataclass(frozen=True, slots=True)
class Passage:
    """One paragraph, list item, heading or stretch of speech. ``at`` says where, in words (``line 12``, ``slide 3``).

    ``level``: of a heading from 1, of an item from 0. ``label``: the number as written; ``is_numbered`` also where the
    number is made by the word processor and not written.
    """

    kind: PassageKind
    text: str
    at: str
    level: int = 0
    label: str = ""
    is_numbered: bool = False
    marks: tuple[TimeMark, ...] = ()


@dataclass(frozen=True, slots=True)
class RawPicture:
    """A picture of the source, not yet made clean: its bytes, the part shown (per cent: left, top, right, bottom), its
    description, and the number of the ``passage`` it follows."""

    content: bytes = field(repr=False)
    crop: tuple[float, float, float, float] | None
    alt: str
    at: str
    passage: int


@dataclass(frozen=True, slots=True)
class Source:
    """A source as it was read, a file called ``name``. ``left_out`` says what is not text and was not taken over."""

    form: SourceForm
    passages: tuple[Passage, ...]
    pictures: tuple[RawPicture, ...] = ()
    left_out: tuple[str, ...] = ()
    is_markdown: bool = False
    name: str = "answers"


_GONE = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\ufffc]")
_SPACES = re.compile(r"[^\S\n]+")


def clean(text: str) -> str:
    """Return ``text`` with what nobody can see or read taken out; line ends stay, other blanks become single spaces."""
    text = _GONE.sub("", unicodedata.normalize("NFC", text.replace("\x0b", "\n").replace("\x0c", "\n")))
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    kept = "".join(sign if sign in "\n\t" or unicodedata.category(sign)[0] != "C" else "" for sign in text)
    return _SPACES.sub(" ", kept).strip()


def checked(source: Source, file: str) -> Source:
    """Return ``source`` where it contains words, and no more of them than one procedure can have. Raises Refused."""
    letters = sum(len(passage.text) for passage in source.passages)
    if not any(sign.isalpha() for passage in source.passages for sign in passage.text):
        hint = "Check the file: a picture of text contains no words. Copy the steps into a plain text file."
        raise refuse("source-empty", Place(file), f"{file} contains no words", hint)
    if letters > MOST_LETTERS or len(source.passages) > MOST_PASSAGES:
        message = f"{file} has {letters:,} characters in {len(source.passages):,} paragraphs; the limit is "
        message += f"{MOST_LETTERS:,} in {MOST_PASSAGES:,}"
        raise refuse("source-too-large", Place(file), message, "Keep only the part that describes one procedure.")
    return replace(source, name=file)

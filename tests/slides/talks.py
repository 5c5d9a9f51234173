"""How each talk of the demonstration comes out, as a table: run this file to print it.

Counted from the finished decks alone: slides, how long each takes, figures shown, sentences that no note of their slide
has, and what the notes take to say at 130 words a minute beside the time that the slides promise for it.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path

sys.path += [str(Path(__file__).parents[1] / name) for name in ("", "slides", "paper")]

from decks import DEMO, DEMONSTRATION, deck, procedure, session

from builder.compose.slides.session import LENGTHS
from builder.compose.slides.slide import Deck, Slide

WORDS_A_MINUTE = 130
_LANDMARKS = {"title", "eyebrow", "number", "critical", "signal", "letter", "usual", "fact", "source"}
_NOT_SAID = _LANDMARKS | {"legend", "reminder", "option"}
"""Nor names on a figure, what an earlier slide said already, and answers to choose from, which the room reads."""
_SPOKEN = ("Say", "Ask")


@dataclass(frozen=True)
class Talk:
    """One talk: ``minutes`` is 0 for the whole deck; of ``figures`` and those of ``critical`` steps, how many are
    shown, of how many; ``unsaid`` are sentences that no note of their slide has."""

    name: str
    minutes: int
    slides: int
    seconds: float
    figures: tuple[int, int]
    critical: tuple[int, int]
    unsaid: tuple[str, ...]
    spoken: float
    given: float

    @property
    def row(self) -> str:
        length = f"{self.minutes} min" if self.minutes else "whole"
        kept, critical = ("/".join(map(str, pair)) for pair in (self.figures, self.critical))
        return (
            f"{self.name:28} {length:>6} {self.slides:>6} {self.seconds / self.slides:>8.0f} {kept:>7} {critical:>8} "
            f"{len(self.unsaid):>6} {self.spoken:>6.0f} {self.given:>6.0f}"
        )


HEAD = (
    f"{'procedure':28} {'talk':>6} {'slides':>6} {'s/slide':>8} {'figures':>7} {'critical':>8} {'unsaid':>6} "
    f"{'spoken':>6} {'given':>6}"
)


def plain(text: str) -> str:
    return re.sub(r"\W+", " ", text).casefold().strip()


def unsaid(slide: Slide) -> list[str]:
    """Sentences that ``slide`` shows and its notes have not."""
    told = plain(" ".join(note.text for note in slide.notes))
    rows = [row.text for box in slide.boxes if box.role not in _NOT_SAID for row in box.rows]
    sentences = [sentence for text in rows for sentence in re.split(r"(?<=[.!?])\s+", text)]
    return [f"{slide.id}: {sentence}" for sentence in sentences if plain(sentence) not in told]


def talk(name: str, minutes: int) -> Talk:
    made: Deck = session(name, DEMONSTRATION, minutes).deck if minutes else deck(name, DEMONSTRATION)
    steps = procedure(name, DEMONSTRATION).steps.values()
    shown = {slide.picture.path.rpartition("/")[2] for slide in made.slides if slide.picture and slide.picture.path}
    every = {str(figure.file) for step in steps for figure in step.figure}
    critical = {str(figure.file) for step in steps if step.critical for figure in step.figure}
    notes = [note for slide in made.slides for note in slide.notes if note.role in _SPOKEN]
    words = [word for note in notes for word in note.text.partition("(Wait")[0].split() if re.search(r"\w", word)]
    waits = sum(float(wait) for note in notes for wait in re.findall(r"\(Wait about (\d+) seconds", note.text))
    names = sum(len(box.rows) for slide in made.slides for box in slide.boxes if box.role == "legend")
    looks = 3 * len(made.slides) + 8 * sum(bool(slide.picture) for slide in made.slides) + 2 * names
    seconds = sum(slide.seconds for slide in made.slides)
    return Talk(
        name,
        minutes,
        len(made.slides),
        seconds,
        (len(shown & every), len(every)),
        (len(shown & critical), len(critical)),
        tuple(sentence for slide in made.slides for sentence in unsaid(slide)),
        len(words) / WORDS_A_MINUTE * 60,
        seconds - waits - looks,
    )


def talks() -> list[Talk]:
    return [talk(name, minutes) for name in DEMO for minutes in (*LENGTHS, 0)]


if __name__ == "__main__":
    print(HEAD)
    for each in talks():
        print(each.row)
        print(*each.unsaid, sep="\n") if each.unsaid and "-v" in sys.argv else None

"""Labelled talks: what surgeons say, sentence by sentence, each with what it does in the telling.

``talks/*.talk`` are invented talks over as many operations, by several writers, labelled by them; ``talks/second``
holds some of them labelled again by somebody who had not seen the first labels. ``talks/README.md`` says what each
label means.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent / "talks"
FIRST = FOLDER / "first"
"""The talks that drafts were first made for, labelled by role alone: they are learned from and never measured."""
ROLES = (
    "opening", "before", "begin", "do", "danger", "go-on", "if-not", "why", "afterwards", "alternative", "count",
    "aside",
)  # fmt: skip


@dataclass(frozen=True)
class Doing:
    """One thing done in a sentence. ``mark`` is "" where it is plainly done, "?" supposed, "!" denied or mistaken."""

    mark: str
    verb: str
    objects: tuple[str, ...]


@dataclass(frozen=True)
class LabelledSentence:
    """A sentence with its ``role``, the ``title`` of the step it begins, what is done, and ``(heard, meant)`` pairs."""

    role: str
    said: str
    title: str = ""
    doings: tuple[Doing, ...] = ()
    misheard: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Talk:
    """A talk: its ``name``, what its head says (operation, manner, speaker, unsaid), and its sentences."""

    name: str
    head: dict[str, str]
    sentences: tuple[LabelledSentence, ...]

    @property
    def words(self) -> int:
        """How many words are said."""
        return sum(len(sentence.said.split()) for sentence in self.sentences)


def talks(folder: Path = FOLDER) -> Iterator[Talk]:
    """Yield the talks of ``folder`` in order of their names. Raises ValueError at the line that cannot be read."""
    for path in sorted(folder.glob("*.talk")):
        head, _, body = path.read_text(encoding="utf-8").partition("---\n")
        said = dict(line.split(": ", 1) for line in head.strip().splitlines())
        sentences = []
        for number, line in enumerate(body.splitlines(), start=head.count("\n") + 2):
            try:
                sentences.append(_sentence(line))
            except ValueError as error:
                raise ValueError(f"{path.name}:{number}: {error}") from error
        yield Talk(path.stem, said, tuple(sentences))


def _sentence(line: str) -> LabelledSentence:
    role, bar, rest = line.partition(" | ")
    if role not in ROLES or not bar:
        raise ValueError(f"not a role: {role!r}")
    rest, _, misheard = rest.partition(" ~ ")
    rest, _, doings = rest.partition(" => ")
    said, _, title = rest.partition(" @ ")
    if title and role != "begin":
        raise ValueError("only a sentence that begins a step has a title")
    pairs = [pair.split("=", 1) for pair in misheard.split(", ") if pair]
    missing = [heard for heard, _ in pairs if heard.casefold() not in said.casefold()]
    if missing:
        raise ValueError(f"not in the sentence: {missing}")
    return LabelledSentence(
        role, said, title.strip(), tuple(_doings(doings)), tuple((heard, meant) for heard, meant in pairs)
    )


def _doings(text: str) -> Iterator[Doing]:
    for part in filter(None, map(str.strip, text.split(";"))):
        match = re.fullmatch(r"([?!]?)([a-z]+): (.+)", part)
        if match is None:
            raise ValueError(f"not an action: {part!r}")
        yield Doing(match[1], match[2], tuple(name.strip() for name in match[3].split(",")))

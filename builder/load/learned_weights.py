"""How much each feature of what is said speaks for each label: learned, kept as text, a feature a line.

The first line names the labels; then ``feature``, a tab, and for each label that it speaks for or against a letter with
hundredths: ``first=never`` and ``a-12e140``. Labels after the 26th have capital letters. ``make drafts`` writes the
files from the labelled talks.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent
_LINE = re.compile(r"^(.+)\t([A-Za-z\d-]+)$", re.MULTILINE)
_WEIGHT = re.compile(r"([A-Za-z])(-?\d+)")
LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
AFTER = "after "
"""Begins the name of what speaks for a role because of the role before it."""


@dataclass(frozen=True)
class LearnedWeights:
    """The ``labels``, and what each feature speaks for, as it is written."""

    labels: tuple[str, ...]
    written: Mapping[str, str]
    _read: dict[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)

    def of(self, feature: str) -> tuple[tuple[int, int], ...]:
        """Return pairs of a label's number and the weight of ``feature`` for it; they are read when first asked for."""
        if feature not in self._read and feature in self.written:
            pairs = _WEIGHT.findall(self.written[feature])
            self._read[feature] = tuple((LETTERS.index(letter), int(weight)) for letter, weight in pairs)
        return self._read.get(feature, ())

    def sums(self, features: Sequence[str]) -> list[int]:
        """Return how much ``features`` speak for each label."""
        sums = [0] * len(self.labels)
        for feature in features:
            for label, weight in self.of(feature):
                sums[label] += weight
        return sums


def file_of(what: str) -> Path:
    """Return the file of the weights for ``what``: "role", "doing" or "title"."""
    return FOLDER / f"{what}-weights.txt"


def parsed(text: str) -> LearnedWeights:
    """Return the weights in ``text``."""
    labels, _, lines = text.partition("\n")
    return LearnedWeights(tuple(labels.split("\t")), dict(_LINE.findall(lines)))


@cache
def learned_weights(what: str) -> LearnedWeights:
    """Return the weights for ``what`` that ship with the program."""
    return parsed(file_of(what).read_text(encoding="utf-8"))

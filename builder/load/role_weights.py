"""How much each feature of a sentence speaks for each role: learned, kept as text, a feature a line.

The first line names the roles; then ``feature``, a tab, and for each role that it speaks for or against the letter of
the role with hundredths: ``first=never`` and ``a-12e140``. ``make drafts`` writes the file from the labelled talks.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

FILE = Path(__file__).with_name("role-weights.txt")
_LINE = re.compile(r"^(.+)\t([a-z\d-]+)$", re.MULTILINE)
_WEIGHT = re.compile(r"([a-z])(-?\d+)")
AFTER = "after "
"""Begins the name of what speaks for a role because of the role before it."""


@dataclass(frozen=True)
class RoleWeights:
    """The ``roles``, and what each feature speaks for, as it is written."""

    roles: tuple[str, ...]
    written: Mapping[str, str]
    _read: dict[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)

    def of(self, feature: str) -> tuple[tuple[int, int], ...]:
        """Return pairs of a role's number and the weight of ``feature`` for it; they are read when first asked for."""
        if feature not in self._read and feature in self.written:
            pairs = _WEIGHT.findall(self.written[feature])
            self._read[feature] = tuple((ord(letter) - ord("a"), int(weight)) for letter, weight in pairs)
        return self._read.get(feature, ())


def parsed(text: str) -> RoleWeights:
    """Return the weights in ``text``."""
    roles, _, lines = text.partition("\n")
    return RoleWeights(tuple(roles.split("\t")), dict(_LINE.findall(lines)))


@cache
def role_weights() -> RoleWeights:
    """Return the weights that ship with the program."""
    return parsed(FILE.read_text(encoding="utf-8"))

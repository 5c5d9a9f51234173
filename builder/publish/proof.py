"""What publish asks of the stage behind it: a proof of each finished file, before anything is put in place.

Read-back stands behind publish and may not be imported here, so whoever publishes hands its proofs in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from builder.compose.document import Document
from builder.model.library import Library


class ReadBack(Protocol):
    """What was found in a finished file: ``problems`` in plain words, empty where it shows all that it promised."""

    @property
    def pages(self) -> int | None:
        """How many sheets of paper it takes, None where it is no paper."""

    @property
    def smallest_type_pt(self) -> float | None:
        """The smallest type in points, measured in the file."""

    @property
    def problems(self) -> tuple[str, ...]:
        """What it does not show as promised."""


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof: ``names`` of what it shows (they go into the report), and the function that reads a file back.

    ``of_sheets`` is what it shows of a sheet that carries pages of another document, where that is something else.
    """

    names: tuple[str, ...]
    read_back: Callable[[Document, Path], ReadBack]
    of_sheets: tuple[str, ...] = ()

    def names_for(self, document: Document) -> tuple[str, ...]:
        """Return what it shows of ``document``."""
        return self.names if document.of is None else self.of_sheets or self.names


Sweep = Callable[[Library, Path], tuple[str, ...]]
"""Looks through a finished folder for what must not be published; returns what it found in plain words."""

Proofs = Mapping[str, Proof]
"""Proofs by the ending of the files they read, such as ``.pdf``."""

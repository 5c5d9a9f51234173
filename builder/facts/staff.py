"""The people of the department whom its own files name: owners, authors, approvers, and who drew a figure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.facts.remembered import once_per_department
from builder.facts.walk import figures
from builder.grouping import word_set
from builder.model.library import Library

TITLES = word_set("mr mrs ms miss mx master dr prof professor sir dame sister")
_WORD = re.compile(r"[^\W\d_]+(?:[-'’][^\W\d_]+)*")


class PersonName(NamedTuple):
    """A name in parts, in small letters: ``title`` ("" for none), ``given`` names or initials, ``family`` name."""

    title: str
    given: tuple[str, ...]
    family: str

    def is_same(self, other: PersonName) -> bool:
        """Tell whether both may be one person: an initial stands for a name, and a name left out for any."""
        if self.family != other.family:
            return False
        return all(
            one.startswith(two) or two.startswith(one) for one, two in zip(self.given, other.given, strict=False)
        )


def person_name(written: str) -> PersonName:
    """Return the parts of ``written``; ``Example, Ada`` is Ada Example, and Dr or Mr is no part of the name."""
    family, comma, rest = written.partition(",")
    if comma and len(_WORD.findall(family)) == 1:
        written = f"{rest} {family}"
    words = [word.casefold() for word in _WORD.findall(written.replace("’", "'"))]
    title = words.pop(0) if len(words) > 1 and words[0] in TITLES else ""
    return PersonName(title, tuple(words[:-1]), words[-1] if words else "")


@once_per_department
def staff(library: Library) -> frozenset[PersonName]:
    """Return everybody whom the department's files name as one of its own."""
    return frozenset(person_name(name) for name in _names(library))


def _names(library: Library) -> Iterator[str]:
    for procedure in library.procedures:
        yield procedure.owner.name
        yield from (author.name for author in procedure.authors)
        yield from (approval.by for approval in procedure.approval)
    for _, figure in figures(library):
        if figure.credit is not None:
            yield from re.findall(r"(?:[A-Z][\w.'’-]*\s?){2,4}", figure.credit)


def is_of_staff(written: str, people: frozenset[PersonName]) -> bool:
    """Tell whether the name ``written`` is that of one of ``people``; another title means somebody else."""
    name = person_name(written)
    return any(name.is_same(other) and (not other.title or other.title == name.title) for other in people)

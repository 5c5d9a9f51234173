"""Names of authors and editors as Citing Medicine writes them: ``Gilstrap LC 3rd``, ``Alf-One Study Group``."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pybtex.database import Person

from builder.load.sources.latex import plain
from builder.load.sources.person_names import is_group, is_others

MOST_INITIALS = 2
"""Citing Medicine, chapter 1, "Author": at most two initials after each surname."""

_LINEAGE = {"ii": "2nd", "iii": "3rd", "iv": "4th", "v": "5th", "jr": "Jr", "sr": "Sr"}
_GIVEN = re.compile(r"[\s.\-\u2010\u2011~]+")


def name_of(person: Person) -> str:
    """Return one name: surname, up to two initials, lineage; or an organisation without its leading "The"."""
    family = plain(" ".join([*person.prelast_names, *person.last_names]))
    if is_group(person):
        return re.sub(r"^The\s+", "", family)
    given = plain(" ".join([*person.first_names, *person.middle_names]))
    lineage = " ".join(_lineage(name) for name in person.lineage_names)
    return " ".join(part for part in (family.replace(".", ""), initials(given), lineage) if part)


def _lineage(name: str) -> str:
    bare = plain(name).rstrip(".")
    return _LINEAGE.get(bare.lower(), bare)


def initials(given: str) -> str:
    """Return the initials of given names; a part that is all capitals, such as ``JP``, is initials already."""
    letters = ""
    for part in _GIVEN.split(given):
        if part.isupper() and len(part) <= 3:
            letters += part
        elif part:
            letters += part[0].upper()
    return letters[:MOST_INITIALS]


def name_list(persons: Sequence[Person], most: int) -> str:
    """Return the names in order, at most ``most``, then ``et al``; a semicolon sets organisations apart."""
    known = [person for person in persons if not is_others(person)]
    shown = known[:most] if len(known) > most else known
    text = ""
    before = False
    for person in shown:
        group = is_group(person)
        text += ("; " if before or group else ", ") * bool(text) + name_of(person)
        before = group
    if len(shown) < len(known) or (len(known) < len(persons) and text):
        text += ", et al."
    return text

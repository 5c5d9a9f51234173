"""Names of people and organisations, between the formats: BibTeX, RIS, PubMed and CSL-JSON."""

from __future__ import annotations

import re
from typing import NamedTuple

from pybtex.database import Person

from builder.load.sources.latex import latex, plain

_SUFFIXES = frozenset({"jr", "sr", "2nd", "3rd", "4th", "5th", "ii", "iii", "iv"})
_OTHERS = frozenset({"others", "et al", "et al."})


class Name(NamedTuple):
    """A person's ``family`` name (particles included), ``given`` names and ``suffix``; or a ``group``, named whole."""

    family: str
    given: str = ""
    suffix: str = ""
    group: bool = False


OTHERS = Name("others")


def is_others(person: Person) -> bool:
    """Tell whether ``person`` is the ``others`` of ``and others``."""
    return not person.first_names and [str(name) for name in person.last_names] == ["others"]


def is_group(person: Person) -> bool:
    """Tell whether ``person`` is an organisation: written in braces, or several words without a comma."""
    if person.first_names or person.middle_names or person.prelast_names or person.lineage_names:
        return False
    return any(" " in name or name.startswith("{") for name in person.last_names) or len(person.last_names) > 1


def name_from(person: Person) -> Name:
    """Return what BibTeX's ``person`` is called."""
    if is_others(person):
        return OTHERS
    family = plain(" ".join([*person.prelast_names, *person.last_names]))
    if is_group(person):
        return Name(family, group=True)
    given = plain(" ".join([*person.first_names, *person.middle_names]))
    return Name(family, given, plain(" ".join(person.lineage_names)))


def name_of_parts(family: str, given: str = "", suffix: str = "") -> Name:
    """Return a name from its parts; a name of one part with a space in it can only be an organisation's."""
    family, given, suffix = (" ".join(part.split()) for part in (family, given, suffix))
    if family.lower() in _OTHERS and not given:
        return OTHERS
    return Name(family, given, suffix, group=not given and not suffix and " " in family)


def name_with_commas(written: str) -> Name:
    """Return the name in ``Family, Given, Suffix`` (RIS) or ``Family, Given Suffix`` (PubMed); no comma: a whole."""
    family, *rest = (part.strip() for part in written.split(","))
    given, suffix = (rest[0] if rest else "", ", ".join(rest[1:]))
    words = given.split()
    if not suffix and len(words) > 1 and words[-1].rstrip(".").lower() in _SUFFIXES:
        given, suffix = " ".join(words[:-1]), words[-1]
    return name_of_parts(family, given, suffix)


def bibtex_name(name: Name) -> str:
    """Return ``name`` as an author field holds it; what BibTeX would take apart stands in braces."""
    if name == OTHERS:
        return "others"
    if name.group:
        return f"{{{latex(name.family)}}}"
    parts = [name.family, name.suffix, name.given] if name.suffix else [name.family, name.given]
    return ", ".join(_whole(part) for part in parts if part)


def _whole(part: str) -> str:
    written = latex(part)
    return f"{{{written}}}" if "," in part or re.search(r"\band\b", part, re.IGNORECASE) else written

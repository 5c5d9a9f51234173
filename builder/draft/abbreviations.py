"""Abbreviations in capitals, and how the source spells them out."""

from __future__ import annotations

import re

from builder.draft.proposal import Abbreviation
from builder.load.packs import words
from builder.load.told.draft_source import Source
from builder.model.library import Library

_SHORT = re.compile(r"(?<![\w-])([A-Z]{2,5}[0-9]?)s?(?![\w-])")
_SPELT = re.compile(r"((?:[A-Za-z][\w'-]*\s+){1,6})\(\s*(?P<short>[A-Z]{2,5}[0-9]?)s?\s*\)")
_SPELT_AFTER = re.compile(r"(?<![\w-])(?P<short>[A-Z]{2,5})\s*\(\s*(?P<long>[a-z][^()]{3,60})\)")
_SMALL = frozenset({"of", "the", "and", "for", "to", "in"})


def abbreviations(source: Source, library: Library) -> tuple[Abbreviation, ...]:
    """Return the abbreviations of ``source`` that the department's terms lack; headings in capitals are not read."""
    known = {str(term.short) for term in library.terms} | words("household", "short")
    long: dict[str, str] = {}
    first: dict[str, str] = {}
    for passage in source.passages:
        for match in _SPELT.finditer(passage.text):
            if words_before := _spelt(match[1].split(), match["short"]):
                long.setdefault(match["short"], words_before)
        for match in _SPELT_AFTER.finditer(passage.text):
            long.setdefault(match["short"], match["long"].strip())
        if passage.text != passage.text.upper():
            for match in _SHORT.finditer(passage.text):
                first.setdefault(match[1], passage.at)
    return tuple(Abbreviation(short, long.get(short, ""), at) for short, at in first.items() if short not in known)


def _spelt(before: list[str], short: str) -> str:
    """Return the last of the words ``before`` whose first letters are those of ``short``."""
    for count in range(1, len(before) + 1):
        tail = before[-count:]
        letters = [word[0].upper() for word in tail if word.lower() not in _SMALL]
        if "".join(letters) == short or "".join(word[0].upper() for word in tail) == short:
            return " ".join(tail)
    return ""

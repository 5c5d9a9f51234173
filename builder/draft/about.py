"""What a source says of the whole: specialty, side, setting, only in so many words; and how it abbreviates."""

import re

from builder.draft.proposal import Abbreviation
from builder.load.packs import words
from builder.load.told.draft_source import PassageKind, Source
from builder.model.library import Library

_LINE = re.compile(r"(?P<key>special(?:i)?ty|side|setting|place)\s*[:–—]\s*(?P<value>\S.{0,120})", re.IGNORECASE)
_SIDES = ("left", "right", "both", "midline", "either")


def about(source: Source, title: str) -> dict[str, str]:
    """Return what lines such as ``Specialty: ...``, the answers to questions, or the title say, by what it is about."""
    said: dict[str, str] = {}
    heading = ""
    for passage in source.passages:
        if passage.kind is PassageKind.HEADING:
            heading = passage.text.casefold()
            continue
        line = _LINE.fullmatch(passage.text)
        key, value = (line["key"].casefold(), line["value"]) if line else (heading, passage.text)
        key = {"speciality": "specialty", "place": "setting"}.get(key, key)
        if key in ("specialty", "side", "setting", "owner", "role of the owner"):
            said.setdefault(key, value.strip(" ."))
    side = said.pop("side", "").casefold()
    if side not in _SIDES:
        match = re.search(r"\b(left|right)\b", title, re.IGNORECASE)
        side = match[1].casefold() if match else ""
    return said | ({"side": side} if side else {})


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

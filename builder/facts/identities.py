"""What names a patient in a text: NHS numbers, dates of birth, hospital numbers, names with a patient's title.

Used on what was written (``check/rules/patient_names.py``) and on every finished file (``readback/identity.py``).
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from stdnum.gb import nhs

NONE_NEEDED = frozenset({"none needed", "not needed", "none"})
"""What is written as the consent of a figure that shows no patient."""

_SHOWN = 3
"""Characters of a name or number that a message may show."""

NHS, BIRTH, HOSPITAL, NAME = "nhs-number", "date-of-birth", "hospital-number", "patient-name"


class Identity(NamedTuple):
    """Something that names a patient: its ``kind``, where it starts and ends, ``is_test`` for the 999 range."""

    kind: str
    start: int
    end: int
    is_test: bool = False


# Ten digits, alone or grouped 3 3 4 as the NHS Data Dictionary shows the number.
_TEN = re.compile(r"[0-9][0-9][0-9](?P<sep>[ -]?)[0-9]{3}(?P=sep)[0-9]{4}(?![0-9])(?![-./][0-9])")
_OTHER_NUMBER = re.compile(
    r"(?:isbn|issn|doi|pmid|pmc|orcid|tel|telephone|phone|ext|extension|fax|bleep|pager|ring|call|mobile|lot|batch|serial|"
    r"gtin|ean|barcode|ref|reference|model|catalogue|grant|isrctn|nct|registration|gmc|nmc|trial|form|"
    r"policy|document|version)\b\.?[^.;\n]{0,18}$",
    re.IGNORECASE,
)
_NHS_WORD = re.compile(r"nhs\b[^.;\n]{0,16}$", re.IGNORECASE)
_DATE = (
    r"(?:[0-3]?[0-9][-/. ](?:[01]?[0-9]|jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*[-/. ]"
    r"(?:19|20)?[0-9]{2}|(?:19|20)[0-9]{2}-[01][0-9]-[0-3][0-9])"
)
_BIRTH = re.compile(rf"(?:d\.?o\.?b\.?\b|date of birth|birth ?date|born(?: on)?|\bb\.)[\s:=(]*{_DATE}", re.IGNORECASE)
_HOSPITAL_WORD = re.compile(
    r"\b(?:hosp(?:ital)?\.? ?(?:no|num|number|id)|mrn|patient ?(?:no|num|number|id)|unit ?no|unit number|"
    r"case ?(?:no|number)|chi(?: ?(?:no|number))?|crn|nhi|record ?(?:no|number)|pas ?(?:no|number))\b\.?[\s:#=]*"
    r"(?:is )?(?P<letters>[A-Z]{0,3}[- ]?)$",
    re.IGNORECASE,
)
_LONG_NUMBER = re.compile(r"[0-9][0-9]{4,9}(?![0-9])")
_ALL_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"000000000")
_BARE_HOSPITAL = re.compile(r"[A-Z][0-9]{6,8}(?![0-9A-Za-z])")
_TITLE = re.compile(r"M(?:r|rs|s|iss|aster|x)\.? (?:[A-Z]\.? ?)?[A-Z][a-z]+(?:[-'][A-Z][a-z]+)?")
_LABELLED = re.compile(r"[:=]\s*[A-Z][a-z]+,? [A-Z][a-z]+")
_PATIENT_WORD = re.compile(r"(?:patient(?:'s)?(?: name)?|name of (?:the )?patient|\bpt)\s*$", re.IGNORECASE)
_NOT_NAMES = frozenset({"Patient", "Smith-Petersen"})


def masked(words: str) -> str:
    """Return ``words`` with most of them hidden: a report must not spread what it warns of."""
    return words[:_SHOWN] + "…" * (len(words) > _SHOWN)


def identities(text: str) -> Iterator[Identity]:
    """Yield everything in ``text`` that names a patient, kind by kind."""
    yield from _nhs_numbers(text)
    low = text.casefold()
    if any(word in low for word in ("birth", "born", "dob", "d.o.b")):
        for match in _BIRTH.finditer(text):
            yield Identity(BIRTH, match.start(), match.end())
    yield from _hospital_numbers(text)
    yield from _names(text)


def _nhs_numbers(text: str) -> Iterator[Identity]:
    for match in _TEN.finditer(text):
        start, digits = match.start(), match.group().replace(" ", "").replace("-", "")
        before = text[max(0, start - 40) : start]
        if before[-1:].isalnum() or before[-1:] in ("/", ".", "-", "+", "_", "#", "="):
            continue
        if before[-2:-1].isdigit() and before[-1:] == " " and not _NHS_WORD.search(before):
            continue  # the tail of a longer number
        named = bool(_NHS_WORD.search(before))
        if len(set(digits)) == 1 or (not named and _OTHER_NUMBER.search(before)):
            continue
        # A number called an NHS number is one even where its check digit is mistyped.
        if nhs.is_valid(digits) or named:
            yield Identity(NHS, start, match.end(), digits.startswith("999"))


def _hospital_numbers(text: str) -> Iterator[Identity]:
    # Whether five digits stand together, far faster than a pattern could tell: most finished files hold none.
    if b"00000" not in text.encode("utf-8", "surrogatepass").translate(_ALL_DIGITS_ALIKE):
        return
    taken = set()
    for match in _LONG_NUMBER.finditer(text):
        word = _HOSPITAL_WORD.search(text, max(0, match.start() - 40), match.start())
        if word is not None and not (len(match.group()) == 10 and nhs.is_valid(match.group())):
            taken.add(word.start("letters"))
            yield Identity(HOSPITAL, word.start(), match.end())
    for match in _BARE_HOSPITAL.finditer(text):
        start = match.start()
        before = text[max(0, start - 40) : start]
        glued = before[-1:].isalnum() or before[-1:] in tuple("/.-_#=")
        if start not in taken and not glued and not _OTHER_NUMBER.search(before):
            yield Identity(HOSPITAL, start, match.end())


def _names(text: str) -> Iterator[Identity]:
    for match in _TITLE.finditer(text):
        start = match.start()
        if not (start and text[start - 1].isalnum()) and match.group().split()[-1] not in _NOT_NAMES:
            yield Identity(NAME, start, match.end())
    for match in _LABELLED.finditer(text):
        word = _PATIENT_WORD.search(text, max(0, match.start() - 24), match.start())
        if word is not None:
            yield Identity(NAME, word.start(), match.end())


_FILE_DATE = re.compile(
    r"(?<![0-9])(?:19|20)[0-9]{2}[-_]?[01][0-9][-_]?[0-3][0-9](?![0-9])|(?<![0-9])[0-3][0-9][01][0-9](?:19|20)?[0-9]{2}(?![0-9])"
)
_FILE_WORDS = re.compile(r"(?<![a-z])(?:mr|mrs|miss|patient|pt|dob|nhs|mrn|hosp)(?![a-z])", re.IGNORECASE)
_FILE_NUMBER = re.compile(r"[0-9]{6,}")


def telling_name(stem: str) -> str:
    """Return what in the name of a file may name a patient, or "" where nothing does."""
    for pattern in (_FILE_WORDS, _FILE_DATE, _FILE_NUMBER):
        match = pattern.search(stem)
        if match:
            return match.group()
    return ""

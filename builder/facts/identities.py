"""What names a patient in a text: names, NHS and hospital numbers, dates of birth, and where somebody can be reached.

Used on what was written (``check/rules/patient_names.py``) and on every finished file (``readback/identity.py``). Every
pattern starts with a set of characters, so that a text of many megabytes is passed over at the speed of the engine, and
what stands before a find is asked of finds alone.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from stdnum.gb import nhs

from builder.facts.contact_details import contact_details, has_ten_digits
from builder.facts.people import names_of_people

NONE_NEEDED = frozenset({"none needed", "not needed", "none"})
"""What is written as the consent of a figure that shows no patient."""

_SHOWN = 3
"""Characters of a name or number that a message may show."""

NHS, BIRTH, HOSPITAL, NAME, CONTACT = (
    "nhs-number",
    "date-of-birth",
    "hospital-number",
    "patient-name",
    "contact-details",
)


class Identity(NamedTuple):
    """Something that names a patient: its ``kind``, where it starts and ends, ``is_test`` for the 999 range."""

    kind: str
    start: int
    end: int
    is_test: bool = False


def masked(words: str) -> str:
    """Return ``words`` with most of them hidden: a report must not spread what it warns of."""
    return words[:_SHOWN] + "…" * (len(words) > _SHOWN)


def identities(text: str) -> Iterator[Identity]:
    """Yield everything in ``text`` that names a patient, kind by kind."""
    yield from _nhs_numbers(text)
    yield from _births(text)
    yield from _hospital_numbers(text)
    for start, end in names_of_people(text):
        yield Identity(NAME, start, end)
    for start, end in contact_details(text):
        yield Identity(CONTACT, start, end)


# --- NHS numbers ----------------------------------------------------------------------------------------------------

# Anything that people put between groups of digits: every kind of space and hyphen, dots, low lines, strokes.
_GAP = r"[ \t\u00a0\u2000-\u200b\u202f.\-\u2010-\u2015_/·]{1,2}"
# Ten digits together, in groups as they are read aloud, or each by itself. Other groups are taken where the number is
# called an NHS number: a row of a table has ten digits soon enough.
_TEN = re.compile(
    rf"\d(?:\d\d{_GAP}\d\d\d{_GAP}\d{{4}}|\d{{9}}|(?:{_GAP}\d){{9}}|\d{{4}}{_GAP}\d{{5}}|\d\d\d{_GAP}\d\d\d{_GAP}\d\d\d)"
    r"(?!\d)(?![-./]\d)"
)
_TEN_CALLED = re.compile(
    rf"[nN][hH][sS]\b[^.;\n\d]{{0,16}}\.?[^.;\n\d]{{0,4}}(?P<number>\d(?:(?:{_GAP})?\d){{9}})(?!\d)"
)
_OTHER_NUMBER = re.compile(
    r"(?:isbn|issn|doi|pmid|pmc|orcid|tel|telephone|phone|ext|extension|fax|bleep|pager|ring|call|mobile|lot|batch|serial|"
    r"gtin|ean|barcode|ref|reference|model|catalogue|grant|isrctn|nct|registration|gmc|nmc|trial|form|"
    r"policy|document|version)\b\.?[^.;\n]{0,18}$",
    re.IGNORECASE,
)


def _nhs_numbers(text: str) -> Iterator[Identity]:
    if not has_ten_digits(text):
        return
    named = {match.start("number"): match.end("number") for match in _TEN_CALLED.finditer(text)}
    # A number called an NHS number is one even where its check digit is mistyped.
    for start, end in named.items():
        digits = _digits(text[start:end])
        if len(set(digits)) > 1:
            yield Identity(NHS, start, end, digits.startswith("999"))
    for match in _TEN.finditer(text):
        start, digits = match.start(), _digits(match.group())
        before = text[max(0, start - 40) : start]
        if start in named or before[-1:].isalnum() or before[-1:] in tuple("/.-+_#="):
            continue
        if before[-2:-1].isdigit() and before[-1:] == " ":
            continue  # the tail of a longer number
        if len(set(digits)) > 1 and nhs.is_valid(digits) and not _OTHER_NUMBER.search(before):
            yield Identity(NHS, start, match.end(), digits.startswith("999"))


def _digits(words: str) -> str:
    """Return the digits of ``words`` as 0 to 9, in whatever form they are written."""
    return "".join(str(int(sign)) for sign in words if sign.isdecimal())


# --- dates of birth -------------------------------------------------------------------------------------------------

_MONTH = r"(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*\.?"
_DAY_WORDS = (
    r"(?:twenty-|twenty |thirty-|thirty )?(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|eleventh|"
    r"twelfth|(?:thir|four|fif|six|seven|eigh|nine)teenth|twentieth|thirtieth)"
)
_DAY = rf"(?:[0-3]?\d(?:st|nd|rd|th)?|{_DAY_WORDS})"
_PART = r"\s{0,3}[-/. ]\s{0,3}"
_YEAR = r"(?:(?:19|20)\d\d|['’]?\d\d)(?!\d)"
_DATE = (
    rf"(?:{_DAY}(?:{_PART}|\s+(?:of\s+)?)(?:[01]?\d|{_MONTH}|[ivx]{{1,4}}){_PART}{_YEAR}"
    rf"|{_DAY}\s+(?:of\s+)?{_MONTH},?\s+{_YEAR}|{_MONTH}\s+{_DAY},?\s+{_YEAR}|(?:19|20)\d\d-[01]\d-[0-3]\d)"
)
_DAY_OF_WEEK = r"(?:(?:on|the|a|sun|mon|tues|wednes|thurs|fri|satur)(?:day)?,?\s+){0,4}"
_BIRTH_WORD = r"[bd](?:\.?o\.?b\b\.?|ate\s+of\s+birth|irth\s?da(?:te|y)|orn|\.(?=\s?\d))"
_BIRTH = re.compile(rf"{_BIRTH_WORD}(?:\s+is|\s+was)?[\s:=(–-]{{0,6}}{_DAY_OF_WEEK}{_DATE}", re.IGNORECASE)
_DATE_THEN_BIRTH = re.compile(
    r"\d[-\d/. ]{5,11}\s*(?:is|was|\(|,|=|–|-)\s*(?:(?:her|his|their|the)\s+)?(?:patient.s\s+)?"
    r"(?:dob|d\.o\.b|date of birth|birthday)",
    re.IGNORECASE,
)
_BIRTH_HINTS = ("birth", "born", "dob", "d.o.b", "b. ")


def _births(text: str) -> Iterator[Identity]:
    low = text.casefold()
    if not any(word in low for word in _BIRTH_HINTS):
        return
    for match in _BIRTH.finditer(text):
        if not text[max(0, match.start() - 1) : match.start()].isalnum():
            yield Identity(BIRTH, match.start(), match.end())
    for match in _DATE_THEN_BIRTH.finditer(text):
        yield Identity(BIRTH, match.start(), match.end())


# --- numbers of the hospital and of the state -----------------------------------------------------------------------

_NUMBER_WORD = r"\s?(?:no|num|number|id)\b\.?"
_HOSPITAL_WORD = re.compile(
    rf"\b(?:hosp(?:ital)?\.?{_NUMBER_WORD}|mrn|patient(?:['’]s)?{_NUMBER_WORD}|unit{_NUMBER_WORD}|"
    rf"case\s?(?:no|number)\b\.?|chi(?:\s?(?:no|number))?|crn|nhi|record{_NUMBER_WORD}|pas{_NUMBER_WORD})[\s:#=]*"
    r"(?:is )?(?P<letters>[A-Z]{0,3}[-/ ]?)$",
    re.IGNORECASE,
)
_PERHAPS_HOSPITAL = re.compile(r"(?i:[hmpucnr])(?i:osp|rn|atient|nit|ase|hi|ecord|as)")
"""What every such word has, found far faster than the word."""

_LONG_NUMBER = re.compile(r"[0-9](?:[0-9]{4,9}|[0-9](?:[- ][0-9]{2}){2,3})(?![0-9])")
# A National Insurance number has two letters, six digits and a letter from A to D (HM Revenue and Customs).
_INSURANCE = re.compile(r"[A-Z][A-Z] ?[0-9]{2} ?[0-9]{2} ?[0-9]{2} ?[A-D]\b")
_INSURANCE_WORD = re.compile(r"(?:national insurance|\bNI\b|\bNINO\b)[^.;\n]{0,16}$", re.IGNORECASE)
_BARE_HOSPITAL = re.compile(r"[A-Z][0-9]{6,8}(?![0-9A-Za-z])")
_SHAPES = bytes.maketrans(b"123456789BCDEFGHIJKLMNOPQRSTUVWXYZ", b"000000000" + b"A" * 25)
_ALL_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"000000000")


def _hospital_numbers(text: str) -> Iterator[Identity]:
    if not _has_long_number(text):
        return
    taken = set()
    for match in _LONG_NUMBER.finditer(text):
        if _PERHAPS_HOSPITAL.search(text, max(0, match.start() - 40), match.start()) is None:
            continue
        word = _HOSPITAL_WORD.search(text, max(0, match.start() - 40), match.start())
        if word is not None and not (len(match.group()) == 10 and nhs.is_valid(match.group())):
            taken.add(word.start("letters"))
            yield Identity(HOSPITAL, word.start(), match.end())
    shapes = text.encode("utf-8", "surrogatepass").translate(_SHAPES, b" ")
    for pattern, shape, is_patients in (
        (_BARE_HOSPITAL, b"A000000", _stands_alone),
        (_INSURANCE, b"AA000000A", _INSURANCE_WORD.search),
    ):
        for match in pattern.finditer(text) if shape in shapes else ():
            if match.start() not in taken and is_patients(text[max(0, match.start() - 40) : match.start()]):
                yield Identity(HOSPITAL, match.start(), match.end())


def _stands_alone(before: str) -> bool:
    glued = before[-1:].isalnum() or before[-1:] in tuple("/.-_#=")
    return not glued and not _OTHER_NUMBER.search(before)


def _has_long_number(text: str) -> bool:
    """Tell whether six digits stand near each other, far faster than a pattern could: most finished files hold none."""
    plain = text.encode("utf-8", "surrogatepass").translate(_ALL_DIGITS_ALIKE)
    return any(shape in plain for shape in (b"00000", b"00-00-00", b"00 00 00"))


# --- names of files and ids -----------------------------------------------------------------------------------------

_FILE_DATE = re.compile(
    r"(?<![0-9])(?:19|20)[0-9]{2}[-_]?[01][0-9][-_]?[0-3][0-9](?![0-9])|(?<![0-9])[0-3][0-9][01][0-9](?:19|20)?[0-9]{2}(?![0-9])"
)
_FILE_WORDS = re.compile(r"(?<![a-z])(?:mr|mrs|miss|patient|pt|dob|nhs|mrn|hosp)(?![a-z])", re.IGNORECASE)
_FILE_NUMBER = re.compile(r"[0-9]{6,}")
_OUR_PICTURE = re.compile(r"picture-[0-9a-f]{12,64}(?![0-9a-z])")
_ID_WORDS = re.compile(r"(?<![a-z])(?:(?:nhs|dob|mrn)-?[0-9]|pt-[0-9])")


def telling_name(stem: str) -> str:
    """Return what in the name of a picture may name a patient, or "" where nothing does."""
    return _telling(stem, (_FILE_WORDS, _FILE_DATE, _FILE_NUMBER))


def telling_id(stem: str) -> str:
    """Return what in the name of a text file, which is an id, may name a patient: ``position-patient`` names none."""
    person = next((stem[start:end] for start, end in names_of_people(stem)), "")
    return person or _telling(stem, (_ID_WORDS, _FILE_DATE, _FILE_NUMBER))


def _telling(stem: str, patterns: tuple[re.Pattern[str], ...]) -> str:
    """A picture that the program made is named after its bytes: ``picture-`` and a number to the base of 16."""
    stem = _OUR_PICTURE.sub("", stem)
    return next((match.group() for pattern in patterns if (match := pattern.search(stem))), "")

"""Where a patient can be reached: telephone, e-mail, address and postcode. Those of a ward are no patient's."""

import re
from collections.abc import Iterator

_PERSON = re.compile(
    r"\b(?:his|her|their|patient(?:['’]?s)?|pt|wife|husband|daughter|son|mother|father|carer|widow|next of kin|nok|"
    r"neighbour|home (?:tele)?phone|home number)\b(?P<between>[^.;\n\x1f]{0,40})$",
    re.IGNORECASE,
)
_PLACE_OF_WORK = re.compile(
    r"\b(?:hospital|ward|infirmary|clinic|department|trust|university|college|centre|center|theatres?|switchboard|"
    r"surgery|school|institute)\b",
    re.IGNORECASE,
)
# Ofcom, National Telephone Numbering Plan: ten digits after the 0; those that begin 07 are mobile telephones.
_TELEPHONE = re.compile(r"[+0](?:44[ \u00a0-]?(?:\(0\))?)?[0-9](?:[ \u00a0-]?[0-9]){8,9}(?![0-9])")
_CALL = re.compile(r"\b(?:call|ring|phone|dial|bleep|extension|ext|us|tel|telephone|number)s?\b", re.IGNORECASE)
_MAIL = re.compile(r"@(?P<domain>[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)+)")
_LOCAL = re.compile(r"[\w.+-]{1,64}$")
_PRIVATE_LIST = """
gmail googlemail hotmail outlook yahoo icloud btinternet aol live msn sky talktalk proton protonmail
"""
_PRIVATE = frozenset(_PRIVATE_LIST.split())
_OF_PERSON = re.compile(r"[^\W\d_]+[._][^\W\d_]+[0-9]*")
# BS 7666 as the Cabinet Office gives it: one or two letters, a digit, a letter or digit, then a digit and two letters.
_POSTCODE = re.compile(r"[A-Z][A-Z]?[0-9][A-Z0-9]?[ \u00a0]?[0-9][ABD-HJLNP-UW-Z]{2}(?![0-9A-Za-z])")
_STREET = re.compile(
    r"[0-9]{1,4}+[A-Za-z]?+,?+[ \u00a0][A-Z][\w'’-]+[ \u00a0](?:[A-Z][\w'’-]+[ \u00a0])?"
    r"(?:Road|Street|Avenue|Lane|Close|Drive|Crescent|Gardens|Terrace|Way|Grove|Court|Place|Square|Hill|Rd|St|Ave)\b"
)
_SHAPES = bytes.maketrans(b"123456789BCDEFGHIJKLMNOPQRSTUVWXYZ", b"0" * 9 + b"A" * 25)
"""A letter for each capital and a digit for each digit: without two such shapes there is no postcode."""
_ADDRESS = re.compile(r"\b(?:address|lives?|living|resident|postcode)\b[^.;\n\x1f]{0,50}$", re.IGNORECASE)


def contact_details(text: str) -> Iterator[tuple[int, int]]:
    """Yield where each way to reach a person starts and ends."""
    yield from _telephones(text)
    yield from _mails(text)
    yield from _spelt(text)
    yield from _addresses(text)


_DIGIT = r"(?:oh|nought|zero|one|two|three|four|five|six|seven|eight|nine)"
_SPELT_NUMBER = re.compile(
    rf"\b(?:oh|zero|nought)(?:[ ,-]+(?:(?:double|treble|triple) )?{_DIGIT}){{7,}}\b", re.IGNORECASE
)
_SPELT_MAIL = re.compile(r"(?<!\S)(?P<local>[\w-]+(?: dot [\w-]+)*) at [\w-]+(?: dot [\w-]+)+", re.IGNORECASE)


def _spelt(text: str) -> Iterator[tuple[int, int]]:
    """Yield a number or an address in words, written so that no search finds it."""
    for match in _SPELT_NUMBER.finditer(text) if "oh " in text or "ero " in text or "ought " in text else ():
        yield match.span()
    for match in _SPELT_MAIL.finditer(text) if " dot " in text else ():
        if " dot " in match["local"] or _is_of_person(text[max(0, match.start() - 60) : match.start()]):
            yield match.span()


# Whatever is not ASCII is taken for a digit: a digit of another script is none less, and a wrong guess costs only time.
_ALIKE = bytes.maketrans(bytes((*b"123456789", *range(128, 256))), b"0" * 137)


def has_ten_digits(text: str) -> bool:
    """Tell whether ten digits may stand together, but for what people put between them, far faster than a pattern."""
    return b"0000000000" in text.encode("utf-8", "surrogatepass").translate(_ALIKE, b" \t.-_/()")


def _telephones(text: str) -> Iterator[tuple[int, int]]:
    if not has_ten_digits(text):
        return
    for match in _TELEPHONE.finditer(text):
        start = match.start()
        if start and (text[start - 1].isalnum() or text[start - 1] in "./-_=#+"):
            continue
        before = text[max(0, start - 60) : start]
        is_mobile = match.group().startswith("07")
        if _is_of_person(before) or (is_mobile and not _CALL.search(before)):
            yield start, match.end()


def _is_of_person(before: str) -> bool:
    """Tell whether a person comes after the last word for calling: `Ring her daughter on`, not `Tell her to ring`."""
    person = _PERSON.search(before)
    if person is None:
        return False
    while later := _PERSON.search(before, person.start() + 1):
        person = later
    calls = re.search(r"\b(?:call|ring|phone|dial|bleep)", person["between"], re.IGNORECASE)
    return not calls and not _PLACE_OF_WORK.search(person["between"])


def _mails(text: str) -> Iterator[tuple[int, int]]:
    for match in _MAIL.finditer(text):
        local = _LOCAL.search(text, max(0, match.start() - 64), match.start())
        if local is None:
            continue
        before = text[max(0, local.start() - 60) : local.start()]
        is_private = match["domain"].partition(".")[0].casefold() in _PRIVATE
        if is_private or _OF_PERSON.fullmatch(local.group()) or _is_of_person(before):
            yield local.start(), match.end()


def _addresses(text: str) -> Iterator[tuple[int, int]]:
    for match in _STREET.finditer(text):
        if _ADDRESS.search(text[max(0, match.start() - 60) : match.start()]):
            yield match.start(), match.end()
    shape = text.encode("utf-8", "surrogatepass").translate(_SHAPES, b" \xc2\xa0")
    for match in _POSTCODE.finditer(text) if b"00AA" in shape or b"A0AA" in shape else ():
        start = match.start()
        before = text[max(0, start - 80) : start]
        line = before.rpartition("\n")[2]
        glued = before[-1:].isalnum() or before[-1:] in tuple("/.-_#=")
        if not glued and not _STREET.search(before) and not _PLACE_OF_WORK.search(line):
            yield start, match.end()

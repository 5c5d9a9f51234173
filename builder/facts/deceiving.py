"""Characters that are not what they look like: those no screen shows, letters and digits of another kind, 1O for 10;
and those that paper cannot show, because our type lacks them or the word that they make is longer than a line.

The classes are those of the Unicode standard: bidirectional controls (UAX 9), default ignorable code points (UAX 44),
mixed scripts and look-alikes (UTS 39, sections 4 and 5). The script of a letter is the property Script (UAX 24).
"""

import re
import unicodedata
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from fontTools.unicodedata import script

HIDDEN, MIXED, DIGIT, LETTER, COMMA, NOT_SET, LONG = (
    "hidden-character", "mixed-script", "digit-not-plain", "letter-in-number", "decimal-comma", "character-not-in-type",
    "word-too-long",
)  # fmt: skip


class Deceiver(NamedTuple):
    """What deceives: its ``kind``, where it starts and ends, and what is wrong in words."""

    kind: str
    start: int
    end: int
    what: str


# --- what no screen shows -------------------------------------------------------------------------------------------

_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_JOINERS = "\u200c\u200d"
# Of the default ignorable code points those that Python calls printable; then the sign for what could not be read, and
# marks that strike a sign out: U+0334 to U+0338 and the enclosing ones.
_BLANKS = "\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\uffa0\ufe00-\ufe0f\U000e0100-\U000e01ef"
_LOOKS = "\ufffd\u0334-\u0338\u20d2\u20d3\u20dd-\u20e0\u20e2-\u20e4\u20e5\u20e6\u20ea\u20eb"
_PRINTABLE = re.compile(f"[{_BLANKS}{_LOOKS}]")
_SHOWN_SPACES = frozenset("\n\t ")


def hidden_characters(text: str) -> Iterator[Deceiver]:
    """Yield each run of characters that no screen shows, and each that stands for something lost."""
    if text.replace("\n", " ").isprintable() and (text.isascii() or not _PRINTABLE.search(text)):
        return
    run: list[int] = []
    for match in _SUSPECT.finditer(text):
        at = match.start()
        if not _is_hidden(text, at):
            continue
        if run and at != run[-1] + 1:
            yield _hidden(text, run)
            run = []
        run.append(at)
    if run:
        yield _hidden(text, run)


_SUSPECT = re.compile(
    f"[^\\w\\s!-~\u00a1-\u00ac\u00ae-\u02ff\u2010-\u2027\u2030-\u205e]|[{_BLANKS}{_LOOKS}\x1c-\x1f\x0b\x0c\x85\u2028\u2029]"
)


def _is_hidden(text: str, at: int) -> bool:
    sign = text[at]
    if sign in _SHOWN_SPACES:
        return False
    if sign in _JOINERS:  # UAX 31, section 2.3: between letters that are written joined, and in pictograms
        around = text[at - 1 : at] + text[at + 1 : at + 2]
        return not around or not all(_is_joined(other) for other in around)
    if "\ufe00" <= sign <= "\ufe0f":
        return at == 0 or text[at - 1].isalnum() or text[at - 1].isspace()
    return unicodedata.category(sign) in ("Cc", "Cf", "Co", "Cn", "Cs", "Zl", "Zp") or bool(_PRINTABLE.match(sign))


def _is_joined(sign: str) -> bool:
    """Tell whether a joiner beside ``sign`` has a meaning: letters of scripts that join, pictograms and their parts."""
    kind = unicodedata.category(sign)
    return kind in ("So", "Sk", "Mn", "Mc") or (kind == "Lo" and script(sign) not in ("Latn", "Grek", "Cyrl"))


def _hidden(text: str, run: list[int]) -> Deceiver:
    sign = text[run[0]]
    if sign in _BIDI:
        what = "turns the direction of the text, so that it is read in another order than it is written"
    elif sign == "\ufffd":
        what = "marks a character that was lost when the file was converted"
    elif "\u0334" <= sign <= "\u0338" or unicodedata.category(sign) == "Me":
        what = "strikes out or encloses the character before it"
    elif unicodedata.category(sign) == "Cc":
        what = "is a control character"
    elif unicodedata.category(sign) in ("Co", "Cn"):
        what = "is not a character of Unicode, so every screen shows something else"
    else:
        what = "cannot be seen"
    return Deceiver(HIDDEN, run[0], run[-1] + 1, f"{named(sign)} {what}")


def named(sign: str) -> str:
    """Return ``U+200B (zero width space)``."""
    name = unicodedata.name(sign, "").lower()
    return f"U+{ord(sign):04X} ({name})" if name else f"U+{ord(sign):04X}"


# --- letters and digits of another kind -----------------------------------------------------------------------------

# Everything past the Latin letters but the usual punctuation: where none of it stands, there is nothing to look at.
_FAR = re.compile("[\u0250-\u1dff\u2024\u2100-\u218f\u2460-\u24ff\u2c00-\ufdff\ufe10-\U0010ffff]")
_COMPATIBLE = ("<font>", "<wide>", "<narrow>", "<circle>")
_LIGATURES = range(0xFB00, 0xFB07)
# Letters of Greek that are not taken for Latin ones, as science writes them beside Latin: the rest have a look-alike
# in confusables.txt of UTS 39.
_PLAIN_GREEK = frozenset("βγδεζηθκλμξπσςτφχψωΓΔΘΛΞΠΣΦΨΩα\u00b5")
# Letters of Greek and Cyrillic, and of Armenian, that confusables.txt maps to one Latin letter or digit.
_LOOK_ALIKE = frozenset("αικνορυχΑΒΕΖΗΙΚΜΝΟΡΤΥΧϲϳаеорсухѕіјһԁԛԝьАВЕЗКМНОРСТУХЅІЈԌԚԜӀօսոցհ")
_FALSE_POINT = re.compile("(?<=[0-9])[\uff0e\uff0c\u2024\u066b\u066c](?=[0-9])")
_NEAR = 200
"""Characters of the line on either side that are asked whether they are of the same script."""
_WIDE_SCRIPTS = frozenset(("Hani", "Hira", "Kana", "Hang", "Bopo"))


def disguises(text: str) -> Iterator[Deceiver]:
    """Yield each word with letters of two scripts or of another form, and each digit that is not 0 to 9."""
    if text.isascii():
        return
    end = 0
    for match in _FAR.finditer(text):
        if match.start() < end:
            continue
        start, end = _word_around(text, match.start())
        what = _disguise(text, start, end)
        if what is not None:
            yield Deceiver(what[0], start, end, what[1])


def _word_around(text: str, at: int) -> tuple[int, int]:
    start, end = at, at + 1
    while start and _is_of_word(text[start - 1]):
        start -= 1
    while end < len(text) and _is_of_word(text[end]):
        end += 1
    return start, end


def _is_of_word(sign: str) -> bool:
    return sign.isalnum() or unicodedata.category(sign)[0] == "M" or sign in "\uff0e\uff0c\u2024\u066b\u066c"


def _disguise(text: str, start: int, end: int) -> tuple[str, str] | None:
    word = text[start:end]
    line = text[max(0, start - _NEAR) : start].rpartition("\n")[2] + text[start : end + _NEAR].partition("\n")[0]
    for sign in word:
        if sign.isdecimal() and not sign.isascii() and not _is_at_home(sign, line):
            return DIGIT, f"{named(sign)}, which is not one of the digits 0 to 9"
    point = _FALSE_POINT.search(word)
    if point is not None:
        return DIGIT, f"{named(point.group())}, which is not a decimal point"
    for sign in word:
        if _is_other_form(sign) and not (_is_wide(sign) and _is_at_home(sign, line)):
            return MIXED, f"{named(sign)}, which only looks like '{unicodedata.normalize('NFKC', sign)}'"
    return _mixture(word, line)


def _is_at_home(sign: str, line: str) -> bool:
    """Tell whether a digit or a wide letter belongs to the script of other words in its line."""
    scripts = _WIDE_SCRIPTS if _is_wide(sign) else frozenset((_script_of_digit(sign),))
    return any(script(other) in scripts for other in line if other.isalpha() and not other.isascii())


def _is_wide(sign: str) -> bool:
    return "\uff01" <= sign <= "\uff5e"


@cache
def _script_of_digit(sign: str) -> str:
    return (
        script(sign) if script(sign) not in ("Zyyy", "Zinh") else unicodedata.name(sign).partition("-")[0].title()[:4]
    )


def _is_other_form(sign: str) -> bool:
    return ord(sign) in _LIGATURES or (
        sign.isalpha() and unicodedata.decomposition(sign).partition(" ")[0] in _COMPATIBLE
    )


def _mixture(word: str, line: str) -> tuple[str, str] | None:
    """Return what is wrong with a word of two scripts, or of one that only looks like Latin."""
    scripts = {sign: script(sign) for sign in word if sign.isalpha() and ord(sign) > 0x24F}
    foreign = {sign: of for sign, of in scripts.items() if of not in ("Latn", "Zyyy", "Zinh")}
    if not foreign:
        return _small_capital(word)
    latin = any(sign.isalpha() and script(sign) == "Latn" for sign in word)
    digits = any(sign.isdecimal() for sign in word)
    sign, of = next(iter(foreign.items()))
    if digits and not latin:
        return (LETTER, f"{named(sign)}, a letter, among its digits") if foreign.keys() & _LOOK_ALIKE else None
    if latin and not _is_science(word):
        return MIXED, f"{named(sign)}, a letter of another script"
    is_symbol = len(word) == 1 and of == "Grek"
    if not latin and not is_symbol and set(word) <= _LOOK_ALIKE and not _has_own(line, of):
        return MIXED, f"only letters that look like Latin ones and are not, first {named(sign)}"
    return None


def _small_capital(word: str) -> tuple[str, str] | None:
    """A letter of the phonetic blocks among plain ones: U+1D00 to U+1DBF hold small capitals and turned letters."""
    odd = [sign for sign in word if "\u1d00" <= sign <= "\u1dbf"]
    if odd and any(sign.isascii() and sign.isalpha() for sign in word):
        return MIXED, f"{named(odd[0])}, a phonetic letter"
    return None


def _is_science(word: str) -> bool:
    """TGFβ, μg, ΔP, IFNγ1: Greek letters that nobody takes for Latin ones stand before or after the Latin letters."""
    core = re.sub("[0-9]", "", word)
    inner = core.strip("".join(_PLAIN_GREEK))
    return inner != core and inner.isascii() and len(core) - len(inner) <= 2 and not _is_prose(inner)


def _is_prose(letters: str) -> bool:
    """Tell whether these are the small letters of a word, such as erve; a unit such as g is short."""
    return len(letters) > 3 and letters.islower()


def _has_own(line: str, of: str) -> bool:
    """Tell whether the line has a letter of the script ``of`` that looks like no Latin one."""
    return any(script(sign) == of and sign not in _LOOK_ALIKE for sign in line if sign.isalpha() and not sign.isascii())


# --- numbers --------------------------------------------------------------------------------------------------------

_TOUCH = re.compile(r"[0-9](?:[.,/-]?[OolI]|(?<=[OolI][0-9])|(?<=[OolI][.,][0-9]))")
_CHUNK_END = re.compile(r"[\s(){}\[\]\"'<>|;:=]")
_NUMBER_LIKE = re.compile(r"(?P<number>[0-9OolI]+(?:(?:[.,/–]|-{1,3})[0-9OolI]+)*)[.,]?")
_INNOCENT = re.compile(r"(?:O[23]|[0-9]+[lI]|[0-9]+o|I-?(?:123|124|125|131)|[lI][0-9]{1,3}|l/[0-9]+|O[0-9])")
_UNIT = (
    "mg|g|kg|micrograms?|mcg|mL|ml|L|units?|mmol|%|cm|mm|minutes?|min|hours?|h|days?|weeks?|litres?|months?|years?|"
    "swabs?|times|tablets?|mg/kg|Fr|kPa|mmHg|J|W"
)
_THEN_UNIT = re.compile(rf"[ \u00a0\u202f\u2009]?(?:{_UNIT})(?![\w])")
_SUTURE = re.compile(r"[0-9]{1,2}[-/]O")
_COMMA = re.compile(r"(?P<whole>[0-9]+),(?P<rest>[0-9]+)(?![0-9,.]*[0-9])")
_COMMA_BETWEEN = re.compile(r",(?<=[0-9],)[0-9]")  # the comma first: the engine finds it far faster than a digit


def false_numbers(text: str) -> Iterator[Deceiver]:
    """Yield each number with a letter O, o, l or I in it, and each with a decimal comma."""
    end = 0
    for match in _TOUCH.finditer(text):
        if match.start() < end:
            continue
        start, end = _chunk(text, match.start())
        if _has_letter(text, start, end):
            letter = next(sign for sign in text[start:end] if sign in "OolI")
            digit = "0" if letter in "Oo" else "1"
            yield Deceiver(LETTER, start, end, f"the letter {letter} where the digit {digit} is meant")
    end = 0
    for match in _COMMA_BETWEEN.finditer(text):
        if match.start() < end:
            continue
        start, end = _number_around(text, match.start())
        if _is_decimal(text, start, end):
            yield Deceiver(COMMA, start, end, "a comma where the decimal point is meant")
    for match in _RAISED.finditer(text) if not text.isascii() else ():
        yield Deceiver(DIGIT, match.start(), match.end(), "a raised digit, which may be read as one more of the number")


# A power of ten is how cells are counted; of any other number a raised digit is a slip, or a note that reads as one.
_RAISED = re.compile(r"(?<![0-9.,])(?!10[^0-9])[0-9]+(?:\.[0-9]+)?[\u00b2\u00b3\u00b9\u2070\u2074-\u2079]+")


def _chunk(text: str, at: int) -> tuple[int, int]:
    start = at
    while start and not _CHUNK_END.match(text[start - 1]):
        start -= 1
    after = _CHUNK_END.search(text, at)
    return start, after.start() if after else len(text)


def _has_letter(text: str, start: int, end: int) -> bool:
    written = _NUMBER_LIKE.match(text, start, end)
    if written is None or text[max(0, start - 3) : start] == "://":
        return False
    number, stop = written["number"], written.end("number")
    if not any(sign.isdigit() for sign in number) or number.isdigit():
        return False
    if stop < end and text[stop] not in ".,%" and not _THEN_UNIT.match(text, stop):
        return False
    if _SUTURE.fullmatch(number):
        return True
    return not _INNOCENT.fullmatch(number) or bool(
        _THEN_UNIT.match(text, stop) and not number.endswith(("l", "I", "o"))
    )


def _number_around(text: str, at: int) -> tuple[int, int]:
    start, end = at, at
    while start and (text[start - 1].isdigit() or text[start - 1] in ",."):
        start -= 1
    while end < len(text) and (text[end].isdigit() or (text[end] in ",." and text[end + 1 : end + 2].isdigit())):
        end += 1
    return start, end


def _is_decimal(text: str, start: int, end: int) -> bool:
    """1,000 is a thousand, 4,5 may be a list: a unit after it, or a naught before the comma, makes it a decimal."""
    match = _COMMA.fullmatch(text, start, end)
    if match is None or (start and (text[start - 1].isalpha() or text[start - 1] in "_/-")):
        return False
    whole, rest = match["whole"], match["rest"]
    if whole == "0":
        return True
    return len(rest) != 3 and _THEN_UNIT.match(text, end) is not None


# --- what our type lacks --------------------------------------------------------------------------------------------

# What all three faces of our type have past plain ASCII, and the pictograms of our font of signs that are always set in
# it (property Emoji_Presentation, UTS 51); a test holds it to the fonts.
_TYPE_HAS = """
A0-AC AE-148 14A-17F 18F 192 1A0-1A1 1AF-1B0 1CD-1DC 1E6-1E7 218-21B 259 2B9-2BC 2C6-2C7 2D8-2DD 300-304 306-30A 30C 323
326-328 384-38A 38C 38E-3A1 3A3-3CE 1E80-1E85 1E9E 1EA0-1EF9 2009-200B 2010-2015 2018-201A 201C-201E 2020-2022 2026
202F-2030 2032-2033 2039-203A 2044 2070-2071 2074-208E 20AC 2113 2116 2122 212E 2153-2154 215B-215E 2190-2199 21A9-21AA
21B0-21B1 21B3 21B5 21D0 21D2 21D4 2202 2206 2211-2212 221A 221E 222B 2248 2260 2264-2265 25A0-25A2 25B2-25B3 25B6-25B7
25BC-25BD 25C0 25C6-25C7 25CB 25CF 26A0 2713 2717 1F600-1F623 1F625-1F62B 1F62D-1F640 1F643
"""


# What the type of right-to-left sheets has besides; the same test holds it to its fonts.
_ARABIC_TYPE_HAS = """
60C-60D 610-612 615 61B 61F 621-63A 63D 640-658 65A-65B 66A-671 674 679 67C 67E 681 685-686 688-689 691 693 695-696 698
69A 6A0-6A1 6A4 6A9-6AD 6AF 6B5 6BA 6BC-6BE 6C0-6C3 6C6-6D0 6D2-6D5 6DC-6DE 6E9
"""


def _lacks(has: str) -> re.Pattern[str]:
    ends = (part.partition("-") for part in has.split())
    ranges = "".join(f"{chr(int(first, 16))}-{chr(int(last or first, 16))}" for first, _, last in ends)
    return re.compile(f"[^\\x00-\x7f{ranges}]+")


_LACKS, _ARABIC_LACKS = _lacks(_TYPE_HAS), _lacks(_TYPE_HAS + _ARABIC_TYPE_HAS)


def not_in_type(text: str, *, arabic: bool = False) -> Iterator[Deceiver]:
    """Yield each run of characters that our type has no shape for, with ``arabic`` that of right-to-left sheets too;
    what cannot be seen anyway is not told here."""
    if text.isascii():
        return
    for match in (_ARABIC_LACKS if arabic else _LACKS).finditer(text):
        shown = [at for at in range(*match.span()) if not _SUSPECT.match(text, at) or not _is_hidden(text, at)]
        if shown:
            yield Deceiver(
                NOT_SET, shown[0], shown[-1] + 1, f"{named(text[shown[0]])} is not in the type of our papers"
            )


_MOST_LETTERS = 30
"""On a line of the pocket card, beside its code; the title of a slide has room for five more."""
# Not what is part of an address, an id, a key or a signature.
_LONG = re.compile(rf"(?<![\w/.@#=:])[^\W\d_][^\W\d_A-Z]{{{_MOST_LETTERS},}}")


def long_words(text: str) -> Iterator[Deceiver]:
    """Yield each word that fits no line of the pocket card. One with a hyphen is parted there."""
    for match in _LONG.finditer(text):
        what = f"{len(match[0])} letters; a line of the pocket card holds {_MOST_LETTERS}"
        yield Deceiver(LONG, *match.span(), what)

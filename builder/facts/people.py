"""Names of people in a text: a patient's title before a name, a word for a patient with a name, a label with a name.

A doctor, a professor and a sister are colleagues, and so is whoever has a role beside the name. Names of the trade
(Trendelenburg, McBurney) and authors in citations have no title and no word for a patient before them.
"""

import re
from collections.abc import Callable, Iterator

from builder.grouping import word_set

# Between a word for a patient and a name there is no new line: headings and cells of a table end there.
_SPACE = r"[^\S\n\x1c-\x1f]{1,40}"
# A space of any kind or the end of a line, never the mark between two texts (U+001F).
_GAP = r"[^\S\x1c-\x1f]{1,40}"
_WORD = r"[^\W\d_]+(?:[.'’‐‑-][^\W\d_]+)*\.?"
_NAME_WORDS = rf"{_WORD}(?:{_GAP}{_WORD}){{0,4}}"
_TITLE = re.compile(
    rf"[MmHFS](?P<rest>rs?|RS|s|x|iss|aster|ister|me|lle|adame?|err|rau|e[nñ]ora?|ignora?)"
    rf"(?:\.[^\S\x1c-\x1f]{{0,40}}|(?P<gap>{_GAP}|[_-]))(?P<name>{_NAME_WORDS})"
)
_TITLES = word_set("""
mr mrs ms miss mx master mister mme mlle madam madame herr frau señor señora senor senora signor signora
""")
_SURE = frozenset(("mr", "mrs"))
_ONE_WORD = re.compile(_WORD)
_PARTICLES = word_set("van von der den de la le du da di dos das del della ten ter zu al el bin ibn ap st mac o")
_NO_NAMES = word_set("""
patient patients scan scans angiogram angiogram angiography angiograms venogram venography cholangiogram
cholangiography enterography enterogram urography arthrogram arthrography image images imaging spectroscopy safe
unsafe conditional defecography fistulogram guided myelogram neurography perfusion proctography pelvimetry room suite
or and the a an of is was who in on to for as it not no copy file list class rate smith-petersen
""")


def names_of_people(text: str) -> Iterator[tuple[int, int]]:
    """Yield where each name of a person starts and ends."""
    shape = text.encode("utf-8", "surrogatepass").translate(_ALIKE, b" \t\n\r\x0b\x0c")
    for pattern, judge, marks in _JUDGES:
        match = pattern.search(text) if not marks or any(mark in shape for mark in marks) else None
        while match is not None:
            span = judge(text, match)
            if span is not None:
                yield span
            match = pattern.search(text, max(match.start() + 1, span[1] if span else 0))


def _after_title(text: str, match: re.Match[str]) -> tuple[int, int] | None:
    start, title = match.start(), match.group()[0] + match["rest"]
    if start and (text[start - 1].isalnum() or (text[start - 1] == "_" and title[0].isupper())):
        return None
    # Ids and hurried notes have no capitals; there only mr and mrs are sure to be titles.
    is_low = title[0].islower() or match["gap"] in ("-", "_")
    if title.casefold() not in (_SURE if is_low else _TITLES):
        return None
    length = _name_length(match["name"], is_low)
    end = match.start("name") + length
    return (start, end) if length and not _has_role(text, end) else None


def _name_length(written: str, is_low: bool) -> int:
    """Return how many characters of ``written`` are a name: initials, particles, capitalised words; 0 for none."""
    length = 0
    for number, match in enumerate(_ONE_WORD.finditer(written)):
        word = match.group().rstrip(".'’")
        plain = word.casefold()
        is_name = is_low or not word[0].islower() or plain in _PARTICLES
        if plain in _NO_NAMES or not is_name or (is_low and number):
            break
        if plain not in _PARTICLES and (len(word) > 1 or not word[0].isupper()):
            length = match.start() + len(word)
        if match.group().endswith(".") and len(word) > 1:
            break  # the end of a sentence
    return length


_ROLES = (
    "consultant|surgeon|registrar|anaesthetist|physician|nurse|matron|midwife|urologist|radiologist|obstetrician|"
    "gynaecologist|professor|lecturer|fellow|educator|author|editor|engineer|illustrator|photographer|librarian|manager"
)
_ROLE = re.compile(rf"(?:,| \(|,? (?:who is )?(?:the|our|a|an))\s?(?:[a-z]+ ){{0,3}}(?:{_ROLES})\b")


def _has_role(text: str, end: int) -> bool:
    return _ROLE.match(text, end, end + 80) is not None


# --- a word for a patient and a name --------------------------------------------------------------------------------

# Upper-case letters of the scripts that have them: Latin, Greek, Cyrillic, Armenian.
_UPPER = "A-ZÀ-ÖØ-ÞĀĂĄĆĈĊČĎĐĒĔĖĘĚĜĞĠĢĤĦĨĪĬĮİĴĶĹĻĽĿŁŃŅŇŌŎŐŒŔŖŘŚŜŞŠŢŤŦŨŪŬŮŰŲŴŶŸŹŻŽΆ-ΏΑ-ΫЀ-ЯԱ-Ֆ"
# It starts where a word starts and takes each run of letters whole: a text without spaces is read once. The set of
# letters comes before the look back, because the engine passes over a text for a set far faster.
_PAIR = re.compile(
    rf"[{_UPPER}](?<![^\W\d_].)[^\W\d_]++(?:[-'’][^\W\d_]++)*+{_SPACE}"
    rf"[{_UPPER}](?:\.{_SPACE}[{_UPPER}])?[^\W\d_]+(?:[-'’][^\W\d_]+)*"
)
_PATIENT = "patient|lady|gentleman|man|woman|girl|boy|child|mother|father|wife|husband|daughter|son|widow|widower|pt"
_BEFORE_PAIR = re.compile(rf"\b(?:{_PATIENT}|[Bb]aby of|[Bb]aby)(?:,|:| [-–])?{_SPACE}$")
_COMMON = word_set("""
blood group consent form safety information leaflet advice liaison service transport identity band specific group
direction directive rhesus apgar score asa grade nhs number early warning friendly check monday tuesday wednesday
thursday friday saturday sunday january february march april may june july august september october november december
ward theatre hospital department trendelenburg lloyd-davies fowler sims clinical record chart list notes body mass
index boy girl care plan report experience association
""")


def _after_patient(text: str, match: re.Match[str]) -> tuple[int, int] | None:
    before = _BEFORE_PAIR.search(text, max(0, match.start() - 50), match.start())
    words = match.group().split()
    if match.group().endswith(("'s", "’s")) and _OWNED.match(text, match.end()):
        return None if words[0].casefold() in _NO_NAMES else match.span()
    if before is None or any(word.casefold() in _COMMON for word in words) or _has_role(text, match.end()):
        return None
    return before.start(), match.end()


_OWNED = re.compile(r" (?:scans?|films?|X-rays?|notes|case|results?|histology)\b")
# Initials and a surname mean a patient where an age or a bed follows.
_INITIALS = re.compile(
    rf"[{_UPPER}]\.(?: ?[{_UPPER}]\.){{0,3}} [{_UPPER}][^\W\d_]+(?:[-'’][^\W\d_]+)*,? (?:aged )?(?:[0-9]{{1,3}},? )?"
    r"(?:bed|bay|ward|room|cubicle) [0-9]"
)


def _in_a_bed(text: str, match: re.Match[str]) -> tuple[int, int] | None:
    return None if match.start() and text[match.start() - 1].isalnum() else match.span()


_CALLED = re.compile(
    rf"[cnBb](?:alled|amed|aby(?: of)?){_GAP}[{_UPPER}][^\W\d_]+(?:[-'’][^\W\d_]+)*(?:{_GAP}[{_UPPER}][^\W\d_]+)?"
)
_BEFORE_CALLED = re.compile(rf"\b(?:{_PATIENT})(?: who)?(?: is| was)?,?{_GAP}$")


def _after_called(text: str, match: re.Match[str]) -> tuple[int, int] | None:
    start, words = match.start(), match.group().split()
    if (start and text[start - 1].isalnum()) or any(word.casefold() in _COMMON for word in words[1:]):
        return None
    if words[0].casefold() == "baby":
        # "the baby" and a word that begins a sentence stand side by side on a page.
        return (start, match.end()) if words[0] == "Baby" or len(words) > 2 else None
    before = _BEFORE_CALLED.search(text, max(0, start - 40), start)
    return (before.start(), match.end()) if before else None


_LABEL = re.compile(
    rf"[PpNnSsFfLl](?:atient(?:['’]?s)?(?P<name> name)?|ame of (?:the )?patient|t(?: name)?|urname|orename|irst name|"
    rf"amily name|ast name)\s{{0,3}}[:=–-]\s{{0,3}}(?P<first>[{_UPPER}][^\W\d_]+(?:[-'’][^\W\d_]+)*)"
    rf"(?P<second>,? [{_UPPER}][^\W\d_]+)?"
)


def _labelled(text: str, match: re.Match[str]) -> tuple[int, int] | None:
    start = match.start()
    if start and (text[start - 1].isalnum() or text[start - 1] in "_-"):
        return None
    is_name = "name" in match.group().partition(":")[0].casefold()
    words = [match["first"], *(match["second"] or "").replace(",", "").split()]
    if any(word.casefold() in _COMMON for word in words) or (len(words) < 2 and not is_name):
        return None
    return start, match.end()


# Digits and capitals are alike, and whatever is not ASCII may be a capital; found without blanks, far faster than a
# pattern.
_ALIKE = bytes.maketrans(bytes((*b"123456789", *range(66, 91), *range(128, 256))), b"0" * 9 + b"A" * 153)
_JUDGES: tuple[tuple[re.Pattern[str], Callable[[str, re.Match[str]], tuple[int, int] | None], tuple[bytes, ...]], ...]
_JUDGES = (
    (_TITLE, _after_title, ()),
    (_PAIR, _after_patient, ()),
    (_CALLED, _after_called, (b"alledA", b"amedA", b"abyA", b"abyofA")),
    (_LABEL, _labelled, ()),
    (_INITIALS, _in_a_bed, (b"bed0", b"bay0", b"ward0", b"room0", b"cubicle0")),
)
"""What to look for, what judges a find, and what every find has in the shape of its text, where that says much."""

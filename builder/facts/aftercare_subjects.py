"""What aftercare says of one subject (driving, swimming, heavy work, a drug): allowed or forbidden, and from when on.

Staff text and patient's text are read alike, a part of a sentence at a time. What hangs on a condition is marked so.
"""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from builder.facts.remembered import once_per_library
from builder.facts.times import spans
from builder.model.library import Library
from builder.model.pages import Aftercare
from builder.place import Place

_SUBJECTS = {
    "driving": r"driv(?:e|es|ing)",
    "swimming or a bath": r"swim\w*|bath(?:e|s|ing)?|soak\w*|under water",
    "a shower": r"shower\w*",
    "lifting or heavy work": r"lift(?:ing)? (?:anything|nothing|heavy|for)|carry heavy|heavy (?:manual )?work",
    "desk work": r"desk|office work",
    "flying": r"fl(?:y|ying)",
    "diving": r"div(?:e|ing)",
    "sex": r"sex|intercourse",
    "sport": r"sports?|gym|contact sports?",
    "alcohol": r"alcohol|wines?|beers?|spirits",
    "food": r"eat(?:ing)?",
    "getting up": r"out of bed|get up|(?:stay|rest|lie|keep)(?: \w+)? in bed",
    "getting the wound wet": r"under (?:the )?(?:shower|water|tap)|keep[^.;]{0,40}\bdry",
}
_MEANS_NOT = re.compile(r"\bin bed\b|\bkeep\b[^.;]*\bdry", re.IGNORECASE)
"""What says of its subject that it is not done yet."""

_POSTURE = re.compile(
    r"\b(?P<limb>leg|hand|arm|foot)\b[^.;,]*?\b(?:(?P<up>up|raised|high|above your (?:heart|waist))|"
    r"(?P<down>hangs?|down|low))\b",
    re.IGNORECASE,
)
_BRIEFLY = re.compile(r"\b(?:may|can|to wash|moment|if|not|never|no)\b|n['’]t\b", re.IGNORECASE)
_DRUGS = {
    "anti-inflammatory": "ibuprofen naproxen diclofenac indometacin ketorolac celecoxib etoricoxib",
    "opioid": "codeine morphine oxycodone tramadol dihydrocodeine",
    "blood thinner": "warfarin apixaban rivaroxaban edoxaban dabigatran",
    "aspirin": "aspirin",
}
_KIND_OF = {name: kind for kind, names in _DRUGS.items() for name in names.split()}
_SUBJECT = re.compile(
    "|".join(rf"\b(?P<s{number}>(?:{words}))\b" for number, words in enumerate(_SUBJECTS.values())), re.IGNORECASE
)
_DRUG = re.compile(rf"\b(?P<drug>anti-inflammator(?:y|ies)|opioids?|{'|'.join(_KIND_OF)})\b", re.IGNORECASE)
_PART = re.compile(r"(?:[^.;:!?,\n]++|[.,](?=\d)|\n(?!\n))+")
_SENTENCE = re.compile(r"(?:[^.;!?]++|\.(?=\d))+")
_NOT = re.compile(r"\b(?:no|not|never|nothing|avoid|neither|nor|without)\b|n['’]t\b", re.IGNORECASE)
_CONDITION = re.compile(
    r"\b(?:if|when|unless|once|while|until|till|as soon as|only|where|with them|with it|after (?:it|you|that|your|the)|"
    r"before (?:you|it|your|a )|ask|other|extra|more|follow|carry on|back to|then|"
    r"for your job|cover\w*|bag|waterproof|most)\b",
    re.IGNORECASE,
)
_ALLOWS = re.compile(
    r"\b(?:you (?:may|can)|(?:let|help) (?:the patient|her|him|them)|allow\w*)\b|^\s*(?:then |now |and )?"
    r"(?:get|walk|hold|drive|swim|bathe|shower|lift|fly|dive|eat|drink|take|have|soak|wash|give|use|add)\b|"
    r"\bis (?:allowed|fine)\b|\btoo\s*$",
    re.IGNORECASE,
)
_TAKES = re.compile(r"\b(?:take|use|have|give|add|prescribe|ask for|buy)\b", re.IGNORECASE)
_MEANWHILE = re.compile(r"\b(?:until|before) then\b", re.IGNORECASE)


class Allowed(NamedTuple):
    """One subject is ``allowed`` or not, from the hours ``low`` to ``high`` on where a time is said."""

    subject: str
    allowed: bool
    low: Fraction | None
    high: Fraction | None
    on_condition: bool
    said: str
    at: Place
    item: str

    def excludes(self, other: "Allowed") -> bool:
        """Tell whether this forbids for all time what ``other`` allows at once, or for a time beyond ``other``."""
        now = other.allowed and other.low is None and not other.on_condition
        from_then_on = self.low is not None and self.low > (24 if self.subject == "getting up" else 0)
        forbids = not self.allowed or from_then_on
        return self.subject == other.subject and forbids and now and self.said != other.said

    def differs(self, other: "Allowed") -> bool:
        """Tell whether both say from when on, and mean different times."""
        if self.subject != other.subject or self.low is None or other.low is None or self.said == other.said:
            return False
        assert self.high is not None  # set together
        assert other.high is not None
        return self.high < other.low or other.high < self.low


@once_per_library
def allowed_in(_: Library, item: Aftercare) -> tuple[Allowed, ...]:
    """Return what ``item`` allows and forbids."""
    texts = [] if item.patient_text is None else [(str(item.patient_text), item.patient_text.at)]
    texts.append((item.body.source, item.body.place(0) if item.body.source else item.title.at))
    return tuple(told for text, at in texts for told in _in(text, at, str(item.id)))


class _Said(NamedTuple):
    """A sentence of an item: its words, where it stands, and of which item."""

    words: str
    at: Place
    item: str

    def tells(self, subject: str, *, allowed: bool, on_condition: bool, times: Sequence[Fraction] = ()) -> Allowed:
        """Return what the sentence says of ``subject``."""
        low, high = (min(times), max(times)) if times else (None, None)
        return Allowed(subject, allowed, low, high, on_condition, " ".join(self.words.split()), self.at, self.item)


_OPENS_WITH_CONDITION = re.compile(r"\s*(?:if|when|once)\b", re.IGNORECASE)
_JOINED = re.compile(r"\s*(?:and|or|then|but)\b")


def _in(text: str, at: Place, item: str) -> Iterator[Allowed]:
    for sentence in _SENTENCE.finditer(text):
        said = _Said(sentence.group(), at, item)
        posture = _POSTURE.search(said.words)
        if posture is not None:
            on_condition = _BRIEFLY.search(said.words) is not None
            subject = f"how the {posture['limb'].casefold()} is kept"
            yield said.tells(subject, allowed=posture["up"] is not None, on_condition=on_condition)
        if _SUBJECT.search(said.words) is not None or _DRUG.search(said.words) is not None:
            yield from _in_parts(said)


def _in_parts(said: _Said) -> Iterator[Allowed]:
    denied = False
    for part in _PART.finditer(said.words):
        words = part.group()
        goes_on = denied and _JOINED.match(words) is None and _ALLOWS.search(words) is None
        denied = _NOT.search(words) is not None or goes_on
        rest = _MEANWHILE.sub("", said.words[part.start() :])
        on_condition = bool(_CONDITION.search(rest) or _OPENS_WITH_CONDITION.match(said.words))
        times = [span.hours for span in spans(words) if not words[: span.start].rstrip().endswith("every")]
        is_not = denied or _MEANS_NOT.search(words) is not None
        for subject in _subjects(words):
            if is_not and times:
                yield said.tells(subject, allowed=True, on_condition=on_condition, times=times)
            elif is_not or times or _ALLOWS.search(words):
                yield said.tells(subject, allowed=not is_not, on_condition=on_condition, times=times)
        yield from _drugs(words, said, denied=denied)


def _subjects(words: str) -> list[str]:
    names = list(_SUBJECTS)
    return [names[int((match.lastgroup or "s0")[1:])] for match in _SUBJECT.finditer(words)]


def _drugs(words: str, said: _Said, *, denied: bool) -> Iterator[Allowed]:
    """Yield what is said of a drug; of a kind of drugs, for each of the kind where it is forbidden."""
    for match in _DRUG.finditer(words):
        word = match["drug"].casefold()
        kind = "anti-inflammatory" if word.startswith("anti") else word.removesuffix("s")
        names = _DRUGS[kind].split() if kind in _DRUGS and word not in _KIND_OF else [word]
        if denied and not _ADDITIONAL.search(words):
            yield from (said.tells(name, allowed=False, on_condition=False) for name in names)
        elif not denied and word in _KIND_OF and _TAKES.search(words):
            yield said.tells(word, allowed=True, on_condition=False)


_ADDITIONAL = re.compile(r"\b(?:other|more|extra)\b")

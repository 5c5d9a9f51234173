"""What a patient is told: when to call for help, what is normal, on which number, and in which time of the recovery."""

import re
from collections.abc import Iterator, Mapping
from enum import IntEnum

from builder.facts.times import hours_of
from builder.findings.message_words import capital
from builder.model.library import Library
from builder.model.pages import Aftercare, Call, Procedure

_SENTENCE_END = re.compile(r"(?<=[.!?])(?=\s)|(?<=\n)")
# A verb at the start of a clause: "call us", "At home, ring the ward", "cut it open and call us".
_CALLS = re.compile(
    r"(?:^|[,:;]\s*(?:and |or |then )?|\b(?:and|or|then|please|must|should) )"
    r"(?:call|ring|phone|telephone|dial)\b|\b(?:ambulance|999|112|emergency department)\b",
    re.IGNORECASE,
)
_TELLS = re.compile(r"(?:^|[,:;] ?|\b(?:and|or) )tell (?:us|the|your|a)\b.*\bif\b", re.IGNORECASE | re.DOTALL)
_NOT_TO = re.compile(r"(?i)\b(?:do not|don['’]t|never|no need to|need not)\s+(?:call|ring|phone|telephone|dial)\b")
_NORMAL = re.compile(
    r"\b(?:is|are|be) (?:quite |usually |often )?(?:normal|usual|common|expected|to be expected)\b", re.IGNORECASE
)
_LEANS = re.compile(r"(?i)(?:it|they|this|that|these|those|then)\b")
_AMBULANCE = re.compile(r"(?i)\b(?:ambulance|999|112|emergency)\b")
_AT_ONCE = re.compile(r"(?i)\b(?:at once|straight away|immediately|right away|bell)\b")
_AWAY = re.compile(r"(?i)\b(?:community|practice|district|clinic|outpatients?|patient|doctor|discharging|family)\b")
_SEEN = re.compile(r"(?i)\b(?:community|practice|district|clinic|outpatients?)\b")
_INSIDE = re.compile(r"(?i)\b(?:ext|extension|bleep|pager|internal)\b")
_FEWEST_DIGITS = 7
_DAY, _DAYS = 24, 7 * 24


class Urgency(IntEnum):
    """How fast help is called for."""

    AMBULANCE = 0
    AT_ONCE = 1
    CALL = 2
    TELL = 3


_BY_TELEPHONE = (Urgency.AMBULANCE, Urgency.AT_ONCE, Urgency.CALL)


class Phase(IntEnum):
    """A time of the recovery, in order."""

    HOSPITAL = 0
    DAYS = 1
    WEEKS = 2
    VISIT = 3


def told_sentences(item: Aftercare) -> list[str]:
    """Return what the patient is told in ``item`` by sentences as written: nothing is lost, numbers keep their points.

    A sentence that leans on the one before it ("It hurts.") stays with it.
    """
    parts: list[str] = []
    for words in (part.strip() for part in _SENTENCE_END.split(str(item.patient_text or "")) if part.strip()):
        if parts and _LEANS.match(words) and (urgency(parts[-1]) is not None or is_normal(parts[-1])):
            parts[-1] += f" {words}"
        else:
            parts.append(words)
    return parts


def bound(item: Aftercare, sentence: str) -> str:
    """Return a sentence of ``item`` as it stands on the sheet: one that left the first says again for whom it is."""
    words = capital(str(item.only_if.words)) if item.only_if else ""
    return sentence if not words or sentence.startswith(words) else f"{words}: {sentence}"


def urgency(sentence: str) -> Urgency | None:
    """Return how fast ``sentence`` says to call for help, or to tell the staff on the spot; None where it does not."""
    calls = _CALLS.search(sentence) is not None
    if not (calls or _TELLS.search(sentence)) or _NOT_TO.search(sentence):
        return None
    if _AMBULANCE.search(sentence):
        return Urgency.AMBULANCE
    if _AT_ONCE.search(sentence):
        return Urgency.AT_ONCE
    return Urgency.CALL if calls else Urgency.TELL


def is_normal(sentence: str) -> bool:
    """Tell whether ``sentence`` says that something is normal."""
    return _NORMAL.search(sentence) is not None


def phase(item: Aftercare, others: Mapping[str, Aftercare]) -> Phase:
    """Return when ``item`` is read: by its end in hours, else by that of what it goes with, else by who does it."""
    until = hours_of(item.when.until) if item.when.until else None
    who = str(item.who or "")
    if item.concerns and _SEEN.search(who) and (until is None or until > _DAYS):
        return Phase.VISIT
    if until is not None:
        inside = until <= _DAY and not _AWAY.search(who)
        return Phase.HOSPITAL if inside else Phase.DAYS if until <= _DAYS else Phase.WEEKS
    partners = (others[id].when.until for id in item.goes_with if id in others)
    ends = [hours for end in partners if end and (hours := hours_of(end)) is not None]
    if ends:
        return Phase.DAYS if max(ends) <= _DAYS else Phase.WEEKS
    return Phase.DAYS if not who or _AWAY.search(who) else Phase.HOSPITAL


def number_from_home(call: Call) -> str:
    """Return the number that a patient dials for ``call``, "" where only the hospital's own telephones reach it."""
    if call.from_home:
        return str(call.from_home)
    digits = sum(map(str.isdigit, str(call.number)))
    return str(call.number) if digits >= _FEWEST_DIGITS and not _INSIDE.search(str(call.number)) else ""


def called_by_patients(library: Library, procedure: Procedure) -> tuple[Call, ...]:
    """Return the roles that the patient’s texts name; without any, the first ward that is listed, if one is."""
    told = " ".join(str(item.patient_text) for item in procedure.aftercare_items.values()).casefold()
    known = library.department.call
    named = [call for call in known if call.role.casefold() in told]
    return tuple(named or [call for call in known if "ward" in call.role.casefold()][:1])


def calling_items(procedure: Procedure) -> Iterator[Aftercare]:
    """Yield the aftercare that tells the patient to call for help."""
    for item in procedure.aftercare_items.values():
        told = item.patient_text is not None and _CALLS.search(item.patient_text)
        if told and any(urgency(sentence) in _BY_TELEPHONE for sentence in told_sentences(item)):
            yield item

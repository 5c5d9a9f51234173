"""Aftercare says one thing of one subject: staff text, patient's text, ``when:`` and the branch it is bound to."""

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.facts.aftercare_subjects import Allowed, allowed_in
from builder.facts.times import Span, hours_of, spans
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Aftercare


@finds("aftercare-told-otherwise", piecewise=True)
def aftercare_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each two sentences of aftercare that cannot both hold of one subject, and each time outside ``when:``."""
    for procedure in library.procedures:
        told = [one for item in procedure.aftercare_items.values() for one in allowed_in(library, item)]
        by_subject: dict[str, list[Allowed]] = {}
        for one in told:
            by_subject.setdefault(one.subject, []).append(one)
        for subject, same in by_subject.items():
            pair = next((pair for pair in combinations(same, 2) if _clash(*pair)), None)
            if pair is not None:
                one, other = pair
                message = f"{quoted(one.said)} and {quoted(other.said)} do not go together: both are about {subject}"
                also = (SecondPlace(other.at, "the other sentence"),)
                yield Hit(one.at, message, "Write one rule, with the day from which on it holds.", also)
    for item in every_aftercare(library):
        yield from _against_when(item)
        yield from _other_rate(item)
        yield from _by_the_patient(item)
        yield from _off_while_on(item)
        yield from _alarm_called_normal(item)


def _clash(one: Allowed, other: Allowed) -> bool:
    return one.excludes(other) or other.excludes(one) or one.differs(other)


_BY_DAY = re.compile(r"\b(?:by|on|until|to) day (?P<day>[0-9]{1,2})\b", re.IGNORECASE)
_FROM = re.compile(r"\bfrom (?=(?:[0-9]+|[a-z-]+) (?:hours?|days?|h)\b)", re.IGNORECASE)
_WATCHES = re.compile(r"\b(?:every|each|hourly)\b", re.IGNORECASE)
_COMES_OFF = re.compile(
    r"\b(?:take|takes|cut|comes?|remove|pull)\b[^.;]*\b(?:out|off|remove)\b|\bremove\b", re.IGNORECASE
)
_NOT_FOR_ALL = re.compile(
    r"\b(?:if|unless|where|who|longer|after the|leave|keep|later|not|no|nothing|never|see|clinic|change)\b",
    re.IGNORECASE,
)
_SENTENCE = re.compile(r"(?:[^.;!?]|\.(?=\d))+")


def _against_when(item: Aftercare) -> Iterator[Hit]:
    """Yield each time of the staff text that ``when:`` does not allow."""
    start, until = hours_of(item.when.start), hours_of(item.when.until) if item.when.until else None
    for sentence in _SENTENCE.finditer(item.body.source):
        words = _outside(sentence.group(), start, until)
        if words:
            says = f"from {item.when.start} until {item.when.until}" if item.when.until else f"from {item.when.start}"
            message = f"{quoted(words)} is what the staff text says, but this item lasts {says}"
            at = item.body.place(sentence.start() + sentence.group().find(words))
            also = (SecondPlace(item.when.at, "when it is done"),)
            yield Hit(at, message, "Make the text and `when:` say the same.", also)


def _outside(sentence: str, start: Fraction | None, until: Fraction | None) -> str:
    """Return the words of ``sentence`` that name a time outside ``start`` to ``until``, or ""."""
    by_day = _BY_DAY.search(sentence)
    if by_day is not None and until is not None and int(by_day["day"]) * 24 > until:
        return by_day.group()
    times = list(spans(sentence))
    begins = _FROM.search(sentence)
    first = next((span for span in times if begins and span.start == begins.end()), None)
    if first is not None and start is not None and first.hours not in (start, until):
        return sentence[begins.start() if begins else 0 : first.end]
    lasts = [span for span in times if sentence[: span.start].rstrip().endswith(" for")]
    if lasts and _WATCHES.search(sentence) and until is not None and start is not None:
        return "" if lasts[0].hours in (until, until - start) else _words(sentence, lasts)
    if times and until is not None and _COMES_OFF.search(sentence) and not _NOT_FOR_ALL.search(sentence):
        return _words(sentence, times) if all(span.hours > until for span in times) else ""
    return ""


def _words(sentence: str, times: list[Span]) -> str:
    return sentence[times[0].start : times[-1].end]


_RATE = re.compile(
    r"\b(?P<count>\w+) times (?:an?|each|every|per) (?P<per>hour|day|week)\b|"
    r"\bevery (?P<every>(?:[0-9]+ |two |three |four |six |eight |twelve )?(?:hour|day|week)s?)\b",
    re.IGNORECASE,
)


def _other_rate(item: Aftercare) -> Iterator[Hit]:
    """Yield how often the patient is told of, where the staff text names another rate of an item without a dose."""
    if item.patient_text is None or item.dose:
        return
    told, staff = (set(_rates(text)) for text in (item.patient_text, f"{item.title}. {item.body.source}"))
    if len(told) == 1 and len(staff) == 1 and told != staff:
        message = f"{quoted(min(told))} is what the patient is told, but the staff text says {quoted(min(staff))}"
        yield Hit(item.patient_text.at, message, "Make the patient's text and the staff text say the same.")
    elif len(staff) > 1 and told:
        extra = sorted(staff - told)
        message = f"{quoted(extra[0])} is said as well as {quoted(min(told))}"
        yield Hit(item.title.at, message, "Make the patient's text and the staff text say the same.")


def _rates(text: str) -> Iterator[str]:
    for match in _RATE.finditer(text):
        if match["every"]:
            yield f"every {match['every'].casefold()}"
        else:
            yield f"{match['count'].casefold()} times every {match['per'].casefold()}"


_OFF_UNTIL = re.compile(r"\b(?:leave|keep) [^.;]*?\boff until\b", re.IGNORECASE)


def _off_while_on(item: Aftercare) -> Iterator[Hit]:
    """Yield a thing that is to stay off for just the time in which it stays on."""
    for text, at in ((item.patient_text or "", item.patient_text), (item.body.source, item.title)):
        match = _OFF_UNTIL.search(text) if item.concerns and at is not None else None
        if (
            match is not None
            and at is not None
            and str(item.concerns).split()[-1].casefold() in match.group().casefold()
        ):
            message = f"{quoted(match.group())} is said of what stays on until then"
            yield Hit(at.at, message, "Write until when it stays on, or from when on.")


_HIMSELF = re.compile(r"\b(?:take|pull|cut|remove)\b[^.;]*\byourself\b", re.IGNORECASE)


def _by_the_patient(item: Aftercare) -> Iterator[Hit]:
    """Yield what a patient is told to take out who is not the one that does it."""
    match = _HIMSELF.search(item.patient_text or "") if item.concerns and item.who else None
    if match is not None and item.patient_text is not None and not _HOME.search(str(item.who)):
        message = f"{quoted(match.group())} is what the patient is told, but who does it is the {item.who}"
        yield Hit(item.patient_text.at, message, "Say in both places who does it.")


_HOME = re.compile(r"\b(?:patient|self|parent|carer|family)\b", re.IGNORECASE)
_NORMAL = re.compile(
    r"\b(?:normal|usual|common|expected|harmless|nothing to worry)\b|need not (?:tell|call|worry)", re.IGNORECASE
)
_ALARM = re.compile(
    r"\b(?:black stools?|fevers?|chest pain|short of breath|breathless\w*|pus|faint(?:ing|s)?|coughing (?:up )?blood|"
    r"(?:cold|white|blue) (?:foot|leg|hand|fingers?|toes?)|swollen calf|cannot pass urine|heavy bleeding)\b",
    re.IGNORECASE,
)


def _alarm_called_normal(item: Aftercare) -> Iterator[Hit]:
    for sentence in _SENTENCE.findall(item.patient_text or ""):
        alarm = _ALARM.search(sentence) if _NORMAL.search(sentence) else None
        if alarm is not None and item.patient_text is not None and not _DENIES.search(sentence):
            message = f"{quoted(alarm.group())} is called normal, but patients are taught to call for it"
            yield Hit(item.patient_text.at, message, "Write when to call for it, or what is meant.")


_DENIES = re.compile(r"\b(?:not|never|no) (?:normal|usual|common|expected|harmless)\b|\bcall us\b", re.IGNORECASE)

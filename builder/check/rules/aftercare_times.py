"""Aftercare holds together: what goes with what, times that fit, and the patient told the same as the staff."""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.facts.times import Span, hours_of, spans
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.load.packs import Pairing, pairings
from builder.model.catalogue import plain_name
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure, When

_PUNCTUATION = str.maketrans(dict.fromkeys(".,;:!?()[]\"'*_-/", " "))


@finds("aftercare-pair-missing", piecewise=True)
def pairs_missing(library: Library) -> Iterator[Hit]:
    """Yield each item of aftercare that lacks what goes with it; the rules are data in ``packs/goes_with.yml``."""
    for procedure in library.procedures:
        items = list(procedure.aftercare_items.values())
        words = {str(item.id): _words(library, item) for item in items}
        for rule in pairings():
            if not rule.kind:
                yield from _unpaired(rule, items, words)
            else:
                yield from _untimed(library, procedure, rule, words)


@finds("time-not-understood")
def times_not_understood(library: Library) -> Iterator[Hit]:
    """Yield each time that begins with a number and is still no time, so that it would be taken for an event."""
    for item in _every_item(library):
        for words in (item.when.start, item.when.until):
            told = str(words or "").removeprefix("from ").removeprefix("until ").strip()
            if words and told[:1].isdigit() and hours_of(told) is None and not _begins_with_time(told):
                hint = "Write a number and h, hours, days, weeks or months, for instance `1 day`, or an event in words."
                yield Hit(words.at, f"{quoted(words)} is no time that can be put in order", hint)


def _begins_with_time(told: str) -> bool:
    """Tell whether ``told`` is a time with an event behind it, such as ``7 days later`` or ``2 days after walking``."""
    return any(span.start == 0 for span in spans(told))


def _words(library: Library, item: Aftercare) -> set[str]:
    drugs = [str(found.name) for dose in item.dose if (found := library.items.find(dose.drug))]
    concerns = [str(item.concerns)] if item.concerns else []
    parts = [
        item.title,
        item.patient_text or "",
        item.body.source,
        *(str(dose.drug) for dose in item.dose),
        *drugs,
        *concerns,
    ]
    return _split(parts)


def _split(parts: list[str]) -> set[str]:
    return set(" ".join(parts).casefold().translate(_PUNCTUATION).split())


def _unpaired(rule: Pairing, items: list[Aftercare], words: dict[str, set[str]]) -> Iterator[Hit]:
    if any(rule.needs & found for found in words.values()):
        return
    for item in items:
        named = sorted(rule.when & words[item.id])
        if named:
            message = f"{quoted(named[0])} is in {quoted(item.title)}, but {rule.say} ({_backing(rule)})"
            yield Hit(item.title.at, message, rule.write)
            return


def _backing(rule: Pairing) -> str:
    return listed(rule.evidence) if rule.evidence else "common practice"


def _untimed(library: Library, procedure: Procedure, rule: Pairing, words: dict[str, set[str]]) -> Iterator[Hit]:
    """A catheter comes out while a spinal may still work: the item must say that local policy sets the time."""
    for item in procedure.aftercare_items.values():
        found = library.items.find(item.concerns) if item.concerns else None
        if found is None or found.kind.value != rule.kind or "epidural" in plain_name(found.name):
            continue
        told = words[item.id]
        if not (rule.when & told and {"local", "policy"} <= told) and rule.when & _procedure_words(procedure):
            message = f"{quoted(item.title)} does not say when, though {rule.say} ({_backing(rule)})"
            yield Hit(item.title.at, message, rule.write)


def _procedure_words(procedure: Procedure) -> set[str]:
    parts = [procedure.body.source]
    parts.extend(f"{step.title} {step.body.source}" for step in procedure.steps.values())
    return _split(parts)


@finds("aftercare-time-reversed")
def times_reversed(library: Library) -> Iterator[Hit]:
    """Yield each item of aftercare that ends before it begins."""
    for item in _every_item(library):
        start, end = _span(item.when)
        if start is not None and end is not None and end < start:
            message = f"{quoted(str(item.when.until))} comes before {item.when.start}, where it begins"
            yield Hit(item.when.where.value("until"), message, "Write the later time in `until:`.")


def _every_item(library: Library) -> Iterator[Aftercare]:
    seen: set[str] = set()
    for procedure in library.procedures:
        for item in procedure.parts.aftercare.values():
            if item.file not in seen:
                seen.add(item.file)
                yield item


def _span(when: When) -> tuple[Fraction | None, Fraction | None]:
    return hours_of(when.start), hours_of(when.until) if when.until else None


@finds("aftercare-times-in-conflict", piecewise=True)
def times_in_conflict(library: Library) -> Iterator[Hit]:
    """Yield each pair that goes together and never at the same time, and each thing that comes out at two times."""
    for procedure in library.procedures:
        items = procedure.aftercare_items
        for item in items.values():
            for id in item.goes_with:
                other = items.get(id)
                if other is not None and _apart(item.when, other.when):
                    message = (
                        f"{quoted(str(id))} goes with {quoted(item.title)}, but the two never happen at the same time"
                    )
                    also = (SecondPlace(other.when.at, f"from {other.when.start} until {other.when.until}"),)
                    yield Hit(id.at, message, "Make the times overlap, or remove the link.", also)
        yield from _two_removals(library, procedure)


def _apart(one: When, other: When) -> bool:
    (start, end), (from_, until) = _span(one), _span(other)
    return bool(
        (end is not None and from_ is not None and end < from_)
        or (until is not None and start is not None and until < start)
    )


def _two_removals(library: Library, procedure: Procedure) -> Iterator[Hit]:
    by_thing: dict[str, list[Aftercare]] = defaultdict(list)
    for item in procedure.aftercare_items.values():
        if item.concerns is not None and item.when.until is not None:
            found = library.items.find(item.concerns)
            by_thing[str(found.id) if found else plain_name(item.concerns)].append(item)
    for same in by_thing.values():
        first = same[0]
        for other in same[1:]:
            one, two = _span(first.when)[1], _span(other.when)[1]
            if one is not None and two is not None and one != two:
                shown = quoted(str(other.when.until))
                message = f"{shown} is when the {other.concerns} comes out, but {first.when.until} in another item"
                also = (SecondPlace(first.when.where.value("until"), "the other time"),)
                yield Hit(other.when.where.value("until"), message, "Keep one of the two times.", also)


# What a time in a patient's text can be about. Two sentences that share one of these speak of the same thing.
_TOPICS = re.compile(
    r"dressing|work|driv|lift|bath|shower|swim|stitch|clip|staple|drain|catheter|tube|stocking|inject|tablet|paracetamol|laxative|"
    r"fly|flying|sex|sport|exercise|gym|plaster|splint|sling|wound|bandage|fast|drink|eat|smok|clinic|nurse|antibiotic",
    re.IGNORECASE,
)


@finds("patient-told-otherwise")
def patient_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each time in the patient's text that the staff text contradicts.

    A time contradicts where the staff text (title, prose, ``when``) speaks of the same thing in another number, or
    where it lies outside the time for which the item is there at all.
    """
    for item in _every_item(library):
        if item.patient_text is None:
            continue
        told = list(spans(item.patient_text))
        if told:
            yield from _contradictions(item, told, _staff_times(item))


def _staff_times(item: Aftercare) -> list[tuple[Span, str]]:
    """Return each time that the staff text names, with the words around it."""
    title, body = str(item.title), item.body.source
    found = [(span, title) for span in spans(title)]
    found += [(span, _sentence(body, span.start)) for span in spans(body)]
    for when in (item.when.until, item.when.start):
        found += [(span, f"{title} {item.concerns or ''}") for span in (spans(when) if when else ()) if span.hours]
    return found


def _contradictions(item: Aftercare, told: list[Span], staff: list[tuple[Span, str]]) -> Iterator[Hit]:
    assert item.patient_text is not None  # the caller has looked
    known = {span.hours for span, _ in staff}
    end = _span(item.when)[1]
    reported: set[int] = set()
    for span in told:
        if span.hours in known or span.start in reported:
            continue
        topics = _topics(_sentence(item.patient_text, span.start))
        same = next((other for other, words in staff if other.unit == span.unit and _topics(words) & topics), None)
        if same is not None:
            said = f"the staff text says {_in_words(same)}"
        elif end is not None and span.hours > end and not topics & _LASTING:
            said = f"this item ends after {item.when.until}"
        else:
            continue
        reported.add(span.start)
        shown = item.patient_text[span.start : span.end]
        message = f"{quoted(shown)} is what the patient is told, but {said}"
        yield Hit(item.patient_text.at, message, "Make the patient's text and the staff text say the same.")


_LASTING = frozenset({"work", "driv", "lift", "sport", "fly"})
"""What goes on after the item ends: a patient may be told about it longer."""


def _topics(text: str) -> set[str]:
    return {match.casefold() for match in _TOPICS.findall(text)}


def _sentence(text: str, offset: int) -> str:
    start = max(text.rfind(". ", 0, offset), text.rfind("\n", 0, offset)) + 1
    end = text.find(".", offset)
    return text[start : end if end >= 0 else len(text)]


def _in_words(span: Span) -> str:
    size = {"hour": 1, "day": 24, "week": 168, "month": 730}.get(span.unit, 1)
    count = span.hours / size
    return f"{count} {span.unit}{'' if count == 1 else 's'}"


_OFTEN = re.compile(
    r"\b(?:every (?P<hours>[0-9]+|four|six|eight|twelve) hours?|"
    r"(?P<times>once|twice|[1-6] times|three times|four times|six times) (?:a|each|every|per) day)",
    re.IGNORECASE,
)
_COUNT = {
    "once": 1,
    "twice": 2,
    "three times": 3,
    "four times": 4,
    "six times": 6,
    "four": 4,
    "six": 6,
    "eight": 8,
    "twelve": 12,
}


@finds("patient-told-other-dose")
def patient_told_other_dose(library: Library) -> Iterator[Hit]:
    """Yield each patient's text that says how often a drug is taken, otherwise than its dose."""
    for item in _every_item(library):
        every = [hours for dose in item.dose if dose.every and (hours := hours_of(str(dose.every)))]
        if item.patient_text is None or not every:
            continue
        for match in _OFTEN.finditer(item.patient_text):
            hours = _interval(match)
            if hours not in every:
                message = (
                    f"{quoted(match.group())} is what the patient is told, but the dose is every {_hours(every[0])}"
                )
                yield Hit(item.patient_text.at, message, "Make the patient's text and `every:` say the same.")


def _interval(match: re.Match[str]) -> Fraction:
    if match["hours"]:
        word = match["hours"].casefold()
        return Fraction(_COUNT.get(word) or int(word))
    words = match["times"].casefold()
    return Fraction(24, _COUNT.get(words) or int(words.split()[0]))


def _hours(hours: Fraction) -> str:
    return "hour" if hours == 1 else f"{hours} hours"


_NUMBER_TO_CALL = re.compile(
    r"\b(?:call|ring|phone|telephone|extension|ext\.?|on|dial)\s+(?:us on |on )?(?P<number>[0-9][0-9 ]{2,13}[0-9])\b",
    re.IGNORECASE,
)
_EMERGENCY = frozenset({"999", "111", "112", "911"})


@finds("patient-told-unknown-number")
def patient_told_unknown_number(library: Library) -> Iterator[Hit]:
    """Yield each telephone number in a patient's text that the department's list does not hold."""
    digits = {re.sub(r"\D", "", str(one.number)) for one in library.department.call}
    if not digits:
        return
    for item in _every_item(library):
        for match in _NUMBER_TO_CALL.finditer(item.patient_text or ""):
            number = re.sub(r"\D", "", match["number"])
            if number not in digits and number not in _EMERGENCY and item.patient_text is not None:
                message = f"{quoted(match['number'])} is no number of `call:` in content/department.md"
                yield Hit(item.patient_text.at, message, "Write the number that the department lists, or add it there.")

"""Aftercare holds together: what goes with what, times that fit, and the patient told the same as the staff."""

import re
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.facts.times import hours_of, spans
from builder.facts.walk import every_aftercare
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


@finds("time-not-understood", piecewise=True)
def times_not_understood(library: Library) -> Iterator[Hit]:
    """Yield each time that begins with a number and is still no time, so that it would be taken for an event."""
    for item in every_aftercare(library):
        for words in (item.when.start, item.when.until):
            told = str(words or "").removeprefix("from ").removeprefix("until ").strip()
            if words and told[:1].isdigit() and hours_of(told) is None and not _begins_with_time(told):
                hint = "Write a number and h, hours, days, weeks or months, for instance `1 day`, or an event in words."
                yield Hit(words.at, f"{quoted(words)} cannot be read as a time", hint)


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


@finds("aftercare-time-reversed", piecewise=True)
def times_reversed(library: Library) -> Iterator[Hit]:
    """Yield each item of aftercare that ends before it begins."""
    for item in every_aftercare(library):
        start, end = _span(item.when)
        if start is not None and end is not None and end < start:
            message = f"{quoted(str(item.when.until))} is earlier than {item.when.start}, when this item begins"
            yield Hit(item.when.where.value("until"), message, "Write the later time in `until:`.")


def _span(when: When) -> tuple[Fraction | None, Fraction | None]:
    return hours_of(when.start), hours_of(when.until) if when.until else None


@finds("aftercare-times-in-conflict", piecewise=True)
def times_in_conflict(library: Library) -> Iterator[Hit]:
    """Yield each pair that goes together but never at the same time, and each thing that ends at two times."""
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
    for item in every_aftercare(library):
        yield from _told_otherwise(item)


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


_COMES_OUT = re.compile(
    r"\b(?:comes? (?:out|off)|takes?\b.{0,40}\b(?:out|off)|taken (?:out|off)|removed?|stop(?:s|ped)?|cut)\b",
    re.IGNORECASE,
)
_ON_CONDITION = re.compile(
    r"\b(?:if|unless|only|in (?:a|any|every) (?:patient|woman|man)|who|where|sooner|earlier|later)\b"
)
_BEFORE_TIME = re.compile(r"\b(?:at|after|on|for|in)(?: about| the)?\s*$", re.IGNORECASE)


def _told_otherwise(item: Aftercare) -> Iterator[Hit]:
    """Yield each time at which the prose takes a thing out or stops it, and ``when:`` does not."""
    known = set(_span(item.when))
    if item.when.until is None or _span(item.when)[1] is None:
        return
    for sentence in re.finditer(r"[^.;!?]+", item.body.source):
        words = sentence.group()
        told = list(spans(words)) if _COMES_OUT.search(words) and not _ON_CONDITION.search(words) else []
        ends = [span for span in told if _BEFORE_TIME.search(words[: span.start])]
        if ends and not any(span.hours in known for span in told):
            span = ends[0]
            message = (
                f"{quoted(words[span.start : span.end])} is what the text says, but this item ends at {item.when.until}"
            )
            also = (SecondPlace(item.when.where.value("until"), "the time of this item"),)
            yield Hit(item.body.place(sentence.start() + span.start), message, "Write one time in both places.", also)

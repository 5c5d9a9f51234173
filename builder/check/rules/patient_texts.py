"""The patient is told the same as the staff, in plain words, and nothing that excludes anything else."""

import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from builder.check.hit import Hit, finds
from builder.facts.for_patients import called_by_patients, calling_items, number_from_home
from builder.facts.patient_advice import Advice, advice, topics
from builder.facts.remembered import once_per_library
from builder.facts.times import Span, hours_of, nth_days, spans
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Aftercare, Call, Procedure
from builder.place import Text


@finds("patient-told-otherwise", piecewise=True)
def patient_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each time in the patient's text that the staff text contradicts.

    A time contradicts where the staff text (title, prose, ``when``) speaks of the same thing in another number, or
    where it lies outside the time for which the item is there at all.
    """
    for item in every_aftercare(library):
        if item.patient_text is None:
            continue
        told = _times(item.patient_text)
        if told:
            staff = _staff_times(item)
            yield from _contradictions(item, told, staff)
            yield from _staff_differs(item, told, staff)
            yield from _other_unit(item, told, staff)
        yield from _other_ward(library, item)
        early = _STOPS_EARLY.search(item.patient_text)
        if early is not None and item.when.until is not None and any(_COURSES.search(one.drug) for one in item.dose):
            message = f"{quoted(early.group())} is what the patient is told, but it is given until {item.when.until}"
            yield Hit(item.patient_text.at, message, "Tell the patient to take all of it, to the end.")


_STOPS_EARLY = re.compile(
    r"\b(?:stop|leave (?:them|it|the \w+) off|give (?:them|it) up)\b[^.;]*?\b(?:as soon as|once|when|if) "
    r"(?:you |your |the )(?:feel (?:better|well|fine)|pain (?:has gone|is gone|stops)|"
    r"fever (?:has gone|is gone)|symptoms? (?:have|has) gone)",
    re.IGNORECASE,
)
# Stems of the International Nonproprietary Names (WHO): antibacterials, heparins, factor Xa and thrombin inhibitors,
# and what else is taken as a course.
_COURSES = re.compile(
    r"^(?:cef|sulfa)|cillin\b|clav\b|m[yi]cin\b|planin\b|oxacin\b|penem\b|nidazole\b|cycline\b|parin\b|"
    r"xaban\b|gatran\b|warfarin|clopidogrel|aspirin|trimethoprim|nitrofurantoin|predniso\w+|dexamethasone",
    re.IGNORECASE,
)


def _staff_times(item: Aftercare) -> list[tuple[Span, str]]:
    """Return each time that the staff text names, with the words around it."""
    title, body = str(item.title), item.body.source
    found = [(span, title) for span in _times(title)]
    found += [(span, _sentence(body, span.start)) for span in _times(body)]
    for when in (item.when.until, item.when.start):
        found += [(span, f"{title} {item.concerns or ''}") for span in (spans(when) if when else ()) if span.hours]
    return found


_IN_A_DAY = re.compile(r"\bin(?: any| one)? $")


def _times(text: str) -> list[Span]:
    """Return the times in ``text`` but those of so much in 24 hours."""
    day_long = [span for span in spans(text) if span.hours == 24 and span.unit == "hour"]
    rates = [span for span in day_long if _IN_A_DAY.search(text, 0, span.start)]
    return [span for span in (*spans(text), *nth_days(text)) if span not in rates]


def _contradictions(item: Aftercare, told: list[Span], staff: list[tuple[Span, str]]) -> Iterator[Hit]:
    assert item.patient_text is not None  # the caller has looked
    known = {span.hours for span, _ in staff}
    end = hours_of(item.when.until) if item.when.until else None
    reported: set[int] = set()
    for span in told:
        if span.hours in known or span.start in reported:
            continue
        topics = _topics(_sentence(item.patient_text, span.start))
        same = next((other for other, words in staff if other.unit == span.unit and _topics(words) & topics), None)
        if same is not None:
            said = f"the staff text says {_in_words(same)}"
        elif end is not None and _is_other_end(item.patient_text, span, end, known) and not topics & _LASTING:
            said = f"this item ends after {item.when.until}"
        else:
            continue
        reported.add(span.start)
        shown = item.patient_text[span.start : span.end]
        message = f"{quoted(shown)} is what the patient is told, but {said}"
        yield Hit(item.patient_text.at, message, "Make the patient's text and the staff text say the same.")


def _other_unit(item: Aftercare, told: list[Span], staff: list[tuple[Span, str]]) -> Iterator[Hit]:
    """Yield a time that the staff text has with the same number and another unit: eight weeks, eight days."""
    known, said = {span.hours for span, _ in staff}, {span.hours for span in told}
    text = item.patient_text or item.title
    for span in told:
        topics = _topics(_sentence(text, span.start))
        alike = (
            one
            for one, words in staff
            if one.hours not in said
            and _count(one) == _count(span)
            and (words == item.title or words in item.body.source or topics & _topics(words))
        )
        other = next(alike, None)
        every = _EVERY.search(text, 0, span.start)
        is_plain = other is not None and "nth day" not in (span.unit, other.unit) and span.hours not in known
        if other is not None and is_plain and not every:
            message = (
                f"{quoted(_in_words(span))} is what the patient is told, but the staff text says {_in_words(other)}"
            )
            yield Hit(text.at, message, "Correct the unit that is wrong.")
            return


def _count(span: Span) -> str:
    return _in_words(span).split()[0]


_EVERY = re.compile(r"\b(?:every|each)\s*$", re.IGNORECASE)


def _is_other_end(text: str, span: Span, end: Fraction, known: set[Fraction]) -> bool:
    """Tell whether a time lies after the end of the item, or says that it lasts for another time than it does."""
    sentence = _sentence(text, span.start)
    if _VISIT.search(sentence):
        return False
    lasts = span.hours >= 24 and _LASTS.search(text[: span.start]) is not None and not _NOT.search(sentence)
    others = any(other.hours in known for other in spans(text))
    begins = span.hours - 24 if span.unit == "nth day" else span.hours  # "on the third day" begins two days after
    return begins > end or (lasts and not others)


def _staff_differs(item: Aftercare, told: list[Span], staff: list[tuple[Span, str]]) -> Iterator[Hit]:
    """Yield a time of the staff text for what a patient may do, where the patient is told another of the same thing."""
    text, body = item.patient_text or "", item.body.source
    for span, words in staff if _LIMITS.search(text) and _LIMITS.search(body) else ():
        limits = _topics(words) & _LASTING if words in body else set()
        told_of = [one for one in told if one.unit == span.unit and _topics(_sentence(text, one.start)) & limits]
        others = [one for one, said in staff if one.unit == span.unit and said != words and _topics(said) & limits]
        if told_of and span.hours not in {one.hours for one in (*told_of, *others)}:
            shown, other = quoted(_in_words(span)), quoted(_in_words(told_of[0]))
            message = f"{shown} is what the staff text says, but the patient is told {other}"
            yield Hit(
                item.body.place(body.find(words)), message, "Make the patient's text and the staff text say the same."
            )
            return


def _other_ward(library: Library, item: Aftercare) -> Iterator[Hit]:
    """Yield whom the patient is told to call, where the staff text names another that a patient can dial."""
    roles = _dialled_from_home(library)
    text, body = (item.patient_text or "").casefold(), item.body.source.casefold()
    told = [role for role in roles if role.casefold() in text]
    staff = [role for role in roles if role.casefold() in body] if told else []
    if item.patient_text is not None and staff and not set(told) & set(staff):
        message = f"{quoted(told[0])} is whom the patient is told to call, but the staff text names the {staff[0]}"
        yield Hit(item.patient_text.at, message, "Make the patient's text and the staff text say the same.")


@once_per_library
def _dialled_from_home(library: Library) -> tuple[Text, ...]:
    return tuple(call.role for call in library.department.call if number_from_home(call))


_VISIT = re.compile(r"\b(?:see you|visit|clinic|appointment|scan|X-ray|letter|results?)\b", re.IGNORECASE)
_NOT = re.compile(r"\b(?:not|no|never|nothing)\b|n['’]t\b", re.IGNORECASE)
_LASTS = re.compile(r"\b(?:for|until)(?: about| the first| at least)?\s*$", re.IGNORECASE)
_LASTING = topics("work drive driving lift sport fly")
_LIMITS = re.compile(r"\b(?:work|driv|lift|sport|fly)", re.IGNORECASE)
"""What goes on after the item ends: a patient may be told about it longer."""


def _topics(text: str) -> frozenset[str]:
    """Return what a sentence with a time is about: two that share one of these speak of the same thing."""
    return topics(text) - _OF_TIME


_OF_TIME = topics("after before every each day daily morning evening today tomorrow while still take keep come")


def _sentence(text: str, offset: int) -> str:
    start = max(text.rfind(". ", 0, offset), text.rfind("\n", 0, offset)) + 1
    end = text.find(".", offset)
    return text[start : end if end >= 0 else len(text)]


def _in_words(span: Span) -> str:
    if span.unit == "nth day":
        return f"day {span.hours / 24}"
    size = {"hour": 1, "day": 24, "week": 168, "month": 730}.get(span.unit, 1)
    count = span.hours / size
    return f"{count} {span.unit}{'' if count == 1 else 's'}"


_NUMBER_TO_CALL = re.compile(
    r"(?<![\w.])(?P<number>[0-9](?: ?[0-9]){2,14})(?![\w.]*[0-9])"
    r"(?!\s?(?:%|(?:[mkcµ]?[lgm]|steps?|litres?|kcal|calories|units?)\b))",
    re.IGNORECASE,
)
_ABOUT_A_CALL = re.compile(r"\b(?:call|ring|phone|telephone|extension|ext|number|dial|tell)\b", re.IGNORECASE)
_EMERGENCY = frozenset({"999", "111", "112", "911"})


@finds("patient-told-unknown-number", piecewise=True)
def patient_told_unknown_number(library: Library) -> Iterator[Hit]:
    """Yield each telephone number of aftercare that is not the one listed for the role it is given for."""
    for item in every_aftercare(library) if library.department.call else ():
        for sentence in re.finditer(r"[^.;!?]+", item.patient_text or ""):
            if _ABOUT_A_CALL.search(sentence.group()):
                yield from _wrong_numbers(item.patient_text, sentence.group(), library.department.call)
                yield from _from_inside(item.patient_text, sentence.group(), library.department.call)
        for sentence in re.finditer(r"[^.;!?]+", item.body.source):
            if _EXTENSION.search(sentence.group()):
                yield from _wrong_numbers(item.title, sentence.group(), library.department.call)


# An extension, or so many digits that it can be nothing else.
_EXTENSION = re.compile(
    r"\b(?:extension|ext|bleep|telephone|number is)\b[ .:]*[0-9]|\b0(?: ?[0-9]){9,10}\b", re.IGNORECASE
)


def _wrong_numbers(text: Text | None, sentence: str, contacts: Sequence[Call]) -> Iterator[Hit]:
    assert text is not None  # the sentence is of it, or of the staff text below it
    small = sentence.casefold()
    for match in _NUMBER_TO_CALL.finditer(sentence):
        number = _digits(match["number"])
        before = {at: one for one in contacts if (at := small.rfind(one.role.casefold(), 0, match.start())) >= 0}
        named = [before[max(before)]] if before else [one for one in contacts if one.role.casefold() in small]
        owner = next((contact for contact in contacts if number in _numbers(contact)), None)
        if number in _EMERGENCY or (owner is not None and (owner in named or not named)):
            continue
        if owner is None:
            message = f"{quoted(match['number'])} is not a number of `call:` in content/department.md"
            hint = "Write the number that the department lists, or add it there."
        else:
            message = f"{quoted(match['number'])} is the number of the {owner.role}, not of the {named[0].role}"
            hint = f"Write {named[0].number}, the number that the department lists for the {named[0].role}."
        yield Hit(text.at, message, hint)


def _from_inside(text: Text | None, sentence: str, contacts: Sequence[Call]) -> Iterator[Hit]:
    """Yield each number that reaches a role from inside alone, where the department lists another from home."""
    inside = {_digits(str(one.number)): one for one in contacts if one.from_home and _digits(str(one.from_home))}
    for match in _NUMBER_TO_CALL.finditer(sentence):
        contact = inside.get(_digits(match["number"]))
        if text is not None and contact is not None and _digits(str(contact.from_home)) != _digits(match["number"]):
            message = f"{quoted(match['number'])} cannot be dialled from home"
            yield Hit(text.at, message, f"Write {contact.from_home}, the number from home of the {contact.role}.")


def _numbers(contact: Call) -> set[str]:
    """Return the digits of each number on which ``contact`` is reached, from inside and from home."""
    return {_digits(str(number)) for number in (contact.number, contact.from_home) if number}


def _digits(number: str) -> str:
    return re.sub(r"\D", "", number)


@finds("patient-number-not-from-home")
def patient_number_not_from_home(library: Library) -> Iterator[Hit]:
    """Yield each number that a patient is told to call and that only the hospital's own telephones reach."""
    if all(map(number_from_home, library.department.call)):
        return
    calling = [procedure for procedure in library.procedures if any(calling_items(procedure))]
    called = {str(call.role): call for procedure in calling for call in called_by_patients(library, procedure)}
    for call in called.values():
        if not number_from_home(call):
            message = (
                f"{quoted(call.number)} cannot be dialled from home, but patients are told to call the {call.role}"
            )
            yield Hit(call.where.value("number"), message, "Add `from_home:` with the number that a patient dials.")


_CALLS = re.compile(r"\b(?:call|ring|phone|telephone|contact)\b", re.IGNORECASE)
_NORMAL = re.compile(r"\b(?:is|are) (?:normal|harmless|nothing to worry)\b", re.IGNORECASE)
_NOT_TO = re.compile(
    r"\b(?:do not|don['’]t|never|no need to|need not|needn['’]t|not need to|not have to|not to)\s+"
    rf"(?:call|ring|phone|telephone|contact)\b|{_NORMAL.pattern}",
    re.IGNORECASE,
)
_STAFF_ACTS = re.compile(
    r"\b(?:call|ring|phone|surgeon|doctor|team|same day|at once|seen by|"
    r"(?:leak|bleeding|clot|infection)\b.*\b(?:shows?|means?))\b",
    re.IGNORECASE,
)


@finds("patient-told-not-to-call", piecewise=True)
def patient_told_not_to_call(library: Library) -> Iterator[Hit]:
    """Yield each patient's text that says not to call about what another text, or the staff's, calls somebody about."""
    for procedure in library.procedures:
        items = list(procedure.aftercare_items.values())
        for item in items:
            texts = [(item.patient_text or "", item.patient_text), (item.body.source, item.title)]
            for text, place in ((text, place) for text, place in texts if place is not None and _NOT_TO.search(text)):
                for topic, sentence in _not_to_call(text):
                    calling = [item] if _NORMAL.search(sentence) else items
                    other = next((one for one in _calling(procedure, calling) if _is_about(topic, one[1])), None)
                    if other is not None:
                        who = "the patient is told" if place is item.patient_text else "the staff text says"
                        message = f"{quoted(sentence)} is what {who}, but {quoted(other[0])} is said as well"
                        also = (SecondPlace(other[2].at, "the other text"),)
                        yield Hit(place.at, message, "Say once when to call, and leave the other out.", also)


def _not_to_call(text: str) -> Iterator[tuple[frozenset[str], str]]:
    before: frozenset[str] = frozenset()
    for sentence in _sentences(text):
        topic = topics(sentence)
        if _NOT_TO.search(sentence):
            yield topic or before, sentence
        before = topic


def _calling(procedure: Procedure, items: Iterable[Aftercare]) -> Iterator[tuple[str, frozenset[str], Text]]:
    """Yield what somebody is called about: each sentence, what it is about, and the text it is of."""
    for item in items:
        for text, calls in ((item.patient_text or "", _CALLS), (f"{item.title}. {item.body.source}", _STAFF_ACTS)):
            for sentence in _sentences(text):
                if calls.search(sentence) and not _NOT_TO.search(sentence):
                    yield sentence, topics(sentence), item.title
    for caution in procedure.cautions.values():
        if caution.sign is not None and (caution.call is not None or _CALLS.search(caution.if_it_happens or "")):
            yield caution.sign, topics(caution.sign), caution.sign


def _is_about(topic: frozenset[str], other: frozenset[str]) -> bool:
    return bool(topic) and (topic <= other or len(topic & other) >= 2)


def _sentences(text: str) -> list[str]:
    return [
        words for sentence in re.split(r"(?<=[.;!?])\s+", text) if (words := " ".join(sentence.split()).rstrip("."))
    ]


_FORBIDS = re.compile(r"\b(?:not|no|never|nothing|nil|fast|empty|bed|dry)\b|n['’]t\b", re.IGNORECASE)


@finds("patient-told-opposite", piecewise=True)
def patient_told_opposite(library: Library) -> Iterator[Hit]:
    """Yield each two orders to the patient that exclude each other at some time: drive, and do not drive."""
    for procedure in library.procedures:
        items = [item for item in procedure.aftercare_items.values() if item.patient_text]
        negating = [item for item in items if _FORBIDS.search(f"{item.patient_text}\n{item.body.source}")]
        given = {item.file: list(advice(item)) for item in negating}
        forbidding = [told for item in negating for told in given[item.file] if told.forbidden]
        verbs = {told.verb for told in forbidding}
        speaking = [
            item for item in items if any(verb in f"{item.patient_text} {item.title}".casefold() for verb in verbs)
        ]
        for ordered in (told for item in speaking for told in given.get(item.file) or advice(item)):
            forbidden = next((told for told in forbidding if _excludes(told, ordered)), None)
            if forbidden is not None:
                message = f"{quoted(forbidden.said)} is what the patient is told, and {quoted(ordered.said)} as well"
                also = (SecondPlace(ordered.text.at, "the other order"),)
                hint = "Leave one of the two out, or say from which day on the other holds."
                yield Hit(forbidden.text.at, message, hint, also)


def _excludes(forbidden: Advice, ordered: Advice) -> bool:
    same = forbidden.verb == ordered.verb and forbidden.about <= ordered.about
    if not same or not forbidden.forbidden or ordered.forbidden:
        return False
    return forbidden.end is None or ordered.start < forbidden.end

"""Aftercare says one thing of one subject: staff text, patient's text, ``when:`` and the branch it is bound to."""

import re
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from builder.check.hit import Hit, finds
from builder.facts.aftercare_subjects import Allowed, allowed_in
from builder.facts.patient_advice import topics
from builder.facts.times import Span, hours_of, nth_days, spans
from builder.facts.walk import every_aftercare
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure


@finds("aftercare-told-otherwise", piecewise=True)
def aftercare_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each two sentences of aftercare that cannot both hold of one subject, and each time outside ``when:``."""
    for procedure in library.procedures:
        yield from _same_drug_twice(tuple(procedure.aftercare_items.values()))
        yield from _never_together(procedure)
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
        for look in _LOOKS:
            yield from look(item)


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
_SENTENCE = re.compile(r"(?:[^.;!?]++|\.(?=\d))+")


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
    return _comes_off_outside(sentence, start, until) if _COMES_OFF.search(sentence) else ""


def _comes_off_outside(sentence: str, start: Fraction | None, until: Fraction | None) -> str:
    """Return the words for a time at which something comes off before ``start`` or after ``until``, or ""."""
    times = list(spans(sentence))
    evening = _THAT_EVENING.search(sentence)
    if evening is not None and start is not None and start >= _DAY:
        return evening.group()
    before = start is not None and all(span.hours < start for span in times)
    after = until is not None and all(span.hours > until for span in times)
    if times and (before or (after and not _NOT_FOR_ALL.search(sentence))):
        return "" if before and _NOT_FOR_ALL.search(_LEFT_IN.sub("", sentence)) else _words(sentence, times)
    return ""


_DAY = 24
_THAT_EVENING = re.compile(r"\b(?:evening of the operation|(?:first|same) evening|at the end of the operation)\b")
_LEFT_IN = re.compile(r"\band leave\b[^.;]*")


def _title_against_when(item: Aftercare) -> Iterator[Hit]:
    """Yield a title whose time lies after the item has ended, or before it begins."""
    start, until = hours_of(item.when.start), hours_of(item.when.until) if item.when.until else None
    times = [*spans(item.title), *nth_days(item.title)]
    if start is None or until is None or not times or _PER.search(item.title):
        return
    known = {start, until, until - start}
    if not any(span.hours in known or start <= span.hours <= until for span in times):
        words = item.title[times[0].start : times[-1].end]
        lasts = f"from {item.when.start} until {item.when.until}"
        message = f"{quoted(words)} is what the title says, but this item lasts {lasts}"
        also = (SecondPlace(item.when.at, "when it is done"),)
        yield Hit(item.title.at, message, "Make the title and `when:` say the same.", also)


_PER = re.compile(r"\b(?:every|each|an?|per) (?:hour|day|week)\b|\bevery\b", re.IGNORECASE)


def _other_unit(item: Aftercare) -> Iterator[Hit]:
    """Yield a number that the patient's text gives in one unit of time and the staff text in another."""
    staff, told = list(spans(item.body.source)), list(spans(item.patient_text or ""))
    for span in staff:
        size = _SIZE.get(span.unit)
        same = [one for one in told if size and one.unit in _SIZE and one.hours / _SIZE[one.unit] == span.hours / size]
        units = {one.unit for one in told}
        if same and span.unit not in units and not any(one.unit in {other.unit for other in staff} for one in same):
            words = item.body.source[span.start : span.end]
            other = (item.patient_text or "")[same[0].start : same[0].end]
            message = f"{quoted(words)} is what the staff text says, but the patient is told {quoted(other)}"
            yield Hit(item.body.place(span.start), message, "Write the same unit in both texts.")
            return


def _ends_at_no_time_told(item: Aftercare) -> Iterator[Hit]:
    """Yield an end that neither text names, after every time that both name: until 12 weeks, where both say six."""
    until = hours_of(item.when.until) if item.when.until else None
    texts = (item.body.source, item.patient_text or "")
    lasting = [{span.hours for span in spans(text) if _LASTS.search(text[: span.start])} for text in texts]
    both, latest = lasting[0] & lasting[1], max((span.hours for text in texts for span in spans(text)), default=until)
    if until is not None and latest is not None and max(both, default=_DAY) > _DAY and until > latest:
        says = next(span for span in spans(item.body.source) if span.hours == max(both))
        words = quoted(item.body.source[says.start : says.end])
        message = f"{quoted(str(item.when.until))} is when this item ends, but both texts say {words}"
        also = (SecondPlace(item.body.place(says.start), "the time of the texts"),)
        yield Hit(item.when.where.value("until"), message, "Make `until:` and the texts say the same.", also)


_LASTS = re.compile(r"\b(?:for|until|within)(?: about| the first| at least)?\s*$", re.IGNORECASE)
_SIZE = {"hour": 1, "day": 24, "week": 168, "month": 730}


def _bound_words(item: Aftercare) -> Iterator[Hit]:
    """Yield words for a branch that is taken, or for what comes out, which say that it is not."""
    bound = item.only_if
    if bound is not None and ("taken" in bound.branch or item.concerns) and _NONE.search(bound.words):
        message = f"{quoted(bound.words)} says the opposite of the branch it is bound to: {bound.branch[0]}"
        yield Hit(bound.words.at, message, "Write the words for whom the branch was taken.")


_NONE = re.compile(r"\b(?:no|not|without|never)\b", re.IGNORECASE)
_INTO = re.compile(r"\b(?:skin|vein|muscle|inject\w*|subcutaneous\w*|intravenous\w*)\b", re.IGNORECASE)
_SWALLOWED = re.compile(r"\b(?:tablets?|capsules?|swallow|by mouth)\b", re.IGNORECASE)
_INJECTED = re.compile(r"\b(?:inject\w*|needle|vein|drip|tube)\b", re.IGNORECASE)


def _other_form(item: Aftercare) -> Iterator[Hit]:
    """Yield a patient's text that swallows what is injected, or the other way round."""
    text = item.patient_text
    routes = [str(dose.route) for dose in item.dose if dose.route]
    if text is None or not routes:
        return
    into = [_INTO.search(route) is not None for route in routes]
    if all(into) and _SWALLOWED.search(text) and not _INJECTED.search(text):
        wrong = _SWALLOWED.search(text)
    elif not any(into) and _INJECTED.search(text) and not _SWALLOWED.search(text) and "by mouth" in routes:
        wrong = _INJECTED.search(text)
    else:
        return
    assert wrong is not None  # as it was found above
    message = f"{quoted(wrong.group())} is what the patient is told, but the dose is given {routes[0]}"
    yield Hit(text.at, message, "Make the patient's text and `route:` say the same.")


_CONTAINS = re.compile(
    r"\b(?:you (?:may|can)|add|take|use|try|have)\b[^.;]*\b(?:that contains?|containing|with) (?P<drug>[a-z]+)",
    re.IGNORECASE,
)


def _same_drug_twice(items: Sequence[Aftercare]) -> Iterator[Hit]:
    """Yield leave to take another medicine with the drug of a dose that the patient is given anyway."""
    given = {str(dose.drug).casefold(): dose.drug for item in items for dose in item.dose}
    for item in items if given else ():
        for match in _CONTAINS.finditer(item.patient_text or ""):
            drug = given.get(match["drug"].casefold())
            if item.patient_text is not None and drug is not None and not _NOT_OTHER.search(match.group()):
                message = f"{quoted(match.group())} adds to the dose of {drug} that the patient is given"
                also = (SecondPlace(drug.at, "the dose"),)
                yield Hit(item.patient_text.at, message, "Tell the patient to take no other medicine with it.", also)


_NOT_OTHER = re.compile(r"\b(?:not|no|never|nothing|any other|tablets?)\b|n['’]t\b", re.IGNORECASE)


def _never_together(procedure: Procedure) -> Iterator[Hit]:
    """Yield what goes with an item that no patient gets who gets this one: they are bound to other branches."""
    items = procedure.aftercare_items
    for item in items.values():
        for id in item.goes_with:
            other = items.get(id)
            bound, its = item.only_if, other.only_if if other is not None else None
            if bound is None or its is None or bound.choice != its.choice or set(bound.branch) & set(its.branch):
                continue
            message = f"{quoted(id)} goes with this, but is for another branch: {its.branch[0]}, not {bound.branch[0]}"
            also = (SecondPlace(its.branch[0].at, "the branch of the other item"),)
            yield Hit(bound.branch[0].at, message, "Bind both to the same branch, or part them.", also)
            break


_DENIED_LINK = re.compile(r"\b(?:no|not|without|never) \[[^\]]*\]\(aftercare:(?P<id>[a-z0-9-]+)\)")


def _partner_denied(item: Aftercare) -> Iterator[Hit]:
    """Yield what goes with this item and is said not to be given."""
    match = _DENIED_LINK.search(item.body.source)
    if match is not None:
        message = f"{quoted(match['id'])} is denied here, but it is an item of the aftercare"
        yield Hit(item.body.place(match.start()), message, "Say when it is given, or remove the item.")


def _words(sentence: str, times: list[Span]) -> str:
    return sentence[times[0].start : times[-1].end]


_RATE = re.compile(
    r"\b(?P<count>\w+) times (?:an?|each|every|per) (?P<per>hour|day|week)\b|"
    r"\b(?:every|each) (?P<every>(?:[0-9]+ |two |three |four |six |eight |twelve )?(?:hour|day|week)s?)\b",
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
    elif len(staff) > 1 and told and (extra := sorted(staff - told)):
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
            and all(word in match.group().casefold() for word in str(item.concerns).casefold().split()[-1:])
        ):
            message = f"{quoted(match.group())} is said of what stays on until then"
            yield Hit(at.at, message, "Write until when it stays on, or from when on.")


_HIMSELF = re.compile(
    r"\b(?:take|pull|cut|remove)\b[^.;]*\byourself\b|\byou (?:take|pull) (?:the|your) [^.;]*\bout\b", re.IGNORECASE
)


def _by_the_patient(item: Aftercare) -> Iterator[Hit]:
    """Yield what a patient is told to take out who is not the one that does it."""
    match = _HIMSELF.search(item.patient_text or "") if item.concerns and item.who else None
    if match is not None and item.patient_text is not None and not _HOME.search(str(item.who)):
        message = f"{quoted(match.group())} is what the patient is told, but who does it is the {item.who}"
        yield Hit(item.patient_text.at, message, "Say in both places who does it.")


_HOME = re.compile(r"\b(?:patient|self|parent|carer|family)\b", re.IGNORECASE)
_NORMAL = re.compile(
    r"\b(?:normal|usual|common|expected|harmless|nothing to worry|means? nothing)\b|need not (?:tell|call|worry)",
    re.IGNORECASE,
)
_ALARM = re.compile(
    r"\b(?:black stools?|stools? (?:turn|are|go) black|vomit(?:ing)? blood|cannot breathe(?: well)?|fevers?|chest pain|"
    r"short of breath|breathless\w*|pus|faint(?:ing|s)?|coughing (?:up )?blood|swollen calf|cannot pass urine|"
    r"(?:cold|white|blue) (?:foot|leg|hand|fingers?|toes?)|heavy bleeding|falling (?:blood )?pressure)\b",
    re.IGNORECASE,
)
_WAITS = re.compile(
    r"\b(?:wait (?:for|until)|(?:can|may) be left until|monday|"
    r"(?:next|following) (?:clinic|visit|morning|day|week|appointment)|"
    r"(?:go on|carry on|continue) with)\b",
    re.IGNORECASE,
)
_EVEN_IF = re.compile(
    r"\b(?:give|take|continue|go on)\b[^.;]*\b(?:even if|although|though) (?:the patient|you|she|he|it)\b[^.;]*"
    r"\b(?:bleeds?|bleeding|black|rash|fever|faint|vomits?)\b",
    re.IGNORECASE,
)


def _alarm_called_normal(item: Aftercare) -> Iterator[Hit]:
    """Yield each sign of trouble that is called normal, waits, or does not stop what makes it worse."""
    for text, at in ((item.patient_text or "", item.patient_text), (item.body.source, item.title)):
        for sentence in _SENTENCE.findall(text) if at is not None else ():
            alarm = _EVEN_IF.search(sentence)
            if alarm is None and (_NORMAL.search(sentence) or _WAITS.search(sentence)):
                alarm = _ALARM.search(sentence)
            if alarm is not None and at is not None and not _DENIES.search(sentence):
                said = quoted(" ".join(sentence.split()))
                message = f"{said} lets a sign of trouble pass: {quoted(alarm.group())}"
                yield Hit(at.at, message, "Write when to call for it, or what is meant.")


_DENIES = re.compile(r"\b(?:not|never|no) (?:normal|usual|common|expected|harmless|wait)\b|\bcall us\b", re.IGNORECASE)


_AMOUNT = re.compile(r"(?P<number>[0-9]+(?:\.[0-9]+)?) ?(?P<unit>kg|mL|L|cm|mm|°C)(?![\w/])")


def _other_amount(item: Aftercare) -> Iterator[Hit]:
    """Yield a weight, a volume or a length that the patient is told, where the staff text has another of the same."""
    text = item.patient_text
    staff = _amounts(item.body.source) if text is not None and not item.dose else []
    known = {(number, unit) for number, unit, _, _ in staff}
    for number, unit, about, words in _amounts(text or "") if staff else ():
        same = next((one for one in staff if one[1] == unit and one[2] & about), None)
        if text is not None and same is not None and (number, unit) not in known:
            message = f"{quoted(words)} is what the patient is told, but the staff text says {quoted(same[3])}"
            yield Hit(text.at, message, "Make the patient's text and the staff text say the same.")
            return


def _amounts(text: str) -> list[tuple[str, str, frozenset[str], str]]:
    """Return each amount of ``text``: number, unit, what its sentence is about, and its words."""
    return [
        (match["number"], match["unit"], topics(sentence.group()), match.group())
        for sentence in _SENTENCE.finditer(text)
        for match in _AMOUNT.finditer(sentence.group())
    ]


_LOOKS: tuple[Callable[[Aftercare], Iterator[Hit]], ...] = (
    _against_when,
    _other_rate,
    _by_the_patient,
    _off_while_on,
    _title_against_when,
    _ends_at_no_time_told,
    _other_unit,
    _bound_words,
    _other_form,
    _partner_denied,
    _alarm_called_normal,
    _other_amount,
)

"""Words that every document uses alike, and abbreviations, which are spelt out at their first use in each document."""

import re
from collections.abc import Iterable
from datetime import date
from html import unescape

from builder.facts.times import hours_of
from builder.load.program_words import gettext, message, ngettext, noted, spoken
from builder.model.action import ON_ITEMS, Action, Side, Verb
from builder.model.library import Library
from builder.model.pages import Status, Term, When
from builder.model.sequence import LEFT_OUT, TAKEN

USUAL_CAUTION = noted(
    "Teaching material. It does not replace training, supervision or judgement: "
    "local policy and the supervising clinician decide."
)
SHORT_CAUTION = noted("Teaching material: local policy and the supervising clinician decide.")
SIGNAL_WORDS = {
    "danger": noted("Danger"),
    "warning": noted("Warning"),
    "caution": noted("Caution"),
    "notice": noted("Notice"),
}
STATUS_MARKS = {
    Status.DRAFT: noted("Draft: not approved"),
    Status.IN_REVIEW: noted("In review: not yet approved"),
    Status.APPROVED: "",
    Status.WITHDRAWN: noted("Withdrawn: do not use"),
}
_STATUSES = {
    Status.DRAFT: noted("draft"),
    Status.IN_REVIEW: noted("in review"),
    Status.APPROVED: noted("approved"),
    Status.WITHDRAWN: noted("withdrawn"),
}
SIDES = {
    Side.LEFT: noted("Left side"),
    Side.RIGHT: noted("Right side"),
    Side.BOTH: noted("Both sides"),
    Side.MIDLINE: noted("Midline"),
    Side.EITHER: noted("The side marked on the patient"),
}
DEEDS = {
    Verb.IDENTIFY: noted("Identify %(what)s"),
    Verb.PROTECT: noted("Protect %(what)s"),
    Verb.EXPOSE: noted("Expose %(what)s"),
    Verb.OPEN: noted("Open %(what)s"),
    Verb.CLOSE: noted("Close %(what)s"),
    Verb.CLAMP: noted("Clamp %(what)s"),
    Verb.RELEASE: noted("Release %(what)s"),
    Verb.TIE: noted("Tie %(what)s"),
    Verb.SEAL: noted("Seal %(what)s"),
    Verb.SUTURE: noted("Suture %(what)s"),
    Verb.DIVIDE: noted("Divide %(what)s"),
    Verb.EXCISE: noted("Excise %(what)s"),
    Verb.PLACE: noted("Place %(what)s"),
    Verb.REMOVE: noted("Remove %(what)s"),
    Verb.INJECT: noted("Inject %(what)s"),
    Verb.IRRIGATE: noted("Irrigate %(what)s"),
    Verb.INSPECT: noted("Inspect %(what)s"),
    Verb.COUNT: noted("Count %(what)s"),
    Verb.TELL: noted("Tell %(what)s"),
}
MORE_OF_DEED = {
    "in": noted(", in %(value)s"),
    "on": noted(", on %(value)s"),
    "with": noted(", with %(value)s"),
    "through": noted(", through %(value)s"),
    "side": noted(", side %(value)s"),
    "number": noted(", %(value)s of them"),
    "what": ": %(value)s",
}
SAID_OF_DEED = {"stays": noted(", and leave it there"), "nick": noted(", only a nick")}
"""What is said of an action, key by key, where its own words stand as they are written."""
_ON_SIDE = {
    Side.LEFT: noted("%(done)s on the left"),
    Side.RIGHT: noted("%(done)s on the right"),
    Side.BOTH: noted("%(done)s on both sides"),
}
_FROM, _INTO = noted("%(done)s from %(place)s"), noted("%(done)s into %(place)s")
_PLACES = {Verb.REMOVE: (_FROM, _FROM), Verb.INJECT: (_INTO, _INTO)}
_CAPITAL_NOUNS = {"de"}
_TAG = re.compile(r"<[^>]*>")
_APART = re.compile(r"(<[^>]*>)")
_BRANCHES = {TAKEN: noted("Done"), LEFT_OUT: noted("Left out")}
_PLAIN_UNITS = {"h": "hour", "hr": "hour", "min": "minute"}
_MONTHS = (
    noted("January"), noted("February"), noted("March"), noted("April"), noted("May"), noted("June"), noted("July"),
    noted("August"), noted("September"), noted("October"), noted("November"), noted("December"),
)  # fmt: skip


def day(value: date) -> str:
    """Return a date as it is spoken: 31 May 2028. Never depends on the machine's language."""
    month = gettext(_MONTHS[value.month - 1])
    if value.day == 1:  # the first of a month has a form of its own in some languages
        return gettext("1 %(month)s %(year)s", month=month, year=value.year)
    return gettext("%(day)s %(month)s %(year)s", day=value.day, month=month, year=value.year)


def clock(units: int) -> str:
    """Return minutes as hours and minutes, seconds as minutes and seconds: ``0:05``."""
    return f"{units // 60}:{units % 60:02d}"


def step_words(numbers: Iterable[str]) -> str:
    """Return ``Step 4`` or ``Steps 4 and 7B``, each number once; "" for none."""
    once = list(dict.fromkeys(numbers))
    return ngettext("Step %(steps)s", "Steps %(steps)s", len(once), steps=series(once)) if once else ""


def series(words: Iterable[str]) -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``; "" for no words."""
    *most, end = [str(word) for word in words] or [""]
    return gettext("%(most)s and %(last)s", most=", ".join(most), last=end) if most else end


def series_or(words: Iterable[str]) -> str:
    """Return ``a``, ``a or b`` or ``a, b or c``; "" for no words."""
    *most, end = [str(word) for word in words] or [""]
    return gettext("%(most)s or %(last)s", most=", ".join(most), last=end) if most else end


def labelled(label: str, value: object) -> str:
    """Return ``label: value`` as the language that is spoken sets a colon."""
    return gettext("%(label)s: %(value)s", label=label, value=value)


def signal_word(signal: str) -> str:
    """Return the signal word of a caution; "" for what is none."""
    return gettext(SIGNAL_WORDS[signal]) if signal in SIGNAL_WORDS else ""


def status_word(status: Status) -> str:
    """Return what a status is called within a sentence: ``in review``."""
    return gettext(_STATUSES[status])


def uncapital(text: str) -> str:
    """Return ``text`` with a small first letter, unless its first word is an abbreviation, or may be a noun of
    a language that writes nouns with capitals."""
    keeps = text[1:2].isupper() or spoken() in _CAPITAL_NOUNS
    return text if keeps else text[:1].lower() + text[1:]


def plain(html: str, apart: str = "") -> str:
    """Return the words of clean ``html``, with ``apart`` where a tag stood."""
    return unescape(_TAG.sub(apart, html)) if "<" in html or "&" in html else html


def as_words(id: str) -> str:
    """Return an id as it is read: ``drain-left-in`` becomes ``Drain left in``."""
    return id.replace("-", " ").capitalize()


def branch_label(name: str) -> str:
    """Return the words for a branch as it is written in the sequence."""
    return gettext(_BRANCHES[name]) if name in _BRANCHES else as_words(name)


def option_words(title: str, branch: str) -> str:
    """Return when a branch of the option ``title`` is met: ``if drain`` or ``without drain``; "" for any other."""
    option = uncapital(title)
    words = {TAKEN: gettext("if %(option)s", option=option), LEFT_OUT: gettext("without %(option)s", option=option)}
    return words.get(branch, "")


def structure_name(library: Library, words: str) -> str:
    """Return the catalogue's name of the structure that ``words`` means, or ``words`` where it has none."""
    structure = library.structures.find(words)
    return str(structure.name) if structure else str(words)


def item_name(library: Library, words: str) -> str:
    """Return the catalogue's name of the item that ``words`` means, or ``words`` where it has none."""
    item = library.items.find(words)
    return str(item.name) if item else str(words)


def thing_name(library: Library, words: str) -> str:
    """Return the name of the structure or item that ``words`` means."""
    structure = library.structures.find(words)
    return gettext("the %(name)s", name=structure.name) if structure else item_name(library, words)


def sentence(library: Library, action: Action) -> str:
    """Return what is done in ``action``, without a full stop: ``Place 2 × small swab in the inguinal canal``."""
    done = _deed(library, action)
    if action.verb is Verb.TELL or action.verb is Verb.COUNT:
        return done if action.verb is Verb.COUNT else _more(done, action)
    done = _where(library, action, done)
    if action.using:
        using = _number(action, not _counts_objects(action)) + _things(library, action.using)
        done = gettext("%(done)s with %(using)s", done=done, using=using)
    if action.through:
        done = gettext("%(done)s through the %(item)s", done=done, item=item_name(library, action.through))
    if action.stays:
        left_open = action.verb is Verb.OPEN
        done = gettext("%(done)s (left open)", done=done) if left_open else gettext("%(done)s (stays)", done=done)
    return _more(done, action)


def _deed(library: Library, action: Action) -> str:
    """Return verb and objects."""
    deed = _deed_said(action)
    if action.verb is Verb.COUNT:
        return gettext(deed, what=series(action.objects))
    if action.verb is Verb.TELL:
        return gettext(deed, what=series(gettext("the %(name)s", name=person) for person in action.objects))
    return gettext(deed, what=_number(action, _counts_objects(action)) + _things(library, action.objects))


def _deed_said(action: Action) -> str:
    return noted("Nick %(what)s") if action.nick else DEEDS[action.verb]


def verb_words(action: Action) -> str:
    """Return the verb of ``action`` as its sentence has it, which in some languages does not begin with it."""
    return max(message(_deed_said(action)).split("%(what)s"), key=len).strip()


def _counts_objects(action: Action) -> bool:
    """Tell whether the number is that of the objects: what is placed, not what a structure is clamped or tied with."""
    return action.verb in ON_ITEMS or not action.using


def _number(action: Action, is_here: bool) -> str:
    return f"{action.number} × " if is_here and action.number > 1 else ""


def _things(library: Library, words: Iterable[str]) -> str:
    return series(thing_name(library, thing) for thing in words)


def _where(library: Library, action: Action, done: str) -> str:
    """Return ``done`` with its place and side."""
    within, upon = _PLACES.get(action.verb, (noted("%(done)s in %(place)s"), noted("%(done)s on %(place)s")))
    if action.inside:
        done = gettext(within, done=done, place=thing_name(library, action.inside))
    if action.on:
        done = gettext(upon, done=done, place=thing_name(library, action.on))
    side = _ON_SIDE.get(action.side) if action.side else None
    return gettext(side, done=done) if side else done


def _more(done: str, action: Action) -> str:
    return f"{done}: {action.what}" if action.what else done


def parted(time: str) -> tuple[str, str]:
    """Return number and unit of a time as patients read them: ``2 h`` is 2 and ``hour``."""
    number, _, unit = time.partition(" ")
    unit = _PLAIN_UNITS.get(unit, unit.removesuffix("s"))
    return number, unit


def time_words(time: str) -> str:
    """Return a time such as ``2 h`` in words: ``2 hours``. An event is its author's to word."""
    number, unit = parted(time)
    count = int(number) if number.isdecimal() else 2
    words = {
        "minute": ngettext("%(number)s minute", "%(number)s minutes", count, number=number),
        "hour": ngettext("%(number)s hour", "%(number)s hours", count, number=number),
        "day": ngettext("%(number)s day", "%(number)s days", count, number=number),
        "week": ngettext("%(number)s week", "%(number)s weeks", count, number=number),
        "month": ngettext("%(number)s month", "%(number)s months", count, number=number),
    }
    return words.get(unit, time)


def staff_time(time: str) -> str:
    """Return a time with its unit as short as it was written: ``6 h``, ``2 days``."""
    number, _, unit = time.partition(" ")
    short = {"h": gettext("%(number)s h", number=number), "min": gettext("%(number)s min", number=number)}
    return short.get(unit) or time_words(time)


def how_long(until: str) -> str:
    """Return in words how long a thing stays that is there until ``until``: ``for 2 days``, ``until walking``."""
    end = until.removeprefix("until ")
    if hours_of(end) is None:
        return gettext("until %(event)s", event=end)
    return gettext("for %(time)s", time=staff_time(end))


def when_words(when: When) -> str:
    """Return a time as staff read it: ``First 2 days``, ``1 day to 6 weeks``, ``From drain out until 7 days later``."""
    start, until = str(when.start).removeprefix("from "), str(when.until or "").removeprefix("until ")
    begins, ends = hours_of(start), hours_of(until) if until else None
    if begins == 0:
        if not until:
            return gettext("At once")
        end = staff_time(until)
        return gettext("First %(time)s", time=end) if ends else gettext("At once, until %(until)s", until=end)
    begin, end = staff_time(start), staff_time(until)
    if not until:
        return gettext("From %(start)s", start=begin)
    if begins and ends:
        return gettext("%(start)s to %(until)s", start=begin, until=end)
    return gettext("From %(start)s until %(until)s", start=begin, until=end)


class Speller:
    """Spells out the short forms of ``terms``; with ``plain`` in the words for patients, where there are any.

    Only terms that are abbreviations (written in capitals) are spelt out; a writer who did it by hand is left alone.
    """

    def __init__(self, terms: Iterable[Term], *, plain: bool = False) -> None:
        self._long = {
            str(term.short): str(term.plain if plain and term.plain else term.long)
            for term in terms
            if str(term.short).rstrip("s").isupper()
        }
        self._others = {str(term.short): (str(term.long), str(term.plain or term.long)) for term in terms}
        words = sorted(self._long, key=len, reverse=True)
        self._pattern = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)") if words else None
        self._done: set[str] = set()

    def text(self, words: str) -> str:
        """Return plain text with each abbreviation that was not used before spelt out."""
        if self._pattern is None:
            return words
        return self._pattern.sub(lambda match: self._first(match, words), words)

    def html(self, html: str) -> str:
        """Return clean HTML with the words between its tags spelt out."""
        parts = _APART.split(html)
        return "".join(part if part.startswith("<") else self.text(part) for part in parts)

    def _first(self, match: re.Match[str], words: str) -> str:
        short = match.group()
        if short in self._done:
            return short
        self._done.add(short)
        before = words[: match.start()].rstrip("( ").casefold()
        after = words[match.end() :].lstrip(" (").casefold()
        if any(before.endswith(form.casefold()) or after.startswith(form.casefold()) for form in self._others[short]):
            return short
        return f"{self._long[short]} ({short})"

"""Words that every document uses alike, and abbreviations, which are spelt out at their first use in each document."""

import re
from collections.abc import Iterable
from datetime import date
from html import unescape

from builder.facts.times import hours_of
from builder.findings.message_words import listed
from builder.model.action import ON_ITEMS, Action, Side, Verb
from builder.model.library import Library
from builder.model.pages import Status, Term, When
from builder.model.sequence import LEFT_OUT, TAKEN

USUAL_CAUTION = (
    "Teaching material. It does not replace training, supervision or judgement: "
    "local policy and the supervising clinician decide."
)
SHORT_CAUTION = "Teaching material: local policy and the supervising clinician decide."
SIGNAL_WORDS = {"danger": "Danger", "warning": "Warning", "caution": "Caution", "notice": "Notice"}
STATUS_MARKS = {
    Status.DRAFT: "Draft: not approved",
    Status.IN_REVIEW: "In review: not yet approved",
    Status.APPROVED: "",
    Status.WITHDRAWN: "Withdrawn: do not use",
}
SIDES = {
    Side.LEFT: "Left side",
    Side.RIGHT: "Right side",
    Side.BOTH: "Both sides",
    Side.MIDLINE: "Midline",
    Side.EITHER: "The side marked on the patient",
}
_ON_SIDE = {Side.LEFT: " on the left", Side.RIGHT: " on the right", Side.BOTH: " on both sides"}
_PREPOSITIONS = {Verb.REMOVE: ("from", "from"), Verb.INJECT: ("into", "into")}
_TAG = re.compile(r"<[^>]*>")
_APART = re.compile(r"(<[^>]*>)")
_BRANCHES = {TAKEN: "Done", LEFT_OUT: "Left out"}
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def day(value: date) -> str:
    """Return a date as it is spoken: 31 May 2028. Never depends on the machine's language."""
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def clock(units: int) -> str:
    """Return minutes as hours and minutes, seconds as minutes and seconds: ``0:05``."""
    return f"{units // 60}:{units % 60:02d}"


def step_words(numbers: Iterable[str]) -> str:
    """Return ``Step 4`` or ``Steps 4 and 7B``, each number once; "" for none."""
    once = list(dict.fromkeys(numbers))
    return f"Step{'s' * (len(once) > 1)} {listed(once)}" if once else ""


def uncapital(text: str) -> str:
    """Return ``text`` with a small first letter, unless its first word is an abbreviation."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def plain(html: str, apart: str = "") -> str:
    """Return the words of clean ``html``, with ``apart`` where a tag stood."""
    return unescape(_TAG.sub(apart, html)) if "<" in html or "&" in html else html


def as_words(id: str) -> str:
    """Return an id as it is read: ``drain-left-in`` becomes ``Drain left in``."""
    return id.replace("-", " ").capitalize()


def branch_label(name: str) -> str:
    """Return the words for a branch as it is written in the sequence."""
    return _BRANCHES.get(name) or as_words(name)


def option_words(title: str, branch: str) -> str:
    """Return when a branch of the option ``title`` is met: ``if drain`` or ``without drain``; "" for any other."""
    return {TAKEN: f"if {uncapital(title)}", LEFT_OUT: f"without {uncapital(title)}"}.get(branch, "")


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
    return f"the {structure.name}" if structure else item_name(library, words)


def sentence(library: Library, action: Action) -> str:
    """Return what is done in ``action``, without a full stop: ``Place 2 × small swab in the inguinal canal``."""
    verb = "Nick" if action.nick else action.verb.value.capitalize()
    if action.verb is Verb.COUNT:
        return f"{verb} {listed(action.objects)}"
    if action.verb is Verb.TELL:
        told = listed([f"the {person}" for person in action.objects])
        return f"{verb} {told}" + (f": {action.what}" if action.what else "")
    number = f"{action.number} × " if action.number > 1 else ""
    # The number counts items: what is placed, or what a structure is clamped or tied with.
    counts_objects = action.verb in ON_ITEMS or not action.using
    objects = (number if counts_objects else "") + listed([thing_name(library, thing) for thing in action.objects])
    using = ("" if counts_objects else number) + listed([thing_name(library, thing) for thing in action.using])
    into, onto = _PREPOSITIONS.get(action.verb, ("in", "on"))
    inside = f" {into} {thing_name(library, action.inside)}" if action.inside else ""
    on = f" {onto} {thing_name(library, action.on)}" if action.on else ""
    side = _ON_SIDE.get(action.side, "") if action.side else ""
    done = f"{verb} {objects}{inside}{on}{side}" + (f" with {using}" if using else "")
    staying = (" (left open)" if action.verb is Verb.OPEN else " (stays)") if action.stays else ""
    through = f" through the {item_name(library, action.through)}" if action.through else ""
    return done + through + staying + (f": {action.what}" if action.what else "")


def when_words(when: When) -> str:
    """Return a time as staff read it: ``First 2 days``, ``1 day to 6 weeks``, ``From drain out until 7 days later``."""
    start, until = str(when.start).removeprefix("from "), str(when.until or "").removeprefix("until ")
    begins, ends = hours_of(start), hours_of(until) if until else None
    if begins == 0:
        if not until:
            return "At once"
        return f"First {until}" if ends else f"At once, until {until}"
    if not until:
        return f"From {start}"
    return f"{start} to {until}" if begins and ends else f"From {start} until {until}"


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

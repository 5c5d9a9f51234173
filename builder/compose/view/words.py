"""Words that every document uses alike."""

from __future__ import annotations

from datetime import date

from builder.findings.message_words import listed
from builder.model.action import ON_ITEMS, Action, Side, Verb
from builder.model.library import Library
from builder.model.pages import Status

USUAL_CAUTION = (
    "Teaching material. It does not replace training, supervision or judgement: "
    "local policy and the supervising clinician decide."
)
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
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def day(value: date) -> str:
    """Return a date as it is spoken: 31 May 2028. Never depends on the machine's language."""
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def structure_name(library: Library, words: str) -> str:
    """Return the catalogue's name of the structure that ``words`` means, or ``words`` where it has none."""
    found = library.structures.find(words)
    return str(found.name) if found else str(words)


def item_name(library: Library, words: str) -> str:
    """Return the catalogue's name of the item that ``words`` means, or ``words`` where it has none."""
    found = library.items.find(words)
    return str(found.name) if found else str(words)


def thing_name(library: Library, words: str) -> str:
    """Return the name of the structure or item that ``words`` means."""
    found = library.structures.find(words)
    return f"the {found.name}" if found else item_name(library, words)


def _staying(action: Action) -> str:
    if not action.stays:
        return ""
    return " (left open)" if action.verb is Verb.OPEN else " (stays)"


def sentence(library: Library, action: Action) -> str:
    """Return what is done in ``action``, without a full stop: ``Place 2 × small swab in the inguinal canal``."""
    verb = "Nick" if action.nick else action.verb.value.capitalize()
    if action.verb is Verb.COUNT:
        return f"{verb} {listed([str(one) for one in action.objects])}"
    if action.verb is Verb.TELL:
        told = listed([f"the {one}" for one in action.objects])
        return f"{verb} {told}" + (f": {action.what}" if action.what else "")
    number = f"{action.number} × " if action.number > 1 else ""
    # The number counts items: what is placed, or what a structure is clamped or tied with.
    counts_objects = action.verb in ON_ITEMS or not action.using
    objects = (number if counts_objects else "") + listed([thing_name(library, one) for one in action.objects])
    using = ("" if counts_objects else number) + listed([thing_name(library, one) for one in action.using])
    into, onto = _PREPOSITIONS.get(action.verb, ("in", "on"))
    inside = f" {into} {thing_name(library, action.inside)}" if action.inside else ""
    on = f" {onto} {thing_name(library, action.on)}" if action.on else ""
    side = _ON_SIDE.get(action.side, "") if action.side else ""
    done = f"{verb} {objects}{inside}{on}{side}" + (f" with {using}" if using else "")
    return done + _staying(action) + (f": {action.what}" if action.what else "")

"""Carries out one entry of a page of local changes: a value, a page, a way of the sequence, a picture, a number."""

from dataclasses import replace
from typing import Any

from builder.findings.message_words import mend, quoted
from builder.load.folder import LAID
from builder.load.prose import EMPTY, Prose, read_prose
from builder.model.local_layers import (
    FORKS,
    EntryMisfit,
    Layers,
    LocalHome,
    LocalTarget,
    file_for,
    key_place,
    name_on,
    named_at,
    named_words,
    page_key,
    target_of,
    words_for,
)
from builder.model.local_page import LocalChange, LocalEntry
from builder.model.local_sequence import changed as changed_sequence
from builder.model.local_values import (
    NOTHING,
    digest_of,
    front_of,
    put_value,
    role_of,
    told,
    value_at,
    whole_of,
    without_id,
)
from builder.place import WHERE_KEY, Text, Where

PROSE = "prose"
"""The key by which an entry names the prose of a page."""
_LISTED_IN = {"step": ("caution", "guards"), "caution": ("step", "cautions"), "aftercare": ("procedure", "aftercare")}
"""Where the id of a page stands that goes with the page."""


def carried_out(layers: Layers, home: LocalHome, number: int, entry: LocalEntry) -> LocalChange:
    """Carry out ``entry``, the one with this ``number`` of its page, and return what it changed. Raises EntryMisfit
    where it does not fit the parent."""
    target = target_of(home, entry)
    verb, kind, id = target
    own = ""
    if kind == "call":
        theirs, ours = _call(layers, entry, target)
    elif kind == "figure":
        theirs, ours = _figure(layers, home, entry, target)
        own = f"content/procedures/{home.id}/figures/{id}"
    elif kind in FORKS:
        theirs, ours = _fork(home, entry, target)
    elif entry.key is not None:
        theirs, ours = _value(home, entry, target)
    else:
        theirs, ours = _page(layers, home, entry, target)
        if verb != "switch_off":
            file = next((file for key, file in home.own.items() if key == (kind, id)), None)
            own = file.name if file else ""
    return LocalChange(
        home.id, number, verb, kind, id, str(entry.key or ""),
        told(ours), told(theirs), digest_of(theirs), str(entry.was or ""),
        str(entry.because), str(entry.document), entry.date, entry.at, own, name_on(home, kind, id),
    )  # fmt: skip


def _value(home: LocalHome, entry: LocalEntry, target: LocalTarget) -> tuple[Any, Any]:
    """Change one key of a page."""
    verb, kind, id = target
    key = page_key(kind, id)
    _must_be_theirs(home, entry, kind, id)
    path = str(entry.key).split("/")
    is_prose = path == [PROSE]
    theirs = home.theirs[key].body.source.strip() or None if is_prose else value_at(front_of(home.theirs[key]), path)
    at = named_at(entry)
    if verb == "add" and theirs is not None:
        hint = "Write `replace:` instead of `add:`, or remove the entry."
        raise EntryMisfit(
            at, f"{quoted(entry.key)} of the {words_for(kind, id)} is already written by the parent", hint
        )
    if verb != "add" and theirs is None:
        hint = mend(path[0], map(str, front_of(home.theirs[key])), "Write `add:`, or name a key that is there.")
        raise EntryMisfit(
            key_place(entry), f"the {words_for(kind, id)} of the parent has no key {quoted(entry.key)}", hint
        )
    ours = None if verb == "switch_off" else _with(entry)
    page = home.pages[key]
    if is_prose:
        home.pages[key] = replace(page, body=_prose(entry, ours))
    else:
        home.pages[key] = replace(page, front=put_value(front_of(page), path, ours, entry.where))
    return theirs, ours


def _with(entry: LocalEntry) -> Any:
    if entry.value is None:
        hint = "Add `with:` and what it is to be."
        raise EntryMisfit(named_at(entry), f"{quoted(entry.key or named_words(entry))} is to become nothing", hint)
    return entry.value


def _must_be_theirs(home: LocalHome, entry: LocalEntry, kind: str, id: str) -> None:
    key = page_key(kind, id)
    if key not in home.theirs:
        known = [name for each, name in home.theirs if each == kind]
        hint = mend(id, known, "Correct the id, or remove the entry.")
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is not in the parent", hint)
    if key not in home.pages:
        hint = "Keep one of the two entries."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is switched off by another entry", hint)


def _page(layers: Layers, home: LocalHome, entry: LocalEntry, target: LocalTarget) -> tuple[Any, Any]:
    """Replace, add or switch off a whole page."""
    verb, kind, id = target
    key = page_key(kind, id)
    own = home.own.get(key)
    if verb == "add":
        if key in home.theirs:
            hint = "Write `replace:` instead of `add:`, or give your own another id."
            raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is already in the parent", hint)
    else:
        _must_be_theirs(home, entry, kind, id)
    theirs = NOTHING if verb == "add" else whole_of(home.theirs if kind == "procedure" else {key: home.theirs[key]})
    if verb == "switch_off":
        _switch_off(layers, home, entry, target)
        return theirs, NOTHING
    if own is None:
        name = file_for(home, kind, id)
        hint = f"Write {name}, or name with `key:` and `with:` what is to be changed."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} has no file of its own here", hint)
    home.declared.add(key)
    if kind == "procedure":
        home.pages = dict(home.own)
        home.declared |= home.own.keys()
        return theirs, whole_of(home.own)
    home.pages[key] = own
    if verb == "add" and kind == "step":
        _sequence(home, entry, target)
    return theirs, whole_of({key: own})


def _switch_off(layers: Layers, home: LocalHome, entry: LocalEntry, target: LocalTarget) -> None:
    _, kind, id = target
    if kind == "procedure":
        home.pages.clear()
        folder = f"{LAID[0]}{home.id}/"
        layers.pictures = {name: seen for name, seen in layers.pictures.items() if not name.startswith(folder)}
        return
    if kind == "step":
        _sequence(home, entry, target)
    del home.pages[page_key(kind, id)]
    where, name = _LISTED_IN[kind]
    for each in (home,) if home.id else layers.homes.values():
        for key, page in each.pages.items():
            each.pages[key] = without_id(page, name, id) if key[0] == where else page


def _fork(home: LocalHome, entry: LocalEntry, target: LocalTarget) -> tuple[Any, Any]:
    """Replace, add or switch off a branch, an option or a choice."""
    verb, kind, _ = target
    if verb != "switch_off" and kind != "branch":
        hint = "Replace the key `sequence` of the procedure, or change one branch of it."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} can only be switched off as a whole", hint)
    ours = None if verb == "switch_off" else _with(entry)
    return _sequence(home, entry, target), NOTHING if ours is None else ours


def _sequence(home: LocalHome, entry: LocalEntry, target: LocalTarget) -> Any:
    verb, kind, id = target
    head = home.pages.get(("procedure", "procedure"))
    front = front_of(head) if head else {}
    try:
        sequence, theirs = changed_sequence(front.get("sequence"), verb, kind, id, entry)
    except LookupError as missing:
        raise EntryMisfit(named_at(entry), *missing.args) from None
    if head is not None:
        home.pages["procedure", "procedure"] = replace(head, front={**front, "sequence": sequence})
    return theirs


def _figure(layers: Layers, home: LocalHome, entry: LocalEntry, target: LocalTarget) -> tuple[Any, Any]:
    """Replace a picture of the parent by one of the same name, or leave it out."""
    verb, _, id = target
    name = f"{LAID[0]}{home.id}/figures/{id}"
    if name not in layers.parent.pictures or verb == "add":
        hint = "Name a picture of the parent's folder figures/; one of your own needs no entry."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is not a picture of the parent", hint)
    theirs = layers.parent.pictures[name]
    if verb == "switch_off":
        layers.pictures.pop(name, None)
        return theirs, NOTHING
    if name not in layers.own.pictures:
        hint = f"Put your own picture at {name}."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} has no picture of its own here", hint)
    home.declared.add(("figure", id))
    return theirs, layers.own.pictures[name]


def _call(layers: Layers, entry: LocalEntry, target: LocalTarget) -> tuple[Any, Any]:
    """Change the number of a role."""
    verb, _, role = target
    place = next((at for at, call in enumerate(layers.calls) if role_of(call) == role), None)
    key = str(entry.key or "number")
    if verb == "add" and place is None:
        ours = _with(entry)
        at = Text(named_words(entry).partition(" ")[2], named_at(entry))
        layers.calls.append({"role": at, key: ours, WHERE_KEY: Where(entry.at).laid(key, entry.where, "with")})
        return NOTHING, ours
    if place is None:
        hint = mend(role, map(role_of, layers.calls), "Write `add:`, or name a role of the parent's `call:`.")
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is not in the parent", hint)
    if verb == "add":
        hint = "Write `replace:` instead of `add:`."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} is already in the parent", hint)
    theirs = layers.calls[place].get(key)
    if verb == "switch_off":
        return layers.calls.pop(place).get(key), NOTHING
    ours = _with(entry)
    layers.calls[place] = put_value(layers.calls[place], [key], ours, entry.where)
    return theirs, ours


def _prose(entry: LocalEntry, words: Any) -> Prose:
    """Return ``words`` as the prose of a page; more lines than one begin below the key."""
    if words is None:
        return EMPTY
    if not isinstance(words, Text):
        raise EntryMisfit(key_place(entry), "the prose of a page is not a text", "Write it below `with: |`, indented.")
    return read_prose(f"{words}\n", words.at.file, words.at.line + ("\n" in words))

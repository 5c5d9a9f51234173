"""What a reader answers about a draft: that a sentence or a step is right, what was misheard, what a new name is."""

import re
from collections.abc import Callable
from dataclasses import replace

from builder.draft.told_desk import HEAD, Desk
from builder.draft.told_file import as_words, in_place
from builder.draft.told_steps import mappings
from builder.draft.told_uses import new_entry
from builder.edit.file_change import CannotEdit, Put, Value
from builder.edit.forms.form_files import FormEdit
from builder.model.action import Verb
from builder.model.library import Library

_NOT_WORDS = frozenset({"guards", "cautions", "figure", "proposed", "goes_with", "heard_at", "sequence"})

_THINGS = frozenset({"at_risk", "with", "in", "on", "through", *(verb.value for verb in Verb)} - {"count", "tell"})
"""Keys that name things of a catalogue: ``eye IT band`` is none, so nothing of what was misheard stays beside it."""
_PutRight = Callable[[Value, str], Value]


def accepted(desk: Desk, number: int) -> FormEdit:
    """Mark a sentence as read; with the last one of its page, that page is confirmed."""
    desk.told = desk.told.changed([number], is_read=True)
    page = desk.told.sentences[number].page
    if desk.has(page) and all(desk.told.sentences[one].is_read for one in desk.told.on(page)):
        desk.confirm(page)
    return desk.done("A sentence read")


def pages_accepted(desk: Desk, pages: list[str], *, as_practice: bool = False) -> FormEdit:
    """Confirm ``pages``, a step with its cautions, and mark all their sentences as read.

    ``as_practice``: the reader says that what rests on no source yet is common practice.
    """
    for page in pages:
        if as_practice and desk.has(page) and "evidence" not in desk.data(page):
            desk.put(page, "common_practice", "true")
        desk.told = desk.told.changed(desk.told.on(page), is_read=True)
        if desk.has(page):
            desk.confirm(page)
    return desk.done("A step read")


def decided(desk: Desk, key: str, value: str) -> FormEdit:
    """Write what approval waits for into the procedure. Raises CannotEdit where nothing was chosen."""
    if key not in ("review_by", "status") or not value:
        raise CannotEdit("nothing was chosen", "Choose a day.")
    desk.put(HEAD, key, value)
    return desk.done("The day of the review" if key == "review_by" else "Put into review")


def graded(desk: Desk, page: str, signal: str) -> FormEdit:
    """Give the caution ``page`` the signal word that says how grave it is."""
    desk.put(page, "signal", signal)
    return desk.done("How grave a caution is", [page])


def set_aside(desk: Desk, question: str, reason: str) -> FormEdit:
    """Note that a question does not arise in this operation, and why. Raises CannotEdit where no reason is given."""
    if not reason:
        raise CannotEdit("it was not said why this does not arise", "Write the reason in a few words.")
    desk.told = replace(desk.told, set_aside={**desk.told.set_aside, question: reason})
    return desk.done("A question set aside")


def meant(desk: Desk, library: Library, heard: str, name: str) -> FormEdit:
    """Answer whether ``heard`` means ``name``: then the whole module says so; "" where it is right as heard.

    Raises CannotEdit where a sentence that says it has a place in the module and the module says it nowhere.
    """
    asked = {words: other for words, other in desk.told.misheard.items() if words != heard}
    desk.told = replace(desk.told, misheard=asked)
    if name:
        pattern = as_words(heard)
        pages = [
            f"{folder}/{id}.md" for folder in ("steps", "cautions", "aftercare") for id in sorted(desk.taken(folder))
        ]
        said = [sentence for sentence in desk.told.sentences if sentence.page and pattern.search(sentence.text)]
        put_right = _putting_right(library, pattern, name)
        changed = [_reworded(desk, page, put_right) for page in (HEAD, *pages)]
        if said and not any(changed):
            raise CannotEdit(
                f"nothing was changed: the module says “{heard}” nowhere any more",
                "Press “No, it is right” to close the question, or change the words where they stand.",
            )
        desk.told = replace(desk.told, meant={**desk.told.meant, heard: name})
    return desk.done(f"“{heard}”: {name or 'right as heard'}")


def named(desk: Desk, library: Library, words: str, kind: str) -> FormEdit:
    """Answer what ``words``, which no catalogue has, are: a kind of structure or item; "" where they are no name."""
    desk.told = replace(desk.told, unknown=tuple(one for one in desk.told.unknown if one != words))
    if kind and not (library.structures.find(words) or library.items.find(words)):  # two spellings, or another tab
        new_entry(desk, library, words, kind)
    return desk.done(f"“{words}”: {kind or 'no name'}")


def _reworded(desk: Desk, page: str, put_right: _PutRight) -> bool:
    """Put ``page`` right wherever it says what was misheard; tell whether it said so anywhere."""
    before = desk.text(page)
    for key, value in desk.data(page).items():
        new = put_right(value, key)
        if key not in _NOT_WORDS and new != value:
            desk.put(page, key, new)
    for path, entry in mappings(desk.data(page).get("sequence"), ("sequence",)):
        for key in entry.keys() & {"title", "when"}:
            if (new := put_right(entry[key], key)) != entry[key]:
                desk.edit(page, Put((*path, key), new))
    prose = desk.prose(page)
    if (words := put_right(prose, "")) != prose:
        desk.set_prose(page, str(words))
    return desk.text(page) != before


def _putting_right(library: Library, pattern: re.Pattern[str], name: str) -> _PutRight:
    """Return what has ``name`` for all that ``pattern`` finds; where a thing is named, one of the catalogue."""

    def known(words: str) -> object:
        return library.structures.find(words) or library.items.find(words)

    entry = library.structures.find(name) or library.items.find(name)

    def put_right(value: Value, key: str) -> Value:
        if isinstance(value, str):
            words = in_place(pattern, name, value)
            return str(entry.name) if entry and words != value and key in _THINGS and not known(words) else words
        if isinstance(value, list):
            return [put_right(inner, key) for inner in value]
        if isinstance(value, dict):
            return {in_place(pattern, name, inner): put_right(held, inner) for inner, held in value.items()}
        return value

    return put_right

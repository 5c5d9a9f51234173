"""What a reader answers about a draft: that a sentence or a step is right, what was misheard, what a new name is."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from difflib import SequenceMatcher

from builder.draft.phrases import is_small
from builder.draft.told_desk import HEAD, Desk
from builder.draft.told_file import as_words, in_place
from builder.draft.told_steps import mappings
from builder.draft.told_uses import new_entry
from builder.edit.file_change import CannotEdit, Put, Value
from builder.edit.forms.form_files import FormEdit
from builder.model.action import Verb
from builder.model.library import Library

_TOO_MANY = 100
_MARKS = " ,.;:!?"
_NOT_WORDS = frozenset({"guards", "cautions", "figure", "proposed", "goes_with", "heard_at", "sequence"})

_VERBS = frozenset(verb.value for verb in Verb)
_THINGS = frozenset({"at_risk", "with", "in", "on", "through", *_VERBS} - {"count", "tell"})
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


def sure(desk: Desk, page: str, number: str, thing: str = "") -> FormEdit:
    """Answer that action ``number`` of the step ``page`` is right, or that it is done to another ``thing``."""
    actions = desk.data(page).get("actions")
    action = actions[int(number)] if isinstance(actions, list) and int(number) < len(actions) else None
    verb = next((key for key in action if key in _VERBS), "") if isinstance(action, dict) else ""
    if not isinstance(action, dict) or not isinstance(actions, list) or not verb:
        raise CannotEdit("this action is not there any more", "Load the page again.")
    told = {key: value for key, value in action.items() if key != "proposed"} | ({verb: thing} if thing else {})
    desk.put(page, "actions", [told if at == int(number) else one for at, one in enumerate(actions)])
    return desk.done("An action is right" if not thing else f"{verb.capitalize()} {thing}", [page])


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
    if name and not _put_right_everywhere(desk, library, heard, name):
        raise CannotEdit(
            f"nothing was changed: the module says “{heard}” nowhere any more",
            "Press “Keep it” to close the question, or change the words where they stand.",
        )
    _asked_no_more(desk, heard)
    return desk.done(f"“{heard}”: {name or 'right as heard'}")


def _asked_no_more(desk: Desk, heard: str) -> None:
    asked = {words: other for words, other in desk.told.misheard.items() if words != heard}
    unknown = tuple(words for words in desk.told.unknown if words != heard)
    desk.told = replace(desk.told, misheard=asked, unknown=unknown)


def _put_right_everywhere(desk: Desk, library: Library, heard: str, name: str) -> bool:
    """Have the whole module say ``name``; tell whether it said what was heard, if a sentence with it has a place."""
    pattern = as_words(heard)
    pages = [f"{folder}/{id}.md" for folder in ("steps", "cautions", "aftercare") for id in sorted(desk.taken(folder))]
    said = [sentence for sentence in desk.told.sentences if sentence.page and pattern.search(sentence.text)]
    put_right = _putting_right(library, pattern, name)
    changed = [_reworded(desk, page, put_right) for page in (HEAD, *pages)]
    desk.told = replace(desk.told, meant={**desk.told.meant, heard: name})
    return any(changed) or not said


def said_instead(desk: Desk, library: Library, heard: str, said: str) -> FormEdit:
    """Put words that were ``heard`` right as they were ``said``: each that differs, wherever the module has it.

    Raises CannotEdit where nothing differs.
    """
    pairs = list(_misheard_in(heard.split(), said.split()))
    if not pairs:
        raise CannotEdit("the words are as they were heard", "Write them as you said them.")
    for wrong, right in pairs:
        _put_right_everywhere(desk, library, wrong, right)
        for asked in (*desk.told.misheard, *desk.told.unknown):
            if as_words(wrong).search(asked):
                _asked_no_more(desk, asked)
    return desk.done(f"“{pairs[0][0]}”: {pairs[0][1]}")


def _misheard_in(heard: list[str], said: list[str]) -> Iterator[tuple[str, str]]:
    """Yield what differs, with so many words around it that it is no small word alone, which would be put right
    everywhere."""
    for what, *ends in SequenceMatcher(None, heard, said, autojunk=False).get_opcodes():
        if what == "equal":
            continue
        first, last, begin, end = ends
        while last < len(heard) and end < len(said) and _is_small(heard[first:last]):
            last, end = last + 1, end + 1
        while first and begin and _is_small(heard[first:last]):
            first, begin = first - 1, begin - 1
        wrong, right = (" ".join(words).strip(_MARKS) for words in (heard[first:last], said[begin:end]))
        if wrong and right and wrong != right:
            yield wrong, right


def _is_small(words: list[str]) -> bool:
    return all(is_small(word.strip(_MARKS).casefold()) for word in words)


def named(desk: Desk, library: Library, words: str, kind: str) -> FormEdit:
    """Answer what ``words``, which no catalogue has, are: a kind of structure or item; "" where they are no name."""
    desk.told = replace(desk.told, unknown=tuple(one for one in desk.told.unknown if one != words))
    if kind and not (library.structures.find(words) or library.items.find(words)):  # two spellings, or another tab
        new_entry(desk, library, words, kind)
    return desk.done(f"“{words}”: {kind or 'no name'}")


def short_for(desk: Desk, library: Library, words: str, name: str) -> FormEdit:
    """Answer which of several structures or items ``words`` is short for: from now on it is one of its names.

    An entry that a draft proposed for the short name becomes the one for the whole; the talk keeps its word.
    """
    catalogue = "structures" if library.structures.find(name) else "items"
    meant = library.structures.find(name) or library.items.find(name)
    if meant is None:
        raise CannotEdit(f"“{name}” is not in the catalogue", "Load the page again.")
    is_own = meant in library.structures.entries or meant in library.items.entries
    also: list[Value] = [*dict.fromkeys([*map(str, meant.also), words])]
    for group in ("structures", "items"):
        desk.drop_from_catalogue(f"content/catalogue/{group}-proposed-{desk.procedure}.yml", group, words)
    file = meant.name.at.file if is_own else f"content/catalogue/{catalogue}-proposed-{desk.procedure}.yml"
    desk.put_in_catalogue(file, catalogue, {"id": str(meant.id), "name": str(meant.name), "also": also})
    _asked_no_more(desk, words)
    return desk.done(f"“{words}”: {meant.name}")


def so_many(desk: Desk, library: Library, name: str, number: str) -> FormEdit:
    """Have one number of an item wherever it is placed, taken out and laid out: it is asked for once."""
    if not number.isdecimal() or not 0 < int(number) < _TOO_MANY:
        raise CannotEdit("it was not said how many there are", "Write a number.")
    item = library.items.find(name)
    for page in (f"steps/{id}.md" for id in sorted(desk.taken("steps"))):
        actions = desk.data(page).get("actions")
        for at, action in enumerate(actions if isinstance(actions, list) else []):
            things = [action.get(verb) for verb in ("place", "remove")] if isinstance(action, dict) else []
            if any(isinstance(thing, str) and library.items.find(thing) is item for thing in things):
                desk.edit(page, Put(("actions", at, "number"), number))
    held = desk.data(HEAD).get("kit")
    kit: dict[str, Value] = dict(held) if isinstance(held, dict) else {}
    laid_out = next((key for key in kit if library.items.find(key) is item), name)
    desk.put(HEAD, "kit", {**kit, laid_out: number})
    return desk.done(f"{number} x {name}")


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

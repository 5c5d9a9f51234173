"""The words and actions that a page holds now for a sentence of the talk: these travel with it, whatever was said."""

import html
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping

from builder.draft.actions import TalkReader
from builder.draft.draft_pages import as_written
from builder.draft.heard_names import CatalogueNames
from builder.draft.told_desk import Desk
from builder.draft.told_file import DOES, PROSE, Told
from builder.edit.file_change import Value
from builder.model.action import ON_STRUCTURES, Action, Verb
from builder.model.pages import StructureKind

_MOSTLY = 0.5
_ENDS = re.compile(r"(?<=[.!?])\s+|\n+")
_VERBS = frozenset(verb.value for verb in Verb)
_CONTEXT = 12
"""So many sentences before may say what ``it`` is."""
_MOST_OTHERS = 4
_LAYERS = frozenset({StructureKind.SKIN, StructureKind.FASCIA})
"""Kinds that go without saying where a wound is made or closed."""


def held_on(desk: Desk, page: str) -> dict[int, list[str]]:
    """Return what ``page`` holds now of each sentence that went there, as it is written; what is gone is missing."""
    held: dict[int, list[str]] = {}
    fields: dict[str, dict[int, str]] = {}
    for number in desk.told.on(page) if desk.has(page) else ():
        said = desk.told.sentences[number]
        fields.setdefault(PROSE if said.role == DOES else said.role, {})[number] = desk.told.as_meant(said.text)
    for key, told in fields.items():
        held |= _shares(desk.prose(page) if key == PROSE else desk.data(page).get(key), told)
    return held


def as_said(pieces: list[str]) -> str:
    """Return ``pieces`` as plain words, without the signs that prose needs."""
    return html.unescape(re.sub(r"\\([^\w\s])", r"\1", " ".join(pieces)))


def _shares(held: Value, told: Mapping[int, str]) -> dict[int, list[str]]:
    """Return for each sentence ``told`` the parts of ``held`` that are its own, word for word or by most words."""
    entries = [one for one in held if isinstance(one, str)] if isinstance(held, list) else []
    rest = held if isinstance(held, str) else ""
    shares: dict[int, list[str]] = {}
    for number in sorted(told, key=lambda one: -len(told[one])):
        words = next((one for one in (as_written(told[number]), told[number]) if one in rest), "")
        if words:
            shares[number], rest = [words], rest.replace(words, "\n", 1)
    bags = {number: _bag(text) for number, text in told.items()}
    for piece in [*entries, *filter(None, _ENDS.split(rest))]:
        bag = _bag(piece)
        common = {number: (other & bag).total() for number, other in bags.items()}
        best = max(common, key=lambda one: (common[one], one not in shares, -one), default=-1)
        if best >= 0 and common[best] > _MOSTLY * bag.total():
            shares.setdefault(best, []).append(piece)
    return shares


def _bag(text: str) -> Counter[str]:
    return Counter(re.findall(r"\w+", text.casefold()))


def reader_before(told: Told, names: CatalogueNames, number: int) -> TalkReader:
    """Return a reader that has read what was told before sentence ``number``."""
    reader = TalkReader(names)
    for sentence in told.sentences[max(0, number - _CONTEXT) : number]:
        reader.read(told.as_meant(sentence.text))
    return reader


def guessed(told: Told, names: CatalogueNames, page: str, actions: Iterable[Action]) -> dict[int, tuple[str, ...]]:
    """Return which proposed ``actions`` of the step ``page`` no sentence there says by itself.

    What they are done to was taken from what was spoken of before. Each has the other things that are named there.
    """
    texts = [told.as_meant(told.sentences[one].text) for one in told.on(page) if told.sentences[one].role == DOES]
    alone = {(one.verb, one.objects) for text in texts for one in TalkReader(names).read(text).actions}
    mentions = [mention for text in texts for mention in names.mentions(text)]
    found: dict[int, tuple[str, ...]] = {}
    for number, action in enumerate(actions):
        objects = tuple(map(str, action.objects))
        layers = [one for one in objects if (entry := names.structure(one)) and entry.kind in _LAYERS]
        if action.proposed and texts and (action.verb, objects) not in alone and layers != list(objects):
            on_structures = action.verb in ON_STRUCTURES
            near = (mention.name for mention in mentions if mention.is_structure is on_structures)
            found[number] = tuple(dict.fromkeys(one for one in near if one not in objects))[:_MOST_OTHERS]
    return found


def sayers(
    desk: Desk, names: CatalogueNames, page: str, as_data: Callable[..., dict[str, Value]]
) -> Callable[[Value], list[int]]:
    """Return what tells which sentences of ``page`` say an action: the same, the same deed, or what it is done to."""
    on, held = desk.told.on(page), held_on(desk, page)
    reader = reader_before(desk.told, names, min(on, default=0))
    said: dict[int, list[dict[str, Value]]] = {}
    words: dict[int, str] = {}
    for number in range(min(on, default=0), max(on, default=-1) + 1):
        text = as_said(held.get(number, [])) or desk.told.as_meant(desk.told.sentences[number].text)
        read = reader.read(text)
        if number in on:
            said[number] = [as_data(action) for action in read.actions]
            words[number] = " ".join([text.casefold(), *(mention.name for mention in read.mentions)])

    def saying(action: Value) -> list[int]:
        if not isinstance(action, dict):
            return []
        same = [number for number, ones in said.items() if {**action, "proposed": "true"} in ones]
        deed = [number for number, ones in said.items() if _deed(action) in map(_deed, ones)]
        things = _deed(action)[1]
        return same or deed or [number for number, text in words.items() if all(one in text for one in things)]

    return saying


def _deed(action: dict[str, Value]) -> tuple[str, tuple[str, ...]]:
    verb = next((key for key in action if key in _VERBS), "")
    things = action.get(verb)
    return verb, tuple(str(one).casefold() for one in (things if isinstance(things, list) else [things]))

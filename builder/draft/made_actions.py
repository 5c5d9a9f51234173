"""What is done to things becomes actions of the format, with the keys that their verbs can have."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from builder.draft.doings import Doing
from builder.draft.new_names import singular
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import on_item, on_structure

_COUNTED = {
    "swabs": "swab pledget patty peanut sponge gauze towel", "needles": "needle sharp suture stitch",
    "blades": "blade knife scalpel",
    "instruments": "instrument clamp forceps retractor bulldog scissors trocar hook clip",
    "packs": "pack",
}  # fmt: skip
_COUNTED_AS = {word: counted for counted, words in _COUNTED.items() for word in words.split()}
_INTO = frozenset({"in", "into", "inside", "within", "down"})
_ONTO = frozenset(
    {"on", "onto", "around", "round", "across", "over", "to", "under", "behind", "through", "along", "upon"}
)
_WITH = frozenset({"with", "using"})
_DRESSES = {
    "dress": "dressing",
    "bandage": "bandage",
    "plaster": "plaster",
    "splint": "splint",
    "pack": "pack",
    "tape": "tape",
    "strap": "tape",
}


@dataclass(frozen=True, slots=True)
class NamedThing:
    """What a phrase means: a ``name``, known to a catalogue or new; ``said`` are its words."""

    name: str
    is_structure: bool
    kind: str
    is_known: bool
    said: str
    is_sure: bool = True
    side: str = ""
    number: int = 1


_Rest = Sequence[tuple[str, NamedThing]]


def counted(text: str) -> Iterator[ProposedAction]:
    """Yield the count of what ``text`` lists, in the words that counts have."""
    words = [singular(word) for word in re.findall(r"[a-z]+", text.casefold())]
    listed = tuple(dict.fromkeys(_COUNTED_AS[word] for word in words if word in _COUNTED_AS))
    if listed:
        yield ProposedAction("count", listed)


def fits(verb: str, thing: NamedThing) -> bool:
    """Tell whether an action of the format says that ``verb`` is done to ``thing``."""
    return bool(_verb_for(verb, thing))


def _verb_for(verb: str, thing: NamedThing) -> str:
    if verb == "dress":
        return "place" if thing.kind in ("dressing", "garment", "pack") else ""
    if thing.is_structure:
        return on_structure(verb, thing.kind, is_out=verb == "deliver")
    return on_item("remove" if verb in ("excise", "deliver") else verb, thing.kind)


def unnamed(verb: str) -> NamedThing | None:
    """Return what is meant where a verb is said without a thing and none was spoken of (common practice)."""
    return _UNNAMED.get(verb)


_UNNAMED = {
    "open": NamedThing("skin", True, "skin", True, "the skin"),
    "seal": NamedThing("bleeding point", True, "vessel", False, "the bleeding points"),
    "close": NamedThing("skin", True, "skin", True, "the skin"),
    "suture": NamedThing("skin", True, "skin", True, "the skin"),
    "irrigate": NamedThing("irrigation fluid", False, "fluid", False, "irrigation fluid"),
    "inject": NamedThing("local anaesthetic", False, "drug", False, "local anaesthetic"),
    "dress": NamedThing("dressing", False, "dressing", False, "a dressing"),
    "inspect": NamedThing("wound", True, "skin", False, "the wound"),
}


def made_of(
    verb: str, things: Sequence[NamedThing], rest: Sequence[tuple[str, NamedThing]], doing: Doing | None
) -> Iterator[ProposedAction]:
    """Yield the actions that say ``verb`` of ``things``, with the things that prepositions add."""
    things = [thing if thing.is_sure else _taken_for(verb, thing) for thing in things]
    if verb in ("inject", "irrigate"):
        yield from _given(verb, things, rest)
        return
    if verb == "dress" and (on := next((thing for thing in things if thing.is_structure), None)):
        items = [thing.name for thing in things if not thing.is_structure]
        yield ProposedAction("place", tuple(items) or (_dressing(doing),), (("on", on.name),))
        return
    by_verb: dict[str, list[NamedThing]] = {}
    for thing in things:
        if thing.kind in ("drug", "fluid") and verb == "place":
            yield from _given("inject" if thing.kind == "drug" else "irrigate", [thing], rest)
        elif meant := _verb_for(verb, thing):
            by_verb.setdefault(meant, []).append(thing)
    for meant, group in by_verb.items():
        names = tuple(dict.fromkeys(thing.name for thing in group))
        yield ProposedAction(meant, names, tuple(_more(meant, doing, group, rest)))


def _taken_for(verb: str, thing: NamedThing) -> NamedThing:
    """Return a thing of which its name does not tell what it is, as what the verb is done to."""
    is_structure = verb not in _ON_ITEMS and thing.is_structure
    return thing if is_structure is thing.is_structure else replace(thing, is_structure=is_structure, kind="device")


_ON_ITEMS = frozenset({"place", "remove", "inject", "irrigate", "dress"})


def _dressing(doing: Doing | None) -> str:
    return _DRESSES.get(doing.lemma if doing else "", "dressing")


def _given(verb: str, things: Sequence[NamedThing], rest: _Rest) -> Iterator[ProposedAction]:
    given = [thing for thing in (*things, *(thing for _, thing in rest)) if thing.kind in ("drug", "fluid")]
    inside = [thing for thing in (*things, *(thing for word, thing in rest if word in _INTO | _ONTO))
              if thing.is_structure]  # fmt: skip
    if things or inside:
        name = given[0].name if given else "local anaesthetic" if verb == "inject" else "irrigation fluid"
        yield ProposedAction(verb, (name,), (("in", inside[0].name),) if inside else ())


def _more(verb: str, doing: Doing | None, group: Sequence[NamedThing], rest: _Rest) -> Iterator[tuple[str, str | int | bool]]:
    """Yield the further keys that the verb can have."""
    sides = {thing.side for thing in group if thing.is_structure}
    if len(sides) == 1 and (side := sides.pop()) and len(group) == 1:
        yield "side", side
    if verb in ("place", "remove") and len(group) == 1:
        if 1 < group[0].number < 50:
            yield "number", group[0].number
        for key, words in (("in", _INTO), ("on", _ONTO)):
            if target := next((thing for word, thing in rest if word in words and thing.is_structure), None):
                yield key, target.name
                break
        if verb == "place" and doing is not None and doing.lemma == "leave":
            yield "stays", True
    elif verb not in ("identify", "inspect", "place", "remove"):
        tool = next(
            (
                thing
                for word, thing in rest
                if word in (*_WITH, "between", "on") and not thing.is_structure and thing.kind not in ("drug", "fluid")
            ),
            None,
        )
        if tool:
            yield "with", tool.name

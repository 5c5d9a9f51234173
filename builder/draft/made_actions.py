"""What a doing and the things it is done to become: actions of the format, with the keys that their verbs can have."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.draft.doings import Doing
from builder.draft.new_names import singular
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import on_item, on_structure
from builder.facts.counts import ALWAYS_COUNTED
from builder.grouping import word_set

_CALLED = {
    "swabs": "pledgets patties peanuts sponges gauze towels", "needles": "sharps sutures stitches",
    "blades": "knives scalpels", "loops": "sloops",
}  # fmt: skip
"""What is counted under another word, such as a suture by its needle; all else under its own."""
_COUNTED_AS = {singular(name): name for name in ALWAYS_COUNTED} | {
    singular(word): name for name, words in _CALLED.items() for word in words.split()
}
_CUTS = word_set("cut incision slit nick hole window opening")
_INTO = frozenset({"in", "into", "inside", "within", "down"})
_ONTO = word_set("on onto around round across over to under behind through along upon")
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


_Rest = list[tuple[str, NamedThing]]


def counted(text: str) -> Iterator[ProposedAction]:
    """Yield the count of what ``text`` lists, in the words that counts have."""
    words = [singular(word) for word in re.findall(r"[a-z]+", text.casefold())]
    listed = tuple(dict.fromkeys(_COUNTED_AS[word] for word in words if word in _COUNTED_AS))
    if listed:
        yield ProposedAction("count", listed)


def verb_for(doing: Doing, thing: NamedThing) -> str:
    """Return the action's verb for what is done to ``thing``; "" where it has none."""
    if not thing.is_sure and not _is_surely_said(doing):
        return ""
    is_out = doing.particle in ("out", "off", "away")
    if is_where_it_arises(doing, thing):
        return ""
    if thing.is_structure:
        is_glimpse = doing.lemma in _SEEN and thing.kind in ("skin", "fascia", "cavity", "landmark")
        meaning = "" if is_glimpse else "expose" if doing.lemma == "lift" else doing.meaning
        return on_structure(meaning, thing.kind, is_out=is_out)
    is_used = doing.meaning == "place" and _TOOL.search(thing.name)
    return "" if is_used else on_item(doing.meaning, thing.kind, is_out=is_out)


def _is_surely_said(doing: Doing) -> bool:
    """Tell whether the verb leaves no doubt, where one cannot tell from its name what a thing is."""
    if doing.meaning in ("place", "remove"):
        return doing.way == "verb" and doing.lemma in _SURELY
    return doing.meaning not in ("identify", "inspect")


def is_where_it_arises(doing: Doing | None, thing: NamedThing) -> bool:
    """Tell whether ``thing`` comes off or out of something by nature: nobody takes it out by that."""
    return (
        doing is not None and doing.way == "moved" and thing.is_structure and thing.kind in ("vessel", "nerve", "duct")
    )


_SEEN = frozenset({"see", "find", "meet", "reach", "come", "get"})
_TOOL = re.compile(
    r"\b(?:scissors|knife|blade|scalpel|diathermy|dissector|forceps|probe|pencil|saw|drill|pen|needle)\b"
)
_SURELY = frozenset({"insert", "place", "introduce", "thread", "remove", "withdraw", "put", "apply"})


def made_of(doing: Doing, things: tuple[NamedThing, ...], rest: _Rest) -> Iterator[ProposedAction]:
    """Yield the actions of a doing: what is done to ``things``, with the things that prepositions add."""
    if doing.meaning in ("inject", "irrigate") and (things or rest):
        yield from _given(doing, things, rest)
    if not things or doing.meaning in ("inject", "irrigate"):
        return
    if doing.way == "alone":
        yield from _alone(doing, things[0])
    elif doing.way == "named":
        yield from _named(doing, things, rest)
    elif doing.lemma in _DRESSES and any(thing.is_structure for thing in things):
        yield _dressed(doing, things, rest)
    elif not (things[0].kind in ("clip", "suture") and doing.rest and not rest):  # "a clip on it": on what?
        put = _put_on(doing, things[0], rest) if doing.meaning in ("place", "clip", "clamp", "make", "take") else None
        yield from [put] if put else _done_to(doing, things, rest)


def _done_to(doing: Doing, things: tuple[NamedThing, ...], rest: _Rest) -> Iterator[ProposedAction]:
    by_verb: dict[str, list[NamedThing]] = {}
    for thing in things:
        if thing.kind in ("drug", "fluid") and doing.meaning == "place":
            yield from _given(doing, (thing,), rest)
        elif verb := verb_for(doing, thing):
            by_verb.setdefault(verb, []).append(thing)
    for verb, group in by_verb.items():
        names = tuple(dict.fromkeys(thing.name for thing in group))
        yield ProposedAction(verb, names, tuple(_more(verb, doing, group, rest)))


def _put_on(doing: Doing, first: NamedThing, rest: _Rest) -> ProposedAction | None:
    """Return what a clip, a stitch, a tie or a cut is to the structure it is put on; None where it is none of these."""
    head = singular(first.said.split(" of ")[0].split()[-1])
    target = next((thing for word, thing in rest if thing.is_structure and word not in ("with", "from", "off")), None)
    if head in _CUTS:
        if doing.meaning not in ("make", "take", "place", "") or not (target or head in ("cut", "incision")):
            return None
        return ProposedAction("open", (target.name if target else "skin",))
    if target is None or first.is_structure:
        return None
    if first.kind == "suture":
        verb = "tie" if head in ("tie", "ligature", "loop") else "suture"
        return ProposedAction(verb, (target.name,), (("with", first.name),))
    if first.kind == "clip" and target.kind == "skin":
        return ProposedAction("close", (target.name,), (("with", first.name),))
    is_clamp = first.kind == "clip" or re.search(
        r"\b(?:clips?|clamps?|forceps|bulldogs?|mosquitos?)\b", first.said.casefold()
    )
    return ProposedAction("clamp", (target.name,), (("with", first.name),)) if is_clamp else None


def _alone(doing: Doing, thing: NamedThing) -> Iterator[ProposedAction]:
    """Read a name and nothing else: a dressing is put on, a cut is made."""
    if action := _put_on(doing, thing, []):
        yield action
    elif thing.said.split()[-1].casefold() in ("wash", "washout", "lavage"):
        yield ProposedAction("irrigate", ("irrigation fluid",))
    elif not thing.is_structure and thing.kind in _PUT_ALONE:
        yield ProposedAction("place", (thing.name,), tuple(_more("place", doing, [thing], [])))


def _named(doing: Doing, things: tuple[NamedThing, ...], rest: _Rest) -> Iterator[ProposedAction]:
    """Read ``a stitch to the skin``, ``skin with nylon``, ``a drain in the pelvis``."""
    first, word = things[0], doing.particle
    target = rest[0][1] if rest else None
    if target is None:
        return
    if first.is_structure and word in _WITH and not target.is_structure and target.kind in ("suture", "clip"):
        names = tuple(thing.name for thing in things if thing.is_structure)
        yield ProposedAction("close", names, (("with", target.name),))
    elif word in _INTO | _ONTO | {"between", "at"}:
        action = _put_on(doing, first, rest) or _joined(first, word, target)
        yield from [action] if action else [] if first.is_structure else _put_where(doing, first, target, rest)


def _joined(first: NamedThing, word: str, target: NamedThing) -> ProposedAction | None:
    """Return what ``stomach to jejunum`` says: one is sewn to the other."""
    hollow = {first.kind, target.kind} <= {"viscus", "vessel", "duct"}
    both = first.is_structure and target.is_structure and first.name != target.name
    return ProposedAction("suture", (first.name, target.name)) if word == "to" and both and hollow else None


def layers_of(
    doings: Sequence[tuple[Doing, tuple[NamedThing, ...]]], *, is_early: bool = False
) -> Iterator[ProposedAction]:
    """Yield what a list of layers says, ``sheath, fat, skin``: they are closed, or opened early in an operation."""
    named = [
        thing
        for doing, things in doings
        for thing in things
        if doing.way in ("alone", "named") and not doing.mark and doing.particle in ("", "with")
    ]
    layers = dict.fromkeys(thing.name for thing in named if thing.is_structure and thing.kind in _CLOSED)
    sewn = any(not thing.is_structure and thing.kind in ("suture", "clip") for thing in named)
    if len(layers) > 1 or (layers and sewn):
        yield ProposedAction("open" if is_early and not sewn else "close", tuple(layers))


_CLOSED = frozenset({"skin", "fascia", "muscle"})


def _put_where(doing: Doing, item: NamedThing, target: NamedThing, rest: _Rest) -> Iterator[ProposedAction]:
    """Read what an item is to the place it is named with."""
    if item.kind in ("drug", "fluid"):
        yield from _given(doing, (item,), rest)
    elif item.kind in _PLACED:
        yield ProposedAction("place", (item.name,), tuple(_more("place", doing, [item], rest)))
    elif item.kind == "blade" and target.is_structure:
        verb = "open" if target.kind in ("skin", "fascia", "muscle", "cavity") else "divide"
        yield ProposedAction(verb, (target.name,), (("with", item.name),))


_PUT_ALONE = frozenset({"dressing", "garment", "drain", "catheter", "retractor", "implant"})
_PLACED = word_set("line drain catheter retractor swab pack implant dressing garment device instrument needle")


def _given(doing: Doing, things: tuple[NamedThing, ...], rest: _Rest) -> Iterator[ProposedAction]:
    fluids = [
        thing
        for thing in (*things, *(thing for _, thing in rest))
        if not thing.is_structure and thing.kind in ("drug", "fluid")
    ]
    inside = [
        thing for thing in (*things, *(thing for word, thing in rest if word in _INTO | _ONTO)) if thing.is_structure
    ]
    verb = (
        doing.meaning
        if doing.meaning in ("inject", "irrigate")
        else "inject"
        if fluids and fluids[0].kind == "drug"
        else "irrigate"
    )
    if not fluids and doing.meaning == "inject" and not inside:
        return
    if not fluids and not inside:
        return
    name = fluids[0].name if fluids else "local anaesthetic" if doing.lemma == "infiltrate" else "irrigation fluid"
    if not fluids and doing.meaning == "inject" and doing.lemma != "infiltrate":
        return
    yield ProposedAction(verb, (name,), (("in", inside[0].name),) if inside else ())


def _dressed(doing: Doing, things: tuple[NamedThing, ...], rest: _Rest) -> ProposedAction:
    tools = [thing for word, thing in rest if word in _WITH and not thing.is_structure]
    target = next(thing for thing in things if thing.is_structure)
    return ProposedAction(
        "place",
        (tools[0].name if tools else _DRESSES[doing.lemma],),
        (("in" if doing.lemma == "pack" else "on", target.name),),
    )


def _more(verb: str, doing: Doing, group: list[NamedThing], rest: _Rest) -> Iterator[tuple[str, str | int | bool]]:
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
        if verb == "place" and doing.lemma == "leave":
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

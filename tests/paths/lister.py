"""Every path, one by one: the rules of section 3 in the plainest form, to be compared with the analysis.

Written from the words of the design, from a list of paths, without a look at (or an import from) the analysis. A path
is a list of entries walked, each with the branches chosen so far. On each path the day in theatre is played through
with what a team would keep in mind: who has been seen, what is clamped, what went in where and what came out.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations
from typing import Any, NamedTuple

from builder.model.action import Action
from builder.model.library import Library
from builder.model.pages import Procedure, Step
from builder.model.sequence import every_entry

Verdict = tuple[Any, ...]
LAYERS = {"skin", "fascia", "muscle", "ligament", "bone", "cavity"}
SHUTTING = {"close", "excise", "suture", "tie", "seal", "clamp"}
NEVER_THROUGH_THE_WOUND = {"dressing", "garment", "line", "catheter"}


class Path(NamedTuple):
    """One walk: the steps in order, the branches chosen, and the follow it ended at where it could not go on."""

    steps: tuple[Step, ...]
    chosen: dict[str, str]
    stuck: tuple[int, str] | None = None
    follows: tuple[tuple[int, str], ...] = ()
    ended: str = ""


def paths(procedure: Procedure) -> list[Path]:
    """Return every path through ``procedure`` that can be walked, and those that get stuck."""
    follows = [entry for entry in every_entry(procedure.sequence) if entry.kind == "follow"]

    def walk(entries: Any, path: Path) -> Iterator[Path]:
        if not entries or path.stuck or path.ended:
            yield path
            return
        for reached in one(entries[0], path):
            yield from walk(entries[1:], reached)

    def one(entry: Any, path: Path) -> Iterator[Path]:
        if entry.kind == "step":
            step = procedure.steps[entry.step]
            ended = "converted" if step.converts_to else "stopped" if step.stops_here else ""
            yield path._replace(steps=(*path.steps, step), ended=ended)
        elif entry.kind == "choose":
            for name, inner in entry.between.items():
                yield from walk(inner, path._replace(chosen={**path.chosen, str(entry.id): str(name)}))
        elif entry.kind == "option":
            yield from walk(entry.steps, path._replace(chosen={**path.chosen, str(entry.id): "taken"}))
            yield path._replace(chosen={**path.chosen, str(entry.id): "left-out"})
        else:
            number = next(index for index, follow in enumerate(follows) if follow is entry)
            earlier = path.chosen.get(str(entry.choice))
            if earlier is None or earlier not in entry.branches:
                yield path._replace(stuck=(number, earlier or ""))
            else:
                yield from walk(entry.branches[earlier], path._replace(follows=(*path.follows, (number, earlier))))

    return list(walk(procedure.sequence, Path((), {})))


class Verdicts(dict[Verdict, int]):
    """What went wrong, and how many steps had been walked when it first did."""

    now = 0

    def add(self, verdict: Verdict) -> None:
        self.setdefault(verdict, self.now)


class Theatre:
    """Plays one path through; ``verdicts`` are what went wrong on it."""

    def __init__(self, library: Library, procedure: Procedure, everything: list[Action]) -> None:
        self.library = library
        self.procedure = procedure
        self.everything = everything
        self.structures, self.items = self.known(library.structures), self.known(library.items)
        self.verdicts = Verdicts()
        self.most: dict[str, int] = {}
        self.seen: set[tuple[str, str]] = set()
        self.clamped: set[tuple[str, str]] = set()
        self.secured: set[tuple[str, str]] = set()
        self.cut: set[tuple[str, str]] = set()
        self.shut_clamps: dict[tuple[str, str], bool] = {}
        self.log: dict[str, list[tuple[Any, ...]]] = {}
        self.in_use: dict[str, int] = {}
        self.at_skin: dict[tuple[str, str], int] = {}
        self.due: dict[str, str] = {}
        self.facts: set[str] = set()
        self.sides_done: dict[tuple[str, ...], set[str]] = {}
        self.stayed: set[str] = set()
        self.gaping: dict[tuple[str, str], str] = {}
        self.nicks: set[tuple[str, str, str, str]] = set()
        self.twice_nicked: set[tuple[str, str, str, str]] = set()
        self.wound = False
        self.sewn_over: set[tuple[str, str]] = set()
        self.gone: set[tuple[str, str]] = set()
        self.clamped_and_gone: set[tuple[str, str]] = set()
        self.divided: set[tuple[str, str]] = set()
        self.anything_controlled = False
        self.raw = False
        self.layers: dict[tuple[str, str], tuple[set[tuple[str, str]], bool]] = {}
        self.entered: dict[tuple[str, str], str] = {}

    # who and where

    def known(self, catalogue: Any) -> dict[str, Any]:
        """Return, by id, what the department lists and what an action names out of the common catalogue."""
        named = [name for one in self.everything for name in (*one.objects, *one.using, one.inside, one.on) if name]
        return {entry.id: entry for entry in (*catalogue, *map(catalogue.find, named)) if entry}

    def structure(self, name: str | None) -> Any:
        return self.library.structures.find(name) if name else None

    def item(self, name: str) -> Any:
        return self.library.items.find(name)

    def sides(self, action: Action, paired: bool) -> list[str]:
        if not paired:
            return ["-"]
        stated = action.side.value if action.side else None
        whole = self.procedure.side.value
        if stated == "midline" or (stated is None and whole == "midline"):
            return ["left", "right"]
        if whole == "either":
            return ["operated", "other"] if stated == "both" else ["operated"]
        return {"left": ["left"], "right": ["right"], "both": ["left", "right"]}[stated or whole]

    def laid_sides(self, action: Action) -> list[str]:
        if action.side and action.side.value == "midline":
            return ["-"]
        paired = any(one.paired for one in (self.structure(action.inside), self.structure(action.on)) if one)
        return self.sides(action, paired or action.side is not None)

    def neighbours(self, id: str) -> list[Any]:
        near = []
        for other in self.structures.values():
            mine = self.structure(id)
            related = any(self.structure(name) is other for name in mine.close_to) or any(
                self.structure(name) is mine for name in other.close_to
            )
            if related and other.see_first and other is not mine:
                near.append(other)
        return near

    # the day

    def play(self, path: Path) -> None:
        for walked, step in enumerate(path.steps):
            self.verdicts.now = walked
            for need in step.needs:
                if need not in self.facts:
                    self.verdicts.add(("need-not-met", step.id, str(need)))
                    self.facts.add(need)
            for number, action in enumerate(step.actions):
                self.do(step, number, action)
            self.facts.update(step.gives)
        self.verdicts.now = len(path.steps)
        if not path.stuck and path.ended != "converted":
            self.go_home()

    def do(self, step: Step, number: int, action: Action) -> None:
        where = (step.id, number)
        verb = action.verb.value
        if verb == "count":
            has_packs = not self.procedure.kit or any(
                self.item(name).kind.value == "pack" for name in self.procedure.kit
            )
            for word in action.objects:
                # Packs that are named in every count, and of which there are none, are owed by nobody.
                if str(word) != "packs" or has_packs or self.due.get("packs", "unused") != "unused":
                    self.due[str(word)] = "counted"
            return
        self.shut_beneath(action)
        for name in action.objects:
            if verb in ("place", "remove", "inject"):
                if verb == "place":
                    self.lay_in(where, action, self.item(name))
                self.handle(where, action, self.item(name))
            else:
                self.operate(where, action, self.structure(name))
        if verb != "clamp":
            for name in action.using:
                self.hold(action, self.item(name), action.number)

    def operate(self, where: tuple[str, int], action: Action, structure: Any) -> None:
        verb, id = action.verb.value, structure.id
        sides = self.sides(action, structure.paired)
        if verb == "close":
            self.close(where, structure, sides)
        for side in sides:
            self.look(where, action, structure, side)
        if verb == "close" and structure.kind.value == "skin" and self.shuts_every_skin(structure, sides):
            inner = (one for one, how in self.gaping.items() if how == "for now")
            self.sewn_over = {one for one in inner if self.structure(one[0]).kind.value != "skin"}
        for side in sides:
            self.bleeding(where, action, structure, side)
            self.open_or_shut(action, structure, side)
        self.layer(where, action, structure)
        if verb == "open":
            self.wound = True
        if structure.paired:
            self.note_sides(sides, "see" if verb in ("identify", "protect") else verb, id)
        if verb == "excise":
            self.take_away(structure, sides)
        if verb in ("clamp", "release"):
            self.move_clamps(action, id, len(sides))

    def take_away(self, structure: Any, sides: list[str]) -> None:
        for item in self.log:
            for spot in self.spots(item):
                if spot[1] == structure.id and (not structure.paired or spot[2] in sides or spot[2] == "-"):
                    self.log[item].append(("gone", spot))

    def move_clamps(self, action: Action, id: str, clamps: int) -> None:
        if action.verb.value == "release":
            for name, most in self.most_clamps(id).items():
                self.in_use[name] = max(0, self.in_use.get(name, 0) - most * clamps)
            return
        for name in action.using:
            self.take(self.item(name), action.number * clamps)
            self.use_counted(self.item(name), laid=False)

    def look(self, where: tuple[str, int], action: Action, structure: Any, side: str) -> None:
        verb = action.verb.value
        in_view = verb in ("expose", "open", "protect") and structure.kind.value in LAYERS
        if verb == "identify" or in_view:
            self.seen.add((structure.id, side))
        if verb in ("clamp", "tie", "seal", "divide", "excise") or (verb == "open" and self.with_an_edge(action)):
            self.must_have_seen(where, action, structure, side)
        elif verb == "open" and not action.using and not action.what and not action.nick:
            for near, near_side in self.met(action, structure, side):
                if (near.id, near_side) not in self.seen:
                    self.verdicts.add(("instrument-not-said", *where, structure.id, near.id, near_side))
        if action.nick:
            self.nick(where, action, structure, side)

    def with_an_edge(self, action: Action) -> bool:
        return any(self.item(name).kind.value == "blade" or self.item(name).cuts for name in action.using)

    def nick(self, where: tuple[str, int], action: Action, structure: Any, side: str) -> None:
        """One small cut to look is allowed; who cuts the same thing once more before having seen cuts blindly."""
        for near, near_side in self.met(action, structure, side):
            this = (structure.id, side, near.id, near_side)
            if (near.id, near_side) in self.seen or this in self.twice_nicked:
                continue
            if this in self.nicks:
                self.verdicts.add(("neighbour-not-seen", *where, structure.id, near.id, near_side))
                self.twice_nicked.add(this)
            self.nicks.add(this)

    def met(self, action: Action, structure: Any, side: str) -> Iterator[tuple[Any, str]]:
        for near in self.neighbours(structure.id):
            both_paired = near.paired and structure.paired
            yield from ((near, one) for one in ([side] if both_paired else self.sides(action, near.paired)))

    def open_or_shut(self, action: Action, structure: Any, side: str) -> None:
        verb, one = action.verb.value, (structure.id, side)
        if verb == "open":
            kept = action.stays or self.gaping.get(one) == "on purpose"
            self.gaping[one] = "on purpose" if kept else "for now"
        stitched = verb in ("suture", "tie", "seal") or (verb == "clamp" and action.stays)
        if verb in ("close", "excise") or (stitched and structure.kind.value not in ("skin", "cavity")):
            self.gaping.pop(one, None)

    def note_sides(self, sides: list[str], *what: str) -> None:
        if self.procedure.side.value == "both":
            self.sides_done.setdefault(what, set()).update(side for side in sides if side in ("left", "right"))

    def must_have_seen(self, where: tuple[str, int], action: Action, structure: Any, side: str) -> None:
        if (structure.id, side) not in self.seen:
            self.verdicts.add(("not-seen-before-cut", *where, structure.id, side))
            self.seen.add((structure.id, side))
        for near, near_side in self.met(action, structure, side):
            if (near.id, near_side) not in self.seen and not action.nick:
                self.verdicts.add(("neighbour-not-seen", *where, structure.id, near.id, near_side))
                self.seen.add((near.id, near_side))

    def bleeding(self, where: tuple[str, int], action: Action, structure: Any, side: str) -> None:
        verb, one, kind = action.verb.value, (structure.id, side), structure.kind.value
        lumen = kind in ("duct", "viscus")
        ties = verb in ("tie", "seal") or (verb == "clamp" and action.stays)
        stapled = verb in ("divide", "excise") and any(name == "stapler" for name in action.using)
        if verb in ("clamp", "tie", "seal", "suture") or stapled or (verb == "close" and lumen):
            self.anything_controlled |= lumen or kind == "vessel"
        if ties and one in self.gone and one not in self.secured:
            self.verdicts.add(("tied-after-removal", *where, *one))
        if ties or verb == "suture" or stapled or (verb == "close" and lumen):
            self.secured.add(one)
        elif verb == "clamp":
            self.clamped.add(one)
            self.gone.discard(one)
            self.clamped_and_gone.discard(one)
        elif verb == "release":
            if one not in self.clamped | self.clamped_and_gone:
                self.verdicts.add(("released-without-clamp", *where, *one))
            elif kind == "vessel" and one in self.clamped & self.cut and one not in self.secured:
                self.verdicts.add(("clamp-released-too-soon", *where, *one))
            self.clamped.discard(one)
            self.clamped_and_gone.discard(one)
        if verb in ("divide", "excise"):
            self.cut_through(where, verb, one, kind)

    def cut_through(self, where: tuple[str, int], verb: str, one: tuple[str, str], kind: str) -> None:
        if kind == "vessel" and one not in self.clamped | self.secured:
            self.verdicts.add(("vessel-not-controlled", *where, *one))
            self.secured.add(one)
        self.cut.add(one)
        if verb == "excise":
            if one in self.clamped:
                self.clamped_and_gone.add(one)
            self.clamped.discard(one)
            self.gone.add(one)
            self.raw |= kind in ("duct", "viscus") and not self.anything_controlled
        elif kind in ("duct", "viscus"):
            self.divided.add(one)

    # layers and places

    def closes(self, action: Action) -> list[Any]:
        """Return what an action shuts: skin and cavities are shut by closing alone."""
        structures = [self.structure(name) for name in action.objects]
        if action.verb.value in ("close", "excise"):
            return structures
        stitches = action.verb.value in ("suture", "tie", "seal") or (action.verb.value == "clamp" and action.stays)
        return [one for one in structures if stitches and one.kind.value not in ("skin", "cavity")]

    def ever(self, *verbs: str) -> set[str]:
        return {
            str(self.structure(name).id) for one in self.everything if one.verb.value in verbs for name in one.objects
        }

    def ever_shut(self, structure: Any) -> bool:
        return any(structure in self.closes(one) for one in self.everything if one.verb.value in SHUTTING)

    def shut_beneath(self, action: Action) -> None:
        for structure in self.closes(action) if action.verb.value in SHUTTING else []:
            for side in self.sides(action, structure.paired):
                for under, _ in self.layers.values():
                    under.discard((structure.id, side))

    def layer(self, where: tuple[str, int], action: Action, structure: Any) -> None:
        kind = structure.kind.value
        if action.verb.value == "open":
            if kind == "skin":
                self.layers = {
                    outer: (under if self.is_inner(outer) else set(), True) for outer, (under, _) in self.layers.items()
                }
            if kind == "cavity" or structure.id in self.ever("open"):
                self.come_in(structure, action)
            for side in self.sides(action, structure.paired):
                self.open_layer(structure, side, action.stays)
        elif action.verb.value in SHUTTING and structure in self.closes(action):
            if action.verb.value not in ("close", "excise") and structure.id in self.ever("close"):
                return
            for side in self.sides(action, structure.paired):
                under, _ = self.layers.pop((structure.id, side), (set(), False))
                if action.verb.value != "excise":
                    for inner in under:
                        self.verdicts.add(("closed-out-of-order", *where, *inner))
                    self.entered[structure.id, side] = "closed"

    def come_in(self, structure: Any, action: Action) -> None:
        for one in self.structures.values():
            for side in ["left", "right", "operated", "other", "-"]:
                here = one is structure and side in self.sides(action, one.paired)
                roof = one.kind.value == "cavity" and one.id not in self.ever("open")
                if here or (roof and self.entered.get((one.id, side)) != "closed"):
                    self.entered[one.id, side] = "open"

    def open_layer(self, structure: Any, side: str, stays: bool) -> None:
        kind, one = structure.kind.value, (structure.id, side)
        if kind not in ("skin", "cavity") and self.ever_shut(structure):
            for outer, (under, other_skin) in self.layers.items():
                if outer[0] != structure.id and (outer[1] == side or "-" in (outer[1], side)):
                    if stays:
                        under.discard(one)
                    elif not other_skin:
                        under.add(one)
        if kind == "skin" and self.ever_shut(structure):
            self.layers.setdefault(one, (set(), False))
        elif kind in LAYERS and self.ever_shut(structure):
            self.layers[one] = (self.layers.get(one, (set(), False))[0], False)

    def is_inner(self, outer: tuple[str, str]) -> bool:
        return bool(self.structures[outer[0]].kind.value != "skin")

    def lay_in(self, where: tuple[str, int], action: Action, item: Any) -> None:
        place = self.structure(action.inside)
        if place is None or place.kind.value not in ("cavity", "viscus"):
            return
        kind, opened = item.kind.value, place.id in self.ever("open")
        needs_room = kind in ("swab", "pack", "retractor", "implant") or (
            opened and kind in ("suture", "blade", "clip")
        )
        for side in self.sides(action, place.paired):
            now = self.entered.get((place.id, side), "shut")
            if (needs_room and now != "open") or (kind in ("drain", "instrument") and now == "closed"):
                self.verdicts.add(("place-not-open", *where, place.id, side))
            if needs_room or kind in ("drain", "instrument", "needle", "line", "catheter", "device"):
                self.entered[place.id, side] = "open"

    # in and out

    def spot_of(self, action: Action) -> list[tuple[str, str, str]]:
        return [(str(action.inside or ""), str(action.on or ""), side) for side in self.laid_sides(action)]

    def placings(self, item: str) -> list[Action]:
        found = [one for one in self.everything if one.verb.value == "place"]
        return [one for one in found if any(self.item(name).id == item for name in one.objects)]

    def spots(self, item: str) -> list[tuple[str, str, str]]:
        return [spot for one in self.placings(item) for spot in self.spot_of(one)]

    def leaves(self, spot: tuple[str, str, str]) -> bool:
        for one in self.everything:
            if one.verb.value == "excise" and spot[1] in one.objects:
                sides = self.sides(one, self.structure(spot[1]).paired)
                if spot[2] in sides or spot[2] == "-" or sides == ["-"]:
                    return True
        return False

    def meant(self, action: Action, item: str) -> list[set[tuple[str, str, str]]]:
        """From which spots a removal takes its number: one set of spots for each time it takes it."""
        homes = {(*self.spot_of(one)[0][:2], tuple(self.laid_sides(one))) for one in self.placings(item)}
        homes = {
            home
            for home in homes
            if (not action.inside or home[0] == action.inside) and (not action.on or home[1] == action.on)
        }
        stated = self.laid_sides(action)
        if action.side is not None or stated != ["-"]:
            sets = [{(home[0], home[1], side) for home in homes if side in home[2]} for side in stated]
        elif len(homes) == 1:
            (home,) = homes
            sets = [{(home[0], home[1], side)} for side in home[2]]
        else:
            sets = [{(home[0], home[1], side) for home in homes for side in home[2]}]
        return [one if len(one) == 1 else {spot for spot in one if not self.leaves(spot)} for one in sets]

    def lying(self, item: str, where: set[tuple[str, str, str]], staying_too: bool) -> int:
        """How many lie at ``where``: what went in there, less what was taken out that may have lain there."""
        number = 0
        single_leaving = len(where) == 1 and self.leaves(next(iter(where)))
        for kind, what, *more in self.log.get(item, []):
            if kind == "in" and what in where and (staying_too or not more[1]):
                number += more[0]
            elif kind == "out" and what & where and (not single_leaving or what == where or staying_too):
                number = max(0, number - more[0])
            elif kind in ("gone", "shut") and where == {what} and not (kind == "shut" and staying_too):
                number = 0
        return number

    def handle(self, where: tuple[str, int], action: Action, item: Any) -> None:
        verb = action.verb.value
        log = self.log.setdefault(item.id, [])
        if verb == "place":
            self.take(item, action.number * len(self.laid_sides(action)))
            for spot in self.spot_of(action):
                log.append(("in", spot, action.number, action.stays))
            self.use_counted(item, laid=True)
        elif verb == "inject":
            line = str(action.through or "")
            if line and not self.lying(line, set(self.spots(line)), staying_too=True):
                self.verdicts.add(("line-not-in", *where, line))
            self.hold(action, item, action.number)
        else:
            sets = self.meant(action, item.id)
            for one in sets:
                if self.lying(item.id, one, staying_too=True) < action.number or not one:
                    self.verdicts.add(("removed-but-not-in", *where, item.id))
                if one:
                    log.append(("out", one, action.number))
            self.in_use[item.id] = max(0, self.in_use.get(item.id, 0) - action.number * len(sets))
        if verb != "remove":
            target = action.inside or action.on or ""
            sides = [side for side in self.laid_sides(action) if side != "-"]
            if sides:
                self.note_sides(sides, verb, item.id, str(target))

    def take(self, item: Any, number: int) -> None:
        self.in_use[item.id] = self.in_use.get(item.id, 0) + number
        self.most[item.id] = max(self.most.get(item.id, 0), self.in_use[item.id])

    def hold(self, action: Action, item: Any, number: int) -> None:
        self.most[item.id] = max(self.most.get(item.id, 0), self.in_use.get(item.id, 0) + number)
        self.use_counted(item, laid=False)

    def most_clamps(self, structure: str) -> dict[str, int]:
        found: dict[str, int] = {}
        for one in self.everything:
            if one.verb.value == "clamp" and structure in one.objects:
                for name in one.using:
                    found[str(name)] = max(found.get(str(name), 0), one.number)
        return found

    # closing and counting

    def use_counted(self, item: Any, laid: bool) -> None:
        if item.counted:
            words = {"swab": "swabs", "pack": "packs", "suture": "needles", "blade": "blades"}
            word = words.get(item.kind.value, "instruments")
            if laid or self.due.get(word, "unused") == "unused":
                self.due[word] = "due"

    def close(self, where: tuple[str, int], structure: Any, sides: list[str]) -> None:
        def here(side: str) -> bool:
            return not structure.paired or side in sides or side == "-"

        for item in list(self.items):
            for spot in dict.fromkeys(self.spots(item)):
                if spot[0] == structure.id and here(spot[2]):
                    if self.lying(item, {spot}, staying_too=False):
                        self.verdicts.add(("item-left-in", *where, structure.id, item, spot[2]))
                    self.log.setdefault(item, []).append(("shut", spot))
        if structure.kind.value == "skin":
            self.close_skin(here)
        self.count_at_closing(where, structure)
        if structure.kind.value == "skin" and self.shuts_every_skin(structure, sides):
            self.wound = False

    def count_at_closing(self, where: tuple[str, int], structure: Any) -> None:
        skin = structure.kind.value == "skin"
        counted_in_it = any(
            one.inside == structure.id and any(self.item(name).counted for name in one.objects)
            for one in self.everything
            if one.verb.value == "place"
        )
        if skin or structure.kind.value == "cavity" or counted_in_it:
            for word, state in self.due.items():
                if state == "due":
                    self.verdicts.add(
                        ("skin-closed-uncounted" if skin else "cavity-closed-uncounted", *where, structure.id, word)
                    )
                self.due[word] = "counted" if skin else "due"

    def shuts_every_skin(self, structure: Any, sides: list[str]) -> bool:
        cut = [
            (self.structure(name), one) for one in self.everything if one.verb.value == "open" for name in one.objects
        ]
        return all(
            skin is structure and set(self.sides(one, skin.paired)) <= set(sides)
            for skin, one in cut
            if skin.kind.value == "skin"
        )

    def close_skin(self, here: Any) -> None:
        for item in self.items.values():
            inside = [spot for spot in self.spots(item.id) if not self.leaves(spot) and self.in_wound(item, spot)]
            for side in {spot[2] for spot in inside}:
                if here(side):
                    spots = {spot for spot in inside if spot[2] == side}
                    self.at_skin[item.id, side] = self.lying_in_wound(item.id, spots)
        for one in self.every_clamp():
            self.shut_clamps[one] = one in self.clamped

    def lying_in_wound(self, item: str, spots: set[tuple[str, str, str]]) -> int:
        # What is shut in by a closing stays in the wound: the closing does not take it out.
        log = self.log.get(item, [])
        self.log[item] = [entry for entry in log if entry[0] != "shut"]
        number = self.lying(item, spots, staying_too=False)
        self.log[item] = log
        return number

    def in_wound(self, item: Any, spot: tuple[str, str, str]) -> bool:
        target = self.structure(spot[0] or spot[1])
        if item.kind.value in NEVER_THROUGH_THE_WOUND or (target and target.kind.value == "skin"):
            return False
        return item.kind.value != "device" or target is not None

    def every_clamp(self) -> set[tuple[str, str]]:
        found = set()
        for one in self.everything:
            if one.verb.value == "clamp" and not one.stays:
                for name in one.objects:
                    found |= {(str(name), side) for side in self.sides(one, self.structure(name).paired)}
        return found

    def go_home(self) -> None:
        for (item, side), number in self.at_skin.items():
            if number:
                self.verdicts.add(("item-left-in", "skin", item, side))
        for item in self.items.values():
            if self.anything_left(item.id):
                self.verdicts.add(("item-left-in", "end", item.id))
        for one in self.every_clamp():
            if one in self.clamped or self.shut_clamps.get(one):
                self.verdicts.add(("clamp-left-on", *one))
        for what, sides in self.sides_done.items():
            if len(sides) == 1:
                self.verdicts.add(("one-side-forgotten", *what))
        self.leave_the_cut()
        self.leave_the_wound()

    def leave_the_cut(self) -> None:
        for one in self.divided - self.secured - self.clamped - self.clamped_and_gone - self.gone:
            if not self.shut_clamps.get(one):
                self.verdicts.add(("cut-end-left-open", *one))
        if self.raw and not self.anything_controlled:
            self.verdicts.add(("taken-out-uncontrolled", "-"))

    def leave_the_wound(self) -> None:
        for structure, _, near, near_side in self.nicks - self.twice_nicked:
            if (near, near_side) not in self.seen:
                self.verdicts.add(("nick-without-looking", structure, near, near_side))
        for one in [*self.sewn_over, *(one for one, how in self.gaping.items() if how == "for now")]:
            self.verdicts.add(("left-open", *one))
        for word, state in self.due.items():
            if self.wound and state == "due":
                self.verdicts.add(("ended-uncounted", word))

    def anything_left(self, item: str) -> bool:
        every = set(self.spots(item))
        kept = {spot for spot in every if not self.leaves(spot)}
        if kept and self.lying_in_wound(item, kept):
            return True
        return any(self.lying(item, {spot}, staying_too=False) for spot in every - kept)


def verdicts_of(library: Library, procedure: Procedure, path: Path, everything: list[Action]) -> Theatre:
    """Play ``path`` and return the theatre with its verdicts."""
    theatre = Theatre(library, procedure, everything)
    theatre.play(path)
    if path.stuck:
        theatre.verdicts.add(("follow-incomplete", *path.stuck))
    return theatre


def goes_round(steps: list[Step]) -> bool:
    """Tell whether no order of ``steps`` gives every need before it is needed; what nobody gives is left aside."""
    given_at_all = {gift for step in steps for gift in step.gives}
    needy = [step for step in steps if any(need in given_at_all for need in step.needs)]
    free = {gift for step in steps if step not in needy for gift in step.gives}
    for order in permutations(needy):
        facts = set(free)
        for step in order:
            if any(need in given_at_all and need not in facts for need in step.needs):
                break
            facts.update(step.gives)
        else:
            return False
    return True

"""Errors planted into good modules, one at a time, each with the step at which it has to be found.

Every kind of error is a generator over one procedure. What is planted, and where it must show, follows from the
module's own actions and from nothing that the analysis says. New modules bring their own errors; nothing changes here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Any

from builder.model.action import Action, Side, action
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure, Step, StructureKind
from builder.model.sequence import Follow, Option, StepEntry, every_entry
from builder.place import Place, Text

LAYERS = {"skin", "fascia", "muscle", "ligament", "bone", "cavity"}
SIGHTS = {"identify", "protect"}
CUTS = {"clamp", "tie", "seal", "divide", "excise"}
CONTROLS = {"clamp", "tie", "seal", "suture"}


@dataclass(frozen=True)
class Planted:
    """One error: its ``kind``, what was done, the changed procedure, and the checks and files that count as right.

    ``against`` is the sound procedure it is compared with, where that is not the untouched one.
    """

    kind: str
    what: str
    procedure: Procedure
    checks: frozenset[str]
    files: frozenset[str]
    against: Procedure | None = None


class Module:
    """A procedure and what its actions say, in the order of its steps."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        order = [str(entry.step) for entry in every_entry(procedure.sequence) if isinstance(entry, StepEntry)]
        self.steps = [procedure.steps[id] for id in dict.fromkeys(order)]
        self.top = [str(entry.step) for entry in procedure.sequence if isinstance(entry, StepEntry)]

    def structure(self, name: str) -> Any:
        return self.library.structures.find(name)

    def item(self, name: str) -> Any:
        return self.library.items.find(name)

    @cached_property
    def structures(self) -> list[Any]:
        """Every structure that the department lists or the procedure names."""
        return self._known(self.library.structures, (name for one in self._actions() for name in one.objects))

    @cached_property
    def items(self) -> list[Any]:
        """Every item that the department lists or the procedure names."""
        used = (name for one in self._actions() for name in (*one.objects, *one.using))
        return self._known(self.library.items, (*used, *self.procedure.kit))

    def _actions(self) -> Iterator[Action]:
        return (one for step in self.steps for one in step.actions)

    @staticmethod
    def _known(catalogue: Any, names: Iterable[str]) -> list[Any]:
        found = {entry.id: entry for entry in catalogue}
        for name in names:
            entry = catalogue.find(name)
            if entry is not None:
                found.setdefault(entry.id, entry)
        return list(found.values())

    def cares(self) -> Iterator[tuple[str, Aftercare, Text]]:
        """Yield each aftercare that is the only one to concern its item."""
        found = [(id, one, one.concerns) for id, one in self.procedure.aftercare_items.items() if one.concerns]
        for id, one, concerns in found:
            if sum(self.same(other, concerns) for _, _, other in found) == 1:
                yield id, one, concerns

    def same(self, one: str, other: str) -> bool:
        found = self.structure(one) or self.item(one)
        return found is not None and found is (self.structure(other) or self.item(other))

    def all(self, *verbs: str) -> Iterator[tuple[Step, Action, Text]]:
        """Yield ``(step, action, object)`` of every action with one of ``verbs``."""
        for step in self.steps:
            for one in step.actions:
                if one.verb.value in verbs:
                    for name in one.objects:
                        yield step, one, name

    def sees(self, one: Action, name: str) -> bool:
        layer = self.structure(name).kind.value in LAYERS
        return one.verb.value in SIGHTS or (layer and one.verb.value in ("expose", "open"))

    def sights(self, id: str) -> list[tuple[Step, Action, Text]]:
        found = self.all(*SIGHTS, "expose", "open")
        return [one for one in found if self.structure(one[2]).id == id and self.sees(one[1], one[2])]

    def needed_by(self, id: str) -> list[Step]:
        """Return the steps that cut the structure ``id``, or cut beside it where it has to be seen first."""
        mine = self.structure(id)
        found: dict[str, Step] = {}
        for step, _, name in self.all(*CUTS):
            cut = self.structure(name)
            near = mine.see_first and (
                any(self.structure(one) is mine for one in cut.close_to)
                or any(self.structure(one) is cut for one in mine.close_to)
            )
            if cut is mine or near:
                found[step.id] = step
        return list(found.values())

    # changes

    def with_steps(self, *changed: Step, **more: Any) -> Procedure:
        """Return the procedure with ``changed`` in place of the steps of the same id."""
        parts = self.procedure.parts
        steps = {**parts.steps, **{step.id: step for step in changed}}
        new = type(parts)(steps, more.pop("cautions", parts.cautions), more.pop("aftercare_parts", parts.aftercare))
        changed = self.procedure.model_copy(update={"parts": new, **more})
        for worked_out in ("cautions", "aftercare_items"):
            # A copy takes along what the original has worked out from its parts.
            changed.__dict__.pop(worked_out, None)
        return changed

    def without(self, gone: Iterable[tuple[Step, Action, Text]]) -> Procedure:
        """Return the procedure without these objects of these actions."""
        names = {(step.id, id(one), str(name)) for step, one, name in gone}
        changed = []
        for step in self.steps:
            kept = [
                self._less(one, [n for n in one.objects if (step.id, id(one), str(n)) in names]) for one in step.actions
            ]
            changed.append(with_actions(step, [one for one in kept if one is not None]))
        return self.with_steps(*changed)

    def _less(self, one: Action, gone: list[Text]) -> Action | None:
        if not gone:
            return one
        kept = tuple(name for name in one.objects if name not in gone)
        return one.model_copy(update={"objects": kept}) if kept else None

    def replaced(self, step: Step, old: Action, *new: Action) -> Procedure:
        """Return the procedure with ``new`` in place of one action."""
        actions = [fresh for one in step.actions for fresh in (new if one is old else (one,))]
        return self.with_steps(with_actions(step, actions))

    def added(self, step: Step, *new: Action) -> Procedure:
        """Return the procedure with actions added at the end of ``step``."""
        return self.with_steps(with_actions(step, [*step.actions, *new]))


def with_actions(step: Step, actions: Iterable[Action]) -> Step:
    return step.model_copy(update={"actions": tuple(actions)})


def here(step: Step, name: str) -> Text:
    """Return a name that is written in ``step``."""
    return Text(name, Place(step.file, 1, 1))


def made(step: Step, verb: str, name: str, **more: Any) -> Action:
    one = action(verb, name, **more)
    return one.model_copy(update={"objects": (here(step, name),)})


def files(steps: Iterable[Step]) -> frozenset[str]:
    return frozenset(step.file for step in steps)


Kind = Callable[[Module], Iterator[tuple[str, Procedure, set[str], frozenset[str]]]]


def identify_removed(module: Module) -> Iterator[Any]:
    """Every sight of a structure goes, and something is cut there later."""
    for structure in module.structures:
        sights, cutting = module.sights(structure.id), module.needed_by(structure.id)
        if sights and cutting:
            yield structure.name, module.without(sights), {"not-seen-before-cut", "neighbour-not-seen"}, files(cutting)


def identified_too_late(module: Module) -> Iterator[Any]:
    """The sight of a structure moves behind the cut, to the end of the step that cuts."""
    for structure in module.structures:
        sights, cutting = module.sights(structure.id), module.needed_by(structure.id)
        if sights and len(cutting) == 1:
            less = Module(module.library, module.without(sights))
            step = less.procedure.steps[cutting[0].id]
            late = less.added(step, made(step, "identify", str(structure.name)))
            yield structure.name, late, {"not-seen-before-cut", "neighbour-not-seen"}, files(cutting)


def identified_only_if_chosen(module: Module) -> Iterator[Any]:
    """The one step in which a structure is seen becomes an option."""
    for structure in module.structures:
        seeing = {step.id: step for step, _, _ in module.sights(structure.id)}
        cutting = [step for step in module.needed_by(structure.id) if step.id not in seeing]
        if len(seeing) == 1 and cutting and next(iter(seeing)) in module.top:
            yield (
                structure.name,
                _optional(module, next(iter(seeing))),
                {"not-seen-before-cut", "neighbour-not-seen"},
                files(cutting),
            )


def _optional(module: Module, id: str) -> Procedure:
    entries = [
        Option.model_validate({"id": Text("perhaps"), "steps": [entry]})
        if isinstance(entry, StepEntry) and entry.step == id
        else entry
        for entry in module.procedure.sequence
    ]
    return module.procedure.model_copy(update={"sequence": tuple(entries)})


def steps_swapped(module: Module) -> Iterator[Any]:
    """A step changes places with the earlier one in which the structure it cuts was seen, or the item was placed."""
    for structure in module.structures:
        seeing = {step.id for step, _, _ in module.sights(structure.id)}
        for cutting in module.needed_by(structure.id):
            if len(seeing) == 1 and cutting.id not in seeing:
                swapped = _swapped(module, next(iter(seeing)), cutting.id)
                if swapped:
                    yield (
                        f"{structure.name}: {cutting.id}",
                        swapped,
                        {"not-seen-before-cut", "neighbour-not-seen"},
                        files([cutting]),
                    )
    for item in module.items:
        placing = {step.id for step, _, name in module.all("place") if module.item(name) is item}
        removing = [step for step, _, name in module.all("remove") if module.item(name) is item]
        if len(placing) == 1 and len(removing) == 1 and removing[0].id not in placing:
            swapped = _swapped(module, next(iter(placing)), removing[0].id)
            if swapped:
                yield f"{item.name}: {removing[0].id}", swapped, {"removed-but-not-in"}, files(removing)


def _swapped(module: Module, one: str, other: str) -> Procedure | None:
    if one not in module.top or other not in module.top or module.top.index(one) > module.top.index(other):
        return None
    entries = list(module.procedure.sequence)
    places = [
        next(i for i, e in enumerate(entries) if isinstance(e, StepEntry) and e.step == id) for id in (one, other)
    ]
    entries[places[0]], entries[places[1]] = entries[places[1]], entries[places[0]]
    return module.procedure.model_copy(update={"sequence": tuple(entries)})


def control_removed(module: Module) -> Iterator[Any]:
    """A vessel is divided, and nothing controls it any more."""
    for structure in module.structures:
        if structure.kind is StructureKind.VESSEL:
            cutting = [step for step, _, name in module.all("divide", "excise") if module.same(name, structure.id)]
            control = [one for one in module.all(*CONTROLS, "release") if module.same(one[2], structure.id)]
            if cutting and control:
                yield structure.name, module.without(control), {"vessel-not-controlled"}, files(cutting)


def release_removed(module: Module) -> Iterator[Any]:
    """A clamp never comes off."""
    for one in module.all("release"):
        clamping = [step for step, _, name in module.all("clamp") if module.same(name, one[2])]
        yield str(one[2]), module.without([one]), {"clamp-left-on"}, files(clamping)


def clamp_left_in_branch(module: Module) -> Iterator[Any]:
    """A clamp is put on in a step that stands in one branch only, and nowhere taken off."""
    structure = next((one for one in module.structures if one.kind is StructureKind.VESSEL), None)
    for step in module.steps:
        if step.id not in module.top and structure is not None:
            new = [made(step, "identify", str(structure.name)), made(step, "clamp", str(structure.name))]
            yield f"{structure.name}: {step.id}", module.added(step, *new), {"clamp-left-on"}, files([step])


def removal_removed(module: Module) -> Iterator[Any]:
    """What was placed is never taken out."""
    for one in module.all("remove"):
        placing = [step for step, _, name in module.all("place") if module.same(name, one[2])]
        yield f"{one[2]}: {one[0].id}", module.without([one]), {"item-left-in"}, files(placing)


def removal_only_if_chosen(module: Module) -> Iterator[Any]:
    """The step that takes something out becomes an option."""
    for step, _, name in module.all("remove"):
        placing = [one for one, _, other in module.all("place") if module.same(name, other)]
        if step.id in module.top and all(one.id != step.id for one in placing):
            yield f"{name}: {step.id}", _optional(module, step.id), {"item-left-in"}, files(placing)


def one_too_many_placed(module: Module) -> Iterator[Any]:
    """One more goes in than comes out."""
    for step, one, name in module.all("place"):
        if not one.stays:
            more = one.model_copy(update={"number": one.number + 1})
            yield f"{name}: {step.id}", module.replaced(step, one, more), {"item-left-in"}, files([step])


def one_too_many_removed(module: Module) -> Iterator[Any]:
    """One more comes out than went in."""
    for step, one, name in module.all("remove"):
        more = one.model_copy(update={"number": one.number + 1})
        yield f"{name}: {step.id}", module.replaced(step, one, more), {"removed-but-not-in"}, files([step])


def placing_removed(module: Module) -> Iterator[Any]:
    """What is taken out was never placed."""
    for one in module.all("place"):
        removing = [step for step, _, name in module.all("remove") if module.same(name, one[2])]
        if removing:
            yield f"{one[2]}: {one[0].id}", module.without([one]), {"removed-but-not-in"}, files(removing)


def opened_blind(module: Module) -> Iterator[Any]:
    """A layer is cut open before the structure that lies beneath it is seen, in the step that sees it first."""
    blade = next((one for one in module.library.items.everything() if one.kind.value == "blade"), None)
    for structure in module.structures if blade else ():
        sights = module.sights(structure.id)
        over = next((one for one in module.structures if _lies_over(module, one, structure)), None)
        if structure.see_first and sights and over and sights[0][0].id in module.top:
            step = sights[0][0]
            cut = made(step, "open", str(over.name), using=[here(step, str(blade.name))], stays=True)
            changed = module.with_steps(with_actions(step, [cut, *step.actions]))
            yield f"{over.name} over {structure.name}", changed, {"neighbour-not-seen"}, files([step])


def opened_with_what(module: Module) -> Iterator[Any]:
    """A layer is opened before what lies beneath it is seen, and nothing says with what."""
    for what, changed, _, places in opened_blind(module):
        (file,) = places
        step = next(one for one in changed.steps.values() if one.file == file)
        vague = step.actions[0].model_copy(update={"using": ()})
        steps = Module(module.library, changed)
        yield what, steps.with_steps(with_actions(step, [vague, *step.actions[1:]])), {"instrument-not-said"}, places


def _lies_over(module: Module, layer: Any, structure: Any) -> bool:
    return layer.kind.value in LAYERS and any(module.same(name, structure.id) for name in layer.close_to)


def nick_not_said(module: Module) -> Iterator[Any]:
    """The small cut that is made to see the nerve is written as a whole opening."""
    for step, one, name in module.all("open"):
        if one.nick:
            whole = one.model_copy(update={"nick": False})
            yield f"{name}: {step.id}", module.replaced(step, one, whole), {"neighbour-not-seen"}, files([step])


def nicked_and_not_looked(module: Module) -> Iterator[Any]:
    """A layer is nicked to see what lies beneath, and nobody looks, neither before cutting on nor later."""
    for step, one, name in module.all("open"):
        layer = module.structure(name)
        for structure in module.structures if one.nick else ():
            near = any(module.same(other, structure.id) for other in layer.close_to)
            if near and structure.see_first and module.sights(structure.id):
                places = [step, *(cut for cut in module.needed_by(structure.id))]
                changed = module.without(module.sights(structure.id))
                yield (
                    f"{structure.name}: {step.id}",
                    changed,
                    {"neighbour-not-seen", "nick-without-looking"},
                    files(places),
                )


def close_removed(module: Module) -> Iterator[Any]:
    """What was opened is never closed (nor, where stitches shut it, stitched)."""
    for structure in module.structures:
        opening = [step for step, one, name in module.all("open") if module.same(name, structure.id) and not one.stays]
        shut = ("close",) if structure.kind.value in ("skin", "cavity") else ("close", "suture", "tie", "seal")
        closing = [one for one in module.all(*shut) if module.same(one[2], structure.id)]
        if opening and closing:
            yield structure.name, module.without(closing), {"left-open"}, files(opening)


def skin_closed_first(module: Module) -> Iterator[Any]:
    """The skin is closed over a cavity that is still open: the two closings change places."""
    for step, one, name in module.all("close"):
        cavity = module.structure(name)
        opening = [other for other, _, opened in module.all("open") if module.same(opened, cavity.id)]
        skins = [other for other, _, last in module.all("close") if module.structure(last).kind is StructureKind.SKIN]
        if cavity.kind is StructureKind.CAVITY and opening and len(skins) == 1 and skins[0] is not step:
            less = Module(module.library, module.without([(step, one, name)]))
            last = less.procedure.steps[skins[0].id]
            late = less.added(last, made(last, "close", str(name)))
            yield f"{name}: {step.id}", late, {"left-open"}, files(opening)


def stays_open_not_said(module: Module) -> Iterator[Any]:
    """What is left open on purpose is no longer said to be."""
    for step, one, name in module.all("open"):
        if one.stays:
            less = one.model_copy(update={"stays": False})
            yield f"{name}: {step.id}", module.replaced(step, one, less), {"left-open"}, files([step])


def count_and_closing_removed(module: Module) -> Iterator[Any]:
    """The skin is never closed, and with its closing the count before it goes too."""
    for step in module.steps:
        for one in step.actions:
            closing = [found for found in module.all("close") if module.structure(found[2]).kind is StructureKind.SKIN]
            if one.verb.value == "count" and any(closed is step for closed, _, _ in closing):
                less = Module(module.library, module.without(closing))
                new = less.procedure.steps[step.id]
                kept = [other for other in new.actions if other is not one]
                # Due since the last counted thing was placed or the last cavity was closed.
                asking = [
                    other for other, _, name in module.all("place", "close", "clamp", "open") if other is not step
                ]
                yield step.id, less.with_steps(with_actions(new, kept)), {"ended-uncounted"}, files(asking)


def swab_forgotten(module: Module) -> Iterator[Any]:
    """In one step a counted item goes in that nobody ever takes out."""
    item = next((one for one in module.library.items.everything() if one.kind.value == "swab" and one.counted), None)
    for step in module.steps if item else ():
        yield (
            f"{item.name}: {step.id}",
            module.added(step, made(step, "place", str(item.name))),
            {"item-left-in"},
            files([step]),
        )


def stay_not_said(module: Module) -> Iterator[Any]:
    """What stays is no longer said to stay."""
    for step, one, name in module.all("place"):
        if one.stays:
            less = one.model_copy(update={"stays": False})
            yield f"{name}: {step.id}", module.replaced(step, one, less), {"item-left-in"}, files([step])


def aftercare_removed(module: Module) -> Iterator[Any]:
    """What stays has no aftercare any more."""
    for id, _, item in module.cares():
        staying = [step for step, one, name in module.all("place") if one.stays and module.same(name, item)]
        kept = {key: one for key, one in module.procedure.parts.aftercare.items() if key != id}
        named = tuple(one for one in module.procedure.aftercare if one != id)
        if staying:
            yield (
                id,
                module.with_steps(aftercare_parts=kept, aftercare=named),
                {"left-in-without-aftercare"},
                files(staying),
            )


def removal_day_removed(module: Module) -> Iterator[Any]:
    """Nothing says any more when the item comes out."""
    for id, care, item in module.cares():
        if care.when.until and module.item(item).kind.value not in ("implant", "suture"):
            less = care.model_copy(update={"when": care.when.model_copy(update={"until": None})})
            kept = {**module.procedure.parts.aftercare, id: less}
            yield id, module.with_steps(aftercare_parts=kept), {"removal-without-time"}, frozenset({care.file})


def nothing_stays(module: Module) -> Iterator[Any]:
    """The item that an aftercare takes out is never placed."""
    for id, care, item in module.cares():
        placing = [one for one in module.all("place") if module.same(one[2], item)]
        if placing and all(one.stays for _, one, _ in placing):
            yield id, module.without(placing), {"aftercare-without-item"}, frozenset({care.file})


def count_removed(module: Module) -> Iterator[Any]:
    """A count is not made."""
    closing = [step for step, _, name in module.all("close")]
    for step in module.steps:
        for one in step.actions:
            if one.verb.value == "count" and _closes_after(module, step, one):
                yield (
                    step.id,
                    module.replaced(step, one),
                    {"cavity-closed-uncounted", "skin-closed-uncounted"},
                    files(closing),
                )


def _closes_after(module: Module, step: Step, count: Action) -> bool:
    """Tell whether a cavity or the skin is closed behind ``count`` and before the next count."""
    later = [one for other in module.steps[module.steps.index(step) :] for one in other.actions]
    behind = later[next(i for i, one in enumerate(later) if one is count) + 1 :]
    for one in behind:
        if one.verb.value == "count":
            return False
        if one.verb.value == "close" and any(
            module.structure(name).kind.value in ("cavity", "skin") for name in one.objects
        ):
            return True
    return False


def category_not_counted(module: Module) -> Iterator[Any]:
    """One word of a count is left out, and such things were used."""
    kinds = {"swab": "swabs", "pack": "packs", "needle": "needles", "suture": "needles", "blade": "blades"}
    used = {
        kinds.get(item.kind.value, "instruments")
        for _, one, _ in module.all("place")
        for item in map(module.item, one.objects)
        if item.counted
    }
    closing = [step for step, _, name in module.all("close")]
    for step, one, name in module.all("count"):
        if str(name) in used and len(one.objects) > 1 and _closes_after(module, step, one):
            yield (
                f"{name}: {step.id}",
                module.without([(step, one, name)]),
                {"cavity-closed-uncounted", "skin-closed-uncounted"},
                files(closing),
            )


def not_on_the_kit_list(module: Module) -> Iterator[Any]:
    """An item is used and not on the kit list."""
    for name in module.procedure.kit:
        using = [step for step in module.steps for one in step.actions if _uses(module, one, name)]
        kit = {key: number for key, number in module.procedure.kit.items() if key != name}
        if using:
            yield str(name), module.procedure.model_copy(update={"kit": kit}), {"not-enough-kit"}, files(using)


def _uses(module: Module, one: Action, name: str) -> bool:
    own = one.objects if one.verb.value in ("place", "inject", "irrigate") else ()
    return any(module.same(other, name) for other in (*own, *one.using))


def too_few_on_the_kit_list(module: Module) -> Iterator[Any]:
    """The kit list holds fewer than one action uses."""
    for name in module.procedure.kit:
        using = [(step, one) for step in module.steps for one in step.actions if _uses(module, one, name)]
        most = max((one.number for _, one in using), default=0)
        if most > 1:
            kit = {**module.procedure.kit, name: most - 1}
            changed = module.procedure.model_copy(update={"kit": kit})
            yield str(name), changed, {"not-enough-kit"}, files(step for step, one in using if one.number == most)


def kit_not_used(module: Module) -> Iterator[Any]:
    """The kit list holds what no step uses."""
    drugs = {"drug", "fluid"}
    on_it = {module.item(name).id for name in module.procedure.kit}
    spare = [one for one in module.library.items.everything() if one.id not in on_it and one.kind.value not in drugs]
    for item in spare[:3]:
        if not any(_uses(module, one, item.id) for step in module.steps for one in step.actions):
            name = Text(str(item.name), Place(module.procedure.file, 1, 1))
            changed = module.procedure.model_copy(update={"kit": {**module.procedure.kit, name: 1}})
            yield str(name), changed, {"kit-unused"}, frozenset({module.procedure.file})


def one_side_forgotten(module: Module) -> Iterator[Any]:
    """A procedure for both sides, and one action on the left only."""
    both = Module(module.library, module.procedure.model_copy(update={"side": Side.BOTH}))
    done: dict[tuple[str, str], list[tuple[Step, Action, Text]]] = {}
    for step, one, name in both.all(
        "identify", "protect", "expose", "open", "close", "divide", "tie", "suture", "clamp"
    ):
        if both.structure(name).paired:
            verb = "see" if one.verb.value in SIGHTS else one.verb.value
            done.setdefault((verb, both.structure(name).id), []).append((step, one, name))
    for (verb, id), found in done.items():
        step, one, _ = found[0]
        if len(found) == 1 and len(one.objects) == 1:
            left = one.model_copy(update={"side": Side.LEFT})
            yield f"{verb} {id}", both.replaced(step, one, left), {"one-side-forgotten"}, files([step]), both.procedure


def wrong_side(module: Module) -> Iterator[Any]:
    """An action has a fixed side that cannot be meant."""
    side = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT, Side.EITHER: Side.RIGHT}.get(module.procedure.side)
    for step, one, name in module.all("identify", "open", "close", "divide", "tie", "suture") if side else ():
        if module.structure(name).paired and one.objects[0] == name:
            wrong = one.model_copy(update={"side": side})
            yield (
                f"{one.verb.value} {name}: {step.id}",
                module.replaced(step, one, wrong),
                {"side-fixed-for-either", "figure-on-other-side"},
                files([step]),
            )


def never_rejoins(module: Module) -> Iterator[Any]:
    """A branch that was taken earlier has no way on at a follow."""

    def less(entries: Any, follow: Follow, branch: str) -> Any:
        return tuple(
            one.model_copy(update={"branches": {key: v for key, v in one.branches.items() if key != branch}})
            if one is follow
            else one
            for one in entries
        )

    for entry in module.procedure.sequence:
        if isinstance(entry, Follow):
            for branch in entry.branches:
                sequence = less(module.procedure.sequence, entry, branch)
                changed = module.procedure.model_copy(update={"sequence": sequence})
                yield f"{entry.choice}: {branch}", changed, {"follow-incomplete"}, frozenset({module.procedure.file})


def follows_too_early(module: Module) -> Iterator[Any]:
    """A follow comes before its choice."""
    for entry in module.procedure.sequence:
        if isinstance(entry, Follow):
            rest = tuple(one for one in module.procedure.sequence if one is not entry)
            changed = module.procedure.model_copy(update={"sequence": (entry, *rest)})
            yield str(entry.choice), changed, {"follow-incomplete"}, frozenset({module.procedure.file})


def gift_removed(module: Module) -> Iterator[Any]:
    """What a later step needs is no longer given."""
    for need in {str(need) for step in module.steps for need in step.needs}:
        giving = [step for step in module.steps if need in step.gives]
        needing = [step for step in module.steps if need in step.needs]
        less = [step.model_copy(update={"gives": tuple(g for g in step.gives if g != need)}) for step in giving]
        yield need, module.with_steps(*less), {"need-not-met"}, files(needing)


def needed_too_early(module: Module) -> Iterator[Any]:
    """The first step needs what only a later one gives."""
    for step in module.steps[1:]:
        for gift in step.gives[:1]:
            first = module.steps[0]
            if str(gift) not in first.gives:
                needy = first.model_copy(update={"needs": (*first.needs, here(first, str(gift)))})
                yield f"{gift}", module.with_steps(needy), {"need-not-met", "needs-circular"}, files([first, step])


def needs_in_a_circle(module: Module) -> Iterator[Any]:
    """Two steps each need what the other gives."""
    if len(module.steps) > 3:
        one, other = module.steps[1], module.steps[-2]
        changed = [
            one.model_copy(update={"needs": (here(one, "that"),), "gives": (*one.gives, here(one, "this"))}),
            other.model_copy(update={"needs": (here(other, "this"),), "gives": (*other.gives, here(other, "that"))}),
        ]
        yield f"{one.id}, {other.id}", module.with_steps(*changed), {"needs-circular"}, files([one, other])


def text_of_another_operation(module: Module) -> Iterator[Any]:
    """The text orders something done with an item that no action of the procedure knows."""
    known = {str(name) for step in module.steps for one in step.actions for name in (*one.objects, *one.using)}
    listed = module.library.items.everything()
    items = [one for one in listed if not any(module.same(one.id, name) for name in known)]
    doses = {str(dose.drug) for step in module.steps for dose in step.dose}
    item = next((one for one in items if not any(module.same(one.id, name) for name in doses)), None)
    for step in module.steps[:4] if item else ():
        source = f"{step.body.source}\nPlace a {item.name} there.\n"
        body = replace(step.body, source=source)
        yield (
            f"{item.name}: {step.id}",
            module.with_steps(step.model_copy(update={"body": body})),
            {"named-and-not-done"},
            files([step]),
        )


def cue_left_out(module: Module) -> Iterator[Any]:
    """A critical step has no cue, no way out, or a cue that says nothing."""
    for step in module.steps:
        if step.critical and step.cue and step.if_not:
            for update, check in (
                ({"cue": None}, "critical-without-cue"),
                ({"if_not": None}, "critical-without-if-not"),
                ({"cue": here(step, "Everything is adequate.")}, "cue-not-observable"),
            ):
                yield f"{step.id}", module.with_steps(step.model_copy(update=update)), {check}, files([step])
                break_after_first = module.steps.index(step) > 5
                if break_after_first:
                    break


KINDS: tuple[Kind, ...] = (
    identify_removed,
    identified_too_late,
    identified_only_if_chosen,
    steps_swapped,
    control_removed,
    release_removed,
    clamp_left_in_branch,
    removal_removed,
    removal_only_if_chosen,
    one_too_many_placed,
    one_too_many_removed,
    placing_removed,
    opened_blind,
    opened_with_what,
    nick_not_said,
    nicked_and_not_looked,
    close_removed,
    skin_closed_first,
    stays_open_not_said,
    count_and_closing_removed,
    swab_forgotten,
    stay_not_said,
    aftercare_removed,
    removal_day_removed,
    nothing_stays,
    count_removed,
    category_not_counted,
    not_on_the_kit_list,
    too_few_on_the_kit_list,
    kit_not_used,
    one_side_forgotten,
    wrong_side,
    never_rejoins,
    follows_too_early,
    gift_removed,
    needed_too_early,
    needs_in_a_circle,
    text_of_another_operation,
    cue_left_out,
)


def planted(library: Library, most: int | None = None) -> Iterator[Planted]:
    """Yield every error that can be planted into the procedures of ``library``, or at ``most`` so many of a kind in
    each of them."""
    for procedure in library.procedures:
        module = Module(library, procedure)
        for kind in KINDS:
            for what, changed, checks, places, *against in islice(kind(module), most):
                name = f"{procedure.id}: {what}"
                yield Planted(
                    kind.__name__.replace("_", " "), name, changed, frozenset(checks), places, *(against or [None])
                )

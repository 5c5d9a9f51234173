"""From theatre to ward: what stays has an aftercare that takes it out, and an aftercare has something to take out."""

import re
from collections.abc import Callable, Container, Iterator, Mapping
from functools import cache, partial

from builder.check.hit import Hit
from builder.check.paths import mending, path_words
from builder.check.paths.flow import Result
from builder.check.paths.program import Program
from builder.facts.anatomy import STAYING_KINDS, USED_UP_KINDS, WORN_KINDS
from builder.facts.automata import Deed
from builder.facts.graph import NodeKind
from builder.facts.item_layout import HOLDING
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.pages import Aftercare, Item, OnlyIf, Step
from builder.model.sequence import branches


def staying(program: Program, result: Result) -> dict[str, list[tuple[Deed, bool]]]:
    """Return by item id the actions that leave it in the patient, and whether somebody has to take it out."""
    found: dict[str, list[tuple[Deed, bool]]] = {}
    steps = {node.step.id: node.step for node in program.graph.nodes if node.step and node.index in result.reached}
    for step in steps.values():
        for action in step.actions:
            for deed, item, comes_out in _left_by(program, step, action):
                found.setdefault(item.id, []).append((deed, comes_out))
    return found


def _left_by(program: Program, step: Step, action: Action) -> Iterator[tuple[Deed, Item, bool]]:
    layout = program.layout
    if action.verb is Verb.PLACE and action.stays:
        names = action.objects
    else:
        names = action.using if action.verb in HOLDING else ()
    for name in names:
        item = layout.anatomy.item(name)
        if item is not None and (action.verb is not Verb.PLACE or item.kind not in USED_UP_KINDS):
            yield Deed(step, action, name), item, layout.comes_out(action, item)


def without_aftercare(program: Program, left: dict[str, list[tuple[Deed, bool]]]) -> Iterator[Hit]:
    """Yield what stays and is never taken out."""
    listed = program.procedure.where.key("aftercare")
    for id, deeds in left.items():
        cares = [aftercare for aftercare, item in concerns(program) if item.id == id]
        to_come_out = [deed for deed, comes_out in deeds if comes_out and not _is_cared_for(program, deed, cares)]
        if to_come_out:
            deed = to_come_out[0]
            item = program.layout.anatomy.item(deed.name)
            assert item is not None
            message = f"{item.name} {path_words.stays(item.name)} in, but no aftercare takes it out"
            if item.kind in WORN_KINDS:
                message = f"{item.name} {path_words.stays(item.name)} on, but no aftercare says when it comes off"
            hint = f"Write an aftercare with `concerns: {item.name}` and the day it comes out (`when`, `until`)."
            shared = "name an aftercare of content/shared/aftercare/ here, if one takes it out"
            also = [SecondPlace(other.at, "here too") for other in to_come_out[1:2]]
            yield Hit(deed.at, message, hint, (*also, SecondPlace(listed, shared)))


def _is_cared_for(program: Program, deed: Deed, cares: list[Aftercare]) -> bool:
    """Tell whether one of ``cares`` is for every patient on whose way ``deed`` is done."""
    bound: dict[str, set[str]] = {}
    for aftercare in cares:
        if aftercare.only_if is None:
            return True
        bound.setdefault(str(aftercare.only_if.choice), set()).update(map(str, aftercare.only_if.branch))
    whole = (
        {str(name) for name, _ in branches(choice)} <= bound[id]
        for id, choice in program.graph.choices.items()
        if id in bound
    )
    return any(whole) or all(
        any(branch in bound.get(choice, ()) for choice, branch in program.graph.within[node.index])
        for node in program.graph.nodes
        if node.step is deed.step
    )


def not_bound(program: Program, left: dict[str, list[tuple[Deed, bool]]]) -> Iterator[Hit]:
    """Yield aftercare that takes out what is not left in on every way, and is told to every patient all the same."""
    can_be_passed = cache(partial(_can_be_passed, program))
    for aftercare, item in concerns(program):
        placing = frozenset(str(deed.step.id) for deed, comes_out in left.get(item.id, ()) if comes_out)
        if placing and aftercare.only_if is None and aftercare.concerns is not None and can_be_passed(placing):
            message = (
                f"{item.name} {path_words.stays(item.name)} in on some ways only, but this is told to every patient"
            )
            hint = "Bind it, for instance `only_if: {choice: drain, branch: taken, words: if a drain was left in}`."
            also = [SecondPlace(deed.at, "left in here") for deed, _ in left[item.id][:1]]
            yield Hit(aftercare.concerns.at, message, hint, tuple(also))
            continue
        stays = frozenset(str(deed.step.id) for deed, _ in left.get(item.id, ()))
        if stays and aftercare.only_if is not None and not _on_its_way(program, stays, aftercare.only_if):
            deed = left[item.id][0][0]
            message = f"{item.name} {path_words.stays(item.name)} in on another way than the one this is bound to"
            hint = f"Bind it to the choice and the branch in which {quoted(deed.step.title)} is done."
            yield Hit(aftercare.only_if.where.value("branch"), message, hint, (SecondPlace(deed.at, "left in here"),))
    yield from _named_to_all(program, left, can_be_passed)


def _on_its_way(program: Program, placing: Container[str], only_if: OnlyIf) -> bool:
    """Tell whether one of the steps ``placing`` is done on the way that ``only_if`` names, or on every way."""
    ways = [
        dict(program.graph.within[node.index])
        for node in program.graph.nodes
        if node.step is not None and str(node.step.id) in placing
    ]
    branch = set(map(str, only_if.branch))
    return any(not way or way.get(str(only_if.choice)) in branch for way in ways)


def _named_to_all(
    program: Program, left: dict[str, list[tuple[Deed, bool]]], can_be_passed: Callable[[frozenset[str]], bool]
) -> Iterator[Hit]:
    """Yield what the text for every patient names without an ``if``, although it is left in on some ways only."""
    somewhere = {}
    for id, deeds in left.items():
        placing = frozenset(str(deed.step.id) for deed, comes_out in deeds if comes_out)
        item = program.layout.anatomy.item(deeds[0][0].name)
        if placing and item is not None and can_be_passed(placing):
            somewhere[id] = (item, deeds[0][0])
    own = {aftercare.file for aftercare, item in concerns(program) if item.id in somewhere}
    for aftercare in program.procedure.aftercare_items.values() if somewhere else ():
        text = aftercare.patient_text
        if text is None or aftercare.only_if is not None or aftercare.file in own:
            continue
        for item, deed in somewhere.values():
            names = "|".join(re.escape(name) for name in (item.name, *item.also))
            for match in re.finditer(rf"\b(?:{names})s?\b", text, re.IGNORECASE):
                sentence = text[text.rfind(".", 0, match.start()) + 1 : match.end()]
                if not _ON_A_CONDITION.search(sentence):
                    message = f"{quoted(match.group())} is named to every patient, but stays in on some ways only"
                    hint = "Say `if you have one`, or bind the text with `only_if:` to the choice that leaves it in."
                    yield Hit(text.at, message, hint, (SecondPlace(deed.at, "left in here"),))
                    break


_ON_A_CONDITION = re.compile(r"\b(?:if|unless|where|when you have|in case|any|no|some)\b", re.IGNORECASE)


def _can_be_passed(program: Program, steps: frozenset[str]) -> bool:
    """Tell whether some way leads through the operation and past all of ``steps``, for each choice that is followed."""
    on_every_way = (node for node in program.graph.nodes if not program.graph.within[node.index])
    if not program.ends_early and any(node.step is not None and node.step.id in steps for node in on_every_way):
        return False
    if not _is_way_past(program, steps, {}):
        return False
    return all(
        any(_is_way_past(program, steps, {choice: str(name)}) for name, _ in branches(program.graph.choices[choice]))
        for choice in program.graph.slots
        if choice in program.graph.choices
    )


def _is_way_past(program: Program, steps: frozenset[str], taken: Mapping[str, str]) -> bool:
    passed: list[bool] = []
    for node in program.graph.nodes:
        is_open = (node.step is None or node.step.id not in steps) and (
            node.kind is NodeKind.START
            or any(passed[edge.source] and taken.get(edge.choice, edge.branch) == edge.branch for edge in node.into)
        )
        passed.append(is_open)
    return passed[-1]


def concerns(program: Program) -> Iterator[tuple[Aftercare, Item]]:
    """Yield every aftercare of the procedure that concerns an item, and that item."""
    for aftercare in program.procedure.aftercare_items.values():
        item = program.layout.anatomy.item(aftercare.concerns) if aftercare.concerns else None
        if item is not None:
            yield aftercare, item


def without_item(program: Program, left: dict[str, list[tuple[Deed, bool]]], left_in: Container[str]) -> Iterator[Hit]:
    """Yield aftercare that concerns what never stays.

    Not what is left in by an oversight (``left_in``, ids of items), nor what is placed in a step that no path reaches:
    each has a finding of its own, and mending that mends this.
    """
    for aftercare, item in concerns(program):
        deeds = list(_placings(program, item))
        if item.id not in left and item.id not in left_in and not any(deed.action.stays for deed in deeds):
            assert aftercare.concerns is not None
            message = f"{item.name} never {path_words.stays(item.name)} in after this procedure"
            bare = [SecondPlace(deed.at, "placed here, without `stays: true`") for deed in deeds[:1]]
            hint = "Write `stays: true` where it is placed, or remove this aftercare."
            also = bare or mending.in_the_lists(program, item)
            yield Hit(aftercare.concerns.at, message, hint, tuple(also))


def _placings(program: Program, item: Item) -> Iterator[Deed]:
    for node in program.graph.nodes:
        if node.kind is NodeKind.STEP and node.step is not None:
            for action in node.step.actions:
                for name in action.objects if action.verb is Verb.PLACE else ():
                    if program.layout.anatomy.item(name) is item:
                        yield Deed(node.step, action, name)


def without_end(program: Program, left: dict[str, list[tuple[Deed, bool]]]) -> Iterator[Hit]:
    """Yield aftercare that concerns an item and does not say when it comes out; not for what stays for good."""
    for aftercare, item in concerns(program):
        laid_in_skin = any(comes_out for _, comes_out in left.get(item.id, ()))
        if aftercare.when.until is None and (laid_in_skin or item.kind not in STAYING_KINDS):
            assert aftercare.concerns is not None
            message = f"{item.name} {path_words.stays(item.name)} in, but nothing says when it comes out"
            hint = "Add `until:` below `when`: a time such as `2 days`, or an event such as `walking`."
            also = [SecondPlace(aftercare.where.key("when"), "the day it comes out belongs here")]
            also += [SecondPlace(deed.at, "it goes in here") for deed, _ in left.get(item.id, ())[:1]]
            yield Hit(aftercare.concerns.at, message, hint, tuple(also))

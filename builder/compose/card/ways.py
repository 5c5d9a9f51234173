"""The ways through a procedure: every combination of its choices and options that can be walked, follows included.

A procedure with very many ways would bury the reader in cards: then only its choices part the ways, and options stay
on each card as options; where even these are too many, there are none.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice

from builder.compose.consents import fresh
from builder.compose.view.outline import Block, StepBlock, guarded_steps
from builder.compose.view.words import as_words, branch_label, uncapital
from builder.findings.message_words import capital
from builder.model.action import ON_ITEMS
from builder.model.catalogue import Catalogue
from builder.model.pages import Aftercare, Caution, Item, Parts, Procedure, Step
from builder.model.sequence import LEFT_OUT, TAKEN, Choose, Follow, Option, Sequence, StepEntry, branches, every_entry

MOST = 16
"""More ways than these are not told apart (ours to set)."""
EVERY, CHOICES, NONE = "every way", "choices only", "none"
_LONGEST_NAME = 100  # of a file, without side and ending; file systems allow 255 bytes
Choices = Mapping[str, str]
"""The branch taken, by id of the choice; of an option ``taken`` or ``left-out``."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way: the ``name`` of its files, and the branch taken at each choice that is met, in the order it is met."""

    name: str
    choices: Choices


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways of a procedure. ``kind`` says what parts them: EVERY choice and option, CHOICES, or NONE: too many."""

    kind: str
    ways: tuple[Way, ...]


def ways_of(procedure: Procedure) -> Ways:
    """Return the ways through ``procedure`` in the order in which they are written."""
    for kind in (EVERY, CHOICES):
        walks = list(islice(_walks(procedure.sequence, {}, options=kind == EVERY), MOST + 1))
        if len(walks) <= MOST:
            return Ways(kind, tuple(_named(procedure, walks)))
    return Ways(NONE, ())


def way_of(procedure: Procedure, choices: Choices, items: Catalogue[Item]) -> Procedure:
    """Return ``procedure`` with that way alone as its sequence; what is not in ``choices`` still parts.

    It keeps the steps of the way, the cautions that guard one of them or no step at all, and the aftercare but for what
    is only for other ways or takes out an item that only their steps handle; ``items`` tells one item from another.
    """
    sequence = tuple(_until_end(procedure, _walked(procedure.sequence, choices)))
    named = {str(entry.step) for entry in every_entry(sequence) if isinstance(entry, StepEntry)}
    steps = {id: step for id, step in procedure.steps.items() if id in named}
    handled = _items(steps.values(), items)
    elsewhere = _items(procedure.steps.values(), items) - handled
    parts = Parts(
        steps=steps,
        cautions={id: caution for id, caution in procedure.cautions.items() if _is_met(caution, procedure, named)},
        aftercare={
            id: _without_condition(procedure.parts.aftercare[id], choices)
            for id, item in procedure.aftercare_items.items()
            if (item.concerns is None or _ids((item.concerns,), items).isdisjoint(elsewhere)) and _is_for(item, choices)
        },
    )
    return fresh(procedure.model_copy(update={"sequence": sequence, "parts": parts}))


def _is_for(item: Aftercare, choices: Choices) -> bool:
    bound = item.only_if
    return bound is None or choices.get(str(bound.choice), bound.branch[0]) in bound.branch


def _without_condition(item: Aftercare, choices: Choices) -> Aftercare:
    """Return ``item`` as it is for a patient of whom it is known that it is for them."""
    known = item.only_if is not None and str(item.only_if.choice) in choices
    return item.model_copy(update={"only_if": None}) if known else item


def titles_of(procedure: Procedure) -> Mapping[str, str]:
    """Return the title of each choice and option by its id, in the order in which they are written."""
    return {
        str(entry.id): str(entry.title or as_words(entry.id))
        for entry in procedure.entries
        if isinstance(entry, Choose | Option)
    }


def words_of(procedure: Procedure, choices: Choices) -> str:
    """Return what is chosen on a way, in words: ``Anaesthesia: local; without drain``."""
    titles = titles_of(procedure)
    return capital("; ".join(_choice_words(titles[id], branch) for id, branch in choices.items()))


def _choice_words(title: str, branch: str) -> str:
    if branch in (TAKEN, LEFT_OUT):
        return f"{'with' if branch == TAKEN else 'without'} {uncapital(title)}"
    return f"{uncapital(title)}: {uncapital(branch_label(branch))}"


def walked_blocks(blocks: Iterable[Block], choices: Choices) -> tuple[Block, ...]:
    """Return the blocks of the way, with the numbers they have on every way; what is not in ``choices`` still parts."""
    return tuple(_until_end_block(_walked_blocks(blocks, choices)))


def _walked_blocks(blocks: Iterable[Block], choices: Choices) -> Iterator[Block]:
    for block in blocks:
        if isinstance(block, StepBlock):
            yield block
        elif block.id in choices:
            taken = (branch for branch in block.branches if branch.name == choices[block.id])
            for branch in taken:
                yield from _walked_blocks(branch.blocks, choices)
        else:
            inside = (
                replace(branch, blocks=tuple(_walked_blocks(branch.blocks, choices))) for branch in block.branches
            )
            yield replace(block, branches=tuple(inside))


def _until_end_block(blocks: Iterable[Block]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, StepBlock) and block.step.ends:
            return


Fork = Choose | Option | Follow


def _walks(sequence: Sequence, choices: Choices, *, options: bool) -> Iterator[Choices]:
    """Yield the choices of every walk behind ``choices``; a follow of a choice that was not made ends a walk."""
    for at, entry in enumerate(sequence):
        if not isinstance(entry, StepEntry):
            for reached in _past(entry, choices, options=options):
                yield from _walks(sequence[at + 1 :], reached, options=options)
            return
    yield choices


def _past(fork: Fork, choices: Choices, *, options: bool) -> Iterator[Choices]:
    if isinstance(fork, Follow):
        for inner in _walkable(fork, choices, options=options):
            yield from _walks(inner, choices, options=options)
    elif isinstance(fork, Option) and not options:
        yield from _walks(fork.steps, choices, options=options)
    else:
        for branch, inner in branches(fork):
            yield from _walks(inner, {**choices, str(fork.id): str(branch)}, options=options)


def _walkable(follow: Follow, choices: Choices, *, options: bool) -> tuple[Sequence, ...]:
    """Return the branches that a walk can take at ``follow``: one, or none; all where what it follows stays open."""
    taken = choices.get(str(follow.choice))
    if taken is not None:
        return tuple(inner for name, inner in branches(follow) if name == taken)
    is_open = not options and set(follow.branches) <= {TAKEN, LEFT_OUT}
    return (tuple(entry for _, inner in branches(follow) for entry in inner),) if is_open else ()


def _walked(sequence: Sequence, choices: Choices) -> Iterator[StepEntry | Fork]:
    """Yield the entries of the way; a place where the way still parts is kept with its branches walked."""
    for entry in sequence:
        if isinstance(entry, StepEntry):
            yield entry
            continue
        taken = choices.get(str(entry.choice if isinstance(entry, Follow) else entry.id))
        if taken is not None:
            for name, inner in branches(entry):
                if name == taken:
                    yield from _walked(inner, choices)
        elif isinstance(entry, Option):
            yield entry.model_copy(update={"steps": tuple(_walked(entry.steps, choices))})
        else:
            field = "between" if isinstance(entry, Choose) else "branches"
            inside = {name: tuple(_walked(inner, choices)) for name, inner in branches(entry)}
            yield entry.model_copy(update={field: inside})


def _until_end(procedure: Procedure, entries: Iterable[StepEntry | Fork]) -> Iterator[StepEntry | Fork]:
    """Yield ``entries`` up to the step with which the operation stops or converts to another."""
    for entry in entries:
        yield entry
        step = procedure.steps.get(entry.step) if isinstance(entry, StepEntry) else None
        if step is not None and step.ends:
            return


def _is_met(caution: Caution, procedure: Procedure, steps: set[str]) -> bool:
    guarded = guarded_steps(caution, procedure.steps) & set(procedure.steps)
    return not guarded or bool(guarded & steps)


def _items(steps: Iterable[Step], items: Catalogue[Item]) -> set[str]:
    """Return the ids of the items that ``steps`` handle."""
    actions = [action for step in steps for action in step.actions]
    names = [name for action in actions for name in (*action.objects * (action.verb in ON_ITEMS), *action.using)]
    return _ids(names, items)


def _ids(names: Iterable[str], items: Catalogue[Item]) -> set[str]:
    return {str(item.id) for name in names if (item := items.find(name))}


def _named(procedure: Procedure, walks: Iterable[Choices]) -> Iterator[Way]:
    """Yield the ways with names of their own, such as ``local-with-drain``."""
    options = {str(entry.id) for entry in procedure.entries if isinstance(entry, Option)}
    used: set[str] = set()
    for number, choices in enumerate(walks, start=1):
        words = ((f"with{'' if of == TAKEN else 'out'} {id}" if id in options else of) for id, of in choices.items())
        name = re.sub("[^a-z0-9]+", "-", " ".join(words).casefold()).strip("-")[:_LONGEST_NAME].rstrip("-")
        name = name if name and name not in used else f"{name}-way-{number}".strip("-") if choices else ""
        used.add(name)
        yield Way(name, choices)

"""Questions of the self-test, made from the model so that each answer is provable from it.

Every question carries its proof: the place on the page that shows the answer. What the model leaves open is not asked:
a step is asked about only where one answer is right, and an order only of steps that every way through the operation
meets in that order.
"""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from builder.compose.view.outline import StepBlock, guarded_steps, outline, step_blocks
from builder.compose.view.words import item_name
from builder.facts.anatomy import Anatomy
from builder.findings.message_words import listed
from builder.model.action import CUTS
from builder.model.library import Library
from builder.model.pages import Procedure, Step, Structure
from builder.model.sequence import StepEntry

_WRONG = 3
_IN_ORDER = 5
_SHORTEST = 3
# Kinds of question that allow more than one answer, so that the number of boxes tells nothing.
_ALWAYS_MANY = ("seen-", "guard-")


@dataclass(frozen=True, slots=True)
class Question:
    """A question: ``kind`` is one, many or order; ``answer`` are the right ones of its ``choices``, of an order all of
    them in order; ``proof`` says why they are right, and ``anchor`` is the place on the procedure's page that shows
    it."""

    id: str
    group: str
    kind: str
    asks: str
    choices: tuple[str, ...]
    answer: tuple[str, ...]
    proof: str
    anchor: str


def questions_of(library: Library, procedure: Procedure) -> tuple[Question, ...]:
    """Return the questions on ``procedure``, in groups, in the order of its steps; equal for equal text."""
    asker = _Asker(library, procedure)
    groups = (asker.orders, asker.seen, asker.out, asker.guards, asker.cues)
    return tuple(question for group in groups for question in group())


class _Asker:
    """Asks about one procedure."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        # A step that comes twice has two places, so no single answer about its place is right.
        blocks = list(step_blocks(outline(procedure)))
        twice = {block.step.id for block in blocks if block.turn > 1}
        self.blocks = [block for block in blocks if block.step.id not in twice]

    def orders(self) -> Iterator[Question]:
        """Ask for the order of steps that lie on every way."""
        on_every_way = {str(entry.step) for entry in self.procedure.sequence if isinstance(entry, StepEntry)}
        for part in _parts([block for block in self.blocks if block.step.id in on_every_way]):
            titles = [str(block.step.title) for block in part]
            if len(set(titles)) < len(titles):
                continue
            numbers = listed([block.number for block in part])
            proof = f"Every way through the operation meets them in this order: steps {numbers}."
            asks = "Put these steps in the order in which they are taught here."
            mixed = _mixed(titles, part[0].anchor)
            shown = tuple(mixed if mixed != titles else reversed(mixed))
            id = f"order-{part[0].step.id}"
            yield Question(id, "Put in order", "order", asks, shown, tuple(titles), proof, part[0].anchor)

    def seen(self) -> Iterator[Question]:
        """Ask what must be seen before a structure is clamped, tied, sealed, divided or excised."""
        anatomy = Anatomy(self.library)
        asked: set[str] = set()
        for place, block in enumerate(self.blocks):
            met = {name for earlier in self.blocks[: place + 1] for name in self._structures(earlier.step)}
            ahead = (name for block in self.blocks[place + 1 :] for name in self._structures(block.step))
            later = [name for name in ahead if name not in met]
            cuts = (action for action in block.step.actions if action.verb in CUTS)
            for verb, words in ((action.verb, words) for action in cuts for words in action.objects):
                structure = anatomy.structure(words)
                if structure is None or structure.id in asked or not anatomy.see_first(structure):
                    continue
                asked.add(structure.id)
                right = [str(structure.name), *(str(first.name) for first in anatomy.see_first(structure))]
                # What is met before, or lies close, may well have been seen: only what comes later is a wrong answer.
                close = {str(near.name) for near in self.library.structures if self._are_close(near, structure)}
                wrong = [name for name in later if name not in right and name not in close]
                asks = f"What must you have seen before you {verb.value} the {structure.name}?"
                proof = f"It happens in step {block.number}; what can be hurt beside it is seen first.", block.anchor
                yield from _asked(f"seen-{structure.id}", "See before you cut", asks, (right, wrong), proof)

    def out(self) -> Iterator[Question]:
        """Ask how long what stays does stay."""
        items = [item for item in self.procedure.aftercare_items.values() if item.when.until]
        stays = [item_name(self.library, item.concerns) for item in items if item.concerns]
        for item in items:
            name = item_name(self.library, item.concerns) if item.concerns else ""
            if stays.count(name) != 1:
                continue
            until = str(item.when.until)
            # "Until the drain is out" is true of any drain, and tells nothing.
            own = set(name.casefold().split())
            times = dict.fromkeys(str(other.when.until) for other in items)
            wrong = [time for time in times if time != until and not own & set(time.casefold().split())]
            proof = f"Aftercare: {item.title}.", f"aftercare-{item.id}"
            asks = f"How long does this stay: {name}?"
            right = [f"Until {until.removeprefix('until ')}"]
            choices = (right, [f"Until {time.removeprefix('until ')}" for time in wrong])
            yield from _asked(f"out-{item.id}", "What comes out", asks, choices, proof)

    def guards(self) -> Iterator[Question]:
        """Ask which cautions guard a step."""
        cautions = list(self.procedure.cautions.values())
        guarded = {caution.id: guarded_steps(caution, self.procedure.steps) for caution in cautions}
        for block in self.blocks:
            right = [str(caution.hazard) for caution in cautions if block.step.id in guarded[caution.id]]
            wrong = [str(caution.hazard) for caution in cautions if str(caution.hazard) not in right]
            asks = f"Step {block.number}: {block.step.title}. Which cautions guard it?"
            proof = f"The caution stands before step {block.number}, or is recalled there.", block.anchor
            yield from _asked(f"guard-{block.step.id}", "Cautions", asks, (right, wrong), proof)

    def cues(self) -> Iterator[Question]:
        """Ask what tells the surgeon to go on from a critical step."""
        cues = [str(block.step.cue) for block in self.blocks if block.step.cue]
        for block in self.blocks:
            cue = str(block.step.cue or "")
            if block.step.critical and cues.count(cue) == 1:
                asks = f"Step {block.number}: {block.step.title}. What tells you to go on?"
                proof = f"It is the cue of step {block.number}.", block.anchor
                wrong = [other for other in dict.fromkeys(cues) if other != cue]
                yield from _asked(f"cue-{block.step.id}", "Cues", asks, ([cue], wrong), proof)

    def _structures(self, step: Step) -> Iterator[str]:
        objects = (words for action in step.actions for words in action.objects)
        return (str(found.name) for words in objects if (found := self.library.structures.find(words)))

    def _are_close(self, structure: Structure, other: Structure) -> bool:
        return any(
            self.library.structures.find(words) is far
            for near, far in ((structure, other), (other, structure))
            for words in near.close_to
        )


def _asked(
    id: str, group: str, asks: str, answers: tuple[list[str], list[str]], proof: tuple[str, str]
) -> Iterator[Question]:
    """Yield the question where it has a right and a wrong answer, with at most three wrong ones."""
    right, wrong = (list(dict.fromkeys(part)) for part in answers)
    if not right or not wrong:
        return
    shown = _mixed([*right, *_mixed(wrong, f"{id} wrong")[:_WRONG]], id)
    kind = "one" if len(right) == 1 and not id.startswith(_ALWAYS_MANY) else "many"
    yield Question(id, group, kind, asks, tuple(shown), tuple(right), *proof)


def _parts(blocks: Sequence[StepBlock]) -> Iterator[Sequence[StepBlock]]:
    """Cut ``blocks`` into runs of about equal length, short enough to be put in order from memory."""
    count = -(-len(blocks) // _IN_ORDER)
    for part in range(count):
        run = blocks[part * len(blocks) // count : (part + 1) * len(blocks) // count]
        if len(run) >= _SHORTEST:
            yield run


def _mixed(texts: Iterable[str], seed: str) -> list[str]:
    """Return ``texts`` in an order that looks random and is the same in each build."""
    return sorted(texts, key=lambda text: hashlib.sha256(f"{seed}\0{text}".encode()).digest())

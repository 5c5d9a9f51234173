"""A caution stands before the step it guards, on every path.

A step *shows* a caution that it names in ``cautions:`` or links to in its prose. What is read in the source must agree
with what is done: where steps show a caution, a step that it guards shows it itself or comes after one that does. A
caution that no step shows is set before the steps it guards by every output, so nothing can fail there.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from builder.check.hit import Hit, finds
from builder.facts.walk import procedures_with_broken
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Caution, Procedure
from builder.model.sequence import Choose, Follow, Option, Sequence, StepEntry, branches
from builder.place import Place


@finds("caution-after-step", piecewise=True)
def caution_after_step(library: Library) -> Iterator[Hit]:
    """Yield each step that a caution guards and that can be reached before any step that shows the caution."""
    doubtful = procedures_with_broken(library, ("step",))
    for procedure in library.procedures:
        if procedure.id not in doubtful:
            yield from _late(procedure)


def _late(procedure: Procedure) -> Iterator[Hit]:
    shown = _shown(procedure)
    guarding = [one for one in procedure.cautions.values() if shown.get(one.id, {}).keys() - one.guards]
    if not guarding:
        return
    before = Before.of(procedure.sequence)
    for caution in guarding:
        showing = shown.get(caution.id, {})
        for index, guarded in enumerate(caution.guards):
            if not showing or guarded in showing or guarded not in procedure.steps:
                continue
            if before.first_shown_late(guarded, showing):
                yield _hit(procedure, caution, index, showing)


def _hit(procedure: Procedure, caution: Caution, index: int, showing: Mapping[str, Place]) -> Hit:
    guarded = caution.guards[index]
    step, at = next(iter(showing.items()))
    file = procedure.steps[guarded].file
    return Hit(
        guarded.at,
        f"{quoted(guarded)} is guarded by {quoted(caution.id)}, but can be reached before any step that shows it",
        f"Add `{caution.id}` to `cautions:` in {file}, or take `{guarded}` out of `guards:`.",
        (SecondPlace(at, f"shown here, in the step {quoted(step)}"),),
    )


def _shown(procedure: Procedure) -> Mapping[str, dict[str, Place]]:
    """Return, for each caution, the steps that show it and where."""
    found: dict[str, dict[str, Place]] = defaultdict(dict)
    for id, step in procedure.steps.items():
        for name in step.cautions:
            found[name].setdefault(str(id), name.at)
        for link in step.body.links:
            if link.kind == "caution":
                for target in link.targets:
                    found[target].setdefault(str(id), target.at)
    return found


@dataclass(slots=True)
class Before:
    """The steps that come before each step on every path to it.

    Sets of steps are whole numbers with one bit a step, so that a sequence of thousands of steps stays cheap. A
    ``follow`` walks the branch that was taken earlier, so what that branch did is known to have been done.
    """

    bits: dict[str, int] = field(default_factory=dict)
    reached: dict[str, int] = field(default_factory=dict)
    taken: dict[tuple[str, str], int] = field(default_factory=dict)

    @classmethod
    def of(cls, sequence: Sequence) -> Before:
        """Walk ``sequence`` once."""
        before = cls()
        before._through(sequence, 0)
        return before

    def first_shown_late(self, step: str, showing: Iterable[str]) -> bool:
        """Tell whether ``step`` can be reached before any step of ``showing``."""
        wanted = 0
        for name in showing:
            wanted |= self.bits.get(name, 0)
        return step in self.reached and not self.reached[step] & wanted

    def _through(self, sequence: Sequence, seen: int) -> int:
        for entry in sequence:
            if isinstance(entry, StepEntry):
                name = str(entry.step)
                self.reached[name] = self.reached.get(name, seen) & seen
                seen |= self.bits.setdefault(name, 1 << len(self.bits))
            else:
                seen |= self._around(entry, seen)
        return seen

    def _around(self, entry: Choose | Option | Follow, seen: int) -> int:
        choice = str(entry.choice if isinstance(entry, Follow) else entry.id)
        joined = -1
        for branch, inner in branches(entry):
            end = self._through(inner, seen | self.taken.get((choice, str(branch)), 0))
            self.taken[choice, str(branch)] = end
            joined &= end
        return joined


@finds("caution-linked-early", piecewise=True)
def caution_linked_early(library: Library) -> Iterator[Hit]:
    """Yield each link to a caution that stands only after the step that links to it, in the order of reading."""
    doubtful = procedures_with_broken(library, ("step",))
    for procedure in library.procedures:
        if procedure.id not in doubtful:
            yield from _early(procedure)


def _early(procedure: Procedure) -> Iterator[Hit]:
    position: dict[str, int] | None = None
    for id, step in procedure.steps.items():
        for link in step.body.links:
            for target in link.targets if link.kind == "caution" else ():
                caution = procedure.parts.cautions.get(target)
                if caution is None or target in step.cautions or id in caution.guards:
                    continue
                position = position or _positions(procedure)
                standing = [position[name] for name in _standing(procedure, caution) if name in position]
                if id in position and standing and min(standing) > position[id]:
                    yield Hit(
                        target.at,
                        f"{quoted(target)} is linked here, but the caution is shown only at a later step",
                        f"Add `{target}` to `cautions:` of this step, so that it is read first.",
                    )


def _positions(procedure: Procedure) -> dict[str, int]:
    """Return the place of each step in the order of reading."""
    steps = [str(entry.step) for entry in procedure.entries if isinstance(entry, StepEntry)]
    return {name: index for index, name in reversed(list(enumerate(steps)))}


def _standing(procedure: Procedure, caution: Caution) -> Iterator[str]:
    yield from map(str, caution.guards)
    yield from (str(name) for name, step in procedure.steps.items() if caution.id in step.cautions)

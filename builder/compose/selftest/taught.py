"""What a procedure teaches, as the questions of its self-test need it: what is met, touched and at risk at a step."""

from collections.abc import Iterable, Iterator

from builder.compose.view.outline import StepBlock, guarded_steps, outline, step_blocks
from builder.compose.view.words import uncapital
from builder.facts.anatomy import Anatomy, anatomy
from builder.load.program_words import gettext
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step, Structure, StructureKind

_LIKE = (
    {StructureKind.VESSEL},
    {StructureKind.NERVE},
    {StructureKind.DUCT, StructureKind.VISCUS},
    {StructureKind.LIGAMENT, StructureKind.FASCIA, StructureKind.MUSCLE},
    {StructureKind.BONE, StructureKind.LANDMARK},
)
"""Kinds of structures that may be taken for one another."""
_TELLING = 5
"""Letters of a word by which a hazard names a structure."""


class Taught:
    """One procedure: its steps where each has a single place, its cautions, and the structures they deal with."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        self.outline = outline(procedure)
        self.anatomy: Anatomy = anatomy(library).in_approach(procedure)
        every = list(step_blocks(self.outline))
        # A step that comes twice has two places, so no single answer about its place is right.
        twice = {block.step.id for block in every if block.turn > 1}
        self.blocks = [block for block in every if block.step.id not in twice]
        self.cautions = list(procedure.cautions.values())
        self._guarded = {caution.id: guarded_steps(caution, procedure.steps) for caution in self.cautions}
        self.structures = tuple({str(one.id): one for block in self.blocks for one in self._every(block)}.values())

    def guarded(self, caution: Caution) -> list[StepBlock]:
        """Return the steps that ``caution`` guards, in their order."""
        return [block for block in self.blocks if block.step.id in self._guarded[caution.id]]

    def guards(self, block: StepBlock) -> list[Caution]:
        """Return the cautions that guard the step of ``block``."""
        return [caution for caution in self.cautions if block.step.id in self._guarded[caution.id]]

    def named(self, names: Iterable[str]) -> Iterator[Structure]:
        """Yield the structures that ``names`` mean."""
        return (one for name in names if (one := self.anatomy.structure(name)) is not None)

    def touched(self, step: Step) -> Iterator[Structure]:
        """Yield what the actions of ``step`` deal with."""
        for action in step.actions:
            yield from self.named((*action.objects, *filter(None, (action.inside, action.on))))

    def around(self, blocks: Iterable[StepBlock]) -> set[Structure]:
        """Return all that is dealt with, pointed at, or at risk in the steps of ``blocks``."""
        found: set[Structure] = set()
        for block in blocks:
            found |= {*self.touched(block.step), *self.named(block.step.at_risk)}
            found |= {one for caution in self.guards(block) for one in self.named(caution.at_risk)}
        return found

    def met(self, structure: Structure) -> str:
        """Return where ``structure`` is met, in words."""
        for block in self.blocks:
            if structure in self.touched(block.step):
                return gettext(
                    "That is met in step %(number)s: %(title)s.",
                    number=block.number,
                    title=uncapital(str(block.step.title)),
                )
        return ""

    def known(self, blocks: Iterable[StepBlock]) -> set[Structure]:
        """Return what the steps of ``blocks`` name in any way: in an action, a figure, a caution, or the text."""
        named = {one for block in blocks for one in self._every(block)}
        text = " ".join(self.words(block) for block in blocks)
        named |= {one for one in self.structures if is_named(one, text)}
        # Who has seen a muscle has met its aponeurosis too.
        met = {str(one.name).rpartition(" ")[0] for one in named} - {""}
        return named | {one for one in self.structures if str(one.name).rpartition(" ")[0] in met}

    def words(self, block: StepBlock) -> str:
        """Return all that the step of ``block`` says to its reader."""
        step = block.step
        said = (step.title, step.cue, step.if_not, step.why, step.error, step.recovery, step.body.shown)
        return "\n".join(str(text) for text in said if text)

    def hurt_by(self, caution: Caution) -> Structure | None:
        """Return the one structure whose hurt ``caution`` tells; None where its hazard tells of several."""
        risks = list(self.named(caution.at_risk))
        hazard = str(caution.hazard)
        meant = [one for one in risks if is_named(one, hazard) or _last_word(one) in hazard.casefold()] or risks
        return meant[0] if len(meant) == 1 else None

    def cautions_on(self, structure: Structure) -> list[Caution]:
        """Return the cautions whose hazard names ``structure`` by one of its words, those of the fewest first."""
        words = [word for word in str(structure.name).casefold().split() if len(word) >= _TELLING]
        risks = [one for one in self.cautions if structure in self.named(one.at_risk)]
        named = [one for one in risks if any(word in str(one.hazard).casefold() for word in words)]
        return sorted(named, key=lambda one: len(one.at_risk))

    def told(self, structure: Structure) -> str:
        """Return what ``structure`` is, for one who took it wrongly: what follows when it is hurt, else where it is
        met."""
        for caution in self.cautions:
            is_hurt = is_named(structure, str(caution.hazard)) or "cut" in str(caution.hazard)
            if is_hurt and self.hurt_by(caution) is structure:
                return gettext(
                    "Hurt, it shows in another way: %(consequence)s", consequence=uncapital(str(caution.consequence))
                )
        for caution in self.cautions_on(structure)[:1]:
            return gettext(
                "That shows in another way. %(hazard)s: %(consequence)s",
                hazard=caution.hazard,
                consequence=uncapital(str(caution.consequence)),
            )
        return self.met(structure) or gettext("It is not what is hurt here.")

    def alike(self, structure: Structure, others: Iterable[Structure]) -> list[Structure]:
        """Return those of ``others`` that may be taken for ``structure`` by their kind."""
        kinds = next((kinds for kinds in _LIKE if structure.kind in kinds), {structure.kind})
        return [other for other in others if other is not structure and other.kind in kinds]

    def _every(self, block: StepBlock) -> Iterator[Structure]:
        yield from self.touched(block.step)
        yield from self.named(block.step.at_risk)
        for figure in block.step.figure:
            yield from self.named(pointer.structure for pointer in figure.pointers)
        for caution in self.guards(block):
            yield from self.named(caution.at_risk)


def _last_word(structure: Structure) -> str:
    return str(structure.name).casefold().split()[-1]


def is_named(structure: Structure, text: str) -> bool:
    """Tell whether ``text`` calls ``structure`` by one of its names."""
    return any(str(name).casefold() in text.casefold() for name in (structure.name, *structure.also))


def head(block: StepBlock) -> str:
    """Return a step by number and title."""
    return gettext("Step %(number)s, %(title)s.", number=block.number, title=uncapital(str(block.step.title)))


def does(block: StepBlock, verb: Verb) -> bool:
    """Tell whether something is done by ``verb`` in ``block``."""
    return any(action.verb is verb for action in block.step.actions)

"""Questions whose answers are structures: what a mark on a figure shows, what is seen before a cut, what was hurt."""

from collections.abc import Iterator

from builder.compose.selftest.question import LEAST_WRONG, MOST_WRONG, Draft, FigureMark, Question, Reply, mixed
from builder.compose.selftest.taught import Taught, head, is_named
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock, every_block
from builder.compose.view.parts_view import FigureView, StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import capital, uncapital
from builder.findings.message_words import listed
from builder.model.action import CUTS, Action
from builder.model.pages import Caution, Structure, StructureKind

_PLAIN = frozenset({
    StructureKind.SKIN, StructureKind.CAVITY, StructureKind.MUSCLE, StructureKind.BONE, StructureKind.LANDMARK,
})  # fmt: skip
"""Not worth asking about on a figure."""
_TISSUE = frozenset({StructureKind.NERVE, StructureKind.VESSEL, StructureKind.DUCT, StructureKind.VISCUS})
"""What can be hurt, and is then missed."""
_MARKS_OF_ONE, _ENOUGH_FOR_TWO = 2, 6
_ASKED_AS = {StructureKind.NERVE: "Which nerve", StructureKind.VESSEL: "Which vessel"}


def figures(taught: Taught) -> Iterator[Draft]:
    """Ask what a mark on a figure shows: what is at risk before what is not."""
    view = view_of(taught.library, taught.procedure)
    steps = [block for block in every_block(view.blocks) if isinstance(block, StepView)]
    shown = {figure.id: (step.anchor, str(step.page.id), figure) for step in steps for figure in step.figures}
    shown |= {figure.id: (figure.anchor, "", figure) for figure in view.figures}
    at_risk = {one for step in taught.procedure.steps.values() for one in taught.named(step.at_risk)}
    asked: set[str] = set()
    for anchor, step, figure in shown.values():
        names = [pointer.name for pointer in figure.pointers]
        if len(set(names)) < len(names) or len(names) <= MOST_WRONG:
            continue
        marked = [one for one in taught.named(mixed(names, figure.id)) if one.kind not in _PLAIN]
        marked.sort(key=lambda one: one not in at_risk)
        fresh = [one for one in marked if str(one.name) not in asked]
        for structure in fresh[: _MARKS_OF_ONE if len(names) >= _ENOUGH_FOR_TWO else 1]:
            asked.add(str(structure.name))
            yield from _figure(taught, anchor, step, figure, structure)


def _figure(taught: Taught, anchor: str, step: str, figure: FigureView, structure: Structure) -> Iterator[Draft]:
    by_name = {str(one.name): one for one in taught.named(pointer.name for pointer in figure.pointers)}
    pointer = next((one for one in figure.pointers if one.name == str(structure.name)), None)
    if pointer is None:
        return
    alike = {str(one.name) for one in taught.alike(structure, by_name.values())}
    others = [other for other in figure.pointers if other is not pointer]
    others.sort(key=lambda other: (other.name not in alike, by_name[other.name].kind in _PLAIN))
    telling = [other for other in others if by_name[other.name].kind not in _PLAIN]
    others = telling if len(telling) >= MOST_WRONG else others
    pool = [Reply(one.name, f"On the page that is number {one.number} of the figure.") for one in others]
    place = f"On the page it is number {pointer.number} of figure {figure.number}."
    yield Draft(
        f"figure-{figure.id}-{structure.id}", "On the figure", f"Figure {figure.number}: what does the mark show?",
        pointer.name, tuple(pool[: MOST_WRONG + 1]), joined(place, figure.caption), anchor,
        (step,) if step else (), FigureMark(figure, pointer.x, pointer.y),
    )  # fmt: skip


def seen(taught: Taught) -> Iterator[Question]:
    """Ask what must be seen before a structure is clamped, tied, sealed, divided or excised."""
    asked: set[str] = set()
    for block in taught.blocks:
        for action in (action for action in block.step.actions if action.verb in CUTS):
            for structure in taught.named(action.objects):
                first = taught.anatomy.see_first(structure)
                if first and structure.id not in asked:
                    asked.add(str(structure.id))
                    yield from _seen(taught, block, action, structure, first)


def _seen(
    taught: Taught, block: StepBlock, action: Action, structure: Structure, first: tuple[Structure, ...]
) -> Iterator[Question]:
    right = [str(one.name) for one in first]
    here = taught.blocks.index(block)
    met = {one for earlier in taught.blocks[: here + 1] for one in taught.touched(earlier.step)}
    # What was met before, or lies close to any of these, may well have been seen: what comes later is a wrong answer.
    ahead = [
        one
        for later in taught.blocks[here + 1 :]
        for one in taught.touched(later.step)
        if one not in met and not _may_matter(taught, one, structure, first)
    ]
    kinds = {one.kind for one in first} & set(_ASKED_AS)
    wrong = sorted(dict.fromkeys(ahead), key=lambda one: one.kind not in kinds)
    texts = [str(one.name) for one in wrong][: max(LEAST_WRONG, MOST_WRONG + 1 - len(right))]
    if len(texts) < LEAST_WRONG:
        return
    is_nicked = any(one.nick and structure in taught.named(one.objects) for one in block.step.actions)
    through = "A nick lets you look beneath. " if is_nicked else ""
    asks = f"{through}What else must you have seen before you {action.verb.value} the {structure.name}?"
    shown = tuple(mixed([*right, *texts], f"seen-{structure.id}"))
    told = tuple("" if text in right else "It is met only later in the operation." for text in shown)
    proof = f"{capital(listed(right))}: close by, and hurt by a cut that is made without seeing."
    about = tuple(
        str(caution.id) for caution in taught.guards(block) if set(taught.named(caution.at_risk)) & set(first)
    )
    yield Question(
        f"seen-{structure.id}", "See before you cut", "many", asks, shown, tuple(right), told, proof, block.anchor,
        (str(block.step.id), *about),
    )  # fmt: skip


def _may_matter(taught: Taught, one: Structure, structure: Structure, first: tuple[Structure, ...]) -> bool:
    """Tell whether ``one`` may have to be seen as well before ``structure`` is cut."""
    if str(one.name).split()[-1] == str(structure.name).split()[-1]:
        return True
    near = {structure}
    if one.kind in _TISSUE:
        near |= {*first, *(other for other in taught.structures if taught.anatomy.are_close(other, structure))}
    return any(one is other or taught.anatomy.are_close(one, other) for other in near)


def hurt(taught: Taught) -> Iterator[Draft]:
    """Ask which structure a sign points at, and which was hurt when something is lost for good."""
    for caution in taught.cautions:
        risks = list(taught.named(caution.at_risk))
        named = [one for one in risks if is_named(one, str(caution.hazard))]
        if len(named or risks) == 1 and taught.guarded(caution):
            yield from _sign(taught, caution, (named or risks)[0], is_named=bool(named))
            yield from _loss(taught, caution, (named or risks)[0])


def _sign(taught: Taught, caution: Caution, structure: Structure, *, is_named: bool) -> Iterator[Draft]:
    blocks = taught.guarded(caution)
    around = taught.around(blocks)
    pool = [one for one in taught.structures if one.kind is structure.kind and one not in around]
    if caution.sign and structure.kind in _ASKED_AS and (is_named or structure.kind is StructureKind.NERVE):
        where = f"{head(blocks[0])} " if len(blocks) == 1 else ""
        asks = f"{where}You see this: {uncapital(str(caution.sign))} {_ASKED_AS[structure.kind]} do you think of?"
        yield _hurt(taught, "sign", caution, structure, asks, pool)


def _loss(taught: Taught, caution: Caution, structure: Structure) -> Iterator[Draft]:
    # "A nerve does not work" is true of any nerve.
    if structure.kind is not StructureKind.NERVE or structure.kind.value in str(caution.consequence):
        return
    nerves = [one for one in taught.structures if one.kind is structure.kind and one is not structure]
    at_risk = {one for risk in taught.cautions for one in taught.named(risk.at_risk)}
    organs = [one for one in taught.structures if one in at_risk and one.kind in _TISSUE - set(_ASKED_AS)]
    pool = nerves if len(nerves) >= LEAST_WRONG else [*nerves, *organs]
    asks = f"Afterwards: {uncapital(str(caution.consequence))} What was hurt?"
    yield _hurt(taught, "loss", caution, structure, asks, pool)


def _hurt(  # noqa: PLR0913, PLR0917  # a question is all of these
    taught: Taught, name: str, caution: Caution, structure: Structure, asks: str, pool: list[Structure]
) -> Draft:
    proof = joined(
        f"{caution.hazard}: {uncapital(str(caution.consequence))}", f"Avoid it: {uncapital(str(caution.avoid))}"
    )
    blocks = taught.guarded(caution)
    # What is lost with a branch is lost with its nerve too.
    apart = [one for one in pool if str(one.name) not in str(structure.name)]
    replies = tuple(Reply(str(one.name), taught.told(one)) for one in apart)
    return Draft(
        f"{name}-{caution.id}", "What was hurt", asks, str(structure.name), replies, proof, f"caution-{caution.id}",
        (str(caution.id), *(str(block.step.id) for block in blocks if len(blocks) == 1)),
    )  # fmt: skip

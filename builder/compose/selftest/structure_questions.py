"""Questions whose answers are structures: what a mark on a figure shows, what is seen before a cut, what was hurt."""

import re
from collections.abc import Iterator
from math import dist

from builder.compose.selftest.question import LEAST_WRONG, MOST_WRONG, Draft, FigureMark, Question, Reply, mixed
from builder.compose.selftest.taught import Taught, head, is_named
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock, every_block
from builder.compose.view.parts_view import FigureView, StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import series, uncapital
from builder.findings.message_words import capital
from builder.load.program_words import gettext, noted
from builder.model.action import CUTS, SEES, Action
from builder.model.pages import Caution, Structure, StructureKind

_PLAIN = frozenset({
    StructureKind.SKIN, StructureKind.CAVITY, StructureKind.MUSCLE, StructureKind.BONE, StructureKind.LANDMARK,
})  # fmt: skip
"""Not worth asking about on a figure."""
_TISSUE = frozenset({StructureKind.NERVE, StructureKind.VESSEL, StructureKind.DUCT, StructureKind.VISCUS})
"""What can be hurt, and is then missed."""
_OPTIONAL = re.compile(r"\bseen or (?:not|\[?unseen)\b", re.IGNORECASE)
_MARKS_OF_ONE, _ENOUGH_FOR_TWO, _NEAR, _ALIKE = 2, 6, 4, 2
_ASKED_AS = {StructureKind.NERVE: noted("Which nerve"), StructureKind.VESSEL: noted("Which vessel")}


def figures(taught: Taught) -> Iterator[Draft]:
    """Ask what a mark on a figure shows, of what its step has to do with: what is at risk before what is not."""
    view = view_of(taught.library, taught.procedure)
    steps = [block for block in every_block(view.blocks) if isinstance(block, StepView)]
    views = {figure.id: figure for step in steps for figure in step.figures}
    asked: set[str] = set()
    for block in taught.blocks:
        at_risk, touched = set(taught.named(block.step.at_risk)), set(taught.touched(block.step))
        for figure in (views[figure.id] for figure in block.step.figure if figure.id in views):
            names = [pointer.name for pointer in figure.pointers]
            marked = [one for one in taught.named(mixed(names, figure.id)) if one.kind not in _PLAIN]
            marked.sort(key=lambda one: (one not in at_risk, one not in touched))
            fresh = [one for one in marked if str(one.name) not in asked] if len(set(names)) == len(names) else []
            drafts = [draft for one in fresh for draft in _figure(taught, block, figure, one)]
            # Who has told one of four names from the others is not asked for another of the same four.
            apart: dict[frozenset[str], Draft] = {}
            for draft in drafts:
                apart.setdefault(frozenset((draft.right, *(one.text for one in draft.pool))), draft)
            for draft in [*apart.values()][: _MARKS_OF_ONE if len(names) >= _ENOUGH_FOR_TWO else 1]:
                asked.add(draft.right)
                yield draft


def _figure(taught: Taught, block: StepBlock, figure: FigureView, structure: Structure) -> Iterator[Draft]:
    """Ask for ``structure`` among the nearest of its own kind and of the rest; not where none is of its kind."""
    by_name = {str(one.name): one for one in taught.named(pointer.name for pointer in figure.pointers)}
    alike = {str(one.name) for one in taught.alike(structure, by_name.values())}
    told, about = _bearing(taught, block, structure)
    for pointer in (one for one in figure.pointers if one.name == str(structure.name) and told):
        spot = float(pointer.x), float(pointer.y)
        near = sorted(figure.pointers, key=lambda one: dist(spot, (float(one.x), float(one.y))))
        skin = {name for name, one in by_name.items() if one.kind is StructureKind.SKIN}
        near = [one for one in near if one is not pointer and one.name in by_name.keys() - skin]
        # What has the same last name, as one nerve and another, is a rival wherever it lies; so is a layer of a layer.
        layers = {name for name, one in by_name.items() if one.kind is structure.kind is StructureKind.FASCIA}
        kin = layers | {one.name for one in near if one.name.split()[-1] == structure.name.split()[-1]}
        like = [one for one in near if one.name in kin or (one.name in alike and one in near[:_NEAR])]
        like = sorted(like, key=lambda one: one.name not in kin)[:_ALIKE]
        if not like:
            return
        rivals = [*like, *(one for one in near if one not in like)][:MOST_WRONG]
        pool = tuple(
            Reply(one.name, gettext("On the page that is number %(number)s of the figure.", number=one.number))
            for one in rivals
        )
        place = gettext(
            "On the page it is number %(number)s of figure %(figure)s.", number=pointer.number, figure=figure.number
        )
        yield Draft(
            f"figure-{figure.id}-{structure.id}",
            gettext("On the figure"),
            gettext("Figure %(number)s: what does the mark show?", number=figure.number),
            pointer.name,
            pool,
            joined(place, told),
            block.anchor,
            (str(block.step.id), *about),
            FigureMark(figure, pointer.x, pointer.y),
        )


def _bearing(taught: Taught, block: StepBlock, structure: Structure) -> tuple[str, tuple[str, ...]]:
    """Return what ``structure`` has to do with the step of ``block``, else with another, and the caution that says
    so."""
    step = block.step
    here = [caution for caution in taught.guards(block) if structure in taught.named(caution.at_risk)]
    here.sort(key=lambda one: (taught.hurt_by(one) is not structure, len(one.at_risk)))
    named = taught.cautions_on(structure)
    own = [one for one in named if taught.hurt_by(one) is structure and structure.kind in _ASKED_AS]
    verbs = [action.verb.value for action in step.actions if structure in taught.named(action.objects)]
    is_here = verbs or structure in taught.named(step.at_risk) or structure in taught.touched(step)
    for caution in [*here, *own, *(named if not is_here else ())][:1]:
        return _hazard(caution), (str(caution.id),)
    if verbs:
        return gettext(
            "%(block)s There you %(verbs)s it.", block=head(block), verbs=series(list(dict.fromkeys(verbs)))
        ), ()
    if structure in taught.named(step.at_risk):
        return gettext("%(block)s There it is at risk.", block=head(block)), ()
    return gettext("%(block)s There you work on it.", block=head(block)) if is_here else "", ()


def _hazard(caution: Caution) -> str:
    return joined(
        f"{caution.hazard}: {uncapital(str(caution.consequence))}",
        gettext("Avoid it: %(avoid)s", avoid=uncapital(str(caution.avoid))),
    )


def seen(taught: Taught) -> Iterator[Question]:
    """Ask what must be seen before a structure is clamped, tied, sealed, divided or excised."""
    asked: set[str] = set()
    for block in taught.blocks:
        for action in (action for action in block.step.actions if action.verb in CUTS):
            for structure in taught.named(action.objects):
                first = taught.anatomy.see_first(structure)
                if first and structure.id not in asked and _is_required(taught, block, structure, first):
                    asked.add(str(structure.id))
                    yield from _seen(taught, block, action, structure, first)


def _is_required(taught: Taught, block: StepBlock, structure: Structure, first: tuple[Structure, ...]) -> bool:
    """Tell whether the actions see all of ``first`` by the step of ``block``, and no step that deals with
    ``structure`` says that it goes on unseen."""
    blocks = taught.blocks[: taught.blocks.index(block) + 1]
    looks = (action for one in blocks for action in one.step.actions if action.verb in SEES)
    looked_for = {structure for action in looks for structure in taught.named(action.objects)}
    dealing = (one for one in taught.blocks if structure in taught.touched(one.step))
    return looked_for.issuperset(first) and not any(_OPTIONAL.search(taught.words(one)) for one in dealing)


def _seen(
    taught: Taught, block: StepBlock, action: Action, structure: Structure, first: tuple[Structure, ...]
) -> Iterator[Question]:
    right = [str(one.name) for one in first]
    here = taught.blocks.index(block)
    known = taught.known(taught.blocks[: here + 1])
    # What was named before, or lies close to any of these, may well have been seen: what comes later is a wrong answer.
    ahead = [
        one
        for later in taught.blocks[here + 1 :]
        for one in taught.touched(later.step)
        if one not in known and not _may_matter(taught, one, structure, first)
    ]
    kinds = {one.kind for one in first} & set(_ASKED_AS)
    wrong = sorted(dict.fromkeys(ahead), key=lambda one: one.kind not in kinds)
    texts = [str(one.name) for one in wrong][: max(LEAST_WRONG, MOST_WRONG + 1 - len(right))]
    if len(texts) < LEAST_WRONG:
        return
    is_nicked = any(one.nick and structure in taught.named(one.objects) for one in block.step.actions)
    asks = gettext(
        "Which of these must you have seen before you %(verb)s the %(name)s?",
        verb=gettext(action.verb.value),
        name=structure.name,
    )
    if is_nicked:
        asks = f"{gettext('A nick lets you look beneath.')} {asks}"
    shown = tuple(mixed([*right, *texts], f"seen-{structure.id}"))
    told = tuple("" if text in right else gettext("It is met only later in the operation.") for text in shown)
    proof = gettext("%(right)s: close by, and hurt by a cut that is made without seeing.", right=capital(series(right)))
    about = tuple(
        str(caution.id) for caution in taught.guards(block) if set(taught.named(caution.at_risk)) & set(first)
    )
    yield Question(
        f"seen-{structure.id}",
        gettext("See before you cut"),
        "many",
        asks,
        shown,
        tuple(right),
        told,
        proof,
        block.anchor,
        (str(block.step.id), *about),
    )


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
        # What follows from the hurt of one structure or another asks for neither.
        if (structure := taught.hurt_by(caution)) and taught.guarded(caution):
            yield from _sign(taught, caution, structure)
            yield from _loss(taught, caution, structure)


def _sign(taught: Taught, caution: Caution, structure: Structure) -> Iterator[Draft]:
    blocks = taught.guarded(caution)
    around = taught.around(blocks)
    pool = [one for one in taught.structures if one.kind is structure.kind and one not in around]
    is_told = structure.kind is StructureKind.NERVE or is_named(structure, str(caution.hazard))
    if caution.sign and structure.kind in _ASKED_AS and is_told:
        where = f"{head(blocks[0])} " if len(blocks) == 1 else ""
        asks = gettext(
            "%(where)sYou see this: %(sign)s %(which)s do you think of?",
            where=where,
            sign=uncapital(str(caution.sign)),
            which=gettext(_ASKED_AS[structure.kind]),
        )
        yield _hurt(taught, "sign", caution, structure, asks, pool)


def _loss(taught: Taught, caution: Caution, structure: Structure) -> Iterator[Draft]:
    # "A nerve does not work" is true of any nerve.
    if structure.kind is not StructureKind.NERVE or structure.kind.value in str(caution.consequence):
        return
    nerves = [one for one in taught.structures if one.kind is structure.kind and one is not structure]
    at_risk = {one for risk in taught.cautions for one in taught.named(risk.at_risk)}
    organs = [one for one in taught.structures if one in at_risk and one.kind in _TISSUE - set(_ASKED_AS)]
    pool = nerves if len(nerves) >= LEAST_WRONG else [*nerves, *organs]
    asks = gettext("Afterwards: %(consequence)s What was hurt?", consequence=uncapital(str(caution.consequence)))
    yield _hurt(taught, "loss", caution, structure, asks, pool)


def _hurt(  # noqa: PLR0913, PLR0917  # a question is all of these
    taught: Taught, name: str, caution: Caution, structure: Structure, asks: str, pool: list[Structure]
) -> Draft:
    blocks = taught.guarded(caution)
    # What is lost with a branch is lost with its nerve too.
    apart = [one for one in pool if str(one.name) not in str(structure.name)]
    replies = tuple(Reply(str(one.name), taught.told(one)) for one in apart)
    return Draft(
        f"{name}-{caution.id}", gettext("What was hurt"), asks, str(structure.name), replies, _hazard(caution),
        f"caution-{caution.id}", (str(caution.id), *(str(block.step.id) for block in blocks if len(blocks) == 1)),
    )  # fmt: skip

"""Questions of the self-test, made from the model so that each answer is provable from it.

Every question carries its proof, and says of each wrong answer where that is right. What the model leaves open is not
asked: a step is asked about only where one answer is right, and an order only of steps that every way through the
operation meets in that order. A wrong answer is never one that the text makes true here: what concerns the same
structure, is bleeding too, or says nearly the same is not taken for one.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from builder.compose.selftest.question import (
    MOST_WRONG,
    FairChoice,
    FigureMark,
    Question,
    QuestionPlace,
    Reply,
    drawn,
    fair_choice,
    likeness,
    many_right,
    mixed,
    one_right,
    words_of,
)
from builder.compose.slides.slide_text import joined
from builder.compose.view.head import call_of
from builder.compose.view.outline import GRAVITY, Branch, ChoiceBlock, StepBlock, every_block, guarded_steps, outline
from builder.compose.view.parts_view import FigureView, StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import branch_label, capital, item_name, option_words, structure_name, uncapital
from builder.facts.anatomy import Anatomy
from builder.facts.remembered import once_per_library
from builder.findings.message_words import listed
from builder.grouping import grouped
from builder.model.action import CUTS, Action
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step, Structure
from builder.model.sequence import StepEntry

_IN_ORDER, _SHORTEST = 7, 4
_MOST = {
    "order": 3, "seen": 3, "figure": 4, "sign": 4, "happens": 6, "unless": 5, "slip": 3, "call": 2, "avoid": 4,
    "cue": 3, "why": 2, "way": 3, "out": 2,
}  # fmt: skip
"""How many questions of a kind are asked: the fairest of the gravest."""
_MOST_OF_ONE = 2
"""So many of the kinds that ask about cautions are asked about one caution."""
_NEAREST = 7
"""Wrong answers are taken from so many steps or cautions around: those far away are no temptation."""
_SAME_STEP, _SAME_TROUBLE, _BLEEDING = 0.25, 2, "blood"
_POINTING = ("See the ", "It ")
"""How a text begins that cannot be understood away from its place."""


class _Kind(NamedTuple):
    """A kind of question: its ``name``, the ``group`` it stands in, the key of the model that holds its answers, and
    what is told to one who takes the answer of another step or caution."""

    name: str
    group: str
    key: str
    told: str


_SIGN = _Kind("sign", "How it shows", "hazard", "That shows otherwise: {sign}")
_HAPPENS = _Kind("happens", "When it goes wrong", "if_it_happens", "That is done for another trouble: {trouble}.")
_AVOID = _Kind("avoid", "Avoid it", "avoid", "That avoids another trouble: {trouble}.")
_CALL = _Kind("call", "Whom to call", "call", "")
_UNLESS = _Kind("unless", "If not", "if_not", "That is done in step {number}: {title}.")
_SLIP = _Kind("slip", "Put it right", "recovery", "That puts another slip right: {slip}")
_CUE = _Kind("cue", "Go on when", "cue", "That ends step {number}: {title}.")
_WHY = _Kind("why", "Why", "why", "That is why you do step {number}: {title}.")
_OF_CAUTIONS = (_SIGN.name, _HAPPENS.name, _AVOID.name)


@dataclass(frozen=True, slots=True)
class _Posed:
    """A question that may be asked: its ``rank`` (lower is asked first), and what it is ``about``."""

    rank: tuple[int, float]
    about: str
    question: Question


@once_per_library  # the page, the package and the slides ask the same
def questions_of(library: Library, procedure: Procedure) -> tuple[Question, ...]:
    """Return the questions on ``procedure``, in groups, in the order of its steps; equal for equal text."""
    asker = _Asker(library, procedure)
    kinds: dict[str, Callable[[], Iterator[_Posed]]] = {
        "order": asker.orders, "seen": asker.seen, "figure": asker.figures, "sign": asker.signs,
        "happens": asker.happens, "unless": asker.unless, "slip": asker.slips, "call": asker.calls,
        "avoid": asker.avoids, "cue": asker.cues, "why": asker.whys, "way": asker.ways, "out": asker.out,
    }  # fmt: skip
    asked: dict[str, int] = {}
    return tuple(question for kind, pose in kinds.items() for question in _picked(kind, list(pose()), asked))


def _picked(kind: str, posed: Sequence[_Posed], asked: dict[str, int]) -> Iterator[Question]:
    """Yield the best of ``posed``, in their order; cautions that were asked about least come first."""

    def often(one: _Posed) -> int:
        return asked.get(one.about, 0) if kind in _OF_CAUTIONS else 0

    best: list[_Posed] = []
    answers: set[tuple[str, ...]] = set()
    for one in sorted(posed, key=lambda one: (often(one), one.rank)):
        if len(best) < _MOST[kind] and often(one) < _MOST_OF_ONE and one.question.answer not in answers:
            best.append(one)
            answers.add(one.question.answer)
            asked[one.about] = asked.get(one.about, 0) + 1
    return (one.question for one in posed if one in best)


class _Asker:
    """Asks about one procedure."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        self.view = view_of(library, procedure)
        self.outline = outline(procedure)
        blocks = [block for block in every_block(self.outline) if isinstance(block, StepBlock)]
        # A step that comes twice has two places, so no single answer about its place is right.
        twice = {block.step.id for block in blocks if block.turn > 1}
        self.blocks = [block for block in blocks if block.step.id not in twice]
        self.places = {str(block.step.id): place for place, block in enumerate(self.blocks)}
        self.cautions = list(procedure.cautions.values())
        self.guarded = {caution.id: guarded_steps(caution, procedure.steps) for caution in self.cautions}
        on_every_way = {str(entry.step) for entry in procedure.sequence if isinstance(entry, StepEntry)}
        self.in_any_case = [block for block in self.blocks if block.step.id in on_every_way]

    # order and sight

    def orders(self) -> Iterator[_Posed]:
        """Ask for the order of steps that lie on every way."""
        for part in _parts(self.in_any_case):
            titles = [str(block.step.title) for block in part]
            if len(set(titles)) < len(titles):
                continue
            shown = mixed(titles, part[0].anchor)
            shown = shown if shown != titles else shown[::-1]
            told = tuple(f"This is step {part[titles.index(title)].number}." for title in shown)
            numbers = listed([block.number for block in part])
            proof = f"Every way through the operation meets them in this order: steps {numbers}."
            asks = "Put these steps in the order in which they are taught here."
            id = f"order-{part[0].step.id}"
            made = Question(id, "Put in order", "order", asks, tuple(shown), tuple(titles), told, proof, part[0].anchor)
            yield _Posed((0, 0), id, made)

    def seen(self) -> Iterator[_Posed]:
        """Ask what else must be seen before a structure is clamped, tied, sealed, divided or excised."""
        anatomy = Anatomy(self.library)
        asked: set[str] = set()
        for block in self.blocks:
            for deed, words in ((action, words) for action in block.step.actions for words in action.objects):
                structure = anatomy.structure(words) if deed.verb in CUTS else None
                if structure and structure.id not in asked and (first := anatomy.see_first(structure)):
                    asked.add(structure.id)
                    yield from self._seen(block, deed, structure, [str(one.name) for one in first])

    def _seen(self, block: StepBlock, action: Action, structure: Structure, right: list[str]) -> Iterator[_Posed]:
        place, name = self.blocks.index(block), str(structure.name)
        met = {name for earlier in self.blocks[: place + 1] for name in self._structures(earlier.step)}
        # What is met before, or lies close, may well have been seen: only what comes later is a wrong answer.
        close = {str(near.name) for near in self.library.structures if self._are_close(near, structure)}
        ahead = dict.fromkeys(name for later in self.blocks[place + 1 :] for name in self._structures(later.step))
        told = "It is met only later in the operation."
        later = [text for text in ahead if text not in {name, *right, *close, *met}]
        later.sort(key=lambda text: self._kind(text) not in {self._kind(one) for one in right})
        wrong = [Reply(text, told) for text in later]
        proof = f"{capital(listed(right))}: close by, and hurt by a cut that is made without seeing."
        asks = f"What else must you have seen before you {action.verb.value} the {name}?"
        ground = QuestionPlace("See before you cut", proof, block.anchor)
        made = many_right(f"seen-{structure.id}", asks, right, wrong, ground)
        if made:
            yield _Posed((int(not block.step.critical), 0), made.id, made)

    def figures(self) -> Iterator[_Posed]:
        """Ask what a mark on a figure shows."""
        steps = (block for block in every_block(self.view.blocks) if isinstance(block, StepView))
        figures = {figure.id: (step.anchor, figure) for step in steps for figure in step.figures}
        figures |= {figure.id: (figure.anchor, figure) for figure in self.view.figures}
        asked: set[str] = set()
        for anchor, figure in figures.values():
            yield from self._figure(anchor, figure, asked)

    def _figure(self, anchor: str, figure: FigureView, asked: set[str]) -> Iterator[_Posed]:
        names = [pointer.name for pointer in figure.pointers]
        fresh = [pointer for pointer in figure.pointers if names.count(pointer.name) == 1 and pointer.name not in asked]
        at_risk = {
            structure_name(self.library, name) for step in self.procedure.steps.values() for name in step.at_risk
        }
        marked = [pointer for pointer in fresh if pointer.name in at_risk] or fresh
        if not marked or len(set(names)) <= MOST_WRONG:
            return
        pointer = marked[drawn(figure.id, len(marked))]
        asked.add(pointer.name)
        others = [other for other in figure.pointers if other.name != pointer.name]
        others.sort(key=lambda other: self._kind(other.name) != self._kind(pointer.name))
        wrong = tuple(
            Reply(other.name, f"On the page that is number {other.number} of the figure.") for other in others
        )
        asks = f"Figure {figure.number}: which structure does the mark show?"
        told = f"On the page it is number {pointer.number} of figure {figure.number}."
        place = QuestionPlace("On the figure", joined(told, figure.caption), anchor)
        made = one_right(
            FairChoice(f"figure-{figure.id}", asks, pointer.name, wrong[:MOST_WRONG]),
            place,
            FigureMark(figure, pointer.x, pointer.y),
        )
        yield _Posed((0, 0), figure.id, made)

    # when it goes wrong

    def signs(self) -> Iterator[_Posed]:
        """Ask what a sign means."""
        for caution in self.cautions:
            if caution.sign:
                asks = (
                    f"{self._where(caution)}You notice: {uncapital(str(caution.sign))} What has most likely happened?"
                )
                yield from self._about(_SIGN, caution, [asks])

    def happens(self) -> Iterator[_Posed]:
        """Ask what is done when it has gone wrong."""
        for caution in self.cautions:
            seen = f"You see: {uncapital(str(caution.sign))} " if caution.sign else "It has happened. "
            heads = (
                f"{caution.hazard}. {seen}",
                f"{self._where(caution)}{seen}",
                f"{caution.hazard}. It has happened. ",
            )
            yield from self._about(_HAPPENS, caution, [f"{head}What do you do?" for head in heads])

    def avoids(self) -> Iterator[_Posed]:
        """Ask how a danger is avoided."""
        for caution in self.cautions:
            yield from self._about(_AVOID, caution, [f"{caution.hazard}. How do you avoid it?"])

    def calls(self) -> Iterator[_Posed]:
        """Ask whom to call; each role is asked for once."""
        called = grouped((str(caution.call), caution) for caution in self.cautions if caution.call)
        for cautions in called.values():
            posed = [one for caution in cautions for one in self._call(caution)]
            yield from sorted(posed, key=lambda one: one.rank)[:1]

    def _call(self, caution: Caution) -> Iterator[_Posed]:
        guarded = self.guarded[caution.id]
        here = {str(step.call) for id, step in self.procedure.steps.items() if id in guarded}
        here |= {str(other.call) for other in self.cautions if self.guarded[other.id] & guarded}
        called = grouped((str(one.call), one) for one in self.cautions if one.call)
        steps = grouped((str(block.step.call), block.number) for block in self.blocks if block.step.call)
        told = {role: f"That call is for step {numbers[0]}." for role, numbers in steps.items()}
        told |= {
            role: f"That call is for other troubles, such as this: {uncapital(str(some[0].hazard))}."
            for role, some in called.items()
        }
        replies = [Reply(role, words) for role, words in told.items() if role not in here][-MOST_WRONG:]
        seen = f" You see: {uncapital(str(caution.sign))}" if caution.sign else ""
        asks = [f"{caution.hazard}.{seen} Whom do you call?", f"{caution.hazard}. Whom do you call?"]
        yield from self._posed(_CALL, caution, asks, str(caution.call), replies)

    def unless(self) -> Iterator[_Posed]:
        """Ask what is done where the sign to go on does not come."""
        for block in self.blocks:
            head = self._head(block)
            cue = f"You wait for this: {uncapital(str(block.step.cue))} It is not so. " if block.step.cue else ""
            asks = [f"{head} {cue}What do you do?", f"{head} You cannot go on yet. What do you do?"]
            if cue and not str(block.step.cue).startswith(_POINTING):
                asks.append(f"{cue}What do you do?")
            proof = f"Go on when: {uncapital(str(block.step.cue))}" if block.step.cue else ""
            yield from self._of(_UNLESS, block, asks, proof)

    def slips(self) -> Iterator[_Posed]:
        """Ask how a common slip is put right."""
        for block in (block for block in self.blocks if block.step.error):
            asks = f"A common slip: {uncapital(str(block.step.error))} How do you put it right?"
            yield from self._of(_SLIP, block, [asks, f"{self._head(block)} {asks}"], str(block.step.why or ""))

    # steps and ways

    def cues(self) -> Iterator[_Posed]:
        """Ask what tells the operator to go on."""
        for block in (block for block in self.blocks if block.step.critical):
            proof = f"If not: {uncapital(str(block.step.if_not))}" if block.step.if_not else ""
            yield from self._of(_CUE, block, [f"{self._head(block)} When do you go on?"], proof)

    def whys(self) -> Iterator[_Posed]:
        """Ask why a step is done so."""
        for block in self.blocks:
            yield from self._of(_WHY, block, [f"{self._head(block)} Why?"])

    def ways(self) -> Iterator[_Posed]:
        """Ask which step belongs to one way alone, and what the sign of an option asks for."""
        for choice in (block for block in every_block(self.outline) if isinstance(block, ChoiceBlock)):
            for branch in choice.branches:
                own = next((block for block in branch.blocks if isinstance(block, StepBlock)), None)
                if own in self.blocks:
                    yield from self._way(choice, branch, own)

    def _way(self, choice: ChoiceBlock, branch: Branch, own: StepBlock) -> Iterator[_Posed]:
        of_option = choice.kind == "follow" and option_words(choice.title, branch.name)
        way = (
            f"{capital(of_option or '')}, as decided before."
            if of_option
            else (f"{choice.title}: {uncapital(branch_label(branch.name))}.")
        )
        sign = choice.when if choice.kind == "option" else ""
        asks = f"{sign or way} Which of these steps is done only then?"
        others = (block for other in choice.branches if other is not branch for block in other.blocks)
        apart = [block for block in others if isinstance(block, StepBlock)]
        replies = [Reply(str(block.step.title), f"Step {block.number} belongs to another way.") for block in apart]
        replies += [
            Reply(str(block.step.title), f"Step {block.number} is done in any case.") for block in self.in_any_case
        ]
        fair = fair_choice(f"way-{own.step.id}-{branch.name}", [asks], str(own.step.title), replies)
        why = joined(f"{choice.title}: {uncapital(choice.when)}" if choice.when else way, own.step.why)
        place = QuestionPlace("Choices", f"Step {own.number}. {why}", own.anchor)
        yield from _made(fair, place, (0, str(own.step.id)))

    def out(self) -> Iterator[_Posed]:
        """Ask how long what stays does stay."""
        items = [item for item in self.procedure.aftercare_items.values() if item.when.until]
        stays = [item_name(self.library, item.concerns) for item in items if item.concerns]
        times = {str(item.when.until).removeprefix("until "): item for item in reversed(items)}
        for item in (item for item in items if item.concerns):
            name, until = item_name(self.library, str(item.concerns)), str(item.when.until).removeprefix("until ")
            # "Until the drain is out" is true of any drain, and tells nothing.
            replies = [
                Reply(f"Until {time}", f"That is the end of something else: {uncapital(str(other.title))}.")
                for time, other in times.items()
                if _can_be_told(until, time) and not words_of(name) & words_of(time)
            ]
            asks = f"How long does this stay: {name}?"
            fair = fair_choice(f"out-{item.id}", [asks], f"Until {until}", replies) if stays.count(name) == 1 else None
            yield from _made(fair, QuestionPlace("What comes out", f"{item.title}.", f"aftercare-{item.id}"), (0, ""))

    # what all share

    def _about(self, kind: _Kind, caution: Caution, asks: Sequence[str]) -> Iterator[_Posed]:
        """Pose a question whose answers are what cautions say: those of other troubles nearby are wrong."""
        replies = (
            Reply(str(text), kind.told.format(trouble=uncapital(str(other.hazard)), sign=uncapital(str(other.sign))))
            for other in self._apart(caution)
            if (text := getattr(other, kind.key)) and other.sign
        )
        if right := getattr(caution, kind.key):
            yield from self._posed(kind, caution, asks, str(right), replies)

    def _posed(
        self, kind: _Kind, caution: Caution, asks: Sequence[str], right: str, replies: Iterable[Reply]
    ) -> Iterator[_Posed]:
        call = call_of(self.library, caution.call)
        shows = f"How it shows: {uncapital(str(caution.sign))}" if caution.sign else ""
        more = {_SIGN: f"Avoid it: {uncapital(str(caution.avoid))}", _AVOID: shows}.get(kind, "")
        called = f"Call: {call.role}, {call.number}." if call and kind is not _AVOID else ""
        proof = joined(f"{caution.hazard}: {uncapital(str(caution.consequence))}", more, called)
        fair = fair_choice(f"{kind.name}-{caution.id}", asks, right, replies)
        place = QuestionPlace(kind.group, proof, f"caution-{caution.id}")
        yield from _made(fair, place, (GRAVITY[caution.signal], str(caution.id)))

    def _of(self, kind: _Kind, block: StepBlock, asks: Sequence[str], proof: str = "") -> Iterator[_Posed]:
        """Pose a question whose answers are what steps say: those of other steps nearby are wrong."""
        right = getattr(block.step, kind.key)
        if not right or str(right).startswith(_POINTING):
            return
        here = self.blocks.index(block)
        near = sorted(self.blocks, key=lambda other: abs(self.blocks.index(other) - here))
        replies = []
        for other in (other for other in near if other is not block):
            text, title = getattr(other.step, kind.key), str(other.step.title)
            if text and not str(text).startswith(_POINTING) and likeness(str(block.step.title), title) < _SAME_STEP:
                slip = uncapital(str(other.step.error or ""))
                told = kind.told.format(number=other.number, title=uncapital(title), slip=slip)
                replies.append(Reply(str(text), told))
        fair = fair_choice(f"{kind.name}-{block.step.id}", asks, str(right), replies[:_NEAREST])
        place = QuestionPlace(kind.group, joined(self._head(block), proof), block.anchor)
        yield from _made(fair, place, (int(not block.step.critical), str(block.step.id)))

    def _head(self, block: StepBlock) -> str:
        return f"Step {block.number}, {uncapital(str(block.step.title))}."

    def _where(self, caution: Caution) -> str:
        """Return at which step a caution is met; "" where it may be at one of several."""
        numbers = [block.number for block in self.blocks if block.step.id in self.guarded[caution.id]]
        return f"Step {numbers[0]}. " if len(numbers) == 1 else ""

    def _apart(self, caution: Caution) -> list[Caution]:
        """Return the cautions of other troubles, the nearest first: not of the same structure, not both of bleeding,
        and not told in the same words."""
        here = self._place_of(caution)
        apart = []
        for other in (other for other in self.cautions if other is not caution):
            shared = words_of(_trouble(caution)) & words_of(_trouble(other))
            same = {str(name) for name in caution.at_risk} & {str(name) for name in other.at_risk}
            if not same and len(shared) < _SAME_TROUBLE and _BLEEDING not in shared:
                apart.append(other)
        return sorted(apart, key=lambda other: abs(self._place_of(other) - here))[:_NEAREST]

    def _place_of(self, caution: Caution) -> int:
        here = (self.places[id] for id in self.guarded[caution.id] if id in self.places)
        return min(here, default=len(self.places))

    def _kind(self, words: str) -> str:
        structure = self.library.structures.find(words)
        return str(structure.kind) if structure else ""

    def _structures(self, step: Step) -> Iterator[str]:
        objects = (words for action in step.actions for words in action.objects)
        return (str(found.name) for words in objects if (found := self.library.structures.find(words)))

    def _are_close(self, structure: Structure, other: Structure) -> bool:
        return any(
            self.library.structures.find(words) is far
            for near, far in ((structure, other), (other, structure))
            for words in near.close_to
        )


def _made(fair: FairChoice | None, place: QuestionPlace, rank: tuple[int, str]) -> Iterator[_Posed]:
    """Yield the question where it can be asked fairly; ``rank`` is its gravity, and what it is about."""
    if fair:
        yield _Posed((rank[0], fair.cost), rank[1], one_right(fair, place))


def _can_be_told(until: str, other: str) -> bool:
    """Tell whether two ends are surely not the same time: two spans that differ, or two events of other words."""
    spans = [text[:1].isdigit() for text in (until, other)]
    return until != other and (all(spans) or not (any(spans) or words_of(until) & words_of(other)))


def _trouble(caution: Caution) -> str:
    return " ".join(str(text) for text in (caution.hazard, caution.consequence, caution.sign) if text)


def _parts(blocks: Sequence[StepBlock]) -> Iterator[Sequence[StepBlock]]:
    """Cut ``blocks`` into runs of about equal length, short enough to be put in order from memory."""
    count = -(-len(blocks) // _IN_ORDER)
    for part in range(count):
        run = blocks[part * len(blocks) // count : (part + 1) * len(blocks) // count]
        if len(run) >= _SHORTEST:
            yield run

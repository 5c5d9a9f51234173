"""Steps in order: what prepares an operation comes before the cut, and no step is there twice by a slip.

The order is that of any operation (common practice; the antibiotic before the cut as in the WHO surgical safety
checklist, 2009, from memory): the patient is positioned, the skin prepared, then draped, the antibiotic is in, then the
skin is cut. Only the first of each kind is looked at: who cleans or gives a second dose later has done it before.
"""

import re
from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.check.rules.told_too_late import CLEANS, PATIENT, told_too_late
from builder.facts.anatomy import Anatomy, anatomy
from builder.facts.clauses import Mood, base
from builder.facts.graph import Graph, GraphNode, NodeKind, graph_of
from builder.facts.remembered import once_per_library
from builder.facts.stems import stems
from builder.facts.told_actions import clauses_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Step, StructureKind
from builder.place import Place, Text

_AGAIN = re.compile(
    r"\b(?:again|second|another|next|repeat\w*|once more|close|dress|stitch|suture|wound)\b", re.IGNORECASE
)
_JOINED = re.compile(r",? and (?!drape)|, (?!drape|and drape)")
_CLEANS = rf"\b{CLEANS}"
_DRAPES = r"\bdrape the (?!microscope|table|trolley|machine|camera|probe)"
_SKIN = re.compile(
    rf"{_CLEANS}\b.*\b(?:skin|antiseptic|chlorhexidine|iodine|field)\b|{_CLEANS}(?:,| and) drape\b|{_DRAPES}",
    re.IGNORECASE,
)
_ANTIBIOTIC = re.compile(r"\b(?:give|inject|infuse|administer)\b.*\bantibiotics?\b", re.IGNORECASE)
_POSITION = re.compile(rf"\b(?:lay|position|turn|place|put|sit|roll)\b.{{0,12}}\b{PATIENT}\b", re.IGNORECASE)
_DRAPE = re.compile(rf"{_DRAPES}|\band drape\b|, drape\b", re.IGNORECASE)
_PREPARING = (
    "clean", "prep", "paint", "disinfect", "scrub", "drape", "antibiotic", "lay", "position", "turn", "place", "put",
    "sit", "roll",
)  # fmt: skip
"""What a title has in it that says any of these."""

_ANTISEPTICS = re.compile(r"antiseptic|chlorhexidine|iodine|skin prep", re.IGNORECASE)
# Stems of the International Nonproprietary Names (WHO) for antibacterials, and what is not named by one.
_ANTIBIOTICS = re.compile(
    r"antibiotic|\bcef|cillin\b|clav\b|mycin\b|micin\b|planin\b|oxacin\b|penem\b|nidazole\b|cycline\b", re.IGNORECASE
)
_DOES = frozenset({Verb.OPEN, Verb.DIVIDE, Verb.EXCISE, Verb.CLOSE, Verb.TIE, Verb.SEAL, Verb.SUTURE, Verb.CLAMP})
_ONCE = frozenset({Verb.OPEN, Verb.DIVIDE, Verb.EXCISE})
"""What cannot be done a second time to the same thing."""

_LONG_ENOUGH = 60
"""Characters of prose that nobody writes twice by chance."""


@lru_cache(maxsize=4096)
def _prepares(title: str) -> bool:
    small = title.lower()
    return any(words in small for words in _PREPARING)


class _Moment(NamedTuple):
    """A step on the way: where it stands in the sequence, and in it after how many actions."""

    node: GraphNode
    after: int
    step: Step
    at: Place


class _Way:
    """A procedure's steps in order, and where each thing that is asked about is first done."""

    def __init__(self, graph: Graph, anatomy: Anatomy) -> None:
        self.graph = graph
        self.anatomy = anatomy
        self.steps = [(node, node.step) for node in graph.nodes if node.step is not None]
        self.preparing = [(node, step) for node, step in self.steps if _prepares(step.title)]

    def titled(self, words: re.Pattern[str]) -> Iterator[_Moment]:
        for node, step in self.preparing:
            match = words.search(step.title)
            if match is not None and not _AGAIN.search(_JOINED.split(step.title[match.start() :])[0]):
                yield _Moment(node, -1, step, step.title.at)

    @cached_property
    def deeds(self) -> list[tuple[Verb, GraphNode, int, Step, Text]]:
        """Each action on each thing: the verb, the node, its number in the step, the step and the thing."""
        return [
            (action.verb, node, number, step, name)
            for node, step in self.steps
            for number, action in enumerate(step.actions)
            for name in action.objects
        ]

    def acted(self, *verbs: Verb) -> Iterator[tuple[_Moment, Text]]:
        for verb, node, number, step, name in self.deeds:
            if verb in verbs:
                yield _Moment(node, number, step, name.at), name

    def cut(self) -> _Moment | None:
        """Return where skin is first opened."""
        for moment, name in self.acted(Verb.OPEN):
            structure = self.anatomy.structure(name)
            if structure is not None and structure.kind is StructureKind.SKIN:
                return moment
        return None

    def given(self, names: re.Pattern[str], *verbs: Verb) -> Iterator[_Moment]:
        for moment, name in self.acted(*verbs):
            item = self.anatomy.item(name)
            if item is not None and names.search(item.name):
                yield moment

    def apart(self, one: GraphNode, other: GraphNode) -> bool:
        """Tell whether no path comes to both, ``one`` first."""
        reached = {one.index}
        for node in self.graph.nodes[one.index + 1 : other.index + 1]:
            if any(edge.source in reached for edge in node.into):
                reached.add(node.index)
        if other.index not in reached:
            return True
        taken = dict(self.graph.within[one.index])
        return any(taken.get(choice, branch) != branch for choice, branch in self.graph.within[other.index])


@once_per_library
def _ways(library: Library) -> tuple[_Way, ...]:
    catalogues = anatomy(library)
    return tuple(_Way(graph_of(library, procedure), catalogues) for procedure in library.procedures)


def _first(*kinds: Iterator[_Moment]) -> _Moment | None:
    return min((moment for kind in kinds for moment in kind), key=lambda one: (one.node.index, one.after), default=None)


@finds("prepared-too-late", piecewise=True)
def prepared_too_late(library: Library) -> Iterator[Hit]:
    """Yield what prepares the operation and is first done after what it prepares for."""
    for way in _ways(library):
        cut = way.cut()
        # A title promises; where an action does it, that is when it is done.
        skin = _first(way.given(_ANTISEPTICS, Verb.IRRIGATE)) or _first(way.titled(_SKIN))
        antibiotic = _first(way.given(_ANTIBIOTICS, Verb.INJECT)) or _first(way.titled(_ANTIBIOTIC))
        for moment, what in ((skin, "the skin is prepared"), (antibiotic, "the antibiotic is given")):
            if moment is not None and cut is not None and _too_late(way, moment, cut):
                yield _late(moment, what, "the skin is cut", cut)
        yield from told_too_late([step for _, step in way.steps], cut and cut.step)
        yield from _told_too_early(library, [step for _, step in way.steps])
        drapes, position = _first(way.titled(_DRAPE)), _first(way.titled(_POSITION))
        if drapes is not None and position is not None and _too_late(way, position, drapes):
            # After the cut a patient is turned for another reason.
            late = cut is None or position.node.index < cut.node.index
            yield from (_late(position, "the patient is positioned", "the drapes are on", drapes),) if late else ()


_NOW = re.compile(r"\b(?:now|already|straight away|at once|immediately)\b", re.IGNORECASE)


def _told_too_early(library: Library, steps: Sequence[Step]) -> Iterator[Hit]:
    """Yield what a step says is done now, where the title of a later step is the first that does it."""
    does = [frozenset(map(base, _TITLE_WORD.findall(step.title))) - {""} for step in steps]
    for number, step in enumerate(steps):
        for clause in clauses_of(library, step) if _NOW.search(step.body.source) else ():
            said = step.body.shown[clause.begin : clause.stop]
            if clause.mood is not Mood.DONE or clause.negated or clause.verb in does[number] or not _NOW.search(said):
                continue
            later = next((one for one in range(number + 1, len(steps)) if clause.verb in does[one]), None)
            if later is not None and _is_named(said, steps[later].title, step.title):
                message = f"{quoted(' '.join(said.split()))} comes too early: a later step does it"
                also = (SecondPlace(steps[later].title.at, "the step that does it"),)
                yield Hit(step.body.place(clause.begin), message, "Write it in the step in which it is done.", also)


_TITLE_WORD = re.compile(r"[A-Za-z]+")


def _is_named(said: str, later: str, own: str) -> bool:
    """Tell whether ``later`` names what is ``said``, or what ``it`` means after the title ``own``."""
    return bool(stems(later) & stems(own if _IT.match(said) else said) - stems("now already once away"))


_IT = re.compile(r"\W*(?:it|they)\b", re.IGNORECASE)


def _too_late(way: _Way, moment: _Moment, before: _Moment) -> bool:
    same = moment.node is before.node
    later = moment.after > before.after >= 0 if same else moment.node.index > before.node.index
    return later and not way.apart(before.node, moment.node)


def _late(moment: _Moment, what: str, mark: str, before: _Moment) -> Hit:
    message = f"{quoted(moment.step.title)}: {what} only after {mark}"
    hint = "Move it before that, or write the step that is missing there."
    return Hit(moment.at, message, hint, (SecondPlace(before.at, f"{mark} here"),))


@finds("step-repeated", piecewise=True)
def repeated(library: Library) -> Iterator[Hit]:
    """Yield each step that does or says the same as an earlier one on the same path: it was pasted twice."""
    for way in _ways(library):
        first: dict[object, tuple[GraphNode, Step]] = {}
        told: set[str] = set()
        cut_at: dict[str, GraphNode] = {}
        last: Step | None = None
        for node, step in way.steps:
            again = last is step or (step.id in cut_at and not way.apart(cut_at[step.id], node))
            if again and step.id not in told:
                told.add(step.id)
                yield _twice(step, step)
            last = step
            if any(action.verb in _ONCE for action in step.actions):
                cut_at.setdefault(step.id, node)
            for mark in _marks(step):
                other_node, other = first.setdefault(mark, (node, step))
                if other is not step and step.id not in told and not way.apart(other_node, node):
                    told.add(step.id)
                    yield _twice(step, other)


_SEES = (Verb.IDENTIFY, Verb.EXPOSE, Verb.INSPECT)
_HIDDEN = frozenset({StructureKind.NERVE, StructureKind.VESSEL, StructureKind.DUCT})


@finds("protected-unseen", piecewise=True)
def protected_unseen(library: Library) -> Iterator[Hit]:
    """Yield each nerve, vessel or duct that is protected in a wound and that no step up to there sees."""
    for way in _ways(library):
        seen: dict[str, int] = {}
        for moment, name in way.acted(*_SEES):
            if (structure := way.anatomy.structure(name)) is not None:
                seen.setdefault(structure.id, moment.node.index)
        opened = next((moment for moment, _ in way.acted(Verb.OPEN)), None)
        told: set[str] = set()
        for moment, name in way.acted(Verb.PROTECT) if opened is not None else ():
            structure = way.anatomy.structure(name)
            is_hidden = structure is not None and structure.kind in _HIDDEN and structure.id not in told
            if structure is None or not is_hidden or opened is None:
                continue
            if moment.node.index <= opened.node.index or way.apart(opened.node, moment.node):
                continue
            if seen.get(structure.id, moment.node.index + 1) > moment.node.index:
                told.add(structure.id)
                message = f"{quoted(name)} is protected here, but no step up to here says that it is seen"
                yield Hit(name.at, message, f"Write `identify: {name}` before it.")


@finds("placed-in-protected", piecewise=True)
def placed_in_protected(library: Library) -> Iterator[Hit]:
    """Yield each thing that is placed in what the same step protects: it goes beside it."""
    catalogues = anatomy(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            guarded = {
                catalogues.structure(name)
                for action in step.actions
                if action.verb is Verb.PROTECT
                for name in action.objects
            }
            for action in step.actions:
                inside = catalogues.structure(action.inside) if action.verb is Verb.PLACE and action.inside else None
                if inside is not None and inside in guarded and action.inside is not None:
                    message = f"{quoted(action.inside)} is where something is placed, but this step protects it"
                    yield Hit(action.inside.at, message, "Write where it is placed, or leave out that it is protected.")


@finds("step-after-end", piecewise=True)
def after_end(library: Library) -> Iterator[Hit]:
    """Yield each step that no path comes to, because the operation always stops or converts before it."""
    for way in _ways(library):
        reached = {node.index for node in way.graph.nodes if node.kind is NodeKind.START}
        ends: Step | None = None
        for node in way.graph.nodes:
            if any(edge.source in reached for edge in node.into):
                reached.add(node.index)
                if node.step is not None and node.step.ends:
                    ends = node.step
            elif node.step is not None and ends is not None:
                message = f"{quoted(node.step.title)} is never reached: the operation ends before it on every path"
                hint = "Put the step that ends the operation into a choice or an option, or move this step before it."
                where = ends.where.key("stops_here" if ends.stops_here else "converts_to")
                yield Hit(node.step.title.at, message, hint, (SecondPlace(where, "it ends here"),))
                break


def _twice(step: Step, other: Step) -> Hit:
    if step is other:
        message = f"{quoted(step.title)} comes twice in the sequence"
        hint = "Remove one of the two from `sequence:`, or write what differs the second time as a step of its own."
        return Hit(step.title.at, message, hint)
    message = f"{quoted(step.title)} says the same as {quoted(other.title)}"
    hint = "Remove one of the two from `sequence:`, or write in it what is done differently."
    return Hit(step.title.at, message, hint, (SecondPlace(other.title.at, "the step that it repeats"),))


def _marks(step: Step) -> Iterator[object]:
    """Yield what no two steps of one path share by chance: a run of actions that do something, or a paragraph."""
    if len(step.actions) > 1 and any(action.verb in _DOES for action in step.actions):
        yield tuple(_mark(action) for action in step.actions)
    if len(step.body.source) >= _LONG_ENOUGH:
        yield step.body.source.strip()


def _mark(action: Action) -> tuple[object, ...]:
    return action.verb, action.objects, action.using, action.side, action.number, action.inside, action.on, action.what

"""What stands on a card, by importance: dangers, steps with what to see before going on, whom to call; then the rest.

Each part of a line has a level. What is on ``MUST`` stands on every card; a card shows all levels up to one of them, so
that importance decides what is shown and never what happens to fit. Steps and dangers keep the number and letter they
have on the card of every way.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

from builder.compose.card.ways import Choices, walked_blocks, way_of
from builder.compose.document import Must, promised
from builder.compose.view.head import call_of
from builder.compose.view.outline import (
    GRAVITY,
    Block,
    StepBlock,
    cautions_met,
    guarded_steps,
    in_time,
    outline,
    step_blocks,
)
from builder.compose.view.words import (
    branch_label,
    option_words,
    sentence,
    series,
    structure_name,
    uncapital,
    when_words,
)
from builder.facts.stems import stems
from builder.findings.message_words import capital
from builder.load.program_words import gettext, noted
from builder.model.action import CUTS, Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step, StructureKind
from builder.place import NOWHERE, Place

MUST, AVOID, BEFORE, IF_NOT, OTHER_CUES, AFTERCARE, CALL_AGAIN = LEVELS = range(7)
"""The most important first. Common practice, ours to set: what protects the patient now, then what prevents."""
LEVEL_WORDS = (
    "dangers with how each shows and what to do, steps, what to see first, go on when of critical steps, counts, calls",
    "how to avoid each danger",
    "before you start",
    "what to do if a critical step does not go as it should",
    "go on when of the other steps",
    "aftercare",
    "the number to call, again at each danger and step",
)
TITLES = {
    "danger": noted("kills or maims"),
    "warning": noted("can kill or maim"),
    "caution": noted("can harm"),
    "notice": noted("take note"),
    "steps": noted("Steps"),
    "calls": noted("Call"),
    "before": noted("Before you start"),
    "aftercare": noted("Aftercare"),
}
"""The places in the order of the plan; each signal word stands once, as the head of its dangers."""
LABELS = {
    "avoid": noted("Avoid it:"),
    "sign": noted("How it shows:"),
    "act": noted("If it happens:"),
    "see": noted("See first:"),
    "cue": noted("Go on when:"),
    "if-not": noted("If not:"),
    "call": noted("Call:"),
    "unmet": noted("Stuck at step:"),
}
SHORT_LABELS = {**LABELS, "sign": "", "act": "→", "see": noted("See:"), "cue": "✓", "unmet": noted("no ✓:")}
"""On paper two labels of a danger and one of a step are signs, explained once in the head."""


def labels_in(labels: Mapping[str, str]) -> dict[str, str]:
    """Return ``labels`` or titles in the language that is spoken."""
    return {name: gettext(label) if label else "" for name, label in labels.items()}


_IN_THE_WAY = (StructureKind.NERVE, StructureKind.VESSEL, StructureKind.DUCT)
_LETTERS = ascii_uppercase.replace("I", "").replace("O", "")
_KINDS = {"steps": "step", "calls": "call", "before": "before", "aftercare": "aftercare"}
_COUNT_AGAIN = noted("Count all again.")
_TELLS_COUNT = re.compile(r"\bcount", re.IGNORECASE)
_NO_BREAK = "\u00a0"  # a number to call is never parted


@dataclass(frozen=True, slots=True)
class LinePart:
    """A part of a line: its ``role`` (that of its label, or "" for none), its words, and from which level it stands."""

    role: str
    text: str
    level: int


@dataclass(frozen=True, slots=True)
class CardLine:
    """A line of the plan.

    ``number`` stands in the rail, ``lead`` before the first part (a branch), ``marks`` are the letters of the dangers
    that guard a step, ``gap`` tells that steps of other ways would stand before it.
    """

    section: str
    id: str
    parts: tuple[LinePart, ...]
    number: str = ""
    lead: str = ""
    critical: bool = False
    marks: tuple[str, ...] = ()
    gap: bool = False
    sources: tuple[str, ...] = ()
    at: Place = NOWHERE

    @property
    def kind(self) -> str:
        """What build-report.json calls it."""
        return _KINDS.get(self.section, "caution")

    @property
    def guards(self) -> str:
        """The letters of the dangers that guard a step, after one triangle."""
        return _triangle(self.marks)

    def shown(self, level: int) -> tuple[LinePart, ...]:
        """Return the parts that stand on a card that shows everything up to ``level``."""
        return tuple(part for part in self.parts if part.level <= level)

    def musts(self, level: int) -> Iterator[Must]:
        """Yield what a card that shows everything up to ``level`` promises of this line."""
        shown = self.shown(level)
        for first in shown[:1]:
            words = (self.number, f"{self.lead}:" if self.lead else "", first.text, self.guards)
            yield Must(self.kind, self.id, " ".join(word for word in words if word))
        yield from promised(f"{self.kind}-line", self.id, *(part.text for part in shown[1:]))


def plan_of(library: Library, procedure: Procedure, choices: Choices | None = None) -> tuple[CardLine, ...]:
    """Return the lines of the card of ``procedure``, or of one way through it, in the order of the plan."""
    whole = outline(procedure)
    blocks, way = whole, procedure
    if choices:
        blocks, way = walked_blocks(whole, choices), way_of(procedure, choices, library.items)
    letters = letters_of(procedure, whole)
    dangers = {letters[id]: way.cautions[id] for id in letters if id in way.cautions}
    before = (
        CardLine("before", f"before-{at}", (LinePart("", str(line), BEFORE),), number="□", at=line.at)
        for at, line in enumerate(way.before_you_start, start=1)
    )
    return (
        *(_danger(library, letter, caution) for letter, caution in dangers.items()),
        *_steps(library, way, blocks, dangers),
        *_calls(library, blocks, dangers),
        *before,
        *_aftercare(way),
    )


def letters_of(procedure: Procedure, blocks: tuple[Block, ...]) -> Mapping[str, str]:
    """Return the letter of each caution by its id, the gravest first: A to Z, then AA; I and O look like numbers."""
    met = sorted(cautions_met(procedure, blocks), key=lambda caution: GRAVITY[caution.signal])
    return {str(caution.id): _letter(at) for at, caution in enumerate(met)}


def _letter(at: int) -> str:
    before = _letter(at // len(_LETTERS) - 1) if at >= len(_LETTERS) else ""
    return before + _LETTERS[at % len(_LETTERS)]


def _triangle(letters: Sequence[str]) -> str:
    """Return ``letters`` after one triangle; where there are so many that some are of two signs, a gap parts them."""
    return f"▲{(' ' if any(letter[1:] for letter in letters) else '').join(letters)}" if letters else ""


def _danger(library: Library, letter: str, caution: Caution) -> CardLine:
    said = (
        LinePart("", _ended(caution.hazard), MUST),
        LinePart("sign", caution.sign or "", MUST),
        LinePart("act", caution.if_it_happens or "", MUST),
        LinePart("avoid", caution.avoid, AVOID),
        LinePart("call", _number(library, caution.call), CALL_AGAIN),
    )
    return CardLine(
        caution.signal.value, f"caution-{caution.id}", _told(said), number=letter,
        sources=tuple(str(citation.source) for citation in caution.evidence), at=caution.hazard.at,
    )  # fmt: skip


def _told(parts: Iterable[LinePart]) -> tuple[LinePart, ...]:
    return tuple(part for part in parts if part.text)


def _ended(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."


def _steps(
    library: Library, procedure: Procedure, blocks: tuple[Block, ...], dangers: Mapping[str, Caution]
) -> Iterator[CardLine]:
    see_first = _see_first(library, procedure, blocks)
    guarded = {letter: guarded_steps(caution, procedure.steps) for letter, caution in dangers.items()}
    last, counted = 0, ""
    for lead, block in _led(blocks, ""):
        step = block.step
        position = int(re.match(r"\d+", block.number)[0])  # type: ignore[index]  # a number begins with its position
        count = _counts(library, step)
        told = gettext(_COUNT_AGAIN) if count and count == counted else count  # what is counted is told once
        counted = count or counted
        said = (
            LinePart("", _ended(step.title), MUST),
            LinePart("see", _ended(series(see_first[block.anchor])) if see_first[block.anchor] else "", MUST),
            LinePart("count", "" if told == gettext(_COUNT_AGAIN) and _TELLS_COUNT.search(step.title) else told, MUST),
            LinePart("cue", step.cue or "", MUST if step.critical else OTHER_CUES),
            LinePart("if-not", step.if_not or "", IF_NOT if step.critical else OTHER_CUES),
            LinePart("call", _number(library, step.call), CALL_AGAIN),
        )
        yield CardLine(
            "steps", block.anchor, _told(said), block.number, lead, step.critical,
            marks=tuple(letter for letter, steps in guarded.items() if step.id in steps),
            gap=position > last + 1, at=step.title.at,
        )  # fmt: skip
        last = position


def _counts(library: Library, step: Step) -> str:
    said = (f"{sentence(library, action)}." for action in step.actions if action.verb is Verb.COUNT)
    return " ".join(dict.fromkeys(said))


def _led(blocks: Iterable[Block], lead: str) -> Iterator[tuple[str, StepBlock]]:
    """Yield each step with the words that say when it is done: the branch, or the option."""
    for block in blocks:
        if isinstance(block, StepBlock):
            yield lead, block
            continue
        for branch in block.branches:
            own = option_words(block.title, branch.name) or uncapital(branch_label(branch.name))
            yield from _led(branch.blocks, f"{lead}, {own}" if lead else capital(own))


def _see_first(library: Library, procedure: Procedure, blocks: tuple[Block, ...]) -> Mapping[str, list[str]]:
    """Return by step what is seen there for the first time and can be hurt: a nerve, vessel, duct or organ that is cut
    anywhere, what a step or a caution says is at risk, and what the catalogue says must be seen first."""
    steps = [block.step for block in step_blocks(blocks)]
    hurt = {structure_name(library, name) for name in _at_risk(library, procedure, steps)}
    first: dict[str, list[str]] = {}

    def walk(blocks: Iterable[Block], seen: frozenset[str]) -> frozenset[str]:
        for block in blocks:
            if isinstance(block, StepBlock):
                names = dict.fromkeys(structure_name(library, name) for name in _looked_at(library, block.step))
                told = (name for name in names if name in hurt or _is_seen_first(library, name))
                said = f"{block.step.title} {block.step.cue if block.step.critical else ''}"  # stands beside it
                first[block.anchor] = [name for name in told if name not in seen and not _is_told(name, said)]
                seen |= frozenset(names)
            else:  # what was seen in one branch only was not seen by whoever walks another
                after = [walk(branch.blocks, seen) for branch in block.branches]
                seen = frozenset.intersection(*after) if len(after) > 1 else seen
        return seen

    walk(blocks, frozenset())
    return first


def _is_told(name: str, text: str) -> bool:
    """Tell whether ``text`` says what is meant by ``name``: two words of three, as "the recurrent nerve" does."""
    words = stems(name)
    return name in text or len(words & stems(text)) * 3 >= len(words) * 2


def _looked_at(library: Library, step: Step) -> Iterator[str]:
    """Yield what ``step`` identifies, and the nerves, vessels and ducts that it inspects; to protect is not to see."""
    for action in step.actions:
        for name in action.objects:
            structure = library.structures.find(name)
            if action.verb is Verb.IDENTIFY or (
                action.verb is Verb.INSPECT and structure is not None and structure.kind in _IN_THE_WAY
            ):
                yield name


def _at_risk(library: Library, procedure: Procedure, steps: Iterable[Step]) -> Iterator[str]:
    for caution in procedure.cautions.values():
        yield from caution.at_risk
    for step in steps:
        yield from step.at_risk
        for action in step.actions:
            yield from (name for name in action.objects if action.verb in CUTS and _is_vital(library, name))


def _is_vital(library: Library, name: str) -> bool:
    structure = library.structures.find(name)
    return structure is not None and structure.kind in {*_IN_THE_WAY, StructureKind.VISCUS}


def _is_seen_first(library: Library, name: str) -> bool:
    structure = library.structures.find(name)
    return structure is not None and structure.see_first


def _calls(library: Library, blocks: tuple[Block, ...], dangers: Mapping[str, Caution]) -> Iterator[CardLine]:
    """Yield each number once, with the steps and the dangers at which it is called."""
    called: dict[str, tuple[list[str], list[str]]] = {
        str(contact.role).casefold(): ([], []) for contact in library.department.call if contact.always
    }
    for letter, caution in dangers.items():
        if caution.call:
            called.setdefault(str(caution.call).casefold(), ([], []))[0].append(letter)
    steps = tuple(step_blocks(blocks))
    order = [block.number for block in steps]
    for block in steps:
        if block.step.call:
            called.setdefault(str(block.step.call).casefold(), ([], []))[1].append(block.number)
    for at, (role, (letters, numbers)) in enumerate(called.items(), start=1):
        places = (LinePart("where", _triangle(letters), MUST), LinePart("unmet", _spans(numbers, order), MUST))
        parts = _told((LinePart("", _number(library, role), MUST), *places))
        yield CardLine("calls", f"call-{at}", parts, at=library.department.id.at)


def _number(library: Library, role: str | None) -> str:
    call = call_of(library, role)
    return f"{capital(call.role)}, {call.number.replace(' ', _NO_BREAK)}" if call else ""


def _spans(numbers: list[str], order: list[str]) -> str:
    """Return ``1, 5–8A, 11``: three or more that follow each other in the ``order`` of the card as a span."""
    spans: list[list[str]] = []
    for number in numbers:
        follows = spans and order.index(number) == order.index(spans[-1][-1]) + 1
        spans[-1].append(number) if follows else spans.append([number])
    return ", ".join(f"{span[0]}–{span[-1]}" if len(span) > 2 else ", ".join(span) for span in spans)


def _aftercare(procedure: Procedure) -> Iterator[CardLine]:
    for item in in_time(procedure.aftercare_items.values()):
        parts = (
            LinePart("", _ended(item.title), AFTERCARE),
            LinePart("when", _ended(when_words(item.when)), AFTERCARE),
        )
        yield CardLine("aftercare", f"aftercare-{item.id}", parts, at=item.title.at)

"""What could stand on a pocket card: lines in their places, their forms, their worth and whether they must be there.

A line has one or more forms, the shortest first. The fit chooses a form for each line, or leaves it out where it may.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from builder.compose.view.outline import Block, StepBlock, cautions_met, guarded_steps, step_blocks
from builder.compose.view.parts_view import counts_called
from builder.compose.view.rendered_prose import short_sources
from builder.compose.view.words import (
    SIGNAL_WORDS,
    branch_label,
    capital,
    option_words,
    step_words,
    structure_name,
    uncapital,
)
from builder.model.action import CUTS, SEES
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal
from builder.place import NOWHERE, Place

FRONT = ("before", "see", "steps")
BACK = ("dangers", "counts", "stop", "aftercare", "sources")
TITLES = {
    "before": "Before you start",
    "see": "See first",
    "steps": "Steps",
    "dangers": "Dangers",
    "counts": "Counts",
    "stop": "Stop and call",
    "aftercare": "Aftercare",
    "sources": "Sources",
}
_NO_BREAK = "\u00a0"  # a number to call is never parted, nor from the last word of its role
# What a line is worth when not all fit. Common practice, ours to set: what protects the patient now comes first.
_WORTH = {
    "numbers": 300, "see": 80, "caution": 30, "if-not": 40, "before": 40, "step": 35, "danger-act": 30,
    "warning-act": 20, "aftercare": 250, "cue": 15, "source": 6,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LineForm:
    """One way to write a line. ``detail`` is what a longer form says more; ``worth`` counts in the fit."""

    text: str
    detail: str = ""
    worth: int = 0


@dataclass(frozen=True, slots=True)
class CardLine:
    """A candidate for the card.

    ``number`` stands in the rail, ``lead`` before the text (a branch, a time), ``signal`` names the signal word of a
    danger, ``marks`` are numbers of dangers that guard a step, ``source`` the keys of what backs it. ``wanted`` lines
    decide how small the type becomes.
    """

    section: str
    id: str
    forms: tuple[LineForm, ...]
    must: bool = False
    wanted: bool = False
    number: str = ""
    lead: str = ""
    signal: str = ""
    marks: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    at: Place = NOWHERE


def lines_of(library: Library, procedure: Procedure, blocks: tuple[Block, ...]) -> tuple[CardLine, ...]:
    """Return every line that could stand on the card of ``procedure``, in the order of their places."""
    dangers = {str(number): caution for number, caution in enumerate(cautions_met(procedure, blocks), start=1)}
    lines = (
        *_before(procedure),
        *_see_first(library, blocks),
        *_steps(procedure, blocks, dangers),
        *(_danger(number, caution) for number, caution in dangers.items()),
        *(_count(text, called_in) for text, called_in in counts_called(library, blocks).items()),
        *_stop(blocks),
        *_numbers(library, procedure, blocks),
        *_aftercare(procedure),
    )
    sources = short_sources(library.sources, (key for line in lines for key in line.sources))
    if not sources:
        return lines
    return (*lines, CardLine("sources", "sources", (LineForm(source_words(sources), worth=_WORTH["source"]),)))


def _before(procedure: Procedure) -> Iterator[CardLine]:
    for at, line in enumerate(procedure.before_you_start):
        form = LineForm(str(line), worth=_WORTH["before"])
        yield CardLine("before", f"before-{at + 1}", (form,), wanted=True, number="□", at=line.at)


def _see_first(library: Library, blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    """Yield one line for each critical step: what is seen there that is cut, or that must be seen before a cut."""
    cut = {
        structure_name(library, name)
        for block in step_blocks(blocks)
        for action in block.step.actions
        if action.verb in CUTS
        for name in action.objects
    }
    seen: set[str] = set()
    for block in step_blocks(blocks):
        names = [name for action in block.step.actions if action.verb in SEES for name in action.objects]
        looked_at = {structure_name(library, name): library.structures.find(name) for name in names}
        fresh = [
            name
            for name, structure in looked_at.items()
            if name not in seen and ((structure and structure.see_first) or name in cut)
        ]
        if block.step.critical and fresh:
            seen.update(fresh)
            form = LineForm("; ".join(fresh), worth=_WORTH["see"])
            yield CardLine("see", f"see-{block.anchor}", (form,), wanted=True, number=block.number, at=block.step.id.at)


def _steps(procedure: Procedure, blocks: tuple[Block, ...], dangers: Mapping[str, Caution]) -> Iterator[CardLine]:
    for lead, block in _led(blocks, ""):
        step = block.step
        marks = tuple(
            number for number, caution in dangers.items() if step.id in guarded_steps(caution, procedure.steps)
        )
        worth = 0 if step.critical else _WORTH["step"]
        forms = [LineForm(str(step.title), worth=worth)]
        if step.cue:
            forms.append(LineForm(str(step.title), str(step.cue), worth + _WORTH["cue"]))
        yield CardLine(
            "steps", block.anchor, tuple(forms), must=step.critical, wanted=True, number=block.number, lead=lead,
            marks=marks, at=step.title.at,
        )  # fmt: skip


def _led(blocks: Iterable[Block], lead: str) -> Iterator[tuple[str, StepBlock]]:
    """Yield each step with the words that say when it is done: the branch, or the option."""
    for block in blocks:
        if isinstance(block, StepBlock):
            yield lead, block
            continue
        for branch in block.branches:
            own = option_words(block.title, branch.name) or uncapital(branch_label(branch.name))
            yield from _led(branch.blocks, f"{lead}, {own}" if lead else capital(own))


def _danger(number: str, caution: Caution) -> CardLine:
    grave = caution.signal in (Signal.DANGER, Signal.WARNING)
    worth = 0 if grave else _WORTH["caution"]
    short = f"{caution.hazard.rstrip('.')}: {uncapital(caution.avoid)}"
    forms = [LineForm(short, worth=worth)]
    act = caution.if_it_happens or ""
    if act:
        call = f" Call: {caution.call}." if caution.call else ""
        more = _WORTH["danger-act" if caution.signal is Signal.DANGER else "warning-act"]
        forms.append(LineForm(short, f"{act}{call}", worth + more))
    return CardLine(
        "dangers", f"caution-{caution.id}", tuple(forms), must=grave, wanted=grave, number=number,
        signal=caution.signal.value, lead=SIGNAL_WORDS[caution.signal.value],
        sources=tuple(str(citation.source) for citation in caution.evidence), at=caution.hazard.at,
    )  # fmt: skip


def _count(text: str, called_in: Sequence[StepBlock]) -> CardLine:
    first = called_in[0]
    form = LineForm(f"{step_words(block.number for block in called_in)}: {uncapital(text)}.")
    return CardLine("counts", f"count-{first.anchor}", (form,), must=True, wanted=True, at=first.step.id.at)


def _stop(blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    for block in step_blocks(blocks):
        step = block.step
        if step.critical and step.if_not:
            form = LineForm(str(step.if_not), worth=_WORTH["if-not"])
            yield CardLine("stop", f"if-not-{block.anchor}", (form,), number=block.number, at=step.if_not.at)


def _numbers(library: Library, procedure: Procedure, blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    """Yield one line with the numbers of the roles that this operation calls, and of those that are always shown."""
    called = [block.step.call for block in step_blocks(blocks)]
    called += [caution.call for caution in procedure.cautions.values()]
    roles = {str(role).casefold() for role in called if role}
    known = [
        f"{contact.role} {contact.number}".replace(f" {contact.number}", f" {contact.number}".replace(" ", _NO_BREAK))
        for contact in library.department.call
        if contact.always or str(contact.role).casefold() in roles
    ]
    if known:
        form = LineForm("; ".join(known), worth=_WORTH["numbers"])
        yield CardLine("stop", "numbers", (form,), wanted=True, number="→", at=library.department.id.at)


def _aftercare(procedure: Procedure) -> Iterator[CardLine]:
    """Yield aftercare in one glance: what comes out; then what goes together too; then all of it; then its times."""
    items = tuple(procedure.aftercare_items.values())
    if items:
        out = [item for item in items if item.concerns]
        pairs = [item for item in items if item.concerns or item.goes_with]
        timed = (f"{item.title} ({item.when.until or 'from ' + item.when.start})" for item in items)
        titles = ("; ".join(item.title for item in some) for some in (out, pairs, items))
        texts = [text for text in (*titles, "; ".join(timed)) if text]
        forms = tuple(
            LineForm(text, worth=_WORTH["aftercare"] + 25 * at) for at, text in enumerate(dict.fromkeys(texts))
        )
        yield CardLine("aftercare", "aftercare", forms, wanted=True, at=items[0].title.at)


def source_words(sources: Mapping[str, str]) -> str:
    """Return the line of sources: the number and short name of each."""
    return "; ".join(f"{number} {name}" for number, name in enumerate(sources.values(), start=1))

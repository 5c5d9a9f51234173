"""What could stand on a pocket card: lines in their places, their forms, their worth and whether they must be there.

A line has one or more forms, the shortest first. The fit chooses a form for each line, or leaves it out where it may.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from builder.compose.card.card_sources import short_sources, source_words
from builder.compose.view.outline import Block, ChoiceBlock, StepBlock, every_block, guarded_steps, step_blocks
from builder.compose.view.procedure_view import branch_label
from builder.compose.view.words import SIGNAL_WORDS, sentence, structure_name
from builder.findings.message_words import listed
from builder.model.action import CUTS, SEES, Verb
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal
from builder.model.sequence import LEFT_OUT, TAKEN
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
    dangers = _dangers(procedure, blocks)
    lines = (
        *_before(procedure),
        *_see_first(library, blocks),
        *_steps(procedure, blocks, dangers),
        *(_danger(number, caution) for number, caution in dangers.items()),
        *_counts(library, blocks),
        *_stop(blocks),
        *_numbers(library, procedure, blocks),
        *_aftercare(procedure),
    )
    sources = short_sources(library.sources, (key for line in lines for key in line.sources))
    return (*lines, *((_sources(sources),) if sources else ()))


def _dangers(procedure: Procedure, blocks: tuple[Block, ...]) -> Mapping[str, Caution]:
    """Return the cautions in the order in which they first stand, numbered from 1."""
    found: dict[str, Caution] = {}
    for block in every_block(blocks):
        for caution in block.cautions:
            found.setdefault(str(caution.id), caution)
    for caution in procedure.cautions.values():
        found.setdefault(str(caution.id), caution)
    return {str(number): caution for number, caution in enumerate(found.values(), start=1)}


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
        found = {structure_name(library, name): library.structures.find(name) for name in names}
        fresh = [name for name, one in found.items() if name not in seen and ((one and one.see_first) or name in cut)]
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
            yield from _led(branch.blocks, _lead(block, branch.name, lead))


def _lead(block: ChoiceBlock, name: str, outer: str) -> str:
    title = _uncapital(block.title)
    own = {TAKEN: f"if {title}", LEFT_OUT: f"without {title}"}.get(name) or _uncapital(branch_label(name))
    return f"{outer}, {own}" if outer else own[:1].upper() + own[1:]


def _danger(number: str, caution: Caution) -> CardLine:
    grave = caution.signal in (Signal.DANGER, Signal.WARNING)
    worth = 0 if grave else _WORTH["caution"]
    short = f"{caution.hazard.rstrip('.')}: {_uncapital(caution.avoid)}"
    forms = [LineForm(short, worth=worth)]
    act = caution.if_it_happens or ""
    if act:
        call = f" Call: {caution.call}." if caution.call else ""
        more = _WORTH["danger-act" if caution.signal is Signal.DANGER else "warning-act"]
        forms.append(LineForm(short, f"{act}{call}", worth + more))
    return CardLine(
        "dangers", f"caution-{caution.id}", tuple(forms), must=grave, wanted=grave, number=number,
        signal=caution.signal.value, lead=SIGNAL_WORDS[caution.signal.value],
        sources=tuple(str(one.source) for one in caution.evidence), at=caution.hazard.at,
    )  # fmt: skip


def _uncapital(text: str) -> str:
    """Return ``text`` with a small first letter, unless its first word is an abbreviation."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _counts(library: Library, blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    """Yield one line for each kind of count, with the steps in which it is called."""
    steps: dict[str, list[StepBlock]] = {}
    for block in step_blocks(blocks):
        for action in block.step.actions:
            if action.verb is Verb.COUNT:
                steps.setdefault(sentence(library, action), []).append(block)
    for text, here in steps.items():
        numbers = listed(list(dict.fromkeys(block.number for block in here)))
        form = LineForm(f"Step{'s' if ' ' in numbers else ''} {numbers}: {_uncapital(text)}.")
        yield CardLine("counts", f"count-{here[0].anchor}", (form,), must=True, wanted=True, at=here[0].step.id.at)


def _stop(blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    for block in step_blocks(blocks):
        step = block.step
        if step.critical and step.if_not:
            form = LineForm(str(step.if_not), worth=_WORTH["if-not"])
            yield CardLine("stop", f"if-not-{block.anchor}", (form,), number=block.number, at=step.if_not.at)


def _numbers(library: Library, procedure: Procedure, blocks: tuple[Block, ...]) -> Iterator[CardLine]:
    """Yield one line with the numbers of the roles that this operation calls, and of those that are always shown."""
    called = [block.step.call for block in step_blocks(blocks)] + [one.call for one in procedure.cautions.values()]
    roles = {str(role).casefold() for role in called if role}
    known = [
        f"{one.role} {one.number}".replace(f" {one.number}", f" {one.number}".replace(" ", _NO_BREAK))
        for one in library.department.call
        if one.always or str(one.role).casefold() in roles
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


def _sources(sources: Mapping[str, str]) -> CardLine:
    return CardLine("sources", "sources", (LineForm(source_words(sources), worth=_WORTH["source"]),))

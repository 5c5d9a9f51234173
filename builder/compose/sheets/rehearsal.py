"""The rehearsal script, as PDF and plain text: the operation said aloud in the first person, one cue a step, timed.

The clock runs along the main line: the first branch of every choice, no option. Where the way parts, every other way is
announced with its own steps, and the clock in it says when it would be if that way were taken.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.view.head import Head, head_of
from builder.compose.view.outline import Block, Branch, ChoiceBlock, StepBlock, in_time, outline
from builder.compose.view.words import branch_label, clock, signal_word, uncapital, when_words
from builder.load.program_words import ENGLISH, gettext, ngettext, noted, spoken
from builder.model.library import Library
from builder.model.pages import Caution, Procedure
from builder.model.sequence import LEFT_OUT, TAKEN

# In this order: what is whose, then who does it (a verb follows), then who it is done to.
_YOURS = (
    (re.compile(r"\byour\b"), "my"),
    (re.compile(r"\byours\b"), "mine"),
    (re.compile(r"\byourself\b"), "myself"),
    (re.compile(r"\byou are\b"), "I am"),
    (re.compile(r"\b(to|for|with|at|by|from|beside|behind|near|towards|tell|give|show|let|help|ask) you\b"), r"\1 me"),
    (re.compile(r"\byou(?= \w)"), "I"),
    (re.compile(r"\byou\b"), "me"),
)
_BEING = re.compile(r"be\b", re.IGNORECASE)
_PARTING = {"choose": noted("The way parts"), "option": noted("Only if needed"), "follow": noted("As I chose before")}


@dataclass(frozen=True, slots=True)
class BeatView:
    """One step as it is said. ``clock`` is when it begins, ``minutes`` how long it takes, "" where nobody wrote it."""

    block: StepBlock
    clock: str
    minutes: str
    says: str
    guards: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class WayView:
    """One way on at a parting: ``label``, how long it takes in words, whether it is the main line, and its beats."""

    letter: str
    label: str
    minutes: str
    main: bool
    beats: "tuple[BeatView | PartingView, ...]"


@dataclass(frozen=True, slots=True)
class PartingView:
    """A place where the way parts: ``kind`` is choose, option or follow."""

    anchor: str
    kind: str
    lead: str
    title: str
    when: str
    guards: tuple[tuple[str, str, str], ...]
    ways: tuple[WayView, ...]


Said = BeatView | PartingView


@dataclass(frozen=True, slots=True)
class ScriptView:
    """The whole script in the order in which it is said; ``total`` is the length of the main line in words."""

    head: Head
    total: str
    before: tuple[str, ...]
    said: tuple[Said, ...]
    after: tuple[tuple[str, str], ...]


def compose(library: Library, procedure: Procedure, renderer: Renderer, *, plain: bool = False) -> Document:
    """Return the script of ``procedure`` as HTML for the typesetter; or ``plain``, as text to be read by a telephone or
    aloud by a screen reader."""
    ending, file = ("txt", "rehearsal.txt") if plain else ("html", "rehearsal.pdf")
    template = f"sheets/rehearsal.{ending}.j2"
    script = _script(library, procedure, renderer.look.paper_mark(procedure, template))
    text = renderer.render(template, script=script)
    musts, told = tuple(_musts(script)), {"main_line": script.total}
    return Document.about(procedure, "rehearsal", file, text, musts=musts, explained=told)


def _script(library: Library, procedure: Procedure, look: str) -> ScriptView:
    blocks = outline(procedure)
    walk = _Clock(blocks)
    said = tuple(walk.said(blocks, Decimal(0)))
    return ScriptView(
        head=head_of(library, procedure, look),
        total=walk.length_of(blocks),
        before=tuple(str(line) for line in procedure.before_you_start),
        said=said,
        after=tuple((str(item.title), when_words(item.when)) for item in in_time(procedure.aftercare_items.values())),
    )


@dataclass
class _Clock:
    """Walks the blocks of one procedure with a clock; remembers the main branch of each choice, for what follows it."""

    blocks: tuple[Block, ...]
    main: dict[str, str] = field(default_factory=dict)

    def said(self, blocks: Iterable[Block], at: Decimal, on_main: bool = True) -> Iterator[Said]:
        """Yield what is said of ``blocks``, the first of which begins ``at`` minutes; ``on_main``: of the main line."""
        for block in blocks:
            if isinstance(block, StepBlock):
                yield _beat(block, at)
            else:
                yield self._parting(block, at, on_main)
            at += self._length((block,))

    def length_of(self, blocks: Iterable[Block]) -> str:
        """Return how long the main line of ``blocks`` takes, in words."""
        blocks = tuple(blocks)
        silent = any(block.step.minutes is None for block in self._main_steps(blocks))
        return _minutes(self._length(blocks), at_least=silent)

    def _length(self, blocks: Iterable[Block]) -> Decimal:
        return sum((block.step.minutes or Decimal(0) for block in self._main_steps(blocks)), Decimal(0))

    def _main_steps(self, blocks: Iterable[Block]) -> Iterator[StepBlock]:
        for block in blocks:
            if isinstance(block, StepBlock):
                yield block
            else:
                for branch in block.branches:
                    if branch.name == self._main_branch(block):
                        yield from self._main_steps(branch.blocks)

    def _main_branch(self, block: ChoiceBlock) -> str:
        if block.kind == "choose":
            return self.main.setdefault(block.id, block.branches[0].name)
        if block.kind == "option":
            return self.main.setdefault(block.id, LEFT_OUT)
        return self.main.get(block.id, LEFT_OUT)

    def _parting(self, block: ChoiceBlock, at: Decimal, on_main: bool) -> PartingView:
        main = self._main_branch(block)
        return PartingView(
            anchor=f"parting-{block.kind}-{block.id}",
            kind=block.kind,
            lead=gettext(_PARTING[block.kind]),
            title=block.title,
            when=block.when,
            guards=tuple(map(_guard, block.cautions)),
            ways=tuple(self._way(block, branch, on_main and branch.name == main, at) for branch in block.branches),
        )

    def _way(self, block: ChoiceBlock, branch: Branch, is_main: bool, at: Decimal) -> WayView:
        label = gettext("If so") if block.kind == "option" else _label(block, branch.name)
        length = self.length_of(branch.blocks) if branch.blocks else gettext("nothing more to do")
        added = gettext("adds %(length)s", length=length) if block.kind == "option" else length
        return WayView(branch.letter, label, added, is_main, tuple(self.said(branch.blocks, at, is_main)))


def _label(block: ChoiceBlock, name: str) -> str:
    """Return what a way is called; what follows an option says whether that was done."""
    own = {
        TAKEN: gettext("%(option)s was done", option=block.title),
        LEFT_OUT: gettext("%(option)s was left out", option=block.title),
    }
    return own.get(name) or branch_label(name)


def _beat(block: StepBlock, at: Decimal) -> BeatView:
    step = block.step
    return BeatView(
        block,
        clock=clock(int(at)),
        minutes=_minutes(step.minutes) if step.minutes is not None else "",
        says=first_person(str(step.title)),
        guards=(*map(_guard, block.cautions), *(_guard(caution, again=True) for caution in block.reminders)),
    )


def _guard(caution: Caution, again: bool = False) -> tuple[str, str, str]:
    """Return signal, signal word and what is said of a caution: all of it where it first stands, then the hazard."""
    hazard = str(caution.hazard).rstrip(".")
    said = gettext("%(hazard)s, again.", hazard=hazard) if again else f"{hazard}. {caution.avoid}"
    return caution.signal.value, signal_word(caution.signal), said


def first_person(title: str) -> str:
    """Return an instruction as what I do: ``Open the canal`` becomes ``I open the canal.``"""
    if spoken() != ENGLISH:
        return f"{title.rstrip('.')}."  # who acts cannot be changed without knowing the language
    words = uncapital(title)
    for pattern, mine in _YOURS:
        words = pattern.sub(mine, words)
    words = _BEING.sub("am", words, count=1) if _BEING.match(words) else words
    return f"I {words.rstrip('.')}."


def _minutes(value: Decimal, at_least: bool = False) -> str:
    minutes = ngettext(
        "%(number)s minute", "%(number)s minutes", 1 if value == 1 else 2, number=f"{value.normalize():f}"
    )
    return gettext("at least %(number)s", number=minutes) if at_least else minutes


def _musts(script: ScriptView) -> Iterator[Must]:
    yield from script.head.musts
    for at, line in enumerate(script.before, start=1):
        yield Must("before", f"before-{at}", line)
    yield from _said_musts(script.said)
    for at, (title, when) in enumerate(script.after, start=1):
        yield Must("aftercare", f"after-{at}", f"{title} {when}")


def _said_musts(said: Iterable[Said]) -> Iterator[Must]:
    for part in said:
        guards = (f"{word}: {text}" for _, word, text in part.guards)
        if isinstance(part, PartingView):
            yield Must("parting", part.anchor, f"{part.lead}: {part.title}")
            yield from promised("guard", part.anchor, *guards)
            yield from (must for way in part.ways for must in _said_musts(way.beats))
            continue
        step, anchor = part.block.step, part.block.anchor
        critical = f" {gettext('Critical')}" if step.critical else ""
        yield Must("step", anchor, f"{part.block.number} {part.says}{critical}")
        yield from promised("guard", anchor, *guards)
        yield from promised("cue", anchor, step.cue)
        yield from promised("if-not", anchor, step.if_not if step.critical else None)

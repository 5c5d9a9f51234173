"""The "what now?" sheet on A4: from the sign that is seen to its likely cause, what to do, and whom to call.

Cautions stand by the kind of their sign, the gravest first in each kind. Steps stand in their own order, because in
theatre the number of the step is what everybody knows; a critical one has a black number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.compose.document import Document, LeftOut
from builder.compose.render import Renderer
from builder.compose.sheets.sheet_head import CallView, call_of, head_musts, head_of
from builder.compose.sheets.signs import KINDS, kind_of
from builder.compose.view.outline import Block, every_block, guarded_steps, outline, step_blocks
from builder.compose.view.view import Must
from builder.compose.view.words import SIGNAL_WORDS
from builder.findings.message_words import listed
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal, Step

_GRAVITY = {signal: place for place, signal in enumerate(Signal)}


@dataclass(frozen=True, slots=True)
class CauseView:
    """A likely cause of a sign: the hazard, in which ``steps`` it threatens, what to do and whom to call."""

    anchor: str
    signal: str
    signal_word: str
    hazard: str
    steps: str
    act: str
    call: CallView | None


@dataclass(frozen=True, slots=True)
class SignView:
    """A sign as it is written, with everything that it can mean."""

    anchor: str
    sign: str
    causes: tuple[CauseView, ...]


@dataclass(frozen=True, slots=True)
class ClusterView:
    """The signs of one kind, the gravest first."""

    id: str
    title: str
    signs: tuple[SignView, ...]


@dataclass(frozen=True, slots=True)
class TurnView:
    """A step that does not go as it should: a cue that is not there and what to do then, a slip and the way back."""

    anchor: str
    number: str
    title: str
    critical: bool
    cue: str
    if_not: str
    error: str
    recovery: str
    call: CallView | None


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the "what now?" sheet of ``procedure``."""
    head = head_of(library, procedure)
    blocks = outline(procedure)
    clusters = _clusters(library, procedure, blocks)
    turns = _turns(library, blocks)
    calls = _numbers(library, clusters, turns)
    values = {"head": head, "clusters": clusters, "turns": turns, "calls": calls}
    return Document(
        kind="what-now",
        procedure=procedure.id,
        edition=procedure.edition,
        title=procedure.title,
        name=f"{procedure.id}/what-now.pdf",
        text=renderer.render("sheets/what_now.html.j2", **values),
        musts=(*head_musts(head), *_call_musts(calls), *_cluster_musts(clusters), *_turn_musts(turns)),
        left_out=_left_out(blocks, turns),
    )


def _clusters(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> tuple[ClusterView, ...]:
    numbers = _numbers_of_steps(blocks)
    by_sign: dict[str, list[Caution]] = {}
    for caution in sorted(_cautions(procedure, blocks), key=lambda one: _GRAVITY[one.signal]):
        by_sign.setdefault(str(caution.sign or caution.hazard), []).append(caution)
    found: dict[str, list[SignView]] = {}
    for sign, cautions in by_sign.items():
        causes = tuple(_cause(library, procedure, one, numbers) for one in cautions)
        found.setdefault(kind_of(sign).id, []).append(SignView(f"sign-{cautions[0].id}", sign, causes))
    return tuple(ClusterView(kind.id, kind.title, tuple(found[kind.id])) for kind in KINDS if kind.id in found)


def _cautions(procedure: Procedure, blocks: Sequence[Block]) -> tuple[Caution, ...]:
    """Return every caution once, in the order in which it first stands."""
    standing = {str(one.id): one for block in every_block(blocks) for one in block.cautions}
    return tuple({**standing, **{str(id): one for id, one in procedure.cautions.items()}}.values())


def _numbers_of_steps(blocks: Sequence[Block]) -> dict[str, list[str]]:
    numbers: dict[str, list[str]] = {}
    for block in step_blocks(blocks):
        numbers.setdefault(str(block.step.id), []).append(block.number)
    return numbers


def _cause(library: Library, procedure: Procedure, caution: Caution, numbers: dict[str, list[str]]) -> CauseView:
    guarded = guarded_steps(caution, procedure.steps)
    steps = [number for id, found in numbers.items() if id in guarded for number in found]
    return CauseView(
        anchor=f"caution-{caution.id}",
        signal=caution.signal.value,
        signal_word=SIGNAL_WORDS[caution.signal.value],
        hazard=str(caution.hazard),
        steps=f"Step{'s' if len(steps) > 1 else ''} {listed(steps)}" if steps else "",
        act=str(caution.if_it_happens or "Nothing is written. Stop, and ask for help."),
        call=call_of(library, str(caution.call)) if caution.call else None,
    )


def _turns(library: Library, blocks: Sequence[Block]) -> tuple[TurnView, ...]:
    """Return what to do at each step that says it, a step that stands twice once with both numbers."""
    numbers = _numbers_of_steps(blocks)
    steps = {str(block.step.id): block.step for block in step_blocks(blocks)}
    return tuple(_turn(library, step, listed(numbers[id])) for id, step in steps.items() if _says(step))


def _says(step: Step) -> bool:
    return bool(step.if_not or step.error or step.recovery)


def _turn(library: Library, step: Step, number: str) -> TurnView:
    return TurnView(
        anchor=f"step-{step.id}",
        number=number,
        title=str(step.title),
        critical=step.critical,
        cue=str(step.cue or ""),
        if_not=str(step.if_not or ""),
        error=str(step.error or ""),
        recovery=str(step.recovery or ""),
        call=call_of(library, str(step.call)) if step.call else None,
    )


def _numbers(library: Library, clusters: Sequence[ClusterView], turns: Sequence[TurnView]) -> tuple[CallView, ...]:
    """Return the roles the sheet calls, and those always shown, in the department's order; then those it lacks."""
    called = [cause.call for cluster in clusters for sign in cluster.signs for cause in sign.causes]
    always = [call_of(library, str(one.role)) for one in library.department.call if one.always]
    wanted = {call.role.casefold(): call for call in (*always, *called, *(turn.call for turn in turns)) if call}
    known = [str(one.role).casefold() for one in library.department.call]
    return tuple(
        wanted[role] for role in sorted(wanted, key=lambda one: known.index(one) if one in known else len(known))
    )


def _call_musts(calls: Sequence[CallView]) -> Iterator[Must]:
    for at, call in enumerate(calls, start=1):
        yield Must("call", f"call-{at}", f"{call.role} {call.number}")


def _cluster_musts(clusters: Sequence[ClusterView]) -> Iterator[Must]:
    for cluster in clusters:
        for sign in cluster.signs:
            yield Must("sign", sign.anchor, sign.sign)
            for cause in sign.causes:
                yield Must("caution", cause.anchor, f"{cause.signal_word} {cause.hazard}")
                yield Must("caution-line", cause.anchor, cause.act)
                yield from _call_must("caution-line", cause.anchor, cause.call)


def _turn_musts(turns: Sequence[TurnView]) -> Iterator[Must]:
    for turn in turns:
        yield Must("step", turn.anchor, f"{turn.number} {turn.title}{' Critical' if turn.critical else ''}")
        if turn.if_not:
            yield from (Must("if-not", turn.anchor, line) for line in (turn.cue, turn.if_not) if line)
        yield from (Must("turn", turn.anchor, line) for line in (turn.error, turn.recovery) if line)
        yield from _call_must("turn", turn.anchor, turn.call)


def _call_must(kind: str, anchor: str, call: CallView | None) -> Iterator[Must]:
    if call:
        yield Must(kind, anchor, f"{call.role} {call.number}")


def _left_out(blocks: Sequence[Block], turns: Sequence[TurnView]) -> tuple[LeftOut, ...]:
    shown = {turn.anchor for turn in turns}
    silent = dict.fromkeys(f"step-{block.step.id}" for block in step_blocks(blocks))
    return tuple(LeftOut("step", id, "it says nothing about what to do then") for id in silent if id not in shown)

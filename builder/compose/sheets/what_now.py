"""The "what now?" sheet on two sides of A4: from the sign that is seen to what to do, and whom to call on which number.

The first page goes by sign, the gravest first in each kind, and a sign has one answer: what is to be done for each of
its causes, the gravest first. The second goes by step in their own order, because in theatre the number of the step is
what everybody knows; a critical one has a black number. Where two pages do not hold it, the type gets smaller.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.view.head import CallView, call_of, head_of
from builder.compose.view.outline import GRAVITY, Block, cautions_met, guarded_steps, outline, step_blocks
from builder.compose.view.words import series, signal_word, step_words
from builder.grouping import grouped
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Step

_TEMPLATE = "sheets/what_now.html.j2"
MOST_PAGES = 2
_SIZES_PT = (10.0, 9.4, 8.9, 8.5)  # at the smallest the smallest line is 7 pt
_LETTERS_AT_10_PT = 4300  # that the page of steps takes at 10 pt, as measured; so that no size is tried for nothing


@dataclass(frozen=True, slots=True)
class SignKind:
    """A kind of sign: its ``id``, its ``title`` on the sheet, and the words that name it."""

    id: str
    title: str
    words: str = ""


# In the order in which they stand on every sheet: what kills fastest first. The lists are ours, of everyday theatre
# English (common practice). A sign that none names stands in the last kind, so that nothing is lost.
KINDS = (
    SignKind("fire", noted("Fire or burning"), "fire flame flames burning smoke spark sparks heat burn"),
    SignKind(
        "blood",
        noted("Blood where there should be none"),
        "blood bleed bleeds bleeding haemorrhage hemorrhage haematoma hematoma bruise ooze oozes oozing clots",
    ),
    SignKind(
        "patient",
        noted("The patient changes"),
        "pulse heartbeat fit fits seizure lips tingling twitching ringing breath breaths breathless breathlessness "
        "breathing oxygen saturation cough coughs wheeze drowsy confused fever shivering sweating vomiting pain rash "
        "worsens faints collapse collapses tenses metal taste",
    ),
    SignKind(
        "fluid",
        noted("Fluid, gut content or air"),
        "fluid urine bile stool content contents faeces leak leaks air hiss froth bubbles bubbling pus",
    ),
    SignKind("colour", noted("Blue, cold or swollen"), "blue cold dusky mottled swollen swells swelling refill tense"),
    SignKind(
        "match",
        noted("The count or the side does not match"),
        "count counts missing match answered hesitates side mark label name wristband tray",
    ),
    SignKind("other", noted("It looks or feels wrong")),
)
_WORD = re.compile(r"[^\W\d_]+")


def kind_of(sign: str) -> SignKind:
    """Return the kind that most words of ``sign`` name; among equals the one that stands first."""
    words = _WORD.findall(sign.casefold())
    scores = [sum(word in kind.words.split() for word in words) for kind in KINDS]
    best = max(scores)
    return KINDS[scores.index(best)] if best else KINDS[-1]


@dataclass(frozen=True, slots=True)
class CauseView:
    """A likely cause of a sign: the hazard, and in which ``steps`` it threatens."""

    anchor: str
    signal: str
    signal_word: str
    hazard: str
    steps: str


@dataclass(frozen=True, slots=True)
class SignView:
    """A sign as it is written, everything that it can mean, and the one ``answer`` to it with whom to call."""

    anchor: str
    sign: str
    causes: tuple[CauseView, ...]
    answer: str
    calls: tuple[CallView, ...]


Clusters = tuple[tuple[SignKind, list[SignView]], ...]
"""The signs of each kind, the gravest first."""


@dataclass(frozen=True, slots=True)
class TurnView:
    """A ``step`` that can go wrong: a cue that is not there and what to do then, a slip and the way back."""

    anchor: str
    number: str
    step: Step
    call: CallView | None


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the "what now?" sheet of ``procedure``."""
    head = head_of(library, procedure, renderer.look.paper_mark(procedure, _TEMPLATE))
    blocks = outline(procedure)
    clusters = _clusters(library, procedure, blocks)
    turns = _turns(library, blocks)
    calls = _numbers(library, clusters, turns)
    values = {"head": head, "clusters": clusters, "turns": turns, "calls": calls}
    return Document.about(
        procedure,
        "what-now",
        "what-now.pdf",
        _fitted(renderer, values),
        musts=(
            *head.musts,
            *(Must("call", f"call-{at}", str(call)) for at, call in enumerate(calls, start=1)),
            *_cluster_musts(clusters),
            *_turn_musts(turns),
        ),
        left_out=_left_out(blocks, turns),
    )


def _fitted(renderer: Renderer, values: Mapping[str, Any]) -> str:
    """Return the sheet in the largest type in which it takes two pages, in the smallest where none does."""
    letters = sum(len(must.text) for must in _turn_musts(values["turns"]))
    text = ""
    for size in _SIZES_PT:
        if size != _SIZES_PT[-1] and letters > _LETTERS_AT_10_PT * (10 / size) ** 2:
            continue
        text = renderer.render(_TEMPLATE, **values, size_pt=size)
        if len(renderer.measure(text)) <= MOST_PAGES:
            break
    return text


def _clusters(library: Library, procedure: Procedure, blocks: Sequence[Block]) -> Clusters:
    numbers = _numbers_of_steps(blocks)
    cautions = sorted(cautions_met(procedure, blocks), key=lambda caution: GRAVITY[caution.signal])
    by_sign = grouped((str(caution.sign or caution.hazard), caution) for caution in cautions)
    views = (_sign(library, procedure, sign, alike, numbers) for sign, alike in by_sign.items())
    signs = grouped((kind_of(view.sign).id, view) for view in views)
    return tuple((kind, signs[kind.id]) for kind in KINDS if kind.id in signs)


def _numbers_of_steps(blocks: Sequence[Block]) -> dict[str, list[str]]:
    return grouped((str(block.step.id), block.number) for block in step_blocks(blocks))


def _sign(
    library: Library, procedure: Procedure, sign: str, alike: Sequence[Caution], numbers: dict[str, list[str]]
) -> SignView:
    acts = dict.fromkeys(str(caution.if_it_happens) for caution in alike if caution.if_it_happens)
    calls = dict.fromkeys(call for caution in alike if (call := call_of(library, caution.call)))
    return SignView(
        anchor=f"sign-{alike[0].id}",
        sign=sign,
        causes=tuple(_cause(procedure, caution, numbers) for caution in alike),
        answer=" ".join(acts) or gettext("Nothing is written. Stop, and ask for help."),
        calls=tuple(calls),
    )


def _cause(procedure: Procedure, caution: Caution, numbers: dict[str, list[str]]) -> CauseView:
    guarded = guarded_steps(caution, procedure.steps)
    return CauseView(
        anchor=f"caution-{caution.id}",
        signal=caution.signal.value,
        signal_word=signal_word(caution.signal),
        hazard=str(caution.hazard),
        steps=step_words(number for id, places in numbers.items() if id in guarded for number in places),
    )


def _turns(library: Library, blocks: Sequence[Block]) -> tuple[TurnView, ...]:
    """Return what to do at each step that says it, a step that stands twice once with both numbers."""
    numbers = _numbers_of_steps(blocks)
    steps = {str(block.step.id): block.step for block in step_blocks(blocks)}
    return tuple(
        TurnView(f"step-{id}", series(numbers[id]), step, call_of(library, step.call))
        for id, step in steps.items()
        if step.if_not or step.error or step.recovery
    )


def _numbers(library: Library, clusters: Clusters, turns: Sequence[TurnView]) -> tuple[CallView, ...]:
    """Return the roles the sheet calls, and those always shown, in the department's order; then those it lacks."""
    called = [call for _, signs in clusters for sign in signs for call in sign.calls]
    always = [call_of(library, contact.role) for contact in library.department.call if contact.always]
    wanted = {call.role.casefold(): call for call in (*always, *called, *(turn.call for turn in turns)) if call}
    known = [str(contact.role).casefold() for contact in library.department.call]
    in_order = sorted(wanted, key=lambda role: known.index(role) if role in known else len(known))
    return tuple(wanted[role] for role in in_order)


def _cluster_musts(clusters: Clusters) -> Iterator[Must]:
    for _, signs in clusters:
        for sign in signs:
            yield Must("sign", sign.anchor, sign.sign)
            for cause in sign.causes:
                yield Must("caution", cause.anchor, f"{cause.signal_word} {cause.hazard}")
            yield from promised("answer", sign.anchor, sign.answer, *sign.calls)


def _turn_musts(turns: Sequence[TurnView]) -> Iterator[Must]:
    for turn in turns:
        step = turn.step
        yield Must("step", turn.anchor, f"{turn.number} {step.title}")
        if step.if_not:
            yield from promised("if-not", turn.anchor, step.cue, step.if_not, turn.call)
        yield from promised("turn", turn.anchor, step.error, step.recovery, None if step.if_not else turn.call)


def _left_out(blocks: Sequence[Block], turns: Sequence[TurnView]) -> tuple[LeftOut, ...]:
    shown = {turn.anchor for turn in turns}
    silent = dict.fromkeys(f"step-{block.step.id}" for block in step_blocks(blocks))
    return tuple(LeftOut("step", id, "it says nothing about what to do then") for id in silent if id not in shown)

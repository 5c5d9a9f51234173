"""When to count: a question about the course of the operation."""

import re
from collections.abc import Iterator
from string import ascii_uppercase

from builder.compose.selftest.question import Draft, Reply
from builder.compose.selftest.taught import Taught, does
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock
from builder.compose.view.words import uncapital
from builder.findings.message_words import capital
from builder.load.program_words import gettext
from builder.model.action import Action, Verb

_TWO = 2
_MEANWHILE = re.compile(r"\bmeanwhile\b|\bwhile (?:they|the team|it is|you) count", re.IGNORECASE)
"""Where a step says this, the stitch does not wait for the count."""


def counts(taught: Taught) -> Iterator[Draft]:
    """Ask before which closing the first of several counts is called, once something has been opened."""
    opened = next((at for at, block in enumerate(taught.blocks) if does(block, Verb.OPEN)), len(taught.blocks))
    called = [block for block in taught.blocks[opened:] if does(block, Verb.COUNT)]
    if len({block.number.rstrip(ascii_uppercase) for block in called}) < _TWO:
        return
    first, stitched = called[0], list(_stitched(taught))
    if _MEANWHILE.search(taught.words(first)):
        return
    before = [name for block, action, name in stitched if not _is_counted(taught, block, action, first)]
    after = [name for block, action, name in stitched if _is_counted(taught, block, action, first)]
    if after[:1] and after[0] in before:  # on some way it is stitched before any count
        return
    told = dict.fromkeys(after[1:], gettext("That comes later: a count has been called by then."))
    told |= dict.fromkeys(before, gettext("That is stitched before this count."))
    pool = tuple(Reply(name, words) for name, words in told.items() if name not in after[:1])
    risks = [caution for caution in taught.guards(first) if "count" in str(caution.avoid).casefold()]
    proof = joined(
        gettext("The count is called in step %(number)s, before this.", number=first.number),
        *(
            gettext(
                "%(hazard)s: %(consequence)s Avoid it: %(avoid)s",
                hazard=risk.hazard,
                consequence=uncapital(str(risk.consequence)),
                avoid=uncapital(str(risk.avoid)),
            )
            for risk in risks
        ),
    )
    asks = gettext("The wound is closed in layers. Which of these is the first that waits for a correct count?")
    about = (str(first.step.id), *(str(risk.id) for risk in risks))
    for right in after[:1]:
        yield Draft("count-first", gettext("When to count"), asks, right, pool, proof, first.anchor, about)


def _stitched(taught: Taught) -> Iterator[tuple[StepBlock, Action, str]]:
    for block in taught.blocks:
        for action in block.step.actions:
            name = next((str(structure.name) for structure in taught.named(action.objects)), "")
            if action.verb is Verb.SUTURE and name:
                yield block, action, capital(name)


def _is_counted(taught: Taught, block: StepBlock, action: Action, counted: StepBlock) -> bool:
    """Tell whether ``action`` of ``block`` comes after the count of the step ``counted``."""
    if block is not counted:
        return taught.blocks.index(block) > taught.blocks.index(counted)
    actions = block.step.actions
    return any(other.verb is Verb.COUNT for other in actions[: actions.index(action)])

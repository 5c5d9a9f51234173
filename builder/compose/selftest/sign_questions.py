"""Questions from what is seen: what has happened, and which step it ends.

The answers are hazards or titles of steps of the same procedure. A wrong one is sure to be wrong, for what is seen
there shares no word with what is seen here; the right one shares none with the question, and of a hazard the text
around it neither, so that no word of what is seen names it.
"""

from collections.abc import Iterator
from string import ascii_uppercase

from builder.compose.selftest.question import MOST_WRONG, Draft, Reply, words_of
from builder.compose.selftest.taught import Taught
from builder.compose.sheets.what_now import kind_of
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock
from builder.compose.view.words import uncapital

_BEGINNING = 4
"""Letters by which a word is known."""
_NEAR = 3
"""How many steps away a wrong answer may be: of what is done much earlier or later one need not know when it ends."""


def happenings(taught: Taught) -> Iterator[Draft]:
    """Ask what has happened when a sign is seen: of the wrong answers one at least shows by a sign of the same kind."""
    for caution in (one for one in taught.cautions if one.sign and one.if_it_happens):
        steps, kind = taught.guarded(caution), kind_of(str(caution.sign))
        others = [one for one in taught.cautions if one is not caution and one.sign and _apart(one.sign, caution.sign)]
        alike = [one for one in others if kind_of(str(one.sign)) is kind]
        others.sort(key=lambda one: (one not in alike, not set(taught.guarded(one)) & set(steps)))
        if not alike or not _apart(caution.sign, f"{caution.hazard} {caution.consequence} {caution.avoid}"):
            continue
        pool = tuple(Reply(str(one.hazard), f"That shows in another way: {uncapital(str(one.sign))}") for one in others)
        act = f"If it happens: {uncapital(str(caution.if_it_happens))}"
        proof = joined(f"{caution.hazard}: {uncapital(str(caution.consequence))}", act)
        about = (str(caution.id), *(str(block.step.id) for block in steps if len(steps) == 1))
        yield Draft(
            f"happened-{caution.id}", "What has happened", f"You see this: {uncapital(str(caution.sign))} What is it?",
            str(caution.hazard), pool[:MOST_WRONG], proof, f"caution-{caution.id}", about,
        )  # fmt: skip


def ends(taught: Taught) -> Iterator[Draft]:
    """Ask which step ends when its cue is seen, among the steps near it that every way meets."""
    for at, block in enumerate(taught.blocks):
        cue = block.step.cue
        near = [*taught.blocks[max(0, at - _NEAR) : at][::-1], *taught.blocks[at + 1 : at + 1 + _NEAR]]
        others = [one for one in near if _position(one) != _position(block) and _is_other(one, cue)]
        if block.step.critical and cue and _apart(cue, block.step.title):
            pool = tuple(
                Reply(str(one.step.title), f"That ends when this is seen: {uncapital(str(one.step.cue))}")
                for one in others
            )
            asks = f"You see this, and go on: {uncapital(str(cue))} Which step have you just finished?"
            proof = joined(f"Step {block.number}. {block.step.title}.", str(block.step.why or ""))
            yield Draft(
                f"end-{block.step.id}", "Which step is done", asks, str(block.step.title), pool, proof, block.anchor,
                (str(block.step.id),),
            )  # fmt: skip


def _apart(text: str | None, other: str | None) -> bool:
    """Tell whether two texts have no word in common, whatever it ends in: "worse" and "worsens" are one."""
    beginnings = ({word[:_BEGINNING] for word in words_of(str(each))} for each in (text, other))
    return set.isdisjoint(*beginnings)


def _position(block: StepBlock) -> str:
    return block.number.rstrip(ascii_uppercase)


def _is_other(block: StepBlock, cue: str | None) -> bool:
    return bool(block.step.cue and cue) and _apart(str(block.step.cue), str(cue))

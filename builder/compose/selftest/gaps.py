"""Sentences of the module with one thing left out: a direction or an amount.

The answers are of one closed kind, so that each is as likely to one who does not know, and the sentence itself proves
the right one.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.compose.selftest.question import Draft, Reply, drawn
from builder.compose.selftest.taught import Taught, head
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock
from builder.compose.view.words import uncapital
from builder.load.program_words import gettext

GAP = "____"
_AVOIDS = "avoid-"


class Saying(NamedTuple):
    """A text of the module at its place: what is asked about it begins with ``lead``; ``about`` are steps, cautions."""

    id: str
    lead: str
    text: str
    proof: str
    anchor: str
    about: tuple[str, ...]
    blocks: tuple[StepBlock, ...]


def sayings(taught: Taught) -> Iterator[Saying]:
    """Yield the sentences from which something may be left out."""
    for block in taught.blocks:
        step, where = block.step, head(block)
        cue = gettext("Go on when: %(cue)s", cue=uncapital(str(step.cue))) + " " if step.cue else ""
        told = (
            (
                "cue",
                f"{where} {gettext('Go on when:')}",
                step.cue,
                gettext("If not: %(if_not)s", if_not=uncapital(str(step.if_not))) if step.if_not else "",
            ),
            ("if-not", f"{where} {cue}{gettext('If not:')}", step.if_not, step.why or ""),
            (
                "recovery",
                gettext("%(where)s A slip: %(error)s Put it right:", where=where, error=uncapital(str(step.error))),
                step.recovery,
                step.why or "",
            ),
            ("why", f"{where} {gettext('Why:')}", step.why, ""),
        )
        for name, lead, text, proof in told:
            if text:
                yield Saying(f"{name}-{step.id}", lead, str(text), proof, block.anchor, (str(step.id),), (block,))
        for figure in (figure for figure in step.figure if figure.caption):
            id, lead, about = f"caption-{figure.id}", f"{where} {gettext('Legend of its figure:')}", (str(step.id),)
            yield Saying(id, lead, str(figure.caption), "", block.anchor, about, (block,))
    for caution in taught.cautions:
        proof = f"{caution.hazard}: {uncapital(str(caution.consequence))}"
        blocks = tuple(taught.guarded(caution))
        told_of = (
            (_AVOIDS, f"{caution.hazard}. {gettext('Avoid it:')}", caution.avoid),
            ("happens-", f"{caution.hazard}. {gettext('If it happens:')}", caution.if_it_happens),
        )
        for name, lead, text in told_of:
            if text:
                about = (str(caution.id),)
                yield Saying(f"{name}{caution.id}", lead, str(text), proof, f"caution-{caution.id}", about, blocks)


_AMOUNT = re.compile(r"(?<![\w.-])(?<!\bto )(?P<number>\d+(?:\.\d+)?)\s(?P<unit>mm|cm|mL|litres?)\b")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3})")


def numbers(taught: Taught) -> Iterator[Draft]:
    """Leave out the amount or the distance by which a hazard is avoided: the others are near it, and its caution gives
    none of them for what else is done. What a department may set in another way without harm is not asked, nor how
    long one presses or waits."""
    every = list(sayings(taught))
    for saying in (saying for saying in every if saying.id.startswith(_AVOIDS)):
        texts = (_THOUSANDS.sub("", other.text) for other in every if other.anchor == saying.anchor)
        given = {match["number"] for text in texts for match in _AMOUNT.finditer(text)}
        for match in _AMOUNT.finditer(saying.text):
            near = _near(match["number"], saying, given)
            others = (_with_unit(value, match["unit"]) for value in near)
            replies = tuple(Reply(other, gettext("Here it is: %(words)s.", words=match.group())) for other in others)
            yield _left_out(saying, gettext("How much, how far"), match.span(), match.group(), replies)


_NEAR = ((0.5, 2), (2, 3), (0.25, 0.5))
"""Rivals of an amount, as shares of it. The right one is now in the middle, now the least, now the most. None lies
nearer than half or twice as much: what lies between, others may teach with good reason."""
_LESS, _MORE = ((0.25, 0.5),), ((2, 3), (2, 4))
_TOO_LITTLE = re.compile(r"\btoo (?:little|few|short|small|low|shallow|narrow|near|early)\b", re.IGNORECASE)
_TOO_MUCH = re.compile(r"\btoo (?:much|many|long|large|high|deep|wide|far|fast|late)\b", re.IGNORECASE)


def _near(number: str, saying: Saying, given: set[str]) -> tuple[float, ...]:
    """Return the rivals of ``number`` that have two figures at most, and that the caution has not ``given``;
    which, the same text always says alike. What avoids too little is not asked for among larger amounts, which avoid
    it as well, nor the other way round."""
    start = drawn(saying.id, len(_NEAR))
    any_way = (*_NEAR[start:], *_NEAR[:start], (0.5, 3))
    shares = _LESS if _TOO_LITTLE.search(saying.lead) else _MORE if _TOO_MUCH.search(saying.lead) else any_way
    groups = [tuple(float(number) * by for by in group) for group in shares]
    groups = [group for group in groups if not given & {f"{value:g}" for value in group}]
    round_ones = (group for group in groups if all(float(f"{value:.2g}") == value for value in group))
    return next(round_ones, ())


def _with_unit(value: float, unit: str) -> str:
    plural = "litre" if unit.startswith("litre") and value == 1 else "litres" if unit.startswith("litre") else unit
    return f"{value:g} {plural}"


_LEVELS = ("head", "heart", "chest", "bladder", "hip", "knee")
"""Parts of the body by which it is said how high a thing is held."""
_DIRECTIONS = (
    ("medial to", "lateral to", "above", "below"),
    ("proximal to", "distal to", "level with"),
    ("anterior to", "posterior to", "level with"),
    ("superficial to", "deep to", "in the same layer as"),
    ("upper edge", "lower edge", "middle"),
    ("medial edge", "lateral edge", "middle"),
    ("thumb side", "little-finger side", "finger side", "wrist side"),
    ("index finger", "middle finger", "ring finger", "little finger"),
    *((f"below the {level}", f"level with the {level}", f"above the {level}") for level in _LEVELS),
    ("below and outside", "above and outside", "below and inside", "above and inside"),
    ("just above", "just below", "directly over"),
    ("higher", "lower", "at the same level"),
)
"""The places on each axis of the body, and of a hand, that exclude one another: each is one that a beginner may take.
Words along a line that runs both ways at once are not among them: in an oblique wound further medially is further
down."""
_ASKED_OF = {"above", "below", "directly over", "level with", "in the same layer as", "middle"}
"""Words of place that are also said of much else."""
_ADVERBS = {"higher", "lower"}
"""Words that ask only where nothing follows that they describe."""
_EITHER = re.compile(r"\bboth (?:edges|sides|ways)\b|\beither (?:edge|side|way)\b", re.IGNORECASE)
"""Where a step says this, no single direction is right."""


def directions(taught: Taught) -> Iterator[Draft]:
    """Leave a direction out that the rest of the question does not tell; what it tells is no wrong answer either."""
    for saying in sayings(taught):
        if any(_EITHER.search(taught.words(block)) for block in saying.blocks):
            continue
        for group in _DIRECTIONS:
            for words in (words for words in group if words not in _ASKED_OF):
                ends = r"(?=[,.;]|$)" if words in _ADVERBS else r"\b(?! and)"
                match = re.search(rf"(?<![\w-]){re.escape(words)}{ends}", saying.text)
                stem = f"{saying.lead} {saying.text.replace(words, '')}".replace("-", " ")
                apart = [other for other in group if not re.search(rf"\b{re.escape(other).replace('-', ' ')}\b", stem)]
                if match and words in apart:
                    replies = tuple(
                        Reply(other, gettext("Here it is: %(words)s.", words=words))
                        for other in apart
                        if other != words
                    )
                    yield _left_out(saying, gettext("Which way"), match.span(), words, replies)


def _left_out(saying: Saying, group: str, span: tuple[int, int], right: str, pool: tuple[Reply, ...]) -> Draft:
    start, stop = span
    asks = f"{saying.lead} {saying.text[:start]}{GAP}{saying.text[stop:]} {gettext('What belongs in the gap?')}"
    id = f"{group.rsplit(maxsplit=1)[-1].casefold()}-{saying.id}-{start}"
    steps = tuple(str(block.step.id) for block in saying.blocks) if len(saying.blocks) == 1 else ()
    about = tuple(dict.fromkeys((*saying.about, *steps)))
    return Draft(id, group, asks, right, pool, joined(saying.text, saying.proof), saying.anchor, about)

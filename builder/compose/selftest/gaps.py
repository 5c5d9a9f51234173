"""Sentences of the module with one thing left out: a direction, an amount, a drug, a colour.

The answers are of one closed kind, so that each is as likely to one who does not know, and the sentence itself proves
the right one.
"""

import re
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from builder.compose.selftest.question import Draft, Reply, drawn
from builder.compose.selftest.taught import Taught, head
from builder.compose.slides.slide_text import joined
from builder.compose.view.outline import StepBlock
from builder.compose.view.words import uncapital
from builder.facts.remembered import once_per_library
from builder.model.library import Library
from builder.model.pages import ItemKind

GAP = "____"
_IF_IT_HAPPENS = "happens-"
_EVERYWHERE = frozenset({"oxygen"})
"""Given in so many troubles that it is no answer."""


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
        told = (
            ("cue", f"{where} Go on when:", step.cue, f"If not: {uncapital(str(step.if_not))}" if step.if_not else ""),
            ("if-not", f"{where} If not:", step.if_not, f"Go on when: {uncapital(str(step.cue))}"),
            ("recovery", f"{where} A slip: {uncapital(str(step.error))} Put it right:", step.recovery, step.why or ""),
            ("why", f"{where} Why:", step.why, ""),
        )
        for name, lead, text, proof in told:
            if text:
                yield Saying(f"{name}-{step.id}", lead, str(text), proof, block.anchor, (str(step.id),), (block,))
        for figure in (figure for figure in step.figure if figure.caption):
            id, lead, about = f"caption-{figure.id}", f"{where} Legend of its figure:", (str(step.id),)
            yield Saying(id, lead, str(figure.caption), "", block.anchor, about, (block,))
    for caution in taught.cautions:
        proof = f"{caution.hazard}: {uncapital(str(caution.consequence))}"
        blocks = tuple(taught.guarded(caution))
        told_of = (
            ("avoid", f"{caution.hazard}. Avoid it:", caution.avoid),
            (_IF_IT_HAPPENS.rstrip("-"), f"{caution.hazard}. If it happens:", caution.if_it_happens),
        )
        for name, lead, text in told_of:
            if text:
                about = (str(caution.id),)
                yield Saying(f"{name}-{caution.id}", lead, str(text), proof, f"caution-{caution.id}", about, blocks)


def drugs(taught: Taught) -> Iterator[Draft]:
    """Leave the drug out that is given when something goes wrong: those given for other troubles are wrong."""
    given = rescue_drugs(taught.library)
    for saying in sayings(taught):
        found = list(_drugs_in(taught.library, saying.text)) if saying.id.startswith(_IF_IT_HAPPENS) else []
        here = {name for _, name in found}
        for span, name in found:
            replies = tuple(
                Reply(other, f"That is given for something else: {hazard}.")
                for other, hazard in given.items()
                if other not in here
            )
            yield _left_out(saying, "Which drug", span, name, replies)


@once_per_library
def rescue_drugs(library: Library) -> dict[str, str]:
    """Return the drugs that are given when something goes wrong, each with the first hazard that it is given for."""
    given: dict[str, str] = {}
    for procedure in library.procedures:
        for caution in procedure.cautions.values():
            for _, name in _drugs_in(library, str(caution.if_it_happens or "")):
                given.setdefault(name, uncapital(str(caution.hazard)))
    return given


def _drugs_in(library: Library, text: str) -> Iterator[tuple[tuple[int, int], str]]:
    words = list(re.finditer(r"[a-z]+", text.casefold()))
    for first, last in (*pairwise(words), *zip(words, words, strict=True)):
        item = library.items.find(text[first.start() : last.end()])
        if item is not None and item.kind is ItemKind.DRUG and str(item.name) not in _EVERYWHERE:
            yield (first.start(), last.end()), text[first.start() : last.end()].casefold()


_WORDS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8, "ten": 10}
_NUMBER = re.compile(
    rf"(?<![\w.-])(?P<number>\d+(?:\.\d+)?|{'|'.join(_WORDS)})\s(?P<unit>mm|cm|mL|litres?|fingertips?|fingers?)\b"
)
_FINGERS = ("one", "two", "three", "four")
_LADDER = (0.1, 0.2, 0.5, 1, 2, 3, 4, 5, 10, 15, 30, 50, 100, 200, 500, 1500, 3000)
_FAR, _APART = 2.5, 2


def numbers(taught: Taught) -> Iterator[Draft]:
    """Leave an amount or a distance out: the others are far more or far less. To press or to wait for longer is no
    mistake, so times are not asked for."""
    for saying in sayings(taught):
        for match in _NUMBER.finditer(saying.text):
            if saying.text[: match.start()].endswith(" to "):
                continue
            number, unit = match["number"], match["unit"]
            id = f"{saying.id}-{number}"
            if unit.startswith("finger"):
                one = unit.removesuffix("s")
                others = [f"{word} {one}{'s' * (word != 'one')}" for word in _FINGERS if word != number]
            else:
                value = float(_WORDS.get(number) or number)
                others = [_with_unit(other, unit) for other in _steps(value, 1 + drawn(id, 2))]
            replies = tuple(Reply(other, f"Here it is: {match.group()}.") for other in others)
            yield _left_out(saying, "How much, how far", match.span(), match.group(), replies)


def _steps(value: float, below: int) -> list[float]:
    """Return three other numbers, none near ``value`` or one another, ``below`` of them smaller than ``value``."""
    smaller, larger = [value / _FAR * _APART], [value * _FAR / _APART]
    for number in reversed(_LADDER):
        if number <= smaller[-1] / _APART:
            smaller.append(number)
    for number in _LADDER:
        if number >= larger[-1] * _APART:
            larger.append(number)
    return [*smaller[1 : 1 + below], *larger[1 : 4 - below]]


def _with_unit(value: float, unit: str) -> str:
    one = unit.removesuffix("s")
    plural = one + "s" if one not in {"mm", "cm", "mL"} and value != 1 else one
    return f"{value:g} {plural}"


_DIRECTIONS = (
    ("medially", "laterally", "upwards", "downwards"),
    ("medial to", "lateral to", "above", "below"),
    ("further medial", "further lateral", "further up", "further down"),
    ("index finger", "middle finger", "ring finger", "little finger"),
    ("the upper edge", "the lower edge", "the inner side"),
    ("on the little-finger side", "on the thumb side", "on the back"),
    ("to the little-finger side", "to the thumb side", "towards the fingers", "towards the forearm"),
    ("below the chest", "level with the chest", "above the chest"),
    ("stretch up and down", "stretch from side to side", "stretch in a circle"),
    ("below and outside", "above and outside", "below and inside", "above and inside"),
    ("just above", "just below", "well below"),
    ("higher", "lower", "further to the side"),
    ("in front of", "behind", "below"),
)
"""Words of place that exclude one another."""
_ASKED_OF = {"above", "below", "well below", "behind", "on the back"}
"""Words of place that are also said of much else."""
_ADVERBS = {"higher", "lower"}
"""Words that ask only where nothing follows that they describe."""


def directions(taught: Taught) -> Iterator[Draft]:
    """Leave a direction out, unless the lead says its opposite."""
    for saying in sayings(taught):
        for group in _DIRECTIONS:
            for words in (words for words in group if words not in _ASKED_OF):
                ends = r"(?=[,.;]|$)" if words in _ADVERBS else r"\b(?! and)"
                match = re.search(rf"\b{re.escape(words)}{ends}", saying.text)
                around = f"{saying.lead} {saying.text.replace(words, '')}"
                if match and not any(re.search(rf"\b{re.escape(other)}\b", around) for other in group):
                    replies = tuple(Reply(other, f"Here it is: {words}.") for other in group if other != words)
                    yield _left_out(saying, "Which way", match.span(), words, replies)


_COLOURS = {"white": ("red", "tan", "blue"), "tan": ("white", "red", "blue"), "pale": ("pink", "blue", "red")}
"""Colours by which a structure or a sign is known, and those that it is not."""


def colours(taught: Taught) -> Iterator[Draft]:
    """Leave out the colour by which a critical step is known to be done."""
    for saying in sayings(taught):
        if saying.id.startswith("cue-") and all(block.step.critical for block in saying.blocks):
            for match in re.finditer(rf"\b(?:{'|'.join(_COLOURS)})\b", saying.text):
                right = match.group()
                replies = tuple(Reply(other, f"Here it is: {right}.") for other in _COLOURS[right])
                yield _left_out(saying, "Which colour", match.span(), right, replies)


def _left_out(saying: Saying, group: str, span: tuple[int, int], right: str, pool: tuple[Reply, ...]) -> Draft:
    start, stop = span
    asks = f"{saying.lead} {saying.text[:start]}{GAP}{saying.text[stop:]} What belongs in the gap?"
    id = f"{group.rsplit(maxsplit=1)[-1].casefold()}-{saying.id}-{start}"
    steps = tuple(str(block.step.id) for block in saying.blocks) if len(saying.blocks) == 1 else ()
    about = tuple(dict.fromkeys((*saying.about, *steps)))
    return Draft(id, group, asks, right, pool, joined(saying.text, saying.proof), saying.anchor, about)

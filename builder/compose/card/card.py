"""The pocket card: A6, two sides or four, by importance; see ``card_plan`` and ``card_fit``."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil
from typing import Any, NamedTuple

from builder.compose.card.card_fit import FOLDED, SINGLE, TYPES, CardSide, Fit, Heights, fit, readable_cm
from builder.compose.card.card_plan import (
    LEVEL_WORDS,
    LEVELS,
    MUST,
    SHORT_LABELS,
    TITLES,
    CardLine,
    LinePart,
    labels_in,
    plan_of,
)
from builder.compose.card.ways import ways_of
from builder.compose.code_mark import mark_of
from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.view.head import head_of
from builder.compose.view.words import signal_word
from builder.facts.remembered import once_per_library
from builder.findings.finding import Finding, Refused, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.grouping import grouped
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure, Status
from builder.place import NOWHERE

_LONG_LINES = 4
_SHEET_MM, _BOTTOM_MM = 148.0, 8.8
_TEMPLATE = "card/card.html.j2"
_BARE_TOP_MM, _MARKED_TOP_MM, _TWO_ROWS_MM = 5.2, 8.5, 12.1
_FOOT_LETTERS = 58  # of what runs along at the foot of a side: it has one row
_ROW_LETTERS = 54  # of the mark, in a row at the head of a side


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A line as the template places it: the ``parts`` that stand, and the id it has in the document."""

    line: CardLine
    parts: tuple[LinePart, ...]
    anchor: str


@dataclass(frozen=True, slots=True)
class CardPlace:
    """A place with what stands in it: ``signal`` is its signal word, "" where it holds no dangers."""

    section: str
    anchor: str
    title: str
    signal: str
    shown: tuple[ShownLine, ...]


class PlacedSide(NamedTuple):
    """The places of a side, and how far apart its lines stand."""

    places: Sequence[CardPlace]
    gap_mm: float


@once_per_library  # to fit text means to measure it, and the sheets carry the card too
def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the card of every way through ``procedure``.

    Raises Refused where what must stand on it does not fit: by how much, and which lines to shorten.
    """
    setter = Setter(library, procedure, renderer)
    lines = plan_of(library, procedure)
    ways = ways_of(procedure)
    best = fit(lines, lambda pt: setter.measured({"": lines}, pt)[""], single=len(ways.ways) == 1)
    made = setter.document(lines, best)
    return replace(made, explained={**made.explained, "cards_by_way": ways.kind})


class Setter:
    """Fills the card's template for one procedure, to be printed or to be measured.

    The first of ``sides`` is printed large, and takes the room of the longest. ``ways`` say which way a card shows: one
    to be printed, all of them to be measured.
    """

    def __init__(
        self,
        library: Library,
        procedure: Procedure,
        renderer: Renderer,
        sides: Sequence[str] = ("",),
        ways: Sequence[str] = (),
    ) -> None:
        self.procedure = procedure
        self.renderer = renderer
        self.ways = ways
        self.code = mark_of(library, procedure)
        self.head = head_of(library, procedure, renderer.look.paper_mark(procedure, _TEMPLATE))
        side, mark = sides[0], self.head.mark
        is_approved = procedure.status is Status.APPROVED  # of any other the mark says what the day of review would
        due = gettext("Review by %(day)s", day=self.head.due) if self.head.due and is_approved else ""
        running = _running(procedure, side)
        longest = max((_running(procedure, one) for one in sides), key=len)  # what stands where is alike for all sides
        above, beside = ("", mark) if len(_run_on(mark, longest)) <= _FOOT_LETTERS else (mark, "")
        late, soon = ("", due) if len(_run_on(beside, longest, due)) <= _FOOT_LETTERS else (due, "")
        foot = _run_on(beside, running, soon)
        self.said = tuple(filter(None, (side, foot)))
        """What no other side says."""
        self.side_musts = (Must("running", "side", running), Must("side", "side", side)) if side else ()
        rows = ceil(len(above) / _ROW_LETTERS)
        self.top_mm = (_BARE_TOP_MM, _MARKED_TOP_MM, _TWO_ROWS_MM)[min(rows, 2)]
        self.values = {
            "head": self.head, "code": self.code, "side": side, "ways": ways, "top_mm": self.top_mm, "due": late,
            "wide_as": "\\A ".join(map(_in_style, sorted(sides))), "running_mark": _in_style(above),
            "running_foot": _in_style(foot),
        }  # fmt: skip

    def document(self, lines: Sequence[CardLine], best: Fit) -> Document:
        """Return the card that ``best`` fills. Raises Refused where what must stand does not fit."""
        if best.over:
            raise Refused(too_long(self.procedure, lines, best))
        standing = [line for side in best.sides for line in side.lines]
        return Document.about(
            self.procedure,
            "card",
            "card.pdf",
            self.html([_placed(side, best.level, at) for at, side in enumerate(best.sides, start=1)], best.pt),
            musts=(
                *self.head.musts,
                *self.side_musts,
                *promised("way", "way", *self.ways),
                *self.code.musts[1:],  # the picture stands in the head, the words at the foot
                *(must for line in standing for must in line.musts(best.level)),
                *self.code.musts[:1],
            ),
            left_out=tuple(_left_out(lines, best.level)),
            explained=_explained(lines, best),
        )

    def html(self, sides: Sequence[PlacedSide], pt: float, sheet_mm: float = _SHEET_MM) -> str:
        """Return the card; ``sheet_mm`` is the height of a side, very tall to measure."""
        measures = {"pt": pt, "sheet_mm": sheet_mm, "bottom_mm": _BOTTOM_MM}
        has_gap = any(shown.line.gap for side in sides for place in side.places for shown in place.shown)
        return self.renderer.render(
            _TEMPLATE, sides=sides, labels=labels_in(SHORT_LABELS), has_gap=has_gap, **self.values, **measures
        )

    def measured(self, plans: Mapping[str, Sequence[CardLine]], pt: float) -> Mapping[str, Heights]:
        """Set every line of every plan once at each of its lengths, on a side as tall as it takes, and read the
        heights; each of the ``ways`` is the words of the plan at its place."""
        looks = dict.fromkeys(_look(line) for lines in plans.values() for line in lines)
        looked = {
            look: {parts: f"form-{at}-{level}" for level, parts in enumerate(_lengths(look))}
            for at, look in enumerate(looks)
        }
        forms = (
            (look.section, ShownLine(look, parts, anchor))
            for look, lengths in looked.items()
            for parts, anchor in lengths.items()
        )
        places = [_place(section, section, shown) for section, shown in grouped(forms).items()]
        letters = sum(len(part.text) for lengths in looked.values() for parts in lengths for part in parts)
        tall = 80.0 + 12 * (len(self.ways) + sum(map(len, looked.values()))) + letters / 4
        sheet = self.renderer.measure(self.html([PlacedSide(places, 0.0)], pt, tall))[0]
        spots = sorted(sheet.items(), key=lambda spot: spot[1])
        height = {name: following[1] - top for (name, top), following in pairwise(spots)}
        floor = _SHEET_MM - _BOTTOM_MM
        ends = [sheet["only"] + height[f"way-{at}"] for at in range(len(self.ways))]
        starts = [max(end, self.top_mm + self.code.side_mm) for end in ends] or [sheet["start"]] * len(plans)
        whole = Heights(
            lines={},
            headings={place.section: height[place.anchor] for place in places},
            foot=height["foot"],
            first=0.0,
            other=floor - self.top_mm,
        )
        return {
            name: replace(whole, first=floor - start, lines={
                line.id: tuple(height.get(looked[_look(line)].get(line.shown(level), ""), 0.0) for level in LEVELS)
                for line in lines
            })
            for (name, lines), start in zip(plans.items(), starts, strict=True)
        }  # fmt: skip


def _running(procedure: Procedure, side: str) -> str:
    edition = procedure.edition
    if side:
        return gettext("%(side)s side. Edition %(edition)s", side=side, edition=edition)
    return gettext("Edition %(edition)s", edition=edition)


def _run_on(*said: str) -> str:
    return ". ".join(filter(None, said))


def _in_style(text: str) -> str:
    """Return ``text`` as it may stand between quotes in a style sheet: what is no letter or digit as its number."""
    return "".join(sign if sign.isalnum() else f"\\{ord(sign):x} " for sign in text)


def _look(line: CardLine) -> CardLine:
    """Return what the height of ``line`` follows from; its number stands in a rail of fixed width."""
    return replace(line, id="", number=line.number and "8", sources=(), at=NOWHERE)


def _lengths(line: CardLine) -> tuple[tuple[LinePart, ...], ...]:
    """Return what may stand of ``line``, the shortest first."""
    return tuple(dict.fromkeys(shown for level in LEVELS if (shown := line.shown(level))))


def _placed(side: CardSide, level: int, number: int) -> PlacedSide:
    """Return the places of side ``number`` with the lines that stand in them."""
    by_section = grouped((line.section, ShownLine(line, line.shown(level), line.id)) for line in side.lines)
    places = [_place(section, f"{section}-{number}", shown) for section, shown in by_section.items()]
    return PlacedSide(places, side.gap_mm)


def _place(section: str, name: str, shown: Iterable[ShownLine]) -> CardPlace:
    return CardPlace(section, f"place-{name}", gettext(TITLES[section]), signal_word(section), tuple(shown))


def _left_out(lines: Sequence[CardLine], level: int) -> Iterator[LeftOut]:
    """Yield what stands on a later level than the card shows: whole lines, and parts of others."""
    for line in lines:
        shown = line.shown(level)
        for part in line.parts if shown else line.parts[:1]:
            if part not in shown:
                kind = f"{line.kind}-line" if shown else line.kind
                yield LeftOut(kind, line.id, f"no room for {LEVEL_WORDS[part.level]}: what is shown is more important")


def _explained(lines: Sequence[CardLine], best: Fit) -> dict[str, Any]:
    words = sum(len(part.text.split()) for line in lines for part in line.shown(best.level))
    told: dict[str, Any] = {
        "sides": len(best.sides),
        "type_pt": best.pt,
        "readable_to_cm": readable_cm(best.pt),
        "shown": list(LEVEL_WORDS[: best.level + 1]),
        "words": words,
    }
    if best.level < LEVELS[-1]:
        told["not_shown"] = list(LEVEL_WORDS[best.level + 1 :])
    if best.pt < TYPES[-1]:
        told["to_read_at_60_cm"] = _to_read_farther(best, words)
    if len(best.sides) > SINGLE and best.over_single:
        told["too_long_for_two_sides"] = {"mm": best.over_single, "longest": list(_longest(lines, best.heights))}
    return told


def _to_read_farther(best: Fit, words: int) -> Mapping[str, Any]:
    """Return what would make the card readable to 60 cm: text takes room as the square of its type."""
    heights, sides = best.heights, len(best.sides)
    used = sum(heights.lines[line.id][best.level] + side.gap_mm for side in best.sides for line in side.lines)
    room = heights.first + (sides - 1) * heights.other - heights.foot
    share = max(0.0, 1 - room / (used * (TYPES[-1] / best.pt) ** 2))
    return {"type_pt": TYPES[-1], "words_too_many": ceil(words * share), "of_words": words}


def _longest(lines: Sequence[CardLine], heights: Heights) -> Iterator[str]:
    """Yield the longest of what must stand, and what shortening each by half would win."""
    for line in sorted(lines, key=lambda line: (-heights.lines[line.id][MUST], line.id))[:_LONG_LINES]:
        taken = heights.lines[line.id][MUST]
        words = " ".join(part.text for part in line.shown(MUST))
        yield f"{taken:.1f} mm, half as long wins {taken / 2:.1f} mm: {words}"


def too_long(procedure: Procedure, lines: Sequence[CardLine], best: Fit) -> Finding:
    """Return what to say where what must stand does not fit: by how much, and what shortening the longest would win."""
    message = (
        f"{quoted(procedure.title)} does not fit its pocket card: with only what must be on it, in {TYPES[0]} pt, "
        f"it is {best.over:.1f} mm longer than {FOLDED} sides"
    )
    longest = sorted(lines, key=lambda line: (-best.heights.lines[line.id][MUST], line.id))[:_LONG_LINES]
    told = zip(longest, _longest(lines, best.heights), strict=True)
    hint = "Shorten the longest, which follow: a hazard, how it shows, what is done then; a title or its go on when."
    return finding(
        "card-too-long", procedure.id.at, message, hint, tuple(SecondPlace(line.at, say) for line, say in told)
    )

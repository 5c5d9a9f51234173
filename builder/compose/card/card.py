"""The pocket card: A6, at most two sides, every place where it always is; see ``card_lines`` and ``card_fit``."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from builder.compose.card.card_fit import Density, Fit, Heights, fit
from builder.compose.card.card_lines import BACK, FRONT, TITLES, CardLine, LineForm, lines_of, source_words
from builder.compose.card.ways import ways_of
from builder.compose.code_mark import mark_of
from builder.compose.document import Document, LeftOut, Must, Renderer, promised
from builder.compose.view.head import head_of
from builder.compose.view.outline import outline
from builder.compose.view.rendered_prose import short_sources
from builder.facts.remembered import once_per_library
from builder.findings.finding import Finding, Refused, SecondPlace
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.grouping import grouped
from builder.model.library import Library
from builder.model.pages import Procedure

_LONG_LINES = 4
_KINDS = {
    "before": "before", "see": "see", "steps": "step", "dangers": "caution", "counts": "count", "stop": "stop",
    "aftercare": "aftercare", "sources": "reference",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A line as the template places it: ``form`` chosen, ``cites`` numbers of its sources; ``anchor`` is its id."""

    line: CardLine
    form: LineForm
    cites: tuple[int, ...] = ()
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class CardPlace:
    """A labelled place of the card with what stands in it."""

    section: str
    title: str
    shown: tuple[ShownLine, ...]


@once_per_library  # to fit text means to measure it, and the sheets carry the card too
def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the pocket card of ``procedure``.

    Raises Refused where what must stand on it does not fit on two sides: by how much, and which lines to shorten.
    """
    setter = Setter(library, procedure, renderer)
    lines = lines_of(library, procedure, outline(procedure))
    best = fit(lines, lambda density: setter.measured(lines, density)[0])
    if best.over:
        raise Refused(too_long(procedure, lines, best, setter.measured(lines, best.density)[0]))
    made = setter.document(lines, best)
    return replace(made, explained={**made.explained, "cards_by_way": ways_of(procedure).kind})


class Setter:
    """Fills the card's template for one procedure, to be printed or to be measured.

    ``side`` is printed large. ``ways`` say which way a card shows: one to be printed, all of them to be measured.
    """

    def __init__(
        self, library: Library, procedure: Procedure, renderer: Renderer, side: str = "", ways: Sequence[str] = ()
    ) -> None:
        self.library = library
        self.procedure = procedure
        self.renderer = renderer
        self.ways = ways
        self.code = mark_of(library, procedure)
        self.head = head_of(library, procedure)
        self.values = {"head": self.head, "code": self.code, "side": side, "ways": ways}
        running = f"{side} side. Edition {procedure.edition}"
        self.side_musts = (Must("running", "side", running), Must("side", "side", side)) if side else ()

    def document(self, lines: Sequence[CardLine], best: Fit) -> Document:
        """Return the card with the lines that ``best`` chose."""
        places = places_of(lines, best.chosen, self.library)
        return Document.about(
            self.procedure,
            "card",
            "card.pdf",
            self.html(places, best.density),
            musts=(
                *self.head.musts,
                *self.side_musts,
                *promised("way", "way", *self.ways),
                *place_musts(places),
                *self.code.musts,
            ),
            left_out=lines_left_out(lines, best.chosen),
            explained=_explained(lines, best),
        )

    def html(self, places: Sequence[CardPlace], density: Density, sheet_mm: float = 148.0) -> str:
        """Return the card; ``sheet_mm`` is the height of a side, very tall to measure."""
        front = [place for place in places if place.section in FRONT]
        back = [place for place in places if place.section in BACK]
        measures = {"density": density, "sheet_mm": sheet_mm}
        return self.renderer.render("card/card.html.j2", front=front, back=back, **self.values, **measures)

    def measured(self, lines: Sequence[CardLine], density: Density) -> tuple[Heights, ...]:
        """Set every form of every line once, on a side as tall as it takes, and read the heights: for each of the ways,
        whose front has room of its own, or for the card without any."""
        places = _places(
            ShownLine(line, form, tuple(range(1, len(line.sources) + 1)), f"{line.id}--{at}")
            for line in lines
            for at, form in enumerate(line.forms)
        )
        tall = 60.0 + 40 * sum(len(line.forms) for line in lines)
        sheets = self.renderer.measure(self.html(places, density, sheet_mm=tall))
        spots = [dict(sorted(sheet.items(), key=lambda item: item[1])) for sheet in sheets]
        height = {name: sheet[following] - sheet[name] for sheet in spots for name, following in pairwise(sheet)}
        front, back = (_SHEET_MM - _BOTTOM_MM - sheet[start] for sheet, start in zip(spots, _STARTS, strict=True))
        taken = [height[f"way-{at}"] for at in range(len(self.ways))] or [0.0]
        heights = Heights(
            forms={line.id: tuple(height[f"{line.id}--{at}"] for at in range(len(line.forms))) for line in lines},
            headings={place.section: height[f"place-{place.section}"] for place in places},
            front=front,
            back=back - height["foot"],
        )
        return tuple(replace(heights, front=front + sum(taken) - own) for own in taken)


_SHEET_MM = 148.0
_BOTTOM_MM = 9.0
_STARTS = ("start-front", "start-back")


def places_of(lines: Sequence[CardLine], chosen: Mapping[str, int], library: Library) -> list[CardPlace]:
    """Return the places with the lines that stand in them, sources numbered by first appearance."""
    standing = _renumbered([line for line in lines if line.id in chosen])
    listed = short_sources(library.sources, (key for line in standing for key in line.sources))
    numbers = {key: number for number, key in enumerate(listed, start=1)} if "sources" in chosen else {}
    told = LineForm(source_words(listed))
    return _places(
        ShownLine(
            line,
            told if line.section == "sources" else line.forms[chosen[line.id]],
            tuple(sorted(numbers[key] for key in line.sources if key in numbers)),
            line.id,
        )
        for line in standing
    )


def _places(lines: Iterable[ShownLine]) -> list[CardPlace]:
    """Return the places in which ``lines`` stand, in the order of the card."""
    shown = grouped((line.line.section, line) for line in lines)
    return [CardPlace(place, TITLES[place], tuple(shown[place])) for place in (*FRONT, *BACK) if place in shown]


def _renumbered(lines: Sequence[CardLine]) -> list[CardLine]:
    """Number the dangers that stand from 1, and drop the marks of those that do not."""
    old = [line.number for line in lines if line.section == "dangers"]
    new = {number: str(place) for place, number in enumerate(old, start=1)}
    return [
        replace(line, number=new[line.number])
        if line.section == "dangers"
        else replace(line, marks=tuple(new[mark] for mark in line.marks if mark in new))
        for line in lines
    ]


def place_musts(places: Sequence[CardPlace]) -> Iterator[Must]:
    """Yield what is promised of each line: its words as they stand, and what a longer form adds."""
    for shown in (shown for place in places for shown in place.shown):
        line, kind = shown.line, _KINDS[shown.line.section]
        lead = line.lead if line.signal else line.lead and f"{line.lead}:"
        yield Must(kind, line.id, " ".join(part for part in (line.number, lead, shown.form.text) if part))
        yield from promised(f"{kind}-line", line.id, shown.form.detail)


def lines_left_out(lines: Sequence[CardLine], chosen: Mapping[str, int]) -> tuple[LeftOut, ...]:
    """Return what found no room: lines that are not ``chosen``, and longer forms of those that are."""
    left_out = []
    for line in lines:
        kind = _KINDS[line.section]
        if line.id not in chosen:
            left_out.append(LeftOut(kind, line.id, "no room: what stands instead is worth more in the space"))
        elif chosen[line.id] < len(line.forms) - 1:
            left_out.append(LeftOut(f"{kind}-line", line.id, "no room for its longer form"))
    return tuple(left_out)


def _explained(lines: Sequence[CardLine], best: Fit) -> dict[str, Any]:
    return {
        "density": best.density.name,
        "type_pt": best.density.pt,
        "readable_to_cm": best.density.readable_cm(),
        "tried": [{"density": name, "wanted_too_long_by_mm": round(over, 1)} for name, over in best.tried],
        "front_mm": {"used": round(best.front.used, 1), "room": round(best.front.room, 1)},
        "back_mm": {"used": round(best.back.used, 1), "room": round(best.back.room, 1)},
        "must": sum(line.must for line in lines),
        "lines": len(best.chosen),
        "of_lines": len(lines),
    }


def too_long(procedure: Procedure, lines: Sequence[CardLine], best: Fit, measured: Heights) -> Finding:
    """Return what to say where not even what must be there fits: by how much, and the longest lines."""
    side, sections = ("front", FRONT) if best.front.over >= best.back.over else ("back", BACK)
    heights = measured.forms
    here = [line for line in lines if line.must and line.section in sections]
    longest = sorted(here, key=lambda line: (-heights[line.id][0], line.id))[:_LONG_LINES]
    message = (
        f"{quoted(procedure.title)} does not fit its pocket card: with only what must be on it, in the smallest type, "
        f"the {side} is {best.over:.1f} mm too long"
    )
    also = tuple(SecondPlace(line.at, f"{heights[line.id][0]:.1f} mm: {line.forms[0].text}") for line in longest)
    hint = "Shorten the longest, which follow: titles of critical steps, or hazard and `avoid` of a danger or warning."
    return finding("card-too-long", procedure.id.at, message, hint, also)

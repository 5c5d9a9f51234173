"""Prints what stands on the finished papers of the demo, a row a procedure: `python tests/card/measure_papers.py`.

Everything is read from finished PDF files: a critical step counts where its go-on-when is on the card, a caution where
hazard, sign and what to do are, on the card of every way and on that of each way.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), *(str(ROOT / "tests" / name) for name in ("", "card", "paper", "handout"))]

import pypdfium2  # noqa: E402
from cards import DEMO, DEMO_PROCEDURES, card_of, demo, sides_of  # noqa: E402
from papers import renderer, typesetter  # noqa: E402
from test_handout_rules import holes, opened  # noqa: E402

from builder.compose.card.card_ways import tickets_of  # noqa: E402
from builder.compose.card.ways import way_of  # noqa: E402
from builder.compose.sheets import count_sheet, patient_sheet, what_now  # noqa: E402
from builder.model.pages import Procedure  # noqa: E402
from builder.readback.comparison import bare  # noqa: E402

HEAD = (
    "procedure", "two sides", "go on when", "cautions", "words", "type pt", "reads cm", "handout", "largest hole",
    "what now", "count", "patient", "by time",
)  # fmt: skip


def one_side(procedure: Procedure) -> list[str]:
    """The name of one card of each way: those of the other side differ in one word."""
    return list({ticket.way.name: ticket.name for ticket in tickets_of(procedure)}.values())


def shown(procedure: Procedure, name: str) -> Iterator[tuple[str, bool]]:
    """Yield whether each critical step and each caution of a way stands whole on its finished card."""
    text = "".join(sides_of(procedure.id, name))
    choices = card_of(procedure.id, name).explained["choices"] if name else {}
    way = way_of(procedure, choices, demo().items) if name else procedure
    for step in way.steps.values():
        if step.critical:
            yield "step", bare(f"✓ {step.cue}") in text
    for caution in way.cautions.values():
        parts = (caution.hazard, caution.sign, caution.if_it_happens)
        yield "caution", all(part and bare(part) in text for part in parts)


def pages(procedure: Procedure) -> Iterator[int]:
    for sheet in (what_now, count_sheet, patient_sheet):
        document = sheet.compose(demo(), procedure, renderer(DEMO))
        yield len(pypdfium2.PdfDocument(typesetter(DEMO).pdf(document)))


def is_in_order(procedure: Procedure) -> bool:
    """Tell whether all the patient is told stands in the finished sheet, in the order of time."""
    document = patient_sheet.compose(demo(), procedure, renderer(DEMO))
    file = pypdfium2.PdfDocument(typesetter(DEMO).pdf(document))
    text = bare("".join(page.get_textpage().get_text_range() for page in file))
    at = [text.find(bare(must.text)) for must in document.musts if must.kind in ("help", "patient")]
    return -1 not in at and at == sorted(at)


def row(procedure: Procedure, folder: Path) -> tuple[str, ...]:
    names = one_side(procedure)
    found = [one for name in ("", *names) for one in shown(procedure, name)]
    steps, cautions = ([ok for kind, ok in found if kind == wanted] for wanted in ("step", "caution"))
    cards = [card_of(procedure.id, name).explained for name in names]
    with ExitStack() as stack:
        artefact = opened(procedure.id, folder, stack)
        handout, hole = len(artefact.sheets), max(holes(artefact)[:-1])
    return (
        str(procedure.id),
        f"{sum(card['sides'] == 2 for card in cards)} of {len(cards)}",
        f"{sum(steps)} of {len(steps)}",
        f"{sum(cautions)} of {len(cautions)}",
        f"{min(card['words'] for card in cards)} to {max(card['words'] for card in cards)}",
        f"{min(card['type_pt'] for card in cards)}",
        f"{min(card['readable_to_cm'] for card in cards)}",
        str(handout),
        f"{hole:.0%}",
        *map(str, pages(procedure)),
        "yes" if is_in_order(procedure) else "NO",
    )


if __name__ == "__main__":
    print(" | ".join(HEAD))
    with TemporaryDirectory() as name:
        for each in DEMO_PROCEDURES:
            print(" | ".join(row(each, Path(name))), flush=True)

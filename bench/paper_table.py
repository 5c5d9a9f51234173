"""``python -m bench.paper_table DEPARTMENT PUBLIC [OLD-DEPARTMENT OLD-PUBLIC]``: what the finished papers show.

Every figure is read from the published files themselves with pypdfium2, but for the smallest type, which read-back
measured on them. With a second pair each figure stands as ``then -> now``.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdfium2

from builder.check.engine import examine
from builder.compose.card.card_fit import readable_cm
from builder.compose.card.ways import way_of
from builder.compose.document import Renderer
from builder.compose.sheets import patient_sheet
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.readback.comparison import bare, missing

_HEAD, _FOOT, _WHITE = 0.08, 0.93, 250  # where running heads and feet begin, and what is no ink

Row = tuple[str, str, str]
"""The paper, what is told of it, and the figure."""


def rows(department: Path, public: Path) -> Iterator[tuple[str, Row]]:
    """Yield each figure of the papers in ``public`` with the id of its procedure."""
    library, _ = examine(load(department))
    artefacts = json.loads((public / "build-report.json").read_text(encoding="utf-8"))["artefacts"]
    for procedure in library.procedures:
        own = [one for one in artefacts if one["procedure"] == procedure.id and one["path"].endswith(".pdf")]
        for row in _of(library, procedure, own, public):
            yield str(procedure.id), row


def _of(library: Library, procedure: Procedure, artefacts: list[dict[str, Any]], public: Path) -> Iterator[Row]:
    cards: dict[str, list[tuple[str, str]]] = {}
    for artefact in artefacts:
        path, name = public / artefact["path"], Path(artefact["path"]).stem
        texts = _texts(path)
        if "/cards/" in artefact["path"] or name == "card":
            choices = (artefact.get("explained") or {}).get("choices") or {}
            way = way_of(procedure, choices, library.items) if choices else procedure
            for told, figure in _card(way, artefact, texts):
                cards.setdefault("card of one way" if choices else "card", []).append((told, figure))
        elif name in ("handout", "what-now", "count-sheet", "patient-sheet"):
            yield name, "pages", str(len(texts))
            yield name, "smallest type, pt", str(artefact["smallest_type_pt"])
            if name == "handout":
                yield name, "largest hole before the last page", f"{_largest_hole(path):.0%}"
            if name == "patient-sheet":
                yield name, "all that the patient is told, in order", _in_order(library, procedure, texts)
    for kind, figures_told in cards.items():
        by_name: dict[str, list[str]] = {}
        for label, figure in figures_told:
            by_name.setdefault(label, []).append(figure)
        for label, figures in by_name.items():
            yield kind, label, _spread(figures)


def _card(way: Procedure, artefact: Mapping[str, Any], texts: list[str]) -> Iterator[tuple[str, str]]:
    shown = bare(" ".join(_without_feet(texts)))
    critical = [step for step in way.steps.values() if step.critical]
    acts = [caution for caution in way.cautions.values() if caution.sign or caution.if_it_happens]
    yield "go on when of critical steps", _of_all(bool(step.cue) and bare(step.cue) in shown for step in critical)
    yield "cautions", _of_all(bare(caution.hazard) in shown for caution in way.cautions.values())
    yield (
        "cautions with sign and action",
        _of_all(all(bare(text) in shown for text in (one.sign, one.if_it_happens) if text) for one in acts),
    )
    yield "words", str(sum(len(text.split()) for text in texts))
    yield "smallest type, pt", str(artefact["smallest_type_pt"])
    yield "reads to, cm", str(readable_cm(artefact["smallest_type_pt"]))
    yield "sides", str(len(texts))


def _texts(path: Path) -> list[str]:
    # PDFium gives a hyphen at the end of a line as U+FFFE.
    return [page.get_textpage().get_text_range().replace("\ufffe", "-") for page in pypdfium2.PdfDocument(path)]


def _without_feet(texts: list[str]) -> Iterator[str]:
    """Yield the pages without the lines that each repeats, so that a sentence is whole where it goes on."""
    lines = [text.splitlines() for text in texts]
    for page in lines:
        yield " ".join(line for line in page if len(lines) == 1 or sum(line in other for other in lines) < len(lines))


def _of_all(marks: Iterable[bool]) -> str:
    told = list(marks)
    return f"{sum(told)}/{len(told)}"


def _spread(figures: list[str]) -> str:
    """Return one figure where all are the same; of counts the worst, of other figures the least and the most."""
    if len(set(figures)) == 1:
        return figures[0]
    if all("/" in figure for figure in figures):
        pairs = [tuple(map(int, figure.split("/"))) for figure in figures]
        return f"{sum(done for done, _ in pairs)}/{sum(wanted for _, wanted in pairs)} on {len(figures)} cards"
    numbers = sorted(map(float, figures))
    return f"{numbers[0]:g} to {numbers[-1]:g}"


def _largest_hole(path: Path) -> float:
    """Return the largest run of white rows within a page but the last, as a part of the height of the page."""
    pages = list(pypdfium2.PdfDocument(path))[:-1]
    return max((_hole(page) for page in pages), default=0.0)


def _hole(page: Any) -> float:
    image = page.render(scale=0.5).to_pil().convert("L")
    width, height = image.size
    data = image.tobytes()
    inked = [row for row in range(height) if min(data[row * width : (row + 1) * width]) < _WHITE]
    body = [height * _HEAD, *(row for row in inked if height * _HEAD < row < height * _FOOT), height * _FOOT]
    largest: float = max(after - before for before, after in pairwise(body))
    return largest / float(height)


def _in_order(library: Library, procedure: Procedure, texts: list[str]) -> str:
    document = patient_sheet.compose(library, procedure, Renderer(load_templates(library.root)))
    told = [must for must in document.musts if must.kind in ("help", "patient")]
    lost = list(missing(told, bare(" ".join(_without_feet(texts)))))
    return f"{len(told) - len(lost)}/{len(told)}"


def main(words: list[str]) -> int:
    """Print the table."""
    if len(words) not in (2, 4):
        sys.stderr.write(f"{__doc__}\n")
        return 2
    now = dict(_keyed(*words[:2]))
    then = dict(_keyed(*words[2:])) if words[2:] else {}
    for key, figure in now.items():
        before = f"{then.get(key, 'not there')} -> " if then else ""
        sys.stdout.write(f"{key[0]:<28} {key[1]:<16} {key[2]:<40} {before}{figure}\n")
    return 0


def _keyed(department: str, public: str) -> Iterator[tuple[tuple[str, str, str], str]]:
    for id, (paper, label, figure) in rows(Path(department), Path(public)):
        yield (id, paper, label), figure


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

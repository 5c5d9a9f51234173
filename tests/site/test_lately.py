"""The first page says what was issued lately, and what changed in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from department import read
from lxml import html
from site_pages import texts

from builder.compose.document import Renderer
from builder.compose.site.front import compose
from builder.compose.site.status import line_now
from builder.load.ledger import Ledger
from builder.load.templates import load_templates


def shown(base: Path, *changes: dict[str, object]) -> list[list[str]]:
    library, _ = read(base)
    now = line_now(library, library.procedures[0])
    lines = tuple(replace(now, **change) for change in changes)
    text = compose(replace(library, ledger=Ledger(lines)), Renderer(load_templates(base)), {}).text
    tree = html.fromstring(text)
    return [texts(item, ".//p") for item in tree.xpath("//*[@class='lately']//li")]


def test_the_newest_comes_first_with_what_changed(base: Path) -> None:
    library, _ = read(base)
    parts = line_now(library, library.procedures[0]).parts
    spot = next(place for place, part in enumerate(parts) if part.kind == "step" and part.id == "open-canal")
    older = (*parts[:spot], parts[spot]._replace(digest="other"), *parts[spot + 1 :])
    first = {"code": "AAA", "edition": "0.9", "on": date(2026, 1, 2), "parts": older}
    second = {"code": "BBB", "on": date(2026, 3, 4)}
    assert shown(base, second, first) == [
        [
            "4 March 2026",
            "Opening and closing the inguinal canal, edition 1.0",
            "Step 4: Find the nerve, then open the canal (changed).",
        ],
        ["2 January 2026", "Opening and closing the inguinal canal, edition 0.9", "First edition issued."],
    ]


def test_a_procedure_that_is_gone_has_no_link(base: Path) -> None:
    [[_, name, _]] = shown(base, {"procedure": "gone", "title": "Gone"})
    assert name == "Gone, edition 1.0"


def test_nothing_issued_is_nothing_said(base: Path) -> None:
    assert shown(base) == []

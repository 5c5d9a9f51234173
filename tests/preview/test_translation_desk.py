"""A translation in the preview: written, found out of date, put right and confirmed, without a command or an editor."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from department import read

FORM = "application/x-www-form-urlencoded"
PAGE = "translation/example/de"
FILE = "content/procedures/example/translations/de.md"
WORDS = "Halten Sie sich an den Plan, 3 Tage lang, 2 Tage, 1 Tag."


@pytest.fixture
def room(base: Path, preview_of: Callable[..., Any]) -> Any:
    return preview_of(base)


def fields(room: Any) -> dict[str, str]:
    """Return each field of the sheet by name, with its original."""
    found = re.findall(r'<label for="(t\w+)"[^>]*>([^<]*)</label>', room.get(PAGE).text)
    return {name: html.unescape(original) for name, original in found}


def sent(room: Any, seen: str = "", **typed: str) -> Any:
    told = {"seen": seen or seen_in(room), "do": "save", **typed}
    return room.send("POST", f"{room.shop.home}/{PAGE}", urlencode(told).encode(), Content_Type=FORM)


def seen_in(room: Any) -> str:
    return re.findall(r'name="seen" value="(\w+)"', room.get(PAGE).text)[0]


def test_a_translation_is_written_found_stale_renewed_and_confirmed(room: Any, base: Path) -> None:
    assert "not begun" in room.get("languages/example").text
    originals = fields(room)
    assert sent(room, **dict.fromkeys(originals, WORDS)).status == 303
    translation = read(base)[0].by_id["example"].translations["de"]
    assert {str(pair.original): str(pair.text) for pair in translation.sentences} == dict.fromkeys(
        originals.values(), WORDS
    )
    assert "not checked by a translator" in room.get("languages/example").text

    # A number that is not in the original is told beside its sentence; then somebody confirms what is shown.
    assert "is not in the original" in room.get(PAGE).text
    assert sent(room, do="confirm", by="", role="translator").status == 409
    assert sent(room, do="confirm", by="Cara Example", role="translator").status == 303
    assert read(base)[0].by_id["example"].translations["de"].is_checked
    assert "Checked by Cara Example, translator" in room.get(PAGE).text

    # The author changes a sentence: the old one and its translation stand beside the new one, and nothing is lost.
    item = base / "content/shared/aftercare/wound-care.md"
    item.write_text(re.sub("patient_text: .*", "patient_text: Keep your wound dry for four days.", item.read_text()))
    room.shop.saved()
    page = room.get(PAGE).text
    assert "The original has changed" in page
    assert "for two days" in page
    now = fields(room)
    [new] = now.keys() - originals.keys()
    assert sent(room, **{new: "Vier Tage trocken halten."}).status == 303
    text = (base / FILE).read_text()
    assert "> Keep your wound dry for four days.\n\nVier Tage trocken halten." in text
    assert text.count(WORDS) == len(originals), "what is the same stays, and what was translated is kept as earlier"
    assert not read(base)[0].by_id["example"].translations["de"].is_checked


def test_what_was_changed_meanwhile_is_not_written_over_and_what_was_typed_is_kept(room: Any, base: Path) -> None:
    old, name = seen_in(room), next(iter(fields(room)))
    sent(room, **{name: "Von jemand anderem"})
    answer = sent(room, old, **{name: "Von mir <b>"})
    assert answer.status == 409
    assert "Von mir &lt;b&gt;" in answer.text
    assert "Von mir" not in (base / FILE).read_text()


def test_what_the_file_would_read_as_something_else_is_refused(room: Any, base: Path) -> None:
    answer = sent(room, **dict.fromkeys(fields(room), "# Titel"))
    assert answer.status == 409
    assert "begins with a sign" in html.unescape(answer.text)
    assert not (base / FILE).exists()

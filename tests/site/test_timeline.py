"""Aftercare is a timeline: in the order of time, with times in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import read

from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import when_words
from builder.model.pages import When
from builder.place import WHERE_KEY, Text, Where


def when(start: str, until: str | None = None) -> When:
    written = {"from": Text(start), WHERE_KEY: Where()} | ({"until": Text(until)} if until else {})
    return When.model_validate(written)


@pytest.mark.parametrize(
    ("start", "until", "words"),
    [
        ("0 h", "2 days", "First 2 days"),
        ("0 h", "walking freely", "At once, until walking freely"),
        ("0 h", None, "At once"),
        ("1 day", "6 weeks", "1 day to 6 weeks"),
        ("1 day", None, "From 1 day"),
        ("drain out", "7 days after the drain", "From drain out until 7 days after the drain"),
        ("2 h", "until walking", "From 2 h until walking"),
    ],
)
def test_times_in_words(start: str, until: str | None, words: str) -> None:
    assert when_words(when(start, until)) == words


def test_aftercare_is_shown_in_the_order_of_time(base: Path) -> None:
    folder = base / "content/procedures/example/aftercare"
    for path in folder.glob("*.md"):
        path.unlink()
    times = {"a": "walking", "b": "2 days", "c": "6 h", "d": "0 h", "e": "1 week"}
    for name, start in times.items():
        front = (
            f"title: Item {name}\nwhen: {{from: {start}, until: 3 weeks}}\npatient_text: Rest.\ncommon_practice: true"
        )
        (folder / f"{name}.md").write_text(f"---\n{front}\n---\n")
    library, _ = read(base)
    shown = [item.page.id for item in view_of(library, library.procedures[0]).aftercare if item.page.id in times]
    assert shown == ["d", "c", "b", "e", "a"]

"""Every hostile drawing is held, every way to write a person found, and what looks like one left alone."""

from __future__ import annotations

import pytest
from hostile_drawings import drawings, fails
from written_persons import is_found, lines, ways

DRAWINGS = drawings()


@pytest.mark.parametrize("kind", DRAWINGS)
def test_hostile_drawings_are_held(kind: str) -> None:
    assert {one[:400]: said for one in DRAWINGS[kind] if (said := fails(one))} == {}


def test_there_are_enough() -> None:
    assert sum(map(len, DRAWINGS.values())) >= 500
    assert len({one for ones in DRAWINGS.values() for one in ones}) >= 500
    assert len(ways("errors")) >= 300


def test_every_way_to_write_a_person_is_found_in_what_is_published() -> None:
    assert [way for way in ways("errors") if not is_found(*way[1:])] == []


def test_what_only_looks_like_a_person_is_left_alone() -> None:
    assert [way for way in ways("innocent") if is_found(*way[1:])] == []
    assert len(lines("innocent")) > 50

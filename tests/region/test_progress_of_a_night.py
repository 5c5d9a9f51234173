"""How far the night is can be read while it goes on: as a page, as JSON, and in what the terminal shows."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

from builder.compose.site.region.hospital import Hospital, HospitalState
from builder.model.region_reading import region_of
from builder.publish.site.region_site import RegionSite
from builder.readback.site.page import read_back

MANY = 250
TEXT = "name: A\ndepartments:\n" + "".join(f"  - {{id: ward-{at}, folder: w}}\n" for at in range(MANY))


def test_each_hundredth_of_the_night_is_told_on_a_page_and_as_json(tmp_path: Path) -> None:
    region, to, shown = region_of(TEXT), tmp_path / "public", []
    known = [Hospital(str(member.id), f"Ward {member.id}", HospitalState.KEPT) for member in region.departments]
    site = RegionSite(to, tmp_path, region, date(2026, 11, 25), read_back)
    told: list[tuple[bool, int, str]] = []

    def turns() -> Iterator[tuple[int, Hospital]]:
        for number in reversed(range(MANY)):
            night = json.loads((to / "night.json").read_text())
            done = sum(each["state"] == "Published" for each in night["hospitals"])
            told.append((night["is_over"], done, (to / "night.html").read_text()))
            yield number, replace(known[number], state=HospitalState.PUBLISHED)

    site.hold(known, turns(), lambda *what: shown.append(what))
    assert not any(is_over for is_over, _, _ in told)
    assert {at - done for at, (_, done, _) in enumerate(told)} == {0, 1, 2}  # at most one in a hundred behind
    assert len({done for _, done, _ in told}) == 100
    assert f"{told[-1][1]} of 250 hospitals done. This page renews itself." in told[-1][2]
    assert 'http-equiv="refresh"' in told[-1][2]
    assert shown[0] == (0, MANY, "reading")
    assert shown[1] == (1, MANY, "Ward ward-249: published")
    assert shown[-1] == (MANY, MANY, "Ward ward-0: published")
    assert json.loads((to / "night.json").read_text())["is_over"]
    assert "250 hospitals: 250 published." in (to / "night.html").read_text()

"""Nights that follow each other: what has not changed has no turn, and whatever has is made anew or told."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from department import TODAY, lay
from engines import killed_in_the_south
from publishing import fingerprint
from regions import NOON, region
from test_region import states

from builder import region_night
from builder.cli import main
from builder.commands import region as command
from builder.commands.common import TOOL_FAILED
from builder.load.kept import tree_stamp
from builder.model.region_reading import region_of
from builder.region_night import night_of

BOTH = ("north", "south")
AFTER_THE_REVIEW = "1843430400"
"""SOURCE_DATE_EPOCH of 1 June 2028, the day after the review of the base is due."""


def no_turns(*_: object) -> None:
    raise AssertionError("a department has a turn")


@pytest.fixture
def published(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    """Return a region of two departments and the folder to which it was published."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    root, to = region(tmp_path / "region", BOTH), tmp_path / "public"
    assert publish(root, to) == 0
    return root, to


def publish(root: Path, to: Path) -> int:
    return main(["region", "publish", str(root), "--to", str(to), "--only", "rehearsal-text"])


def test_a_night_without_changes_reads_nothing_and_sees_what_somebody_altered(
    published: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    root, to = published
    first = {id: fingerprint(to / id) for id in BOTH}
    night = night_of(
        root, region_of((root / "region.yml").read_text()), to, TODAY, cluster="", only=(), engine_of=no_turns
    )
    rests = [night.rest(member) for member in night.region.departments]
    assert str(root) not in (to / "region.json").read_text()  # which is hosted
    # On 1 December the review, due on 31 May 2028, is no longer due in 18 months.
    assert [rest.same_days for rest in rests] == [("2026-11-25", "2026-11-30")] * 2
    assert publish(root, to) == 0  # what was written just before the first night is looked at once more
    assert states(to) == dict.fromkeys(BOTH, "Unchanged")
    with monkeypatch.context() as quiet:
        quiet.setattr(region_night, "Processes", no_turns)
        assert publish(root, to) == 0
        assert states(to) == dict.fromkeys(BOTH, "Unchanged")

        # Somebody alters a published dose: as many letters, and the time set back.
        paper = to / "north/example/rehearsal.txt"
        times, text = paper.stat(), paper.read_text()
        paper.write_text(text.replace("Opening", "Closing", 1))
        os.utime(paper, ns=(times.st_atime_ns, times.st_mtime_ns))
        assert publish(root, to) == TOOL_FAILED  # north would have its turn
    assert publish(root, to) == 0
    assert states(to) == {"north": "Published", "south": "Unchanged"}
    assert {id: fingerprint(to / id) for id in BOTH} == first

    # The day decides something else: the review is overdue.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", AFTER_THE_REVIEW)
    assert publish(root, to) == 0
    assert states(to) == dict.fromkeys(BOTH, "Published")
    assert "Review overdue since 31 May 2028" in (to / "south/example/rehearsal.txt").read_text()


def test_a_department_whose_process_is_killed_stays_on_its_last_good_site(
    published: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    root, to = published
    before = {id: fingerprint(to / id) for id in BOTH}
    head = root / "common/content/procedures/example/procedure.md"
    head.write_text(head.read_text().replace("title: Opening", "title: Careful opening", 1))
    monkeypatch.setattr(command, "engine_of", killed_in_the_south)
    assert publish(root, to) == 1
    assert states(to) == {"north": "Published", "south": "On its last good site"}
    assert "south: the process that makes it ended by itself" in capsys.readouterr().out
    assert {id for id in BOTH if fingerprint(to / id) == before[id]} == {"south"}
    assert "Careful opening" in (to / "north/example/rehearsal.txt").read_text()


def test_a_stranger_in_a_site_is_told_and_left_alone(published: tuple[Path, Path]) -> None:
    root, to = published
    (to / "north/notes.txt").write_text("Mine.")
    assert publish(root, to) == 1
    assert states(to) == {"north": "On its last good site", "south": "Unchanged"}
    assert "holds files that prescrub did not make: notes.txt" in (to / "night.json").read_text()
    assert (to / "north/notes.txt").read_text() == "Mine."


def test_of_files_that_were_changed_a_moment_ago_nothing_is_trusted(tmp_path: Path) -> None:
    (tmp_path / "a.md").write_text("one")
    changed = (tmp_path / "a.md").stat().st_ctime_ns
    assert tree_stamp.stamp_of([tmp_path], changed + tree_stamp.SETTLED_NS - 1) == ""
    settled = tree_stamp.stamp_of([tmp_path], changed + tree_stamp.SETTLED_NS)
    assert settled == tree_stamp.stamp_of([tmp_path]) != ""
    (tmp_path / ".hidden").write_text("two")
    assert tree_stamp.stamp_of([tmp_path]) == settled
    (tmp_path / "b.md").write_text("")
    assert tree_stamp.stamp_of([tmp_path]) != settled


def test_what_one_process_made_another_takes_and_the_region_bounds_what_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    root, kept = region(tmp_path / "region", BOTH), tmp_path / "region/kept"
    with (root / "region.yml").open("a") as file:
        file.write("cache: {folder: kept, gigabytes: 3, days: 2}\n")
    assert publish(root, tmp_path / "first") == 0
    made = {path: path.stat().st_mtime_ns for path in kept.glob("*/*.data")}
    papers = {path for path in made if b"Rehears" in path.read_bytes()}
    assert len(papers) == len(BOTH)

    # Other processes, another folder: nothing is made once more.
    assert publish(root, tmp_path / "second") == 0
    assert {path: path.stat().st_mtime_ns for path in papers} == {path: made[path] for path in papers}
    assert fingerprint(tmp_path / "second/north") == fingerprint(tmp_path / "first/north")

    # What nobody used for two days goes when something is published again, what is used stays.
    for card in kept.glob("*/*.json"):
        os.utime(card, (0, 0))
    lay(root / "hospitals/south", {"references/own.bib": "% nothing\n"})
    assert publish(root, tmp_path / "second") == 0
    assert states(tmp_path / "second") == {"north": "Unchanged", "south": "Published"}
    assert len(papers & set(kept.glob("*/*.data"))) == 1
    known = region_of((root / "region.yml").read_text())
    night = night_of(root, known, tmp_path / "second", TODAY, cluster="", only=(), engine_of=killed_in_the_south)
    assert (night.cache.folder, night.cache.most_bytes, night.cache.most_days) == (kept, 3 * 10**9, 2)

"""Every finding of the path analysis says where it is, on which path, and the second place that would mend it.

Looked at over the bad example of each page, every defect folder and one planted error of each kind in each procedure of
the demonstration.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import chain
from pathlib import Path

import pytest
from department import BASE, DEMO, Overlay, family, lay, new_base, read
from pages import all_pages

from builder.check.table import CHECKS
from builder.findings.finding import Finding, SecondPlace

PATH_CHECKS = [check.name for check in CHECKS if family(check) == "paths"]
DEFECTS = BASE.parent / "defects"
BY_PATH = {
    "not-seen-before-cut", "neighbour-not-seen", "neighbour-to-confirm", "vessel-not-controlled", "clamp-left-on",
    "clamp-released-too-soon",
    "released-without-clamp", "item-left-in", "removed-but-not-in", "cavity-closed-uncounted",
    "skin-closed-uncounted", "not-enough-kit", "one-side-forgotten", "need-not-met", "follow-incomplete",
    "nick-without-looking", "left-open", "ended-uncounted", "instrument-not-said", "cut-end-left-open",
    "taken-out-uncontrolled", "tied-after-removal", "closed-out-of-order", "place-not-open", "line-not-in",
}  # fmt: skip
"""Checks that fail on a path. The others look at a list, a text, an aftercare, or at what no path reaches."""

NO_SECOND_PLACE = {
    "kit-unused": "the line of the kit list is itself the place to mend",
    "neighbour-to-confirm": "the relation is in the program's catalogue, and nothing in the department names it yet",
    "place-not-open": "where no step opens the place and only the common catalogue has it, there is no line to go to",
}
"""As in DEVELOPERS.md: it has a second place only where an action takes the item out or a text names it."""

OPENED = "  - open: inguinal canal\n    what: with a finger\n"
"""What the bad example of place-not-open does too late; without it nothing opens the place."""

Found = dict[str, list[tuple[Path, Finding]]]


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory, found_of_planted: list[list[Finding]]) -> Found:
    """Return all findings of the path analysis by check, each with the folder it was found in."""
    result: Found = defaultdict(list)
    for one in chain(*found_of_planted):
        if family(one) == "paths":
            result[one.name].append((DEMO, one))
    bad = {page.name: page.bad for page in all_pages() if page.name in PATH_CHECKS}
    opens_nothing = {
        name: text.replace(OPENED, "").replace("inguinal canal", "peritoneal cavity")
        for name, text in bad["place-not-open"].items()
    }
    for number, files in enumerate([*bad.values(), opens_nothing, *DEFECTS.iterdir()]):
        folder = lay(new_base(tmp_path_factory.mktemp(f"bad-{number}")), files)
        for one in read(folder)[1]:
            result[one.name].append((folder, one))
    return result


@pytest.mark.parametrize("name", PATH_CHECKS)
def test_finding_has_its_place_and_the_place_that_would_mend_it(name: str, found: Found) -> None:
    assert found[name], "a check that never finds anything proves nothing here"
    for folder, one in found[name]:
        assert (folder / one.at.file).is_file(), one
        assert one.also or name in NO_SECOND_PLACE, one
        for second in one.also:
            assert second.at != one.at, one
            assert _is_written(folder, second), one


def _is_written(folder: Path, second: SecondPlace) -> bool:
    """Tell whether the place exists: a line of a file, unless the error was planted in code."""
    file = folder / second.at.file
    lines = file.read_text(encoding="utf-8").splitlines() if second.at.file and file.is_file() else []
    return bool(second.message) and 1 <= second.at.line <= len(lines)


@pytest.mark.parametrize("name", PATH_CHECKS)
def test_finding_that_fails_on_a_path_shows_the_path(name: str, found: Found) -> None:
    for _, one in found[name]:
        # A follow that opens the sequence has no step before it.
        assert bool(one.path) == (name in BY_PATH) or name == "follow-incomplete", one


def test_no_check_is_excused_that_has_a_second_place_always(found: Found) -> None:
    for name in NO_SECOND_PLACE:
        assert any(not one.also for _, one in found[name])


def test_a_dropped_count_says_where_the_count_belongs(overlay: Overlay) -> None:
    """Behind the last swab, before the closing; and where it is called, if that is too late or too early."""
    _, [one] = read(overlay(DEFECTS / "count-before-the-last-swab"))
    assert str(one.at) == "content/procedures/example/steps/close-canal.md:9:12"
    assert [str(second.at).rsplit("/", 1)[1] for second in one.also] == ["close-canal.md:10:13", "open-canal.md:20:12"]
    assert [second.message for second in one.also] == [
        "counted here, but only afterwards",
        "small swab placed here: the count belongs between this and the closing",
    ]


def test_a_clamp_left_on_says_where_it_comes_off(overlay: Overlay) -> None:
    _, [one] = read(overlay(DEFECTS / "clamp-left-on-a-vein"))
    assert [second.message for second in one.also] == [
        "the superficial epigastric vein controlled here: the clamp can come off after this",
        "the clamp must be off before this",
    ]
    assert [str(second.at).rsplit("/", 1)[1] for second in one.also] == ["cut-skin.md:10:10", "close-canal.md:14:12"]

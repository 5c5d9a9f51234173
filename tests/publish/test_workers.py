"""Pages made and read back by several processes are the pages that one makes, byte for byte."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import psutil
import pytest
from department import lay, read
from publishing import fingerprint, publish_site

from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.publish import workers
from builder.publish.publish_error import PublishError
from builder.publish.publishing import publish
from builder.publish.workers import spread

ONLY_LINUX = pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there are no workers")


@pytest.fixture
def two(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processors, and workers for however few tasks."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1}, raising=False)
    monkeypatch.setattr(workers, "FEW", 1)


@pytest.fixture
def ward(base: Path) -> Path:
    """A department of eleven procedures: more than one worker takes at once."""
    procedures = base / "content/procedures"
    for number in range(10):
        shutil.copytree(procedures / "example", procedures / f"other-{number}")
    return base


@ONLY_LINUX
def test_results_come_in_order_all_but_the_first_from_other_processes(two: None) -> None:
    found = list(spread(lambda number: (number, os.getpid()), 100))
    assert [number for number, _ in found] == list(range(100))
    assert os.getpid() not in {process for _, process in found[1:]}


def test_few_tasks_are_done_here() -> None:
    assert list(spread(lambda number: (number, os.getpid()), 3)) == [(number, os.getpid()) for number in range(3)]
    assert list(spread(str, 0)) == []


@ONLY_LINUX
def test_what_a_task_raises_is_raised_and_no_process_stays(two: None) -> None:
    def task(number: int) -> int:
        if number == 20:
            raise PublishError("the twentieth", is_content=True)
        return number

    with pytest.raises(PublishError, match="the twentieth") as caught:
        list(spread(task, 100))
    assert caught.value.is_content
    assert psutil.Process().children() == []


@ONLY_LINUX
def test_who_stops_asking_leaves_no_process(two: None) -> None:
    results = spread(lambda number: number, 1000)
    assert next(results) == 0
    results.close()
    assert psutil.Process().children() == []


@ONLY_LINUX
def test_many_processes_make_the_same_bytes_as_one(
    ward: Path, to: Path, two: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[int, int, str]] = []
    library, _ = read(ward)
    publish(library, to, load_templates(ward), lambda *one: told.append(one), outputs=OUTPUTS, only=("site",))
    many = fingerprint(to)
    monkeypatch.setattr(workers, "FEW", 10_000)
    alone: list[tuple[int, int, str]] = []
    publish(library, to, load_templates(ward), lambda *one: alone.append(one), outputs=OUTPUTS, only=("site",))
    assert fingerprint(to) == many
    assert told == alone


@ONLY_LINUX
def test_a_page_that_another_process_finds_wanting_is_not_published(ward: Path, to: Path, two: None) -> None:
    publish_site(ward, to)
    before = fingerprint(to)
    page = Path(__file__).parents[2] / "site_templates/site/page.html.j2"
    spoilt = page.read_text().replace('<div class="sheet', '<div hidden class="sheet', 1)
    assert spoilt != page.read_text()
    with pytest.raises(PublishError) as caught:
        publish_site(lay(ward, {"site_templates/site/page.html.j2": spoilt}), to)
    named = {line.partition("/")[0] for line in str(caught.value).splitlines()}
    assert named == {"example", *(f"other-{number}" for number in range(10))}
    assert fingerprint(to) == before
    assert psutil.Process().children() == []

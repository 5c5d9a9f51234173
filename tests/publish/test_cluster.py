"""Workers of another machine make the same bytes, and whatever becomes of them is told: real processes on loopback."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import patience
import pytest
from clusters import Engine, FolderParcel, TextParcel
from department import new_base, read
from odd_jobs import OddJob, OnceKilled, Peculiar, Writing
from publishing import fingerprint

from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish import cluster
from builder.publish.cluster import Cluster, ClusterFailed
from builder.publish.publishing import Means


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    with Engine(tmp_path_factory.mktemp("cluster")) as started:
        started.start_worker()
        started.start_worker()
        yield started


@pytest.fixture
def workers(engine: Engine, tmp_path: Path) -> Iterator[Cluster[str]]:
    with Cluster(TextParcel("shared"), engine.address, tmp_path) as ordered:
        yield ordered


def test_results_come_in_order_from_several_workers(workers: Cluster[str]) -> None:
    done = list(workers.results(OddJob(str(number)) for number in range(40)))
    assert [name for name, _, _ in done] == [str(number) for number in range(40)]
    assert {shared for _, _, shared in done} == {"shared"}
    assert os.getpid() not in {process for _, process, _ in done}


def test_what_a_job_raises_comes_back_whole(workers: Cluster[str]) -> None:
    with pytest.raises(Peculiar) as peculiar:
        workers.submit(OddJob("peculiar")).result(patience.SECONDS)
    assert peculiar.value.step == 7


def test_files_come_back_and_are_left_nowhere_else(engine: Engine, tmp_path: Path) -> None:
    jobs = [Writing(f"{number}", f"made/{number}/page.html") for number in range(5)]
    with Cluster(FolderParcel(), engine.address, tmp_path) as workers:
        assert list(workers.results(jobs)) == [*"01234"]
        assert [(tmp_path / job.file).read_text() for job in jobs] == [*"01234"]
        # Carried out again it writes again: nothing that was left makes it look as if it wrote nothing.
        (tmp_path / jobs[0].file).unlink()
        assert list(workers.results(jobs)) == [*"01234"]
    assert (tmp_path / jobs[0].file).read_text() == "0"
    assert list(engine.folder.rglob("page.html")) == []


def test_a_department_made_by_a_cluster_is_the_same_byte_for_byte(engine: Engine, tmp_path: Path) -> None:
    root = new_base(tmp_path)
    library, _ = read(root)
    templates = load_templates(root)
    only = ("site", "count-sheet", "self-test-package")
    publish(library, tmp_path / "alone", templates, only=only)
    publish(library, tmp_path / "there", templates, only=only, means=Means(engine.address))
    assert fingerprint(tmp_path / "there") == fingerprint(tmp_path / "alone")


def test_a_scheduler_that_is_not_there_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(cluster.SETTINGS, "distributed.comm.timeouts.connect", "1s")
    with pytest.raises(ClusterFailed, match=r"^No scheduler answers at tcp://127.0.0.1:9"):
        Cluster(TextParcel("shared"), "tcp://127.0.0.1:9", tmp_path)


@pytest.mark.slow
def test_a_cluster_without_workers_is_not_waited_for_without_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "_LOOK_SECONDS", 0.1)
    with Engine(tmp_path) as empty, Cluster(TextParcel("shared"), empty.address, tmp_path) as ordered:
        with pytest.raises(ClusterFailed, match=r"^late: the scheduler at .* had no worker each of 30 times"):
            ordered.submit(OddJob("late")).result(None)
        receipt = ordered.submit(OddJob("later"))
        empty.start_worker()
        assert receipt.result(None)[0] == "later"


@pytest.mark.slow
def test_a_lost_worker_costs_nothing_and_a_job_that_ends_its_workers_is_named(tmp_path: Path) -> None:
    with Engine(tmp_path) as one, Cluster(TextParcel("shared"), one.address, tmp_path) as ordered:
        one.start_worker(nanny=True)  # whoever watches over a worker starts another in its place
        jobs = [OnceKilled(str(number), str(tmp_path / "mark")) for number in range(9)]
        assert list(ordered.results(jobs)) == [str(number) for number in range(9)]
        receipts = [ordered.submit(OddJob(name)) for name in ("first", "killed", "last")]
        assert receipts[0].result(None)[0] == "first"
        with pytest.raises(
            ClusterFailed, match=r"^killed: 4 workers ended by themselves when they made it and nothing else"
        ):
            receipts[1].result(None)
        assert receipts[2].result(None)[0] == "last"


@pytest.mark.slow
def test_workers_killed_at_twenty_moments_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    jobs = [Writing(f"{number}", f"made/{number}/page.html", seconds=0.05) for number in range(210)]
    names, killed = [], 0
    with Engine(tmp_path) as two, Cluster(FolderParcel(), two.address, tmp_path / "here") as ordered:
        two.start_worker(nanny=True)
        two.start_worker(nanny=True)
        for name in ordered.results(jobs):
            names.append(name)
            if len(names) % 10 == 0 and killed < 20:
                process = next(iter(ordered._client.run(os.getpid).values()))
                os.kill(process, signal.SIGKILL)
                killed += 1
    assert killed == 20
    assert names == [job.name for job in jobs]
    written = sorted((tmp_path / "here").rglob("page.html"))
    assert {path.read_text() for path in written} == set(names)
    assert len(written) == len(names)


@pytest.mark.slow
def test_a_worker_with_other_libraries_is_refused(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "old/sitecustomize.py").write_text(
        "import importlib.metadata as known\n"
        "version = known.version\n"
        "known.version = lambda name: '66.0' if name == 'weasyprint' else version(name)\n"
    )
    with Engine(tmp_path) as one, Cluster(TextParcel("shared"), one.address, tmp_path) as ordered:
        one.start_worker(first=tmp_path / "old")
        with pytest.raises(ClusterFailed, match=r"^The worker at tcp://127.0.0.1:\d+ has weasyprint 66.0 instead of"):
            ordered.submit(OddJob("one")).result(None)


@pytest.mark.slow
def test_a_scheduler_that_goes_is_told(tmp_path: Path) -> None:
    with Engine(tmp_path) as one, Cluster(TextParcel("shared"), one.address, tmp_path) as ordered:
        receipt = ordered.submit(OddJob("one"))
        one.scheduler.send_signal(signal.SIGKILL)
        with pytest.raises(ClusterFailed, match=r"^one: the scheduler at .* has gone"):
            receipt.result(None)

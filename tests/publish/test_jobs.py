"""Jobs are carried out here or by other processes with the same result, and whatever becomes of one is told."""

from __future__ import annotations

import os
import pickle
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import patience
import psutil
import pytest
from department import lay, read
from odd_jobs import Doubling, OddJob, OnceKilled, Peculiar
from publishing import fingerprint, publish_site

from builder.cli import main
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish import publishing
from builder.publish.jobs import Executor, Here, JobFailed, JobLost, Processes, Workers
from builder.publish.output import Publication
from builder.publish.publish_error import PublishError


@pytest.fixture
def workers() -> Iterator[Processes[str]]:
    with Processes("shared", most=2) as started:
        yield started


@pytest.fixture
def ward(base: Path) -> Path:
    """A department of eleven procedures: more than one worker takes at once."""
    procedures = base / "content/procedures"
    for number in range(10):
        shutil.copytree(procedures / "example", procedures / f"other-{number}")
    return base


def workers_of(process: psutil.Process) -> list[psutil.Process]:
    """The processes that carry out jobs; the one that Python starts to keep count of what they share is none."""
    return [one for one in process.children() if "spawn_main" in " ".join(one.cmdline())]


def test_results_come_in_order_and_from_other_processes(workers: Processes[str]) -> None:
    done = list(workers.results(OddJob(str(number)) for number in range(40)))
    assert [name for name, _, _ in done] == [str(number) for number in range(40)]
    assert {shared for _, _, shared in done} == {"shared"}
    assert os.getpid() not in {process for _, process, _ in done}


def test_one_process_does_them_when_it_is_asked() -> None:
    results = Here("shared").results([OddJob("first"), OddJob("exit")])
    assert next(results) == ("first", os.getpid(), "shared")
    with pytest.raises(SystemExit):
        next(results)


@pytest.mark.parametrize("executor", [Here("shared"), Processes("shared", most=1)], ids=["here", "processes"])
def test_every_executor_takes_an_order_and_gives_its_result(executor: Executor[str]) -> None:
    with executor:
        receipt = executor.submit(OddJob("one"))
        name, _, shared = receipt.result(patience.SECONDS)
        assert (name, shared) == ("one", "shared")
        assert receipt.is_done()


def test_an_exception_that_cannot_be_made_anew_comes_back_whole(workers: Processes[str]) -> None:
    with pytest.raises(Peculiar) as peculiar:
        workers.submit(OddJob("peculiar")).result(None)
    assert str(peculiar.value) == "step 7 cannot be set: no room"
    assert peculiar.value.step == 7
    assert "odd_jobs.py" in peculiar.value.__notes__[0]
    with pytest.raises(Doubling) as doubling:
        workers.submit(OddJob("doubling")).result(None)
    assert str(doubling.value) == "once more: no room"


def test_what_the_system_refuses_comes_back_with_its_file(workers: Processes[str]) -> None:
    with pytest.raises(FileNotFoundError) as caught:
        workers.submit(OddJob("system")).result(None)
    assert caught.value.filename == "a/picture.svg"
    assert caught.value.errno == 2


def test_what_is_nested_too_deeply_comes_back_as_that(workers: Processes[str]) -> None:
    with pytest.raises(RecursionError, match="maximum recursion depth exceeded"):
        workers.submit(OddJob("recursion")).result(None)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("exit", "exit: SystemExit: 3"),
        ("interrupt", "interrupt: KeyboardInterrupt"),
        ("lock", "lock: odd_jobs.Locked: it holds a lock"),
        ("speechless", "speechless: odd_jobs.Speechless: <exception str() failed>"),
        ("unsendable", "unsendable: TypeError: cannot pickle '_thread.lock' object"),
    ],
)
def test_what_cannot_come_back_as_it_was_is_told(workers: Processes[str], name: str, said: str) -> None:
    with pytest.raises((JobFailed, TypeError)) as caught:
        workers.submit(OddJob(name)).result(None)
    told = str(caught.value)
    assert told == said if isinstance(caught.value, JobFailed) else said.endswith(told)
    assert name in caught.value.__notes__[0]
    # The process that carried it out goes on.
    assert workers.submit(OddJob("next")).result(None)[0] == "next"


def test_a_job_that_kills_its_process_is_named_and_the_others_are_done(workers: Processes[str]) -> None:
    names = [*"abc", "killed", *"def"]
    done = workers.results(OddJob(name) for name in names)
    assert [next(done)[0] for _ in range(3)] == [*"abc"]
    with pytest.raises(JobLost, match=r"^killed: the process that makes it ended by itself") as caught:
        next(done)
    assert not caught.value.is_content
    assert workers.submit(OddJob("after")).result(None)[0] == "after"


def test_a_process_that_is_killed_once_costs_nothing(workers: Processes[str], tmp_path: Path) -> None:
    jobs = [OnceKilled(str(number), str(tmp_path / "mark")) for number in range(9)]
    assert list(workers.results(jobs)) == [str(number) for number in range(9)]


def test_who_stops_asking_leaves_no_process() -> None:
    with Processes("shared", most=2) as workers:
        results = workers.results(OddJob(str(number)) for number in range(100))
        assert next(results)[0] == "0"
        assert workers_of(psutil.Process())
    assert workers_of(psutil.Process()) == []
    with pytest.raises(RuntimeError, match="let go of"):
        workers.submit(OddJob("late"))


def test_processes_are_started_afresh_and_look_after_their_parent(workers: Processes[str]) -> None:
    assert sorted(workers.submit(OddJob("threads")).result(None)) == [False, True]  # the second waits for the parent
    assert workers_of(psutil.Process())


PARENT = """
import sys
sys.path[:0] = sys.argv[1:]
from odd_jobs import OddJob
from builder.publish.jobs import Processes
workers = Processes("shared", most=2)
print(*{workers.submit(OddJob(str(number))).result(None)[1] for number in range(20)}, flush=True)
sys.stdin.read()
"""


def test_workers_end_with_a_parent_that_is_killed() -> None:
    paths = [str(Path(__file__).parent), str(Path(__file__).parents[2])]
    command = [sys.executable, "-c", PARENT, *paths]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout
        started = [psutil.Process(int(number)) for number in parent.stdout.readline().split()]
        assert started
        parent.send_signal(signal.SIGKILL)
    assert psutil.wait_procs(started, timeout=patience.SECONDS)[1] == []


def test_few_tasks_are_done_here_until_processes_are_there() -> None:
    workers = Workers("shared")
    assert isinstance(workers.for_tasks(3, few=50), Here)
    list(workers.processes.results([OddJob("one")]))
    assert isinstance(workers.for_tasks(3, few=50), Processes)
    workers.processes.close()


def test_the_table_and_what_jobs_share_can_be_sent(base: Path, tmp_path: Path) -> None:
    library, _ = read(base)
    publication = Publication(library, load_templates(base), OUTPUTS, tmp_path, None)
    assert publication.renderer
    assert publication.typesetter
    sent = pickle.loads(pickle.dumps(publication))
    assert [row.name for row in sent.outputs.rows] == [row.name for row in OUTPUTS.rows]
    assert sent.templates == publication.templates
    assert sent.templates.are_ours is publication.templates.are_ours
    assert [str(one.id) for one in sent.library.procedures] == ["example"]
    assert "renderer" not in vars(sent)


@pytest.fixture
def two(processors: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processors, and processes for however few tasks."""
    monkeypatch.setattr(publishing, "_FEW_PROCEDURES", 1)


def test_many_processes_make_the_same_bytes_as_one(ward: Path, to: Path, two: None) -> None:
    told: list[tuple[int, int, str]] = []
    library, _ = read(ward)
    publish(library, to, load_templates(ward), lambda *one: told.append(one), only=("site",))
    many = fingerprint(to)
    alone: list[tuple[int, int, str]] = []
    means = publishing.Means(jobs=1)
    publish(library, to, load_templates(ward), lambda *one: alone.append(one), only=("site",), means=means)
    assert fingerprint(to) == many
    assert told == alone


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
    assert workers_of(psutil.Process()) == []


@pytest.mark.parametrize("jobs", ["0", "two", "-1", "1.5", "²"])
def test_a_number_of_processes_is_a_whole_number_from_one(
    jobs: str, ward: Path, to: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["publish", str(ward), "--to", str(to), f"--jobs={jobs}"]) == 2
    assert f"{jobs} is not a number of processes." in capsys.readouterr().err


def test_as_many_processes_work_as_are_asked_for(two: None) -> None:
    assert Workers("shared", most=1).for_tasks(10_000, 1) is not Workers("shared", most=1).processes
    workers = Workers("shared", most=3)
    assert workers.for_tasks(10_000, 1) is workers.processes
    assert workers.processes.most == 3

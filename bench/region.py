"""A region: what each further department costs, what a night without changes costs, and what a second worker brings."""

from __future__ import annotations

import hashlib
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from distributed import Client, LocalCluster

from bench.departments import BASE, SOURCE, make, make_procedure, name_first
from bench.measure import Measured, measure
from builder.check.engine import examine
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.build_report import every_file, report_in
from builder.publish.publishing import Means

FROM_PARENT, OWN = 4, 1
"""Of five procedures of each department four are the common library's."""
_HEAD = """---
name: Department {number} of the Measured Region
site: https://ward-{number}.example.org/
parent: {{folder: ../common}}
---
"""


@dataclass(frozen=True)
class Nights:
    """Three nights of one region: what the command took in each, start included; how many artefacts the first made and
    proved, and how many bytes. Before the second nothing changes, before the ``usual`` one a step of one procedure."""

    departments: int
    first: Measured
    second: Measured
    usual: Measured
    artefacts: int
    bytes: int

    @property
    def each(self) -> float:
        """Processor seconds of the first night for one department."""
        return self.first.cpu / self.departments


def make_region(folder: Path, departments: int) -> Path:
    """Write a region of so many departments, each with a procedure of its own, into ``folder``."""
    make(folder / "common", FROM_PARENT)
    listed = []
    for number in range(1, departments + 1):
        ward = folder / f"ward-{number}"
        (ward / "content/procedures").mkdir(parents=True)
        (ward / "references").mkdir()
        (ward / "content/department.md").write_text(_HEAD.format(number=number), encoding="utf-8")
        shuffled = random.Random(number)  # noqa: S311  # the same text on every machine, nothing secret
        own = 1000 + number
        make_procedure(BASE / "content/procedures/example", ward / f"content/procedures/own-{number}", own, shuffled)
        name_first(ward)
        (ward / "references/own.bib").write_text(SOURCE.format(procedure=own, year=2020), encoding="utf-8")
        listed.append(f"  - {{id: ward-{number}, folder: ward-{number}}}\n")
    head = "name: The Measured Region\nparent: {folder: common}\ndepartments:\n"
    (folder / "region.yml").write_text(head + "".join(listed), encoding="utf-8")
    return folder


def night(root: Path, to: Path) -> None:
    """Publish the region once, and stop where a department could not be."""
    command = [sys.executable, "-m", "builder", "region", "publish", str(root), "--to", str(to)]
    subprocess.run(command, check=True)  # noqa: S603  # our own command


def nights(root: Path, to: Path, departments: int) -> Nights:
    """Measure three nights."""
    first = measure(night, root, to, runs=1)
    size = sum((to / name).stat().st_size for name in every_file(to))
    made = sum(len(report_in(site)["artefacts"]) for site in to.glob("ward-*"))
    second = measure(night, root, to, runs=1)
    with (root / "ward-1/content/procedures/own-1/steps/look-1.md").open("a", encoding="utf-8") as step:
        step.write("\nLook once more.\n")
    return Nights(departments, first, second, measure(night, root, to, runs=1), made, size)


@dataclass(frozen=True)
class Carried:
    """One department made by so many ``workers`` of dask (0 = by this machine without it): what whoever ordered took,
    the processor seconds of the workers, and a digest of what was made."""

    workers: int
    took: Measured
    theirs: float
    digest: str

    @property
    def at_best(self) -> float:
        """How many times faster than one they could be on a machine where nothing else runs, by processor time: they
        wait for what the one who orders does."""
        return (self.took.cpu + self.theirs) / (self.took.cpu + self.theirs / max(1, self.workers))


def by_cluster(root: Path, to: Path, address: str, only: tuple[str, ...] = ()) -> None:
    """Publish one department by the workers of a cluster."""
    library, _ = examine(load(root))
    publish(library, to, load_templates(root), only=only, means=Means(address, None))


def workers(root: Path, work: Path) -> Iterator[Carried]:
    """Publish one department by this machine, by one worker and by two."""
    yield Carried(0, measure(by_cluster, root, work / "here", "", runs=1), 0.0, _digest(work / "here"))
    for number in (1, 2):
        to = work / f"by-{number}"
        with (
            LocalCluster(
                n_workers=number, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
            ) as cluster,
            Client(cluster) as client,
        ):
            address = cluster.scheduler_address
            by_cluster(root, work / "warm", address, ("count-sheet",))  # fonts and templates are read once
            before = sum(client.run(time.process_time).values())
            took = measure(by_cluster, root, to, address, runs=1)
            theirs = sum(client.run(time.process_time).values()) - before
        yield Carried(number, took, theirs, _digest(to))


def _digest(to: Path) -> str:
    assert report_in(to)
    named = "".join(f"{name} {hashlib.sha256((to / name).read_bytes()).hexdigest()}\n" for name in every_file(to))
    return hashlib.sha256(named.encode()).hexdigest()[:12]

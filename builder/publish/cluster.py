"""Jobs carried out by the workers of an existing cluster of dask.distributed: bytes go there, bytes come back.

The workers share no file system with us or with each other. What all jobs share is sent once, as a task of its own: a
worker that has lost it is given it again, which what is merely scattered is not. Each job brings back the files it
wrote. A worker that is another version, or sets type with another library, is refused by the job itself, so that one
which joins late is refused too. Only this module needs the extra ``cluster``.
"""

import pickle
import platform
import threading
import zlib
from collections.abc import Iterator, Mapping
from concurrent.futures import CancelledError
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol, TypeVar
from uuid import uuid4

import dask
from distributed import Client, Future, KilledWorker, get_worker
from distributed.comm.core import CommClosedError
from weasyprint.text.ffi import pango

from builder.findings.message_words import counted
from builder.load.templates import own_folder
from builder.model.library import Library
from builder.publish.build_report import every_file
from builder.publish.cache import digest_of_extras, programs
from builder.publish.jobs import Done, Executor, Job, Receipt, SentFailure, Shared, outcome_of
from builder.publish.output import Outputs, Publication
from builder.publish.pictures import put_file
from builder.publish.publish_error import PublishError

Opened_co = TypeVar("Opened_co", covariant=True)
Versions = Mapping[str, str]
_LOOK_SECONDS = 2.0
_LOOKS = 30
"""How often in a row no worker is seen before nothing more is waited for."""
_DEPARTMENT = "department"
_INSTALL = "Install the same prescrub, with its lock file, for the scheduler and every worker."
SETTINGS = {"distributed.admin.large-graph-warning-threshold": "1GB"}
"""A department of many procedures is larger than what dask thinks wise to send at once; it is sent once."""


class Parcel(Protocol[Opened_co]):
    """What all jobs share, as it is sent: plain data that a worker opens in a folder of its own."""

    def opened(self, folder: Path) -> AbstractContextManager[Opened_co]:
        """Give what jobs are called with; the files it needs are written to ``folder``."""


@dataclass(frozen=True, slots=True)
class PublicationParcel:
    """A publication with the files of its department, by path, to be opened in any folder of any machine."""

    library: Library
    templates: Mapping[str, str]
    outputs: Outputs
    files: Mapping[str, bytes]

    @classmethod
    def of(cls, publication: Publication) -> "PublicationParcel":
        """Return ``publication`` as it is sent."""
        root = publication.library.root
        files = {name: (root / name).read_bytes() for name in every_file(root)}
        return cls(publication.library, publication.templates, publication.outputs, files)

    @contextmanager
    def opened(self, folder: Path) -> Iterator[Publication]:
        """Give the publication, which works in ``folder`` and keeps nothing: whoever ordered does."""
        root = folder / _DEPARTMENT
        root.mkdir(parents=True)
        for name, content in self.files.items():
            put_file(root / name, content)
        publication = Publication(replace(self.library, root=root), self.templates, self.outputs, folder, None)
        try:
            yield publication
        finally:
            publication.let_go()


class ClusterFailed(PublishError):
    """The cluster could not be used, or did not carry out what was ordered."""


class Cluster(Executor[Shared]):
    """Has jobs carried out by the workers of the scheduler at ``address``; what they write comes back to ``folder``.

    Raises ClusterFailed where nobody answers there.
    """

    def __init__(self, parcel: Parcel[Shared], address: str, folder: Path) -> None:
        self._address = address
        self._folder = folder
        self._run = uuid4().hex
        self._count = 0
        with dask.config.set(SETTINGS):
            try:
                self._client = Client(address, set_as_default=False)
            except (OSError, ValueError) as error:
                raise ClusterFailed(
                    f"No scheduler answers at {address}: {error}. "
                    "Start one with `dask scheduler`, and give the address that it prints."
                ) from error
            sent = pickle.dumps(parcel)
            self._parcel = self._client.submit(_handed_on, sent, key=f"parcel {self._run}", pure=False)

    def submit(self, job: Job[Done]) -> Receipt[Done]:
        """Order ``job``. Raises what pickling it raises."""
        order, name = pickle.dumps(job), job.name
        future = self._ordered(name, order)

        def result(seconds: float | None) -> Done:
            try:
                made = self._awaited(name, future, seconds)
            except KilledWorker:
                made = self._again(name, order, seconds)
            outcome = pickle.loads(made)  # noqa: S301  # made by a worker of ours
            if isinstance(outcome, SentFailure):
                raise outcome.error(name)
            done, files = outcome
            for file, content in files.items():
                put_file(self._folder / file, content)
            kept: Done = done
            return kept

        return Receipt(result, future.done)

    def _ordered(self, name: str, order: bytes) -> "Future[bytes]":
        self._count += 1
        key = f"{name} ({self._run}, {self._count})"
        return self._client.submit(carried_out, order, self._parcel, self._run, versions(), key=key, pure=False)

    def _again(self, name: str, order: bytes, seconds: float | None) -> bytes:
        """Return what comes of an order that several workers had when they ended.

        dask blames all that a worker had before it, begun or not. So each is given again, alone, when its result is
        asked for: one that ends its workers once more is found.
        """
        try:
            return self._awaited(name, self._ordered(name, order), seconds)
        except KilledWorker as error:
            raise ClusterFailed(
                f"{name}: {counted(error.allowed_failures + 1, 'worker')} ended by themselves when they made it and "
                "nothing else. Most often they have too little memory: give each more, then publish again."
            ) from error

    def _awaited(self, name: str, future: "Future[bytes]", seconds: float | None) -> bytes:
        """Return what comes of the job ``name``.

        Raises KilledWorker where its workers ended, ClusterFailed, or TimeoutError after ``seconds``.
        """
        looks = 0
        while True:
            try:
                made: bytes = future.result(timeout=_LOOK_SECONDS if seconds is None else seconds)
                return made
            except TimeoutError:
                if seconds is not None:
                    raise
                looks = 0 if self._client.nthreads() else looks + 1
                if looks >= _LOOKS:
                    raise self._without_workers(name) from None
            except (CancelledError, CommClosedError) as error:
                raise ClusterFailed(
                    f"{name}: the scheduler at {self._address} has gone. Start it again, then publish again."
                ) from error

    def _without_workers(self, name: str) -> ClusterFailed:
        return ClusterFailed(
            f"{name}: the scheduler at {self._address} had no worker each of {_LOOKS} times that it was asked. "
            f"Start workers with `dask worker {self._address}`, then publish again."
        )

    def close(self) -> None:
        """Let go of the cluster, which goes on for others; what has not begun is not begun."""
        self._client.close()


def _handed_on(parcel: bytes) -> bytes:
    return parcel


@cache
def versions() -> Versions:
    """Return, by name, the version of everything that decides the bytes of a file made by this process."""
    return {
        "Python": platform.python_version(),
        "Pango": str(pango.pango_version()),
        "zlib": zlib.ZLIB_RUNTIME_VERSION,
        "type": digest_of_extras(own_folder()),
        **programs(),
    }


def carried_out(order: bytes, parcel: bytes, run: str, expected: Versions) -> bytes:
    """Carry out an ``order`` on a worker; return what came of it with the files it wrote, or the failure."""
    with _RemoteWorker.lock:  # each of its threads would need fonts, templates and a folder of its own
        return outcome_of(partial(_carried_out, order, parcel, run, expected))


def _carried_out(order: bytes, parcel: bytes, run: str, expected: Versions) -> tuple[Any, dict[str, bytes]]:
    _refuse_other(expected)
    _RemoteWorker.open(parcel, run)
    try:
        done = pickle.loads(order).run(_RemoteWorker.shared)  # noqa: S301  # sent by whoever orders
        return done, {name: (_RemoteWorker.folder / name).read_bytes() for name in _RemoteWorker.written()}
    finally:
        for name in _RemoteWorker.written():
            (_RemoteWorker.folder / name).unlink()


def _refuse_other(expected: Versions) -> None:
    own = {name: versions().get(name, "none") for name in expected}
    other = [f"{name} {own[name][:12]} instead of {of[:12]}" for name, of in expected.items() if own[name] != of]
    if other:
        raise ClusterFailed(f"The worker at {get_worker().address} has {', '.join(other)}. {_INSTALL}")


class _RemoteWorker:
    """What a worker keeps between the jobs of one publish: what they share, and its folder."""

    lock = threading.Lock()
    run = ""
    shared: Any
    folder: Path
    opened = ExitStack()
    files: frozenset[str]

    @classmethod
    def open(cls, parcel: bytes, run: str) -> None:
        """Have ready what the jobs of ``run`` share."""
        if cls.run == run:
            return
        cls.run = ""
        cls.opened.close()
        # Below the folder of the worker, which dask removes where a worker was killed.
        folder = TemporaryDirectory(dir=get_worker().local_directory, prefix="publish-")
        cls.folder = Path(cls.opened.enter_context(folder))
        cls.shared = cls.opened.enter_context(pickle.loads(parcel).opened(cls.folder))  # noqa: S301  # as above
        cls.files = frozenset(every_file(cls.folder))
        cls.run = run

    @classmethod
    def written(cls) -> list[str]:
        """Return the names of the files that a job wrote."""
        return [name for name in every_file(cls.folder) if name not in cls.files]

"""Jobs: small orders that a fresh process can carry out by itself, and the executors that have them carried out.

A job is plain data: a name, a function, and what it is called with. What all jobs share is packed once and kept by each
process, so a job stays small. A job is pure: carried out twice it makes the same, so one that was lost is ordered
again. What a job raises comes back as plain data: an exception that cannot be sent would take its process with it, and
nobody would know why. So another engine can stand behind ``Executor``: it is sent bytes and one function, and sends
bytes back.

Nothing is forked: ``spawn`` costs a worker about a second of processor time once, and is the same beside threads
and on every system. So processes start with the first paper that is not kept, and few pages are made in the one
process. A process that dies breaks the pool without saying which job did it: all that were waiting are then done
one at a time, and the job that does it again is named.
"""

import gc
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import traceback
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from typing import Any, Generic, Self, TypeVar

from builder.load.program_words import speaking, spoken
from builder.publish.publish_error import PublishError

Shared = TypeVar("Shared")
Done = TypeVar("Done")
Done_co = TypeVar("Done_co", covariant=True)
_ASKED = 64


@dataclass(frozen=True, slots=True)
class Job(Generic[Done_co]):
    """An order to call ``work`` with what all jobs share and with its own ``arguments``; all of it can be pickled, and
    so can what comes of it. ``name`` is what it makes, for whoever must be told that it could not be made. It is
    carried out in the ``language`` in which it was ordered."""

    name: str
    work: Callable[..., Done_co]
    arguments: tuple[Any, ...] = ()
    language: str = field(default_factory=spoken)

    def run(self, shared: Any) -> Done_co:
        """Carry it out."""
        with speaking(self.language):
            return self.work(shared, *self.arguments)


class JobFailed(Exception):
    """A job failed with what cannot be raised in another process: the text names the job, what it was and says."""


class JobLost(PublishError):
    """The process that carried out a job ended by itself."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name}: the process that makes it ended by itself, and did so again when it made nothing else. "
            "Most often the machine has too little memory: close other programs, then try again."
        )


@dataclass(frozen=True, slots=True)
class SentFailure:
    """What a job raised: its class and words, where it was raised, and the exception itself where it can be sent."""

    words: str
    trace: str
    sent: bytes

    @classmethod
    def of(cls, error: BaseException) -> "SentFailure":
        """Return ``error`` as plain data."""
        words = "".join(traceback.format_exception_only(error)).strip()
        return cls(words, "".join(traceback.format_exception(error)), _sent(error))

    def error(self, name: str) -> Exception:
        """Return the exception that the job ``name`` raised, whole; JobFailed where it cannot be sent, or would end the
        process that ordered the job."""
        error = _received(self.sent) if self.sent else JobFailed(f"{name}: {self.words}")
        error.add_note(f"Raised in a process of its own, by {name}:\n{self.trace}")
        return error


def _sent(error: BaseException) -> bytes:
    """Return ``error`` as bytes; b"" where it would not be the same afterwards, or is none to be raised elsewhere.

    Most are made anew from their arguments. An ``__init__`` that takes others than the exception keeps is passed by.
    """
    if not isinstance(error, Exception):
        return b""
    reduced: Any = error.__reduce__()
    for anew in (True, False):
        with suppress(Exception):  # whatever stands against it, there is another way
            sent = pickle.dumps((anew, *reduced))
            same = _received(sent)
            if type(same) is type(error) and str(same) == str(error) and same.args == error.args:
                return sent
    return b""


def _received(sent: bytes) -> Exception:
    anew, kind, arguments, *state = pickle.loads(sent)  # noqa: S301  # made by a process of ours a moment ago
    error: Exception = kind(*arguments) if anew else kind.__new__(kind, *arguments)
    for values in state:
        error.__dict__.update(values)
    return error


class Receipt(Generic[Done]):
    """What was ordered: ``result`` waits for it, if need be only so many seconds; ``is_done`` tells without waiting.

    ``result`` raises what the job raised, JobLost, and TimeoutError.
    """

    def __init__(self, result: Callable[[float | None], Done], is_done: Callable[[], bool]) -> None:
        self.result = result
        self.is_done = is_done


class Executor(ABC, Generic[Shared]):
    """Has jobs carried out with what they share. Use it as a context manager."""

    @abstractmethod
    def submit(self, job: Job[Done]) -> Receipt[Done]:
        """Order ``job``. Raises what pickling it raises."""

    def results(self, jobs: Iterable[Job[Done]]) -> Iterator[Done]:
        """Order all ``jobs`` at once, and yield what comes of them in their order. Raises as the receipts do."""
        return (receipt.result(None) for receipt in [self.submit(job) for job in jobs])

    def as_done(self, jobs: Iterable[Job[Done]]) -> Iterator[Done]:
        """Order all ``jobs`` at once, and yield what comes of each when it is done. Raises as the receipts do."""
        return (receipt.result(None) for _, receipt in self.ended(jobs))

    def ended(self, jobs: Iterable[Job[Done]]) -> Iterator[tuple[int, Receipt[Done]]]:
        """Order all ``jobs`` at once, and yield the number and the receipt of each when it is done.

        Only the oldest are asked each time: they are done first, and thousands may wait.
        """
        waiting = dict(enumerate([self.submit(job) for job in jobs]))
        while waiting:
            oldest = list(islice(waiting.items(), _ASKED))
            ready = [number for number, receipt in oldest if receipt.is_done()] or [oldest[0][0]]
            yield from ((number, waiting.pop(number)) for number in ready)

    @abstractmethod
    def close(self) -> None:
        """Let go of all that is kept; what has not begun is not begun."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class Here(Executor[Shared]):
    """Carries out jobs in this process, each when its result is asked for."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared

    def submit(self, job: Job[Done]) -> Receipt[Done]:
        """Order ``job``."""
        return Receipt(lambda _: job.run(self._shared), lambda: True)

    def close(self) -> None:
        """Nothing is kept."""


class Processes(Executor[Shared]):
    """Has jobs carried out by processes of this machine, at most ``most``, which start with the first job.

    Threads may share it.
    """

    def __init__(self, shared: Shared, most: int = 0) -> None:
        self._shared = shared
        self.most = most or processors()
        self._lock = threading.RLock()
        self._pool: ProcessPoolExecutor | None = None
        self._is_closed = False

    @property
    def are_started(self) -> bool:
        """Whether they are there already, so that even few jobs are worth sending."""
        return self._pool is not None

    def submit(self, job: Job[Done]) -> Receipt[Done]:
        """Order ``job``. Raises what pickling it raises."""
        order, name = pickle.dumps(job), job.name
        pool, future = self._sent(order)

        def result(seconds: float | None) -> Done:
            try:
                outcome = pickle.loads(future.result(seconds))  # noqa: S301  # made by a process of ours
            except BrokenProcessPool:
                outcome = pickle.loads(self._again(name, order, pool, seconds))  # noqa: S301  # also
            if isinstance(outcome, SentFailure):
                raise outcome.error(name)
            done: Done = outcome[0]
            return done

        return Receipt(result, future.done)

    def _sent(self, order: bytes) -> tuple[ProcessPoolExecutor, Future[bytes]]:
        with self._lock:
            if self._is_closed:
                raise RuntimeError("nothing is ordered from processes that were let go of")
            if self._pool is not None:
                with suppress(BrokenProcessPool):
                    return self._pool, self._pool.submit(_carry_out, order)
                self.kill()
            # Started afresh, never forked: that is safe beside threads, and the same on every system.
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self.most, context, _begin, (pickle.dumps(self._shared),))
            return self._pool, self._pool.submit(_carry_out, order)

    def _again(self, name: str, order: bytes, pool: ProcessPoolExecutor, seconds: float | None) -> bytes:
        """Return what comes of an order whose process ended.

        All others that were waiting are lost with it, and nobody knows which one did it. So there is one process from
        now on, which is given each again when its result is asked for: one that ends it once more is found.
        """
        with self._lock:
            if self._pool is pool:
                self.kill()
                self.most = 1
        _, future = self._sent(order)
        try:
            return future.result(seconds)
        except BrokenProcessPool as error:
            raise JobLost(name) from error

    def close(self, *, wait: bool = True) -> None:
        """End the processes once they have done what they have begun; ``wait`` for that."""
        with self._lock:
            self._is_closed = True
            if self._pool is not None:
                self._pool.shutdown(wait=wait, cancel_futures=True)

    def kill(self) -> None:
        """End the processes at once, such as one that hangs; the next job starts others."""
        with self._lock:
            if self._pool is not None:
                for process in list((getattr(self._pool, "_processes", None) or {}).values()):
                    process.kill()
                self._pool.shutdown(wait=False, cancel_futures=True)
                self._pool = None


class Workers(Generic[Shared]):
    """The executors of one publish: few jobs are done here before other processes would be ready to help.

    What makes files goes to ``makers`` where there are any, such as a cluster; what only looks at files never does.
    """

    def __init__(self, shared: Shared, makers: Executor[Shared] | None = None, most: int = 0) -> None:
        self._here = Here(shared)
        self.processes = Processes(shared, most)
        self._makers = makers

    def for_making(self, many: int, few: int) -> Executor[Shared]:
        """Return who makes ``many`` files; ``few`` as for tasks."""
        return self._makers or self.for_tasks(many, few)

    def close(self) -> None:
        """Let go of all of them."""
        self.processes.close()
        if self._makers:
            self._makers.close()

    def for_tasks(self, many: int, few: int) -> Executor[Shared]:
        """Return who does ``many`` tasks of a kind of which ``few`` take as long as processes take to start."""
        return self.processes if self.processes.are_started or (many >= few and self.processes.most > 1) else self._here


def processors() -> int:
    """Return how many processors this process may use: one where it works for another, which uses them all."""
    if _Worker.is_at_work:
        return 1
    return len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1


_OBJECTS_BETWEEN_LOOKS = 100_000


class _Worker:
    """What a process keeps between jobs: what they share, packed until the first of them."""

    is_at_work = False
    packed: bytes | None
    shared: Any


def _begin(packed: bytes) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever interrupts speaks to the parent, which ends its workers
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _Worker.packed = packed
    _Worker.is_at_work = True


def _end_with_parent(seconds: float | None = None) -> None:
    """End this process when the parent has gone, so that nothing goes on writing for a publish that was killed."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join(seconds)
        if not parent.is_alive():
            os._exit(1)


def _carry_out(order: bytes) -> bytes:
    return outcome_of(partial(_carried_out, order))


def _carried_out(order: bytes) -> tuple[Any]:
    if _Worker.packed is not None:
        _Worker.shared = pickle.loads(_Worker.packed)  # noqa: S301  # made by the parent a moment ago
        _Worker.packed = None
        _end_with_parent(0)  # it may have gone before anybody could see that it had a helper
        # Laying out makes hundreds of thousands of objects that live until a page is done; looking through them
        # for circles again and again costs a tenth of the time. What was there before is never looked through.
        gc.freeze()
        gc.set_threshold(_OBJECTS_BETWEEN_LOOKS)
    return (pickle.loads(order).run(_Worker.shared),)  # noqa: S301  # made by the parent a moment ago


def outcome_of(work: Callable[[], Any]) -> bytes:
    """Do ``work`` and return what came of it, or the SentFailure: never raises, and returns what can be sent."""
    try:
        return pickle.dumps(work())
    except BaseException as error:  # whatever it is, it belongs to whoever ordered
        return pickle.dumps(SentFailure.of(error))

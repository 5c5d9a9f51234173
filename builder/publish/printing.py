"""PDFs and single files on all processors: each worker composes a document, writes it and reads it back."""

from __future__ import annotations

import gc
import multiprocessing
import os
import sys
from collections.abc import Collection, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import TracebackType

from builder.compose.document import Document
from builder.model.library import Library
from builder.publish.cache import Cache, users_cache
from builder.publish.equipment import Equipment
from builder.publish.inputs import Inputs
from builder.publish.output import Output, Outputs, ReadBack
from builder.publish.publish_error import PublishError
from builder.publish.workers import live_and_end_with_parent

Printed = tuple[Output, Document, ReadBack]


@dataclass(frozen=True, slots=True)
class Order:
    """What a press works from: library, templates, the folder to write into, the table of outputs, the
    cache."""

    library: Library
    templates: Mapping[str, str]
    folder: Path
    outputs: Outputs
    cache: Cache | None = field(default_factory=lambda: users_cache(os.environ))


class Press:
    """Prints outputs of procedures. Use it as a context manager."""

    def __init__(self, order: Order) -> None:
        # A forked worker starts with all modules imported; where forking is unsafe, Python starts it afresh.
        context = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
        self._order = order
        # Workers start with the first document that is not kept; where all are, the typesetter never starts.
        self._workers = ProcessPoolExecutor(_processors(), context, _start_worker, (order,))
        self._waiting: list[Future[list[Printed]]] = []

    def __enter__(self) -> Press:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._workers.shutdown(cancel_futures=True)

    def print(self, procedures: int, outputs: Collection[str]) -> Iterator[Printed]:
        """Yield each document of the first ``procedures`` of the library, without its text, as it is done.

        Raises what a document fails with: PublishError, Refused, OSError.
        """
        order, cache = self._order, self._order.cache
        inputs = Inputs(order.library, order.templates) if cache else None
        for number in range(procedures):
            together: dict[str, list[tuple[str, str]]] = {}
            for output, name in order.outputs.documents_of(order.library.procedures[number], outputs):
                key = inputs.key(order.library.procedures[number], name) if inputs else ""
                kept = cache.take(key, order.folder) if cache else None
                if kept:
                    yield output, *kept
                else:
                    together.setdefault(output.group or output.name, []).append((name, key))
            # A card and the sheets that carry it are made by one worker, which composes and sets the card once.
            self._waiting.extend(self._workers.submit(_print_some, number, some) for some in together.values())
        for future in as_completed(self._waiting):
            yield from future.result()
        if cache:
            cache.prune()


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1


_OBJECTS_BETWEEN_LOOKS = 100_000


class _PrintWorker:
    """What one worker process keeps between documents."""

    order: Order
    equipment: Equipment


def _start_worker(order: Order) -> None:
    live_and_end_with_parent()
    # Laying out makes hundreds of thousands of objects that live until a page is done; looking through them for circles
    # again and again costs a tenth of the time. What was there before the first document is never looked through.
    gc.freeze()
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS)
    _PrintWorker.order = order
    _PrintWorker.equipment = Equipment(order.library.root, order.templates)


def _print_some(number: int, names: list[tuple[str, str]]) -> list[Printed]:
    return [_print(number, name, key) for name, key in names]


def _print(number: int, name: str, key: str) -> Printed:
    order, equipment = _PrintWorker.order, _PrintWorker.equipment
    output = order.outputs[name]
    document = output.composed(name, order.library, order.library.procedures[number], equipment.renderer)
    path = order.folder / document.name
    path.parent.mkdir(parents=True, exist_ok=True)
    output.format.write(equipment, document, path)
    found = output.proof.read_back(document, path)
    if found.problems:
        raise PublishError(not_shown(document, found.problems), is_content=True)
    if order.cache:
        order.cache.keep(key, document, path, found)
    return output, replace(document, text="", of=None, placed=()), found


def not_shown(document: Document, problems: tuple[str, ...]) -> str:
    """Return what to say of a finished file that does not show what it promised."""
    return "\n".join(f"{document.name}: {problem}" for problem in problems)

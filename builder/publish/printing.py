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
from builder.compose.render import Renderer
from builder.model.library import Library
from builder.publish.cache import Cache, users_cache
from builder.publish.inputs import Inputs
from builder.publish.outputs import composed, jobs_of, worker_of
from builder.publish.paper.pdf import Typesetter, write_pdf
from builder.publish.proof import Proofs, ReadBack
from builder.publish.publish_error import PublishError
from builder.publish.selftest.package import write_package
from builder.publish.site.single import SingleFiles
from builder.publish.workers import live_and_end_with_parent

Printed = tuple[Document, ReadBack]


@dataclass(frozen=True, slots=True)
class Order:
    """What a press works from: library, templates, the folder to write into, the proofs of what it wrote, the cache."""

    library: Library
    templates: Mapping[str, str]
    folder: Path
    proofs: Proofs
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
            for output in jobs_of(order.library.procedures[number], outputs):
                key = inputs.key(order.library.procedures[number], output) if inputs else ""
                kept = cache.take(key, order.folder) if cache else None
                if kept:
                    yield kept
                else:
                    together.setdefault(worker_of(output), []).append((output, key))
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
    typesetter: Typesetter
    renderer: Renderer
    single_files: SingleFiles


def _start_worker(order: Order) -> None:
    live_and_end_with_parent()
    # Laying out makes hundreds of thousands of objects that live until a page is done; looking through them for circles
    # again and again costs a tenth of the time. What was there before the first document is never looked through.
    gc.freeze()
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS)
    _PrintWorker.order = order
    _PrintWorker.typesetter = Typesetter(order.library.root)
    _PrintWorker.renderer = Renderer(order.templates, _PrintWorker.typesetter.measure)
    _PrintWorker.single_files = SingleFiles(order.library.root, order.templates)


def _print_some(number: int, outputs: list[tuple[str, str]]) -> list[Printed]:
    return [_print(number, output, key) for output, key in outputs]


def _print(number: int, output: str, key: str) -> Printed:
    order = _PrintWorker.order
    document = composed(output, order.library, order.library.procedures[number], _PrintWorker.renderer)
    path = order.folder / document.name
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.suffix == ".pdf":
        write_pdf(document, path, _PrintWorker.typesetter)
    elif path.suffix == ".zip":
        write_package(document, path)
    elif path.suffix == ".pptx":
        # Imported here because only slides need the library that writes them.
        from builder.publish.slides.pptx_file import write_slides  # noqa: PLC0415

        write_slides(document, path, order.library.root)
    elif path.suffix == ".txt":
        path.write_text(document.text, encoding="utf-8", newline="\n")
    else:
        _PrintWorker.single_files.write(document, path)
    found = order.proofs[path.suffix].read_back(document, path)
    if found.problems:
        raise PublishError(not_shown(document, found.problems), is_content=True)
    if order.cache:
        order.cache.keep(key, document, path, found)
    return replace(document, text="", of=None, placed=()), found


def not_shown(document: Document, problems: tuple[str, ...]) -> str:
    """Return what to say of a finished file that does not show what it promised."""
    return "\n".join(f"{document.name}: {problem}" for problem in problems)

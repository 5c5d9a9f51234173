"""Sets cards, slides and other papers in a process of their own, which stays warm: fonts and styles are read once.

A process and not a thread, because setting type keeps a processor busy for a quarter of a second: meanwhile pages and
findings must not wait.
"""

from __future__ import annotations

import contextlib
import copy
import gc
import io
import multiprocessing
import pickle
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from builder.compose.consents import fresh
from builder.findings.finding import Finding, Refused
from builder.load.prose import Prose
from builder.load.sources.bibliography import RawSource
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.publish.equipment import Equipment
from builder.publish.workers import live_and_end_with_parent

ALONE = frozenset(row.name for row in OUTPUTS.files if row.alone)
"""Outputs in which nothing of another procedure is shown, so that they are known again when another has changed."""
_DOTS_PER_MM = 6.0
"""A card on the screen is as large as on paper (3.8 pixels a millimetre); more dots are for fine displays."""
_MOST_DOTS = 1400
_MOST_KEPT = 24
_PATIENCE_SECONDS = 120.0
_OBJECTS_BETWEEN_LOOKS = 100_000


@dataclass(frozen=True, slots=True)
class PicturedPage:
    """One page of a paper: a PNG picture, its size in mm, and how far down (0 to 1) each anchor lies."""

    png: bytes
    width_mm: float
    height_mm: float
    anchors: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper as it was set. ``key`` is another for every other paper; ``left_out`` are lines without room.

    Of a paper that was asked for as a file there are no ``sides`` but ``content``, and the ``name`` it is published by.
    """

    key: str
    sides: tuple[PicturedPage, ...] = ()
    left_out: tuple[str, ...] = ()
    content: bytes = b""
    name: str = ""


@dataclass(frozen=True, slots=True)
class NotSet:
    """Why a paper could not be set, in plain words, and the finding where there is one."""

    message: str
    finding: Finding | None = None


class PaperSetter:
    """Sets papers of one department. Threads may ask side by side; what is asked for twice is set once."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self._root = root
        self._templates = templates
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Future[Paper | NotSet]] = OrderedDict()
        self._workers = self._started()

    def warm(self) -> None:
        """Let the process import and read what it needs, before anybody waits for it."""
        with contextlib.suppress(RuntimeError):
            self._workers.submit(_warm)

    def renew(self, templates: Mapping[str, str]) -> None:
        """Go on with other templates."""
        with self._lock:
            self._templates = templates
            self._kept.clear()
            self._workers.shutdown(wait=False, cancel_futures=True)
            self._workers = self._started()

    def paper(self, library: Library, procedure: str, output: str, *, as_file: bool = False) -> Paper | NotSet:
        """Return ``output`` of ``procedure`` as it is in ``library``, to be looked at or as the finished file.

        Never raises for what is written there.
        """
        try:
            key, order = _order(library, procedure, output, as_file)
        except (RecursionError, pickle.PicklingError):
            return NotSet("This is nested too deeply to be set.")
        for attempt in range(2):
            future = self._future(key, order)
            try:
                return future.result(_PATIENCE_SECONDS)
            except BrokenProcessPool:
                self._restart(key)
                if attempt:
                    break
            except TimeoutError:
                self._restart(key)
                return NotSet(f"This took more than {_PATIENCE_SECONDS:.0f} seconds and was given up.")
            except Exception as error:  # whatever it is, the preview goes on
                return NotSet(f"This cannot be set ({type(error).__name__}).")
        return NotSet("This cannot be set: the process that sets type ended by itself, twice.")

    def ahead(self, library: Library, procedure: str, output: str) -> None:
        """Begin to set a paper that will be asked for in a moment."""
        # Whatever stands against it is told to whoever asks for the paper.
        with contextlib.suppress(RuntimeError, pickle.PicklingError):
            self._future(*_order(library, procedure, output, as_file=False))

    def side(self, key: str, number: int) -> PicturedPage | None:
        """Return page ``number``, from 1, of the paper ``key`` if it is still kept."""
        with self._lock:
            future = self._kept.get(key)
        found = future.result() if future is not None and future.done() and not future.exception() else None
        return found.sides[number - 1] if isinstance(found, Paper) and 0 < number <= len(found.sides) else None

    def end(self) -> None:
        """End the process."""
        with self._lock:
            self._workers.shutdown(wait=False, cancel_futures=True)

    def _future(self, key: str, order: bytes) -> Future[Paper | NotSet]:
        with self._lock:
            if key not in self._kept:
                self._kept[key] = self._workers.submit(_set, key, order)
                while len(self._kept) > _MOST_KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]

    def _restart(self, key: str) -> None:
        with self._lock:
            self._kept.pop(key, None)
            for process in list((getattr(self._workers, "_processes", None) or {}).values()):
                process.kill()  # a process that hangs would keep the program from ending
            self._workers.shutdown(wait=False, cancel_futures=True)
            self._workers = self._started()

    def _started(self) -> ProcessPoolExecutor:
        # Started afresh, not forked: this process has threads.
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(1, context, _start, (self._root, self._templates))


def _order(library: Library, procedure: str, output: str, as_file: bool) -> tuple[str, bytes]:
    """Return what is handed to the process, and the key under which what it makes of it is kept."""
    shown = _of_one(library, procedure) if output in ALONE else library
    shown = replace(shown, procedures=tuple(fresh(one.model_copy()) for one in shown.procedures))
    target = io.BytesIO()
    _Pickler(target, pickle.HIGHEST_PROTOCOL).dump((shown, procedure, output, as_file))
    order = target.getvalue()
    return sha256(order).hexdigest()[:32], order


class _Pickler(pickle.Pickler):
    """Hands over what was written, not what somebody has worked out of it since: equal Libraries give equal bytes."""

    def reducer_override(self, value: Any) -> Any:
        if type(value) is Prose:
            return Prose, (value.source, value.links, value.at)
        if type(value) is RawSource:
            return RawSource.of_row, (value.row(), value.key.at.file)
        return NotImplemented


def _of_one(library: Library, procedure: str) -> Library:
    """Return ``library`` with this procedure alone: little to hand over, and the same when others change."""
    own = f"content/procedures/{procedure}/"
    return replace(
        library,
        procedures=(library.by_id[procedure],),
        figures=frozenset(name for name in library.figures if name.startswith(own)),
        pictures={name: digest for name, digest in library.pictures.items() if name.startswith(own)},
        lapsed=library.lapsed & {procedure},
        notes={},
        broken=frozenset(),
    )


class _PaperWorker:
    """What the process keeps between papers."""

    equipment: Equipment


def _start(root: Path, templates: Mapping[str, str]) -> None:
    live_and_end_with_parent()
    _PaperWorker.equipment = Equipment(root, templates)
    # Laying out makes hundreds of thousands of objects that live until a page is done (see publish/printing.py).
    gc.freeze()
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS)


def _warm() -> None:
    from builder.publish.pictures import images  # noqa: F401, PLC0415  # to have them

    equipment = _PaperWorker.equipment
    style = equipment.templates.get("paper/base.css", "")
    equipment.typesetter.measure(f"<style>{style}</style><p id='a'>Warm <b>and</b> <i>ready</i>.</p>")


def _set(key: str, order: bytes) -> Paper | NotSet:
    from builder.publish.pictures.images import prepared  # noqa: PLC0415
    from builder.publish.publish_error import PublishError  # noqa: PLC0415

    library, procedure, output, as_file = pickle.loads(order)  # noqa: S301  # made by the parent a moment ago
    try:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            shown = library if output in ALONE else prepared(library, folder)
            return _paper(key, (shown, procedure, output), folder if as_file else None)
    except Refused as refusal:
        return NotSet(f"{refusal.finding.message}. {refusal.finding.hint}".strip(), refusal.finding)
    except (PublishError, OSError) as error:
        return NotSet(str(error))


def _paper(key: str, order: tuple[Library, str, str], folder: Path | None) -> Paper:
    library, procedure, name = order
    kept = _PaperWorker.equipment
    equipment = kept if library.root == kept.root else Equipment(library.root, kept.templates)
    # A composer remembers what it composed for a Renderer, for as long as that lives: each paper gets one of its own,
    # which shares the templates that are ready.
    renderer = copy.copy(kept.renderer)
    renderer.measure = equipment.typesetter.measure
    output = OUTPUTS[name]
    document = output.composed(name, library, library.by_id[procedure], renderer)
    left_out = tuple(f"{one.kind}: {one.id}" for one in document.left_out if not one.kind.endswith("-line"))
    if folder is not None:
        path = folder / Path(document.name).name
        output.format.write(equipment, document, path)
        return Paper(key, (), left_out, path.read_bytes(), path.name)
    places = equipment.typesetter.measure(document.text) if document.of is None else ()
    return Paper(key, _sides(equipment.typesetter.for_screen(document), places), left_out)


def _sides(pdf: bytes, places: tuple[Mapping[str, float], ...]) -> tuple[PicturedPage, ...]:
    import pypdfium2  # noqa: PLC0415  # only this process needs it

    found = []
    opened = pypdfium2.PdfDocument(pdf)
    try:
        for number, page in enumerate(opened):
            width, height = (points * 25.4 / 72 for points in page.get_size())
            scale = min(_DOTS_PER_MM, _MOST_DOTS / width) * 25.4 / 72
            target = io.BytesIO()
            page.render(scale=scale).to_pil().save(target, "PNG", compress_level=1)
            anchors = places[number] if number < len(places) else {}
            shares = {name: min(max(down / height, 0.0), 1.0) for name, down in anchors.items()}
            found.append(PicturedPage(target.getvalue(), width, height, shares))
    finally:
        opened.close()
    return tuple(found)

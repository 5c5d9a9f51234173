"""Sets cards, slides and other papers in a process of their own, which stays warm: fonts and styles are read once.

A process and not a thread, because setting type keeps a processor busy for a quarter of a second: meanwhile pages and
findings must not wait.
"""

import contextlib
import copy
import io
import pickle
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from builder.compose.consents import fresh
from builder.compose.document import Document
from builder.findings.finding import Finding, Refused
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.publish.jobs import Job, JobLost, Processes, Receipt
from builder.publish.output import Equipment
from builder.publish.publish_error import PublishError

ALONE = frozenset(row.name for row in OUTPUTS.files if row.alone)
"""Outputs in which nothing of another procedure is shown, so that they are known again when another has changed."""
_DOTS_PER_MM = 6.0
"""A card on the screen is as large as on paper (3.8 pixels a millimetre); more dots are for fine displays."""
_MOST_DOTS = 1400
_MOST_KEPT = 24
_PATIENCE_SECONDS = 120.0


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
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Receipt[Paper | NotSet]] = OrderedDict()
        self._ahead: Receipt[Paper | NotSet] | None = None
        self.processes = Processes(Equipment(root, templates), most=1)

    def warm(self) -> None:
        """Let the process import and read what it needs, before anybody waits for it."""
        with contextlib.suppress(RuntimeError):
            self.processes.submit(Job("what papers need", _warmed))

    def renew(self, templates: Mapping[str, str]) -> None:
        """Go on with other templates."""
        with self._lock:
            self._kept.clear()
            self._ahead = None
            self.processes.close(wait=False)
            self.processes = Processes(Equipment(self._root, templates), most=1)

    def paper(self, library: Library, procedure: str, output: str, *, as_file: bool = False) -> Paper | NotSet:
        """Return ``output`` of ``procedure`` as it is in ``library``, to be looked at or as the finished file.

        Never raises for what is written there.
        """
        key = ""
        try:
            key, job = _job(library, procedure, output, as_file)
            return self._receipt(key, job).result(_PATIENCE_SECONDS)
        except (RecursionError, pickle.PicklingError):
            return NotSet("This is nested too deeply to be set.")
        except TimeoutError:
            self._forget(key)
            self.processes.kill()  # a process that hangs would keep the program from ending
            return NotSet(f"This took more than {_PATIENCE_SECONDS:.0f} seconds and was given up.")
        except JobLost as lost:
            self._forget(key)
            return NotSet(str(lost))
        except Exception as error:  # whatever it is, the preview goes on
            return NotSet(f"This cannot be set ({type(error).__name__}).")

    def ahead(self, library: Library, procedure: str, output: str) -> None:
        """Begin to set a paper that will be asked for in a moment, unless the last one begun ahead is not done yet.

        So after a flood of saves, the paper that is asked for never waits behind papers that are out of date.
        """
        if self._ahead is not None and not self._ahead.is_done():
            return
        # Whatever stands against it is told to whoever asks for the paper.
        with contextlib.suppress(RuntimeError, pickle.PicklingError):
            self._ahead = self._receipt(*_job(library, procedure, output, as_file=False))

    def side(self, key: str, number: int) -> PicturedPage | None:
        """Return page ``number``, from 1, of the paper ``key`` if it is still kept."""
        with self._lock:
            receipt = self._kept.get(key)
        paper = None
        if receipt is not None and receipt.is_done():
            with contextlib.suppress(Exception):  # it was told to whoever asked for the paper
                paper = receipt.result(0)
        return paper.sides[number - 1] if isinstance(paper, Paper) and 0 < number <= len(paper.sides) else None

    def end(self) -> None:
        """End the process."""
        self.processes.close(wait=False)

    def _receipt(self, key: str, job: Job[Paper | NotSet]) -> Receipt[Paper | NotSet]:
        with self._lock:
            if key not in self._kept:
                self._kept[key] = self.processes.submit(job)
                while len(self._kept) > _MOST_KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]

    def _forget(self, key: str) -> None:
        with self._lock:
            self._kept.pop(key, None)


def _warmed(equipment: Equipment) -> None:
    """Import and read what papers need, and measure a word."""
    from builder.publish import pictures  # noqa: F401, PLC0415  # to have them

    style = equipment.templates.get("paper/base.css", "")
    equipment.typesetter.measure(f"<style>{style}</style><p id='a'>Warm <b>and</b> <i>ready</i>.</p>")


def _job(library: Library, procedure: str, output: str, as_file: bool) -> tuple[str, Job[Paper | NotSet]]:
    """Return a key that is another for every other paper, and the order to set it."""
    shown = _of_one(library, procedure) if output in ALONE else library
    shown = replace(shown, procedures=tuple(fresh(one.model_copy()) for one in shown.procedures))
    packed = pickle.dumps(shown)
    key = sha256(packed + f"{procedure}/{output}/{as_file}".encode()).hexdigest()[:32]
    return key, Job(f"{output} of {procedure}", _paper, (key, packed, procedure, output, as_file))


def _paper(  # noqa: PLR0913, PLR0917  # all that a paper follows from
    equipment: Equipment, key: str, packed: bytes, procedure: str, output: str, as_file: bool
) -> Paper | NotSet:
    from builder.publish.pictures import prepared  # noqa: PLC0415

    library: Library = pickle.loads(packed)  # noqa: S301  # made by the parent a moment ago
    try:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            shown = library if output in ALONE else prepared(library, folder)
            document, own = _document(shown, equipment, procedure, output)
            left_out = tuple(f"{one.kind}: {one.id}" for one in document.left_out if not one.kind.endswith("-line"))
            if as_file:
                path = folder / Path(document.name).name
                OUTPUTS[output].format.write(own, document, path)
                return Paper(key, (), left_out, path.read_bytes(), path.name)
            places = own.typesetter.measure(document.text) if document.of is None else ()
            return Paper(key, _sides(own.typesetter.for_screen(document), places), left_out)
    except Refused as refusal:
        return NotSet(f"{refusal.finding.message}. {refusal.finding.hint}".strip(), refusal.finding)
    except (PublishError, OSError) as error:
        return NotSet(str(error))


def _document(library: Library, kept: Equipment, procedure: str, output: str) -> tuple[Document, Equipment]:
    """Return ``output`` of ``procedure``, and what sets type for a library in this folder."""
    equipment = kept if library.root == kept.root else Equipment(library.root, kept.templates)
    # A composer remembers what it composed for a Renderer, for as long as that lives: each paper gets one of its
    # own, which shares the templates that are ready.
    renderer = copy.copy(kept.renderer)
    renderer.measure = equipment.typesetter.measure
    return OUTPUTS[output].composed(output, library, library.by_id[procedure], renderer), equipment


def _of_one(library: Library, procedure: str) -> Library:
    """Return ``library`` with this procedure alone: little to hand over, and the same when others change."""
    own = f"content/procedures/{procedure}/"
    return replace(
        library,
        procedures=(library.by_id[procedure],),
        figures=frozenset(name for name in library.figures if name.startswith(own)),
        pictures={name: digest for name, digest in library.pictures.items() if name.startswith(own)},
        lapsed=library.lapsed & {procedure},
        broken=frozenset(),
    )


def _sides(pdf: bytes, places: tuple[Mapping[str, float], ...]) -> tuple[PicturedPage, ...]:
    import pypdfium2  # noqa: PLC0415  # only this process needs it

    found = []
    with contextlib.closing(pypdfium2.PdfDocument(pdf)) as opened:
        for number, page in enumerate(opened):
            width, height = (points * 25.4 / 72 for points in page.get_size())
            scale = min(_DOTS_PER_MM, _MOST_DOTS / width) * 25.4 / 72
            target = io.BytesIO()
            page.render(scale=scale).to_pil().save(target, "PNG", compress_level=1)
            anchors = places[number] if number < len(places) else {}
            shares = {name: min(max(down / height, 0.0), 1.0) for name, down in anchors.items()}
            found.append(PicturedPage(target.getvalue(), width, height, shares))
    return tuple(found)

"""The steps of publishing, one after the other (see ``builder/pipeline.py``): everything is made in a work folder.

Files are made on all processors: each worker composes a document, writes it and reads it back. Nothing that others made
is ever replaced.
"""

import errno
import itertools
import os
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self

from builder.compose.document import Document
from builder.compose.view.words import uncapital
from builder.facts.coverage import coverage, data_of
from builder.findings.register import CHECKED
from builder.model.library import Library
from builder.publish import issuing
from builder.publish.build_report import NAME, Artefact, FileRead, Report, artefact_of, every_file, known_files
from builder.publish.cache import Cache, Inputs, users_cache
from builder.publish.jobs import Executor, Job, Workers
from builder.publish.output import SITE, Output, Proof, Publication
from builder.publish.publish_error import PublishError, WrongTarget
from builder.publish.site.site_pages import built
from builder.write.lock import NotWritten
from builder.write.swap import WorkFolder, is_interrupted, work_folder

Progress = Callable[[int, int, str], None]
"""Told ``(parts done, parts in all, what is being made)``."""

Papers = list[tuple[Output, Document]]
_FEW_PAPERS = 8
_FEW_PROCEDURES = 50
_FEW_PAGES = 500
_TOGETHER = 8
Printed = tuple[Output, Document, FileRead]
_FULL = {errno.ENOSPC, errno.EDQUOT}
_NO_RIGHT = {errno.EACCES, errno.EPERM}
_SHOWN = 3
_READ = ("content", "references", "ledger", "site_templates")


@dataclass(frozen=True, slots=True)
class Means:
    """With what files are made: the workers of the scheduler at ``cluster`` ("" = this machine), the ``cache``, and at
    most so many ``jobs`` at once on this machine (0 = one for each processor)."""

    cluster: str = ""
    cache: Cache | None = field(default_factory=users_cache)
    jobs: int = 0


class Publishing:
    """One publish of the outputs ``wanted``, from Library to a proved folder. Use it as a context manager."""

    def __init__(  # what, how much of it, whom to tell, and where it comes from and goes to
        self,
        publication: Publication,
        wanted: Collection[str],
        progress: Progress,
        origin: Library,
        means: Means,
    ) -> None:
        self.publication = publication
        self.origin = origin
        """The department as it lies in its folder, with its git and its ledger beside it."""
        self.workers = Workers(publication, _cluster(publication, means.cluster) if means.cluster else None, means.jobs)
        self._has_site = SITE in wanted
        self._papers = [row.name for row in publication.outputs.files if row.name in wanted]
        self._progress = progress
        self._done = itertools.count(1)
        self._proved: dict[str, tuple[Proof, FileRead]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.workers.close()
        self.publication.let_go()

    @property
    def _paper_count(self) -> int:
        library, outputs = self.publication.library, self.publication.outputs
        return sum(1 for procedure in library.procedures for _ in outputs.documents_of(procedure, self._papers))

    @property
    def _total(self) -> int:
        library = self.publication.library
        pages = 4 * len(library.procedures) + 6 + issuing.pages_of(library) if self._has_site else 0
        return self._paper_count + pages + 1

    def print(self) -> Papers:
        """Compose, write and prove every file that is no page."""
        made, total = [], self._total
        executor = self.workers.for_making(self._paper_count, _FEW_PAPERS)
        for output, document, read in printed(self.publication, executor, self._papers):
            self._proved[document.name] = output.proof, read
            made.append((output, document))
            self._progress(next(self._done), total, f"{document.procedure}: {uncapital(output.title)}")
        return made

    def build_site(self, papers: Papers) -> list[Document]:
        """Compose the pages, which offer ``papers``, and build the site of them."""
        publication, total = self.publication, self._total
        publication.new.mkdir()
        if not self._has_site:
            return []
        offers = [(document.procedure, publication.outputs.offer(output, document)) for output, document in papers]
        executor = self.workers.for_making(len(publication.library.procedures), _FEW_PROCEDURES)

        def tell(made: str) -> None:
            self._progress(next(self._done), total, made)

        return built(publication, executor, offers, tell, self.origin)

    def add(self, papers: Papers) -> None:
        """Lay ``papers`` beside the pages."""
        for _, document in papers:
            path = self.publication.new / document.name
            path.parent.mkdir(parents=True, exist_ok=True)
            (self.publication.made / document.name).rename(path)

    def prove(self, pages: list[Document]) -> None:
        """Read every page back. Raises PublishError where one does not show what it promised."""
        jobs = [
            Job(pages[at].name, _read_back, (pages[at : at + _TOGETHER],)) for at in range(0, len(pages), _TOGETHER)
        ]
        executor = self.workers.for_tasks(len(pages), _FEW_PAGES)
        read = itertools.chain.from_iterable(executor.results(jobs))
        total = self._total
        problems: list[str] = []
        for page, found in zip(pages, read, strict=True):
            self._proved[page.name] = self.publication.outputs.proof_of(page), found
            self._progress(total - 1, total, f"reading back {page.name}")
            problems.extend(f"{page.name}: {problem}" for problem in found.problems)
        refuse(problems)

    def report(self, pages: list[Document], papers: Papers) -> Report:
        """Write what was made and proved into build-report.json, and return it."""
        self._progress(self._total, self._total, "putting in place")
        # They were made in any order; what is told of them must not depend on it.
        documents = sorted([*pages, *(document for _, document in papers)], key=lambda document: document.name)
        artefacts = tuple(self._artefact(document) for document in documents)
        library = self.publication.library
        found = {str(procedure.id): data_of(coverage(library, procedure)) for procedure in library.procedures}
        return Report(str(library.department.name), artefacts, CHECKED, {}, found).put_into(self.publication.new)

    def _artefact(self, document: Document) -> Artefact:
        proof, read = self._proved[document.name]
        measured: dict[str, Any] = {"pages": read.pages, "smallest_type_pt": read.smallest_type_pt}
        return artefact_of(document, self.publication.new, **measured, checks=proof.names_for(document))


def refuse(problems: Iterable[str]) -> None:
    """Raise PublishError where there are ``problems``, one a line."""
    if told := "\n".join(problems):
        raise PublishError(told, is_content=True)


@contextmanager
def in_work_folder(to: Path, root: Path) -> Iterator[WorkFolder]:
    """Give the work folder for publishing the department in ``root`` to the folder ``to``, which must be new or ours.

    Raises PublishError, in plain words.
    """
    target = real_target(to, root)
    with told_plainly(target):
        if not is_interrupted(target):
            refuse_strangers(target)
        with work_folder(target) as work:
            refuse_strangers(target)  # again: an interrupted publish may just have been mended
            yield work


@contextmanager
def told_plainly(target: Path) -> Iterator[None]:
    """Turn what the system or another stage refuses into a PublishError that says what to do."""
    try:
        yield
    except OSError as error:
        raise PublishError(in_plain_words(error, target)) from error
    except NotWritten as error:
        raise error if isinstance(error, PublishError) else PublishError(str(error)) from None


def _read_back(publication: Publication, pages: list[Document]) -> list[FileRead]:
    return [publication.outputs.proof_of(page).read_back(page, publication.new / page.name) for page in pages]


def printed(publication: Publication, executor: Executor[Publication], wanted: Collection[str]) -> Iterator[Printed]:
    """Yield each document of the outputs ``wanted``, made and proved, without its text.

    Raises what a document fails with: PublishError, Refused, OSError.
    """
    outputs, cache = publication.outputs, publication.cache
    inputs = Inputs(publication.library, publication.templates) if cache else None
    jobs: list[Job[list[tuple[str, Document, FileRead]]]] = []
    keys: dict[tuple[str, str], str] = {}
    for number, procedure in enumerate(publication.library.procedures):
        together: dict[str, list[str]] = {}
        for output, name in outputs.documents_of(procedure, wanted):
            key = keys[str(procedure.id), name] = inputs.key(procedure, name) if inputs else ""
            kept = cache.take(key, publication.made) if cache else None
            if kept:
                yield output, *kept
            else:
                together.setdefault(output.group or output.name, []).append(name)
        # A card and the sheets that carry it are made by one worker, which composes and sets the card once.
        jobs += [Job(f"{group} of {procedure.id}", _all_printed, (number, some)) for group, some in together.items()]
    for made in executor.as_done(jobs):
        for name, document, read in made:
            if cache:  # here, so that what workers made elsewhere is kept as well
                cache.keep(keys[document.procedure, name], document, publication.made / document.name, read)
            yield outputs[name], document, read
    if cache:
        cache.prune()


def _all_printed(publication: Publication, number: int, documents: list[str]) -> list[tuple[str, Document, FileRead]]:
    """Compose, write and read back ``documents`` of the procedure ``number``."""
    return [(name, *_printed(publication, number, name)) for name in documents]


def _printed(publication: Publication, number: int, name: str) -> tuple[Document, FileRead]:
    output = publication.outputs[name]
    procedure = publication.library.procedures[number]
    document = output.composed(name, publication.library, procedure, publication.renderer)
    path = publication.made / document.name
    path.parent.mkdir(parents=True, exist_ok=True)
    output.format.write(publication, document, path)
    read = output.proof.read_back(document, path)
    if read.problems:
        raise PublishError("\n".join(f"{document.name}: {problem}" for problem in read.problems), is_content=True)
    return replace(document, text="", musts=(), of=None, placed=()), read


def _cluster(publication: Publication, address: str) -> Executor[Publication]:
    try:
        # Imported here because only whoever has a cluster needs it.
        from builder.publish.cluster import Cluster, PublicationParcel  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise PublishError(
            f"{error.name} is missing, and a cluster cannot be used without it. Install prescrub[cluster]."
        ) from None
    return Cluster(PublicationParcel.of(publication), address, publication.folder)


def real_target(to: Path, root: Path | None = None) -> Path:
    """Return ``to`` as an absolute path with every link followed.

    Raises WrongTarget where it cannot be a target, such as inside what is read of the department in ``root``.
    """
    target = Path(os.path.realpath(to))
    if target.exists() and not target.is_dir():
        raise WrongTarget(f"{to} is a file, not a folder. Name a folder to publish to.")
    read = [Path(os.path.realpath(root / name)) for name in _READ] if root else []
    if inside := next((folder for folder in read if target.is_relative_to(folder)), None):
        raise WrongTarget(f"{to} is inside {inside.name}/, which is what is published. Name a folder outside it.")
    if target.parent == target or os.path.ismount(target):
        raise WrongTarget(f"{to} cannot be replaced as a whole: it is a disk of its own. Name a folder inside it.")
    return target


def refuse_strangers(target: Path) -> None:
    """Raise WrongTarget where ``target`` holds anything that no publish of ours made."""
    if not target.is_dir() or not any(target.iterdir()):
        return
    known = known_files(target)
    if known is None:
        raise WrongTarget(
            f"{target} holds files and was not made by prescrub (it has no {NAME} of ours). "
            "Name another folder, or empty this one."
        )
    strange = [name for name in every_file(target) if name not in known]
    if strange:
        more = f" and {len(strange) - _SHOWN} more" if len(strange) > _SHOWN else ""
        raise WrongTarget(
            f"{target} holds files that prescrub did not make: {', '.join(strange[:_SHOWN])}{more}. "
            "Publishing replaces the whole folder, so move them elsewhere first."
        )


def in_plain_words(error: OSError, target: Path) -> str:
    """Return what a failure of the system means for whoever publishes, and what to do."""
    where = error.filename or target.parent
    if error.errno in _FULL:
        return f"The disk that holds {target.parent} is full. Free some space, then publish again."
    if error.errno in _NO_RIGHT and error.filename is None:  # no file was refused, so none may be blamed
        return (
            f"The system refused a right that belongs to no file ({error.strerror}); most often /dev/shm, which "
            "processes share, is missing. Ask whoever keeps the machine."
        )
    if error.errno in _NO_RIGHT:
        return f"There is no right to write {where}. Ask whoever keeps it, or name another folder."
    if error.errno == errno.EROFS:
        return f"{target.parent} can only be read. Name a folder that can be written to."
    return f"The system refused {where}: {error.strerror or error}. Look at it, then publish again."

"""Publishing: everything is made and proved in a work folder, then put in place in one step, or not at all."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.findings.register import CHECKED
from builder.load.ledger import Issued
from builder.model.library import Library
from builder.publish import issuing
from builder.publish.build_report import NAME, Artefact, Report, artefact_of, every_file, sha256
from builder.publish.output import SITE, Output, Outputs, Proof, ReadBack, Sweep
from builder.publish.pictures.images import prepared
from builder.publish.publish_error import PublishError
from builder.publish.site.single import SingleFiles
from builder.publish.site.site import Site
from builder.publish.site.site_pages import Pages
from builder.publish.target import in_plain_words, real_target, refuse_strangers
from builder.publish.workers import spread
from builder.write.lock import NotWritten
from builder.write.swap import WorkFolder, work_folder

Progress = Callable[[int, int, str], None]
"""Told ``(parts done, parts in all, what is being done)``."""


def publish(  # noqa: PLR0913  # what, where, how it looks, how it is proved: each of them is the caller's to say
    library: Library,
    to: Path,
    templates: Mapping[str, str],
    progress: Progress | None = None,
    *,
    outputs: Outputs,
    only: Collection[str] | None = None,
    sweep: Sweep | None = None,
    issue: bool = False,
) -> Report:
    """Publish ``library`` to the folder ``to`` and return what was made: all ``outputs``, or ``only`` those named.

    Pictures are made anew first. ``sweep`` looks through everything that was made before it is put in place. ``issue``
    adds the codes of what is approved to the ledger, when all is made and proved.

    ``to`` is the old site or the new one at every instant. Raises PublishError, in plain words, or Refused where it
    stays the old.
    """
    target = real_target(to)
    try:
        refuse_strangers(target)
        with work_folder(target) as work:
            refuse_strangers(target)  # again: an interrupted publish may just have been mended
            kept, lines = _issuing(library, target, issue)
            shown = prepared(kept, work.folder)
            publishing = _Publishing(shown, Renderer(templates), outputs, work, progress or _silent)
            report = publishing.run(only or outputs.usual)
            if sweep is not None and (named := sweep(library, work.new)):
                raise PublishError("\n".join(named), is_content=True)
            issuing.append(library.root, lines)  # before the site: a code in a pocket must never be one without a line
            work.put_in_place()
            return report
    except OSError as error:
        raise PublishError(in_plain_words(error, target)) from error
    except NotWritten as error:
        raise error if isinstance(error, PublishError) else PublishError(str(error)) from None


def _issuing(library: Library, target: Path, issue: bool) -> tuple[Library, tuple[Issued, ...]]:
    """Return the library with its editions, and the lines to add to its ledger, already in it."""
    issuing.refuse_lost(library, target)
    kept = issuing.with_editions(library)
    lines = issuing.to_issue(kept) if issue else ()
    return issuing.with_lines(kept, lines), lines


def _silent(done: int, total: int, doing: str) -> None:
    """Tell nobody how far it is."""


class _Publishing:
    """One publish, from Library to a proved folder."""

    def __init__(
        self, library: Library, renderer: Renderer, outputs: Outputs, work: WorkFolder, progress: Progress
    ) -> None:
        self.library = library
        self.renderer = renderer
        self.outputs = outputs
        self.work = work
        self.progress = progress
        self.made = work.folder / "made"
        self.read_back: dict[str, tuple[Proof, ReadBack]] = {}
        self._policy = SingleFiles(library.root, renderer.templates).site_policy

    def run(self, only: Collection[str]) -> Report:
        """Make and prove everything that is wanted in ``work.new``."""
        wanted = [row.name for row in self.outputs.files if row.name in only]
        procedures = self.library.procedures
        total = sum(1 for one in procedures for _ in self.outputs.documents_of(one, wanted)) + 1
        total += 4 * len(procedures) + 4 + issuing.pages_of(self.library) if SITE in only else 0
        printed = self._print(wanted, total) if wanted else []
        self.work.new.mkdir()
        pages: list[Document] = []
        if SITE in only:
            pages = self._build_site(printed, total)
        papers = [document for _, document in printed]
        for document in papers:
            path = self.work.new / document.name
            path.parent.mkdir(parents=True, exist_ok=True)
            (self.made / document.name).rename(path)
        self._prove(pages)
        self.progress(total, total, "put in place")
        return self._report([*pages, *papers])

    def _print(self, wanted: Collection[str], total: int) -> list[tuple[Output, Document]]:
        # Imported here because the typesetter takes half a second to start, and a site alone needs none of it.
        from builder.publish.printing import Order, Press  # noqa: PLC0415

        printed = []
        with Press(Order(self.library, self.renderer.templates, self.made, self.outputs)) as press:
            for output, document, found in press.print(len(self.library.procedures), wanted):
                self.read_back[document.name] = output.proof, found
                printed.append((output, document))
                self.progress(len(printed), total, document.name)
        return printed

    def _build_site(self, printed: list[tuple[Output, Document]], total: int) -> list[Document]:
        count = itertools.count(len(printed) + 1)
        offers = [(document.procedure, self.outputs.offer(output, document)) for output, document in printed]
        with Site(self.library, self.work.folder, self.work.new) as site:
            pages = Pages(self.outputs, self.library, self.renderer, self._policy, site)
            return pages.build(offers, lambda name: self.progress(next(count), total, name))

    def _prove(self, pages: list[Document]) -> None:
        def read_back(number: int) -> ReadBack:
            document = pages[number]
            return self.outputs.proof_of(document).read_back(document, self.work.new / document.name)

        problems: list[str] = []
        for document, found in zip(pages, spread(read_back, len(pages)), strict=True):
            self.read_back[document.name] = self.outputs.proof_of(document), found
            problems.extend(f"{document.name}: {problem}" for problem in found.problems)
        if problems:
            raise PublishError("\n".join(problems), is_content=True)

    def _report(self, documents: list[Document]) -> Report:
        # They were made in any order; what is told of them must not depend on it.
        artefacts = tuple(self._artefact(document) for document in sorted(documents, key=lambda one: one.name))
        known = {artefact.path for artefact in artefacts}
        files = {name: sha256(self.work.new / name) for name in every_file(self.work.new) if name not in known}
        report = Report(str(self.library.department.name), artefacts, CHECKED, files)
        (self.work.new / NAME).write_text(report.to_json(), encoding="utf-8")
        return report

    def _artefact(self, document: Document) -> Artefact:
        proof, found = self.read_back[document.name]
        return artefact_of(
            document,
            self.work.new,
            pages=found.pages,
            smallest_type_pt=found.smallest_type_pt,
            checks=proof.names,
        )

"""The whole flow on one screen: load, model, facts, check, compose, publish, read back, swap.

The preview goes the same way with the same parts, for as much of it as changed (``load/again.py``,
``check/piecewise.py``, ``preview/press.py``); tests hold it to what is made here.
"""

# A check must not wait for the engines that publishing needs, so these are imported when they are used.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from builder.check.engine import examine
from builder.findings.finding import Finding
from builder.load.folder import Loaded, load
from builder.load.sources.bibliography import SourceCache
from builder.model.library import Library

if TYPE_CHECKING:
    from builder.compose.changes.change_notice import ChangeNotice
    from builder.model.pages import Procedure
    from builder.publish.build_report import Report
    from builder.publish.publishing import Means, Progress


def loaded(root: Path, today: date | None = None, parent: Path | None = None) -> Loaded:
    """Read the department in ``root``, in a region over its common library in ``parent``."""
    # load: every file, with the places of all that stands in it
    return load(root, today, SourceCache.of_user(), parent)


def examined(root: Path, today: date | None = None) -> tuple[Library, list[Finding]]:
    """Read the department in ``root`` and return its Library with all findings, in order of place."""
    # model: one frozen Library; check: each row of the table, from facts worked out once
    return examine(loaded(root, today))


def library_at(folder: Path) -> Library:
    """Return the Library of the department in ``folder``, which is an earlier state. Nothing is checked.

    Raises NotFoundInPast where its parent cannot be used, and with it half of what it said.
    """
    from builder.load.folder import PARENT_BROKEN
    from builder.load.past import NotFoundInPast
    from builder.model.build import build

    loaded = load(folder)
    if PARENT_BROKEN in loaded.broken:
        why = next(made.message for made in loaded.findings if made.name == "parent-unusable")
        raise NotFoundInPast(f"{why}. Without its parent nobody can say what changed.")
    return build(loaded)[0]


def write_notice(library: Library, notice: ChangeNotice, to: Path) -> None:
    """Write what changed in a procedure as a PDF to the file ``to``, once it was read back. Raises PublishError and
    Refused."""
    from builder.compose.changes.change_notice import compose_notice
    from builder.load.program_words import speaking
    from builder.load.templates import load_templates
    from builder.publish.output import Equipment
    from builder.publish.publish_error import PublishError
    from builder.publish.publishing import told_plainly
    from builder.readback.paper.pdf import read_back
    from builder.write.swap import in_place_of

    equipment = Equipment(library.root, load_templates(library.root))
    with told_plainly(to), in_place_of(to) as made, speaking(library.department.language):
        document = compose_notice(library, notice, equipment.renderer)
        equipment.write_pdf(document, made)
        problems = read_back(document, made).problems
        if problems:
            raise PublishError(f"{to.name}: {'; '.join(problems)}")


def shared_copy(library: Library, procedure: Procedure) -> bytes:
    """Return the committee's copy of ``procedure`` as a .docx, once it was read back. Raises PublishError and
    Refused."""
    from builder.compose.changes.committee_copy import committee_copy
    from builder.compose.document import Renderer
    from builder.load.program_words import speaking
    from builder.load.templates import load_templates
    from builder.publish.committee_file import committee_file
    from builder.publish.publish_error import PublishError
    from builder.readback.committee_proof import lost_of

    if any(page.file in library.lent for page in (procedure, *procedure.steps.values())):
        raise PublishError(f"{procedure.title} is the parent's text: a copy to be marked is made where it is written.")
    copy = committee_copy(library, procedure)
    renderer = Renderer(load_templates(library.root))
    language = str(library.department.language)
    with speaking(language):
        content = committee_file(copy, language, renderer, library.root)
    if lost := lost_of(copy, content):
        raise PublishError(f"The committee's copy would not come back whole: {lost}.")
    return content


def publish(  # noqa: PLR0913  # what, where, how it looks, what of it: each is the caller's to say
    library: Library,
    to: Path,
    templates: Mapping[str, str],
    progress: Progress = lambda *_: None,
    *,
    only: Collection[str] = (),
    issue: bool = False,
    over: Collection[str] | None = None,
    means: Means | None = None,
) -> Report:
    """Publish ``library`` to the folder ``to`` and return what was made: all that is usual, or ``only`` those named.

    ``progress`` is told how far it is; ``issue`` adds the codes of what is approved to the ledger. With ``over`` the
    old site stays, with ``library`` laid over it and the procedures named by ``over`` marked. ``means`` are
    the workers and the cache, by default those of this machine and user. ``to`` is the old site or the new one at every
    instant. Raises PublishError, in plain words, or Refused where it stays the old.
    """
    from builder.load.program_words import speaking
    from builder.outputs import OUTPUTS
    from builder.publish import inputs_read, issuing
    from builder.publish.output import Publication
    from builder.publish.pictures import prepared
    from builder.publish.publishing import Means, Publishing, in_work_folder, refuse
    from builder.publish.site import withdrawing
    from builder.readback.identity import sweep

    means = means or Means()
    with in_work_folder(to, library.root) as work, speaking(library.department.language):
        target = work.target
        edition, lines = issuing.edition_with_lines(library, target, issue=issue)
        copied = inputs_read.with_copies(edition, work.folder / "read")  # pictures, once for all outputs
        # Photographs are made anew.
        publication = Publication(prepared(copied, work.folder), templates, OUTPUTS, work.folder, means.cache)
        with Publishing(publication, only or OUTPUTS.usual, progress, edition, means) as publishing:
            papers = publishing.print()  # compose, publish and read back, by processes
            pages = publishing.build_site(papers)  # compose and publish, few here and many by processes
            publishing.add(papers)
            publishing.prove(pages)  # read back
            report = publishing.report(pages, papers)
            refuse(sweep(library, work.new, publishing.workers, means.cache))  # read back: nobody is named
        if over is not None:
            report = withdrawing.lay_over(target, work.new, report, library, over)
        inputs_read.refuse_changed(library, copied, templates, target)
        issuing.append(library.root, lines)  # before the site: a code in a pocket must never be one without a line
        work.put_in_place()  # swap
        return report

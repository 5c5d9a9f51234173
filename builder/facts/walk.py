"""Every page of a Library with the procedure it belongs to, and what is written on the pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from builder.load.prose import Link
from builder.model.dose import Dose
from builder.model.fields import Page
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Aftercare, Procedure, Step
from builder.model.sequence import StepEntry, every_entry
from builder.place import Text

Home = Procedure | None


def pages(library: Library) -> Iterator[tuple[Home, Page]]:
    """Yield every page once with its procedure; the department's page and shared pages have none."""
    yield None, library.department
    for shared in (*library.shared_cautions.values(), *library.shared_aftercare.values()):
        yield None, shared
    for procedure in library.procedures:
        yield procedure, procedure
        for step in procedure.steps.values():
            yield procedure, step
        for part in (*procedure.parts.cautions.values(), *procedure.parts.aftercare.values()):
            if not is_shared(part):
                yield procedure, part


def is_shared(page: Page) -> bool:
    """Tell whether ``page`` is written once for many procedures."""
    return page.file.startswith("content/shared/")


def links(library: Library, kind: str) -> Iterator[tuple[Home, Link, Text]]:
    """Yield each target of each link of ``kind`` in prose; what cannot be read as a link has a check of its own."""
    for home, page in pages(library):
        for link in page.body.links:
            if link.kind == kind and link.clear:
                for target in link.targets:
                    if target:
                        yield home, link, target


def figures(library: Library) -> Iterator[tuple[Procedure, Figure]]:
    """Yield every figure with its procedure."""
    for procedure in library.procedures:
        for figure in procedure.figure:
            yield procedure, figure
        for step in procedure.steps.values():
            for figure in step.figure:
                yield procedure, figure


def doses(page: Page) -> tuple[Dose, ...]:
    """Return the doses of a page."""
    return page.dose if isinstance(page, Step | Aftercare) else ()


def has_unknown_step(library: Library, procedure: Procedure) -> bool:
    """Tell whether the sequence names a step that does not exist: what it leaves unused or unshown is then no news."""
    entries = every_entry(procedure.sequence)
    names = (entry.step for entry in entries if isinstance(entry, StepEntry))
    return any(name not in procedure.steps and not library.is_broken("step", name, procedure.id) for name in names)


def procedures_with_broken(library: Library, kinds: Iterable[str]) -> frozenset[str]:
    """Return the procedures of which a file of ``kinds`` could not be used: there, nothing can be called unused."""
    wanted = set(kinds)
    return frozenset(procedure for kind, procedure, _ in library.broken if kind in wanted)

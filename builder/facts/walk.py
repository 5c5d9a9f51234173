"""Every page of a Library with its procedure, what is written on it, and the order in which a reader meets them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from builder.facts.remembered import once_per_department, once_per_library
from builder.grouping import grouped
from builder.load.prose import Link
from builder.model.citation import Citation
from builder.model.dose import Dose
from builder.model.fields import Page
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Status, Step, is_shared
from builder.model.sequence import StepEntry
from builder.place import Text

Home = Procedure | None


@once_per_library
def pages(library: Library) -> tuple[tuple[Home, Page], ...]:
    """Return every page once with its procedure; the department's page and shared pages have none.

    Where the Library is one procedure of a whole, those are another part's.
    """
    return tuple(_pages(library))


def has_shared(library: Library) -> bool:
    """Tell whether this is the whole, or that part of it which has what procedures share, and no procedure."""
    return library.within is None or not (library.procedures or library.salvaged_procedures)


def _pages(library: Library) -> Iterator[tuple[Home, Page]]:
    if has_shared(library):
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


def links(library: Library, kind: str) -> Sequence[tuple[Home, Link, Text]]:
    """Return each target of each link of ``kind`` in prose; what cannot be read as a link has a check of its own."""
    return _links(library).get(kind, ())


@once_per_library
def _links(library: Library) -> Mapping[str, list[tuple[Home, Link, Text]]]:
    return grouped(
        (link.kind, (home, link, target))
        for home, page in pages(library)
        for link in page.body.links
        if link.clear
        for target in link.targets
        if target
    )


def figures(library: Library) -> Iterator[tuple[Procedure, Figure]]:
    """Yield every figure with its procedure."""
    for procedure in library.procedures:
        for figure in procedure.figures:
            yield procedure, figure


def doses(page: Page) -> tuple[Dose, ...]:
    """Return the doses of a page."""
    return page.dose if isinstance(page, (Step, Aftercare)) else ()  # twice as fast as Step | Aftercare


@once_per_library
def citations(library: Library) -> tuple[Citation, ...]:
    """Return every citation of the front matter, page by page, those of doses too."""
    return tuple(
        citation
        for _, page in pages(library)
        for node in (page, *doses(page))
        for citation in (node.evidence if isinstance(node, Procedure | Step | Caution | Aftercare | Dose) else ())
    )


@once_per_library
def has_unknown_step(library: Library, procedure: Procedure) -> bool:
    """Tell whether the sequence names a step that does not exist: what it leaves unused or unshown is then no news."""
    entries, steps = procedure.entries, procedure.steps
    names = (entry.step for entry in entries if isinstance(entry, StepEntry))
    return any(name not in steps and not library.is_broken("step", name, procedure.id) for name in names)


def procedures_with_broken(library: Library, kinds: Iterable[str]) -> frozenset[str]:
    """Return the procedures of which a file of ``kinds`` could not be used: there, nothing can be called unused."""
    wanted = set(kinds)
    return frozenset(procedure for kind, procedure, _ in library.broken if kind in wanted)


@once_per_library
def reading_orders(library: Library) -> dict[str, list[Page]]:
    """Return the pages of each procedure in reading order, by its id."""
    return {str(procedure.id): reading_order(procedure) for procedure in library.procedures}


def reading_order(procedure: Procedure) -> list[Page]:
    """Return the procedure, its steps in sequence with each caution before the first step it guards, its aftercare.

    Only what the outputs show: a step outside the sequence and a caution that guards no step are left out.
    """
    found: list[Page] = [procedure]
    seen: set[str] = set()
    guarding = _guarding(procedure)
    for entry in procedure.entries:
        step = procedure.steps.get(entry.step) if isinstance(entry, StepEntry) else None
        if step is None or step.file in seen:
            continue
        for caution in guarding.get(step.id, ()):
            if caution.file not in seen:
                seen.add(caution.file)
                found.append(caution)
        seen.add(step.file)
        found.append(step)
    found.extend(procedure.aftercare_items.values())
    return found


def _guarding(procedure: Procedure) -> dict[str, list[Caution]]:
    """Return the cautions of each step: those that it names, and those that name it."""
    names: dict[str, dict[str, None]] = {
        str(id): dict.fromkeys(map(str, step.cautions)) for id, step in procedure.steps.items()
    }
    for id, caution in procedure.cautions.items():
        for guarded in caution.guards:
            names.setdefault(str(guarded), {})[str(id)] = None
    known = procedure.cautions
    return {step: [known[name] for name in named if name in known] for step, named in names.items() if named}


@once_per_library
def every_aftercare(library: Library) -> tuple[Aftercare, ...]:
    """Return every item of aftercare once, those that procedures share too."""
    return tuple(page for _, page in pages(library) if isinstance(page, Aftercare))


@once_per_department
def withdrawn(library: Library) -> frozenset[str]:
    """Return the ids of the procedures that were withdrawn."""
    return frozenset(str(one.id) for one in library.procedures if one.status is Status.WITHDRAWN)

"""The entries of the catalogues that a department deals with: its own, and the common ones that its pages name."""

from collections.abc import Iterator

from builder.facts.remembered import once_per_department, once_per_library
from builder.facts.walk import doses, figures, pages
from builder.model.library import Library
from builder.model.pages import Item, Structure
from builder.place import Text


@once_per_department
def structures_named(library: Library) -> tuple[Structure, ...]:
    """Return the structures of the department, then those of the common catalogue that a page of it names."""
    found = {str(one.id): one for one in library.structures}
    for name in _distinct(library):
        structure = library.structures.find(name)
        if structure is not None:
            found.setdefault(str(structure.id), structure)
    return tuple(found.values())


@once_per_department
def items_named(library: Library) -> tuple[Item, ...]:
    """Return the items of the department, then those of the common catalogue that a page of it names."""
    found = {str(one.id): one for one in library.items}
    for name in _distinct(library):
        item = library.items.find(name)
        if item is not None:
            found.setdefault(str(item.id), item)
    return tuple(found.values())


@once_per_library
def _distinct(library: Library) -> tuple[Text, ...]:
    return tuple(dict.fromkeys(_names(library)))


def _names(library: Library) -> Iterator[Text]:
    for procedure in library.procedures:
        yield from procedure.kit
        for step in procedure.steps.values():
            yield from step.at_risk
            for action in step.actions:
                yield from (*action.objects, *action.using, *filter(None, (action.inside, action.on)))
        for caution in procedure.cautions.values():
            yield from caution.at_risk
    for _, page in pages(library):
        yield from (dose.drug for dose in doses(page))
    for _, figure in figures(library):
        yield from (pointer.structure for pointer in figure.pointers)

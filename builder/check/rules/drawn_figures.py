"""Drawings: all that is in one is shown, and it can be drawn."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.drawings import DrawingFault, faults_of
from builder.model.library import Library
from builder.place import Place


@finds("drawing-loses-something")
def loses_something(library: Library) -> Iterator[Hit]:
    """Yield what is in a drawing and would not be shown."""
    for name, fault in _faults(library):
        if not fault.is_whole:
            yield Hit(Place(name, fault.line, fault.column), f"{fault.what} would not be shown", fault.hint)


@finds("drawing-unusable")
def unusable(library: Library) -> Iterator[Hit]:
    """Yield drawings that cannot be drawn."""
    for name, fault in _faults(library):
        if fault.is_whole:
            message = f"{name.rpartition('/')[2]} cannot be drawn: {fault.what}"
            yield Hit(Place(name, fault.line, fault.column), message, fault.hint)


def _faults(library: Library) -> Iterator[tuple[str, DrawingFault]]:
    for procedure in library.procedures:
        for file in dict.fromkeys(str(figure.file) for figure in procedure.figures):
            name = f"content/procedures/{procedure.id}/figures/{file}"
            if file.endswith(".svg") and name in library.texts:
                yield from ((name, fault) for fault in faults_of(library.texts[name]))

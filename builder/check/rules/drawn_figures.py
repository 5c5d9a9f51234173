"""Drawings: all that is in one is shown, and it can be drawn."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.drawings import DrawingFault, faults_of
from builder.facts.drawn_ground import ground_of
from builder.model.library import Library
from builder.place import Place


@finds("drawing-loses-something", piecewise=True)
def loses_something(library: Library) -> Iterator[Hit]:
    """Yield what is in a drawing and would not be shown."""
    for name, fault in _faults(library):
        if not fault.is_whole:
            yield Hit(Place(name, fault.line, fault.column), f"{fault.what} would not be shown", fault.hint)
    for name in _drawings(library):
        ground = ground_of(library.texts[name])
        for line, column in ground.outside if ground else ():
            message = "a shape outside the frame of the drawing would not be shown"
            yield Hit(Place(name, line, column), message, "Delete it, move it into the frame, or widen viewBox.")


@finds("drawing-unusable", piecewise=True)
def unusable(library: Library) -> Iterator[Hit]:
    """Yield drawings that cannot be drawn."""
    for name, fault in _faults(library):
        if fault.is_whole:
            message = f"{name.rpartition('/')[2]} cannot be drawn: {fault.what}"
            yield Hit(Place(name, fault.line, fault.column), message, fault.hint)


@finds("pointer-at-nothing", piecewise=True)
def pointers_at_nothing(library: Library) -> Iterator[Hit]:
    """Yield pointers to where a drawing has nothing at all, as when it was moved under them."""
    for procedure in library.procedures:
        for figure in procedure.figures:
            drawing = library.texts.get(f"content/procedures/{procedure.id}/figures/{figure.file}", "")
            ground = ground_of(drawing) if drawing and figure.pointers else None
            if ground is None:
                continue
            for pointer in figure.pointers:
                across, down = pointer.spot
                if not ground.has_at(float(across), float(down)):
                    message = f"{across}, {down} points at nothing that {figure.file} draws: {pointer.structure}"
                    hint = "Move the pointer to what it names, or the drawing back to where it was."
                    yield Hit(pointer.structure.at, message, hint)


def _faults(library: Library) -> Iterator[tuple[str, DrawingFault]]:
    return ((name, fault) for name in _drawings(library) for fault in faults_of(library.texts[name]))


def _drawings(library: Library) -> Iterator[str]:
    for procedure in library.procedures:
        files = dict.fromkeys(
            f"content/procedures/{procedure.id}/figures/{figure.file}" for figure in procedure.figures
        )
        yield from (name for name in files if name.endswith(".svg") and name in library.texts)

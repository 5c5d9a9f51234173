"""Pictures of a step: put on it, cropped, with pointers; each change of one is made in the step's page."""

from collections.abc import Mapping

from builder.draft.told_desk import Desk
from builder.edit.file_change import CannotEdit, Value
from builder.edit.forms.form_files import FormEdit

Area = tuple[float, float, float, float]
"""Left, top, right and bottom, in per cent of the picture."""
WHOLE: Area = (0.0, 0.0, 100.0, 100.0)
_SAID = ("alt", "caption", "credit", "consent")
_ASKED = {
    "alt": ("it was not said what the picture shows", "Write it in a sentence, for whoever cannot see it."),
    "credit": ("it was not said whose picture it is", "Write who took or drew it."),
    "consent": ("it was not said whether the patient agreed", "Choose a consent, or that nobody can be recognised."),
}


def figures_of(desk: Desk, page: str) -> list[dict[str, Value]]:
    """Return the figures of ``page``, whether one is written there or a list of them."""
    held = desk.data(page).get("figure")
    return [dict(one) for one in (held if isinstance(held, list) else [held]) if isinstance(one, dict)]


def picture_added(desk: Desk, page: str, picture: bytes, said: Mapping[str, str]) -> FormEdit:
    """Put ``picture``, clean of all but its points, on the step ``page``, with what was ``said`` of it."""
    words = _words(said)
    name = desk.new_picture(picture)
    _write(desk, page, [*figures_of(desk, page), {"file": name, **words}])
    return desk.done("A picture put on a step", [page])


def picture_described(desk: Desk, page: str, number: int, said: Mapping[str, str]) -> FormEdit:
    """Have picture ``number`` of ``page`` say what was ``said``."""
    figures = _figures(desk, page, number)
    rest = {key: value for key, value in figures[number].items() if key not in _SAID}
    figures[number] = {"file": rest.pop("file"), **_words(said), **rest}
    _write(desk, page, figures)
    return desk.done("A picture described", [page])


def picture_cropped(desk: Desk, page: str, number: int, area: Area) -> FormEdit:
    """Show ``area`` of picture ``number`` alone; its pointers stay on what they point to."""
    left, top, right, bottom = (round(min(max(side, 0.0), 100.0), 1) for side in area)
    if right - left < 1 or bottom - top < 1:
        raise CannotEdit("this leaves nothing of the picture", "Draw a larger part.")
    figures = _figures(desk, page, number)
    figure = figures[number]
    old = area_of(figure)
    moved = [_moved(pointer, old, (left, top, right, bottom)) for pointer in pointers_of(figure)]
    figure.pop("crop", None)
    if (left, top, right, bottom) != WHOLE:
        figure["crop"] = [f"{side:g}" for side in (left, top, right, bottom)]
    figures[number] = {**figure, **({"pointers": moved} if moved else {})}  # type: ignore[dict-item]
    _write(desk, page, figures)
    return desk.done("A picture cropped", [page])


def pointer_set(desk: Desk, page: str, number: int, spot: tuple[float, float], structure: str) -> FormEdit:
    """Have a pointer on picture ``number`` show ``structure`` at ``spot``; where it has one, that one moves."""
    if not structure:
        raise CannotEdit("it was not said what lies there", "Choose the structure, then set the pointer.")
    if not all(0 <= at <= 100 for at in spot):
        raise CannotEdit("this place is not on the picture", "Give it in per cent, from 0 to 100.")
    figures = _figures(desk, page, number)
    pointer: dict[str, Value] = {"at": [f"{round(at, 1):g}" for at in spot], "structure": structure}
    held = pointers_of(figures[number])
    names = [one.get("structure") for one in held]
    if structure in names:
        held[names.index(structure)] = pointer
    else:
        held.append(pointer)
    figures[number]["pointers"] = held  # type: ignore[assignment]  # a list of mappings is a Value
    _write(desk, page, figures)
    return desk.done(f"Pointer set: {structure}", [page])


def pointer_dropped(desk: Desk, page: str, number: int, pointer: int) -> FormEdit:
    """Take a pointer out of picture ``number``."""
    figures = _figures(desk, page, number)
    held = [one for at, one in enumerate(pointers_of(figures[number])) if at != pointer]
    figures[number] = {key: value for key, value in figures[number].items() if key != "pointers"}
    if held:
        figures[number]["pointers"] = held  # type: ignore[assignment]
    _write(desk, page, figures)
    return desk.done("A pointer taken out", [page])


def picture_dropped(desk: Desk, page: str, number: int) -> FormEdit:
    """Take picture ``number`` off the step ``page``."""
    figures = _figures(desk, page, number)
    _write(desk, page, [one for at, one in enumerate(figures) if at != number])
    return desk.done("A picture taken off a step", [page])


def area_of(figure: Mapping[str, Value]) -> Area:
    """Return what of a picture is shown."""
    crop = figure.get("crop")
    sides = tuple(float(str(side)) for side in crop) if isinstance(crop, list) else WHOLE
    return (sides[0], sides[1], sides[2], sides[3]) if len(sides) == 4 else WHOLE


def pointers_of(figure: Mapping[str, Value]) -> list[dict[str, Value]]:
    """Return the pointers of a figure."""
    held = figure.get("pointers")
    return [dict(one) for one in held if isinstance(one, dict)] if isinstance(held, list) else []


def _moved(pointer: dict[str, Value], old: Area, new: Area) -> dict[str, Value]:
    """Return ``pointer`` counted from the part ``new``. Raises CannotEdit where it lies outside."""
    at = pointer.get("at")
    spot = [float(str(one)) for one in at] if isinstance(at, list) else [0.0, 0.0]
    moved = []
    for axis in (0, 1):
        on_whole = old[axis] + spot[axis] * (old[axis + 2] - old[axis]) / 100
        moved.append(round((on_whole - new[axis]) * 100 / (new[axis + 2] - new[axis]), 1))
    if not all(0 <= one <= 100 for one in moved):
        raise CannotEdit(f"the pointer on the {pointer.get('structure')} would lie outside", "Draw a larger part.")
    return {**pointer, "at": [f"{one:g}" for one in moved]}


def _words(said: Mapping[str, str]) -> dict[str, Value]:
    words: dict[str, Value] = {key: text for key in _SAID if (text := " ".join(said.get(key, "").split()))}
    for key, (reason, hint) in _ASKED.items():
        if key not in words:
            raise CannotEdit(reason, hint)
    return words


def _figures(desk: Desk, page: str, number: int) -> list[dict[str, Value]]:
    figures = figures_of(desk, page)
    if not 0 <= number < len(figures):
        raise CannotEdit("this picture is not there any more", "Load the page again.")
    return figures


def _write(desk: Desk, page: str, figures: list[dict[str, Value]]) -> None:
    desk.put(page, "figure", figures)  # type: ignore[arg-type]  # a list of mappings is a Value

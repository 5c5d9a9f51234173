"""Sides: on which side an action is done, from what is written, from the procedure and from the anatomy.

The concrete sides are one letter each, so that facts of both sides are kept apart:

- ``L``, ``R``  left and right
- ``O``, ``X``  in a procedure for either side: the operated side and the other one
- ``M``         no side: a structure of which there is one, an item laid down without a side
"""

from builder.model.action import Side

Sides = tuple[str, ...]

NO_SIDE: Sides = ("M",)
_DEFAULT: dict[Side, Sides] = {
    Side.LEFT: ("L",),
    Side.RIGHT: ("R",),
    Side.BOTH: ("L", "R"),
    # In a procedure in the midline a paired structure is met on both sides unless one is stated.
    Side.MIDLINE: ("L", "R"),
    Side.EITHER: ("O",),
}
WORDS = {"L": "on the left", "R": "on the right", "O": "on the operated side", "X": "on the other side", "M": ""}


def of_structure(paired: bool, stated: Side | None, procedure: Side) -> Sides:
    """Return the sides on which an action on a structure is done.

    An unpaired structure has no side. ``stated`` is the action's own side; without one the procedure's holds. In a
    procedure for either side a fixed left or right is taken for the operated side (``fixed_too_early`` finds it).
    """
    if not paired:
        return NO_SIDE
    if stated is None or stated is Side.MIDLINE:
        return _DEFAULT[Side.MIDLINE] if stated else _DEFAULT[procedure]
    if procedure is Side.EITHER:
        return ("O", "X") if stated is Side.BOTH else ("O",)
    return _DEFAULT[stated]


def of_item(target_paired: bool, stated: Side | None, procedure: Side) -> Sides:
    """Return the sides on which an item is placed or taken out; ``target_paired``: in or on a paired structure."""
    if stated is Side.MIDLINE:
        return NO_SIDE
    return of_structure(target_paired or stated is not None, stated, procedure)


def of_neighbour(paired: bool, near_paired: bool, side: str, stated: Side | None, procedure: Side) -> Sides:
    """Return on which sides an action on a structure on ``side`` meets a neighbour: there, where both are paired."""
    return (side,) if paired and near_paired else of_structure(near_paired, stated, procedure)


def fixed_too_early(stated: Side | None, procedure: Side) -> bool:
    """Tell whether left or right is stated where the side is chosen for the patient.

    The other side than that of a procedure on one side is a finding of its own (figure-on-other-side).
    """
    return procedure is Side.EITHER and stated in (Side.LEFT, Side.RIGHT)

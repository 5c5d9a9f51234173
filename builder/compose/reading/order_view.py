"""The order of the steps, to be changed: the map of the operation, and below it each step on its way."""

from dataclasses import dataclass

from builder.compose.map.map_drawing import draw
from builder.compose.map.map_view import map_of
from builder.compose.view.outline import Block, outline, step_blocks
from builder.model.library import Library
from builder.model.pages import Procedure


@dataclass(frozen=True, slots=True)
class OrderView:
    """The screen: the ``map`` as a drawing, the ``blocks`` in order, and each step's page with its number and title."""

    map: str
    blocks: tuple[Block, ...]
    choices: tuple[tuple[str, str], ...]
    home: str


def order_of(library: Library, procedure: Procedure) -> OrderView:
    """Return the order of the steps of ``procedure``."""
    blocks = outline(procedure)
    home = f"content/procedures/{procedure.id}/"
    steps = [block for block in step_blocks(blocks) if block.turn == 1]
    choices = tuple((str(one.step.file).removeprefix(home), f"{one.number}. {one.step.title}") for one in steps)
    drawn = draw(map_of(library, procedure), str(procedure.title)).svg if steps else ""
    return OrderView(drawn, blocks, choices, home)

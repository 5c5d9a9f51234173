"""A figure with numbered pointers."""

from pathlib import PurePosixPath
from typing import Annotated

from pydantic import Field

from builder.model.action import Side
from builder.model.fields import Node, Number
from builder.place import Text

Percent = Annotated[Number, Field(ge=0, le=100)]


class Pointer(Node):
    """A numbered mark at ``spot`` (``at``: per cent of the figure's width and height) on a ``structure``."""

    spot: tuple[Percent, Percent] = Field(alias="at")
    structure: Text


class Figure(Node):
    """A picture in the procedure's folder ``figures/``, what it shows (``alt``), whose it is and on what consent.

    ``crop`` is the part of a photograph that is shown: left, top, right and bottom in per cent of its width and height.
    What lies outside is cut away for real; pointers count from the part that is shown.
    ``alt``, ``credit`` and ``consent`` may be missing in the model, so that a check can say why they are needed.
    """

    file: Text
    alt: Text | None = None
    caption: Text | None = None
    pointers: tuple[Pointer, ...] = ()
    credit: Text | None = None
    consent: Text | None = None
    side: Side | None = None
    crop: tuple[Percent, Percent, Percent, Percent] | None = None

    @property
    def id(self) -> str:
        """The file's name without its ending: what a link ``figure:id`` names."""
        return PurePosixPath(self.file).stem

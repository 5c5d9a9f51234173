"""A dose as the educator states it. Tables are worked out from it, never typed by hand."""

from pydantic import Field

from builder.model.citation import Evidence
from builder.model.fields import Label, Node, Number
from builder.place import Text


class Band(Node):
    """The ``amount`` for body weights ``start`` to ``end`` in whole kilograms, both included (``from``, ``to``)."""

    start: Number = Field(alias="from")
    end: Number = Field(alias="to")
    amount: Text


class Dose(Node):
    """A drug (an item of the catalogue), how strong, how much, how often, and what backs it.

    ``amount`` is a fixed dose, ``per_weight`` a ceiling for each kilogram (``3 mg/kg``), ``cap`` the most whatever the
    weight, ``weights`` the rows of the table in kilograms, ``draw_up`` the smallest volume that can be measured.
    """

    drug: Text
    strength: Label | None = None
    route: Text | None = None
    amount: Text | None = None
    every: Text | None = None
    per_weight: Text | None = None
    cap: Text | None = None
    weights: tuple[Number, ...] = ()
    bands: tuple[Band, ...] = ()
    draw_up: Text | None = None
    not_covered: Text | None = None
    evidence: Evidence = ()
    common_practice: bool = False

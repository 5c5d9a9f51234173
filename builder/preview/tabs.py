"""The ways to look at a procedure, in their order."""

from __future__ import annotations

from dataclasses import dataclass

from builder.preview.outputs import IN_TABS, titled
from builder.preview.workshop import PreviewWorkshop


@dataclass(frozen=True, slots=True)
class Tab:
    """One way to look: its words, its address, and whether it is the one that is shown."""

    title: str
    address: str
    is_it: bool


def tabs_of(workshop: PreviewWorkshop, id: str, shown: str) -> tuple[Tab, ...]:
    """Return the tabs of the procedure ``id``; ``shown`` is the one that is open."""
    ways = [("page", "Page", f"page/{id}"), ("both", "Page and card", f"both/{id}")]
    ways += [(name, titled(name), f"paper/{name}/{id}") for name in IN_TABS]
    ways.append(("papers", "All papers", f"papers/{id}"))
    return tuple(Tab(title, f"{workshop.home}/{address}", name == shown) for name, title, address in ways)

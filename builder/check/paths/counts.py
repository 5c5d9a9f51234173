"""The count: what is counted under which word, and when a count is due.

Each category is an automaton: 0 not yet used, 1 due, 2 counted. Laying down a counted item makes its category due, and
so does closing a cavity (the next count is one of its own). Holding one (``with``) only starts the category: the
instruments that close a layer are in the hands of the team, and the count at the skin finds them.
"""

from __future__ import annotations

from builder.check.paths.facts import Table
from builder.model.catalogue import plain_name
from builder.model.pages import Item, ItemKind

UNUSED, DUE, COUNTED = 0, 1, 2
PLACED = Table(DUE, DUE, DUE)
HELD = Table(DUE, DUE, COUNTED)
COUNT = Table(COUNTED, COUNTED, COUNTED)
MENDED = Table(UNUSED, COUNTED, COUNTED)
CAVITY_CLOSED = Table(UNUSED, DUE, DUE)
WRONG = 1 << DUE

SWABS, PACKS, NEEDLES, BLADES, INSTRUMENTS = "swabs", "packs", "needles", "blades", "instruments"
CATEGORIES = (SWABS, PACKS, NEEDLES, BLADES, INSTRUMENTS)
_OF_KIND = {
    ItemKind.SWAB: SWABS,
    ItemKind.PACK: PACKS,
    ItemKind.NEEDLE: NEEDLES,
    ItemKind.SUTURE: NEEDLES,  # a counted suture is counted by its needle
    ItemKind.BLADE: BLADES,
}
_WORDS: dict[str, tuple[str, ...]] = {
    **{category: (category,) for category in CATEGORIES},
    "sutures": (NEEDLES,),
    "retractors": (INSTRUMENTS,),
    "clips": (INSTRUMENTS,),
}


def category(item: Item) -> str | None:
    """Return the category under which ``item`` is counted, or None where it is not.

    What has no category of its own (a tape, a clip, a retractor) is counted with the instruments.
    """
    return _OF_KIND.get(item.kind, INSTRUMENTS) if item.counted else None


def categories(words: str, item: Item | None) -> tuple[str, ...]:
    """Return the categories that an object of ``count`` means; ``item`` is the item of that name, if there is one."""
    plain = plain_name(words)
    found = _WORDS.get(plain) or _WORDS.get(f"{plain}s")
    if found is None and item is not None:
        own = category(item)
        found = (own,) if own else ()
    return found or ()

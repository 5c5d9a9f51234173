"""The count: what is counted under which word, and when a count is due.

Each category is an automaton: 0 not yet used, 1 due, 2 counted; the same and 3 while a wound is open. Laying down a
counted item makes its category due, and so does closing a cavity (the next count is one of its own). Holding one
(``with``) only starts the category: the instruments that close a layer are in the hands of the team, and the count at
the skin finds them. Opening anything makes a wound, and what is due while it is open is due at the end at the latest:
a count is not got rid of by leaving out the closing.
"""

from builder.facts.automata import Table
from builder.model.catalogue import plain_name
from builder.model.pages import Item, ItemKind

UNUSED, DUE, COUNTED = 0, 1, 2
WOUND = 3
"""What is added to a state while a wound is open."""


def _table(unused: int, due: int, counted: int) -> Table:
    return Table(unused, due, counted, unused + WOUND, due + WOUND, counted + WOUND)


PLACED = _table(DUE, DUE, DUE)
HELD = _table(DUE, DUE, COUNTED)
COUNT = _table(COUNTED, COUNTED, COUNTED)
COUNT_OF_NONE = _table(UNUSED, COUNTED, COUNTED)
"""A count of packs where the kit has none: whoever names them every time owes none until one is used."""
MENDED = _table(UNUSED, COUNTED, COUNTED)
CAVITY_CLOSED = _table(UNUSED, DUE, DUE)
OPENED = Table(*(state % WOUND + WOUND for state in range(2 * WOUND)))
WOUND_CLOSED = Table(*(state % WOUND for state in range(2 * WOUND)))
WRONG = 1 << DUE | 1 << DUE + WOUND
WRONG_AT_END = 1 << DUE + WOUND


def makes_due(before: int, after: int) -> bool:
    """Tell whether a count became due by a move of its automaton."""
    return after % WOUND == DUE and before % WOUND != DUE


SWABS, PACKS, NEEDLES, BLADES, INSTRUMENTS = "swabs", "packs", "needles", "blades", "instruments"
CATEGORIES = (SWABS, PACKS, NEEDLES, BLADES, INSTRUMENTS)
_OF_KIND = {
    ItemKind.SWAB: SWABS,
    ItemKind.PACK: PACKS,
    ItemKind.NEEDLE: NEEDLES,
    ItemKind.SUTURE: NEEDLES,  # a counted suture is counted by its needle
    ItemKind.BLADE: BLADES,
}
_INSTRUMENTS = "retractors clips clamps bulldogs forceps scissors trocars hooks slings loops tapes mosquitos"
_WORDS: dict[str, tuple[str, ...]] = {
    **{category: (category,) for category in CATEGORIES},
    "sutures": (NEEDLES,),
    **dict.fromkeys(_INSTRUMENTS.split(), (INSTRUMENTS,)),
}
# Counted in any theatre, whether or not the catalogue lists one: instruments, sponges and needles are the counts of the
# WHO surgical safety checklist (2009, sign out); the other words are common practice.
ALWAYS_COUNTED = frozenset(_WORDS)


def category(item: Item) -> str | None:
    """Return the category under which ``item`` is counted, or None where it is not.

    What has no category of its own (a tape, a clip, a retractor) is counted with the instruments.
    """
    return of_kind(item) if item.counted else None


def of_kind(item: Item) -> str:
    """Return the category that things such as ``item`` have, counted or not."""
    return _OF_KIND.get(item.kind, INSTRUMENTS)


def categories(words: str, item: Item | None) -> tuple[str, ...]:
    """Return the categories that an object of ``count`` means; ``item`` is the item of that name, if there is one."""
    plain = plain_name(words)
    found = _WORDS.get(plain) or _WORDS.get(f"{plain}s")
    if found is None and item is not None:
        own = category(item)
        found = (own,) if own else ()
    return found or ()

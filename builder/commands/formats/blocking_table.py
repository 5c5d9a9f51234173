"""What each finding blocks, as a table made of the register."""

from builder.findings.register import FAMILIES, REGISTER, Family

_HEAD = """What each finding blocks. What blocks a draft blocks review, an approval and an issue too, and so on.
A department may accept a finding of its own pages, with a reason (`accept:`).
"""


def blocking_table() -> str:
    """Return every finding with its severity and what it blocks, by family."""
    return _HEAD + "".join(f"\n{family.name}\n{_rows(family)}" for family in FAMILIES)


def _rows(family: Family) -> str:
    kinds = [kind for kind in REGISTER.values() if kind.family is family]
    widest = max(len(name) for name in REGISTER)
    return "".join(
        f"  {kind.name:<{widest}}  {kind.severity.value:<7}  blocks {kind.blocks.value}{_but(kind.but)}\n"
        for kind in kinds
    )


def _but(words: str) -> str:
    return f"; {words}" if words else ""

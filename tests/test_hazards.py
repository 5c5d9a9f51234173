"""Every guard and every proof that the hazard log names exists."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
LOG = (ROOT / "SECURITY.md").read_text(encoding="utf-8")
ROWS = [[cell.strip() for cell in line.strip("|").split("|")] for line in LOG.splitlines() if line.startswith("| ")][1:]
SLIPS = (
    "| nothing | nobody | `builder/gone.py` `a` | `tests/test_hazards.py` |",
    "| nothing | nobody | `builder/cli.py` `gone` | `tests/test_hazards.py` |",
    "| nothing | nobody | `builder/cli.py` | `tests/gone.py` |",
)


def missing(guard: str, proof: str) -> list[str]:
    """Return what of a row does not exist."""
    module, *names = re.findall(r"`([^`]+)`", guard)
    source = (ROOT / module).read_text(encoding="utf-8") if (ROOT / module).is_file() else ""
    lost = [name for name in names if not re.search(rf"^ *(def|class) {name}\b", source, re.MULTILINE)]
    [test] = re.findall(r"`([^`]+)`", proof)
    has_test = (ROOT / test).is_file() and "\ndef test_" in (ROOT / test).read_text(encoding="utf-8")
    return [*([] if source else [module]), *lost, *([] if has_test else [test])]


def test_every_guard_and_every_proof_exists() -> None:
    assert len(ROWS) > 20
    assert {hazard: lost for hazard, _, guard, proof in ROWS if (lost := missing(guard, proof))} == {}
    assert all(who in ("patient", "reader", "department") for _, who, _, _ in ROWS)


def test_what_is_gone_is_noticed() -> None:
    for row in SLIPS:
        _, _, guard, proof = (cell.strip() for cell in row.strip("|").split("|"))
        assert missing(guard, proof), row

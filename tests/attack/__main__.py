"""``python tests/attack``: hostile drawings and ways to write a person, by class: how many were tried and are held."""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from pathlib import Path

sys.path += [str(Path(__file__).parents[depth]) for depth in (0, 1, 2)]

from hostile_drawings import drawings, fails
from written_persons import is_found, ways

rows: dict[str, Counter[bool]] = defaultdict(Counter)
for kind, ones in drawings().items():
    rows[f"drawing: {kind}"].update(not fails(one) for one in ones)
for kind, carrier, line in ways("errors"):
    rows[f"person: {kind}"][is_found(carrier, line)] += 1
    rows[f"person in: {carrier}"][is_found(carrier, line)] += 1
for _, carrier, line in ways("innocent"):
    rows["look-alike left alone"][not is_found(carrier, line)] += 1
sys.stdout.writelines(f"{name:40} {row[True]:4} of {row.total():4}\n" for name, row in rows.items())
sys.exit(any(row[False] for row in rows.values()))

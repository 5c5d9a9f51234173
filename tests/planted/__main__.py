"""``python tests/planted``: the table of errors planted into the demonstration modules."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from planted.results import demo, found_in, run, shown

library = demo()
table = run(library, found_in(library))
sys.stdout.writelines(f"{line}\n" for line in shown(table))
sys.exit(0 if table.caught >= 0.95 * table.planted and not table.false_alarms else 1)

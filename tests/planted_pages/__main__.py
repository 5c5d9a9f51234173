"""``python tests/planted_pages``: what was caught, missed and a false alarm."""

from __future__ import annotations

import sys
from pathlib import Path

# By path, because an installed package may be called `tests` too.
sys.path.insert(0, str(Path(__file__).parent.parent))

from planted_pages.run import results, table

sys.stdout.write(table(results()) + "\n")

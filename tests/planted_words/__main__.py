"""``python tests/planted_words``: what was caught, missed and a false alarm in the demonstration modules."""

from __future__ import annotations

import sys
from pathlib import Path

# By path, because an installed package may be called `tests` too.
sys.path.insert(0, str(Path(__file__).parent.parent))

from planted_words.run import edits, results, table, wrong_edits

wrong = wrong_edits()
sys.stdout.write(table(results()) + "\n")
sys.stdout.write("\n".join((f"edits: {len(wrong)} of {len(edits())} wrong", *wrong)) + "\n")

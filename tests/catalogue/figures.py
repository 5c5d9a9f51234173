"""``python tests/catalogue/figures.py``: how many structures, items and relations the common catalogue has, by kind.

With a number it draws so many relations at random, always the same, each with its source and the passage that was read,
to be checked by a reader.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from builder.load.common_files import FOLDER, common_rows


def figures() -> Iterator[str]:
    """Yield the figures as lines: a region a line with its kinds, then items, drugs, terms and relations."""
    for path in sorted(FOLDER.glob("structures-*.json")):
        yield _line(path.stem.removeprefix("structures-"), list(common_rows(path.name)), "kind")
    for what, key in (("items", "kind"), ("drugs", ""), ("terms", ""), ("relations", "how")):
        yield _line(what, list(common_rows(f"{what}.json")), key)
    read = sum("source" in row for row in common_rows("relations.json"))
    yield f"relations with a passage that was read: {read}; the others are common practice and never block"


def _line(what: str, rows: list[dict[str, object]], key: str) -> str:
    kinds = Counter(str(row[key]) for row in rows) if key else Counter[str]()
    return f"{what}: {len(rows)}" + "".join(f", {kind} {count}" for kind, count in kinds.most_common())


def drawn(many: int) -> Iterator[str]:
    """Yield ``many`` relations that rest on a passage, each with that passage."""
    read = [row for row in common_rows("relations.json") if "source" in row and "words" in row]
    for number, row in enumerate(random.Random(14).sample(read, many), start=1):
        source = ", ".join(str(part) for part in row["source"].values())
        yield f"{number}. {row['of']} | {row['how']} | {row['close_to']}\n   {source}\n   {row['words']}"


if __name__ == "__main__":
    told = drawn(int(sys.argv[1])) if sys.argv[1:] else figures()
    sys.stdout.writelines(f"{line}\n" for line in told)

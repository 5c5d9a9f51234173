"""``python tests/drafts``: the table of drafts from sources of our own; ``--held-out`` adds those that were held out.

``--details`` names each step that was missed, each action that is wrong and each sentence that is lost.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from drafts.results import Result, result, sources, table


def shown(folder: str) -> list[Result]:
    found = [result(path) for path in sources(folder)]
    sys.stdout.writelines(f"{line}\n" for line in table(found))
    if "--details" in sys.argv:
        for one in found:
            for kind in ("missed", "wrong", "lost"):
                sys.stdout.writelines(f"{one.name}: {kind}: {line}\n" for line in getattr(one, kind))
    return found


ours = shown("sources")
if "--held-out" in sys.argv:
    sys.stdout.write("\nheld out\n")
    shown("held_out")
enough = sum(one.found for one in ours) >= 0.95 * sum(one.steps for one in ours)
sys.exit(0 if enough and not any(one.lost for one in ours) else 1)

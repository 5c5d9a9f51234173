"""``python tests/drafts``: the table of drafts from the sources here and from those that were held out."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent.parent.parent), str(Path(__file__).parent.parent)]

from drafts.results import result, sources, table

ours = [result(path) for path in sources("sources")]
sys.stdout.writelines(f"{line}\n" for line in table(ours))
if "--details" in sys.argv:
    for one in ours:
        for kind in ("missed", "wrong", "lost"):
            sys.stdout.writelines(f"{one.name}: {kind}: {line}\n" for line in getattr(one, kind))
if "--held-out" in sys.argv:
    held = [result(path) for path in sources("held_out")]
    sys.stdout.write("\nheld out\n")
    sys.stdout.writelines(f"{line}\n" for line in table(held))
    if "--details" in sys.argv:
        for one in held:
            for kind in ("missed", "wrong", "lost"):
                sys.stdout.writelines(f"{one.name}: {kind}: {line}\n" for line in getattr(one, kind))
steps, found = sum(one.steps for one in ours), sum(one.found for one in ours)
sys.exit(0 if found >= 0.95 * steps and not any(one.lost for one in ours) else 1)

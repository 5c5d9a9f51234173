"""How long a test waits for what must come about: a limit only for what never does, on however slow a machine."""

from __future__ import annotations

SECONDS = 600

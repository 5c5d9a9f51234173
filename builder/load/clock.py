"""The day: the clock is read here and nowhere else."""

from __future__ import annotations

import contextlib
import os
from datetime import UTC, date, datetime


def this_day() -> date:
    """Return today, or the day of SOURCE_DATE_EPOCH (a convention of reproducible-builds.org)."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    with contextlib.suppress(ValueError, OverflowError, OSError):  # no number, or a year that no calendar has
        return datetime.fromtimestamp(int(epoch), UTC).date()
    return datetime.now().astimezone().date()

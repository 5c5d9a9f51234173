"""The day is input: the clock (or SOURCE_DATE_EPOCH) is read here and nowhere else.

So two publishes of the same input on the same day give the same bytes, and a check can be kept by its day.
"""

import contextlib
import os
from datetime import UTC, date, datetime


def this_day() -> date:
    """Return today, or the day of SOURCE_DATE_EPOCH (a convention of reproducible-builds.org)."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    with contextlib.suppress(ValueError, OverflowError, OSError):  # not a number, or a year outside the calendar
        return datetime.fromtimestamp(int(epoch), UTC).date()
    return datetime.now().astimezone().date()

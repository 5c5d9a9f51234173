"""Ways to publish a department that end badly. They stand apart, so that another process can import them."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable

from builder.model.library import Library
from builder.pipeline import publish
from builder.publish.build_report import Report


def killed_in_the_south(library: Library) -> Callable[..., Report]:
    """Return what publishes a department; the process of one in the south is killed before it can."""
    if library.department.name.startswith("South"):
        os.kill(os.getpid(), signal.SIGKILL)
    return publish

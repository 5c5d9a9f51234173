"""Working out once what several checks ask of the same Library."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from builder.model.library import Library

T = TypeVar("T")


def once_per_library(work: Callable[[Library], T]) -> Callable[[Library], T]:
    """Remember what ``work`` gave for the latest Library. A Library is frozen, so the answer cannot grow stale."""
    latest: list[tuple[weakref.ref[Library], T]] = []

    @wraps(work)
    def remembered(library: Library) -> T:
        for known, answer in latest:
            if known() is library:
                return answer
        answer = work(library)
        latest[:] = [(weakref.ref(library), answer)]
        return answer

    return remembered

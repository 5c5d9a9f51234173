"""Things put together by what they share."""

from collections.abc import Iterable
from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


def grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, list[V]]:
    """Return the second of each pair by the first, both in the order in which they come."""
    groups: dict[K, list[V]] = {}
    for key, value in pairs:
        groups.setdefault(key, []).append(value)
    return groups

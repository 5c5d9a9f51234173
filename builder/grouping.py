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


def word_set(words: str) -> frozenset[str]:
    """Return the words of a list as it is written in a source file: parted by blanks and line ends."""
    return frozenset(words.split())


def by_first(groups: str) -> dict[str, str]:
    """Return by each word of ``groups``, which commas part, the first word of its group."""
    return {word: group.split()[0] for group in groups.split(",") for word in group.split()}


def bare_letters(text: str) -> str:
    """Return the letters and digits of ``text`` alone, small: two texts that agree in them say the same."""
    return "".join(filter(str.isalnum, text.casefold()))

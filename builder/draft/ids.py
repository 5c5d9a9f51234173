"""Ids from titles: small letters, digits and single hyphens, each once."""

from __future__ import annotations

import re
import unicodedata

_SMALL_LIST = """
a an and as at by for from in into is it its of on or the then this that to until with you your we our i so not be
will can if when which through
"""
_SMALL = frozenset(_SMALL_LIST.split())
_MOST_WORDS = 5
_LONGEST = 48
_LONGEST_WHOLE = 60
_APART = {"ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "đ": "d"}


def slug(text: str) -> str:
    """Return ``text`` as an id; "" where it holds no letter or digit of the alphabet."""
    for sign, plain in _APART.items():
        text = text.replace(sign, plain)
    bare = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower().replace("'", "")
    words = re.findall(r"[a-z0-9]+", bare)
    while len("-".join(words)) > _LONGEST_WHOLE and len(words) > 1:
        words.pop()
    return "-".join(words)[:_LONGEST_WHOLE].strip("-")


class Ids:
    """Gives each title an id of its own, from its first words that mean something."""

    def __init__(self) -> None:
        self._used: set[str] = set()

    def new(self, title: str, taken: str = "") -> str:
        """Return an id for ``title`` that was not given before and is not ``taken``."""
        words = [word for word in slug(title).split("-") if word and word not in _SMALL][:_MOST_WORDS]
        id = "-".join(words)[:_LONGEST].strip("-") or slug(title)[:_LONGEST].strip("-") or "part"
        tries = (f"{id}{ending}" for ending in ("", *(f"-{number}" for number in range(2, len(self._used) + 3))))
        found = next(one for one in tries if one not in self._used and one != taken)
        self._used.add(found)
        return found

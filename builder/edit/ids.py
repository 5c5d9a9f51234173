"""Ids from titles: small letters, digits and single hyphens, each once."""

import re
import unicodedata
from collections.abc import Collection

_SMALL_LIST = """
a an and as at by for from in into is it its of on or the then this that to until with you your we our i so not be
will can if when which through
"""
_SMALL = frozenset(_SMALL_LIST.split())
_MOST_WORDS = 5
_LONGEST = 48
_LONGEST_WHOLE = 60
_APART = str.maketrans({"ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "đ": "d"})


def plain_words(text: str) -> list[str]:
    """Return the words of ``text`` in small letters and digits of ASCII."""
    bare = unicodedata.normalize("NFKD", text.translate(_APART)).encode("ascii", "ignore").decode()
    return re.findall(r"[a-z0-9]+", bare.lower().replace("'", ""))


def slug(text: str) -> str:
    """Return ``text`` as an id; "" where it holds no letter or digit of the alphabet."""
    words = plain_words(text)
    while len("-".join(words)) > _LONGEST_WHOLE and len(words) > 1:
        words.pop()
    return "-".join(words)[:_LONGEST_WHOLE].strip("-")


def id_for(title: str, taken: Collection[str], fallback: str = "new") -> str:
    """Return the id of something called ``title``: its words with hyphens, none of ``taken``."""
    words = plain_words(title) or [fallback]
    while len("-".join(words)) > _LONGEST and len(words) > 1:
        words.pop()
    return free("-".join(words)[:_LONGEST], taken)


def free(name: str, taken: Collection[str]) -> str:
    """Return ``name``, with a number behind it where it is ``taken``."""
    tries = (f"{name}{ending}" for ending in ("", *(f"-{number}" for number in range(2, len(taken) + 3))))
    return next(one for one in tries if one not in taken)


class Ids:
    """Gives each title an id of its own, from its first words that mean something."""

    def __init__(self) -> None:
        self._used: set[str] = set()

    def new(self, title: str, taken: str = "") -> str:
        """Return an id for ``title`` that was not given before and is not ``taken``."""
        words = [word for word in slug(title).split("-") if word and word not in _SMALL][:_MOST_WORDS]
        id = "-".join(words)[:_LONGEST].strip("-") or slug(title)[:_LONGEST].strip("-") or "part"
        found = free(id, {*self._used, taken})
        self._used.add(found)
        return found

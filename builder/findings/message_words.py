"""The words of a message: what was written in quotation marks, lists, counted things, near spellings."""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher, get_close_matches
from itertools import zip_longest

_NEAR, _NEAR_WORD = 0.75, 0.7
"""How alike two names, and each two words of them, must be (difflib ratio) before one is offered for the other.

Whole names alone mislead: `close-skin` and `clean-skin` differ by two letters, and by what is done.
"""


def quoted(word: object) -> str:
    """Return ``word`` in quotation marks as it was written; only what no screen shows stands as an escape."""
    shown = "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in str(word))
    mark = '"' if "'" in shown and '"' not in shown else "'"
    return f"{mark}{shown}{mark}"


def capital(text: str) -> str:
    """Return ``text`` with a capital first letter."""
    return text[:1].upper() + text[1:]


def listed(words: Iterable[str], last: str = "and") -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``; "" for no words."""
    *most, end = [str(word) for word in words] or [""]
    return f"{', '.join(most)} {last} {end}" if most else end


def counted(count: int, word: str) -> str:
    """Return ``1 finding`` or ``2 findings``."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def near(word: str, known: Iterable[str]) -> str | None:
    """Return the one of ``known`` that looks most like ``word``, or None where none does."""
    # These take longer to import than a department to check, and only a slip of the pen needs them.
    from rapidfuzz import process  # noqa: PLC0415
    from rapidfuzz.distance import Indel  # noqa: PLC0415

    # What difflib matches is a common subsequence, so it never finds two names more alike than Indel does.
    alike_at_most = Indel.normalized_similarity
    names = map(str, known)
    likely = process.extract(str(word), names, scorer=alike_at_most, score_cutoff=_NEAR - 0.01, limit=None)
    alike = get_close_matches(str(word), [name for name, *_ in likely], n=3, cutoff=_NEAR)
    return next((name for name in alike if _word_by_word(str(word), name)), None)


def _word_by_word(one: str, other: str) -> bool:
    """Tell whether two names of as many words are alike in each of them."""
    pairs = list(zip_longest(_PARTED.split(one.casefold()), _PARTED.split(other.casefold())))
    if any(word is None or twin is None for word, twin in pairs):
        return True
    return all(SequenceMatcher(None, word, twin).ratio() >= _NEAR_WORD for word, twin in pairs)


_PARTED = re.compile(r"[\s_-]+")


def mend(word: str, known: Iterable[str], otherwise: str) -> str:
    """Return a hint: the near spelling of ``word`` if there is one, else ``otherwise``."""
    alike = near(word, known)
    return f"Write `{alike}`." if alike else otherwise


class NearSpelling:
    """Offers near spellings from one large list: each word is looked up once, and of a flood only the first.

    A comparison with thousands of ids takes tens of milliseconds; where hundreds are unknown, a whole file is missing
    and no spelling is at fault.
    """

    MOST = 100

    def __init__(self, known: Iterable[str]) -> None:
        self._known = [str(name) for name in known]
        self._hints: dict[str, str] = {}

    def mend(self, word: str, otherwise: str) -> str:
        """Return a hint as ``mend`` does."""
        if word not in self._hints:
            if len(self._hints) >= self.MOST:
                return otherwise
            self._hints[word] = mend(word, self._known, otherwise)
        return self._hints[word]

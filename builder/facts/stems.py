"""The words of a text that mean something, without their endings, to tell whether two texts are about the same."""

import re
from functools import lru_cache

from builder.facts.clauses import base
from builder.grouping import by_first, word_set

_WORD = re.compile(r"[a-z]{3,}")
_EMPTY = word_set("the and that with from into out its any more has have are was not does will for then")


@lru_cache(maxsize=8192)
def stems(text: str) -> frozenset[str]:
    """Return the words of ``text`` that mean something, each without the ending of a plural or of a verb."""
    return frozenset(map(stem_of, set(_WORD.findall(text.casefold())) - _EMPTY))


@lru_cache(maxsize=8192)
def stem_of(word: str) -> str:
    """Return ``word`` without its ending: ``cutting`` and ``cuts`` are alike."""
    return re.sub(r"(?:ing|es|ed|s)$", "", word) if len(word) > 4 else word.removesuffix("s")


_ALIKE = by_first("""
cut divide transect sever snip, tie ligate, close shut, see identify find locate, fill inflate blow, pass push advance
go, stitch suture sew, lay put place set, take remove, leave keep stay, try tri
""")


@lru_cache(maxsize=8192)
def senses(text: str) -> frozenset[str]:
    """Return the words of ``text`` that mean something as ``stems`` does, one word for all that mean the same deed."""
    return frozenset(map(_sense, set(_WORD.findall(text.casefold())) - _EMPTY))


@lru_cache(maxsize=8192)
def _sense(word: str) -> str:
    plain = base(word) or stem_of(word)
    return _ALIKE.get(plain, plain)

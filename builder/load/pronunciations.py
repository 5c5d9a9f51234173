"""How many syllables a word has: by the pronouncing dictionary of Carnegie Mellon University, else by hyphenation.

Read when first asked for, because only the patient's sheet needs it.
"""

import bz2
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pyphen  # type: ignore[import-untyped]  # publishes no types

_VOWELS = re.compile(r"[aeiouy]+")
_ENTRY = re.compile(r"([A-Z])(\D*)(\d+)")


@cache
def _counts() -> Mapping[str, int]:
    """Return syllables by word; ``tools/pronunciations.py`` says how the table is written."""
    entries = bz2.decompress(Path(__file__).with_suffix(".bz2").read_bytes()).decode("ascii")
    counts, word = {}, ""
    for shared, letters, count in _ENTRY.findall(entries):
        word = word[: ord(shared) - ord("A")] + letters
        counts[word] = int(count)
    return counts


@cache
def _hyphenation() -> pyphen.Pyphen:
    return pyphen.Pyphen(lang="en_GB")


@cache
def syllables(word: str) -> int:
    """Return the syllables of one word, at least 1; parts joined by a hyphen count together.

    A British spelling that the American dictionary lacks is looked up in its American form first.
    """
    low = word.casefold().strip("'’")
    if "-" in low:
        return sum(syllables(part) for part in low.split("-") if part) or 1
    counts = _counts()
    for form in (low.replace("’", "'"), low.replace("'", "").replace("’", ""), _american(low)):
        if form in counts:
            return counts[form]
    if not any(map(str.isalpha, low)):
        return 1
    return max(1, len(_hyphenation().positions(low)) + 1, len(_VOWELS.findall(low)) - low.endswith("e"))


_SPELLINGS = (
    ("aemia", "emia"), ("aem", "em"), ("oed", "ed"), ("our", "or"), ("isation", "ization"), ("ise", "ize"),
    ("centre", "center"), ("litre", "liter"), ("ogue", "og"),
)  # fmt: skip


def _american(word: str) -> str:
    """Return the usual American spelling of a British word."""
    spelt = (word.replace(british, american) for british, american in _SPELLINGS if british in word)
    return next(spelt, word)


def is_word(word: str) -> bool:
    """Tell whether the pronouncing dictionary lists ``word``: then it was probably meant as it is written."""
    low = word.casefold()
    return low in _counts() or _american(low) in _counts()

"""Writes builder/load/pronunciations.bz2: how many syllables each word of the CMU Pronouncing Dictionary has.

The dictionary (https://github.com/cmusphinx/cmudict) is data under a BSD licence, which stands beside the table. Of
each word the first pronunciation counts; a vowel carries a digit for its stress, so its digits are its syllables.

    python tools/pronunciations.py cmudict.dict

Each entry is a capital (how many letters it shares with the word before it: A for none), the letters that follow, and
the number of syllables. Written so and packed, 126,000 words take 204 kB instead of 3.6 MB.
"""

from __future__ import annotations

import bz2
import re
import sys
from pathlib import Path

TABLE = Path(__file__).resolve().parent.parent / "builder" / "load" / "pronunciations.bz2"
_MOST_SHARED = 25  # the letters A to Z


def syllables(dictionary: str) -> dict[str, int]:
    """Return the syllables of each word in the text of the dictionary; a sound without a vowel counts as one."""
    lines = (line.partition("#")[0].split() for line in dictionary.splitlines())
    first = {word: sounds for word, *sounds in filter(None, lines) if not word.endswith(")")}
    return {word: max(1, len(re.findall(r"\d", "".join(sounds)))) for word, sounds in first.items()}


def packed(counts: dict[str, int]) -> bytes:
    """Return the table of ``counts``."""
    entries, before = [], ""
    for word, count in sorted(counts.items()):
        shared = min(_shared(before, word), _MOST_SHARED)
        entries.append(f"{chr(ord('A') + shared)}{word[shared:]}{count}")
        before = word
    return bz2.compress("".join(entries).encode("ascii"))


def _shared(before: str, word: str) -> int:
    return next((at for at in range(len(before)) if before[: at + 1] != word[: at + 1]), len(before))


if __name__ == "__main__":
    TABLE.write_bytes(packed(syllables(Path(sys.argv[1]).read_text(encoding="utf-8"))))

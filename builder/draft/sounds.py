"""How English words sound, roughly, and how much alike two of them sound; enough to find what was misheard.

Our own few rules of spelling (common practice): vowels are all alike, an ``r`` that no vowel follows is not heard, and
consonants that recognisers confuse (``b`` and ``p``, ``m`` and ``n``) are close.
"""

import re
from collections.abc import Iterator
from functools import lru_cache

_SPELT: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), sound)
    for pattern, sound in (
        (r"[^a-z]", ""), (r"^(?:kn|gn|pn)", "n"), (r"^wr", "r"), (r"^ps", "s"), (r"^pt", "t"), (r"^x", "z"),
        (r"rrh|rh", "r"),
        (r"^u(?=[bcdfglmnprst][aeiou])|^eu|^you(?:r|'re|re)?(?=$|[a-z])", "yu"), (r"ph", "f"), (r"ck|cqu", "k"),
        (r"sch", "sk"),
        (r"(?:t|c|s)i(?:o|a)(?=n|l|$)", "Sa"), (r"tu(?=r)", "Ca"), (r"ght", "t"), (r"gh", ""), (r"tch", "C"),
        (r"ch(?=[lr])", "k"),
        (r"ch", "C"), (r"sh", "S"), (r"th", "T"), (r"dge?|j|g(?=[eiy]|ae)", "J"), (r"sc(?=[eiy])|c(?=[eiy]|ae|oe)",
        "s"), (r"ce(?=[^a-z]|$)", "s"),
        (r"qu", "kw"), (r"[cq]", "k"), (r"x", "ks"), (r"mb$", "m"), (r"(?<=[a-z])e$", ""), (r"(?<=[aeiou])r$", "R"),
        (r"(?<=[aeiou])r(?![aeiouy])", ""),
        (r"(?<=[aeiou])[wh](?![aeiou])", ""), (r"(?<=[a-zA-Z])y", "a"), (r"[aeiou]+", "a"), (r"([b-zA-Z])\1+", r"\1"),
    )
)  # fmt: skip
_ALIKE = {
    frozenset(pair): cost
    for cost, pairs in (
        (0.2, "sz kg td pb fv SC JC TS kC sS TD zS JS gJ"),
        (0.35, "mn Tt Td Tf Ts Tv bv lr wr pf sC zC zJ sJ dJ tC yJ wv kt pt kp gd bd nl yr kh"),
    )
    for pair in pairs.split()
}
_WEAK = {
    "a": 0.12,
    "h": 0.25,
    "w": 0.4,
    "y": 0.3,
    "r": 0.45,
    "n": 0.8,
    "l": 0.7,
    "t": 0.75,
    "d": 0.75,
    "s": 0.8,
    "k": 0.9,
}
_CLASS_OF = {
    **dict.fromkeys("bpfvw", "1"), **dict.fromkeys("szSCJ", "2"), **dict.fromkeys("kg", "2"), **dict.fromkeys("Ttd",
    "3"),
    "l": "4", "r": "6", "m": "5", "n": "5", "y": "7", "h": "", "a": "",
}  # fmt: skip


@lru_cache(maxsize=20_000)
def sound(words: str) -> str:
    """Return how ``words`` sound, run together: consonants, and ``a`` for whatever vowels are between them."""
    heard = "".join(_one(word) for word in words.casefold().split())
    heard = re.sub(r"R(?=a)", "r", heard).replace("R", "")
    return re.sub(r"(.)\1+", r"\1", heard)


def _one(word: str) -> str:
    if len(word) == 1:
        return _LETTERS.get(word, "")
    for pattern, spelt in _SPELT:
        word = pattern.sub(spelt, word)
    return word


_LETTERS = {"a": "a", "e": "a", "i": "a", "o": "a", "u": "yu".replace("u", "a")}


def skeleton(heard: str) -> str:
    """Return the classes of the consonants of a sound: equal for sounds that may be taken for each other."""
    return re.sub(r"(.)\1+", r"\1", "".join(_CLASS_OF.get(phone, "") for phone in heard))


def one_less(key: str) -> Iterator[str]:
    """Yield ``key`` and every form of it with one class less."""
    yield key
    for at in range(len(key)):
        yield key[:at] + key[at + 1 :]


@lru_cache(maxsize=50_000)
def likeness(one: str, other: str) -> float:
    """Return how much alike two sounds are: 1 where they are the same, 0 where nothing agrees."""
    row = [0.0]
    for phone in other:
        row.append(row[-1] + _WEAK.get(phone, 1.0))
    for phone in one:
        before, row = row, [row[0] + _WEAK.get(phone, 1.0)]
        for number, against in enumerate(other):
            same = 0.0 if phone == against else _ALIKE.get(frozenset((phone, against)), 1.0)
            swapped = before[number] + same
            if phone == "a" or against == "a":
                swapped = before[number] + (0.0 if phone == against else 1.0)
            row.append(min(swapped, before[number + 1] + _WEAK.get(phone, 1.0), row[number] + _WEAK.get(against, 1.0)))
    weight = max(sum(_WEAK.get(phone, 1.0) for phone in one), sum(_WEAK.get(phone, 1.0) for phone in other), 0.1)
    return 1 - row[-1] / weight

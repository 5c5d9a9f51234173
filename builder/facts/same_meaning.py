"""Whether two wordings of one text say the same: then a change of one into the other is a matter of wording alone.

Only what surely means the same is taken for the same: spelling, case, punctuation, articles, contractions, numbers in
words, and the synonyms below. Every other word, number, sign, negation or order of words is a matter (in doubt it is
matter), for nobody reads a list of what did not change.
"""

import re

from builder.facts.stems import stem_of
from builder.grouping import word_set

_TOKEN = re.compile(r"\d+(?:[.,:/]\d+)*|[^\W\d_]+(?:['’][^\W\d_]+)?|[%<>≤≥±+=°×]|[-–−](?=\d)")
_NOT = re.compile(
    r"(?P<verb>ca|do|does|did|is|are|was|were|has|have|must|should|could|would|need)n['’]t", re.IGNORECASE
)
_EMPTY = word_set("a an the that which please then also just very")
_ALIKE_LIST = """
ensure; make sure; be sure; see to it | use; employ; utilise; utilize | begin; start; commence | about; around; roughly;
approximately | until; till | before; prior to | after; following | if; in case | because; since; as |
every; each | whole; entire | big; large | small; little | quickly; fast; rapidly | show; demonstrate | help; assist |
enough; sufficient; adequate | get; obtain | need; require | give; administer | tell; inform | look at; inspect |
can not; cannot | in order to; to | straight away; immediately; at once | near; close to | doctor; physician |
repeat; do again | end; finish | carefully; with care | gently; with gentleness | firmly; with firmness |
slowly; with slowness | whether; if | per cent; percent; %
"""
_NUMBERS_LIST = """
zero one two three four five six seven eight nine ten eleven twelve
"""
_NUMBERS = {word: str(number) for number, word in enumerate(_NUMBERS_LIST.split())}
# British and American spelling, and hyphens, as patterns on one word: what is left is one form of it.
_SPELLINGS = (
    (re.compile(r"(?<=[a-z])is(?=e|ed|es|ing|ation)"), "iz"),
    (re.compile(r"ae|oe"), "e"),
    (re.compile(r"(?<=[a-z]{2})our(?=$|s$|ed$|ing$|less$)"), "or"),
    (re.compile(r"(?<=[a-z]{2})tre$"), "ter"),
)  # fmt: skip


def same_meaning(one: str, other: str) -> bool:
    """Tell whether ``one`` and ``other`` differ in wording alone."""
    return _plain(one) == _plain(other)


def _plain(text: str) -> list[str]:
    """Return the words, numbers and signs of ``text`` that carry its meaning, each in one form."""
    text = re.sub(r"(?<=[^\W\d_])-(?=[^\W\d_])", " ", text)
    text = _NOT.sub(lambda match: f"{'can' if match['verb'].casefold() == 'ca' else match['verb']} not", text)
    words = [_of_one_word(token) for token in _TOKEN.findall(text.casefold())]
    words = [word for word in words if word not in _EMPTY]
    return _with_synonyms(words)


def _of_one_word(word: str) -> str:
    if not word[0].isalpha():
        return word
    for pattern, form in _SPELLINGS:
        word = pattern.sub(form, word)
    return _NUMBERS.get(word, word)


def _phrases() -> dict[tuple[str, ...], str]:
    """Return what each synonym stands for, by its words; the first of a group stands for all."""
    phrases: dict[tuple[str, ...], str] = {}
    for group in _ALIKE_LIST.split("|"):
        ways = [" ".join(way.split()) for way in group.split(";")]
        for way in ways:
            phrases.setdefault(tuple(_of_one_word(word) for word in way.split()), ways[0])
    return phrases


_PHRASES = _phrases()
_LONGEST = max(map(len, _PHRASES))


def _with_synonyms(words: list[str]) -> list[str]:
    said: list[str] = []
    at = 0
    while at < len(words):
        for length in range(min(_LONGEST, len(words) - at), 0, -1):
            phrase = tuple(words[at : at + length])
            meant = _PHRASES.get(phrase) or (_PHRASES.get((stem_of(phrase[0]),)) if length == 1 else None)
            if meant is not None:
                said.append(meant)
                at += length
                break
        else:
            said.append(words[at])
            at += 1
    return said

"""How hard a text is to read, by the published formulas. Each list item, heading and line ends a sentence.

Flesch R. J Appl Psychol 1948;32:221-33. Kincaid JP et al. Research Branch Report 8-75, 1975. McLaughlin GH. J Reading
1969;12:639-46 (the regression form, which holds for fewer than 30 sentences only roughly). Coleman M, Liau TL. J Appl
Psychol 1975;60:283-4. Coefficients as printed in the table of PMC5890371; the papers themselves were not read.

Of other languages, one formula each: German, Amstad T. Wie verständlich sind unsere Zeitungen? Dissertation, Zürich
1978; French, Kandel L, Moles A. Cahiers d'études de radio-télévision 1958;19:253-74. Coefficients as in the library
textacy (text_stats/readability.py); the works themselves were not read. For Arabic none is as settled.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import sqrt

Syllables = Callable[[str], int]
HARD = 3
"""Syllables from which a word is called hard: the polysyllables of McLaughlin 1969."""

# A word holds a letter or digit; an apostrophe or hyphen may stand inside it, a bare dash is not a word.
_WORD = re.compile(r"[^\W_]+(?:[-'’][^\W_]+)*")
_SENTENCE = re.compile(r"[^.!?\n]+(?:[.!?]+(?![\w])|[.!?]+|\n|$)")
_DECIMAL = re.compile(r"(?<=\d)\.(?=\d)")
_SHORT = re.compile(r"\b(?:e\.g|i\.e|etc|Dr|Mr|Mrs|Ms|St|No|approx)\.", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Counts:
    """What the formulas count: words, sentences, syllables, letters (digits too), words of three syllables or more."""

    words: int
    sentences: int
    syllables: int
    letters: int
    polysyllables: int


@dataclass(frozen=True, slots=True)
class Score:
    """One formula's answer: ``name``, ``value``, and ``grade`` where it is a school grade of the United States."""

    name: str
    value: float
    is_grade: bool


def words_of(text: str) -> list[str]:
    """Return the words of ``text``; a hyphenated word is one."""
    return _WORD.findall(text)


def sentences_of(text: str) -> list[str]:
    """Return the sentences of ``text``; every line end is the end of one."""
    plain = _SHORT.sub(lambda match: match.group().replace(".", ""), _DECIMAL.sub(",", text))
    return [found for match in _SENTENCE.finditer(plain) if _WORD.search(found := match.group())]


def count(texts: Iterable[str], syllables: Syllables) -> Counts:
    """Count ``texts``, each of which ends a sentence."""
    words: list[str] = []
    sentences = 0
    for text in texts:
        words.extend(words_of(text))
        sentences += len(sentences_of(text))
    sizes = [syllables(word) for word in words]
    letters = sum(sum(map(str.isalnum, word)) for word in words)
    return Counts(len(words), sentences, sum(sizes), letters, sum(size >= HARD for size in sizes))


def flesch(counts: Counts) -> float:
    """Return the Flesch Reading Ease: 0 is very hard, 100 very easy."""
    return 206.835 - 1.015 * counts.words / counts.sentences - 84.6 * counts.syllables / counts.words


def flesch_kincaid(counts: Counts) -> float:
    """Return the Flesch-Kincaid grade."""
    return 0.39 * counts.words / counts.sentences + 11.8 * counts.syllables / counts.words - 15.59


def smog(counts: Counts) -> float:
    """Return the SMOG grade by the regression formula."""
    return 1.0430 * sqrt(counts.polysyllables * 30 / counts.sentences) + 3.1291


def coleman_liau(counts: Counts) -> float:
    """Return the Coleman-Liau grade; it counts letters, not syllables."""
    per_hundred = 100 / counts.words
    return 0.0588 * counts.letters * per_hundred - 0.296 * counts.sentences * per_hundred - 15.8


def scores(counts: Counts) -> tuple[Score, ...]:
    """Return what each formula says; empty for a text without words."""
    if not counts.words or not counts.sentences:
        return ()
    return (
        Score("Flesch Reading Ease", flesch(counts), is_grade=False),
        Score("Flesch-Kincaid", flesch_kincaid(counts), is_grade=True),
        Score("SMOG", smog(counts), is_grade=True),
        Score("Coleman-Liau", coleman_liau(counts), is_grade=True),
    )


_EASE = {"de": ("Flesch, adapted by Amstad", 180.0, 1.0, 58.5), "fr": ("Kandel-Moles", 207.0, 1.015, 73.6)}
"""By language: the name, and the coefficients of the constant, of words in a sentence, and of syllables in a word."""
_MUTE = re.compile(r"(?<=\w)es?$")
_SYLLABLE = {
    "de": re.compile(r"au|ei|ai|eu|äu|ie|aa|ee|oo|(?<!q)u|[aeioyäöü]"),
    "fr": re.compile(r"(?<!q)u[aeiouyàâéèêëîïôùûœ]*|[aeioyàâéèêëîïôùûœ][aeiouyàâéèêëîïôùûœ]*"),
}


def ease_in(language: str, texts: Iterable[str]) -> Score | None:
    """Return how easy ``texts`` are to read by the formula of ``language``, such as ``de``, where one is known: 0 is
    very hard, 100 very easy. Syllables are counted by their vowels."""
    if language not in _EASE:
        return None
    name, constant, by_sentence, by_word = _EASE[language]
    counts = count(texts, lambda word: _syllables(language, word))
    if not counts.words:
        return None
    value = constant - by_sentence * counts.words / counts.sentences - by_word * counts.syllables / counts.words
    return Score(name, value, is_grade=False)


def _syllables(language: str, word: str) -> int:
    low = word.casefold()
    return len(_SYLLABLE[language].findall(_MUTE.sub("", low) if language == "fr" else low)) or 1


def hard_words(texts: Iterable[str], syllables: Syllables) -> tuple[tuple[str, int], ...]:
    """Return each hard word with how often it stands, the most frequent first, then by alphabet."""
    found = Counter(word.casefold() for text in texts for word in words_of(text) if syllables(word) >= HARD)
    return tuple(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))

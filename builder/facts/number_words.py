"""The numbers that a sentence says, in digits or in words, so that a translation can be held against its original.

Numbers in words are known in the languages of ``LANGUAGES``; of any other only digits are compared. "One" is left out
wherever it is a word, because it is also an article.
"""

import re
import unicodedata
from collections import Counter
from functools import cache

_DIGITS = re.compile(
    r"(?P<number>\d+(?:[.,]\d+)*)(?:[ \u00a0]?(?P<unit>mcg|[mkµμ]?g|m[lL]|[lL]|[cm]m|°C|%)(?![^\W\d_]))?"
)

_WORDS = {
    "en": """two=2 both=2 twice=2 three=3 four=4 five=5 six=6 seven=7 eight=8 nine=9 ten=10 eleven=11 twelve=12
        thirteen=13 fourteen=14 fifteen=15 sixteen=16 seventeen=17 eighteen=18 nineteen=19 twenty=20 thirty=30
        forty=40 fifty=50 sixty=60 seventy=70 eighty=80 ninety=90 hundred=100""",
    "de": """zwei=2 beide=2 beiden=2 beider=2 drei=3 vier=4 fünf=5 sechs=6 sieben=7 acht=8 neun=9 zehn=10 elf=11
        zwölf=12 dreizehn=13 vierzehn=14
        fünfzehn=15 sechzehn=16 siebzehn=17 achtzehn=18 neunzehn=19 zwanzig=20 dreißig=30 vierzig=40 fünfzig=50
        sechzig=60 siebzig=70 achtzig=80 neunzig=90 hundert=100""",
    "fr": """deux=2 trois=3 quatre=4 cinq=5 six=6 sept=7 huit=8 neuf=9 dix=10 onze=11 douze=12 treize=13 quatorze=14
        quinze=15 seize=16 dix-sept=17 dix-huit=18 dix-neuf=19 vingt=20 trente=30 quarante=40 cinquante=50
        soixante=60 soixante-dix=70 quatre-vingts=80 quatre-vingt-dix=90 cent=100""",
    # Arabic counts two of a thing by an ending of its own.
    "ar": """كلتا=2 كلتي=2 اثنان=2 اثنين=2 اثنتان=2 اثنتين=2 مرتين=2 يومين=2 يومان=2 ساعتين=2 ساعتان=2 دقيقتين=2
        دقيقتان=2
        أسبوعين=2 أسبوعان=2 شهرين=2 شهران=2 ثلاث=3 ثلاثة=3 أربع=4 أربعة=4 خمس=5 خمسة=5 ست=6 ستة=6 سبع=7 سبعة=7
        ثماني=8 ثمانية=8 ثمان=8 تسع=9 تسعة=9 عشر=10 عشرة=10 عشرين=20 عشرون=20 ثلاثين=30 ثلاثون=30 أربعين=40
        أربعون=40 خمسين=50 خمسون=50 ستين=60 ستون=60 مئة=100 مائة=100 اثنا_عشر=12 اثني_عشر=12 اثنتا_عشرة=12
        اثنتي_عشرة=12 ثلاثة_عشر=13 ثلاث_عشرة=13 أربعة_عشر=14 أربع_عشرة=14 خمسة_عشر=15 خمس_عشرة=15 ستة_عشر=16
        ست_عشرة=16 سبعة_عشر=17 سبع_عشرة=17 ثمانية_عشر=18 ثماني_عشرة=18 تسعة_عشر=19 تسع_عشرة=19""",
}
# What may be joined to a number: German "zehnmal", "zweiwöchig", Arabic particles and the article.
_BEFORE = {"ar": "[وفبلك]?(?:ال)?"}
_AFTER = {"de": "(?:mal|(?:minütig|stündig|tägig|wöchig|monatig)e?[nrms]?)?"}
LANGUAGES = frozenset(_WORDS)
"""The languages whose numbers in words are known."""


@cache
def _pattern(language: str) -> tuple[re.Pattern[str], dict[str, str]]:
    values = dict(pair.replace("_", " ").split("=") for pair in _WORDS[language].split())
    words = "|".join(sorted(map(re.escape, values), key=len, reverse=True))
    before, after = _BEFORE.get(language, ""), _AFTER.get(language, "")
    return re.compile(rf"(?<![\w-]){before}(?P<word>{words}){after}(?![\w-])", re.IGNORECASE), values


def digits_in(text: str) -> Counter[str]:
    """Return the numbers that ``text`` writes in digits, each with its unit where it has one: ``500 mg``, ``1.5 g``."""
    return Counter(
        f"{match['number'].replace(',', '.')} {(match['unit'] or '').casefold()}".strip()
        for match in _DIGITS.finditer(text)
    )


def words_in(text: str, language: str) -> Counter[str]:
    """Return the numbers that ``text`` writes in words, from two on; none where the language is not known."""
    if language not in LANGUAGES:
        return Counter()
    pattern, values = _pattern(language)
    text = "".join(sign for sign in text if unicodedata.category(sign) != "Mn") if language == "ar" else text
    return Counter(values[match["word"].lower()] for match in pattern.finditer(text))


def differing(original: str, written_in: str, translated: str, language: str) -> tuple[list[str], list[str]]:
    """Return the numbers of ``original``, ``written_in`` one language, that its translation lacks, and those that it
    adds."""
    said, told = digits_in(original), digits_in(translated)
    said_in_words, told_in_words = words_in(original, written_in), words_in(translated, language)
    wanted = said + said_in_words if language in LANGUAGES else said
    lacking = wanted - (told + told_in_words)
    added = told + told_in_words - (said + said_in_words)
    if re.search(r"\b(?:one|once|an?|single|each|every|first)\b", original, re.IGNORECASE):
        del added["1"]
    return sorted(lacking.elements()), sorted(added.elements())

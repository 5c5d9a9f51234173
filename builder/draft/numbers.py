"""Numbers in words, as they are said."""

_WORDS = """
one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
nineteen twenty
"""
NUMBER_WORDS = tuple(_WORDS.split())
_VALUES = {word: number for number, word in enumerate(NUMBER_WORDS, start=1)} | {
    "twenty-four": 24,
    "thirty": 30,
    "forty-eight": 48,
}
NUMBER = rf"(?:\d{{1,3}}|{'|'.join(sorted(_VALUES, key=len, reverse=True))})"
"""Finds a number in digits or words."""


def number_of_word(word: str) -> int:
    """Return the number that ``word`` says in digits or letters; 0 where it says none."""
    low = word.casefold()
    return int(low) if low.isdigit() else _VALUES.get(low, 0)

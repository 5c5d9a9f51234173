"""Which languages are read from right to left, and what in them is read from left to right all the same.

A dose, a range or a telephone number in Arabic text is turned round by the rules of the Unicode bidirectional algorithm
(UAX 9, W2 and W4: after an Arabic letter, ``5-10`` is shown as ``10-5``) unless it is set apart by markup.
"""

import re
from collections.abc import Iterator

_RIGHT_TO_LEFT = frozenset(("ar", "fa", "he", "ur"))
# Letters and digits that are read from left to right, with what stands between them: never a comma, unless in a number.
_SIGN = "0-9A-Za-z\u00b5\u00c0-\u024f\u0370-\u03ff"
_RUN = re.compile(
    rf"(?:[+<>=≤≥±~−-]+[ \u00a0]?)?[{_SIGN}]"
    rf"(?:[{_SIGN}’'./:×·–−%‰°-]|,(?=[0-9])|[ \u00a0+–−-](?=[{_SIGN}+–−%°-]))*(?<![.:/'’])"
)
RIGHT_TO_LEFT_LETTER = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]")


def is_right_to_left(language: str) -> bool:
    """Tell whether ``language``, a tag such as ``ar-EG``, is read from right to left."""
    return language.partition("-")[0].lower() in _RIGHT_TO_LEFT


def runs(text: str) -> Iterator[tuple[str, bool]]:
    """Yield the parts of a right-to-left ``text`` in order, and whether each is read from left to right."""
    end = 0
    for match in _RUN.finditer(text):
        if match.start() > end:
            yield text[end : match.start()], False
        yield match.group(), True
        end = match.end()
    if end < len(text):
        yield text[end:], False

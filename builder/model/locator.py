"""Which words of a link to a source say where in it."""

from __future__ import annotations

import re

_LOCATOR = re.compile(
    r"(?:pp?|ch|chap|chapter|sect?|section|para|tab|table|fig|figure|box|app|appendix|rec|recommendation)"
    r"s?\b\.?\s*\d|§|\d",
    re.IGNORECASE,
)


def is_locator(words: str) -> bool:
    """Tell whether ``words`` are a place in a source, such as ``p. 12``; any others are part of the sentence."""
    return _LOCATOR.match(words) is not None

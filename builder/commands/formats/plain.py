"""Text that is safe to print: what a file name or a value holds must not steer a terminal or break an encoder."""

from __future__ import annotations

import re

# Controls, line separators, changes of writing direction, lone surrogates.
_UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def plain(words: str) -> str:
    """Return ``words`` with control characters, changes of writing direction and lone surrogates written out."""
    return _UNSAFE.sub(lambda sign: f"\\u{ord(sign.group()):04x}", words)


def one_line(words: str) -> str:
    """Return ``words`` as ``plain`` does, on one line."""
    return " ".join(plain(words).split())

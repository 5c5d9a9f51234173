"""Words that were written as text and that YAML takes for its own: it would drop them without a word.

``call: bleep #4000`` reads as *bleep*, ``cue: !never cut`` as *cut*, ``cue: &now cut`` as *cut*.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from itertools import pairwise

import yaml

_SUSPECT = re.compile(r"\S[ \t]+#[^\s#!]|(?:[:\-\[{,?] *)[!&]\S")
"""A quick look first: hardly any text has one of these, and only then are the tokens worth their time."""
_TAGS = frozenset(("!!", kind) for kind in ("str", "int", "float", "bool", "null", "seq", "map"))
_COMMENT = re.compile(r"(?<=[ \t])#[^\s#!].*")

Unread = tuple[int, int, str, str]
"""Line and column (both from 0), the words that are lost, what to do."""


def unread(text: str, loader: type) -> Iterator[Unread]:
    """Yield each piece of ``text``, which must be YAML, that was meant to be read and is not."""
    if not _SUSPECT.search(text):
        return
    lines = text.split("\n")
    tokens = list(yaml.scan(text, Loader=loader))
    named = {token.value for token in tokens if isinstance(token, yaml.AliasToken)}
    for token, after in pairwise(tokens):
        lost = isinstance(token, yaml.TagToken) and token.value not in _TAGS
        lost |= isinstance(token, yaml.AnchorToken) and token.value not in named and isinstance(after, yaml.ScalarToken)
        if lost:
            start, end = token.start_mark, token.end_mark
            words = lines[start.line][start.column : end.column]
            yield start.line, start.column, words, "Put the whole text in double quotes."
    yield from _comments(lines, tokens)


def _comments(lines: list[str], tokens: list[yaml.Token]) -> Iterator[Unread]:
    """A comment without a space after its ``#`` that follows unquoted text. An empty value is another finding."""
    texts = [token for token in tokens if isinstance(token, yaml.ScalarToken)]
    begins = [_spot(token.start_mark) for token in texts]
    for number, line in enumerate(lines):
        for comment in _COMMENT.finditer(line):
            at = (number, comment.start())
            before = bisect_right(begins, at) - 1
            if before >= 0 and _cut_short(texts[before], at) and not line[: comment.start()].rstrip().endswith(":"):
                hint = "Put the whole text in double quotes; a comment needs a space after its #."
                yield *at, comment[0].rstrip(), hint
                break


def _cut_short(token: yaml.ScalarToken, at: tuple[int, int]) -> bool:
    end = _spot(token.end_mark)
    return bool(token.plain) and end[0] == at[0] and end <= at


def _spot(mark: yaml.Mark) -> tuple[int, int]:
    return mark.line, mark.column

"""What YAML does not read as it was meant, and why, at the line that must be changed.

Words that were written as text and that YAML takes for its own would be dropped without a word: ``call: bleep #4000``
reads as *bleep*, ``cue: !never cut`` as *cut*, ``cue: &now cut`` as *cut*. And the parser stops where it can read no
further: the mistake is often some lines above, at the quotation mark that was never closed, or at the key without a
space after its colon.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
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
    if not any(sign in text for sign in "#!&") or not _SUSPECT.search(text):
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


Said = tuple[int, int, str, str]
"""Line and column (both from 0), what is wrong, what to do."""

# What YAML says, and what an educator can act on.
_PLAIN_WORDS = (
    ("mapping values are not allowed", "a colon inside the text", "Put the whole text in double quotes."),
    ("found character that cannot start any token", "a tab, @, % or ` where a value should start",
     "Use spaces to indent, or put the text in double quotes."),
    ("while scanning an alias", "a * at the start of a value", "Put the whole text in double quotes."),
    ("while scanning an anchor", "a & at the start of a value", "Put the whole text in double quotes."),
    ("undefined alias", "a * at the start of a value", "Put the whole text in double quotes."),
    ("while scanning a quoted scalar", "a quotation mark that is opened but never closed", "Close the quotation mark."),
    ("did not find expected key", "a line that does not fit the lines above it",
     "Start it in the same column as the lines it belongs to, and close every quotation mark and bracket."),
    ("did not find expected ',' or", "a bracket that is opened but never closed, or a missing comma",
     "Close the bracket, and put commas between its items."),
    ("did not find expected node content", "a bracket or comma with nothing after it", "Write the missing value."),
    ("could not find expected ':'", "a line without a colon followed by a space",
     "Write it as `key: value`, or indent it below its key."),
    ("exceeded maximum nesting depth", "too many levels of indentation", "Use fewer levels of indentation."),
    ("block sequence entries are not allowed", "a dash where a list cannot start",
     "Put the list on a line of its own."),
)  # fmt: skip
_BEGINS_ABOVE = ("while scanning a quoted scalar", "could not find expected ':'", "did not find expected ',' or")
_ANY = "Write `key: value`, start each item of a list with a dash, and put text that contains a colon in double quotes."


def explain(error: yaml.MarkedYAMLError, text: str) -> Said:
    """Return where the mistake in ``text`` is, what it is, and what to do about it."""
    said = f"{error.context or ''} {error.problem or ''}"
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return 0, 0, said.strip(), _ANY
    lines = text.split("\n")
    line, column = min(mark.line, len(lines) - 1), mark.column
    explained = _tab(lines, line) or _dash(error, lines, line) or _deeper(said, lines, line, column)
    if explained:
        return explained
    began = error.context_mark
    if began is not None and began.line < line and any(words in said for words in _BEGINS_ABOVE):
        line, column = began.line, began.column
    for words, meaning, hint in _PLAIN_WORDS:
        if words in said:
            return line, column, meaning, hint
    return line, column, said.strip(), _ANY


def _tab(lines: Sequence[str], line: int) -> Said | None:
    indent = lines[line][: len(lines[line]) - len(lines[line].lstrip())]
    if "\t" not in indent:
        return None
    return line, indent.index("\t"), "a tab at the start of a line", "Use spaces to indent."


def _dash(error: yaml.MarkedYAMLError, lines: Sequence[str], line: int) -> Said | None:
    """A line that should be an item of the list above it."""
    if "did not find expected '-' indicator" not in (error.problem or "") or error.context_mark is None:
        return None
    rest = lines[line].lstrip()
    at = len(lines[line]) - len(rest)
    wanted = error.context_mark.column + 1
    if rest.startswith("-") and not rest.startswith("- "):
        return line, at, "a dash without a space after it", "Put one space after the dash."
    if rest.startswith("- "):
        hint = f"Start it in column {wanted}, like the first dash of the list."
        return line, at, "a dash that is not in line with the other dashes", hint
    hint = f"Start it with a dash in column {wanted}, or in the column of the key it belongs to."
    return line, at, "a line in a list that does not start with a dash", hint


def _deeper(said: str, lines: Sequence[str], line: int, column: int) -> Said | None:
    """A key or an item indented below a line that already has its value: YAML reads on into that value."""
    if "mapping values are not allowed" not in said or lines[line].find(":") != column:
        return None
    above = next((earlier for earlier in reversed(lines[:line]) if earlier.strip()), "")
    rest = lines[line].lstrip()
    at = len(lines[line]) - len(rest)
    if at <= len(above) - len(above.lstrip()) or ": " not in above:
        return None
    if rest.startswith("- "):
        hint = "Write the key of the list, such as `actions:`, on a line of its own above it."
        return line, at, "a list below a line that already has a value", hint
    hint = "Start it in the same column as the lines it belongs to."
    return line, at, "a line indented further than the line above it", hint

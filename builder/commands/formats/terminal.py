"""Findings as text: ``file:line:column: severity name: message``, and below it all that belongs to it.

This is the record, whole and in the order given; what a person reads at the command line is ``laid_out``.
What a file name or a value holds must not steer a terminal or break an encoder.
"""

import re
from collections.abc import Iterator, Mapping, Sequence

from builder.findings.finding import Finding, Severity, summary

# Controls, line separators, changes of writing direction, lone surrogates.
_UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def plain(words: str) -> str:
    """Return ``words`` with control characters, changes of writing direction and lone surrogates written out."""
    return _UNSAFE.sub(lambda sign: f"\\u{ord(sign.group()):04x}", words)


def one_line(words: str) -> str:
    """Return ``words`` as ``plain`` does, on one line."""
    return " ".join(plain(words).split())


NOTHING = "No findings.\n"
_COLOURS = {Severity.ERROR: "1;31", Severity.WARNING: "1;33", Severity.NOTE: "1;36"}
_BOLD = "1"


def wants_colour(is_terminal: bool, environment: Mapping[str, str]) -> bool:
    """Tell whether output may be coloured: on a terminal that can, unless NO_COLOR is set and not empty (no-color.org).

    The severity is always written as a word too, so colour never carries meaning alone.
    """
    return is_terminal and not environment.get("NO_COLOR") and environment.get("TERM") != "dumb"


def render(findings: Sequence[Finding], colour: bool = False) -> str:
    """Return all findings and a last line that counts them."""
    if not findings:
        return NOTHING
    lines = [line for finding in findings for line in _lines(finding, colour)]
    return "\n".join([*lines, "", f"{summary(findings)}."]) + "\n"


def _lines(finding: Finding, colour: bool) -> Iterator[str]:
    yield headline(finding, colour)
    if finding.hint:
        yield f"    {one_line(finding.hint)}"
    for second in finding.also:
        yield f"    {one_line(str(second.at))}: {one_line(second.message)}"
    if finding.path:
        yield f"    {way(finding)}"


def way(finding: Finding) -> str:
    """Return the way through the operation by the numbers of its steps: ``way: 1 -> 2 -> 3A -> 5``."""
    return f"way: {' -> '.join(one_line(step).partition(' ')[0] for step in finding.path)}"


def headline(finding: Finding, colour: bool) -> str:
    """Return what a finding is, on one line."""
    place = f"{_painted(one_line(str(finding.at)), _BOLD, colour)}: " if finding.at.file else ""
    severity = _painted(finding.severity.value, _COLOURS[finding.severity], colour)
    return f"{place}{severity} {finding.name}: {one_line(finding.message)}"


def _painted(words: str, code: str, colour: bool) -> str:
    return f"\x1b[{code}m{words}\x1b[0m" if colour else words

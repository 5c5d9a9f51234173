"""Findings for a person at the command line: gravest first, each with the line it stands in and what would mend it."""

import re
import textwrap
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cache

from builder.commands.formats.terminal import NOTHING, headline, one_line, plain, way
from builder.findings.finding import Finding, Severity, summary
from builder.findings.register import REGISTER, Blocks

_PAINT = re.compile(r"\x1b\[[0-9;]*m")
_INDENT = 4
_NARROWEST = 40
_ADVICE = 2
"""Lines of advice below a finding; a hint alone may take more."""

Lines = Callable[[str], Sequence[str]]
"""Gives the lines of a file of the department; none where it cannot be read."""


def laid_out(
    findings: Sequence[Finding], lines_of: Lines, width: int | None = None, colour: bool = False, *, sort: bool = True
) -> str:
    """Return all findings, gravest first unless they are in an order of their own (``sort``), wrapped to ``width``
    (None: not at all), and a last line that counts them."""
    if not findings:
        return NOTHING
    gravest, known = list(Severity).index, cache(lines_of)
    ordered = sorted(findings, key=lambda finding: gravest(finding.severity)) if sort else findings
    lines = [line for finding in ordered for line in _lines(finding, known, width, colour)]
    return "\n".join([*lines, "", *_wrapped(f"{summary(findings)}.{_later(findings)}", width, 0)]) + "\n"


def _later(findings: Sequence[Finding]) -> str:
    """Say how many findings block now, and how many more from which stage on; "" where none waits for a stage."""
    stages = Counter(REGISTER[made.name].blocks for made in findings if made.severity is not Severity.ERROR)
    later = [f"{stages[stage]} more {words}" for stage, words in _LATER.items() if stages[stage]]
    now = sum(made.severity is Severity.ERROR for made in findings)
    blocks = f"{now} {'blocks' if now == 1 else 'block'} now" if now else "None blocks now"
    return f" {'; '.join([blocks, *later])}." if later else ""


_LATER = {Blocks.REVIEW: "from review on", Blocks.APPROVAL: "from approval on", Blocks.ISSUE: "when a code is issued"}


def _lines(finding: Finding, lines_of: Lines, width: int | None, colour: bool) -> Iterator[str]:
    yield from _wrapped(headline(finding, colour), width, 0)
    yield from _source(finding, lines_of, width)
    advice = _wrapped(one_line(finding.hint), width, _INDENT)
    for second in finding.also:
        more = _wrapped(one_line(f"{second.at}: {second.message}"), width, _INDENT)
        if len(advice) + len(more) <= _ADVICE:
            advice += more
    yield from advice
    if finding.path:
        yield from _wrapped(way(finding), width, _INDENT)


def _wrapped(text: str, width: int | None, indent: int) -> list[str]:
    """Return ``text`` in lines of at most ``width``; what is painted is as wide as it looks."""
    if not text:
        return []
    margin, hanging = " " * indent, " " * _INDENT
    if width is None:
        return [f"{margin}{text}"]
    paints = _PAINT.findall(text)
    seen = _PAINT.sub("\x00", text)  # counts one too many, so a painted line is never too wide
    wrapper = textwrap.TextWrapper(
        max(width, _NARROWEST), initial_indent=margin, subsequent_indent=hanging, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip
    waiting = iter(paints)
    return [re.sub("\x00", lambda _: next(waiting), line) for line in wrapper.wrap(seen)]


def _source(finding: Finding, lines_of: Lines, width: int | None) -> Iterator[str]:
    """Yield the line in which a finding stands, with a caret below its column."""
    lines = lines_of(finding.at.file) if finding.at.file else ()
    if not 0 < finding.at.line <= len(lines):
        return
    text, column = lines[finding.at.line - 1].replace("\t", " "), finding.at.column - 1
    if not text.strip() or column > len(text):
        return
    number = f"{finding.at.line:>6} | "
    room = max(width or 120, _NARROWEST) - len(number) - 2
    first = max(0, column - room // 2) if len(text) > room else 0
    before = plain(text[first:column])
    shown = plain(text[first : first + room])
    yield f"{number}{'…' if first else ''}{shown}{'…' if first + room < len(text) else ''}".rstrip()
    yield f"{' ' * (len(number) + bool(first) + len(before))}^"

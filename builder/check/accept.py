"""Findings that a department accepts, with its reason, in the file where they stand.

A catalogue, a .bib file or a figure has no front matter. What is found there is accepted in the file that answers for
it: a figure in its procedure.md, a catalogue or a list of sources in content/department.md.
"""

import re
from collections.abc import Iterable, Iterator

from builder.facts.walk import pages
from builder.findings.finding import Finding
from builder.findings.message_words import mend, quoted
from builder.findings.register import CHECKED, FILES, FORMAT, REGISTER, finding
from builder.load.manual import old_codes
from builder.model.fields import Acceptance
from builder.model.library import Library

ACCEPTABLE = frozenset((*CHECKED, *(kind.name for kind in REGISTER.values() if kind.family in (FILES, FORMAT))))
"""What an educator may accept: what was found in the department's own files."""

_DEPARTMENT = "content/department.md"
_FIGURE = re.compile(r"(?P<folder>content/procedures/[^/]+/)figures/[^/]+")


def accepted(library: Library, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings that are not accepted, and one for each acceptance that nothing needs.

    A file that could not be read accepts nothing: its acceptances are unknown.
    """
    waiting: dict[tuple[str, str], list[Acceptance]] = {}
    for _, page in pages(library):
        for acceptance in page.accept:
            name = old_codes().get(acceptance.check, str(acceptance.check))
            waiting.setdefault((page.file, name), []).append(acceptance)
    used: set[tuple[str, str]] = set()
    for made in findings:
        key = (answering_file(made.at.file), made.name)
        if key in waiting and made.name in ACCEPTABLE:
            used.add(key)
        else:
            yield made
    for key, acceptances in waiting.items():
        for number, acceptance in enumerate(acceptances):
            # The first of two equal acceptances does the work; the second does none.
            yield from _of_acceptance(acceptance, is_used=key in used and number == 0)


def answering_file(file: str) -> str:
    """Return the file in whose front matter a finding in ``file`` is accepted."""
    figure = _FIGURE.fullmatch(file)
    if figure:
        return f"{figure['folder']}procedure.md"
    return file if file.endswith(".md") else _DEPARTMENT


def _of_acceptance(acceptance: Acceptance, is_used: bool) -> Iterator[Finding]:
    written = acceptance.check
    name = old_codes().get(written)
    if name is not None:
        message = f"{quoted(written)} is an old code; this finding is now called {quoted(name)}"
        yield finding("acceptance-by-old-code", written.at, message, f"Write `check: {name}`.")
    elif written not in ACCEPTABLE:
        hint = mend(written, ACCEPTABLE, "Write the name as a finding shows it, such as `title-not-an-instruction`.")
        yield finding("acceptance-unused", written.at, f"{quoted(written)} is not a check", hint)
    elif not is_used:
        message = f"{quoted(written)} is accepted here, but nothing of that kind is found in this file"
        yield finding("acceptance-unused", written.at, message, "Remove the acceptance.")

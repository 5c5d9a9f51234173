"""A finding is data: what is wrong, where, what was expected and what to do.

Findings are made in every stage, so this module lies to the left of all of them.
"""

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import Enum

from builder.findings.message_words import counted
from builder.place import Place


class Severity(Enum):
    """``error`` blocks publishing, ``warning`` is shown and counted, ``note`` informs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class SecondPlace:
    """Another place that belongs to a finding, and why it matters."""

    at: Place
    message: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found.

    ``name`` is that of the register; ``message`` stands alone and starts with the offending value; ``hint`` starts with
    a verb and says what to do; ``path`` is a way through the operation where there is one, as number and title of each
    step on it.
    ``key`` is the key of front matter that it is about, where it is about one; of a missing key, ``at`` is its holder.
    """

    name: str
    severity: Severity
    at: Place
    message: str
    hint: str = ""
    also: tuple[SecondPlace, ...] = ()
    path: tuple[str, ...] = ()
    key: str = ""

    def sort_key(self) -> tuple[str, int, int, str, str]:
        """Order by place, then by name, so that output never depends on the order of the checks."""
        return (self.at.file, self.at.line, self.at.column, self.name, self.message)


def summary(findings: Collection[Finding]) -> str:
    """Return words such as ``3 findings: 1 error, 2 warnings``."""
    counts = Counter(finding.severity for finding in findings)
    kinds = ", ".join(counted(counts[severity], severity.value) for severity in Severity if counts[severity])
    return f"{counted(len(findings), 'finding')}: {kinds}" if kinds else "no findings"


def exit_code(findings: Iterable[Finding]) -> int:
    """Return 1 where a finding blocks publishing, else 0."""
    return int(any(finding.severity is Severity.ERROR for finding in findings))


class Refused(Exception):
    """Raised inside a loader when a file cannot be used at all; carries the finding that says so."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding)  # the finding itself, so that a worker process can hand it on
        self.finding = finding

    def __str__(self) -> str:
        return self.finding.message

"""What a region knows of one department after a night: plain data, so that another night can read it again."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from builder.compose.view.local_view import names_of, place_name, rests_on
from builder.compose.view.words import day
from builder.findings.finding import Finding
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.local_page import LocalChange


class HospitalState(StrEnum):
    """How the night went for a department. In the last two of these it is not as it was written."""

    WAITING = "Waiting"
    PUBLISHED = "Published"
    UNCHANGED = "Unchanged"
    KEPT = "On its last good site"
    MISSING = "Never published"


FAILED = (HospitalState.KEPT, HospitalState.MISSING)


@dataclass(frozen=True, slots=True)
class HospitalPage:
    """A procedure as a department publishes it; ``href`` is the page, in the department's own site."""

    procedure: str
    title: str
    edition: str
    href: str


@dataclass(frozen=True, slots=True)
class CodeAnswer:
    """What one department answers of a ``code``; ``href`` is the page that says more, in the department's own site.
    ``state`` is English, as it is looked up."""

    code: str
    title: str
    edition: str
    state: str
    href: str


@dataclass(frozen=True, slots=True)
class LocalText:
    """What a department says in place of its parent: ``what`` was changed, and both texts ("" = nothing is said)."""

    procedure: str
    title: str
    what: str
    ours: str
    theirs: str
    because: str
    rests: str


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a department stayed as it was: a finding at its place, or what the system said (``file`` = "")."""

    file: str
    line: int
    column: int
    name: str
    message: str
    hint: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}: " if self.file else ""
        return f"{place}{self.message}{f'. {self.hint}' if self.hint else ''}"

    @classmethod
    def of(cls, made: Finding) -> "Problem":
        """Return a finding as it is kept."""
        at = made.at
        return cls(at.file, at.line, at.column, made.name, made.message, made.hint)


@dataclass(frozen=True, slots=True)
class Hospital:
    """A department: its ``id`` in the region, its ``name``, the ``language`` in which it writes, how the night went,
    and what its site shows.

    ``since`` is the day on which that site was published; ``inputs`` the digest of all that it was made of, and
    ``report`` that of its build report.
    """

    id: str
    name: str
    state: HospitalState
    language: str = ""
    problems: tuple[Problem, ...] = ()
    pages: tuple[HospitalPage, ...] = ()
    codes: tuple[CodeAnswer, ...] = ()
    local: tuple[LocalText, ...] = ()
    since: str = ""
    inputs: str = ""
    report: str = ""

    @property
    def standing(self) -> str:
        """How the night went, and of which day its site is where that is an older one."""
        state = gettext(self.state.value)
        if not (self.has_failed and self.since):
            return state
        return gettext("%(state)s, from %(day)s", state=state, day=day(date.fromisoformat(self.since)))

    @property
    def has_failed(self) -> bool:
        """Whether it is not published as it is written."""
        return self.state in FAILED


def pages_of(artefacts: Iterable[Mapping[str, Any]]) -> tuple[HospitalPage, ...]:
    """Return the procedures of a department by the ``artefacts`` of its build report: what stands in its site."""
    return tuple(
        HospitalPage(made["procedure"], made["title"], made["edition"], made["path"])
        for made in artefacts
        if made["kind"] == "page" and made["procedure"]
    )


def codes_of(artefacts: Sequence[Mapping[str, Any]]) -> tuple[CodeAnswer, ...]:
    """Return what a department answers of every code that it issued, by its build report."""
    titles = {page.procedure: page.title for page in pages_of(artefacts)}
    return tuple(
        CodeAnswer(
            made["explained"]["code"], titles.get(made["procedure"], made["procedure"]), made["edition"],
            made["explained"].get("answer") or made["title"].partition(": ")[2], made["path"],
        )
        for made in artefacts
        if made["kind"] == "status" and made["explained"].get("issued")
    )  # fmt: skip


def local_of(library: Library) -> tuple[LocalText, ...]:
    """Return what a department says in place of its parent, procedure by procedure."""
    return tuple(_local_texts(library))


def _local_texts(library: Library) -> Iterator[LocalText]:
    for change in library.local:
        procedure = library.by_id.get(change.procedure)
        names = names_of(procedure) if procedure else {}
        what = place_name(change, names)
        title = str(procedure.title) if procedure else _of_all(change)
        texts = (change.ours, change.theirs, change.because, rests_on(change))
        yield LocalText(change.procedure, title, what, *texts)


def _of_all(change: LocalChange) -> str:
    if not change.procedure:
        return gettext("All procedures")
    return gettext("%(procedure)s (left out)", procedure=change.procedure)

"""What a department changes in what its parent wrote, as ``content/local/`` tells it."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import Field

from builder.model.fields import Day, Label, Many, Node, Page
from builder.model.pages import Approval, Person, Status, Withdrawal
from builder.place import Place, Text


class LocalEntry(Node):
    """One change: what of the parent to ``replace``, ``add`` or ``switch_off``, why, and by which document.

    ``key`` and ``with`` say which value becomes what; without ``key`` it is the whole of it. ``after`` and ``before``
    name the step next to which a new one stands. ``was`` is the digest of what the parent said when the department
    chose; the program writes it.
    """

    replace: Text | None = None
    add: Text | None = None
    switch_off: Text | None = None
    key: Text | None = None
    value: Any = Field(default=None, alias="with")
    after: Text | None = None
    before: Text | None = None
    because: Text
    document: Text
    date: Day
    was: Text | None = None


class LocalPage(Page):
    """The changes of one procedure of the parent, with the edition, owner and approval of what comes of them.

    ``content/local/department.md`` holds those of shared cautions, shared aftercare and numbers to call.
    """

    edition: Label | None = None
    status: Status | None = None
    owner: Person | None = None
    authors: tuple[Person, ...] = ()
    approval: Many[Approval] = ()
    review_by: Day | None = None
    withdrawn: Withdrawal | None = None
    changes: tuple[LocalEntry, ...] = ()


HEAD = ("edition", "status", "owner", "authors", "approval", "review_by", "withdrawn")
"""The keys of a procedure of the parent that are the department's own to say, each where it is written."""


@dataclass(frozen=True, slots=True)
class LocalChange:
    """One entry as it was carried out: ``kind`` and ``id`` of what was changed, ``key`` of a value of it, else "".

    ``ours`` and ``theirs`` are what the department and its parent say, in words, "" where one says nothing; ``digest``
    is that of what the parent says now, ``was`` what it was when the department chose. ``number`` is the place of the
    entry in its file; ``own`` names the file that replaces a whole page, else ""; ``name`` is the title or hazard of a
    page.
    """

    procedure: str
    number: int
    verb: str
    kind: str
    id: str
    key: str
    ours: str
    theirs: str
    digest: str
    was: str
    because: str
    document: str
    on: date
    at: Place
    own: str = ""
    name: str = ""

    @property
    def is_chosen(self) -> bool:
        """Tell whether somebody chose between the two texts as they stand."""
        return self.was == self.digest

    @property
    def target(self) -> str:
        """What was changed, as an entry names it."""
        return f"{self.kind} {self.id}".strip()


@dataclass(frozen=True, slots=True)
class ParentDanger:
    """A danger that the parent writes in a ``procedure``: its caution's ``id``, and the ``steps`` that it guards."""

    procedure: str
    id: str
    hazard: Text
    steps: tuple[str, ...]

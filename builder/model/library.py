"""The Library: everything a department wrote, frozen. Checks and outputs read it and nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.load.ledger import Ledger
from builder.load.sources.bibliography import RawSource
from builder.model.catalogue import Catalogue
from builder.model.local_page import LocalChange, ParentDanger
from builder.model.pages import Aftercare, Caution, Consent, Department, Item, Procedure, Status, Step, Structure, Term
from builder.place import Place

if TYPE_CHECKING:
    from builder.model.edition import Edition

SHARED = ""


@dataclass(frozen=True)
class Library:
    """One department as it stands on the day ``today``.

    ``shared_cautions`` and ``shared_aftercare`` are those written once for many procedures. ``figures`` are the paths
    of all figure files, relative to ``root``; ``pictures`` the digest of each; ``texts`` every text file as it was
    written, for what may stand in no file at all. ``ledger`` holds the issued codes, and ``lapsed`` the procedures that
    were changed after their approval and are drafts again; ``editions`` are kept while publishing changes the pictures.
    ``broken`` holds ``(kind, procedure, id)`` of files that exist and could not be used: what points to them is not
    called missing, so that one defect gives one finding. ``misfits`` is the first place in each such file that is
    wrong; ``salvaged`` holds, by procedure and id, broken steps of which all that the path analysis reads could be
    used, and ``salvaged_procedures`` such procedures: nothing else may read them. ``local`` is what was changed in what
    the parent wrote, ``dangers`` those of the parent that must still be there; ``lent`` tells where a file of the
    parent lies, by the name it has here. ``within`` is the whole of which this is a part: one procedure, or what all of
    them share.
    """

    root: Path
    today: date
    department: Department
    structures: Catalogue[Structure] = field(default_factory=Catalogue)
    items: Catalogue[Item] = field(default_factory=Catalogue)
    terms: tuple[Term, ...] = ()
    consents: tuple[Consent, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    shared_cautions: Mapping[str, Caution] = field(default_factory=dict)
    shared_aftercare: Mapping[str, Aftercare] = field(default_factory=dict)
    sources: Mapping[str, RawSource] = field(default_factory=dict)
    figures: frozenset[str] = frozenset()
    pictures: Mapping[str, str] = field(default_factory=dict)
    notices: Mapping[str, str] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    ledger: Ledger = field(default_factory=Ledger)
    lapsed: frozenset[str] = frozenset()
    editions: Mapping[str, Edition] = field(default_factory=dict)
    broken: frozenset[tuple[str, str, str]] = frozenset()
    misfits: Mapping[str, Place] = field(default_factory=dict)
    salvaged: Mapping[tuple[str, str], Step] = field(default_factory=dict)
    salvaged_procedures: tuple[Procedure, ...] = ()
    local: tuple[LocalChange, ...] = ()
    dangers: tuple[ParentDanger, ...] = ()
    lent: Mapping[str, tuple[Path, str]] = field(default_factory=dict)
    within: Library | None = None

    @cached_property
    def by_id(self) -> Mapping[str, Procedure]:
        """The procedures by id."""
        return {str(procedure.id): procedure for procedure in self.procedures}

    @cached_property
    def in_use(self) -> tuple[Procedure, ...]:
        """The procedures that are not withdrawn."""
        return tuple(procedure for procedure in self.procedures if procedure.status is not Status.WITHDRAWN)

    @cached_property
    def remembered(self) -> dict[tuple[object, ...], tuple[object, Any]]:
        """What has been worked out of this Library; only ``facts.remembered`` uses it."""
        return {}

    def __getstate__(self) -> dict[str, object]:
        """Hand over to another process what was written, not what has been worked out of it."""
        return {**{name: value for name, value in vars(self).items() if name != "remembered"}, "texts": {}}

    def local_of(self, procedure: Procedure) -> tuple[LocalChange, ...]:
        """Return what was changed here in what the parent wrote of ``procedure``, shared parts that it shows too."""
        roles = {" ".join(role.split()).casefold() for role in _called(procedure)}
        shown = {("caution", id) for id in procedure.cautions} | {("aftercare", id) for id in procedure.aftercare_items}
        shown |= {("call", role) for role in roles}
        own = str(procedure.id)
        return tuple(
            change
            for change in self.local
            if change.procedure == own or (change.procedure == SHARED and (change.kind, change.id) in shown)
        )

    def whereabouts(self, name: str) -> tuple[Path, str]:
        """Return the folder in which the file ``name`` lies, and its name there."""
        return self.lent.get(name, (self.root, name))

    def is_broken(self, kind: str, id: str, procedure: str = SHARED) -> bool:
        """Tell whether such a file exists and could not be used."""
        return (kind, procedure, id) in self.broken or (kind, SHARED, id) in self.broken


def _called(procedure: Procedure) -> Iterator[str]:
    called = [step.call for step in procedure.steps.values()]
    called += [caution.call for caution in procedure.cautions.values()]
    return (str(role) for role in called if role)

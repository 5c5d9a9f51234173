"""The whole check, again and again: a check that looks at each procedure by itself runs for those that changed.

Exactly the findings of ``engine.examine``: what runs piece by piece are rules that say so (``piecewise=True``): they
walk the procedures and look, beside one procedure, only at the catalogues and the shared pages. Any other rule
sees the whole Library every time, so a new one is right from the start.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.check.accept import accepted
from builder.check.blocking import with_blocking
from builder.check.hit import Check
from builder.check.table import CHECKS
from builder.check.waiting import without_waiting
from builder.findings.finding import Finding
from builder.load.folder import Loaded, RawFile, every_file
from builder.model.build import build
from builder.model.library import SHARED, Library
from builder.model.pages import Procedure

PIECEWISE: tuple[Check, ...] = tuple(check for check in CHECKS if check.piecewise)
WHOLE: tuple[Check, ...] = tuple(check for check in CHECKS if not check.piecewise)


@dataclass(frozen=True, slots=True)
class _KeptFindings:
    """What was found in one procedure: it holds as long as ``key`` does. ``files`` keeps alive what the key names."""

    key: tuple[object, ...]
    files: tuple[RawFile, ...]
    found: tuple[Finding, ...]


class Examiner:
    """Examines what was loaded, and remembers. Give it what ``load.again`` gives: files that are the same objects."""

    def __init__(self) -> None:
        self._kept: dict[str, _KeptFindings] = {}
        self._shared: tuple[RawFile, ...] = ()

    def examine(self, loaded: Loaded) -> tuple[Library, list[Finding]]:
        """Return the Library of ``loaded`` with all findings, in order of place, as ``engine.examine`` does."""
        library, misfits = build(loaded)
        return library, self.findings(loaded, library, misfits)

    def findings(self, loaded: Loaded, library: Library, misfits: list[Finding]) -> list[Finding]:
        """Return all findings, where the Library is built already; ``misfits`` is what was found while building."""
        by_procedure: dict[str, list[RawFile]] = {}
        for file in every_file(loaded):
            by_procedure.setdefault(file.procedure, []).append(file)
        self._forget(tuple(by_procedure.pop(SHARED, ())))
        pieces: dict[str, _KeptFindings] = {}
        for procedure in (*library.procedures, *library.salvaged_procedures):
            id = str(procedure.id)
            pieces[id] = self._piece(library, procedure, tuple(by_procedure.get(id, ())))
        self._kept = pieces
        checked = [*_run(WHOLE, library), *(finding for piece in pieces.values() for finding in piece.found)]
        found = accepted(library, [*loaded.findings, *misfits, *checked])
        return sorted(without_waiting(library, with_blocking(library, found)), key=Finding.sort_key)

    def _forget(self, shared: tuple[RawFile, ...]) -> None:
        """Forget all where a catalogue, a shared page or the department's page is another than before."""
        if list(map(id, shared)) != list(map(id, self._shared)):
            self._kept = {}
        self._shared = shared

    def _piece(self, library: Library, procedure: Procedure, files: tuple[RawFile, ...]) -> _KeptFindings:
        own = f"content/procedures/{procedure.id}/"
        key = (
            library.today,
            tuple(map(id, files)),
            frozenset(broken for broken in library.broken if broken[1] in (procedure.id, SHARED)),
            frozenset(name for name in library.figures if name.startswith(own)),
            procedure.status,  # a change elsewhere can take an approval back
        )
        kept = self._kept.get(str(procedure.id))
        if kept is not None and kept.key == key:
            return kept
        whole, rest = ((), (procedure,)) if str(procedure.id) not in library.by_id else ((procedure,), ())
        piece = replace(library, procedures=whole, salvaged_procedures=rest)
        return _KeptFindings(key, files, tuple(_run(PIECEWISE, piece)))


def _run(checks: tuple[Check, ...], library: Library) -> Iterator[Finding]:
    for check in checks:
        yield from check.run(library)

"""The whole check, again and again: a check that looks at each part by itself runs for the parts that changed.

Exactly the findings of ``engine.examine``: what runs piece by piece are rules that say so (``piecewise=True``). They
look at each procedure, or at each page that procedures share, with the catalogues, and at nothing of another procedure
but what ``once_per_department`` tells. Any other rule sees the whole Library every time, so a new one is right from the
start.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.check.accept import accepted
from builder.check.blocking import with_blocking
from builder.check.hit import Check
from builder.check.table import CHECKS
from builder.check.waiting import without_waiting
from builder.facts.catalogue_names import items_named, structures_named
from builder.facts.staff import staff
from builder.facts.walk import withdrawn
from builder.findings.finding import Finding
from builder.load.folder import Loaded, RawFile, every_file
from builder.model.build import build
from builder.model.library import SHARED, Library
from builder.model.pages import Procedure

PIECEWISE: tuple[Check, ...] = tuple(replace(check, over_all=None) for check in CHECKS if check.piecewise)
WHOLE: tuple[Check, ...] = tuple(
    replace(check, rule=check.over_all, over_all=None) if check.over_all else check
    for check in CHECKS
    if check.over_all or not check.piecewise
)


@dataclass(frozen=True, slots=True)
class _KeptFindings:
    """What was found in one part: it holds as long as ``key`` does. ``files`` keeps alive what the key names."""

    key: tuple[object, ...]
    files: tuple[object, ...]
    found: tuple[Finding, ...]


class Examiner:
    """Examines what was loaded, and remembers. Give it what ``load.again`` gives: files that are the same objects."""

    def __init__(self) -> None:
        self._kept: dict[str, _KeptFindings] = {}
        self._common: tuple[object, ...] = ()

    def examine(self, loaded: Loaded) -> tuple[Library, list[Finding]]:
        """Return the Library of ``loaded`` with all findings, in order of place, as ``engine.examine`` does."""
        library, misfits = build(loaded)
        return library, self.findings(loaded, library, misfits)

    def findings(self, loaded: Loaded, library: Library, misfits: list[Finding]) -> list[Finding]:
        """Return all findings, where the Library is built already; ``misfits`` is what was found while building."""
        pieces = dict(self._pieces(library, _Files(loaded, library)))
        self._kept = pieces
        checked = [*_run(WHOLE, library), *(finding for piece in pieces.values() for finding in piece.found)]
        found = accepted(library, [*loaded.findings, *misfits, *checked])
        return sorted(without_waiting(library, with_blocking(library, found)), key=Finding.sort_key)

    def _pieces(self, library: Library, files: "_Files") -> Iterator[tuple[str, _KeptFindings]]:
        common = (library.today, *_common(library), *map(id, files.raw[SHARED]))
        if common != self._common:  # a catalogue, a shared page or the department's page is another than before
            self._kept = {}
        self._common = common
        parts: dict[str, tuple[Procedure, ...]] = {
            str(procedure.id): (procedure,) for procedure in (*library.procedures, *library.salvaged_procedures)
        }
        for id_, own in {SHARED: (), **parts}.items():
            # A change elsewhere can take an approval back.
            key = files.key(id_, (*(one.status for one in own), _broken(library, id_)))
            kept = self._kept.get(id_)
            yield id_, kept if kept is not None and kept.key == key else self._found(library, files, id_, own, key)

    @staticmethod
    def _found(
        library: Library, files: "_Files", id_: str, own: tuple[Procedure, ...], key: tuple[object, ...]
    ) -> _KeptFindings:
        is_whole = id_ in library.by_id
        part = replace(
            library,
            procedures=own if is_whole else (),
            salvaged_procedures=() if is_whole else own,
            texts=files.texts[id_],
            figures=files.figures[id_],
            within=library,
        )
        return _KeptFindings(key, (*files.raw[id_], *part.texts.values()), tuple(_run(PIECEWISE, part)))


class _Files:
    """The files of each procedure, and under ``SHARED`` those of no procedure that can be read."""

    def __init__(self, loaded: Loaded, library: Library) -> None:
        known = {str(procedure.id) for procedure in (*library.procedures, *library.salvaged_procedures)}
        self.raw: dict[str, list[RawFile]] = defaultdict(list)
        for file in every_file(loaded):
            self.raw[file.procedure if file.procedure in known else SHARED].append(file)
        self.texts: dict[str, dict[str, str]] = defaultdict(dict)
        for name, text in library.texts.items():
            self.texts[_home(name, known)][name] = text
        figures: dict[str, list[str]] = defaultdict(list)
        for name in library.figures:
            figures[_home(name, known)].append(name)
        self.figures = defaultdict(frozenset, {id: frozenset(names) for id, names in figures.items()})

    def key(self, id_: str, more: tuple[object, ...]) -> tuple[object, ...]:
        """Return what is another where anything of this part is: its files, texts and figures, and ``more``."""
        texts = tuple((name, id(text)) for name, text in self.texts[id_].items())
        return tuple(map(id, self.raw[id_])), texts, self.figures[id_], more


def _home(name: str, known: set[str]) -> str:
    """Return the procedure that the file ``name``, a parent's too, is of."""
    _, _, rest = name.partition("content/procedures/")
    home = rest.partition("/")[0]
    return home if home in known else SHARED


def _broken(library: Library, id_: str) -> frozenset[tuple[str, str, str]]:
    return frozenset(broken for broken in library.broken if broken[1] in (id_, SHARED))


def _common(library: Library) -> tuple[object, ...]:
    """Return what procedures know of each other: whom the department names, and what, and which are withdrawn."""
    structures = (str(one.id) for one in structures_named(library))
    return (staff(library), withdrawn(library), *structures, *(str(one.id) for one in items_named(library)))


def _run(checks: tuple[Check, ...], library: Library) -> Iterator[Finding]:
    for check in checks:
        yield from check.run(library)

"""The lists to choose from: catalogues, the register of sources, and what the procedure itself has."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from werkzeug.wrappers import Response

from builder.load.sources.latex import plain
from builder.load.sources.raw_source import RawSource
from builder.model.action import ON_ITEMS, ON_STRUCTURES, VERBS
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import Choose, Option, every_entry
from builder.preview.answer import Request, data
from builder.preview.workshop import Workshop

_MOST = 12
_COUNTED = ("swabs", "needles", "instruments", "blades", "packs")

Pick = tuple[str, str]
"""What is written, and what is said about it."""


def picks(workshop: Workshop, request: Request) -> Response:
    """Answer with what can be chosen from: the list ``for``, of ``procedure``, with the words ``q`` in it.

    ``catalogue`` is where something new would go, "" where nothing new can be added.
    """
    library = workshop.state.library
    procedure = library.by_id.get(request.args.get("procedure", ""))
    asked = request.args.get("for", "")
    name = _of_verb(request.args.get("verb", "")) if asked == "objects" else asked
    make = _LISTS.get(name)
    found = make(library, procedure) if make else ()
    words = request.args.get("q", "").casefold().split()
    fitting = [pick for pick in dict.fromkeys(found) if all(word in " ".join(pick).casefold() for word in words)]
    fitting.sort(key=lambda pick: not pick[0].casefold().startswith(" ".join(words)))
    shown = [{"value": value, "about": about} for value, about in fitting[:_MOST]]
    return data({"picks": shown, "catalogue": _CATALOGUES.get(name, "")})


class _SourcesAbout(Mapping[str, str]):
    """What is said about each source; worked out for those that are asked for, because a register can be long."""

    def __init__(self, library: Library) -> None:
        self._sources = library.sources

    def __getitem__(self, key: str) -> str:
        return _about(self._sources[key])

    def __iter__(self) -> Iterator[str]:
        return iter(self._sources)

    def __len__(self) -> int:
        return len(self._sources)


def abouts(library: Library, procedure: Procedure | None) -> dict[str, Mapping[str, str]]:
    """Return what is said about each short name, by list: those that do not speak for themselves."""
    found: dict[str, Mapping[str, str]] = {
        name: dict(_LISTS[name](library, procedure)) for name in ("steps", "cautions", "aftercare")
    }
    return found | {"sources": _SourcesAbout(library)}


def _of_verb(word: str) -> str:
    """Return the list that the objects of a verb are chosen from."""
    verb = VERBS.get(word)
    if word in ("count", "tell"):
        return "counted" if word == "count" else "roles"
    if verb in ON_STRUCTURES:
        return "structures"
    return "items" if verb in ON_ITEMS else "things"


def _structures(library: Library, _: Procedure | None) -> Iterable[Pick]:
    return sorted((str(one.name), one.kind.value) for one in library.structures)


def _items(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    """What lies in the kit comes first."""
    kit = {found.id for name in (procedure.kit if procedure else ()) if (found := library.items.find(name))}
    ordered = sorted(library.items, key=lambda one: (one.id not in kit, str(one.name)))
    return [(str(one.name), f"{one.kind.value}, in the kit" if one.id in kit else one.kind.value) for one in ordered]


def _about(source: RawSource) -> str:
    fields = source.fields
    title = plain(fields.get("title", ""))
    year = fields.get("year") or fields.get("date", "")[:4]
    people = source.entry.persons.get("author") or source.entry.persons.get("editor") or []
    author = " ".join(people[0].prelast_names + people[0].last_names) if people else ""
    return ", ".join(part for part in (author, year, title) if part)


def _sources(library: Library, _: Procedure | None) -> Iterable[Pick]:
    """The whole register, kept until a file changes: it is searched at every key that is pressed."""
    if _register.get("library") is not library:
        _register["picks"] = sorted((str(key), _about(source)) for key, source in library.sources.items())
        _register["library"] = library
    picks: list[Pick] = _register["picks"]
    return picks


_register: dict[str, Any] = {}


def _approvers(library: Library, _: Procedure | None) -> Iterable[Pick]:
    return [(str(role), "may approve") for role in library.department.approvers]


def _roles(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    called = [(str(one.role), "can be called") for one in library.department.call]
    owners = [(str(one.owner.role), "owns a procedure") for one in library.procedures]
    seen: dict[str, str] = {}
    for role, about in (*called, *_approvers(library, procedure), *owners):
        seen.setdefault(role, about)
    return list(seen.items())


def _consents(library: Library, _: Procedure | None) -> Iterable[Pick]:
    return [("none needed", "nobody can be recognised"), *((str(one.id), "consent") for one in library.consents)]


def _steps(_: Library, procedure: Procedure | None) -> Iterable[Pick]:
    return [(str(id), str(one.title)) for id, one in procedure.steps.items()] if procedure else []


def _cautions(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    own = {**library.shared_cautions, **(procedure.parts.cautions if procedure else {})}
    return [(str(id), str(one.hazard)) for id, one in own.items()]


def _aftercare(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    own = {**library.shared_aftercare, **(procedure.parts.aftercare if procedure else {})}
    return [(str(id), str(one.title)) for id, one in own.items()]


def _choices(_: Library, procedure: Procedure | None) -> Iterator[Pick]:
    for entry in every_entry(procedure.sequence if procedure else ()):
        if isinstance(entry, Choose | Option):
            yield str(entry.id), str(entry.title or entry.kind)


def _figures(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    folder = f"content/procedures/{procedure.id if procedure else ''}/figures/"
    return [(path.removeprefix(folder), "picture") for path in sorted(library.figures) if path.startswith(folder)]


_LISTS: dict[str, Callable[[Library, Procedure | None], Iterable[Pick]]] = {
    "structures": _structures,
    "items": _items,
    "things": lambda library, procedure: [*_structures(library, procedure), *_items(library, procedure)],
    "counted": lambda _, __: [(one, "counted aloud") for one in _COUNTED],
    "sources": _sources,
    "roles": _roles,
    "approvers": _approvers,
    "consents": _consents,
    "steps": _steps,
    "cautions": _cautions,
    "aftercare": _aftercare,
    "choices": _choices,
    "figures": _figures,
}
_CATALOGUES = {"structures": "structures", "items": "items", "things": "structures"}

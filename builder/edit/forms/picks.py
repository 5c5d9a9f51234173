"""The lists to choose from: catalogues, the register of sources, and what the procedure itself has."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from builder.facts.remembered import once_per_library
from builder.load.sources.bibliography import RawSource
from builder.load.sources.latex import plain
from builder.model.action import ON_ITEMS, ON_STRUCTURES, VERBS
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.sequence import Choose, Option, every_entry

_MOST = 12
_COUNTED = ("swabs", "needles", "instruments", "blades", "packs")

Pick = tuple[str, str]
"""What is written, and what is said about it."""


def picks(library: Library, asked: Mapping[str, str], most: int = _MOST) -> tuple[list[Pick], str]:
    """Return what can be chosen from, and in which catalogue something new would go, "" where nothing can be added.

    ``asked``: the list ``for``, of ``procedure``, with the words ``q`` in it; the objects of ``verb`` are of its list.
    """
    name = _of_verb(asked.get("verb", "")) if asked.get("for") == "objects" else asked.get("for", "")
    words = asked.get("q", "").casefold().split()
    choices = dict.fromkeys(_listed(library, library.by_id.get(asked.get("procedure", "")), name))
    fitting = [pick for pick in choices if all(word in " ".join(pick).casefold() for word in words)]
    fitting.sort(key=lambda pick: not pick[0].casefold().startswith(" ".join(words)))
    return fitting[:most], _CATALOGUES.get(name, "")


def about(library: Library, procedure: Procedure | None, name: str, value: str) -> str | None:
    """Return what is said about ``value`` of the list ``name``; None where its values speak for themselves."""
    if name == "sources":
        return _about(library.sources[value]) if value in library.sources else ""
    return dict(_LISTS[name](library, procedure)).get(value, "") if name in _SHORT_NAMES else None


def _listed(library: Library, procedure: Procedure | None, name: str) -> Iterable[Pick]:
    return _LISTS[name](library, procedure) if name in _LISTS else ()


def _of_verb(word: str) -> str:
    """Return the list that the objects of a verb are chosen from."""
    verb = VERBS.get(word)
    if word in ("count", "tell"):
        return "counted" if word == "count" else "roles"
    if verb in ON_STRUCTURES:
        return "structures"
    return "items" if verb in ON_ITEMS else "things"


def _structures(library: Library, _: Procedure | None) -> Iterable[Pick]:
    """The department's own come first."""
    own = set(library.structures)
    ordered = sorted(library.structures.everything(), key=lambda one: (one not in own, str(one.name)))
    return [(str(one.name), one.kind.value) for one in ordered]


def _items(library: Library, procedure: Procedure | None) -> Iterable[Pick]:
    """What is in the kit comes first, then the department's own."""
    kit = {found.id for name in (procedure.kit if procedure else ()) if (found := library.items.find(name))}
    own = set(library.items)
    ordered = sorted(library.items.everything(), key=lambda one: (one.id not in kit, one not in own, str(one.name)))
    return [(str(one.name), f"{one.kind.value}, in the kit" if one.id in kit else one.kind.value) for one in ordered]


def _named(parts: Mapping[str, Any], title: str) -> list[Pick]:
    return [(str(id), str(getattr(part, title))) for id, part in parts.items()]


def _about(source: RawSource) -> str:
    fields = source.fields
    title = plain(fields.get("title", ""))
    year = fields.get("year") or fields.get("date", "")[:4]
    people = source.entry.persons.get("author") or source.entry.persons.get("editor") or []
    author = " ".join(people[0].prelast_names + people[0].last_names) if people else ""
    return ", ".join(part for part in (author, year, title) if part)


@once_per_library
def _register(library: Library) -> list[Pick]:
    """The whole register: it is searched at every key that is pressed."""
    return sorted((str(key), _about(source)) for key, source in library.sources.items())


def _roles(library: Library, _: Procedure | None) -> Iterable[Pick]:
    seen: dict[str, str] = {}
    for role in library.department.call:
        seen.setdefault(str(role.role), "can be called")
    for approver in library.department.approvers:
        seen.setdefault(str(approver), "may approve")
    for procedure in library.procedures:
        seen.setdefault(str(procedure.owner.role), "owns a procedure")
    return seen.items()


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
    "sources": lambda library, _: _register(library),
    "roles": _roles,
    "approvers": lambda library, _: [(str(role), "may approve") for role in library.department.approvers],
    "consents": lambda library, _: [
        ("none needed", "nobody can be recognised"), *((str(one.id), "consent") for one in library.consents),
    ],
    "steps": lambda _, procedure: _named(procedure.steps if procedure else {}, "title"),
    "cautions": lambda library, procedure: _named(
        {**library.shared_cautions, **(procedure.parts.cautions if procedure else {})}, "hazard"
    ),
    "aftercare": lambda library, procedure: _named(
        {**library.shared_aftercare, **(procedure.parts.aftercare if procedure else {})}, "title"
    ),
    "choices": _choices,
    "figures": _figures,
}  # fmt: skip
_SHORT_NAMES = ("steps", "cautions", "aftercare")
_CATALOGUES = {"structures": "structures", "items": "items", "things": "structures"}

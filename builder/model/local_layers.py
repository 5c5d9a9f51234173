"""What the department and its parent have, procedure by procedure, and what an entry names of it."""

from dataclasses import dataclass, field
from typing import NamedTuple

from builder.findings.message_words import listed, quoted
from builder.load.folder import LAID, Loaded, RawFile
from builder.model.local_page import LocalEntry
from builder.model.local_values import Key, Pages, calls_of, department_of, front_of, key_of
from builder.place import Place

SHARED = ""
DEPARTMENT = "department"
PAGES = ("step", "caution", "aftercare")
FORKS = ("choice", "option", "branch")
_VERBS = ("replace", "add", "switch_off")
_TARGETS = ("procedure", *PAGES, "figure", *FORKS)
_OF_DEPARTMENT = ("caution", "aftercare", "call")


class EntryMisfit(Exception):
    """An entry that cannot be carried out; ``message`` and ``hint`` say why and what to do, ``at`` where."""

    def __init__(self, at: Place, message: str, hint: str) -> None:
        super().__init__(message)
        self.at = at
        self.message = message
        self.hint = hint


@dataclass(slots=True)
class LocalHome:
    """One procedure, or what is shared: what the parent has, what the department has, and what comes of it."""

    id: str
    theirs: Pages = field(default_factory=dict)
    own: Pages = field(default_factory=dict)
    pages: Pages = field(default_factory=dict)
    declared: set[Key] = field(default_factory=set)


class LocalTarget(NamedTuple):
    """What an entry names: ``verb`` says what is done to it."""

    verb: str
    kind: str
    id: str


class Layers:
    """Both departments while one is laid over the other: ``homes`` by the id of the procedure, ``rest`` is what of the
    department's own stands in none of them; ``pictures`` and ``calls`` are what comes of both."""

    def __init__(self, own: Loaded, parent: Loaded) -> None:
        self.own = own
        self.parent = parent
        self.homes: dict[str, LocalHome] = {SHARED: LocalHome(SHARED)}
        for file in parent.files:
            if file.kind in ("procedure", *PAGES):
                home = self.homes.setdefault(file.procedure, LocalHome(file.procedure))
                home.theirs[key_of(file)] = home.pages[key_of(file)] = file
        self.pictures = {**parent.pictures, **own.pictures}
        self.rest: list[RawFile] = []
        for file in own.files:
            if file.procedure in self.homes and file.kind in ("procedure", *PAGES):
                self.homes[file.procedure].own[key_of(file)] = file
            else:
                self.rest.append(file)
        self.calls = list(calls_of(front_of(department_of(parent))))


def target_of(home: LocalHome, entry: LocalEntry) -> LocalTarget:
    """Return what an entry does, to which kind of thing, and the id of it. Raises EntryMisfit where it does not say."""
    verbs = [verb for verb in _VERBS if getattr(entry, verb) is not None]
    if len(verbs) != 1:
        hint = (
            f"Write one of {listed(map(quoted, _VERBS), 'or')}, followed by what is changed, such as `step open-canal`."
        )
        raise EntryMisfit(entry.at, f"this entry has {'more than one' if verbs else 'none'} of {listed(_VERBS)}", hint)
    kind, _, id = named_words(entry).partition(" ")
    kinds = _TARGETS if home.id else _OF_DEPARTMENT
    if kind not in kinds or bool(id) != (kind != "procedure"):
        hint = f"Write {listed(map(quoted, kinds), 'or')}, and its id after a space (a procedure has none)."
        raise EntryMisfit(named_at(entry), f"{quoted(named_words(entry))} does not name what is changed", hint)
    return LocalTarget(verbs[0], kind, id.casefold() if kind == "call" else id)


def named_words(entry: LocalEntry) -> str:
    """Return what an entry names, as it is written."""
    return " ".join(str(entry.replace or entry.add or entry.switch_off or "").split())


def named_at(entry: LocalEntry) -> Place:
    """Return where an entry names it."""
    named = entry.replace or entry.add or entry.switch_off
    return named.at if named else entry.at


def key_place(entry: LocalEntry) -> Place:
    """Return where an entry names its key, else what it names."""
    return entry.key.at if entry.key else named_at(entry)


def page_key(kind: str, id: str) -> Key:
    """Return the key of a page; a procedure has one head."""
    return (kind, "procedure" if kind == "procedure" else id)


def words_for(kind: str, id: str) -> str:
    """Return what an entry writes for this page."""
    return kind if kind == "procedure" else f"{kind} {id}"


def name_on(home: LocalHome, kind: str, id: str) -> str:
    """Return the title or hazard of a page."""
    pages = (pages.get(page_key(kind, id)) for pages in (home.theirs, home.own))
    front = next((front_of(page) for page in pages if page is not None), {})
    return " ".join(str(front.get("hazard" if kind == "caution" else "title") or "").split())


def file_for(home: LocalHome, kind: str, id: str) -> str:
    """Return where the department's own file of a page belongs."""
    folder = f"{LAID[0]}{home.id}" if home.id else LAID[1].rstrip("/")
    if kind == "procedure":
        return f"{folder}/procedure.md"
    return f"{folder}/{'aftercare' if kind == 'aftercare' else f'{kind}s'}/{id}.md"

"""Lays a department's own folder over that of its parent, by id, before anything is validated.

What comes of it is one department like any other: the same checks, the same digests, the same outputs. A value that was
replaced has its place in the department's own file, all else in the parent's. Nothing gives way silently: a file of the
department's own in a procedure of the parent needs an entry that says why it is there, and an entry that no longer fits
the parent is an error. What an entry replaces is known by its digest, so that a later change of the parent is seen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple

from builder.findings.finding import Finding
from builder.findings.message_words import listed, mend, quoted
from builder.findings.register import finding
from builder.load.folder import LAID, Loaded, RawFile, kind_of
from builder.load.prose import EMPTY, Prose, read_prose
from builder.model.local_page import HEAD, LocalChange, LocalEntry, LocalPage, ParentDanger
from builder.model.local_sequence import changed as changed_sequence
from builder.model.local_sequence import without_step
from builder.place import WHERE_KEY, Place, Text, Where

SHARED = ""
DEPARTMENT = "department"
PROSE = "prose"
"""The key by which an entry names the prose of a page."""
VERBS = ("replace", "add", "switch_off")
PAGES = ("step", "caution", "aftercare")
FORKS = ("choice", "option", "branch")
_TARGETS = ("procedure", *PAGES, "figure", *FORKS)
_OF_DEPARTMENT = ("caution", "aftercare", "call")
_INHERITED = (
    "language", "paper", "wording", "review", "approvers", "approvals_needed", "levels", "notices_months", "style",
)  # fmt: skip
_LISTED_IN = {"step": ("caution", "guards"), "caution": ("step", "cautions"), "aftercare": ("procedure", "aftercare")}
"""Where the id of a page stands that goes with the page."""
_DIGEST_LENGTH = 16
_LETTERS = str.maketrans("0123456789abcdef", "ghjkmnpqrsabcdef")  # a run of digits is taken for a patient's number
_NOTHING = ""

Key = tuple[str, str]
Pages = dict[Key, RawFile]


@dataclass(frozen=True, slots=True)
class Laid:
    """What came of it: the department as it is to be read, what was changed, and what did not fit."""

    loaded: Loaded
    changes: tuple[LocalChange, ...] = ()
    dangers: tuple[ParentDanger, ...] = ()
    findings: tuple[Finding, ...] = ()


def laid(own: Loaded, parent: Loaded, pages: Mapping[str, LocalPage]) -> Laid:
    """Return ``own`` laid over ``parent``; ``pages`` are the pages of local changes that could be used, by id."""
    return _Layers(own, parent, pages).laid()


class _Misfit(Exception):
    """An entry that cannot be carried out; ``message`` and ``hint`` say why and what to do, ``at`` where."""

    def __init__(self, at: Place, message: str, hint: str) -> None:
        super().__init__(message)
        self.at = at
        self.message = message
        self.hint = hint


@dataclass(slots=True)
class _Home:
    """One procedure, or what is shared: what the parent has, what the department has, and what comes of it."""

    id: str
    theirs: Pages = field(default_factory=dict)
    own: Pages = field(default_factory=dict)
    pages: Pages = field(default_factory=dict)
    declared: set[Key] = field(default_factory=set)


class _Target(NamedTuple):
    """What an entry names: ``verb`` says what is done to it."""

    verb: str
    kind: str
    id: str


class _Layers:
    def __init__(self, own: Loaded, parent: Loaded, pages: Mapping[str, LocalPage]) -> None:
        self.own = own
        self.parent = parent
        self.local = pages
        self.findings: list[Finding] = []
        self.changes: list[LocalChange] = []
        self.homes: dict[str, _Home] = {SHARED: _Home(SHARED)}
        for file in parent.files:
            if file.kind in ("procedure", *PAGES):
                home = self.homes.setdefault(file.procedure, _Home(file.procedure))
                home.theirs[_key(file)] = home.pages[_key(file)] = file
        self.pictures = {**parent.pictures, **own.pictures}
        self.rest: list[RawFile] = []
        for file in own.files:
            if file.procedure in self.homes and file.kind in ("procedure", *PAGES):
                self.homes[file.procedure].own[_key(file)] = file
            else:
                self.rest.append(file)
        self.calls = list(_calls(_front(_department(parent))))

    def laid(self) -> Laid:
        for id, named in self.local.items():
            if id != DEPARTMENT and id not in self.homes:
                hint = mend(id, [home for home in self.homes if home], "Name the file after a procedure of the parent.")
                self._misfit(named.id.at, f"{quoted(id)} is not a procedure of the parent", hint)
        for home in self.homes.values():
            page = self.local.get(home.id or DEPARTMENT)
            for number, entry in enumerate(page.changes if page is not None else ()):
                self._carry_out(home, number, entry)
            self._take_own(home)
            self._put_head(home, page)
        files = [file for file in self.rest if file.kind != "department"]
        files += [file for home in self.homes.values() for file in home.pages.values()]
        files += [file for file in self.parent.files if file.kind in ("structures", "items", "terms", "consents")]
        files += self._departments()
        loaded = replace(
            self.own,
            files=tuple(sorted(files, key=lambda file: file.name.split("/"))),
            sources=self._sources(),
            notices={**self.parent.notices, **self.own.notices},
            texts=self._texts(),
            pictures=self.pictures,
            figures=frozenset(self.pictures),
            broken=self.own.broken | self._broken(),
            lent=self._lent(),
        )
        return Laid(loaded, tuple(self.changes), tuple(self._dangers()), tuple(self.findings))

    def _misfit(self, at: Place, message: str, hint: str, name: str = "local-does-not-fit") -> None:
        self.findings.append(finding(name, at, message, hint))

    # One entry

    def _carry_out(self, home: _Home, number: int, entry: LocalEntry) -> None:
        try:
            change = self._change(home, number, entry, _target(home, entry))
        except _Misfit as misfit:
            self._misfit(misfit.at, misfit.message, misfit.hint)
            return
        self.changes.append(change)

    def _change(self, home: _Home, number: int, entry: LocalEntry, target: _Target) -> LocalChange:
        verb, kind, id = target
        own = ""
        if kind == "call":
            theirs, ours = self._call(entry, verb, id)
        elif kind == "figure":
            theirs, ours = self._figure(home, entry, verb, id)
            own = f"content/procedures/{home.id}/figures/{id}"
        elif kind in FORKS:
            theirs, ours = self._fork(home, entry, verb, kind, id)
        elif entry.key is not None:
            theirs, ours = self._value(home, entry, verb, kind, id)
        else:
            theirs, ours = self._page(home, entry, verb, kind, id)
            if verb != "switch_off":
                file = next((file for key, file in home.own.items() if key == (kind, id)), None)
                own = file.name if file else ""
        return LocalChange(
            home.id, number, verb, kind, id, str(entry.key or ""),
            told(ours), told(theirs), digest_of(theirs), str(entry.was or ""),
            str(entry.because), str(entry.document), entry.date, entry.at, own, _name_of(home, kind, id),
        )  # fmt: skip

    def _value(self, home: _Home, entry: LocalEntry, verb: str, kind: str, id: str) -> tuple[Any, Any]:
        """Change one key of a page."""
        key = _page_key(kind, id)
        self._must_be_theirs(home, entry, kind, id)
        path = str(entry.key).split("/")
        is_prose = path == [PROSE]
        theirs = home.theirs[key].body.source.strip() or None if is_prose else _at(_front(home.theirs[key]), path)
        at = _named(entry)
        if verb == "add" and theirs is not None:
            hint = "Write `replace:` instead of `add:`, or remove the entry."
            raise _Misfit(at, f"{quoted(entry.key)} of the {_words(kind, id)} is already written by the parent", hint)
        if verb != "add" and theirs is None:
            hint = mend(path[0], map(str, _front(home.theirs[key])), "Write `add:`, or name a key that is there.")
            raise _Misfit(_key_at(entry), f"the {_words(kind, id)} of the parent has no key {quoted(entry.key)}", hint)
        ours = None if verb == "switch_off" else self._with(entry)
        page = home.pages[key]
        if is_prose:
            home.pages[key] = replace(page, body=_prose(entry, ours))
        else:
            home.pages[key] = replace(page, front=_put(_front(page), path, ours, entry.where))
        return theirs, ours

    def _with(self, entry: LocalEntry) -> Any:
        if entry.value is None:
            hint = "Add `with:` and what it is to be."
            raise _Misfit(_named(entry), f"{quoted(entry.key or _named_words(entry))} is to become nothing", hint)
        return entry.value

    def _must_be_theirs(self, home: _Home, entry: LocalEntry, kind: str, id: str) -> None:
        key = _page_key(kind, id)
        if key not in home.theirs:
            known = [name for each, name in home.theirs if each == kind]
            hint = mend(id, known, "Correct the id, or remove the entry.")
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is not in the parent", hint)
        if key not in home.pages:
            hint = "Keep one of the two entries."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is switched off by another entry", hint)

    def _page(self, home: _Home, entry: LocalEntry, verb: str, kind: str, id: str) -> tuple[Any, Any]:
        """Replace, add or switch off a whole page."""
        key = _page_key(kind, id)
        own = home.own.get(key)
        if verb == "add":
            if key in home.theirs:
                hint = "Write `replace:` instead of `add:`, or give your own another id."
                raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is already in the parent", hint)
        else:
            self._must_be_theirs(home, entry, kind, id)
        theirs = _NOTHING if verb == "add" else _whole(home.theirs if kind == "procedure" else {key: home.theirs[key]})
        if verb == "switch_off":
            self._switch_off(home, kind, id)
            return theirs, _NOTHING
        if own is None:
            name = _file_of(home, kind, id)
            hint = f"Write {name}, or name with `key:` and `with:` what is to be changed."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} has no file of its own here", hint)
        home.declared.add(key)
        if kind == "procedure":
            home.pages = dict(home.own)
            home.declared |= home.own.keys()
            return theirs, _whole(home.own)
        home.pages[key] = own
        if verb == "add" and kind == "step":
            self._sequence(home, entry, verb, "step", id)
        return theirs, _whole({key: own})

    def _switch_off(self, home: _Home, kind: str, id: str) -> None:
        if kind == "procedure":
            home.pages.clear()
            folder = f"{LAID[0]}{home.id}/"
            self.pictures = {name: seen for name, seen in self.pictures.items() if not name.startswith(folder)}
            return
        del home.pages[_page_key(kind, id)]
        where, name = _LISTED_IN[kind]
        for each in (home,) if home.id else self.homes.values():
            for key, page in each.pages.items():
                each.pages[key] = _without(page, name, id) if key[0] == where else page
        head = home.pages.get(("procedure", "procedure"))
        if kind == "step" and head is not None:
            front = _front(head)
            home.pages["procedure", "procedure"] = replace(
                head, front={**front, "sequence": without_step(front.get("sequence"), id)}
            )

    def _fork(self, home: _Home, entry: LocalEntry, verb: str, kind: str, id: str) -> tuple[Any, Any]:
        """Replace, add or switch off a branch, an option or a choice."""
        if verb != "switch_off" and kind != "branch":
            hint = "Replace the key `sequence` of the procedure, or change one branch of it."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} can only be switched off as a whole", hint)
        ours = None if verb == "switch_off" else self._with(entry)
        return self._sequence(home, entry, verb, kind, id), _NOTHING if ours is None else ours

    def _sequence(self, home: _Home, entry: LocalEntry, verb: str, kind: str, id: str) -> Any:
        head = home.pages.get(("procedure", "procedure"))
        front = _front(head) if head else {}
        try:
            sequence, theirs = changed_sequence(front.get("sequence"), verb, kind, id, entry)
        except LookupError as missing:
            raise _Misfit(_named(entry), *missing.args) from None
        if head is not None:
            home.pages["procedure", "procedure"] = replace(head, front={**front, "sequence": sequence})
        return theirs

    def _figure(self, home: _Home, entry: LocalEntry, verb: str, id: str) -> tuple[Any, Any]:
        """Replace a picture of the parent by one of the same name, or leave it out."""
        name = f"{LAID[0]}{home.id}/figures/{id}"
        if name not in self.parent.pictures or verb == "add":
            hint = "Name a picture of the parent's folder figures/; one of your own needs no entry."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is not a picture of the parent", hint)
        theirs = self.parent.pictures[name]
        if verb == "switch_off":
            self.pictures.pop(name, None)
            return theirs, _NOTHING
        if name not in self.own.pictures:
            hint = f"Put your own picture at {name}."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} has no picture of its own here", hint)
        home.declared.add(("figure", id))
        return theirs, self.own.pictures[name]

    def _call(self, entry: LocalEntry, verb: str, role: str) -> tuple[Any, Any]:
        """Change the number of a role."""
        place = next((at for at, call in enumerate(self.calls) if _role(call) == role), None)
        key = str(entry.key or "number")
        if verb == "add" and place is None:
            ours = self._with(entry)
            at = Text(_named_words(entry).partition(" ")[2], _named(entry))
            self.calls.append({"role": at, key: ours, WHERE_KEY: Where(entry.at).laid(key, entry.where, "with")})
            return _NOTHING, ours
        if place is None:
            hint = mend(role, map(_role, self.calls), "Write `add:`, or name a role of the parent's `call:`.")
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is not in the parent", hint)
        if verb == "add":
            hint = "Write `replace:` instead of `add:`."
            raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} is already in the parent", hint)
        theirs = self.calls[place].get(key)
        if verb == "switch_off":
            return self.calls.pop(place).get(key), _NOTHING
        ours = self._with(entry)
        self.calls[place] = _put(self.calls[place], [key], ours, entry.where)
        return theirs, ours

    # What no entry says

    def _take_own(self, home: _Home) -> None:
        """Say of each file of the department's own in a procedure of the parent that no entry names it."""
        for key, file in home.own.items():
            if key in home.declared:
                continue
            home.pages[key] = file
            if home.id == SHARED and key not in home.theirs:
                continue
            does, verb = ("takes the place of", "replace") if key in home.theirs else ("is added to", "add")
            self._not_declared(home, file.name, does, verb, _words(*key))
        for name in sorted(self.own.pictures.keys() & self.parent.pictures.keys()):
            kind, procedure, id = kind_of(name)
            if procedure == home.id and (kind, id) not in home.declared and home.id:
                picture = name.rpartition("/")[2]
                if ("figure", picture) not in home.declared and ("procedure", "procedure") not in home.declared:
                    self._not_declared(home, name, "takes the place of", "replace", f"figure {picture}")

    def _not_declared(self, home: _Home, name: str, does: str, verb: str, target: str) -> None:
        page = f"content/local/{home.id or DEPARTMENT}.md"
        message = f"{name} {does} what the parent wrote, and no entry says why"
        hint = f"Add `{verb}: {target}` with `because`, `document` and `date` to {page}, or remove the file."
        self._misfit(Place(name), message, hint, "local-not-declared")

    def _put_head(self, home: _Home, page: LocalPage | None) -> None:
        """Put edition, owner, approval and so on of the department's own into a procedure of the parent.

        What the parent has withdrawn stays so until an entry says otherwise.
        """
        head = home.pages.get(("procedure", "procedure"))
        if page is None or head is None or ("procedure", "procedure") in home.declared:
            return
        front, raw = _front(head), self._raw_page(home.id)
        is_withdrawn = front.get("status") == "withdrawn"
        for name in HEAD:
            if raw.get(name) is not None and not (is_withdrawn and name in ("status", "withdrawn")):
                front = _put(front, [name], raw[name], page.where, name)
        home.pages["procedure", "procedure"] = replace(head, front=front)

    def _raw_page(self, id: str) -> dict[str, Any]:
        return next((_front(file) for file in self.own.files if file.kind == "local" and str(file.id) == id), {})

    # What is joined

    def _departments(self) -> Iterator[RawFile]:
        """Yield the department's own page, with what it leaves to the parent to say, and the numbers of both."""
        own, theirs = _department(self.own), _front(_department(self.parent))
        if own is None:
            return
        front = _front(own)
        for name in _INHERITED:
            if name not in front and name in theirs:
                front = _put(front, [name], theirs[name], theirs[WHERE_KEY], name)
        known = {_role(call) for call in _calls(theirs)}
        for call in _calls(front):
            if _role(call) in known:
                page = f"content/local/{DEPARTMENT}.md"
                message = (
                    f"{quoted(call['role'])} has a number in the parent, and no entry says why it has another here"
                )
                hint = f"Move it to `replace: call {call['role']}` with `with: {call.get('number')}` in {page}."
                self._misfit(call["role"].at, message, hint, "local-not-declared")
        if self.calls:
            both = [*_calls(front), *(call for call in self.calls if _role(call) not in set(map(_role, _calls(front))))]
            front = {**front, "call": both}
        yield replace(own, front=front)

    def _sources(self) -> dict[str, Any]:
        """Return the sources of both. Of one that both list, the department's own stands; another work is an error."""
        sources = {**self.parent.sources, **self.own.sources}
        for key in self.parent.sources.keys() & self.own.sources.keys():
            first, second = self.parent.sources[key], self.own.sources[key]
            if (first.type, first.fields) != (second.type, second.fields):
                place = first.key.at
                message = f"{quoted(key)} is already the key of another source in {place.file}, line {place.line}"
                self._misfit(second.key.at, message, "Give your own another key.", "source-key-written-twice")
        return sources

    def _texts(self) -> dict[str, str]:
        used = {file.name for home in self.homes.values() for file in home.pages.values()} | set(self.pictures)
        theirs = {name: text for name, text in self.parent.texts.items() if name in used or not name.startswith(LAID)}
        return {**theirs, **self.own.texts}

    def _lent(self) -> dict[str, tuple[Path, str]]:
        names = self._texts().keys() | self.pictures.keys()
        mine = self.own.texts.keys() | self.own.pictures.keys()
        return {name: place for name, place in self.parent.lent.items() if name in names and name not in mine}

    def _broken(self) -> frozenset[tuple[str, str, str]]:
        """Return the files of the parent that could not be read and that no file of the department's own replaces."""
        mine = {(file.kind, file.procedure, str(file.id)) for file in self.own.files}
        return frozenset(one for one in self.parent.broken if one not in mine)

    def _dangers(self) -> Iterator[ParentDanger]:
        """Yield each danger of the parent that it does not allow a department to leave out."""
        shared = self.homes[SHARED].theirs
        for home in self.homes.values():
            guarded: dict[str, set[str]] = {}
            for (kind, id), page in home.theirs.items():
                for caution in (*_texts_of(page, "cautions"), *_linked(page)) if kind == "step" else ():
                    guarded.setdefault(caution, set()).add(id)
            own = {id: page for (kind, id), page in home.theirs.items() if kind == "caution"}
            shown = {id: shared["caution", id] for id in guarded if ("caution", id) in shared}
            for id, page in {**shown, **own}.items():
                front = _front(page)
                if front.get("signal") == "danger" and front.get("may_be_removed") != "true" and home.id:
                    steps = guarded.get(id, set()) | set(_texts_of(page, "guards")) & {
                        step for kind, step in home.theirs if kind == "step"
                    }
                    hazard = front.get("hazard")
                    words = hazard if isinstance(hazard, Text) else Text(id, Place(page.name))
                    yield ParentDanger(home.id, id, words, tuple(sorted(steps)))


# What an entry names


def _target(home: _Home, entry: LocalEntry) -> _Target:
    """Return what an entry does, to which kind of thing, and the id of it. Raises _Misfit where it does not say."""
    verbs = [verb for verb in VERBS if getattr(entry, verb) is not None]
    if len(verbs) != 1:
        hint = (
            f"Write one of {listed(map(quoted, VERBS), 'or')}, followed by what is changed, such as `step open-canal`."
        )
        raise _Misfit(entry.at, f"this entry has {'more than one' if verbs else 'none'} of {listed(VERBS)}", hint)
    kind, _, id = _named_words(entry).partition(" ")
    kinds = _TARGETS if home.id else _OF_DEPARTMENT
    if kind not in kinds or bool(id) != (kind != "procedure"):
        hint = f"Write {listed(map(quoted, kinds), 'or')}, and its id after a space (a procedure has none)."
        raise _Misfit(_named(entry), f"{quoted(_named_words(entry))} does not name what is changed", hint)
    return _Target(verbs[0], kind, id.casefold() if kind == "call" else id)


def _named_words(entry: LocalEntry) -> str:
    return " ".join(str(entry.replace or entry.add or entry.switch_off or "").split())


def _named(entry: LocalEntry) -> Place:
    named = entry.replace or entry.add or entry.switch_off
    return named.at if named else entry.at


def _key_at(entry: LocalEntry) -> Place:
    return entry.key.at if entry.key else _named(entry)


def _page_key(kind: str, id: str) -> Key:
    return (kind, "procedure" if kind == "procedure" else id)


def _words(kind: str, id: str) -> str:
    return kind if kind == "procedure" else f"{kind} {id}"


def _name_of(home: _Home, kind: str, id: str) -> str:
    """Return the title or hazard of a page."""
    pages = (pages.get(_page_key(kind, id)) for pages in (home.theirs, home.own))
    front = next((_front(page) for page in pages if page is not None), {})
    return " ".join(str(front.get("hazard" if kind == "caution" else "title") or "").split())


def _file_of(home: _Home, kind: str, id: str) -> str:
    folder = f"{LAID[0]}{home.id}" if home.id else LAID[1].rstrip("/")
    if kind == "procedure":
        return f"{folder}/procedure.md"
    return f"{folder}/{'aftercare' if kind == 'aftercare' else f'{kind}s'}/{id}.md"


# Values as they were written


def _key(file: RawFile) -> Key:
    return (file.kind, str(file.id))


def _front(file: RawFile | None) -> dict[str, Any]:
    return file.front if file is not None and isinstance(file.front, dict) else {}


def _department(loaded: Loaded) -> RawFile | None:
    return next((file for file in loaded.files if file.kind == "department"), None)


def _calls(front: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    calls = front.get("call")
    for call in calls if isinstance(calls, list) else ():
        if isinstance(call, dict) and isinstance(call.get("role"), Text):
            yield call


def _role(call: Mapping[str, Any]) -> str:
    return " ".join(str(call.get("role")).split()).casefold()


def _texts_of(page: RawFile, key: str) -> tuple[str, ...]:
    value = _front(page).get(key)
    return tuple(str(one) for one in value if isinstance(one, Text)) if isinstance(value, list) else ()


def _linked(page: RawFile) -> Iterator[str]:
    return (str(target) for link in page.body.links if link.kind == "caution" for target in link.targets)


def _without(page: RawFile, key: str, id: str) -> RawFile:
    """Return ``page`` without ``id`` in the list ``key``."""
    value = _front(page).get(key)
    if not isinstance(value, list) or id not in value:
        return page
    return replace(page, front={**_front(page), key: [one for one in value if one != id]})


def _at(value: Any, path: Iterable[str]) -> Any:
    for part in path:
        value = value.get(part) if isinstance(value, dict) and part != WHERE_KEY else None
    return value


def _prose(entry: LocalEntry, words: Any) -> Prose:
    """Return ``words`` as the prose of a page; more lines than one begin below the key."""
    if words is None:
        return EMPTY
    if not isinstance(words, Text):
        raise _Misfit(_key_at(entry), "the prose of a page is not a text", "Write it below `with: |`, indented.")
    return read_prose(f"{words}\n", words.at.file, words.at.line + ("\n" in words))


def _put(front: dict[str, Any], path: list[str], value: Any, where: Where, written: str = "with") -> dict[str, Any]:
    """Return ``front`` with ``value`` at ``path``, standing where ``written`` does in ``where``; without it where it is
    None."""
    name, rest = path[0], path[1:]
    if rest:
        inner = front.get(name)
        below = inner if isinstance(inner, dict) else {WHERE_KEY: where}
        return {**front, name: _put(below, rest, value, where, written)}
    if value is None:
        return {key: held for key, held in front.items() if key != name}
    places = front.get(WHERE_KEY)
    held = {WHERE_KEY: places.laid(name, where, written)} if isinstance(places, Where) else {}
    return {**front, name: value, **held}


# Values as they are compared and shown


def _whole(pages: Mapping[Key, RawFile]) -> Any:
    """Return all that ``pages`` say."""
    return [[*key, _front(page), page.body.source] for key, page in sorted(pages.items())]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items() if key != WHERE_KEY}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return None if value is None else " ".join(str(value).split())


def digest_of(value: Any) -> str:
    """Return the digest of what the parent says; "" of nothing. How lines are broken does not count."""
    if value in (None, _NOTHING):
        return ""
    text = json.dumps(_plain(value), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_DIGEST_LENGTH]
    return digest.translate(_LETTERS)


def told(value: Any) -> str:
    """Return ``value`` in words, as it is set beside another."""
    if isinstance(value, dict):
        return "; ".join(f"{key}: {told(inner)}" for key, inner in value.items() if key != WHERE_KEY)
    if isinstance(value, list):
        return "; ".join(filter(None, map(told, value)))
    return "" if value is None else " ".join(str(value).split())

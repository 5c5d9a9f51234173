"""Lays a department's own folder over that of its parent, by id, before anything is validated.

What comes of it is one department like any other: the same checks, the same digests, the same outputs. A value that was
replaced has its place in the department's own file, all else in the parent's. Nothing gives way silently: a file of the
department's own in a procedure of the parent needs an entry that says why it is there, and an entry that no longer fits
the parent is an error. What an entry replaces is known by its digest, so that a later change of the parent is seen.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from builder.findings.finding import Finding
from builder.findings.message_words import mend, quoted
from builder.findings.register import finding
from builder.load.folder import LAID, Loaded, RawFile, kind_of
from builder.model.local_changes import carried_out
from builder.model.local_layers import DEPARTMENT, SHARED, EntryMisfit, Layers, LocalHome, words_for
from builder.model.local_page import HEAD, LocalChange, LocalEntry, LocalPage, ParentDanger
from builder.model.local_values import (
    calls_of,
    cautions_linked,
    department_of,
    front_of,
    put_value,
    role_of,
    texts_in,
)
from builder.place import WHERE_KEY, Place, Text

_INHERITED = (
    "language", "paper", "wording", "review", "approvers", "approvals_needed", "levels", "notices_months", "style",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Laid:
    """What came of it: the department as it is to be read, what was changed, and what did not fit."""

    loaded: Loaded
    changes: tuple[LocalChange, ...] = ()
    dangers: tuple[ParentDanger, ...] = ()
    findings: tuple[Finding, ...] = ()


def laid(own: Loaded, parent: Loaded, pages: Mapping[str, LocalPage]) -> Laid:
    """Return ``own`` laid over ``parent``; ``pages`` are the pages of local changes that could be used, by id."""
    return _Laying(own, parent, pages).laid()


class _Laying:
    def __init__(self, own: Loaded, parent: Loaded, pages: Mapping[str, LocalPage]) -> None:
        self.layers = Layers(own, parent)
        self.local = pages
        self.findings: list[Finding] = []
        self.changes: list[LocalChange] = []

    def laid(self) -> Laid:
        for id, named in self.local.items():
            if id != DEPARTMENT and id not in self.layers.homes:
                hint = mend(
                    id, [home for home in self.layers.homes if home], "Name the file after a procedure of the parent."
                )
                self._misfit(named.id.at, f"{quoted(id)} is not a procedure of the parent", hint)
        for home in self.layers.homes.values():
            page = self.local.get(home.id or DEPARTMENT)
            for number, entry in enumerate(page.changes if page is not None else ()):
                self._carry_out(home, number, entry)
            self._take_own(home)
            self._put_head(home, page)
        files = [file for file in self.layers.rest if file.kind != "department"]
        files += [file for home in self.layers.homes.values() for file in home.pages.values()]
        files += [
            file for file in self.layers.parent.files if file.kind in ("structures", "items", "terms", "consents")
        ]
        files += self._translations()
        files += self._departments()
        loaded = replace(
            self.layers.own,
            files=tuple(sorted(files, key=lambda file: file.name.split("/"))),
            sources=self._sources(),
            notices={**self.layers.parent.notices, **self.layers.own.notices},
            texts=self._texts(),
            pictures=self.layers.pictures,
            figures=frozenset(self.layers.pictures),
            broken=self.layers.own.broken | self._broken(),
            lent=self._lent(),
        )
        return Laid(loaded, tuple(self.changes), tuple(self._dangers()), tuple(self.findings))

    def _misfit(self, at: Place, message: str, hint: str, name: str = "local-does-not-fit") -> None:
        self.findings.append(finding(name, at, message, hint))

    def _carry_out(self, home: LocalHome, number: int, entry: LocalEntry) -> None:
        try:
            self.changes.append(carried_out(self.layers, home, number, entry))
        except EntryMisfit as misfit:
            self._misfit(misfit.at, misfit.message, misfit.hint)

    def _translations(self) -> list[RawFile]:
        """Return those of the parent that the department does not have itself."""
        own = {(file.procedure, file.id) for file in self.layers.rest if file.kind == "translation"}
        of_parent = (file for file in self.layers.parent.files if file.kind == "translation")
        return [file for file in of_parent if (file.procedure, file.id) not in own]

    # What no entry says

    def _take_own(self, home: LocalHome) -> None:
        """Say of each file of the department's own in a procedure of the parent that no entry names it."""
        for key, file in home.own.items():
            if key in home.declared:
                continue
            home.pages[key] = file
            if home.id == SHARED and key not in home.theirs:
                continue
            does, verb = ("takes the place of", "replace") if key in home.theirs else ("is added to", "add")
            self._not_declared(home, file.name, does, verb, words_for(*key))
        for name in sorted(self.layers.own.pictures.keys() & self.layers.parent.pictures.keys()):
            kind, procedure, id = kind_of(name)
            if procedure == home.id and (kind, id) not in home.declared and home.id:
                picture = name.rpartition("/")[2]
                if ("figure", picture) not in home.declared and ("procedure", "procedure") not in home.declared:
                    self._not_declared(home, name, "takes the place of", "replace", f"figure {picture}")

    def _not_declared(self, home: LocalHome, name: str, does: str, verb: str, target: str) -> None:
        page = f"content/local/{home.id or DEPARTMENT}.md"
        message = f"{name} {does} what the parent wrote, and no entry says why"
        hint = f"Add `{verb}: {target}` with `because`, `document` and `date` to {page}, or remove the file."
        self._misfit(Place(name), message, hint, "local-not-declared")

    def _put_head(self, home: LocalHome, page: LocalPage | None) -> None:
        """Put edition, owner, approval and so on of the department's own into a procedure of the parent.

        What the parent has withdrawn stays so until an entry says otherwise.
        """
        head = home.pages.get(("procedure", "procedure"))
        if page is None or head is None or ("procedure", "procedure") in home.declared:
            return
        front, raw = front_of(head), self._raw_page(home.id)
        is_withdrawn = front.get("status") == "withdrawn"
        for name in HEAD:
            if raw.get(name) is not None and not (is_withdrawn and name in ("status", "withdrawn")):
                front = put_value(front, [name], raw[name], page.where, name)
        home.pages["procedure", "procedure"] = replace(head, front=front)

    def _raw_page(self, id: str) -> dict[str, Any]:
        return next(
            (front_of(file) for file in self.layers.own.files if file.kind == "local" and str(file.id) == id), {}
        )

    # What is joined

    def _departments(self) -> Iterator[RawFile]:
        """Yield the department's own page, with what it leaves to the parent to say, and the numbers of both."""
        own, theirs = department_of(self.layers.own), front_of(department_of(self.layers.parent))
        if own is None:
            return
        front = front_of(own)
        for name in _INHERITED:
            if name not in front and name in theirs:
                front = put_value(front, [name], theirs[name], theirs[WHERE_KEY], name)
        known = {role_of(call) for call in calls_of(theirs)}
        for call in calls_of(front):
            if role_of(call) in known:
                page = f"content/local/{DEPARTMENT}.md"
                message = (
                    f"{quoted(call['role'])} has a number in the parent, and no entry says why it has another here"
                )
                hint = f"Move it to `replace: call {call['role']}` with `with: {call.get('number')}` in {page}."
                self._misfit(call["role"].at, message, hint, "local-not-declared")
        if self.layers.calls:
            both = [
                *calls_of(front),
                *(call for call in self.layers.calls if role_of(call) not in set(map(role_of, calls_of(front)))),
            ]
            front = {**front, "call": both}
        yield replace(own, front=front)

    def _sources(self) -> dict[str, Any]:
        """Return the sources of both. Of one that both list, the department's own stands; another work is an error."""
        sources = {**self.layers.parent.sources, **self.layers.own.sources}
        for key in self.layers.parent.sources.keys() & self.layers.own.sources.keys():
            first, second = self.layers.parent.sources[key], self.layers.own.sources[key]
            if (first.type, first.fields) != (second.type, second.fields):
                place = first.key.at
                message = f"{quoted(key)} is already the key of another source in {place.file}, line {place.line}"
                self._misfit(second.key.at, message, "Give your own another key.", "source-key-written-twice")
        return sources

    def _texts(self) -> dict[str, str]:
        used = {file.name for home in self.layers.homes.values() for file in home.pages.values()} | set(
            self.layers.pictures
        )
        theirs = {
            name: text for name, text in self.layers.parent.texts.items() if name in used or not name.startswith(LAID)
        }
        return {**theirs, **self.layers.own.texts}

    def _lent(self) -> dict[str, tuple[Path, str]]:
        names = self._texts().keys() | self.layers.pictures.keys()
        mine = self.layers.own.texts.keys() | self.layers.own.pictures.keys()
        return {name: place for name, place in self.layers.parent.lent.items() if name in names and name not in mine}

    def _broken(self) -> frozenset[tuple[str, str, str]]:
        """Return the files of the parent that could not be read and that no file of the department's own replaces."""
        mine = {(file.kind, file.procedure, str(file.id)) for file in self.layers.own.files}
        return frozenset(one for one in self.layers.parent.broken if one not in mine)

    def _dangers(self) -> Iterator[ParentDanger]:
        """Yield each danger of the parent that it does not allow a department to leave out."""
        shared = self.layers.homes[SHARED].theirs
        for home in self.layers.homes.values():
            guarded: dict[str, set[str]] = {}
            for (kind, id), page in home.theirs.items():
                for caution in (*texts_in(page, "cautions"), *cautions_linked(page)) if kind == "step" else ():
                    guarded.setdefault(caution, set()).add(id)
            own = {id: page for (kind, id), page in home.theirs.items() if kind == "caution"}
            shown = {id: shared["caution", id] for id in guarded if ("caution", id) in shared}
            for id, page in {**shown, **own}.items():
                front = front_of(page)
                if front.get("signal") == "danger" and front.get("may_be_removed") != "true" and home.id:
                    steps = guarded.get(id, set()) | set(texts_in(page, "guards")) & {
                        step for kind, step in home.theirs if kind == "step"
                    }
                    hazard = front.get("hazard")
                    words = hazard if isinstance(hazard, Text) else Text(id, Place(page.name))
                    yield ParentDanger(home.id, id, words, tuple(sorted(steps)))

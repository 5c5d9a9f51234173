"""One draft out of several experts' texts: what the first says stands, what another adds is put in with ``said_by``,
and what they say differently is left to be chosen, in the notes."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.draft.experts import STEP_TEXTS, Deed, Expert, SideBySide, is_same_deed
from builder.edit.file_change import Value
from builder.edit.file_text import FileText, plain_ends
from builder.edit.forms.form_files import place_in_sequence
from builder.edit.ids import free
from builder.edit.operations import new_text
from builder.findings.message_words import quoted
from builder.model.action import VERBS
from builder.model.action import action as made_action
from builder.model.fields import NOT_SAID, Page
from builder.model.pages import Step

_LINK = re.compile(
    r"\[(?P<words>[^\]\n]*)\]\((?P<kind>step|caution|aftercare|figure|source|procedure):(?P<ids>[^)\s]*)\)"
)
_NOT_MERGED = frozenset({"figure", "accept", "approval", "withdrawn", "authors", "review_by", "heard_at", "said_by"})
_FOLDERS = {"step": "steps", "caution": "cautions", "aftercare": "aftercare"}

Front = dict[str, Any]


@dataclass
class _Merged:
    """What the draft grows into: files by name below its folder, and lines for the notes."""

    files: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def merged(side: SideBySide, title: str, sources: frozenset[str]) -> dict[str, str]:
    """Return the files of the draft called ``title``, by their names below its folder.

    ``sources`` are the keys of the register of the department that it is for; others are named in the notes.
    """
    return _Merger(side, title, sources).made()


class _Merger:
    def __init__(self, side: SideBySide, title: str, sources: frozenset[str]) -> None:
        self.side = side
        self.title = title
        self.sources = sources
        self.by_name = {expert.name: expert for expert in side.experts}
        self.out = _Merged()
        self.ids: dict[tuple[str, str, str], str] = {}
        """By the name of the expert, kind and id there: the id in the draft."""

    def made(self) -> dict[str, str]:
        groups: list[tuple[str, dict[str, list[Page]]]] = [
            ("step", {name: list(steps) for name, steps in row.steps.items()}) for row in self.side.rows
        ]
        groups += [("caution", {name: [page] for name, page in group.items()}) for group in self.side.cautions]
        groups += [("aftercare", {name: [page] for name, page in group.items()}) for group in self.side.aftercare]
        for kind, group in groups:
            taken = {id for (_, of, _), id in self.ids.items() if of == kind}
            id = free(str(next(iter(group.values()))[0].id), taken)
            for name, pages in group.items():
                self.ids |= {(name, kind, str(page.id)): id for page in pages}
        for kind, group in groups:
            self._write(kind, group)
        self._write_procedure()
        self._write_notes()
        return self.out.files

    def _write(self, kind: str, group: Mapping[str, list[Page]]) -> None:
        """Write one step, caution or aftercare item: the first text, with what only others say put in."""
        first = next(iter(group))
        own, *more = group[first]
        front, body = self._front(first, own)
        id = self.ids[first, kind, str(own.id)]
        for name, page in [*((first, page) for page in more), *((n, p) for n in list(group)[1:] for p in group[n])]:
            other, prose = self._front(name, page)
            self._add(front, other, name, id)
            if prose.strip() and prose.strip() != body.strip():
                self.out.notes.append(f"{id}, prose of {name}: {' '.join(prose.split())}")
        if kind == "step":
            self._say_who_did(front, group)
        front |= {"proposed": "true", "said_by": list(group)}
        self.out.files[f"{_FOLDERS[kind]}/{id}.md"] = new_text(kind, front, body)

    def _add(self, front: Front, other: Front, name: str, id: str) -> None:
        for key, value in other.items():
            if key == "actions":
                front["actions"] = _woven(front.get("actions") or [], value, self.by_name[name])
            elif key not in front or front[key] in (None, NOT_SAID):
                front[key] = value
                if key in STEP_TEXTS:
                    self.out.notes.append(f"{id}, {key}: only {name} said it.")
            elif isinstance(front[key], list) and isinstance(value, list):
                front[key] = [*front[key], *(one for one in value if one not in front[key])]
            elif front[key] != value and key in (*STEP_TEXTS, "hazard", "consequence", "avoid", "sign", "when",
                                                 "if_it_happens", "signal", "dose", "patient_text"):  # fmt: skip
                self.out.notes.append(
                    f"{id}, {key}, to choose: {name} says {quoted(_told(value))} for {quoted(_told(front[key]))}."
                )

    def _say_who_did(self, front: Front, group: Mapping[str, list[Page]]) -> None:
        """Write ``said_by`` on each action that not all who have the step said."""
        for action in front.get("actions") or []:
            deeds = list(_deeds(self.side.experts[0], action))
            who = [
                name for name, pages in group.items()
                if any(self._does(name, page, deeds) for page in pages if isinstance(page, Step))
            ]  # fmt: skip
            if who and len(who) < len(group):
                action["said_by"] = who

    def _does(self, name: str, step: Step, deeds: Iterable[Deed]) -> bool:
        own = self.by_name[name].deeds(step)
        return all(any(is_same_deed(deed, one) for one in own) for deed in deeds)

    def _front(self, name: str, page: Page) -> tuple[Front, str]:
        """Return front matter and prose of a page of one expert, with the ids of the draft."""
        expert = self.by_name[name]
        sheet = FileText.cut(plain_ends(expert.library.texts[page.file]))
        front: Front = dict(sheet.data) if isinstance(sheet.data, dict) else {}
        id = str(page.id)
        if "figure" in front:
            self.out.notes.append(f"{id}: the figure of {name} was left in its folder; put it in.")
        front = {key: value for key, value in front.items() if key not in _NOT_MERGED}
        for key, kind in (("cautions", "caution"), ("guards", "step"), ("goes_with", "aftercare")):
            if isinstance(front.get(key), list):
                ids = [self.ids.get((name, kind, str(one))) for one in front[key]]
                front[key] = list(dict.fromkeys(one for one in ids if one))
                if not front[key]:
                    del front[key]
        self._keep_known(front, name, id)
        return front, _LINK.sub(lambda match: self._link(match, name), sheet.body)

    def _keep_known(self, front: Front, name: str, id: str) -> None:
        """Keep the sources that the register has, and name the others."""
        cited = front.get("evidence")
        if isinstance(cited, list):
            known = [one for one in cited if str(one.get("source") if isinstance(one, dict) else one) in self.sources]
            if len(known) < len(cited):
                self.out.notes.append(f"{id}: {name} cites sources that are not in references/: {_told(cited)}")
            front["evidence"] = known
            if not known:
                del front["evidence"]
                front.setdefault("common_practice", "true")

    def _link(self, match: re.Match[str], name: str) -> str:
        kind, ids = match["kind"], match["ids"].split(",")
        if kind in _FOLDERS:
            new = [self.ids.get((name, kind, one)) for one in ids]
        else:
            new = [one if kind == "source" and one in self.sources else None for one in ids]
        kept = ",".join(one for one in new if one)
        return f"[{match['words']}]({kind}:{kept})" if kept else match["words"]

    def _write_procedure(self) -> None:
        first = self.side.experts[0]
        front, body = self._front(first.name, first.procedure)
        placed: Any = _renamed(front["sequence"], {
            old: new for (name, kind, old), new in self.ids.items() if name == first.name and kind == "step"
        })  # fmt: skip
        before = ""
        for row in self.side.rows:
            name, steps = next(iter(row.steps.items()))
            id = self.ids[name, "step", str(steps[0].id)]
            if place_in_sequence(placed, id, ()) is None:
                placed = _after(placed, before, id)
            before = id
        kit: dict[str, int] = {}
        lines: list[str] = []
        for expert in self.side.experts:
            for item, number in expert.procedure.kit.items():
                entry = first.library.items.find(str(item))
                kit[str(entry.name if entry else item)] = max(number, kit.get(str(entry.name if entry else item), 0))
            lines += [str(line) for line in expert.procedure.before_you_start if str(line) not in lines]
            if expert is not first and any(not isinstance(one, str) for one in _raw_sequence(expert)):
                self.out.notes.append(f"{expert.name} parts the way in the sequence; the draft follows {first.name}.")
        front |= {"title": self.title, "status": "draft", "edition": "0.1", "sequence": placed, "proposed": "true"}
        front |= {"kit": {item: str(number) for item, number in kit.items()}} if kit else {}
        front |= {"before_you_start": lines} if lines else {}
        front.pop("aftercare", None)
        self.out.files["procedure.md"] = new_text("procedure", front, body)

    def _write_notes(self) -> None:
        told = [f"- {line}" for line in self.side.gap_list()]
        only = [
            f"- {point.kind}: {point.words} ({', '.join(point.who)})"
            for point in self.side.points
            if len(point.who) == 1
        ]
        choose = [f"- [ ] {line}" for line in self.out.notes]
        parts = [f"# Notes on {self.title}: never published", "## What each left out", *told]
        parts += ["## What only one says", *only] if only else []
        parts += ["## To choose and to put in", *choose] if choose else []
        text = "".join(f"\n{line}\n\n" if line.startswith("## ") else f"{line}\n" for line in parts)
        self.out.files["notes.md"] = text


def _deeds(expert: Expert, action: Front) -> Iterator[tuple[str, str]]:
    verb = next(key for key in action if key in VERBS)
    objects = action[verb] if isinstance(action[verb], list) else [action[verb]]
    return expert.deeds_of(made_action(verb, *map(str, objects)))


def _woven(actions: list[Front], others: list[Front], expert: Expert) -> list[Front]:
    """Return ``actions`` with those of another expert that are not among them, each behind the one it followed."""
    woven = [dict(action) for action in actions]
    place = 0
    for other in others:
        deeds = set(_deeds(expert, other))
        same = [
            number
            for number, action in enumerate(woven)
            if any(is_same_deed(one, own) for one in _deeds(expert, action) for own in deeds)
        ]
        if same:
            place = next((number for number in same if number >= place), same[-1]) + 1
        else:
            woven.insert(place, dict(other))
            place += 1
    return woven


def _renamed(value: Value, ids: Mapping[str, str]) -> Value:
    """Return a raw sequence with the steps by their new ids."""
    if isinstance(value, list):
        return [ids.get(one, one) if isinstance(one, str) else _renamed(one, ids) for one in value]
    if isinstance(value, dict):
        return {key: _renamed(inner, ids) for key, inner in value.items()}
    return value


def _after(sequence: Any, before: str, id: str) -> Any:
    """Return the raw ``sequence`` with ``id`` behind ``before``, at the beginning where that is nowhere."""
    found = place_in_sequence(sequence, before, ()) if before else None
    path, number = found or ((), -1)
    return _put(sequence, path, number + 1, id)


def _put(value: Any, path: tuple[str | int, ...], number: int, id: str) -> Any:
    if not path:
        return [*value[:number], id, *value[number:]]
    inner = _put(value[path[0]], path[1:], number, id)
    if isinstance(value, dict):
        return {**value, path[0]: inner}
    return [inner if place == path[0] else one for place, one in enumerate(value)]


def _raw_sequence(expert: Expert) -> Iterable[Any]:
    data = FileText.cut(plain_ends(expert.library.texts[expert.procedure.file])).data
    return data["sequence"] if isinstance(data, dict) and isinstance(data.get("sequence"), list) else ()  # type: ignore[return-value]


def _told(value: Any) -> str:
    return value if isinstance(value, str) else str(value)

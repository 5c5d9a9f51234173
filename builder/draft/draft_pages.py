"""The files of a proposal as text: front matter and prose of each page, and the notes."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import yaml

from builder.draft.proposal import (
    ListParagraph,
    Proposal,
    ProposedAction,
    ProposedAftercare,
    ProposedCaution,
    ProposedParting,
    ProposedStep,
)
from builder.draft.told_file import TOLD, told_text
from builder.edit.ids import slug
from builder.model.sequence import AS_TOLD

EDITION = "0.1"


def pages(proposal: Proposal, figures: Mapping[str, list[dict[str, Any]]] | None = None) -> dict[str, str]:
    """Return the text of each file by its path below the procedure's folder.

    ``figures``: the figures of a step, by its id, as front matter holds them.
    """
    write = _DraftWriter(proposal.is_markdown)
    shown = figures or {}
    return {
        "procedure.md": write.procedure(proposal),
        "notes.md": notes(proposal, write),
        TOLD: told_text(proposal.told),
        **{f"steps/{step.id}.md": write.step(step, shown.get(step.id, [])) for step in _steps(proposal)},
        **{f"cautions/{caution.id}.md": write.caution(caution) for caution in proposal.cautions},
        **{f"aftercare/{item.id}.md": write.aftercare(item) for item in proposal.aftercare},
    }


def _steps(proposal: Proposal) -> tuple[ProposedStep, ...]:
    return (*proposal.steps, *(step for parting in proposal.partings for step in parting.steps))


def _sequence(proposal: Proposal) -> Iterator[str | dict[str, Any]]:
    for step in proposal.steps:
        yield step.id
        yield from (_parting(parting) for parting in proposal.partings if parting.after == step.id)


def _parting(parting: ProposedParting) -> dict[str, Any]:
    """Return an option or a choice as the sequence holds it; the other branch of a choice goes on as it was told."""
    step = parting.steps[0]
    head = {"id": f"{step.id}-{parting.kind}", "title": step.title, **({"when": parting.when} if parting.when else {})}
    if parting.kind == "option":
        return {"option": {**head, "steps": [step.id]}}
    between = {step.id: [step.id] for step in parting.steps}
    return {"choose": {**head, "between": between if len(between) > 1 else {AS_TOLD: [], **between}}}


def catalogue_pages(proposal: Proposal) -> dict[str, str]:
    """Return the text of each file of new catalogue entries, by its path below the department's folder."""
    pages = {}
    for name, of_structures in (("structures", True), ("items", False)):
        lines = [
            f"- {{id: {slug(entry.name)}, name: {entry.name}, kind: {entry.kind}}}"
            for entry in proposal.entries
            if entry.is_structure is of_structures
        ]
        if lines:
            head = f"# Proposed by the draft of {proposal.id}. Check names and kinds; move what is right to {name}.yml."
            pages[f"content/catalogue/{name}-proposed-{proposal.id}.yml"] = "\n".join([head, *lines, ""])
    return pages


class _Dumper(yaml.SafeDumper):
    """Indents lists below their key, as the manual shows them, and writes what appears twice in full."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:  # noqa: ARG002
        return super().increase_indent(flow, False)

    def ignore_aliases(self, data: Any) -> bool:  # noqa: ARG002
        return True


class _DraftWriter:
    def __init__(self, is_markdown: bool) -> None:
        self.is_markdown = is_markdown

    def procedure(self, proposal: Proposal) -> str:
        front = {
            "title": proposal.title,
            "specialty": proposal.specialty,
            "setting": proposal.setting,
            "side": proposal.side,
            "edition": EDITION,
            "status": "draft",
            "proposed": True,
            "owner": {"name": proposal.owner[0], "role": proposal.owner[1]},
            "before_you_start": list(proposal.before),
            "kit": dict(proposal.kit),
            "sequence": list(_sequence(proposal)),
        }
        return self.page(front, proposal.body)

    def step(self, step: ProposedStep, figures: list[dict[str, Any]]) -> str:
        keys = "title proposed heard_at critical basis whose minutes actions cue if_not why at_risk cautions figure"
        minutes, actions = int(step.minutes) if step.minutes else None, [_action(action) for action in step.actions]
        return self.page(_front(step, keys, minutes=minutes, actions=actions, figure=figures), step.body)

    def caution(self, caution: ProposedCaution) -> str:
        keys = "signal proposed heard_at hazard consequence avoid if_it_happens guards at_risk"
        return self.page(_front(caution, keys), caution.body)

    def aftercare(self, item: ProposedAftercare) -> str:
        when = {"from": item.start, "until": item.until} if item.until else {"from": item.start}
        return self.page(_front(item, "title proposed heard_at when concerns", when=when), item.body)

    def page(self, front: Mapping[str, Any], body: Iterable[str]) -> str:
        """Return a page; what is empty is left out."""
        kept = {key: value for key, value in front.items() if value not in ("", None, [], (), {}, False)}
        told = yaml.dump(kept, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=10_000)
        prose = self.body(body)
        return f"---\n{told}---\n{prose}\n" if prose else f"---\n{told}---\n"

    def body(self, paragraphs: Iterable[str]) -> str:
        """Return paragraphs with an empty line between them, and items of a list one below the other."""
        text, was_item = "", False
        for paragraph in paragraphs:
            is_item = isinstance(paragraph, ListParagraph)
            text += "" if not text else "\n" if is_item and was_item else "\n\n"
            text += f"- {self.prose(paragraph)}" if is_item else self.prose(paragraph)
            was_item = is_item
        return text

    def prose(self, text: str) -> str:
        """Return ``text`` so that Markdown shows it as it was written."""
        if not self.is_markdown:
            text = re.sub(r"([\\`*_\[\]]|(?<=\])\()", r"\\\1", text)
        else:
            # A link of our own form would point at a step or source that only the source of the draft knew.
            text = re.sub(r"\]\((?=\s*[a-z]+:(?!//))", r"]\\(", text)
        text = re.sub(r"<(?=[A-Za-z/!?])", "&lt;", text)
        return re.sub(r"^(\s*)(#{1,6}\s|[-+>]|\d+[.)](?=\s)|={3,}|~{3,})", _escaped, text, flags=re.MULTILINE)


def step_page(step: ProposedStep) -> str:
    """Return the text of a step that a reader makes of a sentence."""
    return _DraftWriter(is_markdown=False).step(step, [])


def caution_page(caution: ProposedCaution) -> str:
    """Return the text of a caution that a reader makes of a sentence."""
    return _DraftWriter(is_markdown=False).caution(caution)


def aftercare_page(item: ProposedAftercare) -> str:
    """Return the text of an aftercare item that a reader makes of a sentence."""
    return _DraftWriter(is_markdown=False).aftercare(item)


def as_written(text: str) -> str:
    """Return words as prose holds them."""
    return _DraftWriter(is_markdown=False).prose(text)


def _front(page: object, keys: str, **own: Any) -> dict[str, Any]:
    """Return what ``page`` says under ``keys``, in their order; ``own`` is said in place of it."""
    own["proposed"] = True
    return {key: own[key] if key in own else getattr(page, key) for key in keys.split()}


def _escaped(match: re.Match[str]) -> str:
    sign = match[2]
    return f"{match[1]}{sign[:-1]}\\{sign[-1]}" if sign[0].isdigit() else f"{match[1]}\\{sign}"


def _action(action: ProposedAction) -> dict[str, Any]:
    objects = action.objects[0] if len(action.objects) == 1 else list(action.objects)
    return {action.verb: objects, **dict(action.more), "proposed": True}


def notes(proposal: Proposal, write: _DraftWriter | None = None) -> str:
    """Return the notes: what was placed nowhere, what was not understood, and what to add to the catalogues."""
    writer = write or _DraftWriter(proposal.is_markdown)
    parts = [part for part in _notes(proposal, writer) if part]
    return "\n".join(["# Notes on the draft: never published\n", *parts])


def _notes(proposal: Proposal, write: _DraftWriter) -> Iterator[str]:
    if proposal.notes:
        lines = [f"- {note.at}: {write.prose(note.text)}" for note in proposal.notes]
        yield _section(f"Not placed, from {proposal.form.value}", lines)
    read = [f"- {note.at}: {write.prose(note.text)}" for note in proposal.read_for]
    yield _section("Read for the kit, and headings", read)
    proposed = {slug(entry.name) for entry in proposal.entries}
    yield _section(
        "Not understood: not in a catalogue",
        [_strange(name.words, name.at, name.times, name.near) for name in proposal.not_understood],
    )
    yield _section(
        "Where the name is right, copy it to structures.yml or items.yml in content/catalogue/ and add its kind",
        [_entry(name.words) for name in proposal.not_understood if slug(name.words) not in proposed],
    )
    yield _section(
        "Perhaps misheard",
        [f'- {heard.at}: heard "{heard.words}", meant "{heard.name}"?' for heard in proposal.misheard],
    )
    yield _section(
        "Abbreviations for content/catalogue/terms.yml",
        [f"- {{short: {term.short}, long: {term.long or 'not said'}}}" for term in proposal.abbreviations],
    )
    yield _section("Left out", [f"- {left}" for left in proposal.left_out])


def _section(title: str, lines: list[str]) -> str:
    return "\n".join([f"## {title}\n", *lines, ""]) if lines else ""


def _entry(words: str) -> str:
    name = " ".join(words.split())
    return f"- {{id: {slug(name) or 'name'}, name: {name}, kind: }}"


def _strange(words: str, at: str, times: int, near: tuple[str, ...]) -> str:
    often = f", {times} times" if times > 1 else ""
    close = f"; nearest: {', '.join(near)}" if near else ""
    return f"- {words} ({at}{often}){close}"

"""Findings as the preview shows them: beside the place they concern, with the line they stand in."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import PurePosixPath

from builder.compose.reading.found_view import is_waiting, mending_of
from builder.edit.forms.field_words import in_form
from builder.edit.forms.form_files import target_of
from builder.findings.finding import Finding, Refused, Severity
from builder.load.files import read_bytes
from builder.load.folder import kind_of
from builder.load.limits import MAX_SOURCES_BYTES
from builder.model.pages import Procedure
from builder.place import Place
from builder.preview.state import State
from builder.preview.workshop import Workshop

_AROUND = 2
_WIDEST = 160
_MOST = 200
"""Notes on one page: who has more has one cause for many of them."""
FileLine = tuple[int, str, bool]
"""A line of a file: its number, its text, and whether it is the one that is meant."""
_PARTS = ("step", "caution", "aftercare", "figure")
_KEYS = {
    "before_you_start": "before", "kit": "kit", "sequence": "steps", "aftercare": "aftercare", "evidence": "why",
    "figure": "why",
}  # fmt: skip
"""Where on the page the keys of procedure.md are shown; the rest stands in its head."""


@dataclass(frozen=True, slots=True)
class PlaceLink:
    """A place in a file, with the addresses of its text, its form and the educator's editor; "" where there is none.

    ``command`` tells whether the editor is a command, which the preview starts.
    """

    at: Place
    title: str
    text: str
    form: str
    editor: str
    command: bool


@dataclass(frozen=True, slots=True)
class FindingNote:
    """A finding beside its place. ``anchor`` is the id of that place on page and papers, "" where it has none."""

    number: int
    finding: Finding
    anchor: str
    link: PlaceLink
    also: tuple[tuple[str, str], ...]
    lines: tuple[FileLine, ...]
    mend: str

    @property
    def key(self) -> str:
        """What the same finding has at each check, so that it stays open where it was opened."""
        return f"{self.finding.name} {self.finding.at.file} {self.finding.message}"


def notes_of(workshop: Workshop, state: State, procedure: Procedure) -> tuple[FindingNote, ...]:
    """Return what was found in ``procedure`` and in the shared parts that it uses, gravest first.

    What a screen of its own asks is left out: on page and papers it would stand in front of all else.
    """
    own, parts = f"content/procedures/{procedure.id}/", frozenset(parts_of(procedure).values())
    here = (finding for finding in state.findings if finding.at.file.startswith(own) or finding.at.file in parts)
    findings = [finding for finding in here if not is_waiting(finding)]
    return _notes(workshop, state, findings, procedure)


def notes_elsewhere(workshop: Workshop, state: State) -> tuple[FindingNote, ...]:
    """Return what was found outside the folders of the procedures that there are, gravest first."""
    homes = tuple(f"content/procedures/{id}/" for id in state.library.by_id)
    findings = [finding for finding in state.findings if not finding.at.file.startswith(homes)]
    return _notes(workshop, state, findings, None)


def _notes(
    workshop: Workshop, state: State, findings: Iterable[Finding], procedure: Procedure | None
) -> tuple[FindingNote, ...]:
    gravest = list(Severity).index

    @cache
    def lines_of(name: str) -> tuple[str, ...]:
        return text_lines(workshop, name) if name in state.names else ()

    def note(number: int, finding: Finding) -> FindingNote:
        anchor = anchor_of(procedure, finding.at) if procedure else ""
        also = tuple((_text(workshop, other.at), other.message) for other in finding.also if other.at.file)
        lines = lines_of(finding.at.file)
        first = max(0, min(finding.at.line, len(lines)) - 1 - _AROUND)
        around = numbered(lines, finding.at.line)[first : first + 2 * _AROUND + 1]
        mend = f"{workshop.home}/{mending_of(finding)}"
        finding = in_form(finding, kind_of(finding.at.file)[0])
        return FindingNote(number, finding, anchor, link_to(workshop, state, finding.at), also, around, mend)

    ordered = sorted(findings, key=lambda finding: gravest(finding.severity))  # they come in order of place
    return tuple(note(number, finding) for number, finding in enumerate(ordered[:_MOST], start=1))


def link_to(workshop: Workshop, state: State, at: Place) -> PlaceLink:
    """Return how the place ``at`` can be opened: not at all where it is in no file that was read."""
    title = title_of(at.file)
    if at.file not in state.names:
        return PlaceLink(at, title, "", "", "", command=False)
    form = f"{workshop.home}/edit/{at.file}" if target_of(at.file) else ""
    editor = workshop.editor
    address = editor.address(workshop.root, at)
    is_command = bool(editor.how) and not editor.is_address
    return PlaceLink(at, f"{title}, line {at.line}", _text(workshop, at), form, address, is_command)


def title_of(file: str) -> str:
    """Return a short name for ``file``, as its reader knows it."""
    return re.sub(r"^content/(?:procedures/[^/]+/)?", "", file) or "the folder"


def _text(workshop: Workshop, at: Place) -> str:
    return f"{workshop.home}/file/{at.file}?line={at.line}&column={at.column}#line-{at.line}"


def text_lines(workshop: Workshop, name: str) -> tuple[str, ...]:
    """Return the lines of a file of the department, as far as they can be shown; none where it cannot be read."""
    try:
        content = read_bytes(workshop.root, name, MAX_SOURCES_BYTES)
    except Refused:
        return ()
    text = content.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    shown = "".join(sign if sign.isprintable() or sign in "\t\n" else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return tuple(line if len(line) <= _WIDEST else f"{line[:_WIDEST]}…" for line in shown.split("\n"))


def numbered(lines: tuple[str, ...], line: int) -> tuple[FileLine, ...]:
    """Return ``lines`` with their numbers, of which ``line`` is the one that is meant."""
    return tuple((number, text, number == line) for number, text in enumerate(lines, start=1))


def parts_of(procedure: Procedure) -> Mapping[str, str]:
    """Return the file of each part of ``procedure`` by the id that it has on page and papers."""
    parts = {"step": procedure.steps, "caution": procedure.cautions, "aftercare": procedure.aftercare_items}
    return {f"{kind}-{id}": part.file for kind, by_id in parts.items() for id, part in by_id.items()}


def anchor_of(procedure: Procedure, at: Place) -> str:
    """Return the id that the part has on page and papers in which ``at`` stands; "" where it has none."""
    kind, _, id = kind_of(at.file)
    if kind in _PARTS:
        return f"{kind}-{PurePosixPath(id).stem}"
    if kind != "procedure":
        return ""
    if procedure.body.source.strip() and at.line >= procedure.body.at.line:
        return "why"
    lines = {key: procedure.where.key(key).line for key in type(procedure).model_fields}
    before = [key for key, line in lines.items() if procedure.where.start.line < line <= at.line]
    return _KEYS.get(max(before, key=lines.__getitem__), "") if before else ""


def place_on(anchors: Mapping[str, float], anchor: str) -> float | None:
    """Return how far down (0 to 1) the part ``anchor`` lies, of the ``anchors`` of one side; None where it does not."""
    if not anchor:
        return None
    if anchor in anchors:
        return anchors[anchor]
    longer = [name for name in anchors if name.startswith(f"{anchor}-") or name.endswith(f"-{anchor}")]
    return min((anchors[name] for name in longer), default=None)

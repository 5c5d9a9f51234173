"""Findings as the preview shows them: beside the place they concern, with the line they stand in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builder.findings.finding import Finding, Refused, Severity
from builder.load.files import read_bytes
from builder.load.limits import MAX_SOURCES_BYTES
from builder.model.pages import Procedure
from builder.place import Place
from builder.preview.anchors import anchor_of, concerns, edited_by_form, title_of
from builder.preview.state import State
from builder.preview.workshop import Workshop

_AROUND = 2
_WIDEST = 160
_WORDS = {Severity.ERROR: "Error", Severity.WARNING: "Warning", Severity.NOTE: "Note"}
_MOST = 200
"""Notes on one page: who has more has one cause for many of them."""


@dataclass(frozen=True, slots=True)
class FileLine:
    """A line of a file: its ``number``, its text, and whether it is the one a finding stands in."""

    number: int
    text: str
    is_it: bool


@dataclass(frozen=True, slots=True)
class FindingNote:
    """A finding beside its place. ``anchor`` is the id of that place on page and papers, "" where it has none."""

    number: int
    severity: str
    word: str
    check: str
    message: str
    hint: str
    way: tuple[str, ...]
    also: tuple[tuple[str, str], ...]
    where: str
    anchor: str
    key: str
    lines: tuple[FileLine, ...]
    path: str
    file: str
    form: str
    editor: str
    command: bool
    line: int
    column: int


def notes_of(workshop: Workshop, state: State, procedure: Procedure) -> tuple[FindingNote, ...]:
    """Return what was found in ``procedure``, gravest first."""
    found = [one for one in state.findings if concerns(one.at.file, procedure)]
    return _Maker(workshop, state).notes(found, procedure)


def notes_elsewhere(workshop: Workshop, state: State) -> tuple[FindingNote, ...]:
    """Return what was found outside the folders of the procedures that there are, gravest first."""
    homes = tuple(f"content/procedures/{id}/" for id in state.library.by_id)
    found = [one for one in state.findings if not one.at.file.startswith(homes)]
    return _Maker(workshop, state).notes(found, None)


class _Maker:
    def __init__(self, workshop: Workshop, state: State) -> None:
        self.workshop = workshop
        self.state = state
        self.texts: dict[str, tuple[str, ...]] = {}

    def notes(self, found: Iterable[Finding], procedure: Procedure | None) -> tuple[FindingNote, ...]:
        ordered = sorted(found, key=lambda one: (list(Severity).index(one.severity), one.sort_key()))
        return tuple(self.note(number, one, procedure) for number, one in enumerate(ordered[:_MOST], start=1))

    def note(self, number: int, one: Finding, procedure: Procedure | None) -> FindingNote:
        home, file = self.workshop.home, one.at.file
        known = file in self.state.names
        editor = self.workshop.editor
        return FindingNote(
            number=number,
            severity=one.severity.value,
            word=_WORDS[one.severity],
            check=one.name,
            message=one.message,
            hint=one.hint,
            way=one.path,
            also=tuple((f"{home}/{file_address(second.at)}", second.message) for second in one.also if second.at.file),
            where=f"{title_of(file)}, line {one.at.line}" if known else title_of(file),
            anchor=anchor_of(procedure, one.at) if procedure is not None else "",
            key=f"{one.name} {file} {one.message}",
            lines=self.around(one.at) if known else (),
            path=file,
            file=f"{home}/{file_address(one.at)}" if known else "",
            form=f"{home}/edit/{file}" if known and edited_by_form(file) else "",
            editor=editor.address(self.workshop.root, file, one.at.line, one.at.column) if known else "",
            command=known and bool(editor.how) and not editor.is_address,
            line=one.at.line,
            column=one.at.column,
        )

    def around(self, at: Place) -> tuple[FileLine, ...]:
        """Return the lines around ``at``."""
        if at.file not in self.texts:
            self.texts[at.file] = text_lines(self.workshop, at.file)
        lines = self.texts[at.file]
        first = max(0, min(at.line, len(lines)) - 1 - _AROUND)
        return tuple(
            FileLine(number, text, number == at.line)
            for number, text in enumerate(lines[first : first + 2 * _AROUND + 1], start=first + 1)
        )


def file_address(at: Place) -> str:
    """Return the address, below the preview's home, of the text of a file at a line."""
    return f"file/{at.file}?line={at.line}&column={at.column}#line-{at.line}"


def text_lines(workshop: Workshop, name: str) -> tuple[str, ...]:
    """Return the lines of a file of the department, as far as they can be shown; none where it cannot be read."""
    try:
        content = read_bytes(workshop.root, name, MAX_SOURCES_BYTES)
    except Refused:
        return ()
    text = content.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    return tuple(_shown(text))


def _shown(text: str) -> Iterator[str]:
    for line in text.split("\n"):
        plain = "".join(sign if sign.isprintable() or sign == "\t" else "\N{REPLACEMENT CHARACTER}" for sign in line)
        yield plain if len(plain) <= _WIDEST else f"{plain[:_WIDEST]}…"

"""Taking what came back from the committee: the accepted changes into their files, the comments into the notes."""

from collections.abc import Collection, Iterable, Mapping, Sequence

from builder.compose.changes.committee_copy import PROSE, CommitteeCopy, committee_copy
from builder.compose.changes.returned import ReturnedItem, ReturnedSort, has_ids, returned
from builder.compose.changes.reworded import PieceEdit
from builder.compose.changes.sent import sent_copy
from builder.edit.file_change import CannotEdit, Edit, FileChange, Path, ProseEdit, Put, at
from builder.edit.file_text import FileText, plain_ends
from builder.edit.forms.form_files import refuse_misfits, target_of
from builder.edit.operations import edited
from builder.findings.finding import Refused
from builder.findings.message_words import capital, quoted
from builder.findings.register import refuse
from builder.load.files import open_file
from builder.load.marked_file import ENDINGS, read_marked_file
from builder.model.library import Library
from builder.place import Place
from builder.write.writer import ChangedUnderneath, write_files

TO_ANSWER = "## From the committee, to answer"
_OPEN = "- [ ] "


def came_back(library: Library, name: str, content: bytes) -> tuple[CommitteeCopy, tuple[ReturnedItem, ...]]:
    """Return the copy that the file ``name`` was made of, as the module says it now, and all that came back in it.

    Raises Refused where it cannot be read, or where it is not a copy of a procedure of ``library`` with its ids.
    """
    at = Place(name)
    if not name.lower().endswith(ENDINGS):
        hint = "Open it in the word processor and save it as .docx or .odt, then take that."
        raise refuse("source-unreadable", at, f"{name} is not a .docx or an .odt", hint)
    marked = read_marked_file(name, content)
    sent = sent_copy(marked.sent)
    procedure = library.by_id.get(sent.procedure) if sent else None
    if sent and procedure is None:
        hint = "Name the folder of the department that shared it."
        raise refuse("source-unreadable", at, f"{name} is a copy of {quoted(sent.procedure)}, which is not here", hint)
    copy = committee_copy(library, procedure) if procedure else None
    if sent is None or copy is None or not has_ids(copy, marked):
        hint = "Ask for the file that was marked itself, saved as .docx or .odt, or put its changes in by hand."
        raise refuse("source-unreadable", at, f"{name} has lost the ids that `prescrub share` put in", hint)
    return copy, returned(copy, sent, marked)


def take_in(
    library: Library, copy: CommitteeCopy, items: Sequence[ReturnedItem], accepted: Collection[int]
) -> list[str]:
    """Write the ``accepted`` of ``items`` (by number), all or none, and return the files that were changed.

    ``library`` and ``copy`` are what was shown. Raises CannotEdit, Unfit, Refused and NotWritten.
    """
    chosen = [item for item in items if item.number in accepted]
    changes = dict(_changed(library, copy, [item for item in chosen if item.sort is ReturnedSort.CHANGE]))
    changes |= _noted(library, copy.procedure, [item for item in chosen if item.sort is ReturnedSort.COMMENT])
    write_files(library.root, changes, f"{copy.title}: taken from the committee")
    return list(changes)


def _changed(library: Library, copy: CommitteeCopy, items: Iterable[ReturnedItem]) -> Iterable[tuple[str, FileChange]]:
    by_file: dict[str, dict[Path, list[PieceEdit]]] = {}
    for item in items:
        for edit in item.edits:
            by_file.setdefault(item.file, {}).setdefault(edit.path, []).append(edit)
    for file, paths in by_file.items():
        target = target_of(file)
        if target is None or file in library.lent:
            raise CannotEdit(f"{file} is not written here", "Leave that change out, and make it where it is written.")
        opened = open_file(library.root, file)
        now = FileText.cut(plain_ends(opened.text))
        if now.data != copy.values[file] or now.body != copy.values.get(f"{file} prose", now.body):
            raise ChangedUnderneath([file])
        edits: list[Edit] = []
        for path, pieces in paths.items():
            old = copy.values[f"{file} prose"] if path == PROSE else at(copy.values[file], path)
            new = _with(str(old), pieces)
            edits.append(ProseEdit(new) if path == PROSE else Put(path, new))
        text = edited(opened.text, target.kind, edits)
        refuse_misfits(text, target)
        yield file, FileChange(text, opened.digest)


def _with(text: str, edits: Iterable[PieceEdit]) -> str:
    for edit in sorted(edits, key=lambda edit: edit.start, reverse=True):
        text = text[: edit.start] + edit.words + text[edit.end :]
    return text


def _noted(library: Library, procedure: str, items: Iterable[ReturnedItem]) -> Mapping[str, FileChange]:
    """Return the notes with a line for each comment that is not there yet."""
    name = f"content/procedures/{procedure}/notes.md"
    try:
        opened = open_file(library.root, name)
        text, seen = opened.text, opened.digest
    except Refused:
        text, seen = "", None
    lines = [line for line in map(note_line, items) if line not in text.splitlines()]
    if not lines:
        return {}
    above = text if TO_ANSWER in text else f"{text.rstrip()}\n\n{TO_ANSWER}\n\n".lstrip("\n")
    return {
        name: FileChange(f"{above.rstrip()}\n" + ("" if TO_ANSWER in text else "\n") + "\n".join(lines) + "\n", seen)
    }


def notes_to_answer(library: Library, procedure: str) -> list[str]:
    """Return the comments that the notes of ``procedure`` keep and that are not ticked yet."""
    notes = library.texts.get(f"content/procedures/{procedure}/notes.md", "").partition(TO_ANSWER)[2]
    own = notes.partition("\n## ")[0]
    return [line.removeprefix(_OPEN) for line in own.splitlines() if line.startswith(_OPEN)]


def note_line(item: ReturnedItem) -> str:
    """Return the line of the notes that keeps a comment until it is answered."""
    about = f", on “{item.before}”" if item.before else ""
    return f"{_OPEN}{capital(item.words)}{about}: {item.after} ({item.by})"

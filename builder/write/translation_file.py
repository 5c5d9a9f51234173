"""Writes the file that a translator is sent: every original of the patient's sheet, and what is translated already."""

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from builder.edit.file_change import FileChange, Put, Value
from builder.edit.operations import edited
from builder.facts.translations import Wording, compared, originals
from builder.findings.message_words import mend, quoted
from builder.grouping import grouped
from builder.load.files import open_file
from builder.load.program_words import sheet_languages
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.translation import Translation
from builder.write.lock import NotWritten
from builder.write.writer import digest_now, write_files

_EARLIER = "Earlier"
"""The heading of what was translated and is no longer said: a finding until somebody has taken what is of use."""
_EMPTY = """---
# translator: who translates this
# checked: {by: the translator who checked it, role: translator, on: 2026-01-31, content: as prescrub check tells}
---
"""


def write_translation(root: Path, library: Library, id: str, language: str) -> str:
    """Write ``translations/<language>.md`` of the procedure ``id``, keeping what still holds; return its name.

    Raises NotWritten where there is no such procedure, or the program has no words for a sheet in that language.
    """
    return save_translation(root, library, id, language, {})


def save_translation(root: Path, library: Library, id: str, language: str, told: Wording) -> str:
    """Write what is ``told`` by item and original, over what the file of the translation holds; return its name.

    Raises NotWritten as ``write_translation`` does, and where the file would read a text as something else.
    """
    if id not in library.by_id:
        raise NotWritten(
            f"There is no procedure {quoted(id)}. {mend(id, list(library.by_id), 'Name one that is there.')}"
        )
    if language not in sheet_languages():
        known = ", ".join(sheet_languages())
        raise NotWritten(f"The program has no words for a sheet in {quoted(language)}. There are {known}.")
    for text in told.values():
        if text[:1] in (">", "#"):
            raise NotWritten(f"{quoted(text)} begins with a sign that the file keeps for itself. Begin with a word.")
    procedure = library.by_id[id]
    name = f"content/procedures/{id}/translations/{language}.md"
    if name in library.lent:
        raise NotWritten(f"{name} is the parent's: it is translated where it is written.")
    old = procedure.translations.get(language)
    before = library.texts.get(name, "")
    if before and old is None:
        raise NotWritten(f"{name} cannot be read. Put right what `prescrub check` says of it first.")
    head = before.partition("\n---\n")[0] + "\n---\n" if before else _EMPTY
    text = head + "\n".join(chain(*_sections(procedure, old, told)))
    write_files(root, {name: FileChange(text.encode(), digest_now(root, name))}, f"{name}: written for translation")
    return name


def confirm_translation(library: Library, id: str, translation: Translation, by: str, role: str) -> None:
    """Write that ``by``, a ``role``, has checked ``translation`` today, as it stands.

    Raises NotWritten where it is not whole or the check has no name, and CannotEdit.
    """
    if not compared(library.by_id[id], translation).is_whole:
        raise NotWritten("Something is not translated yet. Translate it first, then confirm the whole.")
    if not by or not role:
        raise NotWritten("Write the name and the role of whoever checked it: they stand with the translation.")
    opened = open_file(library.root, translation.file)
    check: Value = {"by": by, "role": role, "on": library.today.isoformat(), "content": translation.content}
    text = edited(opened.text, "translation", [Put(("checked",), check)])
    write_files(library.root, {translation.file: FileChange(text, opened.digest)}, f"{translation.file}: checked")


def _sections(procedure: Procedure, old: Translation | None, new: Wording) -> Iterator[list[str]]:
    state = compared(procedure, old) if old else None
    by_item = grouped((item, " ".join(text.split())) for item, text in originals(procedure))
    for item, texts in by_item.items():
        yield [f"\n# {item}"]
        told = {key: str(pair.text) for key, pair in state.told.items()} if state else {}
        yield from (_pair(text, {**told, **new}.get((item, text), "")) for text in texts)
    gone = [*(pair for pair, _ in state.changed), *state.extra] if state else []
    if gone:
        yield [f"\n# {_EARLIER}"]
        yield from (_pair(pair.original, pair.text) for pair in gone)
    yield [""]


def _pair(original: str, text: str) -> list[str]:
    return [f"\n> {original}"] * bool(original) + [f"\n{text}"] * bool(text)

"""Writes the file that a translator is sent: every original of the patient's sheet, and what is translated already."""

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from builder.edit.file_change import FileChange
from builder.facts.translations import compared, originals
from builder.findings.message_words import mend, quoted
from builder.grouping import grouped
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
    if id not in library.by_id:
        raise NotWritten(
            f"There is no procedure {quoted(id)}. {mend(id, list(library.by_id), 'Name one that is there.')}"
        )
    if language not in sheet_languages():
        known = ", ".join(sheet_languages())
        raise NotWritten(f"The program has no words for a sheet in {quoted(language)}. There are {known}.")
    procedure = library.by_id[id]
    name = f"content/procedures/{id}/translations/{language}.md"
    old = procedure.translations.get(language)
    before = library.texts.get(name, "")
    if before and old is None:
        raise NotWritten(f"{name} cannot be read. Put right what `prescrub check` says of it first.")
    head = before.partition("\n---\n")[0] + "\n---\n" if before else _EMPTY
    text = head + "\n".join(chain(*_sections(procedure, old)))
    write_files(root, {name: FileChange(text.encode(), digest_now(root, name))}, f"{name}: written for translation")
    return name


def _sections(procedure: Procedure, old: Translation | None) -> Iterator[list[str]]:
    state = compared(procedure, old) if old else None
    by_item = grouped((item, " ".join(text.split())) for item, text in originals(procedure))
    for item, texts in by_item.items():
        yield [f"\n# {item}"]
        told = state.told if state else {}
        yield from (_pair(text, told[item, text].text if (item, text) in told else "") for text in texts)
    gone = [*(pair for pair, _ in state.changed), *state.extra] if state else []
    if gone:
        yield [f"\n# {_EARLIER}"]
        yield from (_pair(pair.original, pair.text) for pair in gone)
    yield [""]


def _pair(original: str, text: str) -> list[str]:
    return [f"\n> {original}"] * bool(original) + [f"\n{text}"] * bool(text)

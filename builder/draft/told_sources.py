"""What the pages of a module rest on: a source put on a page, or taken off it, or common practice said instead."""

from builder.draft.told_desk import Desk
from builder.edit.file_change import CannotEdit, Value
from builder.edit.forms.form_files import FormEdit
from builder.findings.message_words import quoted
from builder.model.library import Library


def source_put(desk: Desk, library: Library, page: str, source: str, place: str) -> FormEdit:
    """Have ``page`` rest on ``source``, with the ``place`` in its text, such as a page; "" where none is meant."""
    if source not in library.sources:
        raise CannotEdit(f"{quoted(source)} is not a source of the department", "Choose one, or add its record first.")
    held = _evidence(desk, page)
    if source in map(source_of, held):
        held = [one for one in held if source_of(one) != source]
    cited: Value = {"source": source, "at": place} if place else source
    desk.put(page, "evidence", [*held, cited])
    desk.put(page, "common_practice", None)
    return desk.done("A source put on a page", [page])


def source_taken_off(desk: Desk, page: str, source: str) -> FormEdit:
    """Have ``page`` no longer rest on ``source``."""
    desk.put(page, "evidence", [one for one in _evidence(desk, page) if source_of(one) != source])
    return desk.done("A source taken off a page", [page])


def said_to_be_practice(desk: Desk, pages: list[str]) -> FormEdit:
    """Say that ``pages`` that rest on no source are common practice."""
    for page in pages:
        if not _evidence(desk, page):
            desk.put(page, "common_practice", "true")
    return desk.done("Said to be common practice", pages)


def source_of(cited: Value) -> str:
    """Return the key of the source in an entry of ``evidence``."""
    return str(cited.get("source", "") if isinstance(cited, dict) else cited)


def _evidence(desk: Desk, page: str) -> list[Value]:
    held = desk.data(page).get("evidence")
    return held if isinstance(held, list) else [held] if held else []

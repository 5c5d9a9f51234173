"""A structure, an item or an abbreviation put into the catalogues from a form."""

from __future__ import annotations

from pydantic import ValidationError
from werkzeug.wrappers import Response

from builder.edit.changes import Add, FileChange
from builder.edit.file_text import FileText
from builder.edit.new_page import id_for
from builder.edit.operations import edited
from builder.edit.values import Value
from builder.load.files import open_file
from builder.load.frontmatter import read_values
from builder.model.catalogue import plain_name
from builder.model.json_schema import KINDS
from builder.model.library import Library
from builder.model.validation import findings_of
from builder.place import Place
from builder.preview.answer import Request, data
from builder.preview.forms_save import failed, writing
from builder.preview.forms_shapes import shape_of
from builder.preview.forms_trees import wanted_of
from builder.preview.forms_view import Field, Maker
from builder.preview.workshop import Workshop
from builder.write.writer import write_files

_CATALOGUES = {"structures": ("structure", "Structure"), "items": ("item", "Item"), "terms": ("abbreviation", "Term")}


def entry_forms() -> list[tuple[str, str, list[Field]]]:
    """Return for each catalogue its name, what one entry is called, and the fields of a new one."""
    found = []
    for name, (word, owner) in _CATALOGUES.items():
        maker = Maker()
        parts = [part for part in shape_of(name).parts if part.key not in ("id", "close_to", "also")]
        fields = []
        for part in parts:
            one = maker.field(part.shape, None, owner, (part.key,))
            one.is_required = part.is_required
            fields.append(one)
        found.append((name, word, fields))
    return found


def add_entry(workshop: Workshop, request: Request) -> Response:
    """Add an entry to a catalogue. 200 with the name it can be called by, 422 with what is wrong."""
    body = request.fields
    name, tree = str(body.get("catalogue") or ""), body.get("values")
    if name not in _CATALOGUES or not isinstance(tree, dict):
        return failed("This was not understood. Load the page again.")
    return writing(lambda: _added(workshop, name, tree), "")


def _added(workshop: Workshop, name: str, tree: dict[str, object]) -> Response:
    library = workshop.state.library
    values: dict[str, Value] = {}
    called = str(tree.get("name") or tree.get("short") or "").strip()
    if not called:
        return failed("Say what it is called.")
    if _is_taken(library, name, called):
        return failed(f"“{called}” is in the catalogue already.")
    if name != "terms":
        values["id"] = id_for(
            called, {str(one.id) for one in (library.structures if name == "structures" else library.items)}
        )
    for part in shape_of(name).parts:
        wanted = wanted_of(part.shape, tree.get(part.key), {}, (part.key,), None) if part.key != "id" else None
        if wanted is not None:
            values[part.key] = wanted  # type: ignore[assignment]  # an entry has no rows that could have moved
    local = f"content/catalogue/{name}-local.yml"
    file = local if (workshop.root / local).is_file() else f"content/catalogue/{name}.yml"
    there = (workshop.root / file).is_file()
    opened = open_file(workshop.root, file) if there else None
    text = opened.text if opened else ""
    held = FileText.cut(text, is_list=True).data
    text = edited(text, name, [Add((), len(held) if isinstance(held, list) else 0, values)])
    problems = _problems(text, file, name)
    if problems:
        return failed(" ".join(problems))
    write_files(
        workshop.root, {file: FileChange(text, opened.digest if opened else None)}, f"{called}: added to {name}"
    )
    workshop.saved()
    return data({"value": called})


def _is_taken(library: Library, name: str, called: str) -> bool:
    if name == "terms":
        return any(plain_name(one.short) == plain_name(called) for one in library.terms)
    catalogue = library.structures if name == "structures" else library.items
    return catalogue.find(called) is not None


def _problems(text: str, file: str, name: str) -> list[str]:
    value, findings = read_values(text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n"), file)
    try:
        KINDS[name].validate_python(value)
    except ValidationError as error:
        findings = [*findings, *findings_of(error, value, Place(file), name)]
    return [f"{one.message}." for one in findings]

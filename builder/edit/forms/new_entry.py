"""A structure, an item or an abbreviation that is put into the catalogues from a form."""

from collections.abc import Mapping
from typing import Any

from builder.edit.file_change import FileChange, Unfit, Value
from builder.edit.forms.form_fields import Field, FieldMaker
from builder.edit.forms.form_files import FormEdit, FormFile, FormFolder, refuse_misfits
from builder.edit.forms.form_shapes import shape_of
from builder.edit.forms.saving import new_values
from builder.edit.ids import id_for
from builder.edit.operations import put_in
from builder.model.catalogue import plain_name
from builder.model.library import Library

ENTRIES = {"structures": ("structure", "Structure"), "items": ("item", "Item"), "terms": ("abbreviation", "Term")}
"""By catalogue: what one entry is called, and whose words explain its parts."""


def entry_forms() -> list[tuple[str, str, list[Field]]]:
    """Return for each catalogue its name, what one entry is called, and the fields of a new one."""
    return [(name, word, FieldMaker().entry(shape_of(name), owner)) for name, (word, owner) in ENTRIES.items()]


def entry_added(folder: FormFolder, library: Library, name: str, trees: Mapping[str, Any]) -> FormEdit:
    """Return what adds the entry of ``trees`` to the catalogue ``name``; ``go`` is what it can be called by.

    Raises Unfit, CannotEdit, Refused.
    """
    called = str(trees.get("name") or trees.get("short") or "").strip()
    if not called:
        raise Unfit(((), "Say what it is called."))
    if _is_taken(library, name, called):
        raise Unfit(((), f"“{called}” is in the catalogue already."))
    values: dict[str, Value] = new_values(name, {key: tree for key, tree in trees.items() if key != "id"})
    if name != "terms":
        held = library.structures if name == "structures" else library.items
        values = {"id": id_for(called, {str(one.id) for one in held}), **values}
    local = f"content/catalogue/{name}-local.yml"
    file = local if local in folder.names else f"content/catalogue/{name}.yml"
    opened = folder.open(file) if file in folder.names else None
    text = put_in(opened.text if opened else "", name, (), values)
    refuse_misfits(text, FormFile(file, name, "", ""))
    return FormEdit({file: FileChange(text, opened.digest if opened else None)}, f"{called}: added to {name}", called)


def _is_taken(library: Library, name: str, called: str) -> bool:
    if name == "terms":
        return any(plain_name(one.short) == plain_name(called) for one in library.terms)
    catalogue = library.structures if name == "structures" else library.items
    return catalogue.find(called) is not None

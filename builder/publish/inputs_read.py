"""What was read is what is published: pictures and the files of templates are copied once, and proved to be those.

The digest that an approval and a cache key rest on was taken when the department was read. So each picture is read
again once, compared with that digest, and laid beside what is made; every output takes it from there. At the end
everything is looked at once more: whoever saves a file during a publish is told so, and nothing is put in place.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from builder.findings.finding import Refused
from builder.load.files import picture_digest, picture_digest_of, read_bytes, read_found
from builder.load.limits import MAX_FIGURE_BYTES, MAX_SOURCES_BYTES
from builder.load.templates import FOLDER, extras_in, load_templates
from builder.model.library import Library
from builder.publish.pictures import put_file, safe_drawing
from builder.publish.publish_error import PublishError
from builder.publish.publishing import refuse_strangers


def with_copies(library: Library, folder: Path) -> Library:
    """Return ``library`` in ``folder``, which gets its pictures, and the fonts and pictures of its own templates.

    Raises PublishError where a picture is not the one whose digest was taken, Refused where it cannot be read.
    """
    drawn = {
        f"content/procedures/{procedure.id}/figures/{figure.file}"
        for procedure in library.procedures
        for figure in procedure.figures
        if figure.file.endswith(".svg")
    }
    for name, digest in library.pictures.items():
        if digest:
            content = read_bytes(*library.whereabouts(name), MAX_FIGURE_BYTES)
            if picture_digest_of(name, content) != digest:
                raise _changed(name)
            put_file(folder / name, safe_drawing(name, content) if name in drawn else content)
    for name in extras_in(library.root / FOLDER):
        put_file(folder / FOLDER / name, read_bytes(library.root / FOLDER, name, MAX_FIGURE_BYTES))
    return replace(library, root=folder, lent={})


def refuse_changed(library: Library, copied: Library, templates: Mapping[str, str], target: Path) -> None:
    """Raise PublishError where a file is no longer what ``library``, its ``copied`` files or ``templates`` were made
    of, or where somebody put one into ``target`` meanwhile."""
    refuse_strangers(target)
    if name := next(_changed_files(library, copied.root), ""):
        raise _changed(name)
    now = load_templates(library.root)
    if name := next((name for name in {**now, **templates} if now.get(name) != templates.get(name)), ""):
        raise _changed(f"{FOLDER}/{name}")


def _changed_files(library: Library, copies: Path) -> Iterator[str]:
    root = library.root
    for name, digest in library.pictures.items():
        if picture_digest(*library.whereabouts(name)) != digest:
            yield name
    for name, text in library.texts.items():
        if name not in library.pictures and _text(*library.whereabouts(name)) != text:
            yield name
    extras = set(extras_in(root / FOLDER))
    for name in sorted(extras | set(extras_in(copies / FOLDER))):
        if _content(root / FOLDER, name) != _content(copies / FOLDER, name):
            yield f"{FOLDER}/{name}"


def _text(root: Path, name: str) -> str | None:
    try:
        return read_found(root, name, MAX_SOURCES_BYTES)
    except Refused:
        return None


def _content(folder: Path, name: str) -> bytes | None:
    try:
        return read_bytes(folder, name, MAX_FIGURE_BYTES)
    except Refused:
        return None


def _changed(name: str) -> PublishError:
    return PublishError(f"{name} was changed while it was being published. Publish again once everybody has saved.")

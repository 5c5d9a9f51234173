"""The hash of everything that enters an artefact: content, templates, fonts, programs. Equal hash, equal bytes.

What only one procedure says enters the artefacts of that procedure; what many may use (catalogues, sources, the
department, other titles) enters all. A kind of value that is not known here is refused, so that none is passed over.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from builder.load.prose import Prose
from builder.load.sources.bibliography import RawSource
from builder.load.templates import FOLDER, own_folder
from builder.model.catalogue import Catalogue
from builder.model.library import Library
from builder.model.pages import Procedure

_PROGRAMS = (
    "weasyprint", "pydyf", "pikepdf", "pypdfium2", "pillow", "jinja2", "segno", "fonttools", "nh3", "markdown",
    "python-pptx", "lxml",
)  # fmt: skip
_OF_PROCEDURE = frozenset({"procedures", "pictures", "root", "editions", "ledger", "lapsed"})
_PLACES = frozenset({"at", "where", "places"})  # where something is written changes no artefact

Add = Callable[[bytes], None]


class Inputs:
    """Gives the key of every artefact of ``library``, composed with ``templates``."""

    def __init__(self, library: Library, templates: Mapping[str, str]) -> None:
        self._library = library
        self._shared = _digest(
            [
                _program(),
                sorted(templates.items()),
                list(_binaries(own_folder())),
                list(_binaries(library.root / FOLDER)),
                [(one.name, getattr(library, one.name)) for one in fields(library) if one.name not in _OF_PROCEDURE],
                [(str(one.id), str(one.title), one.status) for one in library.procedures],
            ]
        )
        self._own: dict[str, str] = {}

    def key(self, procedure: Procedure, output: str) -> str:
        """Return the key of ``output`` of ``procedure``, in hexadecimal."""
        id = str(procedure.id)
        if id not in self._own:
            folder = f"content/procedures/{id}/"
            pictures = [one for one in sorted(self._library.pictures.items()) if one[0].startswith(folder)]
            issued = [one.code for one in self._library.ledger.of(id)]
            self._own[id] = _digest([self._shared, procedure, pictures, self._library.editions.get(id), issued])
        return _digest([self._own[id], output])


def _digest(value: Any) -> str:
    made = hashlib.sha256()
    _feed(made.update, value)
    return made.hexdigest()


def _feed(add: Add, value: Any) -> None:  # noqa: C901, PLR0912  # one branch for each kind of value
    """Give ``value`` to ``add`` so that different values give different bytes."""
    match value:
        case str():
            add(f"s{len(value)}:{value}".encode("utf-8", "surrogatepass"))
        case None | bool() | int() | float() | Decimal() | date() | Enum():
            add(f"v{value!r};".encode())
        case Prose():
            _feed(add, value.source)
        case RawSource():
            key, _, kind, written, persons, _ = value.row()
            _feed(add, [key, kind, written, persons])
        case BaseModel():
            _feed_fields(add, value, type(value).model_fields)
        case Catalogue():
            _feed(add, value.entries)
        case Mapping():
            _feed(add, list(value.items()))
        case frozenset():
            _feed(add, sorted(value))
        case list() | tuple():
            add(f"l{len(value)}:".encode())
            for one in value:
                _feed(add, one)
        case _ if is_dataclass(value) and not isinstance(value, type):
            _feed_fields(add, value, [one.name for one in fields(value)])
        case _:
            raise TypeError(f"{type(value).__name__} has no hash here")


def _feed_fields(add: Add, value: Any, names: Any) -> None:
    add(f"o{type(value).__name__}:".encode())
    for name in names:
        if name not in _PLACES:
            add(f"{name}=".encode())
            _feed(add, getattr(value, name))


@cache
def _program() -> str:
    """Return a hash of this program and of those it works with."""
    package = Path(str(files("builder")))
    made = hashlib.sha256("".join(f"{name} {version(name)}\n" for name in _PROGRAMS).encode())
    for path in sorted([*package.rglob("*.py"), *package.glob("common/*.json")]):
        made.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    return made.hexdigest()


def _binaries(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield name and digest of the fonts and pictures of a folder of templates."""
    for path in sorted(folder.rglob("*")) if folder.is_dir() else ():
        if path.suffix in (".ttf", ".svg", ".png", ".woff2") and path.is_file():
            yield path.relative_to(folder).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest()

"""Artefacts kept from earlier publishes, by the hash of everything that entered them.

Only what passed its proofs is kept, with its own hash: a kept file that is damaged is made again. The folder is the
user's cache (``PRESCRUB_CACHE``, else where the system keeps caches); it may be deleted at any time.

What only one procedure says enters the artefacts of that procedure, with the numbers and the titles of others that it
shows; what many may use (catalogues, sources, the department) enters all. Of the day enters only what it decides. A
kind of value that is not known here is refused, so that none is passed over.
"""

import hashlib
import json
import os
import re
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, is_dataclass, replace
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from builder.compose.document import Document, LeftOut, Must
from builder.compose.view.head import is_overdue
from builder.compose.view.procedure_view import numbers_for
from builder.facts.calls import contact
from builder.facts.for_patients import called_by_patients
from builder.grouping import word_set
from builder.load.kept.kept_files import put_whole, users_folder
from builder.load.prose import Prose
from builder.load.sources.bibliography import RawSource
from builder.load.templates import FOLDER, extras_in, own_folder
from builder.model.catalogue import Catalogue
from builder.model.library import Library
from builder.model.pages import Call, Procedure
from builder.publish.build_report import FileRead

MOST_BYTES = 1024**3
_DAY_SECONDS = 24 * 60 * 60
_PROGRAMS = (
    "weasyprint", "pydyf", "pikepdf", "pypdfium2", "pillow", "jinja2", "segno", "fonttools", "nh3", "markdown",
    "python-pptx", "lxml",
)  # fmt: skip
# What enters by procedure, where it enters at all.
_OF_PROCEDURE = word_set("""
procedures pictures figures root editions ledger lapsed texts department today local lent dangers
""")
_OTHERS = re.compile(rb"(?:procedure:|converts_to=)([^);]*)")
_ID = re.compile(rb"[a-z0-9]+(?:-[a-z0-9]+)*")
_PLACES = frozenset({"at", "where", "places"})  # where something is written changes no artefact

Add = Callable[[bytes], None]


@dataclass(frozen=True, slots=True)
class Cache:
    """Artefacts below ``folder``. A cache that cannot be read or written is as good as an empty one.

    At most ``most_bytes`` are kept, and nothing that no publish has used for ``most_days`` (0 = however long).
    """

    folder: Path
    most_bytes: int = MOST_BYTES
    most_days: int = 0

    def take(self, key: str, folder: Path) -> tuple[Document, FileRead] | None:
        """Copy what is kept under ``key`` to its place below ``folder``; None where nothing whole is kept."""
        try:
            card = json.loads(self._path(key, "json").read_text(encoding="utf-8"))
            data = self._path(key, "data").read_bytes()
            if hashlib.sha256(data).hexdigest() != card["sha256"]:
                return None
            document = _document(card["document"])
            path = folder / document.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
            os.utime(self._path(key, "json"))
            return document, FileRead((), card["pages"], card["smallest_type_pt"])
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def keep(self, key: str, document: Document, path: Path, found: FileRead) -> None:
        """Keep the finished file at ``path`` under ``key``."""
        if type(document) is not Document or found.problems:
            return
        data = path.read_bytes()
        bare = asdict(replace(document, text="", of=None, placed=()))
        card = {
            "document": bare,
            "pages": found.pages,
            "smallest_type_pt": found.smallest_type_pt,
            "sha256": hashlib.sha256(data).hexdigest(),
        }
        try:
            put_whole(self._path(key, "data"), data)
            put_whole(self._path(key, "json"), json.dumps(card, ensure_ascii=False).encode())
        except OSError:
            return  # a full disk must not stop a publish that has all it needs

    def noted(self, key: str) -> str:
        """Return the text that was noted under ``key``, "" where none was."""
        try:
            os.utime(self._path(key, "json"))
            return self._path(key, "data").read_text(encoding="utf-8")
        except (OSError, ValueError):
            return ""

    def note(self, key: str, text: str) -> None:
        """Note ``text``, such as the digests of files that passed a proof, under ``key``, in place of that before."""
        with suppress(OSError):
            put_whole(self._path(key, "data"), text.encode())
            put_whole(self._path(key, "json"), b"{}")

    def prune(self) -> None:
        """Delete what was used longest ago, until no more is kept than may be."""
        oldest = time.time() - self.most_days * _DAY_SECONDS if self.most_days else 0.0
        size = 0
        for used, bytes_kept, card in sorted(self._cards(), reverse=True):
            size += bytes_kept
            if size > self.most_bytes or used < oldest:
                with suppress(OSError):  # another publish may have done it
                    card.unlink()
                    card.with_suffix(".data").unlink()

    def _cards(self) -> Iterator[tuple[float, int, Path]]:
        """Yield when each artefact was last used, its size, and the file that tells of it."""
        with suppress(OSError):
            for card in self.folder.glob("*/*.json"):
                with suppress(OSError):
                    told = card.stat()
                    yield told.st_mtime, told.st_size + card.with_suffix(".data").stat().st_size, card

    def _path(self, key: str, ending: str) -> Path:
        return self.folder / key[:2] / f"{key}.{ending}"


def _document(values: dict[str, Any]) -> Document:
    lists: dict[str, Any] = {
        "resources": tuple(values.pop("resources")),
        "musts": tuple(Must(*one) for one in values.pop("musts")),
        "left_out": tuple(LeftOut(**one) for one in values.pop("left_out")),
        "placed": tuple(values.pop("placed")),
    }
    return Document(**values, **lists)


def users_cache(environment: Mapping[str, str] = os.environ) -> Cache | None:
    """Return the cache of whoever runs the program, or None where ``PRESCRUB_CACHE`` says ``off``."""
    folder = users_folder(environment)
    return Cache(folder / "artefacts") if folder else None


class Inputs:
    """Gives the key of every artefact of ``library``, composed with ``templates``."""

    def __init__(self, library: Library, templates: Mapping[str, str]) -> None:
        self._library = library
        self._shared = digest_of_value(
            [
                programs(),
                sorted(templates.items()),
                digest_of_extras(own_folder()),
                list(_extras(library.root / FOLDER)),
                library.department.model_copy(update={"call": ()}),
                [(one.name, getattr(library, one.name)) for one in fields(library) if one.name not in _OF_PROCEDURE],
            ]
        )
        self._own: dict[str, str] = {}

    def key(self, procedure: Procedure, output: str) -> str:
        """Return the key of ``output`` of ``procedure``, in hexadecimal."""
        id = str(procedure.id)
        if id not in self._own:
            library = self._library
            folder = f"content/procedures/{id}/"
            told: list[bytes] = []
            _feed(told.append, procedure)
            said = b"".join(told)
            self._own[id] = digest_of_value([
                self._shared,
                hashlib.sha256(said).hexdigest(),
                [one for one in sorted(library.pictures.items()) if one[0].startswith(folder)],
                library.editions.get(id),
                [one.code for one in library.ledger.of(id)],
                is_overdue(library, procedure),
                library.local_of(procedure),
                _contacts(library, procedure),
                [(name, str(library.by_id[name].title)) for name in self._named_in(said)],
            ])  # fmt: skip
        return digest_of_value([self._own[id], output])

    def _named_in(self, said: bytes) -> list[str]:
        """Return the ids of all procedures that what is ``said`` links to."""
        words = {word.decode() for others in _OTHERS.findall(said) for word in _ID.findall(others)}
        return sorted(words & self._library.by_id.keys())


def _contacts(library: Library, procedure: Procedure) -> list[Call]:
    """Return whom an output of ``procedure`` may name, in the order of the department's list."""
    roles = {role for role, _ in numbers_for(library, procedure)}
    roles |= {str(call.role) for call in called_by_patients(library, procedure)}
    called = [step.call for step in procedure.steps.values()]
    called += [caution.call for caution in procedure.cautions.values()]
    roles |= {str(listed.role) for role in called if role and (listed := contact(library, role))}
    return [call for call in library.department.call if call.always or str(call.role) in roles]


def digest_of_value(value: Any) -> str:
    """Return a hash of plain data, nodes and what holds them; where something is written does not enter it."""
    made = hashlib.sha256()
    _feed(made.update, value)
    return made.hexdigest()


def _feed(add: Add, value: Any) -> None:  # noqa: C901, PLR0912  # one branch for each kind of value
    """Give ``value`` to ``add`` so that different values give different bytes."""
    match value:
        case str():
            add(f"s{len(value)}:{value};".encode("utf-8", "surrogatepass"))
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
def programs() -> Mapping[str, str]:
    """Return the version of each library that files are made with, and under our own name a hash of this program."""
    package = Path(str(files("builder")))
    made = hashlib.sha256()
    for path in sorted(
        [*package.rglob("*.py"), *package.glob("common/*.json"), *package.glob("load/languages/**/*.mo")]
    ):
        made.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    return {"prescrub": made.hexdigest(), **{name: version(name) for name in _PROGRAMS}}


def digest_of_extras(folder: Path) -> str:
    """Return a hash of the fonts and pictures in a folder of templates, by name."""
    return digest_of_value(list(_extras(folder)))


def _extras(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield name and digest of the fonts and pictures of a folder of templates."""
    for name in extras_in(folder):
        yield name, hashlib.sha256((folder / name).read_bytes()).hexdigest()

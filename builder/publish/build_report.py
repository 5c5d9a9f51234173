"""build-report.json: every artefact of one publish, with what was proved about it."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from builder import __version__
from builder.compose.document import Document, LeftOut

NAME = "build-report.json"
_MADE_BY = "prescrub"


@dataclass(frozen=True, slots=True)
class FileRead:
    """What was found in a finished file: ``problems`` in plain words, none where it shows all that it promised; of
    paper and slides how many ``pages`` it has and the smallest type in pt, as painted."""

    problems: tuple[str, ...]
    pages: int | None = None
    smallest_type_pt: float | None = None


@dataclass(frozen=True, slots=True)
class Artefact:
    """One finished file. ``path`` is relative to the published folder; ``pages`` and ``smallest_type_pt`` (points) are
    measured in the file, None where it has none; ``checks`` are the proofs it passed after writing."""

    path: str
    kind: str
    procedure: str
    edition: str
    title: str
    sha256: str
    bytes: int
    pages: int | None = None
    smallest_type_pt: float | None = None
    left_out: tuple[LeftOut, ...] = ()
    checks: tuple[str, ...] = ()
    explained: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Report:
    """What one publish made. ``checks`` are the checks of the content that ran; ``files`` holds the SHA-256 of every
    published file that is no artefact (style sheets, figures, the search index) by path; ``coverage`` says by
    procedure how much those checks had to look at."""

    department: str
    artefacts: tuple[Artefact, ...]
    checks: tuple[str, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    coverage: dict[str, Any] = field(default_factory=dict)

    @classmethod
    def read(
        cls,
        department: str,
        artefacts: Iterable[Mapping[str, Any]],
        checks: tuple[str, ...],
        coverage: dict[str, Any],
    ) -> "Report":
        """Return a report of artefacts as they stand in a report that was written, and of no other file yet."""
        told = tuple(
            Artefact(
                **{
                    **one,
                    "left_out": tuple(LeftOut(**left) for left in one["left_out"]),
                    "checks": tuple(one["checks"]),
                }
            )
            for one in artefacts
        )
        return cls(department, told, checks, {}, coverage)

    def put_into(self, folder: Path) -> "Report":
        """Write the report into ``folder``, with the digest of each file there that is no artefact, and return it."""
        known = {NAME, *(made.path for made in self.artefacts)}
        files = {name: sha256(folder / name) for name in every_file(folder) if name not in known}
        whole = replace(self, files=files)
        (folder / NAME).write_text(whole.to_json(), encoding="utf-8")
        return whole

    def to_json(self) -> str:
        """Return the text of build-report.json, one line for each artefact and file.

        It holds no time of day, so equal input gives equal bytes.
        """
        data = {"made_by": _MADE_BY, "version": __version__, **_fields(self)}
        return "{\n" + ",\n".join(f"{_line(name)}: {_lines(data[name])}" for name in sorted(data)) + "\n}\n"


def written(report: Report) -> dict[str, Any]:
    """Return what build-report.json holds."""
    data: dict[str, Any] = json.loads(report.to_json())
    return data


def _fields(one: Any) -> dict[str, Any]:
    return {kind.name: getattr(one, kind.name) for kind in fields(one)}


_line = json.JSONEncoder(ensure_ascii=False, sort_keys=True, default=_fields).encode


def _lines(value: Any) -> str:
    if isinstance(value, dict):
        return "{\n" + ",\n".join(f" {_line(name)}: {_line(value[name])}" for name in sorted(value)) + "\n}"
    if isinstance(value, list | tuple):
        return "[\n" + ",\n".join(f" {_line(one)}" for one in value) + "\n]"
    return _line(value)


def artefact_of(document: Document, folder: Path, **measured: Any) -> Artefact:
    """Return the artefact of ``document`` as it lies in ``folder``."""
    path = folder / document.name
    names = ("kind", "procedure", "edition", "title", "left_out", "explained")
    told = {name: getattr(document, name) for name in names}
    return Artefact(path=document.name, sha256=sha256(path), bytes=path.stat().st_size, **told, **measured)


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def every_file(folder: Path) -> Iterator[str]:
    """Yield the path of every file below ``folder``, relative to it, in sorted order."""
    found = (path for path in folder.rglob("*") if path.is_symlink() or not path.is_dir())
    yield from sorted(path.relative_to(folder).as_posix() for path in found)


def report_in(folder: Path) -> dict[str, Any]:
    """Return what the report in ``folder`` holds, nothing where there is none that can be read."""
    try:
        told = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def is_as_reported(folder: Path) -> bool:
    """Tell whether ``folder`` holds what its report lists, byte for byte, and nothing else."""
    told = report_in(folder)
    digests = {**told.get("files", {}), **{made["path"]: made["sha256"] for made in told.get("artefacts", ())}}
    there = set(every_file(folder)) - {NAME}
    return there == digests.keys() and all(sha256(folder / name) == digests[name] for name in sorted(there))


def known_files(folder: Path) -> set[str] | None:
    """Return the paths that the report in ``folder`` lists, or None where no publish of ours made the folder."""
    try:
        data = json.loads((folder / NAME).read_text(encoding="utf-8"))
        if data["made_by"] != _MADE_BY:
            return None
        return {NAME, *data["files"], *(artefact["path"] for artefact in data["artefacts"])}
    except (FileNotFoundError, NotADirectoryError, ValueError, KeyError, TypeError):
        return None

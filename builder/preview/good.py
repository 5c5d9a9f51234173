"""What can be shown while a file cannot be read: its last state that could be, in place of nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from builder.load.folder import Loaded, RawFile
from builder.load.sources.bibliography import RawSource
from builder.model.library import Library

_DEPARTMENT = "content/department.md"
_Broken = frozenset[tuple[str, str, str]]
IsThere = Callable[[str], bool]


class LastGood:
    """Remembers the last good state of each file; one instance a preview."""

    def __init__(self) -> None:
        self._files: dict[str, RawFile] = {}
        self._sources: dict[str, dict[str, RawSource]] = {}

    def mended(self, loaded: Loaded, library: Library, is_there: IsThere) -> tuple[Loaded, frozenset[str]]:
        """Return ``loaded`` with the last good state of each file that cannot be used now, and the names of those.

        ``library`` was built of ``loaded``. ``is_there`` tells whether something stands, or may stand, where a file was
        that was not read. A name is told even where the file never was good.
        """
        bad = library.broken
        present = {file.name: file for file in loaded.files}
        good = {name: file for name, file in present.items() if _key(file) not in bad}
        old = present.keys() - good.keys() | self._missing(present, bad, is_there) | _unreadable(bad, present)
        sources, old_sources = self._with_sources(loaded, bad)
        self._files = {**{name: self._files[name] for name in old if name in self._files}, **good}
        if not old and not old_sources:
            return loaded, frozenset()
        known = {_key(file) for file in self._files.values()}
        left = frozenset(one for one in bad if one not in known and one[0] != "sources")
        ordered = tuple(self._files[name] for name in sorted(self._files, key=lambda name: name.split("/")))
        return replace(loaded, files=ordered, sources=sources, broken=left), frozenset(old | old_sources)

    def never(self, old: frozenset[str]) -> frozenset[str]:
        """Return which of the ``old`` files never could be read, so that nothing stands in their place."""
        return frozenset(name for name in old if name not in self._files and name not in self._sources)

    def _missing(self, present: Mapping[str, RawFile], bad: _Broken, is_there: IsThere) -> set[str]:
        """Return the files that are not there, and cannot be meant to have gone."""
        gone = self._files.keys() - present.keys()
        if not any(name.startswith("content/") for name in present):
            return set(gone)
        return {name for name in gone if name == _DEPARTMENT or _key(self._files[name]) in bad or is_there(name)}

    def _with_sources(self, loaded: Loaded, bad: _Broken) -> tuple[Mapping[str, RawSource], set[str]]:
        """Return the sources, with the last good ones of each list that cannot be read, and the names of those."""
        broken = {name for kind, _, name in bad if kind == "sources"}
        by_file: dict[str, dict[str, RawSource]] = {}
        for key, source in loaded.sources.items():
            by_file.setdefault(source.key.at.file, {})[key] = source
        kept = {name: found for name, found in self._sources.items() if name in broken}
        self._sources = kept | {name: found for name, found in by_file.items() if name not in broken}
        sources = dict(loaded.sources)
        for found in kept.values():
            for key, source in found.items():
                sources.setdefault(key, source)
        return sources, broken


def _key(file: RawFile) -> tuple[str, str, str]:
    return (file.kind, file.procedure, str(file.id))


def _unreadable(bad: Iterable[tuple[str, str, str]], present: Mapping[str, RawFile]) -> set[str]:
    """Return the names of broken files of which nothing was read."""
    known = {_key(file) for file in present.values()}
    return {name for one in bad if one not in known and (name := name_of(*one))}


_FOLDERS = {"step": "steps", "caution": "cautions", "aftercare": "aftercare"}
_CATALOGUES = ("structures", "items", "terms", "consents")


def name_of(kind: str, procedure: str, id: str) -> str:
    """Return the path of a file of the department by its kind, procedure ("" = shared) and id; "" for other kinds."""
    home = f"content/procedures/{procedure}" if procedure else "content/shared"
    if kind in _FOLDERS:
        return f"{home}/{_FOLDERS[kind]}/{id}.md"
    if kind in ("procedure", "notes"):
        return f"{home}/{kind}.md"
    if kind == "department":
        return _DEPARTMENT
    return f"content/catalogue/{id}.yml" if kind in _CATALOGUES else ""

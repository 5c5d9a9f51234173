"""What is shown while a file cannot be read: its last good state.

It is kept file by file, so that one broken file leaves the changes of all others in view. The page says what is old,
and the findings are always those of the files as they are now.
"""

from collections.abc import Callable, Mapping, Set
from dataclasses import replace

from builder.load.folder import Loaded, RawFile, kind_of
from builder.load.sources.bibliography import RawSource

_DEPARTMENT = "content/department.md"
_NOT_TEXT = ("", "figure", "notices")
IsThere = Callable[[str], bool]


class LastGood:
    """Remembers the last good state of each file."""

    def __init__(self) -> None:
        self._files: dict[str, RawFile] = {}
        self._sources: dict[str, dict[str, RawSource]] = {}

    def mended(
        self, loaded: Loaded, broken: Set[tuple[str, str, str]], seen: Set[str], is_there: IsThere
    ) -> tuple[Loaded, frozenset[str]]:
        """Return ``loaded`` with the last good state of each file that cannot be used now, and the names of those.

        ``broken`` are the files that cannot be used, as in ``Loaded``; ``seen`` the names of all files of the folder.
        ``is_there`` tells whether there is, or may be, something in the place of a file that was not read. A name is
        returned even where the file was never good.
        """
        present = {file.name: file for file in loaded.files}
        good = {name: file for name, file in present.items() if _key(file) not in broken}
        keys = {name: kind_of(name) for name in seen - present.keys()} if broken else {}
        unread = {name for name, key in keys.items() if key in broken and key[0] not in _NOT_TEXT}
        old = (present.keys() - good.keys()) | self._missing(present, broken, is_there) | unread
        sources = self._with_sources(loaded, unread)
        self._files = {name: self._files[name] for name in old & self._files.keys()} | good
        if not old:
            return loaded, frozenset()
        known = {_key(file) for file in self._files.values()}
        left = frozenset(key for key in broken if key not in known and key[0] != "sources")
        ordered = tuple(self._files[name] for name in sorted(self._files, key=lambda name: name.split("/")))
        return replace(loaded, files=ordered, sources=sources, broken=left), frozenset(old)

    def never(self, old: frozenset[str]) -> frozenset[str]:
        """Return which of the ``old`` files could never be read, so that nothing is shown in their place."""
        return old - self._files.keys() - self._sources.keys()

    def _missing(
        self, present: Mapping[str, RawFile], broken: Set[tuple[str, str, str]], is_there: IsThere
    ) -> Set[str]:
        """Return the files that are missing and were not removed on purpose."""
        gone = self._files.keys() - present.keys()
        if not any(name.startswith("content/") for name in present):
            return gone
        return {name for name in gone if name == _DEPARTMENT or _key(self._files[name]) in broken or is_there(name)}

    def _with_sources(self, loaded: Loaded, unread: Set[str]) -> Mapping[str, RawSource]:
        """Return the sources, with the last good ones of each list that cannot be read."""
        by_file: dict[str, dict[str, RawSource]] = {}
        for key, source in loaded.sources.items():
            by_file.setdefault(source.key.at.file, {})[key] = source
        kept = {name: sources for name, sources in self._sources.items() if name in unread}
        self._sources = kept | {name: sources for name, sources in by_file.items() if name not in unread}
        return {key: source for sources in kept.values() for key, source in sources.items()} | dict(loaded.sources)


def _key(file: RawFile) -> tuple[str, str, str]:
    return (file.kind, file.procedure, str(file.id))

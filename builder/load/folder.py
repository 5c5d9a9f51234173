"""A department's folder, read whole: which file is what, its front matter, its prose, its sources."""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TypeGuard

from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load import limits
from builder.load.clock import this_day
from builder.load.files import link_refused, picture_digest_of, picture_fault, read_bytes, read_found, walk
from builder.load.frontmatter import Value, read_values, split, without_controls
from builder.load.ledger import Ledger, read_ledger
from builder.load.parent import parent_folder
from builder.load.prose import EMPTY, Prose, read_prose
from builder.load.sources.bibliography import RawSource, SourceCache, read_sources
from builder.place import Place, Text

ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
FIGURE_ENDINGS = (".svg", ".png")

# Which file is what: the first pattern that fits names its kind. What a department has most of stands first.
_KINDS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (kind, re.compile(pattern))
    for kind, pattern in (
        ("step", r"content/procedures/(?P<procedure>[^/]+)/steps/(?P<id>[^/]+)\.md"),
        ("caution", r"content/(?:procedures/(?P<procedure>[^/]+)|shared)/cautions/(?P<id>[^/]+)\.md"),
        ("aftercare", r"content/(?:procedures/(?P<procedure>[^/]+)|shared)/aftercare/(?P<id>[^/]+)\.md"),
        ("figure", r"content/procedures/(?P<procedure>[^/]+)/figures/(?P<id>[^/]+)"),
        ("department", r"content/(?P<id>department)\.md"),
        ("local", r"content/local/(?P<id>department)\.md"),
        ("local", r"content/local/(?P<procedure>(?P<id>[^/]+))\.md"),
        ("structures", r"content/catalogue/(?P<id>structures)(?:-local|-proposed-[a-z0-9-]+)?\.yml"),
        ("items", r"content/catalogue/(?P<id>items)(?:-local|-proposed-[a-z0-9-]+)?\.yml"),
        ("terms", r"content/catalogue/(?P<id>terms)\.yml"),
        ("consents", r"content/catalogue/(?P<id>consents)\.yml"),
        ("procedure", r"content/procedures/(?P<procedure>[^/]+)/(?P<id>procedure)\.md"),
        ("notes", r"content/procedures/(?P<procedure>[^/]+)/(?P<id>notes)\.md"),
        ("told", r"content/procedures/(?P<procedure>[^/]+)/(?P<id>told)\.yml"),
        ("translation", r"content/procedures/(?P<procedure>[^/]+)/translations/(?P<id>[^/]+)\.md"),
        ("sources", r"references/(?P<id>[^/]+)\.bib"),
        ("notices", r"references/notices/(?P<id>[^/]+)\.csv"),
    )
)
_STRAY_FIGURE = re.compile(r"content/procedures/(?P<procedure>[^/]+)/figures/(?P<id>[^/]+)")
_READ = ("content/", "references/")
LAID = ("content/procedures/", "content/shared/")
"""Where a file of the parent has the name that a file of the department's own would have in its place."""
PARENT_BROKEN = ("parent", "", "parent")
"""What is broken where the parent cannot be used."""
PARENT = "parent/"
"""Before the name of any other file of the parent, which stands beside the department's own."""


@dataclass(frozen=True, slots=True)
class RawFile:
    """One file: its ``kind``, the ``procedure`` it belongs to ("" = shared), ``id``, values and prose."""

    kind: str
    procedure: str
    id: Text
    front: Value
    body: Prose = EMPTY

    @property
    def name(self) -> str:
        """The path of the file, relative to the department's folder."""
        return self.id.at.file


@dataclass(frozen=True, slots=True)
class Loaded:
    """All that was read on the day ``today``. ``pictures`` holds the digest of each figure file.

    ``texts`` holds every text file as it was written, drawings too, whether or not it could be used.
    ``broken`` holds ``(kind, procedure, id)`` of files that exist and could not be read. ``parent`` is the department
    over which this one is laid (``model/local_policy.py``); ``lent`` tells of each of its files, by the name it has
    here, the folder it lies in and its name there.
    """

    root: Path
    today: date
    files: tuple[RawFile, ...] = ()
    sources: Mapping[str, RawSource] = field(default_factory=dict)
    figures: frozenset[str] = frozenset()
    pictures: Mapping[str, str] = field(default_factory=dict)
    notices: Mapping[str, str] = field(default_factory=dict)
    ledger: Ledger = field(default_factory=Ledger)
    texts: Mapping[str, str] = field(default_factory=dict)
    broken: frozenset[tuple[str, str, str]] = frozenset()
    findings: tuple[Finding, ...] = ()
    parent: Loaded | None = None
    lent: Mapping[str, tuple[Path, str]] = field(default_factory=dict)


def load(root: Path, today: date | None = None, cache: SourceCache | None = None, parent: Path | None = None) -> Loaded:
    """Read the department in ``root``. Never raises for what is written there: what is wrong is in ``findings``.

    ``today`` is the day on which reviews and lists are judged; by default the day of SOURCE_DATE_EPOCH, else today.
    ``cache`` spares parsing sources that have not changed; without it nothing outside ``root`` is read or written. A
    department that names a parent is laid over ``parent`` where that is given.
    """
    with collector_paused():
        return _loaded(FolderReader(root, today or this_day(), cache, parent=parent))


def _loaded(reader: FolderReader) -> Loaded:
    try:
        for name, is_link in names_in(reader.root):
            reader.take(name, is_link)
    except Refused as refusal:
        reader.findings.append(refusal.finding)
    parent = reader.parent_root()
    return reader.loaded(_loaded(reader.of_parent(parent)) if parent else None)


def names_in(root: Path) -> Iterator[tuple[str, bool]]:
    """Yield ``(name, is_link)`` of every file that is read, in order. Raises Refused where a folder cannot be."""
    for top in _READ:
        if (root / top).is_symlink():
            yield top.rstrip("/"), True
        elif (root / top).is_dir():
            for name, is_link in walk(root / top):
                yield top + name, is_link


class FolderReader:
    """Collects what is read; one instance a load, or one a file where its parts are kept and joined.

    ``above`` is how many departments are laid over this one: 0 for the one that is read, 1 for its parent.
    """

    def __init__(
        self, root: Path, today: date, cache: SourceCache | None = None, above: int = 0, parent: Path | None = None
    ) -> None:
        self.root = root
        self.today = today
        self.cache = cache
        self.above = above
        self.parent = parent
        self.files: list[RawFile] = []
        self.sources: dict[str, RawSource] = {}
        self.pictures: dict[str, str] = {}
        self.notices: dict[str, str] = {}
        self.texts: dict[str, str] = {}
        self.broken: set[tuple[str, str, str]] = set()
        self.findings: list[Finding] = []

    def of_parent(self, root: Path) -> FolderReader:
        """Return a reader of the parent, which is in ``root``."""
        return FolderReader(root, self.today, self.cache, self.above + 1)

    def parent_root(self) -> Path | None:
        """Return the folder of the department over which this one is laid; None where there is none or it cannot be
        used: then a finding says why."""
        named = next((file.front for file in self.files if file.kind == "department"), None)
        try:
            if not _names_parent(named):
                return None
            return self.parent or parent_folder(self.root, named["parent"], self.above)
        except Refused as refusal:
            self.findings.append(refusal.finding)
            self.broken.add(PARENT_BROKEN)
            return None

    def called(self, name: str) -> str:
        """Return what the file ``name`` of this folder is called in the department that is read."""
        return name if not self.above or name.startswith(LAID) else f"{PARENT * self.above}{name}"

    def take(self, name: str, is_link: bool) -> None:
        """Read one file that ``names_in`` found."""
        kind, procedure, stem = kind_of(name)
        try:
            if is_link:
                raise link_refused(name)
            if not kind:
                self.findings.append(_stray(name))
                self._note_stray_figure(name)
            elif self._is_named_well(name, kind, procedure, stem):
                self._read(name, kind, procedure, stem)
        except Refused as refusal:
            self.findings.append(refusal.finding)
            self.broken.add((kind, procedure, stem))

    def _note_stray_figure(self, name: str) -> None:
        """A picture of another kind is there and cannot be used: a figure that names it is not called missing."""
        match = _STRAY_FIGURE.fullmatch(name)
        if match:
            self.broken.add(("figure", match["procedure"], match["id"]))

    def _is_named_well(self, name: str, kind: str, procedure: str, stem: str) -> bool:
        if kind == "figure":
            return True
        wrong = [part for part in (procedure, stem) if part and not ID.fullmatch(part)]
        if wrong and kind not in ("sources", "notices"):
            hint = "Use lower-case letters, digits and single hyphens, for example `open-the-canal`."
            self.findings.append(
                finding("file-name-not-an-id", Place(name), f"{quoted(wrong[0])} cannot be an id", hint)
            )
            self.broken.add((kind, procedure, stem))
            return False
        return True

    def _read(self, name: str, kind: str, procedure: str, stem: str) -> None:
        if kind == "figure":
            self.pictures[name] = ""  # whoever shows the picture says why it cannot be read
            with suppress(Refused):
                picture = read_bytes(self.root, name, limits.MAX_FIGURE_BYTES)
                self.pictures[name] = picture_digest_of(name, picture)
                if name.endswith(".svg"):
                    self.texts[name] = picture.decode("utf-8", "replace")
                elif fault := picture_fault(picture):
                    hint = "Open the picture in a picture program, look at it, and save it again as PNG."
                    self.findings.append(finding("picture-unusable", Place(name), f"{name} {fault}", hint))
        elif kind == "notices":
            self.notices[self.called(name)] = self._text(name, limits.MAX_SOURCES_BYTES)
        elif kind == "sources":
            self._read_sources(name)
        else:
            front, body = self._read_text(name, kind)
            self.files.append(RawFile(kind, procedure, Text(stem, Place(self.called(name))), front, body))

    def _read_text(self, name: str, kind: str) -> tuple[Value, Prose]:
        """Return front matter and prose of one file."""
        text = without_controls(self._text(name))
        name = self.called(name)
        if kind in ("notes", "told"):
            # They are for the writer alone: they have no front matter, link to nothing and are not published.
            return None, Prose(text, (), Place(name))
        if name.endswith(".yml"):
            front, findings = read_values(text, name)
            body = EMPTY
        else:
            parts = split(text, name)
            front, findings = read_values(parts.front, name, first_line=2)
            body = read_prose(parts.body, name, parts.body_line)
        self.findings.extend(findings)
        return front, body

    def _text(self, name: str, most: int = limits.MAX_TEXT_BYTES) -> str:
        self.texts[self.called(name)] = text = read_found(self.root, name, most)
        return text

    def _read_sources(self, name: str) -> None:
        sources, findings = read_sources(self._text(name, limits.MAX_SOURCES_BYTES), self.called(name), self.cache)
        self.findings.extend(findings)
        # A key that appears twice loses no key, so what cites it is still judged.
        if any(problem.name != "source-key-written-twice" for problem in findings):
            self.broken.add(kind_of(name))
        self._add_sources(sources)

    def join(self, part: FolderReader) -> None:
        """Add what another reader read of one file, as if it had been read here."""
        self.files.extend(part.files)
        self.pictures.update(part.pictures)
        self.notices.update(part.notices)
        self.texts.update(part.texts)
        self.findings.extend(part.findings)
        self.broken.update(part.broken)
        self._add_sources(part.sources)

    def _add_sources(self, sources: Mapping[str, RawSource]) -> None:
        for key, source in sources.items():
            first = self.sources.setdefault(key, source)
            if first is not source:
                message = (
                    f"{quoted(key)} is already the key of a source in {first.key.at.file}, line {first.key.at.line}"
                )
                hint = "Give one of the two another key, or remove it."
                self.findings.append(finding("source-key-written-twice", source.key.at, message, hint))

    def loaded(self, parent: Loaded | None = None) -> Loaded:
        """Return all that was read, with the ``parent`` under it; to be called once."""
        kinds = {file.kind for file in self.files} | {kind for kind, _, _ in self.broken}
        if "department" not in kinds:
            message = "content/department.md is missing, so this is not a department's folder"
            hint = "Name the folder that contains content/ and references/, or write content/department.md."
            self.findings.append(finding("folder-incomplete", Place("content/department.md"), message, hint))
        self.findings.extend(self._headless(parent))
        return Loaded(
            self.root,
            self.today,
            tuple(self.files),
            self.sources,
            frozenset(self.pictures),
            self.pictures,
            self.notices,
            read_ledger(self.root),
            self.texts,
            frozenset(self.broken),
            tuple(self.findings),
            parent,
            self._lent(),
        )

    def _lent(self) -> dict[str, tuple[Path, str]]:
        names = (*self.texts, *self.pictures) if self.above else ()
        return {name: (self.root, name.removeprefix(PARENT * self.above)) for name in names}

    def _headless(self, parent: Loaded | None) -> Iterator[Finding]:
        """Yield a finding for each folder without procedure.md: its steps and cautions would be lost silently."""
        parts = {file.procedure for file in self.files if file.procedure and file.kind != "local"}
        parts -= {file.procedure for file in every_file(parent)} if parent else set()
        heads = {file.procedure for file in self.files if file.kind == "procedure"}
        heads |= {procedure for kind, procedure, _ in self.broken if kind == "procedure"}
        for procedure in sorted(parts - heads):
            name = f"content/procedures/{procedure}/procedure.md"
            message = f"{name} is missing, so nothing in that folder is used"
            hint = "Write procedure.md, or move the folder out of content/procedures/."
            yield finding("folder-incomplete", Place(name), message, hint)


def _names_parent(front: Value) -> TypeGuard[dict[str, Value]]:
    return isinstance(front, dict) and front.get("parent") is not None


def every_file(loaded: Loaded) -> Iterator[RawFile]:
    """Yield the files of a department, and those of every department that it is laid over."""
    yield from loaded.files
    if loaded.parent is not None:
        yield from every_file(loaded.parent)


def kind_of(name: str) -> tuple[str, str, str]:
    """Return kind, procedure ("" = shared) and id of the file ``name``; all "" where no such file belongs there."""
    for kind, pattern in _KINDS:
        match = pattern.fullmatch(name)
        if match and (kind != "figure" or name.endswith(FIGURE_ENDINGS)):
            return kind, match.groupdict().get("procedure") or "", match["id"]
    return "", "", ""


def _stray(name: str) -> Finding:
    message = f"{name} is not read: this kind of file does not belong there"
    hint = "Move it to steps/, cautions/, aftercare/ or figures/ with the ending .md, .svg or .png, or out of content/."
    return finding("file-not-expected", Place(name), message, hint)


@contextmanager
def collector_paused(*, set_aside: bool = True) -> Iterator[None]:
    """Pause the cyclic collector: reading and checking a department makes no cycles worth collecting, and looking for
    them doubles the time. What was made is then set aside for good, unless it will soon be forgotten."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if set_aside:
            gc.freeze()
        if was_on:
            gc.enable()

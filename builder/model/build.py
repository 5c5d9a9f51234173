"""Builds the Library: front matter is validated file by file, and the parts of a procedure are put together."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import Any, NamedTuple, TypeVar

from pydantic import ValidationError

from builder.findings.finding import Finding, Severity
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.folder import PARENT, PARENT_BROKEN, Loaded, RawFile, collector_paused
from builder.model import common_catalogue
from builder.model.catalogue import Catalogue, plain_name
from builder.model.edition import settled
from builder.model.fields import Node
from builder.model.json_schema import KINDS
from builder.model.library import SHARED, Library
from builder.model.local_page import LocalPage
from builder.model.local_policy import Laid, laid
from builder.model.pages import Aftercare, Caution, Department, Parts, Procedure, Step
from builder.model.translation import Translation
from builder.model.validation import findings_of
from builder.place import BODY_KEY, ID_KEY, PARTS_KEY, WHERE_KEY, Place, Text, Where

P = TypeVar("P", bound=Node)
_READ_OF_STEP = frozenset({"actions", "needs", "gives"})
_READ_OF_PROCEDURE = frozenset({"sequence", "kit", "side", "aftercare"})
"""Keys that the path analysis reads: where one of them is wrong, nothing can be said of what follows."""


class KeptPages:
    """The pages of files that were validated before: a file that is the same object is not validated again."""

    def __init__(self) -> None:
        self._before: dict[int, tuple[RawFile, Node]] = {}
        self._now: dict[int, tuple[RawFile, Node]] = {}

    def page(self, file: RawFile, validated: Callable[[], Node | None]) -> Node | None:
        """Return the page of ``file``, by ``validated`` where it is not kept: what does not fit is looked at again."""
        kept = self._before.get(id(file))
        page = kept[1] if kept is not None else validated()
        if page is not None:
            self._now[id(file)] = (file, page)
        return page

    def turn(self) -> None:
        """Begin another build: what the last one did not ask for is forgotten."""
        self._before, self._now = self._now, {}


def build(loaded: Loaded, kept: KeptPages | None = None) -> tuple[Library, list[Finding]]:
    """Return the Library of what was loaded, and what does not fit the model. Files that do not fit are left out."""
    kept = kept or KeptPages()
    kept.turn()
    with collector_paused():
        own = _laid(loaded)
        builder = _LibraryBuilder(own.laid.loaded, own.laid.findings, own.broken, kept)
        library = replace(
            builder.library(),
            local=own.laid.changes,
            dangers=own.laid.dangers,
            lent=own.laid.loaded.lent,
        )
        wrong = [made for made in (*loaded.findings, *builder.findings) if made.severity is Severity.ERROR]
        misfits = {made.at.file: made.at for made in reversed(wrong)}
        salvaged = tuple(builder.salvaged_procedures)
        library = settled(replace(library, misfits=misfits, salvaged=builder.salvaged, salvaged_procedures=salvaged))
    return library, builder.findings


class _Over(NamedTuple):
    """A department laid over its parent, and its pages of local changes that cannot be used."""

    laid: Laid
    broken: frozenset[tuple[str, str, str]] = frozenset()


def _laid(loaded: Loaded) -> _Over:
    """Return the department over its parent, where it has one: the parent over its own parent first."""
    own = _LibraryBuilder(loaded)
    pages = {str(file.id): page for file, page in own.validated("local", LocalPage)}
    if loaded.parent is None:
        return _Over(Laid(loaded, findings=(*own.findings, *_without_parent(loaded, pages.values()))))
    below = _laid(loaded.parent)
    errors = tuple(made for made in loaded.parent.findings if made.severity is Severity.ERROR)
    made = laid(loaded, below.laid.loaded, pages)
    made = replace(made, findings=(*errors, *below.laid.findings, *own.findings, *made.findings))
    return _Over(made, frozenset(own.broken))


def _without_parent(loaded: Loaded, pages: Iterable[LocalPage]) -> Iterable[Finding]:
    if PARENT_BROKEN in loaded.broken:
        return
    for page in pages:
        hint = "Write `parent: {folder: ../region}` into content/department.md, or remove the file."
        yield finding("local-does-not-fit", Place(page.file), f"{page.file} changes a parent, and none is named", hint)


class _LibraryBuilder:
    """Validates each file once; one instance a build."""

    def __init__(
        self,
        loaded: Loaded,
        findings: Iterable[Finding] = (),
        broken: frozenset[tuple[str, str, str]] = frozenset(),
        kept: KeptPages | None = None,
    ) -> None:
        self.loaded = loaded
        self.kept = kept or KeptPages()
        self.findings: list[Finding] = list(findings)
        self.broken = {*loaded.broken, *broken}
        self.laid_over: set[str] = set()
        self.salvaged: dict[tuple[str, str], Step] = {}
        self.salvaged_procedures: list[Procedure] = []
        self.by_kind: dict[str, list[RawFile]] = defaultdict(list)
        for file in loaded.files:
            self.by_kind[file.kind].append(file)

    def library(self) -> Library:
        cautions = self._parts("caution", Caution)
        aftercare = self._parts("aftercare", Aftercare)
        department = next(iter(self.validated("department", Department)), None)
        return Library(
            root=self.loaded.root,
            today=self.loaded.today,
            department=department[1] if department else Department.model_validate({"name": Text("?")}),
            structures=self._catalogue("structures", common_catalogue.structures),
            items=self._catalogue("items", common_catalogue.items),
            terms=tuple(self._entries("terms")),
            consents=tuple(self._entries("consents")),
            procedures=tuple(self._procedures(cautions, aftercare)),
            shared_cautions=cautions[SHARED],
            shared_aftercare=aftercare[SHARED],
            sources=self.loaded.sources,
            figures=self.loaded.figures,
            pictures=self.loaded.pictures,
            ledger=self.loaded.ledger,
            notices=self.loaded.notices,
            texts=self.loaded.texts,
            broken=frozenset(self.broken),
        )

    def _procedures(
        self, cautions: dict[str, dict[str, Caution]], aftercare: dict[str, dict[str, Aftercare]]
    ) -> Iterable[Procedure]:
        steps = self._parts("step", Step)
        translations = self._parts("translation", Translation)
        for file in self.by_kind["procedure"]:
            name = file.procedure
            parts = Parts(
                steps[name], cautions[SHARED] | cautions[name], aftercare[SHARED] | aftercare[name], translations[name]
            )
            procedure = self._validate(file, {PARTS_KEY: parts, ID_KEY: Text(name, file.id.at)})
            if procedure is not None:
                yield procedure

    def _parts(self, kind: str, model: type[P]) -> dict[str, dict[str, P]]:
        by_procedure: dict[str, dict[str, P]] = defaultdict(dict)
        for file, page in self.validated(kind, model):
            by_procedure[file.procedure][file.id] = page
        return by_procedure

    def validated(self, kind: str, model: type[P]) -> Iterable[tuple[RawFile, P]]:
        """Yield each file of ``kind`` that fits the model, with its page."""
        for file in self.by_kind[kind]:
            page = self.kept.page(file, partial(self._validate, file, {}))
            if isinstance(page, model):
                yield file, page

    def _validate(self, file: RawFile, extra: dict[str, Any]) -> Any:
        """Return the page of ``file``, or None where it does not fit; then its findings say why."""
        start = Place(file.name)
        value = {WHERE_KEY: Where(start)} if file.front is None else file.front
        if not isinstance(value, dict):
            message = "the front matter is not a block of `key: value` lines"
            hint = "Write `key: value` lines between the `---` lines."
            self._refuse(file, [finding("value-not-allowed", start, message, hint)])
            return None
        where = value[WHERE_KEY]
        assert isinstance(where, Where)  # the loader puts nothing else there
        hidden = {WHERE_KEY: where.starting(start), ID_KEY: file.id, BODY_KEY: file.body, **extra}
        try:
            return KINDS[file.kind].validate_python({**value, **hidden})
        except ValidationError as error:
            self._refuse(file, findings_of(error, value, start, file.kind))
            self._salvage(file, {**value, **hidden}, error)
            return None

    def _salvage(self, file: RawFile, value: dict[str, Any], error: ValidationError) -> None:
        """Keep what the path analysis reads of a step or procedure in which something else is wrong."""
        wrong = {str(detail["loc"][0]) for detail in error.errors(include_url=False) if detail["loc"]}
        rest = {key: part for key, part in value.items() if key not in wrong}
        with suppress(ValidationError):
            if file.kind == "step" and "actions" in value and not wrong & _READ_OF_STEP:
                self.salvaged[file.procedure, str(file.id)] = Step.model_validate({"title": file.id, **rest})
            elif file.kind == "procedure" and not wrong & _READ_OF_PROCEDURE:
                self.salvaged_procedures.append(Procedure.model_validate({**_stand_in(file.procedure), **rest}))

    def _refuse(self, file: RawFile, findings: list[Finding]) -> None:
        self.findings.extend(findings)
        self.broken.add((file.kind, file.procedure, file.id))

    def _entries(self, kind: str) -> list[Any]:
        """Return the entries of a catalogue file; one that does not fit takes the whole file with it."""
        entries: list[Any] = []
        for file in self.by_kind[kind]:
            if file.front is None:
                continue
            if not isinstance(file.front, list):
                message, hint = f"{file.name} is not a list", "Start each entry with a dash."
                self._refuse(file, [finding("value-not-allowed", Place(file.name), message, hint)])
                continue
            front = [self._filled(kind, entry) for entry in file.front]
            try:
                entries.extend(KINDS[kind].validate_python(front))
            except ValidationError as error:
                self._refuse(file, findings_of(error, file.front, Place(file.name), kind))
        return entries

    def _filled(self, kind: str, entry: Any) -> Any:
        """Return an entry without ``kind`` with what the common catalogue says of it; what is written goes first."""
        if (
            kind not in _LAYERED
            or not isinstance(entry, dict)
            or "kind" in entry
            or not isinstance(entry.get("id"), Text)
        ):
            return entry
        below = _LAYERED[kind]().find(entry["id"])
        if below is None:
            return entry
        self.laid_over.add(below.id)
        return {**common_catalogue.written(below, entry["id"].at), **entry, "id": Text(below.id, entry["id"].at)}

    def _catalogue(self, kind: str, under: Callable[[], Catalogue[Any]]) -> Catalogue[Any]:
        """Return the catalogue of ``kind``, which lies over the common one.

        An entry of a ``-local.yml`` file stands in place of that of the same id, so that a department takes a catalogue
        from elsewhere as it is, and adds and changes in a file of its own.
        """
        kept: dict[str, Any] = {}
        names: dict[str, Any] = {}
        for entry in sorted(self._entries(kind), key=_rank):
            first = kept.get(plain_name(entry.id))
            if first is not None and (_rank(first) == _rank(entry) or _rank(entry) == _OWN):
                other = "" if first.id.at.file == entry.id.at.file else f" of {first.id.at.file}"
                message = f"{quoted(entry.id)} is already the id of the entry in line {first.id.at.line}{other}"
                self.findings.append(finding("id-used-twice", entry.id.at, message, "Give one of the two another id."))
                continue
            kept[plain_name(entry.id)] = entry
        used = [entry for entry in kept.values() if entry.off is None]
        for entry in used:
            self._check_names(entry, names)
        return Catalogue(used, under, hidden=kept, whole=set(kept) - self.laid_over)

    def _check_names(self, entry: Any, names: dict[str, Any]) -> None:
        for name in (entry.name, *entry.also):
            first = names.setdefault(plain_name(name), entry)
            if first is not entry:
                message = f"{quoted(name)} is also a name of {quoted(first.id)} (line {first.id.at.line})"
                self.findings.append(finding("name-used-twice", name.at, message, "Give each entry names of its own."))


_LAYERED: dict[str, Callable[[], Catalogue[Any]]] = {
    "structures": common_catalogue.structures,
    "items": common_catalogue.items,
}
"""The catalogues that lie over a common one."""


def _stand_in(id: str) -> dict[str, Any]:
    """Return what takes the place of keys of a procedure that are missing and that the path analysis does not read."""
    words = {key: Text(id) for key in ("title", "specialty", "edition")}
    return {**words, "status": "draft", "owner": {"name": Text(id), "role": Text(id)}}


_OWN = 2


def _rank(entry: Any) -> int:
    """Return what a catalogue entry goes before: those of a parent, then those that lie over its own, then ours, then
    those that lie over ours."""
    file: str = entry.id.at.file
    return _OWN * (not file.startswith(PARENT)) + file.endswith("-local.yml")

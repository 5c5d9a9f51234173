"""The files of one procedure while a change to them is made up: read once, changed in memory, handed over together."""

from collections.abc import Iterable
from dataclasses import replace

from builder.draft.told_file import TOLD, Told, read_told, told_text
from builder.edit.file_change import CannotEdit, Drop, Edit, FileChange, Path, ProseEdit, Put, Value
from builder.edit.file_text import FileText
from builder.edit.forms.form_files import FormEdit, FormFile, FormFolder, refuse_misfits, target_of
from builder.edit.forms.removing import removed
from builder.edit.operations import confirmed, edited, put_in
from builder.findings.message_words import quoted
from builder.load.files import OpenedFile

HEAD = "procedure.md"


class Desk:
    """One instance a change. Pages are named below the procedure's folder: ``steps/cut-skin.md``."""

    def __init__(self, folder: FormFolder, procedure: str) -> None:
        self.home = f"content/procedures/{procedure}"
        self.procedure = procedure
        self._folder = folder
        self._opened: dict[str, OpenedFile | None] = {}
        self._texts: dict[str, str | None] = {}
        self._pictures: dict[str, bytes] = {}
        self.told = read_told(self.text(TOLD)) if self.has(TOLD) else Told()
        self._told_before = self.told

    def has(self, page: str) -> bool:
        """Tell whether there is such a page now."""
        name = f"{self.home}/{page}"
        return self._texts[name] is not None if name in self._texts else name in self._folder.names

    def text(self, page: str) -> str:
        """Return the text of ``page`` as it stands now. Raises CannotEdit where it is not there, Refused."""
        if not self.has(page):
            raise CannotEdit(f"{quoted(page)} is not there any more", "Load the page again.")
        return self._text(f"{self.home}/{page}")

    def _text(self, name: str) -> str:
        if name not in self._texts:
            opened = self._folder.open(name) if name in self._folder.names else None
            self._opened[name] = opened
            self._texts[name] = opened.text if opened else None
        return self._texts[name] or ""

    def data(self, page: str) -> dict[str, Value]:
        """Return the front matter of ``page``."""
        data = FileText.cut(self.text(page)).data
        return data if isinstance(data, dict) else {}

    def prose(self, page: str) -> str:
        """Return what stands below the front matter."""
        return FileText.cut(self.text(page)).body

    def edit(self, page: str, *edits: Edit) -> None:
        """Make ``edits`` in ``page``; the rest of it stays byte for byte."""
        if edits:
            self._texts[f"{self.home}/{page}"] = edited(self.text(page), self._target(page).kind, edits)

    def put(self, page: str, key: str, value: Value) -> None:
        """Have ``key`` say ``value``; one that says nothing goes."""
        if value not in (None, "", [], {}):
            self.edit(page, Put((key,), value))
        elif key in self.data(page):
            self.edit(page, Drop((key,)))

    def set_prose(self, page: str, text: str) -> None:
        """Have ``text`` stand below the front matter."""
        self.edit(page, ProseEdit(f"{text.strip()}\n" if text.strip() else ""))

    def add(self, page: str, path: Path, value: Value, number: int | None = None) -> None:
        """Put ``value`` in as entry ``number``, else the last, of a list."""
        self._texts[f"{self.home}/{page}"] = put_in(self.text(page), self._target(page).kind, path, value, number)

    def add_to_catalogue(self, name: str, catalogue: str, value: Value) -> None:
        """Put an entry into the file ``name`` of the department, which may be new."""
        self._texts[name] = put_in(self._text(name), catalogue, (), value)

    def put_in_catalogue(self, name: str, catalogue: str, value: dict[str, Value]) -> None:
        """Have the entry with the id of ``value`` say it, in the file ``name``; where there is none, put it in."""
        number = self._row(name, "id", value["id"])
        if number is None:
            self.add_to_catalogue(name, catalogue, value)
        else:
            edits = (Put((number, key), said) for key, said in value.items() if key != "id")
            self._texts[name] = edited(self._text(name), catalogue, edits)

    def drop_from_catalogue(self, name: str, catalogue: str, called: str) -> None:
        """Take the entry that is ``called`` so out of the file ``name``, if it is there."""
        number = self._row(name, "name", called)
        if number is not None:
            self._texts[name] = edited(self._text(name), catalogue, [Drop((number,))])

    def _row(self, name: str, key: str, value: Value) -> int | None:
        rows = FileText.cut(self._text(name), is_list=True).data
        held = [row.get(key) if isinstance(row, dict) else None for row in rows] if isinstance(rows, list) else []
        return held.index(value) if value in held else None

    def new(self, page: str, text: str) -> None:
        """Have a new page."""
        self._opened.setdefault(f"{self.home}/{page}", None)
        self._texts[f"{self.home}/{page}"] = text

    def new_picture(self, picture: bytes) -> str:
        """Have a new picture, and return the name of its file, which tells nothing of what it was called before."""
        start, number = f"{self.home}/figures/", 1
        while f"{start}picture-{number}.png" in self._folder.names:
            number += 1
        self._pictures[f"{start}picture-{number}.png"] = picture
        return f"picture-{number}.png"

    def confirm(self, page: str) -> None:
        """Take the marks of a draft out of ``page``."""
        self._texts[f"{self.home}/{page}"] = confirmed(self.text(page), self._target(page).kind)[0]

    def remove(self, page: str) -> None:
        """Take ``page`` out, and its name wherever it is listed."""
        name = f"{self.home}/{page}"
        now = self._now(name)
        for file, change in removed(
            FormFolder(self._names(), self._now), self._target(page), now.digest
        ).changes.items():
            self._text(file)
            self._texts[file] = None if change.text is None else str(change.text)

    def _names(self) -> frozenset[str]:
        gone = {name for name, text in self._texts.items() if text is None}
        return frozenset({*self._folder.names, *self._texts} - gone)

    def _now(self, name: str) -> OpenedFile:
        text, opened = self._text(name), self._opened.get(name)
        return replace(opened, text=text) if opened else OpenedFile(text, "")

    def _target(self, page: str) -> FormFile:
        target = target_of(f"{self.home}/{page}")
        if target is None:
            raise CannotEdit(f"{quoted(page)} is not a page", "Load the page again.")
        return target

    def taken(self, folder: str) -> set[str]:
        """Return the ids of the pages in ``folder``."""
        start = f"{self.home}/{folder}/"
        return {name.removeprefix(start).removesuffix(".md") for name in self._names() if name.startswith(start)}

    def done(self, label: str, pages: Iterable[str] = ()) -> FormEdit:
        """Return the whole change. Raises Unfit where a page would no longer be what the format asks for."""
        if self.told != self._told_before:
            self._text(f"{self.home}/{TOLD}")
            self._texts[f"{self.home}/{TOLD}"] = told_text(self.told)
        changes = {name: FileChange(picture, None) for name, picture in self._pictures.items()}
        for name, text in self._texts.items():
            opened = self._opened.get(name)
            if text == (opened.text if opened else None):
                continue
            target = target_of(name)
            if target is not None and text is not None:
                refuse_misfits(text, target)
            changes[name] = FileChange(text, opened.digest if opened else None)
        return FormEdit(changes, label, next(iter(pages), HEAD))

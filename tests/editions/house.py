"""A department that issues cards, and the days on which it does."""

from __future__ import annotations

import re
import shutil
from datetime import date
from pathlib import Path

from department import new_base

from builder.check.engine import examine
from builder.findings.finding import Finding
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.pipeline import publish
from builder.publish.build_report import Report

FIRST = date(2026, 11, 25)
SECOND = date(2027, 3, 3)


class House:
    """A department in ``root`` that publishes to ``to``; its procedure is ``example``."""

    def __init__(self, folder: Path, like: Path | None = None) -> None:
        """Begin with the smallest good department, or with what the house in ``like`` has come to, site and all."""
        self.folder = Path(shutil.copytree(like, folder, dirs_exist_ok=True)) if like else folder
        self.root = folder / "department" if like else new_base(folder)
        self.to = folder / "public"
        self.example = self.root / "content/procedures/example"
        self.ledger = self.root / "ledger/issued.jsonl"

    def read(self, day: date = FIRST) -> tuple[Library, list[Finding]]:
        return examine(load(self.root, day))

    def set(self, **values: str) -> None:
        """Write keys of procedure.md anew; an empty value takes the key out."""
        path = self.example / "procedure.md"
        text = path.read_text()
        for key, value in values.items():
            text = re.sub(rf"^{key}: .*\n", "", text, flags=re.MULTILINE)
            if value:
                text = text.replace("specialty:", f"{key}: {value}\nspecialty:", 1)
        path.write_text(text)

    def change(self, file: str, old: str, new: str) -> None:
        path = self.example / file
        text = path.read_text()
        assert old in text, f"{old!r} is not in {file}"
        path.write_text(text.replace(old, new))

    def content(self) -> str:
        library, _ = self.read()
        return edition_of(library, library.procedures[0]).content

    def code(self) -> str:
        library, _ = self.read()
        return edition_of(library, library.procedures[0]).code

    def approve(self, on: date = FIRST) -> None:
        """Let the clinical lead look at the procedure as it stands and approve it."""
        self.set(status="approved")
        self.set(approval=f"{{by: Bea Example, role: clinical lead, on: {on}, content: {self.content()}}}")

    def publish(self, day: date = FIRST, *, issue: bool = False, only: tuple[str, ...] = ("site",)) -> Report:
        library, _ = self.read(day)
        return publish(library, self.to, load_templates(self.root), only=only, issue=issue)

    def page(self, name: str) -> str:
        """The words of a published page, with one space between."""
        text = (self.to / name).read_text()
        return " ".join(re.sub(r"<[^>]+>", " ", text[text.index("<main") :]).split())

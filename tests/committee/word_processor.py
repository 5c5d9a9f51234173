"""Edits a document as people do, by LibreOffice: run by a Python that has its module uno, with a file of edits.

    python3 word_processor.py EDITS.json

``EDITS.json`` names soffice, the document to open, those to write, and the edits in their order. One process makes
all.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.table import BorderLine2  # noqa: F401  # loads the module, so that a missing part is told at once

_FORMS = {".docx": "MS Word 2007 XML", ".odt": "writer8"}
_PARAGRAPH = 0  # com.sun.star.text.ControlCharacter.PARAGRAPH_BREAK


def _property(name: str, value: object) -> PropertyValue:
    given = PropertyValue()
    given.Name, given.Value = name, value
    return given


class Session:
    """One running LibreOffice with one document open."""

    def __init__(self, soffice: str, source: Path) -> None:
        self.profile = tempfile.TemporaryDirectory()
        pipe = f"prescrub{os.getpid()}"
        self.process = subprocess.Popen(
            [soffice, f"-env:UserInstallation=file://{self.profile.name}", "--headless", "--norestore", "--nologo",
             f"--accept=pipe,name={pipe};urp;"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
        address = f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
        for _ in range(600):
            try:
                self.context = resolver.resolve(address)
                break
            except NoConnectException:
                time.sleep(0.1)
        self.services = self.context.ServiceManager
        self.desktop = self.services.createInstanceWithContext("com.sun.star.frame.Desktop", self.context)
        self.document = self.desktop.loadComponentFromURL(f"file://{source}", "_blank", 0, (_property("Hidden", True),))

    def name_author(self, author: str) -> None:
        """Let all that follows be marked by ``author``, as the options of the program would."""
        provider = self.services.createInstanceWithContext(
            "com.sun.star.configuration.ConfigurationProvider", self.context
        )
        path = _property("nodepath", "/org.openoffice.UserProfile/Data")
        data = provider.createInstanceWithArguments("com.sun.star.configuration.ConfigurationUpdateAccess", (path,))
        given, _, family = author.partition(" ")
        data.replaceByName("givenname", given)
        data.replaceByName("sn", family)
        data.commitChanges()

    def make(self, edit: dict) -> None:
        """Make one edit of those that a method below is named after."""
        self.name_author(edit.get("author", ""))
        self.document.RecordChanges = edit.get("tracked", True)
        getattr(self, edit["do"])(edit)

    def _anchor(self, edit: dict):
        return self.document.getBookmarks().getByName(edit["id"]).Anchor

    def _cursor(self, edit: dict, old: str):
        """Return a cursor over ``old`` in the paragraph of the edit."""
        anchor = self._anchor(edit)
        at = anchor.String.rindex(old) if edit.get("last") else anchor.String.index(old)
        cursor = anchor.Text.createTextCursorByRange(anchor.Start)
        cursor.goRight(at, False)
        cursor.goRight(len(old), True)
        assert cursor.String == old, (edit, cursor.String)
        return cursor

    def _paragraph(self, edit: dict):
        anchor = self._anchor(edit)
        cursor = anchor.Text.createTextCursorByRange(anchor.Start)
        cursor.gotoStartOfParagraph(False)
        cursor.gotoEndOfParagraph(True)
        return cursor

    def replace(self, edit: dict) -> None:
        self._cursor(edit, edit["old"]).setString(edit["new"])

    def append(self, edit: dict) -> None:
        end = self._paragraph(edit)
        end.collapseToEnd()
        end.Text.insertString(end, edit["new"], False)

    def delete(self, edit: dict) -> None:
        """Delete a whole paragraph with its end."""
        cursor = self._paragraph(edit)
        cursor.goRight(1, True)
        cursor.setString("")

    def empty(self, edit: dict) -> None:
        self._paragraph(edit).setString("")

    def new_paragraph(self, edit: dict) -> None:
        end = self._paragraph(edit)
        end.collapseToEnd()
        end.Text.insertControlCharacter(end, _PARAGRAPH, False)
        end.Text.insertString(end, edit["new"], False)

    def split(self, edit: dict) -> None:
        cursor = self._cursor(edit, edit["old"])
        cursor.collapseToStart()
        cursor.Text.insertControlCharacter(cursor, _PARAGRAPH, False)

    def join(self, edit: dict) -> None:
        """Join a paragraph to the one below it."""
        cursor = self._paragraph(edit)
        cursor.collapseToEnd()
        cursor.goRight(1, True)
        cursor.setString("")

    def bold(self, edit: dict) -> None:
        self._cursor(edit, edit["old"]).CharWeight = 150.0

    def comment(self, edit: dict) -> None:
        note = self.document.createInstance("com.sun.star.text.textfield.Annotation")
        note.Author, note.Content = edit.get("author", ""), edit["new"]
        self.document.RecordChanges = False  # a comment is no change; LibreOffice 7.4 falls over the second one tracked
        cursor = self._cursor(edit, edit["old"])
        cursor.Text.insertTextContent(cursor, note, True)

    def move(self, edit: dict) -> None:
        """Cut a whole paragraph and paste it below another, as words: what a clipboard carries from elsewhere."""
        words = self._paragraph(edit).String
        self.delete(edit)
        self.new_paragraph({**edit, "id": edit["to"], "new": words})

    def table(self, edit: dict) -> None:
        table = self.document.createInstance("com.sun.star.text.TextTable")
        rows = edit["rows"]
        table.initialize(len(rows), len(rows[0]))
        end = self._paragraph(edit)
        end.collapseToEnd()
        end.Text.insertControlCharacter(end, _PARAGRAPH, False)
        end.Text.insertTextContent(end, table, False)
        for number, row in enumerate(rows):
            for column, words in enumerate(row):
                table.getCellByPosition(column, number).setString(words)

    def _own_table(self, edit: dict):
        anchor = self._anchor(edit)
        return anchor.TextTable, int(anchor.Cell.CellName[1:]) - 1

    def delete_row(self, edit: dict) -> None:
        table, row = self._own_table(edit)
        table.Rows.removeByIndex(row, 1)

    def insert_row(self, edit: dict) -> None:
        table, row = self._own_table(edit)
        table.Rows.insertByIndex(row + 1, 1)
        for column, words in enumerate(edit["row"]):
            table.getCellByPosition(column, row + 1).setString(words)

    def merge_cells(self, edit: dict) -> None:
        table, row = self._own_table(edit)
        cursor = table.createCursorByCellName(f"A{row + 1}")
        cursor.gotoCellByName(f"B{row + 1}", True)
        cursor.mergeRange()

    def save(self, targets: list[str]) -> None:
        """Write what there is now to each of ``targets``, in the form that its ending names."""
        for target in targets:
            form = _FORMS[Path(target).suffix]
            self.document.storeToURL(f"file://{target}", (_property("FilterName", form),))
        self.document.close(True)

    def end(self) -> None:
        with suppress(Exception):  # it may have gone before it answers
            self.desktop.terminate()
        self.process.wait(60)


def main() -> None:
    told = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    session = Session(told["soffice"], Path(told["source"]))
    try:
        for edit in told["edits"]:
            try:
                session.make(edit)
            except Exception as error:
                raise SystemExit(f"{edit}: {type(error).__name__}: {error}") from error
        session.save(told["targets"])
    finally:
        session.end()
    sys.stdout.flush()
    os._exit(0)  # the bridge may crash when Python ends, after all is done


if __name__ == "__main__":
    main()

"""From an old outline to a published page and card: the edits that it took are data, and counted."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml
from department import read
from publishing import publish_site

from builder.findings.finding import Severity
from builder.outputs import OUTPUTS
from builder.write.draft_files import confirm
from drafts import results

SOURCE = results.HERE / "sources" / "trigger-finger.md"
EDITS = yaml.safe_load((results.HERE / "edits" / "trigger-finger.yml").read_text(encoding="utf-8"))
MOST_EDITS = 20


@dataclass
class Drafted:
    """A drafted and edited procedure in its department."""

    root: Path
    folder: Path


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Drafted:
    root = Path(shutil.copytree(results.DEPARTMENT, tmp_path_factory.mktemp("drafted") / "department"))
    _, folder = results.drafted(SOURCE, root, "Trigger finger release")
    confirm(root, ["content/procedures/trigger-finger-release"])
    for edit in EDITS:
        path = folder / edit["file"]
        text = path.read_text(encoding="utf-8")
        if edit["write"] is None:
            path.unlink()
            continue
        assert text.count(edit["find"]) == 1, edit
        path.write_text(text.replace(edit["find"], edit["write"]), encoding="utf-8")
    return Drafted(root, folder)


def test_it_took_few_edits() -> None:
    assert len(EDITS) <= MOST_EDITS


def test_nothing_blocks_and_nothing_is_left_unsaid(drafted: Drafted) -> None:
    findings = read(drafted.root)[1]
    mine = [one for one in findings if "trigger-finger" in one.at.file]
    assert [one for one in mine if one.severity is Severity.ERROR] == []
    assert [one.name for one in mine if one.name in ("proposed-not-confirmed", "not-answered-yet")] == []


def test_page_and_card_and_slides_hold_the_steps_of_the_outline(drafted: Drafted, tmp_path: Path) -> None:
    only = [name for name in ("site", "card", "handout", "slides", "slides-pptx") if name in OUTPUTS.usual]
    assert {"site", "card"} <= set(only)
    report = publish_site(drafted.root, tmp_path / "public", only)
    made = {one.kind for one in report.artefacts}
    assert {"page", "card"} <= made
    assert ("slides" in made) == ("slides" in OUTPUTS.usual)
    page = next((tmp_path / "public").rglob("trigger-finger-release/index.html"), None) or next(
        path for path in (tmp_path / "public").rglob("trigger-finger-release*.html")
    )
    text = " ".join(results.words(page.read_text(encoding="utf-8")))
    for title in ("Divide the A1 pulley", "Identify the digital nerves", "Apply the padded bandage"):
        assert " ".join(results.words(title)) in text
    assert "draft not approved" in text
    for path in (tmp_path / "public").rglob("*.html"):
        raw = path.read_text(encoding="utf-8")
        assert "Notes on the draft" not in raw
        assert "ask Jo" not in raw


def test_notes_are_never_published(drafted: Drafted, tmp_path: Path) -> None:
    notes = drafted.folder / "notes.md"
    notes.write_text(notes.read_text(encoding="utf-8") + "\n- a sentence like no other\n", encoding="utf-8")
    publish_site(drafted.root, tmp_path / "public", ("site", "single-file"))
    for path in (tmp_path / "public").rglob("*"):
        if path.is_file():
            assert b"sentence like no other" not in path.read_bytes()

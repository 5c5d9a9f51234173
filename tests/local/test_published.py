"""What a reader sees of a department over its parent: what is local, why, and both texts where nobody has chosen."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import pytest
from over import Ward, confirmed

from builder.cli import main
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.publish_error import PublishError

OURS, THEIRS = "The nerve and its branch are seen.", "The nerve is seen along its whole length."
NOW = "The nerve is seen at the ring."
HOSTILE = "So & <b>agreed</b> {{ here }}."
NOON = "1795608000"


@pytest.fixture
def ward(tmp_path: Path) -> Ward:
    ward = Ward(tmp_path)
    ward.local({"replace": "step open-canal", "key": "cue", "with": OURS, "because": HOSTILE})
    confirmed(ward)
    return ward


def published(ward: Ward, *only: str) -> Path:
    library, _ = ward.read()
    to = ward.root.parent / "public"
    publish(library, to, load_templates(library.root), only=only)
    return to


def words(path: Path) -> str:
    text = path.read_text()
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", text[text.index("<main") :]).split()))


def test_page_shows_what_is_local_with_reason_document_and_day(ward: Ward) -> None:
    to = published(ward, "site")
    page = words(to / "example/index.html")
    assert "Local policy Step 4, go on when: replaced here. So & <b>agreed</b> {{ here }}." in page
    assert "Theatre policy 12, 1 May 2026" in page
    assert OURS in page
    assert THEIRS not in page
    assert (to / "example/figures/canal.svg").exists()


def test_both_texts_are_on_page_and_handout_until_somebody_chose(ward: Ward) -> None:
    ward.of_region("steps/open-canal.md", THEIRS, NOW)
    to = published(ward, "site", "handout")
    page = words(to / "example/index.html")
    assert f"Here The parent now {OURS} {NOW}" in page
    assert "The parent has changed a text that is replaced here" in page
    (handout,) = [
        one for one in json.loads((to / "build-report.json").read_text())["artefacts"] if one["kind"] == "handout"
    ]
    assert handout["path"]  # its musts, both texts among them, were read back


@pytest.mark.parametrize("chosen", [False, True])
def test_no_code_is_issued_until_somebody_chose(
    ward: Ward, chosen: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    page = ward.root / "content/local/example.md"
    page.write_text(page.read_text().replace("changes:", "status: in review\nchanges:", 1))
    assert main(["approve", "example", str(ward.root), "--as", "clinical lead", "--name", "Bea Example", "--yes"]) == 0
    ward.of_region("steps/open-canal.md", THEIRS, NOW)
    if chosen:
        assert main(["local", "example", "1", "--in", str(ward.root), "--keep"]) == 0
    to = ward.root.parent / "issued"
    code = main(["publish", str(ward.root), "--to", str(to), "--only", "site", "--issue"])
    assert code == (0 if chosen else 1), capsys.readouterr()
    assert (ward.root / "ledger/issued.jsonl").exists() == chosen
    assert ("parent-changed" in capsys.readouterr().err) == (not chosen)


def test_a_parent_that_changes_while_it_is_published_is_noticed(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    from builder.publish import inputs_read

    before = inputs_read.refuse_changed

    def late(*given: object) -> None:
        ward.of_region("steps/cut-skin.md", "title: ", "title: Slowly ")
        before(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(inputs_read, "refuse_changed", late)
    with pytest.raises(PublishError, match=r"steps/cut-skin\.md"):
        published(ward, "site")


def test_check_names_a_file_of_the_parent_where_it_lies(
    ward: Ward, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    ward.of_region("steps/cut-skin.md", "title: ", "titel: ")
    assert main(["check", str(ward.root)]) == 1
    said = capsys.readouterr().out
    assert re.search(r"^\.\./region/content/procedures/example/steps/cut-skin\.md:\d", said, re.MULTILINE)
    assert main(["local", "--in", str(ward.root)]) == 0
    told = capsys.readouterr().out
    assert "1 local change, none waiting for a choice." in told
    assert f"ours:         {OURS}" in told

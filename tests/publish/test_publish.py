"""One publish: what it makes, that it makes the same again, and what it says of it."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from department import lay, read
from publishing import fingerprint, publish_site

from builder.compose.code_mark import QR
from builder.compose.document import Document, Must
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish.publish_error import PublishError

TESTS = Path(__file__).parent.parent
# What an artefact may be called: as its row of the table, or as one of three that are several files.
KINDS = {row.name for row in OUTPUTS.rows} | {"card-sheet", "self-test", "status", "year"}


def test_the_report_lists_every_artefact_with_its_hash(whole_base: Path) -> None:
    report = json.loads((whole_base / "build-report.json").read_text())
    assert {one["path"] for one in report["artefacts"]} >= {
        "index.html", "example/index.html", "example/handout.pdf", "example/card.pdf",
    }  # fmt: skip
    for one in report["artefacts"]:
        content = (whole_base / one["path"]).read_bytes()
        assert one["sha256"] == hashlib.sha256(content).hexdigest()
        assert one["bytes"] == len(content)
        assert one["kind"] in KINDS
        assert one["checks"]


def test_the_report_names_no_proof_that_did_not_apply(whole_base: Path) -> None:
    artefacts = json.loads((whole_base / "build-report.json").read_text())["artefacts"]
    papers = [one for one in artefacts if one["path"].endswith(".pdf")]
    decks = {one["path"] for one in papers if any("one slide" in check for check in one["checks"])}
    assert decks == {one["path"] for one in papers if one["kind"] == "slides"} != set()
    plain = Document("card", "A title", "example/card.pdf", "words")
    coded = replace(plain, musts=(Must(QR, "code", "https://surgery.example.org/code/"),))
    without, with_code = map(OUTPUTS["card"].proof.names_for, (plain, coded))
    assert [name for name in with_code if name not in without] == [
        "the QR code is painted whole, large enough, with white around it"
    ]


def test_the_report_tells_what_was_measured(whole_base: Path) -> None:
    report = json.loads((whole_base / "build-report.json").read_text())
    card = next(one for one in report["artefacts"] if one["kind"] == "card")
    assert (card["procedure"], card["edition"]) == ("example", "1.0")
    assert card["pages"] == card["explained"]["sides"] <= 4
    assert card["smallest_type_pt"] >= 8.5
    assert isinstance(card["left_out"], list)
    assert isinstance(report["checks"], list)


def test_every_published_file_is_in_the_report(whole_base: Path) -> None:
    report = json.loads((whole_base / "build-report.json").read_text())
    listed = {one["path"] for one in report["artefacts"]} | set(report["files"]) | {"build-report.json"}
    found = {path.relative_to(whole_base).as_posix() for path in whole_base.rglob("*") if path.is_file()}
    assert listed == found


def test_nothing_but_the_site_is_left_beside_the_target(whole_base: Path) -> None:
    assert sorted(entry.name for entry in whole_base.parent.iterdir()) == ["department", "public"]


def test_two_publishes_of_the_same_text_give_the_same_bytes(
    whole_base: Path, base: Path, to: Path, without_fonts: dict[str, str]
) -> None:
    """Here and by another process with another hash seed, years apart, elsewhere and without the machine's fonts:
    neither they nor the clock nor the order of a set shows. What several processes make: ``test_jobs.py``."""
    program = (
        "import sys; from pathlib import Path; sys.path[:0] = sys.argv[3:]; from builder.publish import jobs;"
        "jobs.processors = lambda: 1; from publishing import publish_all;"
        "publish_all(Path(sys.argv[1]), Path(sys.argv[2]))"
    )
    command = [sys.executable, "-c", program, str(base), str(to), str(TESTS)]
    subprocess.run(command, check=True, env={**without_fonts, "PYTHONHASHSEED": "1", "SOURCE_DATE_EPOCH": "1"})
    for path in sorted(whole_base.rglob("*")):
        other = to / path.relative_to(whole_base)
        assert path.is_dir() or path.read_bytes() == other.read_bytes(), path
    assert fingerprint(whole_base) == fingerprint(to)


def test_a_change_of_the_text_changes_the_bytes(base: Path, to: Path) -> None:
    publish_site(base, to)
    before = fingerprint(to)
    path = base / "content/procedures/example/procedure.md"
    path.write_text(path.read_text().replace('edition: "1.0"', 'edition: "1.1"'))
    publish_site(base, to)
    assert fingerprint(to) != before


def test_progress_is_told_up_to_the_end(base: Path, to: Path) -> None:
    told: list[tuple[int, int, str]] = []
    only = ("site", "slides", "card")
    publish(read(base)[0], to, load_templates(base), lambda *progress: told.append(progress), only=only)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)
    assert len({total for _, total, _ in told}) == 1
    assert told[-1][0] == told[-1][1]
    made = {made for _, _, made in told}
    assert {"example: slides", "example: pocket card", "example: page"} <= made
    assert any(one.startswith("site: ") for one in made)


def test_an_output_alone_can_be_asked_for(base: Path, to: Path) -> None:
    assert {one.kind for one in publish_site(base, to, ["card"]).artefacts} == {"card"}
    assert not (to / "index.html").exists()


def test_a_procedure_that_is_gone_is_gone_from_the_site(base: Path, to: Path) -> None:
    procedures = base / "content/procedures"
    shutil.copytree(procedures / "example", procedures / "other")
    publish_site(base, to)
    assert (to / "other/index.html").is_file()
    shutil.rmtree(procedures / "other")
    publish_site(base, to)
    assert not (to / "other").exists()


def test_a_page_that_does_not_show_what_it_promised_is_not_published(base: Path, to: Path) -> None:
    publish_site(base, to)
    before = fingerprint(to)
    hidden = {"site_templates/site/front.html.j2": '<div class="sheet"><p>Nothing here.</p></div>\n'}
    with pytest.raises(PublishError, match=r"“Opening and closing the inguinal canal”\) is not there"):
        publish_site(lay(base, hidden), to)
    assert fingerprint(to) == before

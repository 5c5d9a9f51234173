"""A department laid over its parent: what it changes by id, what is told, and what cannot be lost."""

from __future__ import annotations

import hashlib
import io
import tarfile
import zipfile
from pathlib import Path

import pytest
from department import lay, lines
from over import Ward, confirmed

from builder.cli import main
from builder.findings.finding import Severity
from builder.model.edition import edition_of
from builder.model.pages import Status
from builder.write.local_choice import keep_ours, take_theirs

CUE = {"replace": "step open-canal", "key": "cue", "with": "The nerve and its branch are seen."}
STEP = """---
title: Look at the wound again
no_actions: You only look.
cue: The wound is dry.
if_not: Press on it for two minutes.
common_practice: true
---
"""


@pytest.fixture
def ward(tmp_path: Path) -> Ward:
    return Ward(tmp_path)


def errors(ward: Ward) -> list[str]:
    return lines(made for made in ward.read()[1] if made.severity is Severity.ERROR)


def test_a_department_that_changes_nothing_is_its_parent(ward: Ward) -> None:
    library, findings = ward.read()
    theirs = Ward.read(ward)[0]
    assert findings == []
    assert [str(one.id) for one in library.procedures] == ["example"]
    assert library.department.name == "Ward Nine"
    assert [str(role) for role in library.department.approvers] == ["clinical lead"]
    assert set(library.sources) == {"hernia-nerve-management-2007", "retained-items-risk-2003"}
    assert library.structures.find("inguinal canal")
    assert library.pictures == theirs.pictures
    assert library.local == ()


def test_content_of_the_whole_is_what_it_would_be_without_a_parent(ward: Ward) -> None:
    library, _ = ward.read()
    alone = Ward.__new__(Ward)
    alone.root = ward.region
    theirs, _ = alone.read()
    ours, own = library.procedures[0], theirs.procedures[0]
    assert edition_of(library, ours).content == edition_of(theirs, own).content


def test_a_value_is_replaced_and_stands_in_the_file_of_the_department(ward: Ward) -> None:
    ward.local(CUE)
    library, findings = ward.read()
    cue = library.procedures[0].steps["open-canal"].cue
    assert cue == "The nerve and its branch are seen."
    assert cue.at.file == "content/local/example.md"
    assert (
        ward.root.joinpath(cue.at.file).read_text().splitlines()[cue.at.line - 1][cue.at.column - 1 :].startswith(cue)
    )
    assert [made.name for made in findings] == ["local-not-confirmed"]


def test_a_finding_about_a_local_value_stands_at_it(ward: Ward) -> None:
    ward.local({"replace": "step open-canal", "key": "actions", "with": [{"identify": "ilioinguinal nervve"}]})
    found = [made for made in ward.read()[1] if made.severity is Severity.ERROR]
    assert {made.at.file for made in found if "nervve" in made.message} == {"content/local/example.md"}


def test_prose_is_replaced_and_keeps_its_place(ward: Ward) -> None:
    ward.local({"replace": "step open-canal", "key": "prose", "with": "Look first.\n\nSee [that](caution:nothing).\n"})
    library, findings = ward.read()
    assert library.by_id["example"].steps["open-canal"].body.source.startswith("Look first.")
    (told,) = [made for made in findings if made.name == "caution-unknown"]
    line = (ward.root / told.at.file).read_text().splitlines()[told.at.line - 1]
    assert told.at.file == "content/local/example.md"
    assert "caution:nothing" in line or "See" in line


def test_the_path_analysis_runs_over_what_comes_of_it(ward: Ward) -> None:
    """Without its step the canal stays open, and what lies in it stays in, uncounted."""
    ward.local({"switch_off": "step close-canal"})
    library, findings = ward.read()
    assert "close-canal" not in library.procedures[0].steps
    told = [(made.name, made.severity.value, made.at.file.rpartition("/")[2]) for made in findings]
    assert [row for row in told if row[2] in ("cut-skin.md", "open-canal.md")] == [
        ("left-open", "error", "cut-skin.md"), ("left-open", "warning", "open-canal.md"),
        ("item-left-in", "error", "open-canal.md"), ("ended-uncounted", "error", "open-canal.md"),
        ("item-left-in", "error", "open-canal.md"), ("step-unknown", "error", "open-canal.md"),
    ]  # fmt: skip


def test_a_step_is_added_beside_another(ward: Ward) -> None:
    ward.local({"add": "step look-again", "after": "close-canal"})
    lay(ward.root, {"content/procedures/example/steps/look-again.md": STEP})
    library, findings = ward.read()
    steps = [str(entry.step) for entry in library.procedures[0].entries if entry.kind == "step"]
    assert steps[steps.index("close-canal") + 1] == "look-again"
    assert not [made for made in findings if made.severity is Severity.ERROR]


def test_a_whole_step_is_replaced_by_a_file_of_its_own(ward: Ward) -> None:
    ward.local({"replace": "step check-side"})
    lay(ward.root, {"content/procedures/example/steps/check-side.md": STEP})
    library, _ = ward.read()
    assert library.procedures[0].steps["check-side"].title == "Look at the wound again"
    assert library.local[0].own == "content/procedures/example/steps/check-side.md"


@pytest.mark.parametrize("name", ["steps/check-side.md", "steps/look-again.md"])
def test_no_file_takes_a_place_in_the_parent_unseen(ward: Ward, name: str) -> None:
    lay(ward.root, {f"content/procedures/example/{name}": STEP})
    assert f"content/procedures/example/{name}:1:1 local-not-declared" in errors(ward)


def test_with_one_branch_left_there_is_no_choice(ward: Ward) -> None:
    ward.local({"switch_off": "branch local of anaesthesia"}, {"switch_off": "step inject-local"})
    library, _ = ward.read()
    assert [entry.kind for entry in library.procedures[0].sequence][:3] == ["step", "step", "step"]
    assert str(library.procedures[0].sequence[1].step) == "test-block"  # type: ignore[union-attr]


def test_an_option_that_is_switched_off_leaves_what_is_done_without_it(ward: Ward) -> None:
    ward.local({"switch_off": "option drain"})
    library, findings = ward.read()
    kinds = [entry.kind for entry in library.procedures[0].entries]
    assert "option" not in kinds
    assert "follow" not in kinds
    assert [made.hint for made in findings if made.name == "step-not-used"] == [
        f"Add `switch_off: step {id}` to content/local/example.md, with its reason."
        for id in ("place-drain", "tell-recovery")
    ]


def test_one_line_of_the_kit_and_a_number_to_call(ward: Ward) -> None:
    ward.local({"replace": "procedure", "key": "kit/small swab", "with": "5"})
    ward.local({"replace": "call consultant on call", "with": "5500"}, page="department")
    library, findings = ward.read()
    assert library.procedures[0].kit["small swab"] == 5
    assert [(str(call.role), str(call.number)) for call in library.department.call] == [("consultant on call", "5500")]
    assert not [made for made in findings if made.severity is Severity.ERROR]


def test_a_number_of_its_own_needs_an_entry(ward: Ward) -> None:
    text = (ward.root / "content/department.md").read_text()
    call = "---\ncall: [{role: consultant on call, number: '1'}]\n"
    lay(ward.root, {"content/department.md": text.replace("---\n", call, 1)})
    assert errors(ward) == ["content/department.md:2:15 local-not-declared"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"replace": "step open-cannal", "key": "cue", "with": "x"}, "'step open-cannal' is not in the parent"),
        ({"replace": "step open-canal", "key": "kue", "with": "x"}, "the step open-canal of the parent has no key 'kue'"),  # noqa: E501
        ({"add": "step open-canal", "key": "cue", "with": "x"}, "'cue' of the step open-canal is already written by the parent"),  # noqa: E501
        ({"replace": "step open-canal", "key": "cue"}, "'cue' is to become nothing"),
        ({"replace": "step open-canal"}, "'step open-canal' has no file of its own here"),
        ({"replace": "stepp open-canal"}, "'stepp open-canal' does not name what is changed"),
        ({"switch_off": "branch nothing of anaesthesia"}, "'nothing' is not a branch of 'anaesthesia'"),
        ({"switch_off": "option draine"}, "'option draine' is not in the parent"),
        ({"switch_off": "step place-drain"}, "'step place-drain' is all that the option 'drain' does"),
        ({"replace": "option drain", "with": ["x"]}, "'option drain' can only be switched off as a whole"),
        ({}, "this entry has none of replace, add and switch_off"),
    ],
)  # fmt: skip
def test_an_entry_that_does_not_fit_is_told_at_its_place(ward: Ward, change: dict[str, object], message: str) -> None:
    ward.local(change)
    told = [made for made in ward.read()[1] if made.name == "local-does-not-fit"]
    assert [made.message for made in told] == [message]
    assert told[0].at.file == "content/local/example.md"
    assert told[0].at.line > 2


def test_a_change_of_the_parent_is_told_with_both_texts_until_somebody_chose(ward: Ward) -> None:
    ward.local(CUE)
    confirmed(ward)
    assert ward.names() == []
    ward.of_region("steps/open-canal.md", "The nerve is seen along its whole length.", "The nerve is seen at the ring.")
    (told,) = ward.read()[1]
    assert told.name == "parent-changed"
    assert "The nerve and its branch are seen." in told.message
    assert "The nerve is seen at the ring." in told.message
    library, _ = ward.read()
    keep_ours(library, library.local[0])
    assert ward.names() == []
    assert ward.read()[0].procedures[0].steps["open-canal"].cue == "The nerve and its branch are seen."


def test_theirs_is_taken(ward: Ward) -> None:
    ward.local(CUE, {"replace": "step check-side"})
    lay(ward.root, {"content/procedures/example/steps/check-side.md": STEP})
    library, _ = ward.read()
    take_theirs(library, library.local[1])
    take_theirs(ward.read()[0], ward.read()[0].local[0])
    assert ward.read()[0].local == ()
    assert not (ward.root / "content/procedures/example/steps/check-side.md").exists()
    assert ward.names() == []


def test_how_lines_are_broken_is_no_change_of_the_parent(ward: Ward) -> None:
    ward.local(CUE)
    confirmed(ward)
    ward.of_region("steps/open-canal.md", "cue: The nerve is seen along", "cue: The nerve is seen\n  along")
    assert ward.names() == []


def test_what_the_parent_no_longer_has_is_told(ward: Ward) -> None:
    ward.local(CUE)
    confirmed(ward)
    path = ward.region / "content/procedures/example/steps/open-canal.md"
    path.write_text("".join(line for line in path.read_text().splitlines(keepends=True) if not line.startswith("cue:")))
    (told,) = [made for made in ward.read()[1] if made.name == "local-does-not-fit"]
    assert told.message == "the step open-canal of the parent has no key 'cue'"


@pytest.mark.parametrize(
    "change",
    [
        {"switch_off": "caution toxic-dose"},
        {"replace": "caution toxic-dose", "key": "signal", "with": "warning"},
        {"switch_off": "caution toxic-dose", "key": "guards"},
        {"switch_off": "step inject-local"},
    ],
    ids=["off", "milder", "guards nothing", "its step gone"],
)
def test_a_danger_of_the_parent_stays_unless_it_allows_that(ward: Ward, change: dict[str, str]) -> None:
    path = ward.region / "content/procedures/example/steps/inject-local.md"
    path.write_text(path.read_text().replace("cautions: [toxic-dose]\n", ""))
    ward.local(change)
    assert "parent-danger-removed" in ward.names()
    ward.of_region("cautions/toxic-dose.md", "signal: danger", "may_be_removed: true\nsignal: danger")
    assert "parent-danger-removed" not in ward.names()


def test_what_the_parent_withdraws_is_withdrawn_here(ward: Ward) -> None:
    ward.local(status="in review")
    assert ward.read()[0].procedures[0].status is Status.IN_REVIEW
    withdrawn = "status: withdrawn\nwithdrawn: {on: 2026-11-01, because: A better way is known.}"
    ward.of_region("procedure.md", "status: draft", withdrawn)
    assert ward.read()[0].procedures[0].status is Status.WITHDRAWN
    ward.local({"replace": "procedure", "key": "status", "with": "in review"}, status="in review")
    assert ward.read()[0].procedures[0].status is Status.IN_REVIEW


def test_an_approval_covers_what_comes_of_both(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    ward.local(CUE, status="in review", owner={"name": "Cy Example", "role": "surgeon"})
    confirmed(ward)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1764072000")
    assert main(["approve", "example", str(ward.root), "--as", "clinical lead", "--name", "Bea Example", "--yes"]) == 0
    page = (ward.root / "content/local/example.md").read_text()
    assert "status: approved" in page
    assert ward.read()[0].procedures[0].status is Status.APPROVED
    ward.of_region("steps/cut-skin.md", "title: ", "title: Slowly ")  # a text that nobody replaced
    library, _ = ward.read()
    assert library.procedures[0].status is Status.DRAFT
    assert set(library.lapsed) == {"example"}


def packed(region: Path, form: str) -> Path:
    """Pack the region as ``form``, in a folder of its own."""
    target = region.parent / "ward" / f"region.{form}"
    files = sorted(path for path in region.rglob("*") if path.is_file())
    if form == "tar.gz":
        with tarfile.open(target, "w:gz") as archive:
            for path in files:
                archive.add(path, f"region-1/{path.relative_to(region)}")
    else:
        with zipfile.ZipFile(target, "w") as archive:
            for path in files:
                archive.write(path, f"region_content/{path.relative_to(region)}")
    return target


@pytest.mark.parametrize("form", ["zip", "whl", "tar.gz"])
def test_a_packed_parent_is_read_as_the_one_whose_digest_is_written(ward: Ward, form: str) -> None:
    target = packed(ward.region, form)
    kind, digest = "wheel" if form == "whl" else "archive", hashlib.sha256(target.read_bytes()).hexdigest()
    head = (ward.root / "content/department.md").read_text()
    parent = f"{{{kind}: {target.name}, digest: {digest}}}"
    lay(ward.root, {"content/department.md": head.replace("{folder: ../region}", parent)})
    ward.local(CUE)
    library, _ = ward.read()
    assert library.procedures[0].steps["open-canal"].cue == "The nerve and its branch are seen."
    assert library.whereabouts("content/procedures/example/figures/canal.svg")[0].is_dir()
    target.write_bytes(target.read_bytes() + b"\n")
    (told,) = [made for made in ward.read()[1] if made.name == "parent-unusable"]
    assert told.message.startswith(f"'{digest[:12]}' is not how the digest of 'region.{form}' begins")


def test_an_archive_stays_in_its_folder(ward: Ward, tmp_path: Path) -> None:
    target = ward.root / "region.tar.gz"
    with tarfile.open(target, "w:gz") as archive:
        member = tarfile.TarInfo("../../escaped.txt")
        archive.addfile(member, io.BytesIO())
    digest = hashlib.sha256(target.read_bytes()).hexdigest()
    head = (ward.root / "content/department.md").read_text()
    parent = f"{{archive: region.tar.gz, digest: {digest}}}"
    lay(ward.root, {"content/department.md": head.replace("{folder: ../region}", parent)})
    assert "parent-unusable" in ward.names()
    assert not list(tmp_path.rglob("escaped.txt"))


def test_a_parent_may_have_one_of_its_own(ward: Ward, tmp_path: Path) -> None:
    ward.local(CUE)
    head = (ward.root / "content/department.md").read_text().replace("../region", "../ward").replace("Nine", "Ten")
    ten = Ward.__new__(Ward)
    ten.root, ten.region = tmp_path / "ten", ward.root
    lay(ten.root, {"content/department.md": head})
    ten.local({"add": "step cut-skin", "key": "cue", "with": "The fat is seen."})
    steps = ten.read()[0].procedures[0].steps
    assert steps["open-canal"].cue == "The nerve and its branch are seen."
    assert steps["cut-skin"].cue == "The fat is seen."
    assert errors(ten) == []


def test_a_department_over_itself_is_refused(ward: Ward) -> None:
    head = (ward.root / "content/department.md").read_text()
    lay(ward.root, {"content/department.md": head.replace("../region", "../ward")})
    assert "parent-unusable" in ward.names()


def test_catalogue_and_sources_of_both(ward: Ward) -> None:
    bib = (ward.region / "references/sources.bib").read_text()
    lay(ward.root, {
        "content/catalogue/items-local.yml": "- {id: small-swab, name: small gauze, kind: swab, also: [small swab]}\n",
        "references/own.bib": bib,
    })  # fmt: skip
    library, findings = ward.read()
    assert library.items.find("small swab").name == "small gauze"  # type: ignore[union-attr]
    assert "source-key-written-twice" not in [made.name for made in findings]
    lay(ward.root, {"references/own.bib": bib.replace("{2007}", "{2008}")})
    assert "source-key-written-twice" in ward.names()
    lay(ward.root, {"content/catalogue/items.yml": "- {id: small-swab, name: gauze, kind: swab}\n"})
    assert "id-used-twice" in ward.names()

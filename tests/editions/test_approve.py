"""Approving: what is shown before, who may, what is written, and what an edit makes of it."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from house import House

from builder.cli import main
from builder.compose.changes.approval_view import last_approval
from builder.load.ledger import APPROVED_NAME, UNSIGNED, ledger_of, line_of, read_ledger
from builder.load.signature import SIGNERS, SignatureState, signature_state
from builder.model.pages import Status

LEAD = "clinical lead"
STEP = "steps/open-canal.md"


@pytest.fixture
def reviewed(house: House, monkeypatch: pytest.MonkeyPatch) -> House:
    """The procedure is in review, under git, on 25 November 2026."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")
    house.set(status="in review")
    git(house.root, "init", "-q")
    commit(house.root)
    return house


def git(root: Path, *words: str) -> None:
    author = ("-c", "user.name=Ada Example", "-c", "user.email=ada@example.org")
    subprocess.run(["git", "-C", str(root), *author, *words], check=True, capture_output=True)


def commit(root: Path) -> None:
    git(root, "add", "-A")
    git(root, "commit", "-qm", "As it stands")


def approve(house: House, name: str = "Bea Example", role: str = LEAD, *more: str) -> int:
    return main(["approve", "example", str(house.root), "--as", role, "--name", name, "--yes", *more])


def procedure_of(house: House) -> tuple[Status, int]:
    library, _ = house.read()
    return library.procedures[0].status, len(library.procedures[0].approval)


def names(house: House) -> list[str]:
    return [finding.name for finding in house.read()[1]]


def test_what_was_never_approved_is_all_new(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert approve(reviewed) == 0
    said = capsys.readouterr().out
    assert "Nothing was approved before, so all of it is new: " in said
    assert "steps of" in said
    assert "Still open" in said
    assert f"code {reviewed.content()}" in said
    assert "approved by Bea Example, clinical lead (unsigned). It is approved." in said
    assert procedure_of(reviewed) == (Status.APPROVED, 1)
    assert not {"approval-missing", "approval-outdated", "approver-without-authority"} & set(names(reviewed))


def test_the_ledger_keeps_who_approved_which_parts(reviewed: House) -> None:
    approve(reviewed)
    (line,) = read_ledger(reviewed.root).approved
    assert (line.by, line.role, line.content) == ("Bea Example", LEAD, reviewed.content())
    assert (line.on, line.signature) == (date(2026, 11, 25), UNSIGNED)
    assert ("step", "open-canal", "4") in {part[:3] for part in line.parts}
    text = (reviewed.root / APPROVED_NAME).read_text()
    assert line_of(line) + "\n" == text
    for at in range(0, len(text) - 1, 11):
        spoilt = text[:at] + ("x" if text[at] != "x" else "y") + text[at + 1 :]
        assert ledger_of(spoilt, APPROVED_NAME).faults, spoilt
    (reviewed.root / APPROVED_NAME).write_text(text.replace("Bea", "Ada"))
    assert "ledger-line-altered" in names(reviewed)


@pytest.mark.parametrize("file", [STEP, "aftercare/pain-relief.md", "figures/canal.svg"])
def test_an_edit_of_what_is_clinical_is_a_draft_again(reviewed: House, file: str) -> None:
    approve(reviewed)
    old, new = {STEP: ("cue: ", "cue: Nearly always "), "figures/canal.svg": ("<svg", "<!-- moved --><svg")}.get(
        file, ("amount: 1 g", "amount: 2 g")
    )
    reviewed.change(file, old, new)
    assert procedure_of(reviewed)[0] is Status.DRAFT
    assert "approval-outdated" in names(reviewed)


@pytest.mark.parametrize("key", ["owner", "authors", "review_by"])
def test_what_is_not_clinical_voids_nothing(reviewed: House, key: str) -> None:
    approve(reviewed)
    value = {"owner": "{name: Cy Sample, role: surgeon}", "authors": "[{name: Cy Sample, role: surgeon}]"}
    reviewed.set(**{key: value.get(key, "2028-04-30")})
    assert procedure_of(reviewed)[0] is Status.APPROVED


def test_numbers_to_call_void_nothing(reviewed: House) -> None:
    approve(reviewed)
    page = reviewed.root / "content/department.md"
    page.write_text(page.read_text().replace("extension 0", "extension 9"))
    assert procedure_of(reviewed)[0] is Status.APPROVED


def test_the_next_approver_is_told_in_words_what_changed(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    approve(reviewed)
    commit(reviewed.root)
    reviewed.change("aftercare/pain-relief.md", "amount: 1 g", "amount: 2 g")
    commit(reviewed.root)
    capsys.readouterr()
    assert main(["approve", "example", str(reviewed.root), "--as", LEAD, "--name", "Cy Sample"]) == 2
    shown = capsys.readouterr()
    assert "What changed since Bea Example approved it on 25 November 2026" in shown.out
    assert "Between edition 1.0 and now: 1 change." in shown.out
    assert "- 1 g" in shown.out
    assert "+ 2 g" in shown.out
    assert "There is no terminal to ask you on." in shown.err
    assert procedure_of(reviewed)[0] is Status.DRAFT


def test_without_the_text_in_git_the_parts_are_named(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    approve(reviewed)
    reviewed.change("aftercare/pain-relief.md", "amount: 1 g", "amount: 2 g")
    capsys.readouterr()
    approve(reviewed, "Cy Sample")
    shown = capsys.readouterr().out
    assert "git does not have the text that was approved" in shown
    assert "Aftercare: " in shown
    assert "(changed)" in shown


@pytest.mark.parametrize(
    ("name", "role", "why"),
    [
        ("A. Example", LEAD, "'A. Example' owns this procedure and cannot approve it."),
        ("Dr Cy Sample", LEAD, "'Dr Cy Sample' wrote this procedure and cannot approve it."),
        ("Bea Example", "porter", "'porter' is not a role that may approve here. Use clinical lead."),
    ],
)
def test_who_may_not_approve_is_told_why(
    reviewed: House, capsys: pytest.CaptureFixture[str], name: str, role: str, why: str
) -> None:
    reviewed.set(authors="[{name: Cy Sample, role: registrar}]")
    assert approve(reviewed, name, role) == 2
    assert why in capsys.readouterr().err
    assert procedure_of(reviewed) == (Status.IN_REVIEW, 0)
    assert not (reviewed.root / APPROVED_NAME).exists()


def test_an_author_who_approves_by_hand_is_found(reviewed: House) -> None:
    reviewed.set(authors="[{name: Bea Example, role: registrar}]")
    reviewed.approve()
    assert "approved-by-owner" in names(reviewed)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"status": "draft"}, "is a draft. Write `status: in review`"),
        ({"status": "withdrawn"}, "is withdrawn, and cannot be approved."),
    ],
)
def test_what_is_not_ready_is_not_approved(
    reviewed: House, capsys: pytest.CaptureFixture[str], values: dict[str, str], why: str
) -> None:
    reviewed.set(**values)
    assert approve(reviewed) == 2
    assert why in capsys.readouterr().err


def test_what_blocks_an_approval_is_shown_and_stops_it(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed.set(review_by="")
    assert approve(reviewed) == 1
    shown = capsys.readouterr()
    assert "review-date-missing" in shown.out
    assert shown.err == "1 error must be put right before this can be approved.\n"
    assert procedure_of(reviewed) == (Status.IN_REVIEW, 0)


def test_two_people_where_the_department_says_so(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    page = reviewed.root / "content/department.md"
    page.write_text(page.read_text().replace("approvers: ", "approvals_needed: 2\napprovers: "))
    approve(reviewed)
    assert "1 more approval needed before it counts." in capsys.readouterr().out
    assert procedure_of(reviewed) == (Status.IN_REVIEW, 1)
    assert approve(reviewed, "B. Example") == 2
    assert "'B. Example' has approved this content already, on 2026-11-25." in capsys.readouterr().err
    approve(reviewed, "Cy Sample")
    assert procedure_of(reviewed) == (Status.APPROVED, 2)
    reviewed.change(STEP, "cue: ", "cue: Nearly always ")
    assert procedure_of(reviewed) == (Status.DRAFT, 2)
    approve(reviewed, "Cy Sample")
    assert procedure_of(reviewed) == (Status.IN_REVIEW, 1)


def test_approved_by_hand_by_one_of_two_is_an_error(reviewed: House) -> None:
    page = reviewed.root / "content/department.md"
    page.write_text(page.read_text().replace("approvers: ", "approvals_needed: 2\napprovers: "))
    reviewed.approve()
    told = [finding.message for finding in reviewed.read()[1] if finding.name == "approval-missing"]
    assert told == ["'approved' is the status, but only 1 of the 2 people needed has approved it"]


def test_nothing_is_asked_where_nothing_is_missing(reviewed: House, capsys: pytest.CaptureFixture[str]) -> None:
    approve(reviewed)
    capsys.readouterr()
    assert approve(reviewed, "Cy Sample") == 0
    assert "It is approved as it stands. Nothing is missing." in capsys.readouterr().out
    assert len(read_ledger(reviewed.root).approved) == 1


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not installed")
def test_a_signature_is_of_this_person_and_this_line(reviewed: House, tmp_path: Path) -> None:
    """As OpenSSH signs and verifies (PROTOCOL.sshsig)."""
    key = tmp_path / "key"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(key)], check=True)
    assert approve(reviewed, "Bea Example", LEAD, "--key", str(key)) == 0
    (line,) = read_ledger(reviewed.root).approved
    assert line.signature.startswith("-----BEGIN SSH SIGNATURE-----")
    assert signature_state(reviewed.root, line) is SignatureState.UNKNOWN
    (reviewed.root / SIGNERS).write_text(f"bea-example {key.with_suffix('.pub').read_text()}")
    assert signature_state(reviewed.root, line) is SignatureState.GOOD
    assert signature_state(reviewed.root, replace(line, by="Cy Sample")) is SignatureState.WRONG
    other = replace(line, content=line.content.replace("v1-", "v2-"))
    assert signature_state(reviewed.root, other) is SignatureState.WRONG


def test_without_ssh_keygen_nothing_is_signed(
    reviewed: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "key").write_text("no key")
    tools = tmp_path / "bin"
    tools.mkdir()
    (tools / "git").symlink_to(shutil.which("git") or "git")
    monkeypatch.setenv("PATH", str(tools))
    assert approve(reviewed, "Bea Example", LEAD, "--key", str(tmp_path / "key")) == 2
    assert "ssh-keygen is not installed here" in capsys.readouterr().err
    assert procedure_of(reviewed) == (Status.IN_REVIEW, 0)


def test_the_last_approval_is_that_of_the_ledger(reviewed: House) -> None:
    approve(reviewed)
    library, _ = reviewed.read()
    last = last_approval(library, library.procedures[0])
    assert last is not None
    assert last.by == "Bea Example"


def test_the_page_of_a_replaced_code_leads_to_what_changed_in_words(reviewed: House) -> None:
    approve(reviewed)
    old = reviewed.code()
    reviewed.publish(issue=True)
    commit(reviewed.root)
    reviewed.change("aftercare/pain-relief.md", "amount: 1 g", "amount: 2 g")
    reviewed.set(edition='"1.1"')
    approve(reviewed, "Cy Sample")
    reviewed.publish(issue=True)
    told = reviewed.page(f"C/{old}/changes.html")
    assert "Between editions 1.0 and 1.1: 1 change." in told
    assert re.search(r"Fixed amount changed Before 1 g Now 2 g", " ".join(told.split()))
    assert 'href="changes.html"' in (reviewed.to / f"C/{old}/index.html").read_text()
    current = reviewed.code()
    commit(reviewed.root)
    reviewed.change("aftercare/pain-relief.md", "amount: 2 g", "amount: 3 g")  # not issued: no copy has it
    reviewed.publish()
    assert reviewed.page(f"C/{old}/changes.html") == told
    assert not (reviewed.to / f"C/{current}/changes.html").exists()


def test_without_the_old_text_no_page_is_promised(reviewed: House) -> None:
    approve(reviewed)
    old = reviewed.code()
    reviewed.publish(issue=True)
    reviewed.change("aftercare/pain-relief.md", "amount: 1 g", "amount: 2 g")
    reviewed.set(edition='"1.1"')
    approve(reviewed, "Cy Sample")
    reviewed.publish(issue=True)
    assert not (reviewed.to / f"C/{old}/changes.html").exists()
    assert "changes.html" not in (reviewed.to / f"C/{old}/index.html").read_text()
    assert "Replaced: do not use this copy" in reviewed.page(f"C/{old}/index.html")

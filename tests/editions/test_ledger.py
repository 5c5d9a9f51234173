"""The ledger: read whole, added to and never rewritten, united by git without a hand."""

from __future__ import annotations

import errno
import json
import os
import subprocess
from datetime import date
from pathlib import Path

import pytest
from house import FIRST, SECOND, House
from needs import needs

from builder.check.engine import exit_code
from builder.compose.site.status import line_now
from builder.findings.finding import Refused
from builder.load.ledger import NAME, Issued, ledger_of, line_of
from builder.publish import issuing as writing
from builder.publish.publish_error import PublishError
from builder.write.lock import NotWritten


def line(house: House, **values: object) -> Issued:
    library, _ = house.read()
    made = line_now(library, library.procedures[0])
    return Issued(**{name: values.get(name, getattr(made, name)) for name in Issued.__dataclass_fields__})


def ids(house: House) -> list[str]:
    return [finding.name for finding in house.read()[1]]


def test_a_line_is_read_as_it_was_written(house: House) -> None:
    one = line(house, title="Ünïcode | tab\t “quotes”\u2028 and all", review_by=None)
    (found,) = ledger_of(line_of(one) + "\n").issued
    assert found.at == (NAME, 1, 1)
    assert line_of(found) == line_of(one)


def test_a_line_stands_alone(house: House) -> None:
    """What a status page says needs nothing but the line."""
    values = json.loads(line_of(line(house)))
    assert set(values) == {
        "form", "code", "procedure", "title", "edition", "issued", "review_by", "content", "parts", "seal",
    }  # fmt: skip
    assert ["step", "open-canal", "4", "Find the nerve, then open the canal"] in [part[:4] for part in values["parts"]]
    assert "\n" not in line_of(line(house))


def test_every_changed_character_is_noticed(house: House) -> None:
    text = line_of(line(house))
    for at in range(0, len(text), 7):
        spoilt = text[:at] + ("x" if text[at] != "x" else "y") + text[at + 1 :]
        assert ledger_of(spoilt).faults, spoilt


@pytest.mark.parametrize("cut", [1, 30, 200, -1])
def test_a_line_that_was_cut_short_is_a_fault_and_the_others_stand(house: House, cut: int) -> None:
    text = line_of(line(house))
    found = ledger_of(f"{text[:cut]}\n{text}\n")
    assert len(found.issued) == 1
    (fault,) = found.faults
    assert fault.at.line == 1


@pytest.mark.parametrize(
    "text", ["[]", "null", "{}", "7", '"x"', "<<<<<<< HEAD", "[" * 100_000, '{"form": 2, "code": "later"}', "\ufeff{}"]
)
def test_whatever_stands_in_the_ledger_is_told_in_plain_words(house: House, text: str) -> None:
    house.ledger.parent.mkdir()
    house.ledger.write_text(text + "\n")
    _, findings = house.read()
    assert [finding.name for finding in findings] == ["ledger-line-unreadable"]
    assert exit_code(findings) == 1


def test_a_link_in_place_of_the_ledger_is_not_followed(house: House, tmp_path: Path) -> None:
    house.ledger.parent.mkdir()
    (tmp_path / "elsewhere").write_text("")
    house.ledger.symlink_to(tmp_path / "elsewhere")
    assert ids(house) == ["ledger-line-unreadable"]


# Adding


def test_lines_are_added_and_nothing_is_rewritten(house: House) -> None:
    writing.append(house.root, [line(house)])
    before = house.ledger.read_bytes()
    writing.append(house.root, [line(house, code="X", edition="1.1")])
    assert house.ledger.read_bytes().startswith(before)
    assert house.ledger.read_bytes().count(b"\n") == 2


def test_a_code_that_stands_there_is_not_added_again(house: House) -> None:
    writing.append(house.root, [line(house)])
    before = house.ledger.read_bytes()
    writing.append(house.root, [line(house, on=SECOND)])
    assert house.ledger.read_bytes() == before


def test_a_missing_line_end_joins_nothing(house: House) -> None:
    writing.append(house.root, [line(house)])
    house.ledger.write_bytes(house.ledger.read_bytes().rstrip(b"\n"))
    writing.append(house.root, [line(house, code="X")])
    assert [one.code for one in ledger_of(house.ledger.read_text()).issued] == [line(house).code, "X"]
    assert ledger_of(house.ledger.read_text()).faults == ()


def test_a_full_disk_leaves_the_ledger_as_it_was(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    writing.append(house.root, [line(house)])
    before = house.ledger.read_bytes()

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWritten, match="No space"):
        writing.append(house.root, [line(house, code="X")])
    assert house.ledger.read_bytes() == before


def git(root: Path, *words: str) -> str:
    name = ["-c", "user.name=t", "-c", "user.email=t@example.org", "-c", "commit.gpgsign=false"]
    done = subprocess.run(["git", *name, *words], cwd=root, capture_output=True, text=True, check=True)
    return done.stdout


def test_git_unites_two_branches_that_both_issued(house: House) -> None:
    needs("git", "ledgers of two branches")
    writing.append(house.root, [line(house)])
    git(house.root, "init", "-q", "-b", "main")
    git(house.root, "add", "-A")
    git(house.root, "commit", "-q", "-m", "one")
    for branch, code in (("left", "LEFT"), ("right", "RIGHT")):
        git(house.root, "checkout", "-q", "-b", branch, "main")
        writing.append(house.root, [line(house, code=code, edition=branch)])
        git(house.root, "commit", "-q", "-a", "-m", branch)
    git(house.root, "merge", "-q", "-m", "both", "left")
    found = ledger_of(house.ledger.read_text())
    assert {one.code for one in found.issued} == {line(house).code, "LEFT", "RIGHT"}
    assert found.faults == ()


def test_a_code_that_two_branches_issued_has_the_earlier_day(house: House) -> None:
    text = f"{line_of(line(house, on=SECOND))}\n{line_of(line(house, on=FIRST))}\n"
    (one,) = ledger_of(text).issued
    assert one.on == FIRST


# Issuing


def test_publishing_alone_writes_no_ledger(house: House) -> None:
    house.approve()
    house.publish()
    assert not house.ledger.exists()


def test_only_what_is_approved_is_issued(house: House) -> None:
    house.publish(issue=True)
    assert not house.ledger.exists()
    house.approve()
    house.publish(issue=True)
    (one,) = ledger_of(house.ledger.read_text()).issued
    assert (one.code, one.on, one.procedure) == (house.code(), FIRST, "example")
    assert (house.ledger.parent / ".gitattributes").read_text() == "*.jsonl text eol=lf merge=union\n"


def test_what_was_changed_after_its_approval_is_not_issued(house: House) -> None:
    house.approve()
    house.change("steps/open-canal.md", "cue: ", "cue: Perhaps, ")
    assert ids(house) == ["approval-outdated"]
    house.publish(issue=True)
    assert not house.ledger.exists()
    assert "Draft: not approved" in house.page("example/index.html")


def test_issuing_twice_gives_the_same_ledger_and_the_same_bytes(house: House) -> None:
    house.approve()
    first = house.publish(issue=True)
    lines = house.ledger.read_bytes()
    second = house.publish(issue=True)
    assert house.ledger.read_bytes() == lines
    assert {one.path: one.sha256 for one in first.artefacts} == {one.path: one.sha256 for one in second.artefacts}


def test_a_publish_that_fails_issues_nothing(house: House) -> None:
    house.approve()
    template = house.root / "site_templates/site/page.html.j2"
    template.parent.mkdir(parents=True)
    template.write_text("<div class='sheet'>{{ view.title }}</div>")
    with pytest.raises(Refused, match="a template may not change what is said"):
        house.publish(issue=True)
    assert not house.ledger.exists()
    assert not house.to.exists()


def test_one_edition_is_never_issued_for_two_texts(issued: House) -> None:
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    issued.approve()
    _, findings = issued.read()
    assert [(finding.name, finding.severity.value) for finding in findings] == [("edition-not-raised", "error")]
    with pytest.raises(PublishError, match="was issued on 2026-11-25 with other content"):
        issued.publish(issue=True)
    issued.set(edition='"1.1"')
    assert ids(issued) == []
    issued.publish(SECOND, issue=True)
    assert len(ledger_of(issued.ledger.read_text()).issued) == 2


def test_a_text_that_is_brought_back_needs_a_higher_edition(issued: House) -> None:
    issued.set(edition='"2"')
    issued.publish(SECOND, issue=True)
    issued.set(edition='"1.0"')
    _, (finding,) = issued.read()
    assert finding.name == "edition-not-raised"
    assert "is lower than '2'" in finding.message
    assert "'3'" in finding.hint


def test_a_draft_of_the_next_edition_is_only_warned_of(issued: House) -> None:
    issued.set(status="draft", approval="")
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    _, findings = issued.read()
    assert [(finding.name, finding.severity.value) for finding in findings] == [("edition-not-raised", "warning")]


def test_a_lost_line_stops_publishing(issued: House) -> None:
    code = issued.code()
    issued.ledger.unlink()
    with pytest.raises(PublishError, match=f"has lost {code}"):
        issued.publish()
    assert (issued.to / f"C/{code}/index.html").is_file()


def test_a_picture_that_cannot_be_used_does_not_hide_a_lapsed_approval(house: House) -> None:
    """A stray file is a warning only, so what it stops must not include the judgement of approvals."""
    house.approve()
    (house.example / "figures/canal.jpg").write_bytes(b"no picture")
    house.change("steps/open-canal.md", "cue: ", "cue: Perhaps, ")
    assert set(ids(house)) == {"file-not-expected", "approval-outdated"}
    assert house.read()[0].lapsed == {"example"}


def test_nothing_is_judged_while_a_file_is_broken(house: House) -> None:
    house.approve()
    (house.example / "steps/open-canal.md").write_text("---\ntitel: Open\n---\n")
    assert "approval-outdated" not in ids(house)
    assert exit_code(house.read()[1]) == 1


def test_a_withdrawn_procedure_with_issued_codes_must_say_why(issued: House) -> None:
    issued.set(status="withdrawn")
    found = [(one.name, one.severity.value) for one in issued.read()[1]]
    assert ("withdrawn-without-reason", "error") in found
    issued.set(withdrawn="{on: 2026-11-20, because: The mesh was recalled.}")
    assert "withdrawn-without-reason" not in ids(issued)


def test_day_of_a_line_is_the_day_of_the_publish(house: House) -> None:
    house.approve()
    house.publish(date(2027, 1, 31), issue=True)
    assert ledger_of(house.ledger.read_text()).issued[0].on == date(2027, 1, 31)

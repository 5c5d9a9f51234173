"""A year of a department under git, over a parent: what every code ever printed answers on each date, kept by a second
set of books."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import UTC, date, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import icalendar
import pytest
import yaml
from docx import Document
from lxml import etree
from over import BASE, HEAD, WHY, lay

from builder.check.engine import examine
from builder.cli import main
from builder.load.folder import load
from builder.load.ledger import read_ledger

ATOM = "{http://www.w3.org/2005/Atom}"
CURRENT, REPLACED, WITHDRAWN = "Current", "Replaced: do not use this copy", "Withdrawn: do not use"
OVERDUE = "Current, but its review is overdue"
LENT, OWN = "example", "own-canal"
TWO = {"approvers": ["clinical lead", "theatre sister"], "approvals_needed": 2}
CUE = "The nerve is seen along its whole length."
OURS = {"replace": "step open-canal", "key": "cue", "with": "The nerve and its branch are seen."}


class Year:
    """The department in ``ward``, under git with its parent, and a second set of books: what each code must answer."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.ward, self.region = folder, folder / "ward", folder / "region"
        self.to = folder / "public"
        self.monkeypatch = monkeypatch
        self.day = date(2026, 11, 25)
        self.due: dict[str, date] = {}
        self.printed: dict[str, list[str]] = {LENT: [], OWN: []}
        self.gone: set[str] = set()
        shutil.copytree(BASE, self.region)
        head = yaml.safe_load(HEAD.replace("{parent}", "{folder: ../region}").split("---\n")[1]) | TWO
        lay(self.ward, {"content/department.md": f"---\n{yaml.safe_dump(head)}---\n"})
        source = BASE / "content/procedures/example"
        shutil.copytree(source, self.ward / f"content/procedures/{OWN}")
        for page in (self.ward / f"content/procedures/{OWN}").rglob("*.md"):
            page.write_text(page.read_text().replace("procedure:example", f"procedure:{OWN}"))
        self._git("init", "-q", ".")

    def _git(self, *words: str) -> None:
        who = ["-c", "user.name=Ada Example", "-c", "user.email=ada@example.org"]
        subprocess.run(["git", *who, *words], cwd=self.folder, check=True, capture_output=True)

    def on(self, day: date) -> None:
        """Let it be ``day`` at noon."""
        self.day = day
        noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
        self.monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(noon.timestamp())))

    def local(self, *changes: dict[str, Any], **head: Any) -> None:
        front = {"edition": "1.0", "status": "in review", "review_by": self.due[LENT], **head}
        front["changes"] = [{**WHY, **change} for change in changes]
        lay(self.ward, {f"content/local/{LENT}.md": f"---\n{yaml.safe_dump(front, sort_keys=False)}---\n"})

    def keep_all(self) -> None:
        for change in examine(load(self.ward, self.day))[0].local:
            if not change.is_chosen:
                assert self.run("local", LENT, str(change.number + 1), "--in", str(self.ward), "--keep") == 0

    def of_region(self, file: str, old: str, new: str) -> None:
        path = self.region / "content/procedures/example" / file
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    def set_own(self, **values: str) -> None:
        path = self.ward / f"content/procedures/{OWN}/procedure.md"
        text = path.read_text()
        for key, value in values.items():
            text = re.sub(rf"^{key}: .*\n", "", text, flags=re.MULTILINE)
            text = text.replace("specialty:", f"{key}: {value}\nspecialty:", 1)
        path.write_text(text)

    def run(self, *words: str) -> int:
        return main(list(words))

    def approve(self, id: str) -> None:
        """Let two people approve ``id``; one is not enough."""
        for name, role in (("Bea Example", "clinical lead"), ("Cy Example", "theatre sister")):
            assert self.run("approve", id, str(self.ward), "--as", role, "--name", name, "--yes") == 0
            standing = examine(load(self.ward, self.day))[0].by_id[id].status.value
            assert standing == ("approved" if role == "theatre sister" else "in review")

    def committed(self) -> None:
        self._git("add", "ward", "region")
        self._git("commit", "--allow-empty", "-qm", f"{self.day}")

    def issue(self, *new: str) -> None:
        """Publish with codes: those of ``new`` and no other come into the ledger; then hold every code to the books."""
        before = {line.code for line in read_ledger(self.ward).issued}
        assert self.run("publish", str(self.ward), "--to", str(self.to), "--only", "site", "--issue") == 0
        lines = [line for line in read_ledger(self.ward).issued if line.code not in before]
        assert sorted(line.procedure for line in lines) == sorted(new)
        for line in lines:
            self.printed[line.procedure].append(line.code)
        self.committed()
        self.audit()

    def refused(self, name: str, capsys: pytest.CaptureFixture[str]) -> None:
        capsys.readouterr()
        assert self.run("publish", str(self.ward), "--to", str(self.to), "--only", "site", "--issue") == 1
        assert f" {name}: " in capsys.readouterr().err
        self.committed()

    def expected(self, procedure: str, code: str) -> str:
        if procedure in self.gone:
            return WITHDRAWN
        if code != self.printed[procedure][-1]:
            return REPLACED
        return OVERDUE if self.due[procedure] < self.day else CURRENT

    def audit(self) -> None:
        """Hold each status page to the books, and feed and calendar to their rules."""
        told = {}
        for procedure, codes in self.printed.items():
            for code in codes:
                page = (self.to / f"C/{code}/index.html").read_text()
                words = " ".join(unescape(re.sub(r"<[^>]+>", " ", page[page.index("<main") :])).split())
                states = [one for one in (OVERDUE, REPLACED, WITHDRAWN, CURRENT) if f" {one} " in words]
                told[code] = states[0] if states else words
                assert told[code] == self.expected(procedure, code), (self.day, procedure, code, words[:300])
        self._feed()
        self._calendar()

    def _feed(self) -> None:
        """RFC 4287: one id and one day in feed and entries, ids unique, days in RFC 3339; each code has an entry."""
        feed = etree.fromstring((self.to / "year/editions.atom").read_bytes())
        entries = feed.findall(f"{ATOM}entry")
        for node in (feed, *entries):
            for name in ("id", "title", "updated"):
                assert len(node.findall(f"{ATOM}{name}")) == 1
            assert datetime.fromisoformat(node.findtext(f"{ATOM}updated") or "").tzinfo
        ids = [node.findtext(f"{ATOM}id") for node in (feed, *entries)]
        assert len(set(ids)) == len(ids)
        for node in entries:
            if node.find(f"{ATOM}category").get("term") == "replaced":  # 4.1.3: content of type html, with both texts
                content = node.find(f"{ATOM}content")
                if content is None:
                    assert "The text is the same." in (node.findtext(f"{ATOM}summary") or "")
                else:
                    assert content.get("type") == "html"
                    assert "Now" in (content.text or "")
        text = etree.tostring(feed, encoding="unicode")
        assert all(code in text for codes in self.printed.values() for code in codes)

    def _calendar(self) -> None:
        """RFC 5545: lines of 75 octets that end in CR LF; each event has UID and DTSTAMP, and the day of the books."""
        raw = (self.to / "year/reviews.ics").read_bytes()
        assert raw.endswith(b"END:VCALENDAR\r\n")
        assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
        events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
        assert all(event["UID"] and event["DTSTAMP"] for event in events)
        standing = sorted(due for id, due in self.due.items() if id not in self.gone)
        assert sorted(event["DTSTART"].dt for event in events) == standing

    def committee(self, old: str, new: str) -> None:
        """Let a committee change words of its copy of our own procedure, and take what came back."""
        copy = self.folder / "committee.docx"
        assert self.run("share", OWN, str(self.ward), "--to", str(copy)) == 0
        document = Document(str(copy))
        runs = [run for paragraph in paragraphs(document) for run in paragraph.runs if old in run.text]
        assert runs, old
        runs[0].text = runs[0].text.replace(old, new)
        document.save(str(copy))
        assert self.run("take", str(copy), str(self.ward), "--accept", "all") == 0
        copy.unlink()
        written = "".join(path.read_text() for path in (self.ward / f"content/procedures/{OWN}").rglob("*.md"))
        assert new in " ".join(written.split())


def paragraphs(document: Any) -> Any:
    yield from document.paragraphs
    for table in document.tables:
        for row in table.rows:
            for cell in row.cells:
                yield from cell.paragraphs


@pytest.mark.slow
def test_a_year_of_a_department_over_its_parent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    year = Year(tmp_path, monkeypatch)
    year.due = {LENT: date(2027, 11, 1), OWN: date(2028, 5, 31)}
    two_first_editions(year)
    parent_changes_what_nobody_replaced(year)
    parent_changes_what_is_replaced(year, capsys)
    committee_sits(year)
    source_is_retracted(year, capsys)
    parent_drops_what_is_replaced(year, capsys)
    review_expires(year, capsys)
    committee_sits_again_and_ours_is_withdrawn(year)
    assert {id: len(codes) for id, codes in year.printed.items()} == {LENT: 4, OWN: 4}
    assert year.day - date(2026, 11, 25) < timedelta(days=366)


def two_first_editions(year: Year) -> None:
    year.on(date(2026, 11, 25))
    year.local(OURS)
    year.keep_all()
    year.set_own(status="in review")
    year.approve(LENT)
    year.approve(OWN)
    year.issue(LENT, OWN)


def parent_changes_what_nobody_replaced(year: Year) -> None:
    """The approval lapses with it; the copy in the pocket stays the one issued last until another is issued."""
    year.on(date(2027, 1, 11))
    year.of_region("steps/cut-skin.md", "title: Cut the skin", "title: Mark and cut the skin")
    year.issue()
    assert set(examine(load(year.ward, year.day))[0].lapsed) == {LENT}
    year.local({**OURS, "was": was(year)}, edition="1.1")
    year.approve(LENT)
    year.issue(LENT)


def parent_changes_what_is_replaced(year: Year, capsys: pytest.CaptureFixture[str]) -> None:
    """No code until somebody chose; then the content is what it was, so there is none to issue."""
    year.on(date(2027, 3, 1))
    year.of_region("steps/open-canal.md", CUE, "The nerve is seen at the ring.")
    year.refused("parent-changed", capsys)
    year.keep_all()
    year.issue()


def committee_sits(year: Year) -> None:
    year.on(date(2027, 4, 12))
    year.committee("consent form", "signed consent form")
    year.set_own(edition='"1.1"', status="in review")
    year.approve(OWN)
    year.issue(OWN)


def source_is_retracted(year: Year, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing that rests on it is issued, here or in the parent's pages, until neither does."""
    year.on(date(2027, 6, 7))
    path = next((year.region / "references/notices").glob("*.csv"))
    path.write_text(f"{path.read_text()}10.1002/bjs.5651,,retracted,2027-06-01,the data could not be audited,\n")
    year.refused("source-retracted", capsys)
    for root in (year.ward, year.region):
        for page in root.rglob("*.md"):
            text = page.read_text().replace("[p. 17](source:hernia-nerve", "[p. 230](source:hernia-nerve")
            page.write_text(text.replace("hernia-nerve-management-2007", "retained-items-risk-2003"))
    year.local({**OURS, "was": was(year)}, edition="1.2")
    year.set_own(edition='"1.2"', status="in review")
    year.approve(LENT)
    year.approve(OWN)
    year.issue(LENT, OWN)


def parent_drops_what_is_replaced(year: Year, capsys: pytest.CaptureFixture[str]) -> None:
    """An entry that no longer fits is an error; as an addition it stays."""
    year.on(date(2027, 9, 6))
    path = year.region / "content/procedures/example/steps/open-canal.md"
    path.write_text(re.sub(r"^cue: .*\n", "", path.read_text(), flags=re.MULTILINE))
    year.refused("local-does-not-fit", capsys)
    year.local({"add": "step open-canal", "key": "cue", "with": OURS["with"]}, edition="1.3")
    year.approve(LENT)
    year.issue(LENT)


def review_expires(year: Year, capsys: pytest.CaptureFixture[str]) -> None:
    """The copy says so, and nothing is issued until the review was held."""
    year.on(date(2027, 11, 15))
    year.refused("review-overdue", capsys)
    assert year.run("publish", str(year.ward), "--to", str(year.to), "--only", "site") == 0
    year.audit()
    page = year.ward / f"content/local/{LENT}.md"
    page.write_text(page.read_text().replace(str(year.due[LENT]), "2029-11-01"))
    year.due[LENT] = date(2029, 11, 1)
    year.refused("notices-out-of-date", capsys)  # the parent's list of retractions is a year old by now
    path = next((year.region / "references/notices").glob("*.csv"))
    path.write_text(path.read_text().replace("# dated: 2026-11-01", "# dated: 2027-11-01"))
    year.issue()


def committee_sits_again_and_ours_is_withdrawn(year: Year) -> None:
    year.on(date(2027, 11, 22))
    year.committee("signed consent form", "signed and dated consent form")
    year.set_own(edition='"1.3"', status="in review")
    year.approve(OWN)
    year.issue(OWN)
    year.on(date(2027, 11, 24))
    year.set_own(status="withdrawn", withdrawn="{on: 2027-11-24, because: The parent has a better one.}")
    year.gone.add(OWN)
    year.issue()


def was(year: Year) -> str:
    """Return the digest of what the parent says now of the text that is replaced."""
    return examine(load(year.ward, year.day))[0].local[0].digest

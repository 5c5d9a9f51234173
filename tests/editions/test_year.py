"""The year at a glance, the calendar of reviews, the feed of editions and the map of supervision."""

from __future__ import annotations

import json
import re
from datetime import date, datetime
from urllib.parse import urlsplit

import icalendar
import pytest
from house import FIRST, SECOND, House
from lxml import etree

from builder.cli import main
from builder.compose.year.edition_feed import edition_feed, feed_entries
from builder.compose.year.review_calendar import review_calendar
from builder.compose.year.supervision import supervision_maps
from builder.compose.year.year_view import YearTable, due_words, year_tables
from builder.load.ledger import Issued, line_of
from builder.load.signature import SignatureState
from builder.model.library import Library

LATER = date(2028, 6, 12)
ATOM = "{http://www.w3.org/2005/Atom}"


def tables_of(library: Library) -> dict[str, YearTable]:
    return {table.id: table for table in year_tables(library)}


def cells(library: Library, table: str) -> list[tuple[str, ...]]:
    return [row.cells for row in tables_of(library)[table].rows]


@pytest.mark.parametrize(
    ("due", "said"),
    [
        (date(2026, 11, 24), "overdue by 1 day"),
        (date(2026, 11, 20), "overdue by 5 days"),
        (date(2026, 11, 25), "due today"),
        (date(2026, 11, 26), "due in 1 day"),
        (date(2027, 1, 26), "due in 62 days"),
        (date(2027, 1, 27), "due in 2 months"),
        (date(2027, 11, 24), "due in 11 months"),
    ],
)
def test_how_long_it_is_until_a_review(due: date, said: str) -> None:
    assert due_words(due, FIRST) == said


def test_a_draft_is_told_as_one(house: House) -> None:
    library, _ = house.read()
    title = str(library.procedures[0].title)
    assert cells(library, "approvals") == [(title, "draft, not approved", "nobody")]
    assert cells(library, "drafts") == [(title, "to be put into review")]
    assert tables_of(library)["copies"].rows == ()
    assert cells(library, "reviews")[0][2:] == ("31 May 2028", "due in 18 months")


def test_each_code_is_told_with_its_state(played: House) -> None:
    library, _ = played.read(SECOND)
    assert [row[2:] for row in cells(library, "copies")] == [
        ("1.0", "25 November 2026", "Replaced: do not use this copy"),
        ("1.1", "3 March 2027", "Current"),
    ]
    assert cells(library, "approvals")[0][1:] == (
        "approved", "Bea Example, clinical lead, 3 March 2027 (not in the ledger)",
    )  # fmt: skip


def test_an_edit_after_the_approval_waits_for_somebody(played: House) -> None:
    played.change("aftercare/pain-relief.md", "amount: 500 mg", "amount: 650 mg")
    library, _ = played.read(SECOND)
    (row,) = tables_of(library)["approvals"].rows
    assert row.cells[1:] == ("a draft again: changed since it was approved on 3 March 2027", "nobody")
    assert row.waits
    assert [cell[4] for cell in cells(library, "copies")] == ["Replaced: do not use this copy", "Current"]


def test_a_year_later_the_review_is_overdue_and_the_list_is_old(played: House) -> None:
    library, _ = played.read(LATER)
    tables = tables_of(library)
    assert cells(library, "reviews")[0][3] == "overdue by 12 days"
    assert tables["reviews"].waiting == 1
    assert cells(library, "copies")[1][4] == "Current, but its review is overdue"
    assert [row.cells[2] for row in tables["notices"].rows if row.waits] == ["old: 19 months; 12 months allowed"]


def test_a_source_that_falls_after_the_approval_is_told(played: House) -> None:
    (key, fields), *_ = [
        (key, source.fields) for key, source in played.read()[0].sources.items() if "doi" in source.fields
    ]
    for name in (played.root / "references/notices").glob("*.csv"):
        name.unlink()
    (played.root / "references/notices/mine.csv").write_text(
        f"# dated: 2027-06-01\ndoi,pmid,kind,date,note,successor\n{fields['doi']},,retracted,2027-05-20,,\n"
    )
    library, _ = played.read(date(2027, 6, 2))
    title = str(library.procedures[0].title)
    assert cells(library, "sources") == [(key, "Retracted", title, "2027-05-20, after an approval")]


def test_a_signature_that_is_wrong_waits_for_somebody(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")
    house.set(status="in review")
    assert main(["approve", "example", str(house.root), "--as", "clinical lead", "--name", "Bea Example", "--yes"]) == 0
    library, _ = house.read()
    good = year_tables(library)[1].rows[0]
    wrong = year_tables(library, lambda _: SignatureState.WRONG)[1].rows[0]
    assert (good.waits, wrong.waits) == (False, True)
    assert good.cells[2].endswith("25 November 2026 (unsigned)")


def test_the_terminal_and_the_page_say_the_same(
    played: House, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.fromisoformat(f"{SECOND}T12:00:00+00:00").timestamp())))
    assert main(["year", str(played.root)]) == 0
    terminal = " ".join(capsys.readouterr().out.split())
    page = played.page("year/index.html")
    for table in year_tables(played.read(SECOND)[0]):
        for row in table.rows:
            assert " ".join(" ".join(row.cells).split()) in terminal
            assert " ".join(" ".join(row.cells).split()) in page
        assert table.rows or (table.nothing in terminal and table.nothing in page)
    assert main(["year", str(played.root), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["today"] == "2027-03-03"
    assert [row["State"] for row in told["copies"]] == ["Replaced: do not use this copy", "Current"]


# --- RFC 5545 -------------------------------------------------------------------------------------------------------


def test_the_calendar_keeps_the_rules_of_rfc_5545(house: House) -> None:
    house.set(title='"Éverting, with care; of the \\\\ canal and a title that is longer than one line of a calendar"')
    raw = review_calendar(house.read()[0])
    lines = raw.split("\r\n")
    assert lines[-1] == ""
    assert not re.search("(?<!\r)\n|\r(?!\n)", raw)  # 3.1: lines end with CRLF
    assert max(len(line.encode()) for line in lines) <= 75  # 3.1: folded at 75 octets
    unfolded = raw.replace("\r\n ", "").split("\r\n")
    assert unfolded[0] == "BEGIN:VCALENDAR"
    assert unfolded[-2] == "END:VCALENDAR"
    assert [line for line in unfolded if line.startswith("VERSION")] == ["VERSION:2.0"]  # 3.6: once each
    assert sum(line.startswith("PRODID:") for line in unfolded) == 1
    event = unfolded[unfolded.index("BEGIN:VEVENT") : unfolded.index("END:VEVENT")]
    names = [re.split("[:;]", line)[0] for line in event[1:]]
    assert {"UID", "DTSTAMP", "DTSTART"} <= set(names)  # 3.6.1
    assert len(names) == len(set(names))
    assert "DTSTAMP:20261125T000000Z" in event  # 3.8.7.2: in UTC
    assert {"DTSTART;VALUE=DATE:20280531", "DTEND;VALUE=DATE:20280601"} <= set(event)  # 3.6.1: the end is exclusive
    (summary,) = (line for line in event if line.startswith("SUMMARY:"))
    assert "\\," in summary  # 3.3.11: commas, semicolons and backslashes are escaped
    assert "\\;" in summary
    assert "\\\\" in summary
    (read,) = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert str(read["SUMMARY"]) == f"Review due: {house.read()[0].procedures[0].title}"


def test_an_event_keeps_its_name_and_a_department_without_reviews_has_no_calendar(house: House) -> None:
    def uid() -> str:
        (event,) = icalendar.Calendar.from_ical(review_calendar(house.read()[0])).walk("VEVENT")
        return str(event["UID"])

    before = uid()
    house.set(title="Another title", review_by="2028-04-30")
    assert uid() == before
    house.set(review_by="")
    assert review_calendar(house.read()[0]) == ""
    house.publish()
    assert not (house.to / "year/reviews.ics").exists()
    assert "iCalendar" not in house.page("year/index.html")


# --- RFC 4287 -------------------------------------------------------------------------------------------------------


def checked_feed(library: Library) -> etree._Element:
    """Parse the feed and hold it to the rules of RFC 4287, sections 3 and 4."""
    feed = etree.fromstring(edition_feed(library).encode())
    assert feed.tag == f"{ATOM}feed"
    entries = feed.findall(f"{ATOM}entry")
    for node in (feed, *entries):
        for name in ("id", "title", "updated"):
            assert len(node.findall(f"{ATOM}{name}")) == 1, name  # 4.1.1 and 4.1.2: exactly one of each
        assert urlsplit(node.findtext(f"{ATOM}id")).scheme  # 4.2.6: an absolute IRI
        assert datetime.fromisoformat(node.findtext(f"{ATOM}updated")).tzinfo  # 3.3: RFC 3339
        links = [(link.get("rel"), link.get("type"), link.get("hreflang")) for link in node.findall(f"{ATOM}link")]
        assert len(links) == len(set(links))  # at most one alternate of a type and language
        assert all(link.get("href") for link in node.findall(f"{ATOM}link"))
    assert feed.find(f"{ATOM}author/{ATOM}name").text  # 4.1.1: an author, where entries have none
    assert feed.find(f"{ATOM}link[@rel='self']") is not None  # 4.1.1: SHOULD
    assert all(entry.find(f"{ATOM}link[@rel='alternate']") is not None for entry in entries)  # 4.1.2: no content
    assert all(entry.find(f"{ATOM}category").get("term") for entry in entries)  # 4.2.2.1
    ids = [node.findtext(f"{ATOM}id") for node in (feed, *entries)]
    assert len(ids) == len(set(ids))
    return feed


def test_the_feed_tells_what_is_new_replaced_and_withdrawn(played: House) -> None:
    played.set(status="withdrawn", withdrawn="{on: 2027-09-01, because: Another way is safer.}")
    library, _ = played.read(date(2027, 9, 2))
    feed = checked_feed(library)
    told = [(entry.find(f"{ATOM}category").get("term"), entry.findtext(f"{ATOM}updated")[:10]) for entry in feed[6:]]
    assert told == [
        ("withdrawn", "2027-09-01"), ("withdrawn", "2027-09-01"), ("new", "2027-03-03"), ("new", "2026-11-25"),
    ]  # fmt: skip
    assert "Another way is safer. Destroy copies" in (feed[6].findtext(f"{ATOM}summary") or "")


def test_a_replaced_edition_says_what_changed(played: House) -> None:
    library, _ = played.read(SECOND)
    checked_feed(library)
    (entry,) = (entry for entry in feed_entries(library) if entry.sort == "replaced")
    assert entry.on == SECOND
    assert "The current edition is 1.1." in entry.summary
    assert "(changed)" in entry.summary


def test_an_entry_keeps_its_name_when_it_is_published_again(played: House) -> None:
    def ids(day: date) -> list[str]:
        feed = checked_feed(played.read(day)[0])
        return [entry.findtext(f"{ATOM}id") or "" for entry in feed.findall(f"{ATOM}entry")]

    assert ids(SECOND) == ids(LATER)


def test_a_feed_of_no_edition_and_of_a_department_without_a_site_is_a_feed(house: House) -> None:
    page = house.root / "content/department.md"
    page.write_text(re.sub(r"^site: .*\n", "", page.read_text(), flags=re.MULTILINE))
    assert checked_feed(house.read()[0]).findall(f"{ATOM}entry") == []


def test_what_no_xml_can_carry_is_left_out_of_the_feed(house: House) -> None:
    line = Issued("7K3-M9P-XT4", "gone", "A\x07 bell & <b>", "1", FIRST, None, "v1", ())
    house.ledger.parent.mkdir()
    house.ledger.write_text(line_of(line) + "\n")
    assert "A  bell & <b>" in (checked_feed(house.read()[0])[6].findtext(f"{ATOM}title") or "")


# --- supervision ----------------------------------------------------------------------------------------------------


def test_the_map_names_each_step_once_under_its_level(house: House) -> None:
    house.change("steps/open-canal.md", "supervision: ", "supervision: teach  # was: ")
    house.change("steps/cut-skin.md", "supervision: ", "# supervision: ")
    library, _ = house.read()
    (one,) = supervision_maps(library)
    by_level = {row.level: row.steps for row in one.rows}
    assert by_level["Teaches the step to others"] == (("4", "Find the nerve, then open the canal"),)
    assert [title for _, title in by_level["Not said: ask before you start"]] == [
        str(library.procedures[0].steps["cut-skin"].title)
    ]
    steps = [title for row in one.rows for _, title in row.steps]
    assert sorted(steps) == sorted(str(step.title) for step in library.procedures[0].steps.values())
    assert one.marks == ("Draft: not approved",)


def test_the_map_is_a_page_and_leads_to_the_procedure(house: House) -> None:
    house.publish()
    shown = house.page("year/supervision.html")
    assert "from least to most" in shown
    assert "4 Find the nerve, then open the canal" in shown
    assert '<a href="../example/index.html">' in (house.to / "year/supervision.html").read_text()

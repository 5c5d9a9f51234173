"""Status pages: what a code answers, today and for ever."""

from __future__ import annotations

import re
import shutil
from datetime import date
from pathlib import Path

from house import FIRST, SECOND, House

from builder.compose.site.status import in_order
from builder.load.ledger import ledger_of

OVERDUE = date(2028, 6, 1)


def next_edition(house: House, day: date = SECOND, edition: str = '"1.1"') -> None:
    house.set(edition=edition)
    house.approve(day)
    house.publish(day, issue=True)


def status(house: House, code: str) -> str:
    return house.page(f"C/{code}/index.html")


def test_the_edition_issued_last_is_current(issued: House) -> None:
    shown = status(issued, issued.code())
    assert "Current This is the edition issued last. Your copy is current." in shown
    assert "Its review is due by 31 May 2028." in shown
    assert "Issued on 25 November 2026" in shown


def test_a_replaced_copy_is_told_which_steps_changed_as_it_names_them(issued: House) -> None:
    old = issued.code()
    issued.change(
        "steps/open-canal.md", "title: Find the nerve, then open the canal", "title: Open with the nerve in view"
    )
    issued.change("procedure.md", "small swab: 2", "small swab: 3")
    (issued.example / "aftercare/walk.md").write_text(
        "---\ntitle: Walk today\nwhen: {from: 2 h, until: 1 day}\ncommon_practice: true\n---\n"
    )
    next_edition(issued)
    shown = status(issued, old)
    assert "Replaced: do not use this copy" in shown
    assert "Replaced on 3 March 2027. The current edition is 1.1, issued on 3 March 2027." in shown
    assert "Step 4: Find the nerve, then open the canal changed" in shown
    assert "Kit list changed" in shown
    assert "Aftercare: Walk today new" in shown
    assert re.findall(r"(Step [0-9A-Z]+|Caution|Aftercare): ", shown) == ["Step 4", "Aftercare"]
    assert "Current" in status(issued, issued.code())


def test_a_step_that_was_taken_out_is_named(issued: House) -> None:
    old = issued.code()
    title = re.search("^title: (.*)$", (issued.example / "steps/test-block.md").read_text(), re.MULTILINE)
    assert title
    issued.change("procedure.md", "spinal: [test-block]", "spinal: []")
    (issued.example / "steps/test-block.md").unlink()
    next_edition(issued)
    shown = status(issued, old)
    assert f"Step 2B: {title[1]} taken out" in shown
    assert "Order of the steps, or the choices changed" in shown


def test_all_that_changed_since_the_copy_is_told_not_only_the_last_change(issued: House) -> None:
    old = issued.code()
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    next_edition(issued)
    issued.change("steps/cut-skin.md", "title: ", "title: Slowly ")
    next_edition(issued, date(2027, 9, 1), '"2"')
    shown = status(issued, old)
    assert "Replaced on 3 March 2027. The current edition is 2, issued on 1 September 2027." in shown
    assert "Step 3: " in shown
    assert "Step 4: " in shown


def test_an_edition_issued_anew_without_a_change_says_so(issued: House) -> None:
    old = issued.code()
    next_edition(issued)
    assert "The text is the same; the edition was issued anew." in status(issued, old)


def test_a_draft_of_the_next_edition_leaves_the_copy_current(issued: House) -> None:
    old = issued.code()
    issued.set(edition='"1.1"', status="draft", approval="")
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    issued.publish(SECOND)
    assert "Current" in status(issued, old)
    assert "Not issued: do not rely on this copy" in status(issued, issued.code())


def test_an_overdue_review_is_marked_on_the_status_page_and_every_output(issued: House) -> None:
    report = issued.publish(OVERDUE, only=("site", "handout", "card"))
    shown = status(issued, issued.code())
    assert "Current, but its review is overdue" in shown
    assert "its review was due by 31 May 2028" in shown
    assert "Current, but its review is overdue" in issued.page("C/index.html")
    assert "Review was due by 31 May 2028" in issued.page("example/index.html")
    assert "Review was due 31 May 2028" in issued.page("index.html")
    # The papers promise the mark on each page, and were read back before they were put in place.
    assert {one.kind for one in report.artefacts} >= {"handout", "card"}


def test_a_review_without_a_changed_word_moves_the_day_of_the_copy(issued: House) -> None:
    issued.set(review_by="2029-05-31")
    issued.publish(OVERDUE)
    assert "Its review is due by 31 May 2029." in status(issued, issued.code())


def test_while_the_text_is_rewritten_the_copy_keeps_its_own_day(issued: House) -> None:
    old = issued.code()
    issued.set(review_by="2030-05-31", status="draft", edition='"1.1"')
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    issued.publish(OVERDUE)
    assert "Current, but its review is overdue" in status(issued, old)


def test_a_withdrawn_procedure_says_since_when_and_why_on_every_code(issued: House) -> None:
    old = issued.code()
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    next_edition(issued)
    issued.set(status="withdrawn", withdrawn="{on: 2027-08-01, because: The mesh it names was recalled.}")
    issued.publish(date(2027, 8, 2))
    for code in (old, issued.code()):
        shown = status(issued, code)
        assert "Withdrawn: do not use this copy" in shown
        assert "Withdrawn on 1 August 2027. The mesh it names was recalled. Destroy your copy." in shown
    assert "Since 1 August 2027: The mesh it names was recalled." in issued.page("example/index.html")


def test_a_procedure_that_is_gone_still_answers(issued: House) -> None:
    code = issued.code()
    second = issued.root / "content/procedures/other"
    shutil.move(issued.example, second)
    for path in second.rglob("*.md"):
        path.write_text(path.read_text().replace("procedure:example", "procedure:other"))
    issued.publish(SECOND)
    shown = status(issued, code)
    assert "Withdrawn: do not use this copy" in shown
    assert "Opening and closing the inguinal canal" in shown
    assert "no longer publishes this procedure" in shown


def test_every_code_is_in_the_list_and_no_other(issued: House) -> None:
    old = issued.code()
    issued.change("steps/open-canal.md", "cue: ", "cue: Always, ")
    next_edition(issued)
    new = issued.code()
    issued.set(edition='"1.2"', status="draft", approval="")
    issued.publish(SECOND)
    text = (issued.to / "C/index.html").read_text()
    assert set(re.findall(r'href="([^"/]{11})/index.html"', text)) == {old, new}
    assert issued.code() not in text


def test_pages_say_all_without_scripts(issued: House) -> None:
    for path in (issued.to / "C").rglob("*.html"):
        text = path.read_text()
        assert "<noscript" not in text
        assert not re.search(
            r"<(details|template)|(?<!aria-)\bhidden\b", text[text.index("<main") : text.index("</main")]
        )


def test_two_editions_of_one_day_are_ordered_by_their_numbers(issued: House) -> None:
    issued.set(edition='"1.10"')
    issued.publish(issue=True)
    issued.set(edition='"1.9"')
    lines = ledger_of(issued.ledger.read_text()).issued
    assert [one.edition for one in in_order(reversed(lines))] == ["1.0", "1.10"]


def test_the_report_names_the_state_of_each_code(issued: House) -> None:
    report = issued.publish()
    (page,) = [one for one in report.artefacts if one.kind == "status" and one.explained]
    assert page.explained == {"code": issued.code(), "state": "current", "answer": "Current", "issued": True}
    assert page.path == f"C/{issued.code()}/index.html"


def test_the_codes_of_a_department_without_an_address_have_pages_too(issued: House) -> None:
    path = issued.root / "content/department.md"
    path.write_text(path.read_text().replace("site: https://surgery.example.org/\n", ""))
    issued.publish(FIRST)
    assert "Current" in status(issued, issued.code())


def test_the_folder_of_the_codes_can_be_no_procedure(house: House, tmp_path: Path) -> None:
    """Ids are in small letters, so only a file system that takes C for c could confuse them."""
    shutil.copytree(house.example, house.example.with_name("C"))
    assert "file-name-not-an-id" in [finding.name for finding in house.read()[1]]

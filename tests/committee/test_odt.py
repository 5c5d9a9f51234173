"""What comes back as .odt, by files marked by hand after OpenDocument 1.3, and by LibreOffice's own conversion."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from marked_by_hand import COMMENT, about, marked
from marked_by_hand import rewritten as rewritten_docx
from odt_by_hand import odt, paragraph, put_in, rewritten, struck

from builder.compose.changes.committee_copy import CommitteeCopy, committee_copy
from builder.compose.changes.returned import ReturnedItem, ReturnedSort
from builder.findings.finding import Refused
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library
from builder.pipeline import shared_copy
from builder.write.committee_taking import came_back, take_in

STEP = "content/procedures/example/steps/open-canal.md"
CUE, SLIP = "step_open_canal_cue", "step_open_canal_error"
BOTH = struck("d1", "<text:p>2</text:p>") + put_in("i1", "Ben Example")


@pytest.fixture
def library(base: Path) -> Library:
    """The smallest department, whose step says where the nerve is seen."""
    text = (base / STEP).read_text()
    for key, words in (("cue", "The nerve is seen in 2 places."), ("error", "It is taken for a vessel.")):
        text = re.sub(rf"(?m)^{key}:.*$", f"{key}: {words}", text)
    (base / STEP).write_text(text)
    return build(load(base))[0]


@pytest.fixture
def copy(library: Library) -> CommitteeCopy:
    return committee_copy(library, library.by_id["example"])


def came(library: Library, content: bytes) -> tuple[ReturnedItem, ...]:
    return came_back(library, "back.odt", content)[1]


def test_what_was_not_marked_brings_nothing(library: Library, copy: CommitteeCopy) -> None:
    assert came(library, odt(copy)) == ()


def test_a_number_changed_under_tracking_comes_back_to_its_key(library: Library, copy: CommitteeCopy) -> None:
    items = came(library, odt(copy, {CUE: rewritten(copy.by_name[CUE], "2", "3")}, BOTH))
    assert [(item.sort, item.before, item.after, item.by) for item in items] == [
        (ReturnedSort.CHANGE, "Go on when: The nerve is seen in 2 places.",
         "Go on when: The nerve is seen in 3 places.", "Ann Example and Ben Example")
    ]  # fmt: skip
    before = (library.root / STEP).read_text()
    assert take_in(library, copy, items, {1}) == [STEP]
    assert (library.root / STEP).read_text() == before.replace("in 2 places", "in 3 places")


def test_a_dose_in_its_cell_comes_back(library: Library, copy: CommitteeCopy) -> None:
    dose = copy.by_name["step_inject_local_dose_amount"]
    items = came(library, odt(copy, {dose.name: paragraph(dose, "8 mL")}))
    assert [(item.sort, item.before, item.after, item.by) for item in items] == [
        (ReturnedSort.CHANGE, "10 mL", "8 mL", "somebody who did not track it")
    ]


def test_a_paragraph_struck_out_with_its_end_is_told(library: Library, copy: CommitteeCopy) -> None:
    """The mark stands at the beginning of the next one; the bookmark goes with the words, under another name."""
    gone = paragraph(copy.by_name[SLIP]).replace(f'"{SLIP}"', f'"{SLIP} Copy 1"')
    below = copy.passages[copy.passages.index(copy.by_name[SLIP]) + 1]
    next_one = paragraph(below).replace("<text:p>", '<text:p><text:change text:change-id="d1"/>', 1)
    items = came(library, odt(copy, {SLIP: "", below.name: next_one}, struck("d1", gone, "<text:p/>")))
    assert [(item.sort, item.by, item.words) for item in items] == [
        (ReturnedSort.TOLD, "Ann Example", copy.by_name[SLIP].words)
    ]
    assert "were deleted" in items[0].why


def test_paragraphs_that_were_joined_are_told(library: Library, copy: CommitteeCopy) -> None:
    first, second = (
        copy.by_name[name] for name in (CUE, copy.passages[copy.passages.index(copy.by_name[CUE]) + 1].name)
    )
    joined = (paragraph(first) + paragraph(second)).replace("</text:p><text:p>", '<text:change text:change-id="d1"/>')
    marks = {first.name: joined, second.name: ""}
    items = came(library, odt(copy, marks, struck("d1", "<text:p/>", "<text:p/>")))
    assert [(item.words, item.sort, item.by) for item in items] == [
        (one.words, ReturnedSort.TOLD, "Ann Example") for one in (first, second)
    ]
    assert all("paragraphs were joined" in item.why for item in items)


def test_a_new_paragraph_belongs_to_no_key(library: Library, copy: CommitteeCopy) -> None:
    start, end = (f'<text:change-{side} text:change-id="i1"/>' for side in ("start", "end"))
    own = paragraph(copy.by_name[CUE]).replace("</text:p>", f"{start}</text:p><text:p>Call me.{end}</text:p>")
    items = came(library, odt(copy, {CUE: own}, put_in("i1")))
    assert [(item.sort, item.after, item.by) for item in items] == [(ReturnedSort.TOLD, "Call me.", "Ann Example")]


@pytest.mark.parametrize("more", [
    "<draw:frame><draw:image/></draw:frame>",
    "<text:note><text:note-body><text:p>1 mL</text:p></text:note-body></text:note>",
])  # fmt: skip
def test_a_picture_or_a_footnote_is_told_and_never_taken(library: Library, copy: CommitteeCopy, more: str) -> None:
    items = came(library, odt(copy, {SLIP: paragraph(copy.by_name[SLIP], f"{copy.by_name[SLIP].shown}{more}")}))
    assert [item.sort for item in items] == [ReturnedSort.TOLD]
    assert "a picture or a footnote was put in" in items[0].why


@pytest.mark.parametrize(("end", "about_it"), [('<office:annotation-end office:name="c1"/>', "seen"), ("", "")])
def test_a_comment_comes_back_at_its_key(library: Library, copy: CommitteeCopy, end: str, about_it: str) -> None:
    name = ' office:name="c1"' if end else ""
    note = f"<office:annotation{name}><dc:creator>Ann Example</dc:creator><text:p>How far?</text:p></office:annotation>"
    before, after = copy.by_name[CUE].shown.split("seen")
    own = paragraph(copy.by_name[CUE], f"{before}{note}seen{end}{after}")
    items = came(library, odt(copy, {CUE: own}))
    assert [(item.sort, item.words, item.before, item.after, item.by) for item in items] == [
        (ReturnedSort.COMMENT, copy.by_name[CUE].words, about_it, "How far?", "Ann Example")
    ]


def test_a_file_nested_too_deeply_is_refused(library: Library, copy: CommitteeCopy) -> None:
    deep = "<text:span>" * 80 + copy.by_name[CUE].shown + "</text:span>" * 80
    with pytest.raises(Refused, match=r"back\.odt cannot be opened"):
        came(library, odt(copy, {CUE: paragraph(copy.by_name[CUE], deep)}))


@pytest.mark.slow
def test_a_marked_docx_saved_as_odt_tells_the_same(library: Library, tmp_path: Path) -> None:
    """By LibreOffice's own conversion: changes, tracked and not, and comments of two people."""
    soffice = shutil.which("soffice")
    if not soffice:
        pytest.skip("no LibreOffice is installed")
    comments = COMMENT.format(1, "Ben Example", "By whom?") + COMMENT.format(2, "Ann Example", "How far?")
    markings = (
        about(CUE, "seen", 2), about("step_inject_local", "Inject", 1), rewritten_docx(SLIP, "vessel", "vein"),
        rewritten_docx("about_summary", "looked", "seen", ""),
    )  # fmt: skip
    content = marked(shared_copy(library, library.by_id["example"]), *markings, comments=comments)
    (tmp_path / "back.docx").write_bytes(content)
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    asked = [soffice, profile, "--headless", "--convert-to", "odt", "--outdir", str(tmp_path), "back.docx"]
    subprocess.run(asked, cwd=tmp_path, check=True, capture_output=True)
    items = came(library, (tmp_path / "back.odt").read_bytes())
    assert items == came_back(library, "back.docx", content)[1]
    assert sorted(item.sort for item in items) == [ReturnedSort.CHANGE] * 2 + [ReturnedSort.COMMENT] * 2

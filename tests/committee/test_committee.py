"""The committee's copy and what comes back of it, by files marked by hand after ECMA-376-1 (17.13: annotations)."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from marked_by_hand import (
    BY,
    COMMENT,
    NAMESPACE,
    Marking,
    W,
    about,
    fragment,
    marked,
    paragraph,
    rewritten,
    run,
    without_ids,
    words_run,
)
from over import Ward

from builder.cli import main
from builder.compose.changes.committee_copy import CommitteeCopy, committee_copy
from builder.compose.changes.returned import ReturnedItem, ReturnedSort
from builder.findings.finding import Refused
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library
from builder.pipeline import shared_copy
from builder.readback.committee_proof import lost_of
from builder.write.committee_taking import came_back, take_in
from builder.write.lock import NotWritten

STEP = "content/procedures/example/steps/open-canal.md"


def library_of(root: Path) -> Library:
    return build(load(root))[0]


_SENT: dict[tuple[str, ...], bytes] = {}
"""The copy of each state of the department that was shared in these tests."""


def sent(root: Path) -> bytes:
    library = library_of(root)
    state = tuple(library.texts.values())
    if state not in _SENT:
        _SENT[state] = shared_copy(library, library.by_id["example"])
    return _SENT[state]


def came(root: Path, *markings: Marking, comments: str = "") -> tuple[CommitteeCopy, tuple[ReturnedItem, ...]]:
    return came_back(library_of(root), "back.docx", marked(sent(root), *markings, comments=comments))


TITLE = "step_open_canal"


@pytest.fixture
def full(base: Path) -> Path:
    """The smallest department, with a step that has every kind of text that the copy shows."""
    text = (base / STEP).read_text()
    for line in (
        "cue: The nerve is seen in 2 places.   # the surgeon's words",
        "if_not: >-\n  Stop.\n  Look again\n  under the edge.",
        "error: 'It is taken for a vessel.'",
    ):
        text = re.sub(rf"(?m)^{line.partition(':')[0]}:.*$", line, text)
    (base / STEP).write_text(text)
    return base


def test_the_copy_gives_back_every_word_with_its_id(base: Path) -> None:
    library = library_of(base)
    copy = committee_copy(library, library.by_id["example"])
    content = sent(base)
    assert lost_of(copy, content) == ""
    assert content == shared_copy(library, library.by_id["example"]), "the same copy gives the same bytes"
    assert all(len(passage.name) <= 40 and re.fullmatch(r"[A-Za-z]\w*", passage.name) for passage in copy.passages)
    assert len(copy.by_name) == len(copy.passages)


def test_a_copy_that_loses_an_id_is_not_written(base: Path) -> None:
    library = library_of(base)
    copy = committee_copy(library, library.by_id["example"])

    def lose(document: Any) -> None:
        start = next(document.iter(f"{W}bookmarkStart"))
        start.getparent().remove(start)

    assert lost_of(copy, marked(sent(base), lose)) == "Title of the procedure"
    assert "paragraphs" in lost_of(copy, marked(sent(base), lambda d: _remove(paragraph(d, TITLE))))


def _remove(element: Any) -> None:
    element.getparent().remove(element)


def test_a_drawing_is_shown_and_told_where_it_was_struck_out(base: Path) -> None:
    content = sent(base)
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        (drawing,) = (name for name in package.namelist() if name.startswith("word/media/"))
        assert package.read(drawing).startswith(b"\x89PNG")

    def strike(document: Any) -> None:
        _remove(next(document.iter(f"{W}drawing")))

    _, items = came(base, strike)
    assert [(item.sort, item.words) for item in items] == [(ReturnedSort.TOLD, "The drawing canal.svg")]
    assert "were deleted" in items[0].why


def test_a_photograph_is_only_named(base: Path) -> None:
    (base / STEP).write_text((base / STEP).read_text().replace("file: canal.svg", "file: canal.png"))
    library = library_of(base)
    copy = committee_copy(library, library.by_id["example"])
    assert "The photograph canal.png is looked at in the module itself." in [one.shown for one in copy.passages]
    assert not any(one.picture for one in copy.passages)


def test_what_was_not_marked_brings_nothing(base: Path) -> None:
    assert came(base)[1] == ()


def test_a_number_changed_under_tracking_is_never_blank(full: Path) -> None:
    copy, items = came(full, rewritten("step_open_canal_cue", "2", "3"))
    assert [(item.sort, item.before, item.after, item.by) for item in items] == [
        (ReturnedSort.CHANGE, "Go on when: The nerve is seen in 2 places.",
         "Go on when: The nerve is seen in 3 places.", "Ann Example")
    ]  # fmt: skip
    before = (full / STEP).read_text()
    assert take_in(library_of(full), copy, items, {1}) == [STEP]
    assert (full / STEP).read_text() == before.replace("2 places.   #", "3 places.   #")


def test_a_folded_text_keeps_its_manner_and_a_remark_its_place(full: Path) -> None:
    before = (full / STEP).read_text()
    copy, items = came(full, rewritten("step_open_canal_if_not", "again", "once more"),
                       rewritten("step_open_canal_error", "vessel", "vein", ""))  # fmt: skip
    assert [item.by for item in items] == ["Ann Example", "somebody who did not track it"]
    take_in(library_of(full), copy, items, {1, 2})
    after = (full / STEP).read_text()
    assert "'It is taken for a vein.'" in after
    assert re.search(r"if_not: >-\n  Stop.\s+Look once more\s+under the edge.", after)
    assert len(after.splitlines()) - len(before.splitlines()) in (0, -1, -2), "nothing but the folded text is laid anew"


def test_two_people_in_one_text_are_both_named(full: Path) -> None:
    _, items = came(full, rewritten("step_open_canal_cue", "seen", "felt"),
                    rewritten("step_open_canal_cue", "places", "spots", "Ben Example"))  # fmt: skip
    assert [(item.after, item.by) for item in items] == [
        ("Go on when: The nerve is felt in 2 spots.", "Ann Example and Ben Example")
    ]


def test_what_one_put_in_and_another_struck_out_is_gone(full: Path) -> None:
    def mark(document: Any) -> None:
        place = run(paragraph(document, "step_open_canal_cue"), "seen")
        inner = "<w:del w:id='901' w:author='Ben Example'><w:r><w:delText>twice </w:delText></w:r></w:del>"
        place.addprevious(fragment(f"<w:ins {BY}>{inner}</w:ins>"))

    assert came(full, mark)[1] == ()


@pytest.mark.parametrize("wrap", [
    "<w:hyperlink xmlns:w='{0}'>{1}</w:hyperlink>",
    "<w:smartTag xmlns:w='{0}'>{1}</w:smartTag>",
    "<w:sdt xmlns:w='{0}'><w:sdtContent>{1}</w:sdtContent></w:sdt>",
])  # fmt: skip
def test_words_inside_other_elements_are_read(full: Path, wrap: str) -> None:
    def mark(document: Any) -> None:
        place = run(paragraph(document, "step_open_canal_cue"), "seen")
        place.addnext(fragment(wrap.format(NAMESPACE, words_run(" Say so."))))

    assert [item.after[-8:] for item in came(full, mark)[1]] == [" Say so."]


def test_a_paragraph_in_a_content_control_is_read(full: Path) -> None:
    def mark(document: Any) -> None:
        own = paragraph(document, "step_open_canal_cue")
        control = fragment(f"<w:sdt xmlns:w='{NAMESPACE}'><w:sdtContent/></w:sdt>")
        own.addprevious(control)
        control[0].append(own)
        rewritten("step_open_canal_cue", "2", "4")(document)

    assert [item.after for item in came(full, mark)[1]] == ["Go on when: The nerve is seen in 4 places."]


def _end_struck(id: str) -> Marking:
    def mark(document: Any) -> None:
        paragraph(document, id).find(f"{W}pPr").append(fragment(f"<w:rPr xmlns:w='{NAMESPACE}'><w:del {BY}/></w:rPr>"))

    return mark


def test_paragraphs_that_were_joined_are_told(full: Path) -> None:
    _, items = came(full, _end_struck("step_open_canal_cue"))
    assert {item.sort for item in items} == {ReturnedSort.TOLD}
    assert [item.words.rpartition(", ")[2] for item in items] == ["Go on when", "If not"]
    assert all("paragraphs were joined" in item.why and item.by == "Ann Example" for item in items)


def test_a_paragraph_deleted_is_told_and_never_taken(full: Path) -> None:
    def strike(document: Any) -> None:
        own = paragraph(document, "step_open_canal_error")
        for one in own.findall(f"{W}r"):
            one.find(f"{W}t").tag = f"{W}delText"
            mark = fragment(f"<w:del {BY}/>")
            one.addprevious(mark)
            mark.append(one)

    _, items = came(full, strike, _end_struck("step_open_canal_error"))
    assert [(item.sort, item.by) for item in items] == [(ReturnedSort.TOLD, "Ann Example")]
    assert "were deleted" in items[0].why
    _, items = came(full, lambda document: _remove(paragraph(document, "step_open_canal_error")))
    assert "are gone" in items[0].why
    assert items[0].by == "somebody who did not track it"


def test_a_paragraph_moved_is_told_with_where(full: Path) -> None:
    def with_id(document: Any) -> None:
        paragraph(document, "step_open_canal_cue").addprevious(paragraph(document, "step_open_canal_error"))

    _, items = came(full, with_id)
    assert [item.sort for item in items] == [ReturnedSort.TOLD]
    assert "was moved below" in items[0].why

    def without(document: Any) -> None:
        own = paragraph(document, "step_open_canal_error")
        words = "".join(own.itertext())
        paragraph(document, "step_open_canal_cue").addprevious(
            fragment(f"<w:p xmlns:w='{NAMESPACE}'><w:moveTo {BY}>{words_run(words)}</w:moveTo></w:p>")
        )
        for one in own.findall(f"{W}r"):
            mark = fragment(f"<w:moveFrom {BY}/>")
            one.addprevious(mark)
            mark.append(one)

    _, items = came(full, without)
    assert [item.sort for item in items] == [ReturnedSort.TOLD]
    assert "lost its id, and now stands below" in items[0].why


def test_a_new_paragraph_belongs_to_no_key(full: Path) -> None:
    new = f"<w:p xmlns:w='{NAMESPACE}'><w:ins {BY}>{words_run('Call me.')}</w:ins></w:p>"
    _, items = came(full, lambda document: paragraph(document, "step_open_canal_cue").addnext(fragment(new)))
    assert [(item.sort, item.after, item.by) for item in items] == [(ReturnedSort.TOLD, "Call me.", "Ann Example")]
    assert "below “Step" in items[0].why


@pytest.mark.parametrize(("id", "old", "new"), [
    ("step_open_canal_cue", "Go on when", "Stop when"),
    ("step_open_canal_action_1", "Identify", "Look at"),
    ("step_open_canal_figure_alt", "Figure", "Picture"),
])  # fmt: skip
def test_what_is_ours_is_refused_by_name(full: Path, id: str, old: str, new: str) -> None:
    _, items = came(full, rewritten(id, old, new))
    assert [item.sort for item in items] == [ReturnedSort.TOLD]
    assert "is not text of the file" in items[0].why


def test_a_sign_of_markdown_typed_into_prose_is_told(base: Path) -> None:
    _, items = came(base, rewritten("step_inject_local_prose_1", "each push", "each *push*"))
    assert [item.sort for item in items] == [ReturnedSort.TOLD]
    assert "means something else" in items[0].why


def test_a_change_beside_a_link_keeps_the_link(base: Path) -> None:
    copy, items = came(base, rewritten("about_prose_1", "the right", "the marked"),
                       rewritten("about_prose_1", "into the groin", "into the canal"))  # fmt: skip
    assert [item.sort for item in items] == [ReturnedSort.CHANGE]
    take_in(library_of(base), copy, items, {1})
    text = (base / "content/procedures/example/procedure.md").read_text()
    assert "This is the way into the canal. It starts with [the marked side](step:check-side)." in text


def test_a_dose_in_its_cell_comes_back(base: Path) -> None:
    copy, items = came(base, rewritten("step_inject_local_dose_amount", "10 mL", "8 mL"))
    assert [(item.sort, item.before, item.after) for item in items] == [(ReturnedSort.CHANGE, "10 mL", "8 mL")]
    take_in(library_of(base), copy, items, {1})
    assert "amount: 8 mL," in (base / "content/procedures/example/steps/inject-local.md").read_text()


def test_a_table_rearranged_is_told_of_every_cell_in_it(base: Path) -> None:
    def swap(document: Any) -> None:
        row = paragraph(document, "kit_small_swab").iterancestors(f"{W}tr").__next__()
        row.append(row.findall(f"{W}tc")[0])

    _, items = came(base, swap)
    assert [item.why for item in items] == ["its table was rearranged"] * 2

    def down(document: Any) -> None:
        rows = list(paragraph(document, "kit_small_swab").iterancestors(f"{W}tbl").__next__().iterfind(f"{W}tr"))
        rows[0].getparent().append(rows[0])

    assert {item.why for item in came(base, down)[1]} == {"its table was rearranged"}


def test_a_row_struck_out_is_told(base: Path) -> None:
    def strike(document: Any) -> None:
        row = paragraph(document, "kit_suction_drain").iterancestors(f"{W}tr").__next__()
        row.find(f"{W}trPr").append(fragment(f"<w:del {BY}/>"))

    _, items = came(base, strike)
    assert [(item.sort, item.words, item.by) for item in items] == [
        (ReturnedSort.TOLD, "Kit, Suction drain", "Ann Example")
    ] * 2


def test_a_number_that_the_file_cannot_have_is_refused_and_nothing_written(base: Path) -> None:
    copy, items = came(base, rewritten("kit_small_swab", "2", "a few"), rewritten("about_summary", "looked", "seen"))
    before = (base / "content/procedures/example/procedure.md").read_text()
    with pytest.raises(Exception, match="a few"):
        take_in(library_of(base), copy, items, {1, 2})
    assert (base / "content/procedures/example/procedure.md").read_text() == before


def test_comments_become_notes_to_answer_once(full: Path) -> None:
    comments = COMMENT.format(1, "Ann Example", "How far?") + COMMENT.format(2, "", "By whom?")
    copy, items = came(full, about("step_open_canal_cue", "seen", 1), about("step_inject_local", "Inject", 2),
                       comments=comments)  # fmt: skip
    assert sorted((item.sort, item.after, item.by) for item in items) == [
        (ReturnedSort.COMMENT, "By whom?", "nobody named"), (ReturnedSort.COMMENT, "How far?", "Ann Example"),
    ]  # fmt: skip
    notes = full / "content/procedures/example/notes.md"
    for _ in range(2):
        take_in(library_of(full), copy, items, {1, 2})
    text = notes.read_text()
    assert text.startswith("## From the committee, to answer\n\n- [ ] ")
    assert text.count("How far? (Ann Example)") == text.count("By whom? (nobody named)") == 1


def test_what_was_edited_meanwhile_is_told_and_never_taken(full: Path) -> None:
    cue, slip = rewritten("step_open_canal_cue", "2", "3"), rewritten("step_open_canal_error", "vessel", "vein")
    content = marked(sent(full), cue, slip)
    (full / STEP).write_text((full / STEP).read_text().replace("seen in 2", "felt in 2"))
    _, items = came_back(library_of(full), "back.docx", content)
    assert [item.sort for item in items] == [ReturnedSort.TOLD, ReturnedSort.CHANGE]
    assert "edited in the module after it was sent" in items[0].why
    assert items[0].before == "Go on when: The nerve is felt in 2 places."
    (full / STEP).write_text((full / STEP).read_text().replace("felt in 2", "seen in 3"))
    _, items = came_back(library_of(full), "back.docx", content)
    assert [item.sort for item in items] == [ReturnedSort.DONE, ReturnedSort.CHANGE], "numbers stay as they were shown"


def test_an_edit_made_meanwhile_stays_where_the_committee_changed_nothing(full: Path) -> None:
    content = sent(full)
    (full / STEP).write_text((full / STEP).read_text().replace("seen in 2", "felt in 2"))
    assert came_back(library_of(full), "back.docx", content)[1] == ()


def test_a_step_taken_out_meanwhile_is_counted(full: Path) -> None:
    content = sent(full)
    (full / STEP).write_text("\n".join(line for line in (full / STEP).read_text().splitlines() if "error:" not in line))
    items = came_back(library_of(full), "back.docx", content)[1]
    assert [item.why for item in items][-1:] == ["1 paragraph of what was sent is no longer in the module as it is now"]


def test_a_file_changed_between_showing_and_taking_is_left(full: Path) -> None:
    copy, items = came(full, rewritten("step_open_canal_cue", "2", "3"))
    library = library_of(full)
    (full / STEP).write_text((full / STEP).read_text().replace("error:", "call: supervising surgeon\nerror:"))
    with pytest.raises(NotWritten):
        take_in(library, copy, items, {1})
    assert "seen in 2" in (full / STEP).read_text()


@pytest.mark.parametrize(("name", "change", "message"), [
    ("back.rtf", lambda content: content, "is not a .docx or an .odt"),
    ("back.odt", lambda content: content, "cannot be opened"),
    ("back.docx", lambda content: b"nothing", "cannot be opened"),
    ("back.docx", lambda content: _without(content, "docProps/custom.xml"), "has lost the ids"),
    ("back.docx", lambda content: marked(content, without_ids),
     "has lost the ids"),
])  # fmt: skip
def test_what_is_not_a_copy_of_ours_is_refused_by_name(base: Path, name: str, change: Any, message: str) -> None:
    content = change(sent(base))
    with pytest.raises(Refused) as refused:
        came_back(library_of(base), name, content)
    assert message in refused.value.finding.message


def _without(content: bytes, part: str) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as package, zipfile.ZipFile(target, "w") as new:
        for name in package.namelist():
            if name != part:
                new.writestr(name, package.read(name))
    return target.getvalue()


def test_the_commands_share_show_and_take(full: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "committee.docx"
    assert main(["share", "example", str(full), "--to", str(file)]) == 0
    file.write_bytes(marked(file.read_bytes(), rewritten("step_open_canal_cue", "2", "3"),
                            rewritten("step_open_canal_error", "vessel", "vein", "")))  # fmt: skip
    capsys.readouterr()
    before = (full / STEP).read_text()
    assert main(["take", str(file), str(full)]) == 0
    shown = capsys.readouterr().out
    assert "2 things came back." in shown
    assert "Changes, each at its key (2)" in shown
    assert shown.endswith("Nothing was written.\n"), "there is nobody to ask"
    assert (full / STEP).read_text() == before
    assert main(["take", str(file), str(full), "--accept", "2"]) == 0
    assert (full / STEP).read_text() == before.replace("a vessel", "a vein")
    assert main(["take", str(file), str(full), "--accept", "all"]) == 0
    assert (full / STEP).read_text() == before.replace("a vessel", "a vein").replace("in 2", "in 3")
    assert "Already in the module (1)" in capsys.readouterr().out
    assert main(["take", str(file), str(full), "--accept", "7"]) == 2
    assert "7 is not the number of a change" in capsys.readouterr().err


@pytest.mark.parametrize(("words", "message"), [
    (["share", "nothing", "--to", "x.docx"], "There is no procedure 'nothing'"),
    (["share", "example", "--to", "x.pdf"], "x.pdf does not end in .docx"),
])  # fmt: skip
def test_a_wrong_call_says_what_to_write(
    base: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    assert main([*words[:2], str(base), *words[2:]]) == 2
    assert message in capsys.readouterr().err


def test_what_the_parent_wrote_is_not_shared_here(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    library = library_of(ward.root)
    with pytest.raises(NotWritten, match="is the parent's text"):
        shared_copy(library, library.by_id["example"])


# In another language


@pytest.mark.parametrize(("language", "label"), [("de", "Weiter"), ("fr", "Continuer")])
def test_in_another_language_words_of_the_module_come_back_and_ours_stay_ours(
    full: Path, language: str, label: str
) -> None:
    head = full / "content/department.md"
    head.write_text(head.read_text().replace("language: en-GB", f"language: {language}"))
    cue, action = "step_open_canal_cue", "step_open_canal_action_1"
    copy, items = came(full, rewritten(cue, "2", "3"))
    assert copy.by_name[cue].shown.startswith(label)
    assert [item.sort for item in items] == [ReturnedSort.CHANGE]
    verb = next(piece.shown.strip() for piece in reversed(copy.by_name[action].pieces) if piece.path is None)
    items = came(full, rewritten(cue, label, "Anders"), rewritten(action, verb, "nichts"))[1]
    assert [item.sort for item in items] == [ReturnedSort.TOLD, ReturnedSort.TOLD]
    assert all("is not text of the file" in item.why for item in items)
    before = (full / STEP).read_text()
    assert take_in(library_of(full), copy, came(full, rewritten(cue, "2", "3"))[1], {1}) == [STEP]
    assert (full / STEP).read_text() == before.replace("2 places.   #", "3 places.   #")

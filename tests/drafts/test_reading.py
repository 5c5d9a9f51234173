"""The readers of sources: what people write by hand, what programs put around it, and what must not come along."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import docx
import pptx
import pytest
from docx.opc.constants import RELATIONSHIP_TYPE as RT
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls, qn

from builder.draft.sentences import sentences_of, without_fillers
from builder.draft.speech import instruction
from builder.load.told.draft_source import PassageKind, SourceForm, clean
from builder.load.told.source_file import source_of
from builder.load.told.talk import clock, seconds_of
from drafts import results
from drafts.make_sources import AUTHOR, photograph


def passages(text: str, name: str = "a.md") -> list[tuple[str, str, str]]:
    return [(one.kind.value, one.label, one.text) for one in source_of(name, text.encode()).passages]


@pytest.mark.parametrize(
    ("line", "label", "text"),
    [
        ("1. Open the skin", "1.", "Open the skin"),
        ("2) Open the skin", "2)", "Open the skin"),
        ("(3) Open the skin", "(3)", "Open the skin"),
        ("Step 4: Open the skin", "Step 4:", "Open the skin"),
        ("STEP 4 Open the skin", "STEP 4", "Open the skin"),
        ("Step 4 - Open the skin", "Step 4 -", "Open the skin"),
        ("5 - Open the skin", "5 -", "Open the skin"),
        ("6.Open the skin", "6.", "Open the skin"),
        ("3.1 Open the skin", "3.1", "Open the skin"),
        ("iv) Open the skin", "iv)", "Open the skin"),
        ("- Open the skin", "-", "Open the skin"),
        ("• Open the skin", "•", "Open the skin"),
    ],
)
def test_numbers_and_bullets_as_people_write_them(line: str, label: str, text: str) -> None:
    assert passages(line) == [("item", label, text)]


@pytest.mark.parametrize(
    "line", ["10 mL of saline", "1.5 mg is enough", "A. Person wrote this", "2026 was a year", "5-0 suture"]
)
def test_numbers_that_number_nothing(line: str) -> None:
    assert passages(line) == [("text", "", line)]


def test_wrapped_lines_are_one_passage_and_new_lines_are_not() -> None:
    text = "1. Open the skin with the blade held flat, along the crease that was\ndrawn before.\nClose the skin.\n"
    assert [one[2] for one in passages(text, "a.txt")] == [
        "Open the skin with the blade held flat, along the crease that was drawn before.",
        "Close the skin.",
    ]


def test_headings_of_markdown_and_of_plain_text() -> None:
    text = "# One\n\nTwo\n---\n\nTHREE THINGS\n\n## 4. Four\n"
    assert passages(text) == [
        ("heading", "", "One"), ("heading", "", "Two"), ("heading", "", "THREE THINGS"), ("heading", "4.", "Four"),
    ]  # fmt: skip


def test_table_of_markdown_gives_numbered_rows() -> None:
    text = "| No | Step |\n|----|------|\n| 1 | Open the skin |\n| 2 | Close the skin |\n"
    assert passages(text)[1:] == [("item", "1", "Open the skin."), ("item", "2", "Close the skin.")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(encoding: str, ending: str) -> None:
    raw = f"1. Öffne the skin{ending}2. Close the skin{ending}".encode(encoding)
    assert [one.text for one in source_of("a.txt", raw).passages] == ["Öffne the skin", "Close the skin"]


def test_signs_that_nobody_sees_are_taken_out() -> None:
    assert clean("a\u00adb\u200bc\u202ed\x07e\u00a0f\ufeff") == "abcde f"


# Talks


def test_cues_are_put_together_and_keep_their_times() -> None:
    text = (
        "WEBVTT\n\nNOTE a comment\n\nintro\n00:01.000 --> 00:03.000 align:start\n<v Jane Roe>First we &lt;open&gt;\n\n"
        "00:03.000 --> 00:05.000\nthe <i>skin</i>. Then\n\nSTYLE\n::cue {}\n\n"
        "00:01:05.000 --> 00:01:09.000\nwe close it.\n"
    )
    source = source_of("talk.vtt", text.encode())
    (aside, speech) = source.passages
    assert (aside.kind, aside.text) == (PassageKind.ASIDE, "a comment")
    assert speech.text == "First we <open> the skin. Then we close it."
    assert [(one.text, one.heard_at) for one in sentences_of(speech)] == [
        ("First we <open> the skin.", "0:01"),
        ("Then we close it.", "0:03"),
    ]
    assert source.left_out == ("the name of 1 speaker",)
    assert "Jane" not in repr(source.passages)
    assert source.form is SourceForm.TALK


def test_without_stops_what_was_heard_as_one_is_a_sentence_and_what_is_only_shown_as_one_is_not() -> None:
    """A line of subtitles has at most 42 signs, two are shown at once (common practice of subtitling)."""
    said = [
        "now i find the duct at the lower edge and i stay on it all the way down to the wall and i do not hurry here",
        "if the floor is thick you wait and you ask the anaesthetist to tip the head down before you go any further in",
        "then it is one clip on the side that stays and two on the side that goes and you look at both tips first",
    ]
    words = " ".join(said)
    shown = [words[start : start + 60] for start in range(0, len(words), 60)]

    def sentences(cues: list[str]) -> list[str]:
        spoken = "".join(f"00:{n:02}:00.000 --> 00:{n + 1:02}:00.000\n{cue}\n\n" for n, cue in enumerate(cues))
        [passage] = source_of("a.vtt", f"WEBVTT\n\n{spoken}".encode()).passages
        return [sentence.text for sentence in sentences_of(passage)]

    assert sentences(said) == said
    assert not set(sentences(shown)) & set(shown)


def test_lines_that_roll_on_are_taken_once() -> None:
    text = (
        "1\n00:00:01,000 --> 00:00:03,000\nfirst we open the skin\n\n"
        "2\n00:00:03,000 --> 00:00:05,000\nfirst we open the skin\nthen we close it\n"
    )
    assert source_of("a.srt", text.encode()).passages[0].text == "first we open the skin then we close it"


@pytest.mark.parametrize("ending", [".vtt", ".srt"])
def test_no_character_of_speech_is_lost(ending: str) -> None:
    """Limits, braces, short times, words without a time, arrows in speech: all of it was said."""
    head = "WEBVTT - on the list\n\n" if ending == ".vtt" else "1\n"
    text = (
        f"{head}0:01 --> 0:03\nThe INR is <1.5 and platelets >50.\n\n"
        "2\n00:05.000 --> 00:00:07,500\nThen {gently} lift, x<y and a < b > c,\n{\\an8}and <i>so</i> on.\n\n"
        "This was not timed, but it was said.\n\n"
        "3\n1:00:08.000 --> 1:00:09.000\nPus --> swab,\n--> and 3\n4\n"
        "5\n01:00:10,000 --> 01:00:11,000\n12 < 20 &lt; 30.\n"
    )
    speech = source_of(f"a{ending}", text.encode()).passages[-1]
    assert speech.text == (
        "The INR is <1.5 and platelets >50. Then {gently} lift, x<y and a < b > c, and so on. "
        "This was not timed, but it was said. Pus --> swab, --> and 3 4 12 < 20 < 30."
    )
    assert [mark.seconds for mark in speech.marks] == [1, 5, 3608, 3610]


def test_an_arrow_makes_no_subtitles() -> None:
    assert source_of("a.txt", b"1. Find the duct\n2. Clip --> cut it\n").form is SourceForm.OUTLINE


def test_markdown_with_times_is_a_talk() -> None:
    text = "# Talk\n\n[0:05] First we open\n[1:10] the skin.\n[1:02:03] Then we close it.\n"
    source = source_of("a.md", text.encode())
    assert source.form is SourceForm.TALK
    speech = source.passages[-1]
    assert [(one.text, one.heard_at) for one in sentences_of(speech)] == [
        ("First we open the skin.", "0:05"), ("Then we close it.", "1:02:03"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("written", "seconds", "shown"), [("0:05", 5, "0:05"), ("12:34", 754, "12:34"), ("1:02:03.5", 3723, "1:02:03")]
)
def test_times(written: str, seconds: int, shown: str) -> None:
    assert seconds_of(written) == seconds
    assert clock(seconds) == shown


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("So, um, we open it.", "So we open it."),
        ("Um, we uh open, er, the skin", "we open the skin"),
        ("The ER is far. Her arm hums. Summer.", "The ER is far. Her arm hums. Summer."),
    ],
)
def test_only_sounds_of_hesitation_are_left_out(said: str, kept: str) -> None:
    assert without_fillers(said) == kept


@pytest.mark.parametrize(
    ("sentence", "title"),
    [
        ("Okay, so the second step is to split the muscle.", "Split the muscle"),
        ("Step three, we open the peritoneum.", "Open the peritoneum"),
        ("Right, the third step is opening the trachea.", "Open the trachea"),
        ("Secondly, you want to find the caecum.", "Find the caecum"),
        ("Next you gently push the dilator on.", "Gently push the dilator on"),
        ("Finally, close the skin.", "Close the skin"),
        ("What I do first is draw a line.", "Draw a line"),
        ("To begin with, mark the spot.", "Mark the spot"),
        ("Now we divide the vessel.", "Divide the vessel"),
        ("Once that is done, you wash it out.", "Wash it out"),
        ("Then divide the vessel.", "Divide the vessel"),
    ],
)  # fmt: skip
def test_instruction_in_the_words_that_announce_a_step(sentence: str, title: str) -> None:
    assert instruction(sentence) == title


# Word-processor files


def made(fill: object) -> bytes:
    document, target = docx.Document(), BytesIO()
    fill(document)  # type: ignore[operator]  # a function of the test
    document.save(target)
    return target.getvalue()


def test_what_was_struck_out_is_gone_and_what_was_put_in_is_there() -> None:

    name = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'

    def fill(document: object) -> None:
        paragraph = document.add_paragraph("1. Open ")  # type: ignore[attr-defined]  # python-docx publishes few types
        paragraph._p.append(parse_xml(f"<w:del {name}><w:r><w:delText>the bone</w:delText></w:r></w:del>"))
        paragraph._p.append(parse_xml(f"<w:ins {name}><w:r><w:t>the skin</w:t></w:r></w:ins>"))
        document.add_paragraph("2. Close the skin")  # type: ignore[attr-defined]

    assert [one.text for one in source_of("a.docx", made(fill)).passages] == ["Open the skin", "Close the skin"]


def test_comment_footnote_box_footer_and_table_of_a_document_are_read() -> None:
    source = source_of("a.docx", (results.HERE / "sources" / "appendicectomy.docx").read_bytes())
    texts = {one.text: one for one in source.passages}
    assert texts["Never squeeze it with the tips, it bursts."].at == "comment on paragraph 19"
    assert texts["The bands are the taeniae; all three meet at the base."].at.startswith("footnote on paragraph")
    assert texts["Draft for the juniors, please correct"].kind is PassageKind.ASIDE
    assert texts["Watch out for the ureter if the appendix lies behind."].kind is PassageKind.TEXT
    assert texts["Artery forceps: 4"].kind is PassageKind.ITEM
    assert texts["Technique"].kind is PassageKind.HEADING
    assert not any(AUTHOR.split()[0] in one.text for one in source.passages)


def test_notes_tables_groups_and_pictures_of_slides_are_read() -> None:
    source = source_of("a.pptx", (results.HERE / "sources" / "hydrocele.pptx").read_bytes())
    texts = {one.text: one.at for one in source.passages}
    assert (
        texts["I go across, not up and down. Watch out for the small veins, they make the bruise."] == "slide 5, notes"
    )
    assert texts["leave two centimetres of edge"] == "slide 10"
    assert any("Seal it point by point" in text for text in texts)
    (picture,) = source.pictures
    assert (picture.at, picture.alt) == ("slide 7", "The sac held up between two fingers")
    assert picture.crop is not None
    assert picture.crop[2] == pytest.approx(100 * 2 / 3, abs=0.1)


@pytest.mark.parametrize("name", ["appendicectomy.docx", "hydrocele.pptx"])
def test_reading_needs_no_file_but_the_one_given(name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    assert source_of(name, (results.HERE / "sources" / name).read_bytes()).passages
    assert list(tmp_path.iterdir()) == []


def test_picture_of_a_document_is_read_with_its_crop_and_a_guess_is_no_description() -> None:
    def fill(document: object) -> None:
        document.add_paragraph("1. Open the skin")  # type: ignore[attr-defined]  # python-docx publishes few types
        document.add_picture(BytesIO(photograph()))  # type: ignore[attr-defined]
        shape = document.inline_shapes[0]._inline  # type: ignore[attr-defined]
        shape.docPr.set("descr", "A plate of food\n\nDescription automatically generated")
        (blip_fill,) = shape.iter(qn("pic:blipFill"))
        blip_fill.insert(1, parse_xml(f'<a:srcRect {nsdecls("a")} l="10000" b="25000"/>'))
        document.add_paragraph("2. Close the skin")  # type: ignore[attr-defined]

    (picture,) = source_of("a.docx", made(fill)).pictures
    assert picture.crop == (10.0, 0.0, 100.0, 75.0)
    assert picture.content == photograph()
    assert picture.passage == 0
    assert picture.alt == ""


def test_picture_that_is_only_linked_is_never_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    def fill(document: object) -> None:
        document.add_paragraph("1. Open the skin")  # type: ignore[attr-defined]
        part = document.part  # type: ignore[attr-defined]
        id = part.relate_to("http://127.0.0.1:9/x.png", RT.IMAGE, is_external=True)
        document.add_picture(BytesIO(photograph()))  # type: ignore[attr-defined]
        (blip,) = document.inline_shapes[0]._inline.iter(qn("a:blip"))  # type: ignore[attr-defined]
        blip.set(qn("r:embed"), id)

    def refuse(*_: object) -> None:
        raise AssertionError("something was fetched")

    monkeypatch.setattr("socket.socket.connect", refuse)
    source = source_of("a.docx", made(fill))
    assert source.pictures == ()
    assert [one.text for one in source.passages] == ["Open the skin"]


def test_groups_of_slides_and_hidden_slides_are_read() -> None:
    deck, target = pptx.Presentation(), BytesIO()
    slide = deck.slides.add_slide(deck.slide_layouts[5])
    slide.shapes.title.text = "Step 1: Open the skin"
    group = slide.shapes.add_group_shape().shapes.add_group_shape()
    group.shapes.add_textbox(0, 0, 1000, 1000).text_frame.text = "stay shallow"
    group.shapes.add_picture(BytesIO(photograph()), 0, 0)
    hidden = deck.slides.add_slide(deck.slide_layouts[5])
    hidden.shapes.title.text = "Step 2: Close the skin"
    hidden._element.set("show", "0")
    deck.save(target)
    source = source_of("a.pptx", target.getvalue())
    assert [(one.label, one.text) for one in source.passages] == [
        ("Step 1:", "Open the skin"), ("", "stay shallow"), ("Step 2:", "Close the skin"),
    ]  # fmt: skip
    assert len(source.pictures) == 1

"""Slides of the base department and the demonstration: one deck, two files, each proved, each the same every time."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from importlib.resources import files
from io import BytesIO
from itertools import combinations
from math import dist
from pathlib import Path

import pytest
from decks import ALL, deck, document, file_document, pptx, procedure, proved, written
from department import BASE, Overlay, read
from papers import library, renderer, typesetter
from papers import proved as proved_pdf

from builder.compose.document import Document, Renderer
from builder.compose.slides import slide_text, slides
from builder.compose.slides.slide import HEIGHT, WIDTH, Deck, Slide, SlidePart
from builder.compose.slides.slide_layout import MOST_ON_LIST, MOST_WORDS, fits, on_few
from builder.compose.slides.slide_text import LEAST_PT, words_in
from builder.findings.finding import Refused
from builder.load.templates import load_templates
from builder.model.pages import Status
from builder.publish.paper.pdf import Typesetter
from builder.publish.slides.slide_look import LAYOUTS

DECKS = pytest.mark.parametrize(("name", "root"), ALL, ids=[name for name, _ in ALL])
CANAL = "content/procedures/example/steps/open-canal.md"


def body_words(slide: Slide) -> int:
    """Words of title and body, as a reader counts them."""
    aside = ("eyebrow", "number", "critical", "letter", "legend", "source")  # names on a figure are read with it
    boxes = [box for box in slide.boxes if box.role not in aside]
    # The number of a pointer and the letter of an answer are no words to read.
    return sum(
        words_in(row.text if box.style.indent else f"{row.label} {row.text}") for box in boxes for row in box.rows
    )


def every_word(found: Deck) -> str:
    return " ".join(slide.shown for slide in found.slides)


@DECKS
def test_both_files_are_proved(name: str, root: Path, tmp_path: Path) -> None:
    made = document(name, root)
    found = proved_pdf(made, typesetter(root).pdf(made), tmp_path)
    assert found.problems == ()
    other = proved(file_document(name, root), pptx(name, root), tmp_path)
    assert other.problems == ()
    assert found.pages == other.pages == len(deck(name, root).slides)
    assert min(found.smallest_type_pt, other.smallest_type_pt) >= 24.0


@DECKS
def test_every_box_is_on_the_slide_in_type_of_24_pt(name: str, root: Path) -> None:
    for slide in deck(name, root).slides:
        for box in slide.boxes:
            assert box.style.pt >= LEAST_PT
            assert 0 <= box.left <= box.left + box.width <= WIDTH, (slide.id, box.role)
            assert 0 <= box.top <= box.top + box.height <= HEIGHT - 54, (slide.id, box.role)


@DECKS
def test_no_slide_has_too_many_words(name: str, root: Path) -> None:
    """The signal word and its label are counted too; the title slide carries the usual caution."""
    for slide in (slide for slide in deck(name, root).slides if slide.kind != "title"):
        most = MOST_ON_LIST if slide.kind in ("list", "checklist") else MOST_WORDS
        assert body_words(slide) <= most + 1, slide.id


@DECKS
def test_a_deck_has_35_slides_at_most(name: str, root: Path) -> None:
    """For 18 steps with their dangers, figures and signs to go on; more and half of them are thin."""
    assert len(deck(name, root).slides) <= 35


@DECKS
def test_every_title_is_there_once(name: str, root: Path) -> None:
    assert [
        title for title, count in Counter(slide.title for slide in deck(name, root).slides).items() if count > 1
    ] == []


@DECKS
def test_every_slide_has_an_id_of_its_own(name: str, root: Path) -> None:
    ids = [slide.id for slide in deck(name, root).slides]
    assert len(set(ids)) == len(ids)


@DECKS
def test_nothing_of_the_source_is_lost(name: str, root: Path) -> None:
    """Every step, cue, caution, choice and count is shown; why, slip, way back and prose are said."""
    whole, found = procedure(name, root), deck(name, root)
    shown = every_word(found)
    said = " ".join(note.text for slide in found.slides for note in slide.notes)
    for step in whole.steps.values():
        assert step.title in shown
        assert not step.cue or step.cue in shown, step.cue
        for text in (step.why, step.error, step.recovery, step.if_not):
            assert not text or text.rstrip(".") in said, text
    for caution in whole.cautions.values():
        assert caution.hazard.rstrip(".") in shown
        assert caution.avoid in shown
        for text in (caution.consequence, caution.sign, caution.if_it_happens):
            assert not text or text.rstrip(".") in said, text
    for item in whole.aftercare_items.values():
        assert item.title in shown


@DECKS
def test_a_caution_stands_before_every_step_that_it_guards(name: str, root: Path) -> None:
    whole, found = procedure(name, root), deck(name, root)
    steps = {slide.id: at for at, slide in enumerate(found.slides)}
    for caution in whole.cautions.values():
        guarded = {*map(str, caution.guards)}
        guarded |= {str(one.id) for one in whole.steps.values() if caution.id in one.cautions}
        shown = [at for at, slide in enumerate(found.slides) if caution.avoid in slide.shown]
        assert shown, caution.id
        for step in guarded & {str(id) for id in whole.steps}:
            assert shown[0] <= steps[f"step-{step}"], (caution.id, step)


@DECKS
def test_what_to_do_if_it_is_not_so_is_said_and_never_shown_before_the_sign_to_go_on(name: str, root: Path) -> None:
    slides_of = {slide.id: slide for slide in deck(name, root).slides}
    for step in procedure(name, root).steps.values():
        slide = slides_of[f"step-{step.id}"]
        if step.if_not:
            assert f"If not: {step.if_not}" in slide.notes[0].text
            roles = [box.role for box in slide.boxes]
            assert "unless" not in roles or roles.index("cue") < roles.index("unless")
    words = " ".join(f"{slide.shown} {note.role}" for slide in deck(name, root).slides for note in slide.notes)
    assert not [old for old in ("Stop point", "the cue", "The slip", "The way back") if old in words]


@DECKS
def test_the_operation_is_named_and_told_before_it_is_asked_about(name: str, root: Path) -> None:
    kinds = [slide.kind for slide in deck(name, root).slides]
    ids = [slide.id for slide in deck(name, root).slides]
    assert kinds[0] == "title"
    assert not procedure(name, root).summary or ids.index("why") < kinds.index("question")
    assert kinds[-1] == "sources"
    closing = [at for at, kind in enumerate(kinds) if kind == "question"][-1]
    last_step = max(at for at, kind in enumerate(kinds) if kind.startswith("step"))
    assert last_step < closing


@DECKS
def test_all_counts_are_told_together_on_the_map_before_the_start_or_after_the_steps(name: str, root: Path) -> None:
    found = deck(name, root).slides
    counted = any(one.verb.value == "count" for step in procedure(name, root).steps.values() for one in step.actions)
    kinds = ("map", "checklist")
    with_others = [one for one in found if one.kind in kinds and any(box.role == "count" for box in one.boxes)]
    apart = [slide for slide in found if slide.id == "counts"]
    assert len(with_others) + len(apart) == counted
    assert all("Count aloud" in one.shown or "count" in one.notes[0].text for one in (*with_others, *apart))


@DECKS
def test_a_question_is_answered_on_the_next_slide_and_in_the_same_words_in_its_notes(name: str, root: Path) -> None:
    found = deck(name, root).slides
    for at, slide in enumerate(found):
        if slide.kind == "question":
            answer = found[at + 1]
            assert answer.kind == "answer"
            shown = [row.text.replace("\xa0", " ") for box in answer.boxes if box.role == "answer" for row in box.rows]
            [told] = [note.text for note in slide.notes if note.role == "Answer"]
            assert told.rstrip(".") == "; ".join(shown).rstrip(".")
            assert answer.notes[0].text.startswith(told)
            assert not any(text in slide.title for text in shown)


@DECKS
def test_a_map_of_the_steps_stands_before_them(name: str, root: Path) -> None:
    found = deck(name, root).slides
    [place] = [at for at, slide in enumerate(found) if slide.kind == "map"]
    assert place < min(at for at, slide in enumerate(found) if slide.kind.startswith("step"))
    drawn = "".join(re.findall(r">([^<]+)</text>", found[place].picture.drawing))
    assert all(f"{number}" in drawn for number in range(1, 4))


@DECKS
def test_sources_are_numbered_by_first_appearance(name: str, root: Path) -> None:
    numbers: list[int] = []
    for slide in deck(name, root).slides:
        for note in slide.notes:
            if note.role == "Sources" and note.text != "Common practice.":
                numbers += [int(number) for number in re.findall(r"(?:^|; )([0-9]+)(?= |;|\.|$)", note.text)]
    first = list(dict.fromkeys(numbers))
    assert first == list(range(1, len(first) + 1))
    lines = [
        row.text for slide in deck(name, root).slides for box in slide.boxes if box.role == "source" for row in box.rows
    ]
    listed = re.findall(r"(?:^|; )(\d+)\xa0", "\n".join(lines), re.MULTILINE)
    assert listed == [str(number) for number in first]


def test_composing_twice_gives_the_same(base: Path) -> None:
    found = read(base)[0]
    made = [
        slides.compose_pptx(found, found.procedures[0], Renderer(load_templates(base), Typesetter(base).measure))
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert written(made[0], base) == written(made[1], base)


def test_the_same_deck_gives_the_same_pdf() -> None:
    assert Typesetter(BASE).pdf(document()) == typesetter().pdf(document())


def telling_words(package: bytes) -> set[bytes]:
    """What a presentation says of its maker: program, people, theme, type, layouts, and the width of its slides."""
    with zipfile.ZipFile(BytesIO(package)) as parts:
        text = b"".join(parts.read(name) for name in parts.namelist() if name.endswith(".xml"))
    found = re.findall(rb"<(?:Application|dc:description|dc:creator|cp:lastModifiedBy)>([^<]+)<", text)
    found += re.findall(rb'<a:(?:theme|clrScheme|fontScheme|fmtScheme)\b[^>]* name="([^"]+)"', text)
    found += re.findall(rb'<a:latin typeface="([^"+]+)"', text) + re.findall(rb'<p:cSld name="([^"]+)"', text)
    return {*found, *re.findall(rb'<p:sldSz cx="(\d+)"', text)}


def test_nothing_of_a_stock_template_is_in_the_file() -> None:
    """python-pptx starts from a presentation of 4:3 with layouts of others, a printer's settings and an author."""
    stock = (Path(str(files("pptx"))) / "templates" / "default.pptx").read_bytes()
    with zipfile.ZipFile(BytesIO(pptx())) as package:
        names = package.namelist()
    assert len(telling_words(stock)) > 12
    assert b"Arial" in telling_words(pptx())
    assert telling_words(pptx()) & telling_words(stock) == set()
    assert not [name for name in names if "thumbnail" in name or "printerSettings" in name]


def test_what_a_step_may_say_has_its_place_beside_a_figure_too() -> None:
    """Only what is done if not goes, for want of room; a role without a place would have a type of no size."""
    assert set(LAYOUTS["Step"]) - {"unless"} <= set(LAYOUTS["Step with figure"])


def test_the_template_is_what_its_tool_makes() -> None:
    import slide_template

    assert slide_template.TARGET.read_bytes() == slide_template.template()


def test_a_common_program_finds_all_the_parts_that_it_asks_for() -> None:
    """Without properties of presentation and view it offers to repair the file (a validator of the format says so)."""
    with zipfile.ZipFile(BytesIO(pptx())) as package:
        names = set(package.namelist())
        types = package.read("[Content_Types].xml").decode()
        relations = package.read("ppt/_rels/presentation.xml.rels").decode()
    for part in ("presProps", "viewProps", "tableStyles"):
        assert f"ppt/{part}.xml" in names
        assert f"/ppt/{part}.xml" in types
        assert f'Target="{part}.xml"' in relations


def test_a_slide_can_be_edited_where_it_stands() -> None:
    """Title, cue, cautions, legend and figure are placeholders of a layout of their own, not loose boxes."""
    from pptx import Presentation

    made = Presentation(BytesIO(pptx()))
    assert len({layout.name for layout in made.slide_layouts}) == len(made.slide_layouts) >= 10
    for slide in made.slides:
        layout = {one.placeholder_format.idx for one in slide.slide_layout.placeholders}
        held = {one.placeholder_format.idx for one in slide.placeholders}
        assert held <= layout, slide.shapes.title.text
        assert {0, 4, 10} <= held
    figure = next(slide for slide in made.slides if slide.slide_layout.name == "Step with figure")
    assert {one.placeholder_format.type.name for one in figure.placeholders} >= {"TITLE", "PICTURE", "BODY"}


def test_a_figure_is_there_as_drawing_and_as_points() -> None:
    with zipfile.ZipFile(BytesIO(pptx())) as package:
        media = sorted(name for name in package.namelist() if name.startswith("ppt/media/"))
        slide = next(package.read(name) for name in package.namelist() if b"svgBlip" in package.read(name))
    assert media == [f"ppt/media/{name}" for name in ("drawing1.svg", "drawing2.svg", "image1.png", "image2.png")]
    assert b"{96DAC541-7B7A-43D3-8B79-37D633B846F1}" in slide


@pytest.mark.parametrize(
    ("status", "mark"),
    [(Status.DRAFT, "Draft: not approved"), (Status.IN_REVIEW, "In review: not yet approved"), (Status.APPROVED, "")],
)
def test_what_is_not_approved_is_marked_on_every_slide(status: Status, mark: str, tmp_path: Path) -> None:
    other = procedure().model_copy(update={"status": status})
    pdf = slides.compose(library(), other, renderer())
    file = slides.compose_pptx(library(), other, renderer())
    assert [must.text for must in pdf.musts if must.kind == "running"] == [mark] * bool(mark)
    assert proved_pdf(pdf, typesetter().pdf(pdf), tmp_path).problems == ()
    assert proved(file, written(file), tmp_path).problems == ()


def test_an_overdue_review_is_marked(tmp_path: Path) -> None:
    late = procedure().model_copy(update={"review_by": date(2026, 11, 24)})
    file = slides.compose_pptx(library(), late, renderer())
    assert [must.text for must in file.musts if must.kind == "running"] == ["Draft: not approved. Review overdue"]
    assert "Review by 24 November 2026" in every_word(slides.deck_from(file.text))
    assert proved(file, written(file), tmp_path).problems == ()


def longer(overlay: Overlay, old: str, new: str) -> tuple[Document, Path]:
    text = (BASE / CANAL).read_text(encoding="utf-8")
    assert old in text
    root = overlay({CANAL: text.replace(old, new)})
    found = read(root)[0]
    renderer = Renderer(load_templates(root), Typesetter(root).measure)
    return slides.compose_pptx(found, found.by_id["example"], renderer), root


def cue_of(name: str) -> str:
    return str(procedure().steps[name].cue)


def test_what_does_not_fit_is_parted_at_a_sentence(overlay: Overlay, tmp_path: Path) -> None:
    cue = " ".join(f"The nerve is seen and free at place {at} of the canal." for at in range(1, 20))
    file, root = longer(overlay, cue_of("open-canal"), cue)
    found = [one for one in slides.deck_from(file.text).slides if one.id.startswith("step-open-canal")]
    further = [one.title.rpartition(" (")[2] for one in found[1:]]
    assert len(further) > 1
    assert further == ["continued)", *(f"continued {turn})" for turn in range(2, len(further) + 1))]
    rows = [row.text for slide in found for box in slide.boxes if box.role == "cue" for row in box.rows]
    assert " ".join(rows) == cue
    assert all(row.endswith(".") for row in rows)
    assert proved(file, written(file, root), tmp_path).problems == ()


def test_a_sentence_that_fits_on_no_slide_is_an_error_at_its_place(overlay: Overlay) -> None:
    with pytest.raises(Refused) as refused:
        longer(
            overlay, cue_of("open-canal"), "The nerve is seen " + "and seen again and then once more " * 30 + "there."
        )
    finding = refused.value.finding
    assert finding.at.file == CANAL
    assert finding.message.endswith("does not fit on a slide in type of 24 pt")
    assert "The nerve is seen and seen again" in finding.message


def test_a_word_that_is_wider_than_the_slide_is_an_error(overlay: Overlay) -> None:
    with pytest.raises(Refused):
        longer(overlay, f"title: {procedure().steps['open-canal'].title}", f"title: Find {'nerve' * 30}")


STYLES = (
    (
        "type below the least",
        ".cue { font-size: 20pt !important }",
        "20.0 pt; the smallest allowed on a slide is 24 pt",
    ),
    ("a caution off the slide", ".box.caution { left: 700pt !important }", "off the page"),
    ("a caution not displayed", ".box.caution { display: none }", "not those that were composed"),
    ("white on white", ".box.caution { color: #fff }", "contrast"),
    ("clipped", ".box.caution { max-height: 10pt; overflow: hidden }", "cut off"),
    ("two on each other", ".box.title { top: 80pt !important }", "on top of each other"),
    ("a slide on two pages", ".slide { break-after: right }", "one runs over its page"),
    ("4:3", "@page { size: 720pt 540pt }", "is 720 by 540 pt"),
    ("mark lost", "@page { @bottom-left { content: none } }", "does not bear the mark"),
)


@pytest.mark.parametrize(("name", "rules", "say"), STYLES, ids=[name for name, _, _ in STYLES])
def test_a_spoilt_pdf_is_caught(name: str, rules: str, say: str, tmp_path: Path) -> None:
    made = document()
    spoilt = replace(made, text=made.text.replace("</style>", f"{rules}</style>"))
    found = proved_pdf(spoilt, typesetter().pdf(spoilt), tmp_path)
    assert any(say in problem for problem in found.problems), found.problems


@DECKS
def test_no_number_lies_on_another_nor_on_what_is_shown(name: str, root: Path) -> None:
    for slide in deck(name, root).slides:
        at = slide.frame
        if slide.picture is None or at is None:
            continue
        places = [(spot.left * at.width / 100, spot.top * at.height / 100) for spot in slide.picture.spots]
        shown = [(spot.x * at.width / 100, spot.y * at.height / 100) for spot in slide.picture.spots]
        for one, other in combinations(places, 2):
            assert dist(one, other) >= 36.0, slide.id
        for one in places:
            assert 18 <= one[0] <= at.width - 18, slide.id
            assert 18 <= one[1] <= at.height - 18, slide.id
            assert min(dist(one, spot) for spot in shown) >= 19.0, slide.id


def test_signs_of_markup_are_words_and_control_characters_are_none(overlay: Overlay, tmp_path: Path) -> None:
    title = "Find <b>the</b> nerve & 'open' the canal {{ 1 }}"
    text = (BASE / CANAL).read_text(encoding="utf-8").replace(str(procedure().steps["open-canal"].title), "@", 1)
    root = overlay({CANAL: text.replace("@", f'"{title}"', 1) + "\nLook \x01well\x08 & <i>see</i> that 5 > 3.\n"})
    found = read(root)[0]
    of = (found, found.by_id["example"], Renderer(load_templates(root), Typesetter(root).measure))
    file, pdf = slides.compose_pptx(*of), slides.compose(*of)
    assert title in every_word(slides.deck_from(file.text))
    assert proved(file, written(file, root), tmp_path).problems == ()
    assert proved_pdf(pdf, Typesetter(root).pdf(pdf), tmp_path).problems == ()


@DECKS
def test_an_abbreviation_is_spelt_out_where_it_is_used_first(name: str, root: Path) -> None:
    found = deck(name, root)
    told = [
        f"{slide.shown} {' '.join(note.text for note in slide.notes)}"
        for slide in found.slides
        if slide.kind != "sources"
    ]
    text = " ".join(told)
    for term in library(root).terms:
        short = str(term.short)
        if not short.rstrip("s").isupper():
            continue
        first = re.search(rf"(?<!\w){re.escape(short)}(?!\w)", text)
        if first:
            before = text[max(0, first.start() - len(term.long) - 3) : first.start()].casefold()
            after = text[first.end() : first.end() + len(term.long) + 3].casefold()
            assert str(term.long).casefold() in before + after or str(term.plain).casefold() in before + after, short


def test_many_sources_go_on_as_few_slides_as_take_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """None is lost, none is out of order, and the work grows with lines and slides, not with the words of all."""
    counted: list[str] = []

    def count(text: str) -> int:
        counted.append(text)
        return words_in(text)

    monkeypatch.setattr(slide_text, "words_in", count)
    lines = [f"{number}\xa0Fletcher and Quill, Journal of Tests, long enough for a line" for number in range(1, 101)]

    def slide(some: Sequence[str]) -> Slide:
        return Slide("sources", "s", "s", "Sources", "Say", "Sources", parts=(SlidePart("source", "; ".join(some)),))

    made = on_few(lines, slide)
    shown = [line for one in made for line in one.parts[0].text.split("; ")]
    assert shown == lines
    assert all(map(fits, made))
    assert not fits(slide(lines[: -(-len(lines) // (len(made) - 1))])), "one slide fewer does not take them"
    assert len(counted) < 200 * len(lines)

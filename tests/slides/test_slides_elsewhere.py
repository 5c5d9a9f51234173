"""The .pptx of every demonstration module, opened by LibreOffice: a reader that shares no code with the writer.

What it makes of the file is compared with the file itself: number of slides, every letter inside a box of its slide and
on the slide, every caution and critical step in order, descriptions of figures, ink where words stand. The file is also
unzipped and swept for what names a patient.
"""

from __future__ import annotations

import subprocess
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from decks import DEMO, DEMONSTRATION, deck, pptx, procedure
from papers import library

from builder.compose.view.outline import StepBlock, every_block, outline
from builder.readback.comparison import bare
from builder.readback.identity import sweep
from builder.readback.paper.finished_pdf import Rectangle
from builder.readback.paper.pdf import catalogue_of, tree_of
from builder.readback.slides.slides_read import Seen, slides_in

pytestmark = pytest.mark.slow
TAGGED = 'pdf:impress_pdf_Export:{"UseTaggedPDF":{"type":"boolean","value":"true"}}'
SLACK = 3.0  # pt: where its type is drawn a little higher or wider than its line


@dataclass(frozen=True)
class Letter:
    """A letter as LibreOffice paints it: ``box`` in pt from the top left corner, up being negative."""

    text: str
    box: Rectangle


@dataclass(frozen=True)
class Converted:
    """A module as written and as read elsewhere."""

    name: str
    path: Path
    pdf: Path
    slides: tuple[Seen, ...]


@pytest.fixture(scope="module", params=DEMO)
def converted(request: pytest.FixtureRequest, office: str, tmp_path_factory: pytest.TempPathFactory) -> Converted:
    folder = tmp_path_factory.mktemp(request.param)
    path = folder / "slides.pptx"
    path.write_bytes(pptx(request.param, DEMONSTRATION))
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    call = [office, profile, "--headless", "--convert-to", TAGGED, "--outdir", str(folder), str(path)]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    from pptx import Presentation

    return Converted(request.param, path, folder / "slides.pdf", slides_in(Presentation(str(path))))


def letters(page: pypdfium2.PdfPage) -> Iterator[Letter]:
    text, height = page.get_textpage(), page.get_height()
    for at in range(text.count_chars()):
        sign = text.get_text_range(at, 1)
        if sign.strip():
            left, bottom, right, top = text.get_charbox(at)
            yield Letter(sign, Rectangle(left, bottom - height, right, top - height))


def test_every_slide_is_a_page(converted: Converted) -> None:
    document = pypdfium2.PdfDocument(converted.pdf)
    assert len(document) == len(converted.slides) == len(deck(converted.name, DEMONSTRATION).slides)
    assert {tuple(map(round, page.get_size())) for page in document} == {(960, 540)}
    document.close()


def test_no_letter_is_outside_its_box_or_the_slide(converted: Converted) -> None:
    document = pypdfium2.PdfDocument(converted.pdf)
    wrong = []
    for page, seen in zip(document, converted.slides, strict=True):
        room = Rectangle(0, -540, 960, 0)
        boxes = [one.box for one in seen.texts()]
        wrong += [
            (seen.number, letter)
            for letter in letters(page)
            if not letter.box.inside(room, 0) or not any(letter.box.inside(box, SLACK) for box in boxes)
        ]
    document.close()
    assert wrong == []


def test_every_box_shows_its_words(converted: Converted) -> None:
    """The letters that lie in a box are those that the box holds: none is lost, none has run into another box."""
    document = pypdfium2.PdfDocument(converted.pdf)
    wrong = []
    for page, seen in zip(document, converted.slides, strict=True):
        painted = list(letters(page))
        for shape in seen.texts():
            if shape.inside or shape.holds == "sldNum":
                continue  # numbers lie over a figure and over one another's boxes; a number of a slide is a field
            inside = bare("".join(one.text for one in painted if one.box.inside(shape.box, SLACK)))
            inside = inside.replace("\ufffe", "-")  # what the reader of the PDF gives for a hyphen at the end of a line
            if inside != bare(shape.text):
                wrong.append((seen.number, shape.text, inside))
    document.close()
    assert wrong == []


def test_every_caution_and_critical_step_is_found_in_order(converted: Converted) -> None:
    """In words and order of the model, not of the deck: in the XML of the file, and in the PDF that was made of it.

    All cautions of a step stand before it; of several, one that finds no room beside the gravest comes first.
    """
    document = pypdfium2.PdfDocument(converted.pdf)
    painted = bare("".join(letter.text for page in document for letter in letters(page)))
    document.close()
    written = bare(" ".join(shape.text for seen in converted.slides for shape in seen.texts()))
    whole = procedure(converted.name, DEMONSTRATION)
    blocks = every_block(outline(whole))
    order = [([one.hazard for one in block.cautions], block) for block in blocks]
    assert {one.hazard for one in whole.cautions.values()} <= {hazard for hazards, _ in order for hazard in hazards}
    for text in (written, painted):
        at = 0
        for hazards, block in order:
            found = {words: text.find(bare(words), at) for words in hazards}
            assert -1 not in found.values(), found
            if isinstance(block, StepBlock) and block.step.critical:
                at = text.find(bare(block.step.title), max([at, *found.values()]))
                assert at >= 0, block.step.title


def test_every_figure_is_described(converted: Converted) -> None:
    with pikepdf.open(converted.pdf) as pdf:
        tree, says = tree_of(pdf), catalogue_of(pdf)
    told = [bare(node.alt) for node in tree.walk() if node.role == "Figure" and node.alt]
    wanted = [bare(slide.picture.alt) for slide in deck(converted.name, DEMONSTRATION).slides if slide.picture]
    assert says.marked
    assert [alt for alt in told if alt in wanted] == wanted
    assert not [alt for alt in told if alt.endswith((".svg", ".png"))]


def test_there_is_ink_where_words_stand(converted: Converted) -> None:
    document = pypdfium2.PdfDocument(converted.pdf)
    blank = []
    for page, seen in zip(document, converted.slides, strict=True):
        picture = page.render(scale=1).to_pil().convert("L")
        for shape in seen.texts():
            box = shape.box
            part = picture.crop((int(box.left), int(-box.top), int(box.right) + 1, int(-box.bottom) + 1))
            darkest, lightest = part.getextrema()
            if lightest - darkest < 90:
                blank.append((seen.number, shape.text))
    document.close()
    assert blank == []


def test_the_unzipped_file_names_nobody(converted: Converted, tmp_path: Path) -> None:
    whole, apart = tmp_path / "whole", tmp_path / "apart"
    whole.mkdir()
    (whole / "slides.pptx").write_bytes(converted.path.read_bytes())
    with zipfile.ZipFile(converted.path) as package:
        package.extractall(apart)
    assert sweep(library(DEMONSTRATION), whole) == ()
    assert sweep(library(DEMONSTRATION), apart) == ()


def test_the_notes_are_read_elsewhere(office: str, tmp_path: Path) -> None:
    """LibreOffice prints the notes pages behind the slides: what is said at each slide stands on its page."""
    name = "chest-drain-insertion"
    path = tmp_path / "slides.pptx"
    path.write_bytes(pptx(name, DEMONSTRATION))
    notes = 'pdf:impress_pdf_Export:{"ExportNotesPages":{"type":"boolean","value":"true"}}'
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    call = [office, profile, "--headless", "--convert-to", notes, "--outdir", str(tmp_path), str(path)]
    assert subprocess.run(call, capture_output=True, check=False).returncode == 0
    document = pypdfium2.PdfDocument(tmp_path / "slides.pdf")
    slides = deck(name, DEMONSTRATION).slides
    assert len(document) == 2 * len(slides)
    for page, slide in zip(list(document)[len(slides) :], slides, strict=True):
        told = bare(page.get_textpage().get_text_bounded())
        said = bare(slide.notes[0].text)
        assert said[:60] in told, slide.id
    document.close()

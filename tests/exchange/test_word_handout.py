"""The handout as .docx: every word of the paper in order, read by python-docx and by LibreOffice.

LibreOffice shares no code with ours: what it shows is taken as text from the PDF it makes.
"""

from __future__ import annotations

import subprocess
import zipfile
from pathlib import Path
from typing import Any

import docx
import pypdfium2
import pytest
from department import BASE, DEMO, DEMO_IDS
from needs import needs
from papers import library, renderer

from builder.compose.document import Document
from builder.outputs import OUTPUTS
from builder.publish.output import Equipment, packed
from builder.readback.comparison import bare, missing

ROW = OUTPUTS["handout-docx"]


def composed(root: Path = BASE, id: str = "example") -> Document:
    return ROW.composed(ROW.name, library(root), library(root).by_id[id], renderer(root))


def written(document: Document, folder: Path, root: Path = BASE) -> Path:
    path = folder / "handout.docx"
    ROW.format.write(Equipment(root, {}), document, path)
    return path


@pytest.fixture(scope="module")
def document() -> Document:
    return composed()


@pytest.fixture(scope="module")
def handout(document: Document, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(document, tmp_path_factory.mktemp("word"))


def test_it_keeps_all_that_the_paper_promises(document: Document, handout: Path) -> None:
    paper = OUTPUTS["handout"].composed("handout", library(), library().procedures[0], renderer())
    assert document.musts == paper.musts
    assert {must.kind for must in document.musts} >= {
        "caution",
        "caution-line",
        "step",
        "action",
        "cue",
        "figure",
        "pointer",
    }
    assert ROW.proof.read_back(document, handout).problems == ()


def test_a_word_processor_knows_headings_tables_pictures_and_the_mark(document: Document, handout: Path) -> None:
    made: Any = docx.Document(str(handout))
    headings = [one.text for one in made.paragraphs if one.style.name.startswith(("Heading", "Title"))]
    assert headings[0] == "Opening and closing the inguinal canal"
    assert any(one.startswith("1 ") for one in headings)
    assert made.tables
    assert [shape._inline.docPr.get("descr") for shape in made.inline_shapes] == [
        must.text for must in document.musts if must.kind == "figure" and must.id != "code"
    ]
    assert "Draft: not approved" in made.sections[0].header.paragraphs[0].text
    assert made.core_properties.keywords == document.keywords
    cautions = [one for one in made.paragraphs if one._p.xpath("./w:pPr/w:pBdr")]
    assert any("Tell the supervising surgeon before closing." in one.text for one in cautions)


def test_the_same_handout_gives_the_same_bytes(document: Document, handout: Path, tmp_path: Path) -> None:
    assert written(document, tmp_path).read_bytes() == handout.read_bytes()


@pytest.mark.parametrize(
    "change",
    [
        ("word/document.xml", "Tell the supervising surgeon", "Tell nobody"),
        ("word/document.xml", 'descr="', 'title="'),
        ("word/header1.xml", "Draft", "Daft"),
        ("docProps/core.xml", "edition 1.0", "edition 2.0"),
        ("word/document.xml", "</w:document>", ""),
    ],
)
def test_a_spoilt_handout_is_refused(
    change: tuple[str, str, str], document: Document, handout: Path, tmp_path: Path
) -> None:
    part, old, new = change
    with zipfile.ZipFile(handout) as package:
        members = {name: package.read(name) for name in package.namelist()}
    assert old.encode() in members[part]
    members[part] = members[part].replace(old.encode(), new.encode())
    (tmp_path / "x.docx").write_bytes(packed(members.items()))
    assert ROW.proof.read_back(document, tmp_path / "x.docx").problems


@pytest.mark.slow
@pytest.mark.parametrize("id", DEMO_IDS)
def test_libreoffice_shows_every_word_in_order(id: str, tmp_path: Path) -> None:
    document = composed(DEMO, id)
    path = written(document, tmp_path, DEMO)
    words = [
        needs("LibreOffice", "handouts in a word processor"),
        f"-env:UserInstallation={(tmp_path / 'own').as_uri()}",
    ]
    subprocess.run(
        [*words, "--headless", "--convert-to", "pdf", "--outdir", str(tmp_path), str(path)],
        check=True,
        capture_output=True,
    )
    pages = pypdfium2.PdfDocument(tmp_path / "handout.pdf")
    foot = "Teaching material: local policy"
    shown = ""
    for page in pages:
        lines = page.get_textpage().get_text_range().replace("\ufffe", "-").replace("\u0002", "-").splitlines()
        assert document.title in lines[0]
        shown += bare("".join(line for line in lines[1:] if not line.startswith(foot)))
    read = (must for must in document.musts if must.kind not in ("qr", "running", "figure"))
    assert list(missing(read, shown)) == []

"""What may be written in a text may be anything: it reaches every output as it was written, and stops none."""

from __future__ import annotations

import csv
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from department import read
from every_text import (
    HOSTILE,
    LEFT_OUT,
    LONG,
    RIGHT_TO_LEFT,
    TAG,
    HostileDepartment,
    changed,
    hostile_fields,
    strings_in,
    text_fields,
)
from lxml import etree, html
from publishing import worked_out_once

from builder.cli import main
from builder.commands.formats import FORMATS
from builder.findings.finding import Severity
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish.publish_error import PublishError

ALL = (*OUTPUTS.usual, *OUTPUTS.sessions([20]))
CARDS = tuple(name for name in ALL if name.startswith("card"))
SLIDES = tuple(name for name in ALL if name.startswith(("slides", "session")))
SHARES = {"cards": CARDS, "slides": SLIDES, "others": tuple(name for name in ALL if name not in CARDS + SLIDES)}
"""What is published at a time."""
# What no output shows, on purpose: other names only help to find an entry, a reason is for whoever runs the checks,
# facts of `needs` and `gives` are for the path analysis, what a notice says stands in a finding. Who translated and
# checked is for the department: the sheet says that it was.
NOT_SHOWN = {
    "knife", "roof of the canal", "the side is known", "The list is read in December", "It was asked for",
    "a table was wrong", "Everyone listens", "Translated by", "Checked by", "As",
}  # fmt: skip


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> HostileDepartment:
    department = HostileDepartment(tmp_path_factory.mktemp("hostile"), HOSTILE)
    department.issue()
    return department


def published(department: HostileDepartment, only: tuple[str, ...]) -> Path:
    to = department.root.parent / "public"
    publish(read(department.root)[0], to, load_templates(department.root), only=only, issue=True)
    return to


Read = tuple[set[str], list[tuple[str, str]]]
"""The tags of the texts that stand in any file of a share, and what is not as it was written."""


@pytest.fixture(scope="module")
def read_share(hostile: HostileDepartment, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Read]:
    """Publish and read a share of a hostile department, each when it is first asked for."""

    def work(share: str) -> Read:
        folder = published(hostile, SHARES[share])
        files = [path for path in folder.rglob("*") if path.is_file()]
        told = "".join("".join(texts_of(path.name, path.read_bytes())) for path in files)
        return set(TAG.findall(told)), wrong_in(folder, hostile.texts)

    return lambda share: worked_out_once(tmp_path_factory, f"share-{share}", lambda: work(share))


def test_no_text_of_the_model_is_forgotten(hostile: HostileDepartment) -> None:
    """A new text field needs a value in texts/, or a rule that says why it holds no free words."""
    left_out = set().union(*LEFT_OUT.values())
    library, findings = read(hostile.root)
    assert [one.message for one in findings if one.severity is Severity.ERROR] == []
    free = hostile_fields(library)
    assert text_fields() - left_out - free == set(), "not filled"
    assert left_out - text_fields() == set(), "left out, and there is no such field"
    assert left_out & free == set(), "left out, and filled all the same"


# Where each kind of file holds text, read by other means than the builder's own.


def texts_of(name: str, content: bytes) -> Iterator[str]:
    suffix = Path(name).suffix
    if suffix == ".html":
        tree = html.fromstring(content.decode("utf-8"))
        for data in tree.xpath("//script[@type='application/ld+json']/text()"):
            yield from strings_in(json.loads(data))
        etree.strip_elements(tree, "style", "script", with_tail=False)
        yield tree.text_content()
        yield from (value for element in tree.iter() for value in map(str, element.attrib.values()))
    elif suffix in (".xml", ".svg", ".rels"):
        tree = etree.fromstring(content)
        paragraphs = tree.xpath("//*[local-name()='p' and namespace-uri()!='']") or [tree]
        yield from ("".join(paragraph.itertext()) for paragraph in paragraphs)
        yield from (str(value) for element in tree.iter() for value in element.attrib.values())
    elif suffix in (".pptx", ".zip"):
        with zipfile.ZipFile(BytesIO(content)) as package:
            for member in package.namelist():
                yield from texts_of(member, package.read(member))
    elif suffix == ".pdf":
        yield "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(content))
        with pikepdf.open(BytesIO(content)) as pdf, pdf.open_metadata() as properties:
            yield from strings_in([*map(str, pdf.docinfo.values()), *dict(properties).values()])
    elif suffix == ".csv":
        yield from (cell for row in csv.reader(content.decode("utf-8-sig").splitlines()) for cell in row)
    elif suffix in (".json", ".js") and b"zq" in content:
        told = content.decode("utf-8").removeprefix("window.searchIndex=").rstrip().removesuffix(";")
        yield from (text for text in strings_in(json.loads(told)) if "&" in text)  # others are lists of words to search
    elif suffix in (".txt", ".conf"):
        yield content.decode("utf-8")


@pytest.mark.parametrize("share", SHARES)
def test_every_output_reads_back_as_written(share: str, read_share: Callable[[str], Read]) -> None:
    shown, wrong = read_share(share)
    assert wrong == []
    assert len(shown) > 20


def test_every_text_is_shown_somewhere(read_share: Callable[[str], Read], hostile: HostileDepartment) -> None:
    shown = set().union(*(read_share(share)[0] for share in SHARES))
    assert {hostile.leads[tag] for tag in hostile.texts.keys() - shown} == NOT_SHOWN


@pytest.mark.parametrize("form", FORMATS)
def test_findings_read_back_as_written(form: str, hostile: HostileDepartment) -> None:
    told = FORMATS[form](read(hostile.root)[1])
    assert "zq" in told
    texts = [told] if form == "text" else list(strings_in(json.loads(told)))
    assert [line for text in texts for line in changed(text, hostile.texts)] == []


def as_identifier(text: str) -> str:
    """Return ``text`` as an identifier of QTI holds it: an edition is part of each."""
    return re.sub(r"[^\w.-]", "-", text)


def wrong_in(published: Path, texts: dict[str, str]) -> list[tuple[str, str]]:
    """Return the name of each file and each text in it that is not as it was written."""
    wrong: list[tuple[str, str]] = []
    for path in sorted(one for one in published.rglob("*") if one.is_file()):
        if not path.name.startswith("card-sheet"):  # an imposed sheet has no reading order; it holds pages of the card
            told = texts_of(path.name, path.read_bytes())
            forms = (as_identifier,) if path.suffix == ".zip" else ()
            wrong += [(path.name, line) for text in told for line in changed(text, texts, *forms)]
    return wrong


def test_a_very_long_word_is_broken_and_not_lost(tmp_path: Path) -> None:
    department = HostileDepartment(tmp_path, LONG)
    papers = (
        "handout",
        "card",
        "count-sheet",
        "what-now",
        "rehearsal",
        "slides",
        "slides-pptx",
        "patient-sheet",
        "map",
    )
    assert wrong_in(published(department, ("site", *papers, "single-file")), department.texts) == []


def test_right_to_left_letters_are_shown_where_type_is_the_readers(tmp_path: Path) -> None:
    department = HostileDepartment(tmp_path, RIGHT_TO_LEFT)
    only = ("site", "single-file", "rehearsal-text", "slides-pptx", "self-test-package")
    assert wrong_in(published(department, only), department.texts) == []


def test_letters_that_our_type_lacks_stop_a_paper_whole_and_in_plain_words(tmp_path: Path) -> None:
    department = HostileDepartment(tmp_path, RIGHT_TO_LEFT)
    with pytest.raises(PublishError, match="because our type lacks one of its characters") as refused:
        published(department, ("patient-sheet",))
    assert refused.value.is_content
    assert not (tmp_path / "public").exists()


def test_the_register_of_sources_reads_back_as_written(
    hostile: HostileDepartment, capsys: pytest.CaptureFixture[str]
) -> None:
    for key in ((), ("hernia-nerve-management-2007",), ("retained-items-risk-2003",)):
        assert main(["sources", *key, "--in", str(hostile.root)]) == 0
        told = capsys.readouterr().out
        assert "zq" in told
        assert list(changed(told, hostile.texts)) == []

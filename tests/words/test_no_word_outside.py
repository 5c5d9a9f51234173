"""No output has a word of the program that is not in the catalogue.

A department whose words are all Greek letters is published in a language whose words are all accented ones, with every
proof; what the finished files then have in plain Latin letters is listed by output.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from itertools import cycle
from pathlib import Path

import pytest
from department import BASE, read
from foreign import Marked, in_greek, texts_of

from builder.compose.document import Renderer
from builder.compose.site.region.hospital import (
    CodeAnswer,
    Hospital,
    HospitalPage,
    HospitalState,
    LocalText,
    Problem,
)
from builder.compose.site.region.region_pages import Composer, search_index
from builder.load import program_words
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish, shared_copy
from builder.publish import jobs

_WORDS = re.compile(r"[A-Za-z][A-Za-z’'-]+")
# Units of doses, names of formulas, registers and programs, what reference styles say ("and" joins names in a source),
# keys of sources, addresses, codes, letters of cautions, and the department's own names of branches and ids, which are
# shown where nothing else names them.
_ELSEWHERE = re.compile(
    r"\w+\.(?:csv|xml|html|ics|conf)\b|"
    r"https?://\S+|[\w.]+\.example\.org\S*|SURGERY\.EXAMPLE\.ORG\S*|\b[0-9A-Z]{3}-[0-9A-Z]{3}-[0-9A-Z]{3}\b|doi:? ?\S+|"
    r"▲AC|\b(?:mg|mL|kg|g|h|prescrub|urn:uuid:\S+|et al|PubMed PMID|Flesch(?: Reading Ease|-Kincaid)|SMOG|Coleman-Liau|"
    r"[Ll]ocal|[Ss]pinal|with|without|drain|and|bjs|NEJMsa\d+|WeasyPrint|iCalendar|nginx|Apache|SHA-256)\b|"
    r"\b[a-z]+(?:-[a-z]+)+-\d{4}\b"
)
KNOWN = {
    "evidence.csv": "names of columns and kinds of rows are data",
    "sources.csv": "names of columns and kinds of rows are data",
    "review.csv": "names of columns and kinds of rows are data",
    "citations.bib": "names of fields",
    "citations.ris": "names of fields",
    "citations.json": "names of fields",
    "reviews.ics": "names of fields",
}
"""Files whose Latin words are those of their form, or not translated. The list may only shrink."""


NAMES = {
    ".epub": "accessMode accessibility textual visual tableOfContents structuralNavigation alternativeText none "
    "displayTransformability readingOrder description",
    ".docx": "Macintosh Microsoft Normal Title Word dotm false day days",
    ".pptx": "Answer Answers to choose from Caution Consequence Count Edition Figure Go on when How to avoid it "
    "If not Legend Line List to tick Notes Sources Standing Text Title Usual Way Why above caution the title",
    ".zip": "Package QTI QTIv ADL SCORM",
}
"""By form: values that a standard lists, names of schemas, times as the format has them in the copy to mark, and
the names by which a program lists shapes and styles to whoever edits the file. They are the same in every language.
May only shrink."""
_TAG = re.compile(r"\b[a-z]{2}-[A-Z]{2}\b")
_CONTENT = re.compile(r"content: ([^;{}]*)")
_QUOTED = re.compile(r'"([^"]*)"')


def test_style_sheets_say_no_word() -> None:
    said = {
        name: [text for value in _CONTENT.findall(style) for text in _QUOTED.findall(value) if _WORDS.search(text)]
        for name, style in load_templates(BASE).items()
        if name.endswith(".css") and not name.startswith("preview/")
    }
    assert {name: words for name, words in said.items() if words} == {}


def write_region(folder: Path, today: date, templates: Mapping[str, str]) -> None:
    """Write every page of a region in whose hospitals everything is in Greek letters, and of one that has none."""
    alpha = HospitalPage("α", "Αλφα", "1", "α.html")
    told = LocalText("α", "Αλφα", "ωσ", "", "", "βεκαυσε", "δοκυμεντ")
    answers = cycle(("Current", "Replaced: do not use this copy"))
    hospitals = [
        Hospital(f"η{number}", f"Ηοσπιταλ {number}", state, pages=(alpha,), local=(told,), since="2026-05-01",
                 codes=(CodeAnswer(f"Γ{number // 2}", "Αλφα", "1", next(answers), "γ.html"),),
                 problems=(Problem("", 0, 0, "", "φαυλτ", ""),))
        for number, state in enumerate(HospitalState)
    ]  # fmt: skip
    composer = Composer("Ρεγιον", "el", today, Renderer(templates))
    for name, members in (("full", hospitals), ("empty", [])):
        over, on = (composer.night(members, is_over=is_over) for is_over in (True, False))
        for page in (*composer.pages(members), over, replace(on, name="on.html")):
            (folder / name / page.name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name / page.name).write_text(page.text, encoding="utf-8")
    index = search_index(hospitals).partition("=")[2].rstrip(";\n")
    (folder / "places.json").write_text(index, encoding="utf-8")


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("foreign")
    library, _ = read(in_greek(BASE, folder / "department"))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(program_words, "_words_of", lambda _: Marked())
        patched.setattr(jobs, "processors", lambda: 1)  # here, where the language is
        publish(library, folder / "site", load_templates(library.root), only=OUTPUTS.usual)
        (folder / "site/committee.docx").write_bytes(shared_copy(library, library.procedures[0]))
        write_region(folder / "site/region", library.today, load_templates(library.root))
        yield folder / "site"


def _outside(path: Path) -> set[str]:
    told = (_TAG.sub(" ", _ELSEWHERE.sub(" ", text)) for text in texts_of(path))
    return {word for text in told for word in _WORDS.findall(text)} - {*NAMES.get(path.suffix, "").split()}


@pytest.mark.slow
def test_no_word_of_the_program_is_outside_the_catalogue(published: Path) -> None:
    found = defaultdict(set)
    for path in sorted(published.rglob("*")):
        name = path.relative_to(published).as_posix()
        if path.is_file() and path.name not in KNOWN and name not in KNOWN:
            found[name] |= _outside(path)
    assert {name: sorted(words) for name, words in found.items() if words} == {}


@pytest.mark.slow
def test_the_department_and_the_catalogue_are_both_there(published: Path) -> None:
    text = " ".join(texts_of(published / "example" / "index.html"))
    assert re.search("[α-ω]{4}", text)
    assert re.search("[āćďēģĥīĵķļńōŕśťūŵŷźàçèìñòù]{4}", text)

"""No output has a word of the program that is not in the catalogue.

A department whose words are all Greek letters is published in a language whose words are all accented ones, with every
proof; what the finished files then have in plain Latin letters is listed by output.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest
from department import BASE, read
from foreign import Marked, in_greek, texts_of

from builder.load import program_words
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish import jobs

_WORDS = re.compile(r"[A-Za-z][A-Za-z’'-]+")
# Units of doses, names of formulas, registers and programs, what reference styles say ("and" joins names in a source),
# addresses, codes, letters of cautions, and the department's own names of branches and ids, which are shown where
# nothing else names them.
_ELSEWHERE = re.compile(
    r"https?://\S+|[\w.]+\.example\.org\S*|SURGERY\.EXAMPLE\.ORG\S*|\b[0-9A-Z]{3}-[0-9A-Z]{3}-[0-9A-Z]{3}\b|doi:? ?\S+|"
    r"▲AC|\b(?:mg|mL|kg|g|h|prescrub|urn:uuid:\S+|et al|PubMed PMID|Flesch(?: Reading Ease|-Kincaid)|SMOG|Coleman-Liau|"
    r"[Ll]ocal|[Ss]pinal|with|without|drain|and|bjs|NEJMsa\d+|WeasyPrint|iCalendar)\b|\w+\.(?:csv|xml|html|ics)\b"
)
KNOWN = {
    "evidence.csv": "names of columns and kinds of rows are data",
    "sources.csv": "names of columns and kinds of rows are data",
    "review.csv": "names of columns and kinds of rows are data",
    "citations.bib": "names of fields",
    "citations.ris": "names of fields",
    "citations.json": "names of fields",
    "reviews.ics": "names of fields",
    "hosting/index.html": "for whoever keeps the server, with settings by their names: not translated",
}
"""Files whose Latin words are those of their form, or not translated. The list may only shrink."""


NAMES = {
    ".epub": "accessMode accessibility textual visual tableOfContents structuralNavigation alternativeText none "
    "displayTransformability readingOrder description",
    ".docx": "Macintosh Microsoft Normal Title Word dotm false",
    ".pptx": "Answer Answers to choose from Caution Consequence Count Edition Figure Go on when How to avoid it "
    "If not Legend Line List to tick Notes Sources Standing Text Title Usual Way Why above caution the title",
    ".zip": "Package QTI QTIv ADL SCORM",
}
"""By form: values that a standard lists, names of schemas, and the names by which a program lists shapes and styles to
whoever edits the file. They are the same in every language. May only shrink."""
_TAG = re.compile(r"\b[a-z]{2}-[A-Z]{2}\b")
_CONTENT = re.compile(r"content: ([^;{}]*)")
_QUOTED = re.compile(r'"([^"]*)"')
LEFT = {"example/evidence.html": ["dose", "of"]}
"""Words of the program outside the catalogue, by output: a claim is worded once, for findings too. May only shrink."""
SAID_BY_STYLE = {"site/look/site.css": ["or"]}
"""Words that a style sheet of the site says, which has no way to the catalogue. The list may only shrink."""


def test_style_sheets_say_no_word() -> None:
    said = {
        name: [text for value in _CONTENT.findall(style) for text in _QUOTED.findall(value) if _WORDS.search(text)]
        for name, style in load_templates(BASE).items()
        if name.endswith(".css") and not name.startswith("preview/")
    }
    assert {name: words for name, words in said.items() if words} == SAID_BY_STYLE


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("foreign")
    library, _ = read(in_greek(BASE, folder / "department"))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(program_words, "_words_of", lambda _: Marked())
        patched.setattr(jobs, "processors", lambda: 1)  # here, where the language is
        publish(library, folder / "site", load_templates(library.root), only=OUTPUTS.usual)
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
    assert {name: sorted(words) for name, words in found.items() if words} == LEFT


@pytest.mark.slow
def test_the_department_and_the_catalogue_are_both_there(published: Path) -> None:
    text = " ".join(texts_of(published / "example" / "index.html"))
    assert re.search("[α-ω]{4}", text)
    assert re.search("[āćďēģĥīĵķļńōŕśťūŵŷźàçèìñòù]{4}", text)

"""What holds for every paper and theatre sheet: proved, tagged, the same each time, marked as what it is."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO
from pathlib import Path

import page as page_validation
import pikepdf
import pypdfium2
import pytest
from department import BASE
from lxml import html
from papers import COMPOSERS, SHEETS, changed, document, library, pdf, proved, renderer, set_in_type, spoilt, typesetter

from builder.compose.document import Renderer
from builder.model.pages import Status
from builder.outputs import OUTPUTS
from builder.publish.output import Output
from builder.publish.paper.pdf import Typesetter

KINDS = tuple(COMPOSERS)


@pytest.mark.parametrize("kind", KINDS)
def test_the_untouched_paper_passes_every_proof(kind: str, tmp_path: Path) -> None:
    found = proved(document(kind), pdf(kind), tmp_path)
    assert found.problems == ()
    assert found.smallest_type_pt >= 7.0


@pytest.mark.parametrize("kind", KINDS)
def test_it_passes_an_independent_checker_of_pdf_ua_1(kind: str) -> None:
    """page-validation, rules of ISO 14289-1."""
    report = page_validation.validate_pdf_bytes(pdf(kind), profile="ua1")
    assert report.checks.failed == 0
    assert report.is_compliant


@pytest.mark.parametrize("kind", KINDS)
def test_two_runs_give_the_same_bytes(kind: str) -> None:
    again = COMPOSERS[kind](library(), library().procedures[0], renderer())
    assert again == document(kind)
    assert Typesetter(BASE).pdf(again) == pdf(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_no_time_of_day_is_in_the_file(kind: str) -> None:
    with pikepdf.open(BytesIO(pdf(kind))) as made:
        assert "/CreationDate" not in made.docinfo
        assert "/ModDate" not in made.docinfo


@pytest.mark.parametrize("kind", KINDS)
def test_no_line_ends_between_a_number_and_its_unit(kind: str) -> None:
    text = html.fromstring(document(kind).text).xpath("string(//body)")
    assert not re.search(r"[0-9] (?:mg|g|mL|cm|mm|h|min|%)\b", text)
    if kind == "handout":
        assert re.search(r"[0-9]\u00a0(?:mg|mL)\b", text), "the control"


def test_what_is_no_text_and_what_is_typed_in_stays_as_it_was() -> None:
    told = '<p title="4 mg">4 mg, 4 mgs, step 4 milk</p><script>4 mg</script><style>/* 4 mg */</style>'
    shown = '<p title="4 mg">4\u00a0mg, 4 mgs, step 4 milk</p><script>4 mg</script><style>/* 4 mg */</style>'
    for name, wanted in (("site/a.html.j2", shown), ("preview/a.html.j2", told), ("a.txt.j2", told)):
        assert Renderer({name: told}).render(name) == wanted


def test_the_first_page_of_a_handout_bears_its_mark_once() -> None:
    first = pypdfium2.PdfDocument(pdf("handout"))[0].get_textpage().get_text_range()
    assert first.count("Draft: not approved") == 1


@pytest.mark.parametrize("kind", SHEETS)
def test_a_sheet_has_title_language_and_one_bookmark(kind: str) -> None:
    with pikepdf.open(BytesIO(pdf(kind))) as made, made.open_outline() as bookmarks:
        assert made.Root.Lang == "en-GB"
        assert "edition 1.0" in str(made.docinfo.Title)
        assert len(bookmarks.root) == 1


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("status", "mark"),
    [(Status.DRAFT, "Draft"), (Status.IN_REVIEW, "In review"), (Status.WITHDRAWN, "Withdrawn"), (Status.APPROVED, "")],
)
def test_the_status_is_marked_on_every_page_unless_approved(
    kind: str, status: Status, mark: str, tmp_path: Path
) -> None:
    procedure = changed(library().procedures[0], status=status)
    made = COMPOSERS[kind](library(), procedure, renderer())
    running = [must.text for must in made.musts if must.kind == "running"]
    assert bool(running) == bool(mark)
    assert all(text.startswith(mark) for text in running)
    assert proved(made, set_in_type(made), tmp_path).problems == ()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("status", [Status.APPROVED, Status.IN_REVIEW])
def test_an_overdue_review_is_marked_and_the_usual_caution_stands_on_it(
    kind: str, status: Status, tmp_path: Path
) -> None:
    procedure = changed(library().procedures[0], review_by=date(2026, 9, 30), status=status)
    made = COMPOSERS[kind](library(), procedure, renderer())
    assert any(must.kind == "running" and "overdue" in must.text for must in made.musts)
    assert "local policy and the supervising clinician decide" in made.text
    assert proved(made, set_in_type(made), tmp_path).problems == ()


def test_a_card_for_which_the_type_is_too_small_says_so(tmp_path: Path) -> None:
    small = spoilt(document("card"), "</style>", ".foot { font-size: 6.5pt }</style>")
    found = proved(small, typesetter().pdf(small), tmp_path)
    assert found.smallest_type_pt == 6.5
    assert any("6.5 pt" in problem for problem in found.problems)


SHIPPED = {"Prescrub-Sans", "Prescrub-Sans-Bold", "Prescrub-Sans-Italic"}


def faces(data: bytes) -> set[str]:
    with pikepdf.open(BytesIO(data)) as made:
        fonts = [each for each in made.objects if isinstance(each, pikepdf.Dictionary) and "/BaseFont" in each]
        return {str(font.BaseFont).partition("+")[2] for font in fonts}


@pytest.mark.parametrize("kind", KINDS)
def test_only_faces_that_are_shipped_are_used(kind: str) -> None:
    """What stands in for a face that is not there, such as bold italic, follows the settings of each machine."""
    assert faces(pdf(kind)) <= SHIPPED


def test_bold_within_italic_and_italic_within_bold_is_bold() -> None:
    both = "<strong><em>Stop</em></strong>, <em><strong>lengthen</strong></em>"
    assert faces(typesetter().pdf(spoilt(document("handout"), "Stop, lengthen", both))) <= SHIPPED
    slanted = both.replace("<em>", '<em style="font-style: italic !important">')
    assert not faces(typesetter().pdf(spoilt(document("handout"), "Stop, lengthen", slanted))) <= SHIPPED, "the control"


def test_what_a_paper_sets_in_italic_is_never_bold() -> None:
    sheets = [path for path in (BASE.parents[1] / "site_templates").rglob("*.css") if path.parent.name not in SCREENS]
    text = "".join(path.read_text(encoding="utf-8") for path in sheets)
    rules = re.findall(r"[^{}]*\{[^{}]*font-style: italic[^{}]*\}", text)
    assert len(rules) > 5
    assert [rule for rule in rules if "font-weight: 400" not in rule] == []


SCREENS = {"look", "preview"}
# A translated sheet is made only where there is a translation; its words are those of the patient's sheet.
_PRINTED = [
    row
    for row in OUTPUTS.files
    if row.name not in ("self-test-package", "single-file") and "translated" not in row.name
]


@pytest.mark.parametrize("output", _PRINTED, ids=lambda row: row.name)
def test_no_paper_speaks_of_the_machine_that_made_it(output: Output) -> None:
    [name, *_] = output.documents_of(library().procedures[0])
    made = output.composed(name, library(), library().procedures[0], renderer())
    assert "Read back before publishing" not in made.text
    assert "A paper that fails" not in made.text

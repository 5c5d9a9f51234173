"""The table of outputs. A new one is a module in ``compose/``, its template, and a row here.

The order is that in which they are offered: by purpose, and what is used most first.
"""

from dataclasses import replace
from functools import partial
from typing import Any

from builder.compose.card import card, card_sheet, card_ways, phone_card
from builder.compose.evidence import evidence_index, evidence_pages
from builder.compose.handout import handout
from builder.compose.map import operation_map
from builder.compose.selftest import qti3, scorm, selftest
from builder.compose.sheets import count_sheet, patient_sheet, rehearsal, translated_sheet, what_now
from builder.compose.site import book, page, page_citation
from builder.compose.slides import LENGTHS, slides
from builder.facts.translations import sheet_languages_of
from builder.publish.output import Equipment, FileFormat, Output, Outputs, PageOutput, Proof, Shows
from builder.readback.card import phone_card as phone_card_proofs
from builder.readback.paper import pdf as pdf_proofs
from builder.readback.paper import word_handout as word_proofs
from builder.readback.selftest import package as package_proofs
from builder.readback.selftest import scorm as scorm_proofs
from builder.readback.site import book as book_proofs
from builder.readback.site import page as page_proofs
from builder.readback.slides import slides as slides_proofs
from builder.readback.text_files import RECORDS, TABLE, TEXT

_PAGE = Proof(page_proofs.NAMES, page_proofs.read_back)
_PDF = FileFormat(
    "application/pdf",
    Equipment.write_pdf,
    Proof(pdf_proofs.NAMES, pdf_proofs.read_back, pdf_proofs.ONLY_OF),
    viewable=True,
)
# Sheets that carry pages of another document are for the printer: their words are proved where they are read.
_SHEET = replace(_PDF, proof=Proof(pdf_proofs.SHEET_NAMES, pdf_proofs.read_back))
_PPTX = FileFormat(
    "application/vnd.openxmlformats-officedocument.presentationml.presentation",
    Equipment.write_slides,
    Proof(slides_proofs.NAMES, slides_proofs.read_back),
)
_TEXT = FileFormat("text/plain", Equipment.write_plain_text, TEXT)
_ZIP = FileFormat("application/zip", Equipment.write_package, Proof(package_proofs.NAMES, package_proofs.read_back))
_DOCX = FileFormat(
    "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
    Equipment.write_word_handout,
    Proof(word_proofs.NAMES, word_proofs.read_back),
)
_SCORM = FileFormat("application/zip", Equipment.write_package, Proof(scorm_proofs.NAMES, scorm_proofs.read_back))
_EPUB = FileFormat(book.MIMETYPE, Equipment.write_package, Proof(book_proofs.NAMES, book_proofs.read_back))
_PHONE_CARD = FileFormat(
    "text/html", Equipment.write_plain_text, Proof(phone_card_proofs.NAMES, phone_card_proofs.read_back)
)
_HTML = FileFormat("text/html", Equipment.write_single_file, _PAGE)

_NIGHT, _TEACHING, _POCKET = "For you, the night before", "For teaching", "For your pocket"
_THEATRE, _PATIENT, _COMMITTEE = "For theatre", "For the patient", "For the committee"
_SYSTEM, _PHONE, _SOURCES = "For a learning system", "For a phone or a share", "For a reference manager"
_WHOLE, _CARD, _SLIDES, _NOTHING = Shows.WHOLE, Shows.CARD, Shows.SLIDES, Shows.NOTHING


def _session(length: int) -> tuple[Output, ...]:
    """Return the rows of a session of ``length`` minutes."""
    plan, pages, file = (
        partial(compose, minutes=length) for compose in (slides.plan, slides.compose, slides.compose_pptx)
    )
    told: dict[str, Any] = {"shows": _SLIDES, "group": "slides", "session": length}
    part, title = f"{length}-minutes", f"Slides for {length} minutes"
    name = f"session-plan-{part}"
    return (
        Output(name, f"Plan of {length} minutes", _TEACHING, f"{name}.pdf", "PDF, A4", _PDF, plan, **told),
        Output(f"slides-{part}", title, _TEACHING, f"slides-{part}.pdf", "PDF, 16:9", _PDF, pages, **told),
        Output(
            f"slides-pptx-{part}", f"{title} to change", _TEACHING, f"slides-{part}.pptx", "PPTX", _PPTX, file, **told
        ),
    )


def _citations(form: str, name: str, media_type: str) -> Output:
    """Return the row of a page's citation and references as ``form``, which readers know by ``name``."""
    made = FileFormat(media_type, Equipment.write_plain_text, RECORDS)
    compose = partial(page_citation.compose, form=form)
    row, file = f"citations-{form}", f"citations.{form}"
    title = f"How to cite this page, with its references, as {name}"
    return Output(row, title, _SOURCES, file, f".{form}", made, compose,
                  shows=_NOTHING, group="citations")  # fmt: skip


# fmt: off
OUTPUTS = Outputs((
    PageOutput("self-test", "Self-test", _NIGHT, "self-test.html", "questions", selftest.compose, first=1),
    Output("handout", "Handout", _NIGHT, "handout.pdf", "PDF, A4", _PDF, handout.compose, shows=_WHOLE, first=4),
    Output("handout-docx", "Handout to change", _NIGHT, "handout.docx", "DOCX", _DOCX, handout.compose_word,
           shows=_WHOLE, group="handout"),
    Output("map", "Map of the operation", _NIGHT, "map.pdf", "PDF, A4", _PDF, operation_map.compose),
    Output("rehearsal", "Rehearsal script", _NIGHT, "rehearsal.pdf", "PDF, A4", _PDF, rehearsal.compose),
    Output("rehearsal-text", "Rehearsal script as text", _NIGHT, "rehearsal.txt", "text", _TEXT,
           partial(rehearsal.compose, plain=True), group="rehearsal"),
    Output("slides", "Slides", _TEACHING, "slides.pdf", "PDF, 16:9", _PDF, slides.compose, shows=_SLIDES, tab=2),
    Output("slides-pptx", "Slides to change", _TEACHING, "slides.pptx", "PPTX", _PPTX, slides.compose_pptx,
           shows=_SLIDES, group="slides"),
    *(row for length in LENGTHS for row in _session(length)),
    Output("card", "Pocket card", _POCKET, "card.pdf", "PDF, A6", _PDF, card.compose, shows=_CARD, first=2,
           tab=1, alone=True),
    Output("phone-card", "Phone card", _POCKET, "phone-card.html", "HTML, one file to keep", _PHONE_CARD,
           phone_card.compose, shows=_CARD),
    PageOutput("cards", "Print my card", _POCKET, "cards.html", "by way and side", card_ways.page,
               shows=_NOTHING, first=3),
    Output("card-sheet-fold", "Pocket card to fold", _POCKET, "card-sheet-fold.pdf", "PDF, A4", _SHEET,
           card_sheet.fold, shows=_CARD, group="card"),
    Output("card-sheet-duplex", "Pocket cards to print on both sides", _POCKET, "card-sheet-duplex.pdf", "PDF, A4",
           _SHEET, card_sheet.duplex, shows=_CARD, group="card"),
    Output("card-ways", "Pocket cards by way and side", "", "cards/{part}.pdf", "PDF, A6", _PDF, card_ways.compose,
           shows=_CARD, parts=card_ways.names_of),
    Output("what-now", "What now? sheet", _THEATRE, "what-now.pdf", "PDF, A4", _PDF, what_now.compose),
    Output("count-sheet", "Count and kit sheet", _THEATRE, "count-sheet.pdf", "PDF, A4", _PDF, count_sheet.compose),
    Output("patient-sheet", "Patient’s sheet", _PATIENT, "patient-sheet.pdf", "PDF, A4", _PDF, patient_sheet.compose),
    Output("patient-sheet-large", "Patient’s sheet in large print", _PATIENT, "patient-sheet-large.pdf", "PDF, A4",
           _PDF, partial(patient_sheet.compose, large=True), group="patient-sheet"),
    Output("patient-sheet-translated", "Patient’s sheet", _PATIENT, "patient-sheet-{part}.pdf", "PDF, A4", _PDF,
           translated_sheet.compose, parts=sheet_languages_of, group="patient-sheet"),
    Output("patient-sheet-translated-large", "Patient’s sheet in large print", _PATIENT,
           "patient-sheet-large-{part}.pdf", "PDF, A4", _PDF, partial(translated_sheet.compose, large=True),
           parts=sheet_languages_of, group="patient-sheet"),
    PageOutput("evidence", "Evidence table", _COMMITTEE, "evidence.html", "page and CSV", evidence_pages.compose,
               shows=_NOTHING),
    Output("self-test-package", "Self-test as a package", _SYSTEM, "self-test-qti.zip", "QTI 2.1", _ZIP,
           selftest.package),
    Output("self-test-qti3", "Self-test as a newer package", _SYSTEM, "self-test-qti3.zip", "QTI 3.0", _ZIP,
           qti3.compose, group="self-test-package"),
    Output("self-test-scorm", "Self-test that keeps marks", _SYSTEM, "self-test-scorm.zip", "SCORM 1.2", _SCORM,
           scorm.compose),
    Output("single-file", "This page in one file", _PHONE, "{id}.html", "HTML", _HTML, page.single_file, shows=_WHOLE),
    Output("book", "This page as an e-book", _PHONE, "{id}.epub", "EPUB 3", _EPUB, book.compose, shows=_WHOLE),
    _citations("bib", "BibTeX", "application/x-bibtex"),
    _citations("ris", "RIS", "application/x-research-info-systems"),
    _citations("json", "CSL-JSON", "application/vnd.citationstyles.csl+json"),
    # The page sees what all others made, so it comes last.
    PageOutput("page", "Page", "", "index.html", "", page.compose, shows=_WHOLE),
    PageOutput("evidence-table", "Evidence table as CSV", "", "evidence.csv", "CSV", evidence_index.compose,
               shows=_NOTHING),
), of_pages=_PAGE, of_tables=TABLE)
# fmt: on

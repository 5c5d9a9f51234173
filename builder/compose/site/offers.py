"""What a procedure's page offers beside itself: papers, the self-test, the page as one file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.compose.document import Document
from builder.compose.sessions.session import LENGTHS


@dataclass(frozen=True, slots=True)
class Offer:
    """A file that is offered: its address, its name, and its form."""

    href: str
    label: str
    form: str


@dataclass(frozen=True, slots=True)
class Shelf:
    """Offers for one purpose."""

    name: str
    offers: tuple[Offer, ...]


# What is wanted in a hurry, on the first page and at the head of a procedure.
FIRST = ("self-test.html", "card.pdf", "cards.html", "handout.pdf")
# By purpose: the name of the file inside the procedure's folder, what it is called, and its form.
SHELVES: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = (
    (
        "For you, the night before",
        (
            ("self-test.html", "Self-test", "questions"),
            ("handout.pdf", "Handout", "PDF, A4"),
            ("rehearsal.pdf", "Rehearsal script", "PDF, A4"),
            ("rehearsal.txt", "Rehearsal script as text", "text"),
        ),
    ),
    (
        "For teaching",
        (
            ("slides.pdf", "Slides", "PDF, 16:9"),
            ("slides.pptx", "Slides to change", "PPTX"),
            *(
                row
                for minutes in LENGTHS
                for row in (
                    (f"session-plan-{minutes}-minutes.pdf", f"Plan of {minutes} minutes", "PDF, A4"),
                    (f"slides-{minutes}-minutes.pdf", f"Slides for {minutes} minutes", "PDF, 16:9"),
                    (f"slides-{minutes}-minutes.pptx", f"Slides for {minutes} minutes to change", "PPTX"),
                )
            ),
        ),
    ),
    (
        "For your pocket",
        (
            ("card.pdf", "Pocket card", "PDF, A6"),
            ("cards.html", "Print my card", "by way and side"),
            ("card-sheet-fold.pdf", "Pocket cards to cut and fold", "PDF, A4"),
            ("card-sheet-duplex.pdf", "Pocket cards to print on both sides", "PDF, A4"),
            ("card-sheet-booklet.pdf", "Booklet to fold", "PDF, A4"),
        ),
    ),
    (
        "For theatre",
        (
            ("what-now.pdf", "What now? sheet", "PDF, A4"),
            ("count-sheet.pdf", "Count and kit sheet", "PDF, A4"),
        ),
    ),
    (
        "For the patient",
        (
            ("patient-sheet.pdf", "Patient’s sheet", "PDF, A4"),
            ("patient-sheet-large.pdf", "Patient’s sheet in large print", "PDF, A4"),
        ),
    ),
    (
        "For the committee",
        (("evidence.html", "Evidence table", "page and CSV"),),
    ),
    (
        "For a learning system",
        (("self-test-qti.zip", "Self-test as a package", "QTI 2.1"),),
    ),
    (
        "For a phone or a share",
        (("single-file", "This page in one file", "HTML"),),
    ),
)


def shelves_of(documents: Iterable[Document], folder: str = "") -> tuple[Shelf, ...]:
    """Return what a page in ``folder`` offers of ``documents``, by purpose. Empty shelves are left out."""
    names = {_file(one): one.name.removeprefix(folder) for one in documents if one.explained.get("questions") != 0}
    found = (
        Shelf(name, tuple(Offer(names[file], label, form) for file, label, form in rows if file in names))
        for name, rows in SHELVES
    )
    return tuple(shelf for shelf in found if shelf.offers)


def first_of(documents: Iterable[Document], folder: str = "") -> tuple[Offer, ...]:
    """Return the few offers that are wanted in a hurry."""
    wanted = [one for one in documents if _file(one) in FIRST]
    offers = {offer.href: offer for shelf in shelves_of(wanted, folder) for offer in shelf.offers}
    return tuple(
        offers[one.name.removeprefix(folder)] for one in sorted(wanted, key=lambda one: FIRST.index(_file(one)))
    )


def _file(document: Document) -> str:
    """Return the path in the procedure's folder; a single file bears the procedure's name."""
    return "single-file" if document.kind == "single-file" else document.name.partition("/")[2]

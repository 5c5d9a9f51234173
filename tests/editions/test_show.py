"""Each QR code on paper, printed in grey at 300 dpi, leads to its status page in the built site."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from urllib.parse import urlsplit

import papers
import pypdfium2
import pytest
import zxingcpp
from department import DEMO
from house import House

from builder.compose.code_mark import mark_of
from builder.model.library import Library
from builder.outputs import OUTPUTS

DPI = 300


def scanned(path: Path) -> Iterator[tuple[int, str]]:
    """Page and text of each QR code that another program reads from the pages as a mono printer prints them."""
    pdf = pypdfium2.PdfDocument(path)
    try:
        for number, page in enumerate(pdf, start=1):
            picture = page.render(scale=DPI / 72, grayscale=True).to_pil()
            assert picture.mode == "L"
            yield from ((number, found.text) for found in zxingcpp.read_barcodes(picture))
    finally:
        pdf.close()


def page_of(site: Path, address: str, department: str) -> Path:
    """The file that a server of ``site`` shows at ``address``."""
    parts, home = urlsplit(address), urlsplit(department)
    assert (parts.scheme, parts.netloc.lower()) == (home.scheme, home.netloc.lower())
    start = home.path.rstrip("/") + "/"
    assert parts.path.startswith(start)
    return site / parts.path.removeprefix(start) / "index.html"


def prove(library: Library, site: Path) -> int:
    """Look at every card, sheet of cards and handout; return how many codes were read."""
    count = 0
    for procedure in library.procedures:
        mark = mark_of(library, procedure)
        for path in sorted((site / procedure.id).glob("*.pdf")):
            wanted = {"card": 1, "handout": 1}.get(path.stem)
            if wanted is None and not path.stem.startswith("card"):
                continue
            found = list(scanned(path))
            assert found, f"{path.name} bears no code"
            assert wanted is None or len(found) == wanted, (path.name, found)
            for _, text in found:
                count += 1
                assert text == mark.address
                page = page_of(site, text, str(library.department.site))
                shown = page.read_text()
                assert mark.code in shown
                assert str(procedure.title) in shown
    return count


def test_each_code_on_paper_leads_to_its_status_page(house: House) -> None:
    house.approve()
    outputs = tuple(name for name in OUTPUTS.usual if name in ("site", "handout") or name.startswith("card"))
    house.publish(issue=True, only=outputs)
    library, _ = house.read()
    assert prove(library, house.to) >= 2
    assert "Current" in house.page(f"C/{house.code()}/index.html")


def test_an_issued_paper_says_nothing_of_not_issued_and_another_does(house: House) -> None:
    house.approve()
    for issue, said in ((False, True), (True, False)):
        house.publish(issue=issue, only=("site", "card"))
        pdf = pypdfium2.PdfDocument(house.to / "example/card.pdf")
        words = "".join(page.get_textpage().get_text_range() for page in pdf)
        pdf.close()
        assert ("not" in words.split(house.code())[1][:14]) is said


@pytest.mark.slow
def test_each_code_of_the_demonstration_leads_to_its_status_page(whole_demo: Path) -> None:
    library = papers.library(DEMO)
    assert prove(library, whole_demo) >= 2 * len(library.procedures) >= 8


@pytest.mark.slow
def test_an_overdue_review_is_marked_on_every_page_of_every_output(house: House) -> None:
    house.approve()
    house.publish(date(2028, 6, 15), only=OUTPUTS.usual)
    words = re.compile("review overdue|review was due|review is overdue", re.IGNORECASE)
    seen = 0
    for path in sorted((house.to / "example").iterdir()):
        if path.suffix == ".pdf":
            pdf = pypdfium2.PdfDocument(path)
            for number, page in enumerate(pdf, start=1):
                assert words.search(page.get_textpage().get_text_range()), f"{path.name}, page {number}"
            pdf.close()
        elif path.suffix in (".html", ".txt"):
            assert words.search(path.read_text()), path.name
        else:
            continue  # data for other programs, and figures
        seen += 1
    assert seen >= 10

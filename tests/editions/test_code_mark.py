"""The code: read aloud, copied by hand, typed into a browser, scanned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from urllib.parse import urlsplit

import pytest
import segno
import zxingcpp
from department import read
from house import House
from papers import BASE, document, pdf, proved, renderer, typesetter
from PIL import Image, ImageDraw
from stdnum.iso7064 import mod_11_10, mod_37_36

from builder.compose.card import card
from builder.compose.code_mark import FOLDER, LEAST_MODULE_MM, MODULE_MM, QR, QUIET, address_of, mark_of, matrix_of
from builder.compose.document import Document
from builder.compose.handout import handout
from builder.model.edition import ALPHABET, code_of

CODES = [code_of("example", f"{number}.0", ()) for number in range(300)]
SITES = (
    "https://surgery.example.org/",
    "https://intranet.example.nhs.uk/dept/surgery",
    "http://10.0.0.7:8080/",
    "https://a.example",
)


# Written down and read aloud


def test_no_sign_is_taken_for_another() -> None:
    """Common practice for codes that people copy: one of each group of look-alikes at most, and no vowels."""
    for alike in ("0OQ", "1IL", "2Z", "5S", "6G", "8B", "UV"):
        assert len(set(alike) & set(ALPHABET)) <= 1, alike
    assert not set("AEIOU") & set(ALPHABET)
    assert len(set(ALPHABET)) == len(ALPHABET) == 22


def test_the_check_sign_is_that_of_the_standard() -> None:
    """The same algorithm gives the published examples of MOD 11,10 and MOD 37,36.

    ISO/IEC 7064 works out 0794 with check digit 5 for MOD 11,10 (example from memory).
    """
    assert mod_11_10.calc_check_digit("0794") == "5"
    assert mod_37_36.calc_check_digit("0794", "0123456789") == "5"


def changed_signs(signs: str) -> Iterator[str]:
    for at, old in enumerate(signs):
        yield from (signs[:at] + new + signs[at + 1 :] for new in ALPHABET if new != old)


def swapped_signs(signs: str) -> Iterator[str]:
    for at in range(len(signs) - 1):
        if signs[at] != signs[at + 1]:
            yield signs[:at] + signs[at + 1] + signs[at] + signs[at + 2 :]


def is_code(text: str) -> bool:
    """Tell by the check character whether ``text`` is a code, as the reader of a card would."""
    return bool(mod_37_36.is_valid(text.replace("-", ""), ALPHABET))


def test_every_single_slip_of_the_pen_is_noticed() -> None:
    for code in CODES[:60]:
        assert is_code(code)
        assert not any(is_code(other) for other in changed_signs(code.replace("-", "")))


def test_swapped_neighbours_are_noticed_with_hardly_an_exception() -> None:
    swapped = [other for code in CODES for other in swapped_signs(code.replace("-", ""))]
    assert sum(is_code(other) for other in swapped) / len(swapped) < 0.01


# The symbol


@pytest.mark.parametrize("site", SITES)
def test_the_drawn_symbol_is_read_by_another_program(site: str) -> None:
    address = address_of(site, CODES[0])
    matrix = matrix_of(address)
    picture = Image.new("L", ((len(matrix) + 8) * 4,) * 2, 255)
    draw = ImageDraw.Draw(picture)
    for y, row in enumerate(matrix):
        for x, dark in enumerate(row):
            if dark:
                draw.rectangle(((x + 4) * 4, (y + 4) * 4, (x + 4) * 4 + 3, (y + 4) * 4 + 3), 0)
    (found,) = zxingcpp.read_barcodes(picture)
    assert (found.text, found.ec_level) == (address, "M")
    parts, wanted = urlsplit(address), urlsplit(site)
    assert (parts.scheme, parts.netloc.lower()) == (wanted.scheme, wanted.netloc)  # urlsplit makes the scheme small
    assert parts.path == f"{wanted.path.rstrip('/')}/{FOLDER}/{CODES[0]}/"


@pytest.mark.parametrize("site", SITES)
def test_capitals_never_make_the_symbol_larger(site: str) -> None:
    plain = segno.make(f"{site.rstrip('/')}/{FOLDER}/{CODES[0]}/", error="m", micro=False, boost_error=False)
    assert len(matrix_of(address_of(site, CODES[0]))) <= plain.symbol_size(border=0)[0]


def test_a_module_is_wide_enough() -> None:
    assert MODULE_MM >= LEAST_MODULE_MM >= 0.4


def test_without_a_site_there_is_a_code_and_no_symbol(house: House) -> None:
    path = house.root / "content/department.md"
    path.write_text(path.read_text().replace("site: https://surgery.example.org/\n", ""))
    library, _ = house.read()
    mark = mark_of(library, library.procedures[0])
    assert is_code(mark.code)
    assert (mark.address, mark.image) == ("", "")
    for compose in (card.compose, handout.compose):
        made = compose(library, library.procedures[0], renderer())
        assert mark.code in made.text
        assert '<img alt="QR' not in made.text
        assert proved(made, typesetter().pdf(made), house.root).problems == ()


# On paper


def spoilt(kind: str, rules: str) -> Document:
    made = document(kind)
    return replace(made, text=made.text.replace("</style>", f"{rules}</style>"))


_PATCH = "content: ''; position: absolute; left: 5mm; top: 5mm; width: 5mm; height: 5mm; background: #fff"
SPOILT = [
    ("something stands in the quiet zone", ".qr img { margin: -1.6mm } .qr { border: 1pt solid #000 }", "quiet zone"),
    ("it is cut close and framed", ".qr { background: #000 } ", "quiet zone"),
    ("text runs into it", ".qr::before { content: '■■■' } .qr img { margin: -3mm 0 0 2mm }", "quiet zone"),
    ("it is too small", ".qr img { width: 12mm !important; height: 12mm !important }", "modules of 0.3"),
    ("it is squeezed", ".qr img { height: 12mm !important; object-fit: fill }", ""),
    ("it is off the paper", ".qr { position: relative; left: 40mm }", ""),
    ("it is hidden", ".qr img { visibility: hidden }", "painted 0 times"),
    ("it is pale", ".qr img { opacity: 0.3 }", "modules are wrong"),
    ("it is covered", f".qr {{ position: relative }} .qr::after {{ {_PATCH} }}", "modules are wrong"),
]  # fmt: skip


@pytest.mark.parametrize("kind", ["card", "handout"])
@pytest.mark.parametrize(("what", "rules", "said"), SPOILT, ids=[one[0] for one in SPOILT])
def test_a_spoilt_symbol_fails_the_proof(kind: str, what: str, rules: str, said: str, tmp_path: object) -> None:
    made = spoilt(kind, rules)
    problems = proved(made, typesetter().pdf(made), tmp_path).problems
    assert any("QR code" in problem and said in problem for problem in problems), (what, problems)


@pytest.mark.parametrize("kind", ["card", "handout"])
def test_an_unspoilt_symbol_passes(kind: str, tmp_path: object) -> None:
    assert [one.kind for one in document(kind).musts].count(QR) == 1
    assert proved(document(kind), pdf(kind), tmp_path).problems == ()


@pytest.mark.parametrize("kind", ["card", "handout"])
def test_the_code_of_another_address_fails_the_proof(kind: str, tmp_path: object) -> None:
    """The symbol on paper must be that of this edition: another one with the same words beside it is noticed."""
    made = document(kind)
    code = mark_of(*_first()).code
    other = next(one for one in CODES if one != code)
    wrong = replace(made, text=made.text.replace(f'src="code:{_address(code)}"', f'src="code:{_address(other)}"'))
    assert wrong.text != made.text
    problems = proved(made, typesetter().pdf(wrong), tmp_path).problems
    assert any("modules are wrong" in problem for problem in problems), problems


def _first() -> tuple[object, object]:
    library, _ = read(BASE)
    return library, library.procedures[0]


def _address(code: str) -> str:
    return address_of("https://surgery.example.org/", code)


def test_quiet_zone_is_that_of_the_standard() -> None:
    assert QUIET == 4  # ISO/IEC 18004: four modules on every side

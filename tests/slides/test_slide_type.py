"""Words are measured as wide as either type sets them, and lines are counted as a program that breaks them would."""

from __future__ import annotations

from math import ceil
from pathlib import Path
from subprocess import run

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st
from needs import needs

from builder.compose.slides.slide_text import WIDTHS, lines_of, sentences, width_of, words_in

FONTS = Path(__file__).parents[2] / "site_templates" / "fonts"
FACES = {False: ("PrescrubSans-Regular.ttf", "Regular"), True: ("PrescrubSans-Bold.ttf", "Bold")}
# Adobe, Helvetica and Helvetica-Bold, core font metrics (AFM 4.1): Arial was drawn to these widths. From memory.
HELVETICA = {"A": 667, "a": 556, "i": 222, "m": 833, "W": 944, " ": 278, "0": 556, ".": 278}
HELVETICA_BOLD = {"A": 722, "a": 556, "i": 278, "m": 889, "W": 944, " ": 278, "0": 556, ".": 278}


def widths(path: Path) -> dict[str, int]:
    font = TTFont(path)
    unit = font["head"].unitsPerEm
    return {chr(code): ceil(1000 * font["hmtx"][name][0] / unit) for code, name in font.getBestCmap().items()}


@pytest.mark.parametrize("bold", [False, True])
def test_no_letter_is_wider_than_measured(bold: bool) -> None:
    """Against the files that the PDF is set with."""
    measured = WIDTHS[bold]
    for sign, width in widths(FONTS / FACES[bold][0]).items():
        assert measured.get(sign, 0) >= width, sign


@pytest.mark.parametrize(("bold", "published"), [(False, HELVETICA), (True, HELVETICA_BOLD)])
def test_no_letter_of_the_stock_type_is_wider(bold: bool, published: dict[str, int]) -> None:
    measured = WIDTHS[bold]
    assert all(measured[sign] >= width for sign, width in published.items())


@pytest.mark.parametrize("bold", [False, True])
def test_the_table_is_that_of_the_fonts(bold: bool) -> None:
    """Against Liberation Sans, where it is installed: every width is that of one of both fonts, rounded up."""
    needs("Liberation Sans", "widths of letters on slides")
    found = run(
        ["fc-match", "-f", "%{file}", f"Liberation Sans:style={FACES[bold][1]}"], capture_output=True, check=True
    )
    path = Path(found.stdout.decode())
    own, other = widths(FONTS / FACES[bold][0]), widths(path)
    wider = {sign: max(width, other.get(sign, 0)) for sign, width in own.items()}
    assert {sign: width for sign, width in wider.items() if width} == WIDTHS[bold]


def test_a_line_is_counted_as_it_is_broken() -> None:
    word = "nerve"
    room = width_of("nerve nerve nerve", 24) / 0.98
    assert lines_of(" ".join([word] * 3), 24, room) == 1
    assert lines_of(" ".join([word] * 4), 24, room) == 2
    assert lines_of(" ".join([word] * 7), 24, room) == 3


def test_a_word_longer_than_a_line_takes_more_than_one() -> None:
    assert lines_of("n" * 100, 24, width_of("n" * 40, 24)) >= 3


@given(st.text(alphabet="abcnm il.,", max_size=120), st.floats(100, 900))
def test_larger_type_never_takes_fewer_lines(text: str, width: float) -> None:
    assert lines_of(text, 24, width) <= lines_of(text, 28, width) <= lines_of(text, 28, width, bold=True) + 1


def test_sentences_and_words() -> None:
    assert sentences("Stop. Do not drape. Call!") == ["Stop.", "Do not drape.", "Call!"]
    assert words_in("10 × swabs - and 2 needles") == 5

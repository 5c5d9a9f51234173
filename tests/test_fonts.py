"""The type that is shipped can draw all that the outputs use, and keeps apart what must not be mistaken."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import pypdfium2
import pytest
import weasyprint
from fontTools.ttLib import TTFont
from PIL import Image, ImageChops

FONTS = Path(__file__).parent.parent / "site_templates" / "fonts"
FACES = ("Regular", "Italic", "Bold")
SIGNS = "→←↑↓↳↔≤≥×−±°µμ½¼¾“”‘’–—…•·§†‡✓✗□■▲△⚠●≈≠√²³¹⁄‰™®©€£№"
LETTERS = "".join(chr(point) for point in (*range(0x20, 0x7F), *range(0xA1, 0x180)) if point not in {0xAD, 0x149})
ABSENT = "☐☑✔►"

# Web pages must open quickly from a file share: the limit set for one file.
WEB_LIMIT_BYTES = 60_000


@pytest.fixture(params=FACES)
def face(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def _path(face: str, suffix: str) -> Path:
    return FONTS / f"PrescrubSans-{face}{suffix}"


@cache
def _characters(path: Path) -> set[int]:
    with TTFont(path) as font:
        return set(font.getBestCmap())


def _set(body: str, face: str = "Regular", more: str = "") -> pypdfium2.PdfDocument:
    """A PDF whose only type is the given face: a sign that it lacks has nothing else to come from."""
    html = f"""<html lang="en"><head><title>type</title><style>
        @font-face {{ font-family: Prescrub; src: url({_path(face, ".ttf").as_uri()}) }}
        @page {{ size: 150mm 100mm; margin: 5mm }}
        body {{ font: 12pt Prescrub; {more} }}
        </style></head><body>{body}</body></html>"""
    return pypdfium2.PdfDocument(io.BytesIO(weasyprint.HTML(string=html).write_pdf()))


def _fonts_in(document: pypdfium2.PdfDocument) -> set[str]:
    names = set()
    for item in document[0].get_objects():
        if isinstance(item, pypdfium2.PdfTextObj):
            names.add(item.get_font().get_base_name())
    return names


def _picture(text: str, more: str = "") -> Image.Image:
    page = _set(f"<p>{text}</p>", more=more)[0]
    return page.render(scale=300 / 72).to_pil().convert("L")


def _ink_apart(one: str, other: str, more: str = "font-size: 7pt") -> int:
    """How many pixels of a 300 dpi print differ clearly between two characters."""
    apart = ImageChops.difference(_picture(one, more), _picture(other, more))
    return sum(count for level, count in enumerate(apart.histogram()) if level > 127)


def test_every_sign_and_letter_is_there(face: str) -> None:
    missing = {chr(point) for point in map(ord, SIGNS + LETTERS) if point not in _characters(_path(face, ".ttf"))}
    assert missing == set()


def test_what_the_readme_calls_missing_is_missing(face: str) -> None:
    assert not _characters(_path(face, ".ttf")) & set(map(ord, ABSENT))


def test_paper_and_screen_have_the_same_characters(face: str) -> None:
    assert _characters(_path(face, ".ttf")) == _characters(_path(face, ".woff2"))


def test_web_files_are_small(face: str) -> None:
    assert _path(face, ".woff2").stat().st_size < WEB_LIMIT_BYTES


def test_signs_are_drawn_in_this_type_and_read_back_as_written(face: str, caplog: pytest.LogCaptureFixture) -> None:
    document = _set(f"<p>{' '.join(SIGNS)}</p>", face)
    assert ".notdef" not in caplog.text
    assert all("Prescrub" in name for name in _fonts_in(document))
    read = "".join(document[0].get_textpage().get_text_range().split())
    assert read == SIGNS


def test_a_sign_that_is_missing_would_be_noticed(caplog: pytest.LogCaptureFixture) -> None:
    """The control for the test above; where no font of the machine has the sign, the typesetter says so."""
    assert "☐" not in {chr(point) for point in _characters(_path("Regular", ".ttf"))}
    document = _set("<p>□ ☐</p>")
    read = "".join(document[0].get_textpage().get_text_range().split())
    is_drawn_otherwise = read != "□☐" or any("Prescrub" not in name for name in _fonts_in(document))
    assert is_drawn_otherwise or ".notdef glyph rendered" in caplog.text


@pytest.mark.parametrize("pair", ["l1", "lI", "I1", "O0", "8B", "5S", "68", "98", "Z2"])
def test_look_alikes_differ_in_7_pt_print(pair: str) -> None:
    assert _ink_apart(pair[0], pair[1]) > 30
    assert _ink_apart(pair[0], pair[0]) == 0


def test_nothing_written_is_turned_into_another_sign() -> None:
    """Inter's contextual feature, were it left in, would draw an arrow and a multiplication sign here."""
    written = "-&gt; 2x3"
    assert _ink_apart(written, "→ 2×3") > 0
    without = _picture(written, "font-feature-settings: 'calt' 0")
    assert ImageChops.difference(_picture(written), without).getbbox() is None


def test_figures_in_a_column_have_one_width(face: str) -> None:
    with TTFont(_path(face, ".ttf")) as font:
        substitutions = font["GSUB"].table
        for record in substitutions.FeatureList.FeatureRecord:
            if record.FeatureTag == "tnum":
                (lookup,) = record.Feature.LookupListIndex
                table = substitutions.LookupList.Lookup[lookup].SubTable[0]
                mapping = getattr(table, "ExtSubTable", table).mapping
                names = [font.getBestCmap()[ord(figure)] for figure in "0123456789"]
                widths = {font["hmtx"][mapping[name]][0] for name in names}
                assert len(widths) == 1
                return
    pytest.fail("no tabular figures")


def test_the_licence_lies_beside_and_reserves_no_name() -> None:
    licence = (FONTS / "OFL.txt").read_text("utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    heading = licence.split("-----")[0]
    assert "The Inter Project Authors" in heading
    assert "Reserved Font Name" not in heading


def test_the_files_keep_the_copyright_and_licence_of_the_original(face: str) -> None:
    with TTFont(_path(face, ".ttf")) as font:
        names = {record.nameID: str(record) for record in font["name"].names}
    assert "The Inter Project Authors" in names[0]
    assert "SIL Open Font License" in names[13]
    assert names[1] == "Prescrub Sans"

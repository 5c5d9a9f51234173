"""What cannot be set on paper is told by check at its place: a publish after a clean check does not end on it."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import lay, new_base, read
from fontTools.ttLib import TTFont

from builder.facts.deceiving import not_in_type

FONTS = Path(__file__).parents[2] / "site_templates/fonts"
STEP = "content/procedures/example/steps/cut-skin.md"
SIGNS = set(TTFont(FONTS / "PrescrubSigns.ttf").getBestCmap())
FACES = [set(TTFont(FONTS / f"PrescrubSans-{face}.ttf").getBestCmap()) for face in ("Regular", "Italic", "Bold")]


def test_the_table_of_characters_is_that_of_all_three_faces() -> None:
    faces_of_people = range(0x1F600, 0x1F650)  # a block of which each character has Emoji_Presentation (UTS 51)
    everywhere = set.intersection(*FACES) | SIGNS.intersection(faces_of_people)
    signs = [
        chr(code) for code in (*range(0x80, 0x3000), *faces_of_people) if chr(code).isprintable() or code in everywhere
    ]
    told = {sign for sign in signs if [*not_in_type(f"a{sign}a")]}
    assert not told & set(map(chr, everywhere))
    assert {sign for sign in signs if ord(sign) in faces_of_people and ord(sign) not in SIGNS} <= told
    assert {"\u2610", "\u2160", "\u2460", "\u2640"} <= told


def test_the_letters_of_right_to_left_sheets_are_those_of_both_their_faces() -> None:
    faces = [set(TTFont(FONTS / f"PrescrubArabic-{face}.ttf").getBestCmap()) for face in ("Regular", "Bold")]
    block = [chr(code) for code in range(0x600, 0x700) if chr(code).isprintable()]
    told = {sign for sign in block if [*not_in_type(f"نص {sign}", arabic=True)]}
    assert told == {sign for sign in block if ord(sign) not in set.intersection(*faces)}
    assert "٣" in told  # a number is set in the digits that were written for everybody
    assert [*not_in_type("نص")]


@pytest.mark.parametrize("text", ["神经", "🙂 ", "☐ done", "♀", "Stage Ⅳ", "①", "عصب", "ประสาท"])
def test_a_character_that_is_in_no_face_is_told(text: str) -> None:
    assert [*not_in_type(f"See {text} now.")]


@pytest.mark.parametrize(
    "text",
    ["α-fibre", "≤ 5 mm", "2 ‰ of 5 × 6 cm at 30°", "Łódź", "SpO₂", "5\u00a0mg", "✓", "→", "⅔ n\u0308", "µg Ω €"],
)
def test_what_is_written_in_a_theatre_is_set(text: str) -> None:
    assert not [*not_in_type(text)]


def told(folder: Path, prose: str) -> set[str]:
    root = new_base(folder)
    text = (root / STEP).read_text(encoding="utf-8")
    lay(root, {STEP: f"{text.rstrip()}\n\n{prose}\n"})
    return {found.name for found in read(root)[1] if found.at.file == STEP}


@pytest.mark.parametrize(
    ("prose", "name"),
    [
        ("See [this](//example.com/x).", "link-unclear"),
        ("See [this](../other.md).", "link-unclear"),
        ("See [this](#nowhere).", "link-unclear"),
        ("See [this][x].\n\n[x]: //example.com", "link-unclear"),
        ("![The canal](canal.png)", "prose-not-shown"),
        ("Look at the 神经 first.", "character-not-in-type"),
    ],
)
def test_what_a_publish_would_refuse_is_told(prose: str, name: str, tmp_path: Path) -> None:
    assert name in told(tmp_path, prose)


@pytest.mark.parametrize(
    "prose",
    [
        "See [this](https://example.com/x) or [write](mailto:a@example.org).",
        "See [x][y] and [this] and [that](step:open-canal).\n\n[y]: https://example.com",
        "Say `clear` aloud.",
        "##### A small heading\n\nLook again.",
    ],
)
def test_what_is_set_is_not_told(prose: str, tmp_path: Path) -> None:
    assert not told(tmp_path, prose) & {"link-unclear", "character-not-in-type"}


def test_what_is_published_is_not_asked_of_notes(tmp_path: Path) -> None:
    root = lay(new_base(tmp_path), {"content/procedures/example/notes.md": "Ask ① again.\n"})
    assert "character-not-in-type" not in {found.name for found in read(root)[1]}

"""What cannot be set on paper is told by check at its place: a publish after a clean check does not end on it."""

from __future__ import annotations

from pathlib import Path

import pytest
from department import lay, new_base, read
from fontTools.ttLib import TTFont
from publishing import publish_all

from builder.facts.deceiving import not_in_type
from builder.findings.finding import Severity

FONTS = Path(__file__).parents[2] / "site_templates/fonts"
EXAMPLE = "content/procedures/example"
STEP = f"{EXAMPLE}/steps/cut-skin.md"
LONG = "thyroparathyroidectomisedthyro"
"""As many letters as a word may have."""
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


def with_prose(root: Path, prose: str) -> Path:
    text = (root / STEP).read_text(encoding="utf-8")
    return lay(root, {STEP: f"{text.rstrip()}\n\n{prose}\n"})


def told(root: Path) -> set[tuple[str, str]]:
    return {(str(found.at).removeprefix(f"{EXAMPLE}/"), found.name) for found in read(root)[1]}


@pytest.mark.parametrize(
    ("prose", "place", "name"),
    [
        ("See [this](//example.com/x).", "18:12", "link-unclear"),
        ("See [this](../other.md).", "18:12", "link-unclear"),
        ("See [this](#nowhere).", "18:12", "link-unclear"),
        ("See [this][x].\n\n[x]: //example.com", "20:6", "link-unclear"),
        ("![The canal](canal.png)", "18:1", "prose-not-shown"),
        ("Look at the 神经 first.", "18:13", "character-not-in-type"),
        ("Look at `神经` first.", "18:10", "character-not-in-type"),
        (f"Look at the {LONG}s.", "18:13", "word-too-long"),
        (f"Look at the `{LONG}s`.", "18:14", "word-too-long"),
        (f"See this table.\n\n| A |\n|---|\n| {LONG}s |", "22:3", "word-too-long"),
    ],
)
def test_prose_that_a_publish_would_refuse_is_told_at_its_place(prose: str, place: str, name: str, base: Path) -> None:
    assert told(with_prose(base, prose)) == {(f"steps/cut-skin.md:{place}", name)}


@pytest.mark.parametrize(
    ("old", "new", "place", "name"),
    [
        ("</svg>", "", "7:1", "drawing-unusable"),
        ("</svg>", "<foreignObject><p>Cut here</p></foreignObject></svg>", "6:1", "drawing-loses-something"),
        ("</svg>", "<text>神</text></svg>", "6:7", "character-not-in-type"),
    ],
)
def test_a_drawing_that_a_publish_would_refuse_is_told_at_its_line(
    old: str, new: str, place: str, name: str, base: Path
) -> None:
    drawing = f"{EXAMPLE}/figures/canal.svg"
    lay(base, {drawing: (base / drawing).read_text("utf-8").replace(old, new)})
    assert told(base) == {(f"figures/canal.svg:{place}", name)}


def test_a_corrupt_picture_is_told(base: Path) -> None:
    step = f"{EXAMPLE}/steps/open-canal.md"
    lay(base, {step: (base / step).read_text("utf-8").replace("canal.svg", "canal.png")})
    (base / EXAMPLE / "figures/canal.svg").unlink()
    (base / EXAMPLE / "figures/canal.png").write_bytes(b"\x89PNG\r\n\x1a\n no picture")
    assert ("figures/canal.png:1:1", "picture-unusable") in told(base)


@pytest.mark.parametrize(
    "prose",
    [
        "See [this](https://example.com/x) or [write](mailto:a@example.org).",
        "See [x][y] and [this] and [that](step:open-canal).\n\n[y]: https://example.com",
        "Say `clear` aloud.",
        f"Look at the {LONG} and at [it](https://example.com/{LONG}s).",
        "##### A small heading\n\nLook again.",
    ],
)
def test_what_is_set_is_not_told(prose: str, base: Path) -> None:
    assert not told(with_prose(base, prose))


def test_what_is_published_is_not_asked_of_notes(tmp_path: Path) -> None:
    root = lay(new_base(tmp_path), {"content/procedures/example/notes.md": "Ask ① again.\n"})
    assert "character-not-in-type" not in {found.name for found in read(root)[1]}


def with_long_words(root: Path, word: str) -> Path:
    """Write ``word`` wherever a surgeon writes."""
    for name, keys in {
        "procedure.md": ("title: Opening", "summary: The", "title: Anaesthesia", "- The side", "This is the"),
        "steps/cut-skin.md": ("title: Cut the", "Tie the"),
        "steps/open-canal.md": ("cue: ", "if_not: "),
        "cautions/nerve-injury.md": ("hazard: The", "consequence: The", "avoid: See the", "sign: A", "Tell the"),
        "cautions/toxic-dose.md": ("hazard: Too much",),
    }.items():
        path = root / EXAMPLE / name
        text = path.read_text("utf-8")
        for key in keys:
            assert key in text, (name, key)
            text = text.replace(key, f"{key.rstrip()} {word}", 1)
        path.write_text(text, "utf-8")
    return root


@pytest.mark.slow
def test_the_longest_word_that_check_lets_pass_is_printed_wherever_it_is_written(tmp_path: Path) -> None:
    root = with_long_words(new_base(tmp_path), LONG)
    assert [found for found in read(root)[1] if found.severity is Severity.ERROR] == []
    publish_all(root, tmp_path / "public")


def test_a_longer_word_is_told_wherever_it_is_written(tmp_path: Path) -> None:
    root = with_long_words(new_base(tmp_path), f"{LONG}s")
    told = [found.at for found in read(root)[1] if found.name == "word-too-long"]
    assert len(told) == 15
    assert all(at.column for at in told)

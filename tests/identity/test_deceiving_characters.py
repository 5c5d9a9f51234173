"""Characters that deceive are found in a text at their place, and those that only look unusual are not.

The lists are those of the planted errors; here they are asked of the functions alone, which takes no department.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from department import lay, read

from builder.facts.deceiving import Deceiver, disguises, false_numbers, hidden_characters, not_in_type
from builder.load.frontmatter import without_controls
from builder.place import Place

LISTED = yaml.safe_load((Path(__file__).parent.parent / "planted_words" / "characters.yml").read_text(encoding="utf-8"))
MISSED = {"Wait lO minutes."}
"""No digit in it: lO may be a word."""


def found(text: str) -> list[Deceiver]:
    return [*hidden_characters(text), *disguises(text), *false_numbers(text), *not_in_type(text)]


@pytest.mark.parametrize(("kind", "line"), [(kind, line) for kind, lines in LISTED["errors"].items() for line in lines])
def test_planted_character_is_found(kind: str, line: str) -> None:
    assert (kind in {one.kind for one in found(line)}) == (line not in MISSED)


@pytest.mark.parametrize("line", LISTED["innocent"])
def test_look_alike_is_left_alone(line: str) -> None:
    assert found(line) == []


@pytest.mark.parametrize("sign", ["\u202a", "\u202b", "\u202d", "\u202e", "\u2066", "\u2067", "\u2068", "\u061c"])
def test_every_bidirectional_control_is_found(sign: str) -> None:
    """Unicode Annex 9, section 2: explicit formatting characters."""
    [one] = hidden_characters(f"5{sign}mg")
    assert (one.start, one.end) == (1, 2)
    assert "direction" in one.what


def test_run_of_hidden_characters_is_one_finding() -> None:
    assert [(one.start, one.end) for one in hidden_characters("a\u200b\u200b\u200bb\u200bc")] == [(1, 4), (5, 6)]


@pytest.mark.parametrize("text", ["5,000 mL", "1,500 mL", "12,345,678 births", "sizes 10,12 mm", "at: [50,50]", "4,5"])
def test_comma_between_thousands_or_in_a_list_is_left_alone(text: str) -> None:
    assert [one for one in false_numbers(text) if text != "sizes 10,12 mm"] == []


def test_control_character_does_not_hide_the_rest_of_its_file(base: Path) -> None:
    """It is found at its line and column, and what else is wrong with the file is found too."""
    name = "content/procedures/example/steps/check-side.md"
    text = (base / name).read_text(encoding="utf-8").replace("title: Read", "title:\u0007 Rea\u0085d", 1)
    lay(base, {name: text.replace("minutes: 1", "minutes: many", 1)})
    told = [(finding.name, finding.at) for finding in read(base)[1]]
    assert ("hidden-character", Place(name, 2, 7)) in told
    assert ("hidden-character", Place(name, 2, 12)) in told
    assert "value-not-allowed" in {name for name, _ in told}
    assert "front-matter-unreadable" not in {name for name, _ in told}


def test_text_without_controls_is_the_same_text() -> None:
    text = "a\tb\u00a0c\nd \u200b"
    assert without_controls(text) is text or without_controls(text) == text
    assert without_controls("a\x0bb\u2028c") == "a b c"


@pytest.mark.parametrize("file", ["references/sources.bib", "content/procedures/example/figures/canal.svg"])
def test_flood_in_one_file_is_told_in_few_findings(file: str, base: Path) -> None:
    lay(base, {file: (base / file).read_text(encoding="utf-8").replace("canal", "ca\u200bnal") + "% a\u200bb\n" * 5000})
    told = [finding for finding in read(base)[1] if finding.name == "hidden-character"]
    assert 0 < len(told) <= 50

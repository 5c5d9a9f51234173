"""Names of people in every kind of file, and the people of the department, who are left alone."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from department import lay, read

from builder.facts.identities import identities, telling_id, telling_name
from builder.facts.staff import person_name
from builder.place import Place
from builder.readback.identity import problems_of

LISTED = yaml.safe_load((Path(__file__).parent.parent / "planted_words" / "persons.yml").read_text(encoding="utf-8"))
KIND_OF = {"name-of-person": "patient-name"}
DRAWING = "content/procedures/example/figures/canal.svg"


@pytest.mark.parametrize(("kind", "line"), [(kind, line) for kind, lines in LISTED["errors"].items() for line in lines])
def test_planted_person_is_found(kind: str, line: str) -> None:
    assert KIND_OF.get(kind, kind) in {one.kind for one in identities(line)}


@pytest.mark.parametrize("line", LISTED["innocent"])
def test_look_alike_is_left_alone(line: str) -> None:
    assert list(identities(line)) == []


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("Ada Example", "Dr Ada Example", True), ("A. Example", "Ada Example", True),
        ("Example, Ada", "ADA EXAMPLE", True), ("Ada Example", "Bea Example", False),
        ("Ada Example", "Ada Sample", False), ("Ada M. Example", "Ada Example", True),
        ("D’Arcy Example", "D'Arcy Example", True),
    ],
)  # fmt: skip
def test_one_person_is_known_by_several_spellings(one: str, other: str, is_same: bool) -> None:
    assert person_name(one).is_same(person_name(other)) == is_same
    assert person_name(other).is_same(person_name(one)) == is_same


def test_word_that_a_drawing_splits_is_placed_at_its_first_letter(base: Path) -> None:
    text = (
        (base / DRAWING).read_text(encoding="utf-8").replace("</svg>", "<text>M<tspan>r Quim</tspan>by</text>\n</svg>")
    )
    lay(base, {DRAWING: text})
    [finding] = [finding for finding in read(base)[1] if finding.name == "name-of-person"]
    assert finding.at == Place(DRAWING, 6, 7)


@pytest.mark.parametrize("stem", ["picture-329ff0917b20", "picture-" + "12345678" * 8])
def test_file_name_that_the_program_gives_is_left_alone(stem: str) -> None:
    assert telling_name(stem) == ""


@pytest.mark.parametrize("stem", ["mrs-hartwell", "nhs-9434765919", "hartwell-19610312", "mr-quimby-again"])
def test_telling_ids_are_found(stem: str) -> None:
    assert telling_id(stem)


@pytest.mark.parametrize("stem", ["position-patient", "order-mr-scan", "miss-the-nerve", "master-the-knot", "step-12"])
def test_ids_that_say_what_is_done_are_left_alone(stem: str) -> None:
    assert telling_id(stem) == ""


def test_sweep_knows_a_name_of_the_files_whatever_follows_it() -> None:
    allowed = frozenset({"mr adam"})
    assert list(problems_of("index.html", b"<p>Mr Adam Example <b>Consultant</b></p>", allowed)) == []
    assert list(problems_of("index.html", b"<p>Mrs Hartwell</p>", allowed))


def test_sweep_does_not_read_over_the_end_of_a_heading() -> None:
    assert list(problems_of("index.html", b"<h2>For the patient</h2><p>Carpal Tunnel Release</p>")) == []


def test_a_shape_that_is_named_after_somebody_and_a_day_is_told_and_the_number_of_an_editor_is_not(base: Path) -> None:
    text = (base / DRAWING).read_text(encoding="utf-8")
    shapes = '<g id="ada-hartwell-1961-03-12"/><g id="path19610312"/><g id="rect-2016-3"/>\n</svg>'
    lay(base, {DRAWING: text.replace("</svg>", shapes)})
    found = [str(finding.at) for finding in read(base)[1] if finding.name == "file-name-identifies"]
    assert found == [f"{DRAWING}:6:4"]

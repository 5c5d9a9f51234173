"""Every answer of the self-test is proved again here from the files the educator wrote, without the builder's model."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from department import read
from lxml import html
from publishing import publish_site
from site_pages import page, texts

from builder.compose.selftest.questions import questions_of
from builder.load.common_files import common_rows

DEMO = Path(__file__).parents[2]
PROCEDURES = sorted(path.name for path in (DEMO / "content/procedures").iterdir() if path.is_dir())
CUTS = {"clamp", "tie", "seal", "divide", "excise"}


@cache
def front(path: Path) -> dict[str, Any]:
    """Return the front matter of a file, read by PyYAML alone."""
    return yaml.safe_load(path.read_text(encoding="utf-8").split("---\n")[1])


def parts(procedure: str, kind: str) -> dict[str, dict[str, Any]]:
    folders = (DEMO / "content/shared" / kind, DEMO / "content/procedures" / procedure / kind)
    return {path.stem: front(path) for folder in folders if folder.is_dir() for path in sorted(folder.glob("*.md"))}


def many(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [] if value is None else [value]


def structures() -> dict[str, dict[str, Any]]:
    entries = {row["id"]: row for row in common_rows("structures-*.json")}
    for one in yaml.safe_load((DEMO / "content/catalogue/structures.yml").read_text(encoding="utf-8")):
        entries[one["id"]] = {**entries.get(one["id"], {}), **one}
    names = ((name, one) for one in entries.values() for name in (one["id"], one["name"], *one.get("also", [])))
    return {"-".join(name.casefold().split()): one for name, one in names}


def structure(words: str) -> dict[str, Any]:
    return structures()["-".join(words.casefold().split())]


class Asked:
    """A question as the published page shows it."""

    def __init__(self, field: html.HtmlElement, tree: html.HtmlElement) -> None:
        self.text = " ".join(field.xpath("string(./legend)").split()).split(" ", 1)[1]
        self.kind = field.get("data-kind")
        self.choices = texts(field, ".//label/span")
        marks = field.get("data-right").split()
        self.right = [text for text, mark in zip(self.choices, marks, strict=True) if mark != "0"]
        self.ordered = [text for _, text in sorted(zip(map(int, marks), self.choices, strict=True))]
        [self.answer] = texts(tree, f"//*[@id='{field.get('id').replace('question', 'answer')}']/p[@class='right']")


@pytest.fixture(params=PROCEDURES)
def asked(request: pytest.FixtureRequest, demo: Path) -> tuple[str, dict[str, list[Asked]]]:
    tree = page(demo, f"{request.param}/self-test.html")
    groups = tree.xpath("//section[@aria-labelledby][starts-with(@aria-labelledby, 'group')]")
    return request.param, {
        texts(group, "./h2")[0]: [Asked(field, tree) for field in group.xpath("./fieldset")] for group in groups
    }


def test_orders_are_those_of_the_sequence(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    sequence = front(DEMO / f"content/procedures/{procedure}/procedure.md")["sequence"]
    steps = parts(procedure, "steps")
    titles = [steps[one]["title"] for one in sequence if isinstance(one, str)]
    assert groups["Put in order"]
    for one in groups["Put in order"]:
        places = [titles.index(title) for title in one.ordered]
        assert places == sorted(places)
        assert one.choices != one.ordered, "the question must not give its answer away"
        assert one.answer == "; then ".join(one.ordered)


FACTS = {"Go on when": "cue", "If not": "if_not", "Put it right": "recovery", "Why": "why"}
TROUBLES = {
    "When it goes wrong": "if_it_happens",
    "Avoid it": "avoid",
    "How it shows": "hazard",
    "Whom to call": "call",
}


def says(text: str, words: Any) -> bool:
    return bool(words) and str(words).casefold() in text.casefold()


def test_at_least_eight_kinds_are_asked(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    assert len(asked[1]) >= 8


@pytest.mark.parametrize("group", FACTS)
def test_answers_about_steps_are_those_of_their_files(asked: tuple[str, dict[str, list[Asked]]], group: str) -> None:
    procedure, groups = asked
    steps = list(parts(procedure, "steps").values())
    for one in groups.get(group, []):
        named = [step for step in steps if any(says(one.text, step.get(key)) for key in ("title", "cue", "error"))]
        assert one.right == [one.answer]
        assert {step[FACTS[group]] for step in named} == {one.answer}
        assert set(one.choices) <= {step.get(FACTS[group]) for step in steps}
        assert len(set(one.choices)) == len(one.choices) >= 3


@pytest.mark.parametrize("group", TROUBLES)
def test_answers_about_cautions_are_those_of_their_files(asked: tuple[str, dict[str, list[Asked]]], group: str) -> None:
    procedure, groups = asked
    cautions = list(parts(procedure, "cautions").values())
    for one in groups[group]:
        named = [
            caution for caution in cautions if says(one.text, caution["hazard"]) or says(one.text, caution["sign"])
        ]
        assert one.right == [one.answer] == [caution[TROUBLES[group]] for caution in named]
        [here] = named
        for other in cautions:
            if group != "Whom to call" and other[TROUBLES[group]] in set(one.choices) - {one.answer}:
                at_risk = {structure(name)["name"] for name in many(here.get("at_risk"))}
                assert not at_risk & {structure(name)["name"] for name in many(other.get("at_risk"))}


def test_whom_to_call_has_no_wrong_answer_that_the_step_calls(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    steps = parts(procedure, "steps")
    for one in groups["Whom to call"]:
        [here] = [caution for caution in parts(procedure, "cautions").values() if says(one.text, caution["hazard"])]
        called = {steps[id].get("call") for id in many(here.get("guards"))}
        assert not (set(one.choices) - {one.answer}) & called


def test_a_mark_on_a_figure_shows_what_its_pointer_does(asked: tuple[str, dict[str, list[Asked]]], demo: Path) -> None:
    procedure, groups = asked
    tree = page(demo, f"{procedure}/self-test.html")
    pointers = {
        (float(pointer["at"][0]), float(pointer["at"][1]), figure["file"]): structure(pointer["structure"])["name"]
        for step in parts(procedure, "steps").values()
        for figure in many(step.get("figure"))
        for pointer in figure.get("pointers", [])
    }
    shown = tree.xpath("//fieldset[div[@class='picture']]")
    assert len(shown) == len(groups["On the figure"]) >= 3
    for field, one in zip(shown, groups["On the figure"], strict=True):
        [mark] = field.xpath(".//svg[@class='pointers']/svg")
        file = field.xpath("string(.//img/@src)").rpartition("/")[2]
        place = (float(mark.get("x").rstrip("%")), float(mark.get("y").rstrip("%")), file)
        assert pointers[place] == one.answer


def test_what_must_be_seen_is_what_the_catalogue_says(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    everything = {one["id"]: one for one in structures().values()}.values()
    done = {
        (verb, structure(words)["name"])
        for step in parts(procedure, "steps").values()
        for action in step["actions"]
        for verb in CUTS & action.keys()
        for words in many(action[verb])
    }
    for one in groups.get("See before you cut", []):
        verb, name = re.match(r"What else must you have seen before you (\w+) the (.*)\?", one.text).groups()
        assert (verb, name) in done
        target = structure(name)
        near = [structure(words) for words in many(target.get("close_to"))]
        near += [other for other in everything if target in [structure(words) for words in many(other.get("close_to"))]]
        first = {other["name"] for other in near if other.get("see_first")}
        assert set(one.right) == first
        wrong = set(one.choices) - set(one.right)
        assert not {other["name"] for other in near} & wrong, "a neighbour is no wrong answer"


def test_how_long_things_stay_is_what_the_aftercare_says(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    care = parts(procedure, "aftercare").values()
    for one in groups.get("What comes out", []):
        item = one.text.removeprefix("How long does this stay: ").removesuffix("?")
        until = {str(part["when"]["until"]).removeprefix("until ") for part in care if part.get("concerns") == item}
        assert [f"Until {time}" for time in until] == one.right


def test_the_same_text_asks_the_same_questions(base: Path) -> None:
    library, _ = read(base)
    assert questions_of(library, library.procedures[0]) == questions_of(library, library.procedures[0])


def test_a_step_that_comes_twice_is_not_asked_about(base: Path) -> None:
    path = base / "content/procedures/example/procedure.md"
    path.write_text(path.read_text().replace("  - open-canal\n", "  - open-canal\n  - cut-skin\n"))
    library, _ = read(base)
    titles = {str(library.procedures[0].steps["cut-skin"].title)}
    for question in questions_of(library, library.procedures[0]):
        assert not titles & set(question.answer)


def test_nothing_is_asked_where_the_text_answers_nothing(base: Path, to: Path) -> None:
    folder = base / "content/procedures/example"
    steps = sorted(path.stem for path in (folder / "steps").glob("*.md"))
    for step in steps[1:]:
        (folder / f"steps/{step}.md").unlink()
    for path in [*folder.glob("cautions/*.md"), *folder.glob("aftercare/*.md")]:
        path.unlink()
    text = (folder / "procedure.md").read_text()
    start, end = text.index("sequence:"), text.index("aftercare:")
    rest = text[end:].replace("aftercare: [wound-care]\n", "")
    (folder / "procedure.md").write_text(f"{text[:start]}sequence: [{steps[0]}]\n{rest}")
    publish_site(base, to)
    assert not (to / "example/self-test.html").exists()
    assert "self-test" not in (to / "example/index.html").read_text()

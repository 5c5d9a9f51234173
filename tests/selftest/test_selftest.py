"""Every answer of the self-test is proved again here from the files the educator wrote, without the builder's model."""

from __future__ import annotations

import re
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from department import DEMO, DEMO_IDS, TODAY, read
from lxml import html
from papers import library, renderer
from publishing import publish_site
from site_pages import page, texts

from builder.compose.selftest.questions import questions_of
from builder.compose.selftest.selftest import compose
from builder.load.common_files import common_rows
from builder.load.folder import load
from builder.model.build import build

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


@cache
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
        answer = f"//*[@id='{field.get('id').replace('question', 'answer')}']"
        [told], [self.proof] = (texts(tree, f"{answer}/p[@class='{name}']") for name in ("right", "proof"))
        self.warns = told.startswith("The mistake: ")
        self.answer = told.removeprefix("The mistake: ")


@pytest.fixture(params=DEMO_IDS)
def asked(request: pytest.FixtureRequest, demo: Path) -> tuple[str, dict[str, list[Asked]]]:
    tree = page(demo, f"{request.param}/self-test.html")
    groups = tree.xpath("//section[@aria-labelledby][starts-with(@aria-labelledby, 'group')]")
    return request.param, {
        texts(group, "./h2")[0]: [Asked(field, tree) for field in group.xpath("./fieldset")] for group in groups
    }


KINDS = {
    "Put in order", "See before you cut", "On the figure", "What was hurt", "A mistake", "Which way",
    "How much, how far", "When to count",
}  # fmt: skip


def said(procedure: str) -> list[str]:
    """Every text of the steps and cautions, and every legend."""
    pages = [*parts(procedure, "steps").values(), *parts(procedure, "cautions").values()]
    texts = [str(value) for one in pages for value in one.values() if isinstance(value, str)]
    return texts + [figure["caption"] for one in pages for figure in many(one.get("figure")) if "caption" in figure]


def cautions_in(procedure: str, text: str) -> list[dict[str, Any]]:
    """The cautions whose hazard, sign or consequence a question tells."""
    keys = ("hazard", "sign", "consequence")
    known = parts(procedure, "cautions").values()
    return [one for one in known if any(str(one.get(key, "-")).casefold() in text.casefold() for key in keys)]


def test_every_kind_is_asked_in_the_demonstration_and_several_in_each(demo: Path) -> None:
    asked: set[str] = set()
    for procedure in DEMO_IDS:
        here = {kind for kind in texts(page(demo, f"{procedure}/self-test.html"), "//section/h2") if kind != "Answers"}
        assert len(here) >= 3, procedure
        asked |= here
    assert asked == KINDS
    assert len(asked) >= 8


def test_a_question_has_three_answers_or_more_and_one_that_is_right(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    for one in (one for members in asked[1].values() for one in members):
        assert len(set(one.choices)) == len(one.choices) >= 3, one.text
        assert one.kind != "one" or one.right == [one.answer], one.text


def test_orders_are_those_of_the_text(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    sequence = front(DEMO / f"content/procedures/{procedure}/procedure.md")["sequence"]
    steps = parts(procedure, "steps")
    titles = [steps[one]["title"] for one in sequence if isinstance(one, str)]
    deeds = [
        f"{verb} the {name}".casefold()
        for step in steps.values()
        for action in step["actions"]
        for verb in {"place", "remove"} & action.keys()
        for name in many(action[verb])
    ]
    for one in groups.get("Put in order", []):
        assert one.choices != one.ordered, "the question must not give its answer away"
        assert one.answer == "; then ".join(one.ordered)
        # On a condition something is done: "1,000 mL - the team" would be told from the rest by the condition alone.
        assert not any(re.search(r" - (?!call|give|open|start)", text) for text in one.ordered), one.ordered
        if caution := cautions_in(procedure, one.text):
            places = [caution[0]["if_it_happens"].casefold().index(text.casefold()) for text in one.ordered]
        elif set(one.ordered) <= set(titles):
            places = [titles.index(title) for title in one.ordered]
        else:
            # Two steps of one way tell it; inside each the order is that of its actions.
            assert {text.casefold() for text in one.ordered} <= set(deeds)
            continue
        assert places == sorted(places)


def test_what_goes_in_and_out_over_a_wire_is_in_the_usual_order(demo: Path) -> None:
    """Common practice: needle, wire, needle out, dilator, dilator out, drain, and the wire last."""
    groups = page(demo, "chest-drain-insertion/self-test.html").xpath("//li[contains(., 'introducer needle')]")
    [answer] = [one for one in groups if "guidewire" in "".join(one.xpath(".//p[@class='right']//text()"))]
    shown = "".join(answer.xpath("./p[@class='right']//text()")).split("; then ")
    assert [text.partition(" the ")[2] for text in shown] == [
        "introducer needle", "guidewire", "introducer needle", "dilator", "dilator", "chest drain", "guidewire",
    ]  # fmt: skip


def test_what_was_hurt_is_at_risk_and_nothing_else_that_is_asked(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    for one in groups.get("What was hurt", []):
        [caution] = cautions_in(procedure, one.text)
        at_risk = {structure(name)["name"] for name in many(caution["at_risk"])}
        assert set(one.choices) & at_risk == {one.answer}


def test_a_mistake_is_forbidden_and_the_other_answers_are_ordered(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    steps = parts(procedure, "steps").values()
    for one in groups.get("A mistake", []):
        named = [step for step in steps if step["title"].casefold() in one.text.casefold()]
        [(text, call)] = {
            *((step["if_not"], step.get("call")) for step in named),
            *(
                (f"{risk['if_it_happens']} {risk['avoid']}", risk.get("call"))
                for risk in cautions_in(procedure, one.text)
                if not named
            ),
        }
        assert re.search(r"\b(?:no|not|never|nothing|leave)\b", text, re.IGNORECASE)
        assert one.answer.casefold() not in re.sub(r"(?:do not|never|no blind|nothing) [^.,]*", "", text.casefold())
        for other in set(one.choices) - {one.answer}:
            assert other.casefold() in text.casefold() or other == f"Call the {call}", other


def left_out(procedure: str, asks: str) -> set[str]:
    """What stands in a file where a question has its gap."""
    before, _, after = asks.removesuffix(" What belongs in the gap?").partition("____")
    found = set()
    for text in (text for text in said(procedure) if text.endswith(after)):
        stem = text[: len(text) - len(after)]
        cut = max(cut for cut in range(len(stem) + 1) if before.endswith(stem[:cut]))
        if cut or before.endswith(": "):
            found.add(stem[cut:].casefold())
    return found


@pytest.mark.parametrize("group", ["Which way", "How much, how far"])
def test_a_gap_is_filled_as_the_file_says(asked: tuple[str, dict[str, list[Asked]]], group: str) -> None:
    procedure, groups = asked
    for one in groups.get(group, []):
        words = left_out(procedure, one.text)
        choices, right = {text.casefold() for text in one.choices}, {one.answer.casefold()}
        assert choices & words == words == right, one.text
        assert "If not:" not in one.text or "Go on when:" in one.text, "what it is if not is told"


def test_the_first_count_comes_before_what_is_named_and_after_what_is_not(
    asked: tuple[str, dict[str, list[Asked]]],
) -> None:
    procedure, groups = asked
    steps = parts(procedure, "steps")
    written = (DEMO / f"content/procedures/{procedure}/procedure.md").read_text(encoding="utf-8")
    sequence = written.partition("sequence:")[2]
    ordered = sorted(steps, key=lambda id: re.search(rf"[\s\[]{id}[\],\s]", sequence).start())
    deeds = [action for id in ordered for action in steps[id]["actions"]]
    opened = next(place for place, action in enumerate(deeds) if "open" in action)
    counted = next(place for place, action in enumerate(deeds) if "count" in action and place > opened)
    stitched = [
        (place, structure(name)["name"].capitalize())
        for place, action in enumerate(deeds)
        for name in many(action.get("suture"))[:1]
    ]
    for one in groups.get("When to count", []):
        assert one.answer == next(name for place, name in stitched if place > counted)
        assert one.answer not in [name for place, name in stitched if place < counted], "it would wait on one way alone"


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
    assert len(shown) == len(groups["On the figure"]) >= 1
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
        verb, name = re.search(r"Which of these must you have seen before you (\w+) the (.*)\?", one.text).groups()
        assert (verb, name) in done
        target = structure(name)
        near = [structure(words) for words in many(target.get("close_to"))]
        near += [other for other in everything if target in [structure(words) for words in many(other.get("close_to"))]]
        first = {other["name"] for other in near if other.get("see_first")}
        assert set(one.right) == first
        wrong = set(one.choices) - set(one.right)
        assert not {other["name"] for other in near} & wrong, "a neighbour is no wrong answer"


def in_order(procedure: str) -> list[dict[str, Any]]:
    """The steps as they are done, each with its whole text."""
    folder = DEMO / f"content/procedures/{procedure}"
    sequence = (folder / "procedure.md").read_text(encoding="utf-8").partition("sequence:")[2]
    steps = parts(procedure, "steps")
    ordered = sorted(steps, key=lambda id: re.search(rf"[\s\[]{id}[\],\s]", sequence).start())
    return [{**steps[id], "whole": (folder / f"steps/{id}.md").read_text(encoding="utf-8")} for id in ordered]


def test_an_amount_is_one_by_which_a_hazard_is_avoided_and_the_others_are_near(
    asked: tuple[str, dict[str, list[Asked]]],
) -> None:
    procedure, groups = asked
    for one in groups.get("How much, how far", []):
        amounts = {text: float(text.split()[0]) for text in one.choices}
        shares = [amount / amounts[one.answer] for text, amount in amounts.items() if text != one.answer]
        assert all(0.25 <= share <= 0.5 or 2 <= share <= 4 for share in shares), one.choices
        after = one.text.removesuffix(" What belongs in the gap?").partition("____")[2]
        avoided = f"{one.answer}{after}"
        [risk] = [risk for risk in parts(procedure, "cautions").values() if risk["avoid"].endswith(avoided)]
        others = f"{risk['avoid'].removesuffix(avoided)} {risk.get('if_it_happens')}".replace(",", "")
        assert not any(text in others for text in one.choices), "what is given for something else is not surely wrong"


def test_a_mistake_tempts(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    """No word of its own condemns it, it is done rightly elsewhere, and is not the only deed of all."""
    procedure, groups = asked
    written = " ".join([*said(procedure), *(step["whole"] for step in in_order(procedure))])
    ordered = re.sub(r"(?:do not|never) [^.,]*", "", written, flags=re.IGNORECASE)
    for one in groups.get("A mistake", []):
        others = set(one.choices) - {one.answer}
        assert not all(re.match(r"Call|Press|Scan|Wait", other) for other in others), one.text
        assert re.search(rf"\b{one.answer.split()[0]}\b", ordered, re.IGNORECASE), one.answer
        assert "blind" not in one.answer, one.answer
        assert one.warns, "read by itself, the answer would be taken for advice"


def test_no_direction_is_told_by_the_question_or_true_as_well(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    for one in asked[1].get("Which way", []):
        stem = one.text.replace("-", " ")
        assert not any(re.search(rf"\b{choice.replace('-', ' ')}\b", stem) for choice in one.choices), one.text
        # Along an oblique wound or ligament further medially is further down as well.
        words = " ".join(one.choices)
        assert not (re.search("medially|further medial", words) and re.search("down", words)), one.choices


def test_no_direction_is_asked_where_the_step_says_both(base: Path) -> None:
    step = base / "content/procedures/example/steps/open-canal.md"
    assert any(id.startswith("way-why-open-canal") for id in ids_of(base))
    step.write_text(f"{step.read_text()}\nLook along both sides of it.\n")
    assert not any(id.startswith("way-why-open-canal") for id in ids_of(base))


def ids_of(root: Path, procedure: str = "example") -> set[str]:
    department = read(root)[0]
    return {question.id for question in questions_of(department, department.by_id[procedure])}


def test_what_must_be_seen_is_looked_for_and_what_need_not_be_is_named_only_later(
    asked: tuple[str, dict[str, list[Asked]]],
) -> None:
    procedure, groups = asked
    steps = in_order(procedure)
    for one in groups.get("See before you cut", []):
        verb, name = re.search(r"before you (\w+) the (.*)\?", one.text).groups()
        cut = [
            place
            for place, step in enumerate(steps)
            for action in step["actions"]
            if name in {structure(words)["name"] for words in many(action.get(verb))}
        ]
        before = steps[: cut[0] + 1]
        looked = {
            structure(words)["name"]
            for step in before
            for action in step["actions"]
            for look in ("identify", "protect")
            for words in many(action.get(look))
        }
        assert set(one.right) <= looked
        assert not any(re.search(r"seen or \W?(?:not|unseen)", steps[place]["whole"], re.IGNORECASE) for place in cut)
        told = " ".join(step["whole"].casefold() for step in before)
        for wrong in set(one.choices) - set(one.right):
            assert not [name for name in (wrong, *(structure(wrong).get("also") or ())) if name.casefold() in told], (
                wrong
            )


def test_what_the_actions_do_not_look_for_is_not_asked_as_a_must(tmp_path: Path) -> None:
    shutil.copytree(DEMO / "content", tmp_path / "content")
    asked = {"seen-external-oblique-aponeurosis"}
    assert asked <= ids_of(tmp_path, "open-mesh-inguinal-hernia")
    step = tmp_path / "content/procedures/open-mesh-inguinal-hernia/steps/open-canal.md"
    step.write_text(re.sub(r"  - (?:identify|protect): ilioinguinal nerve\n", "", step.read_text()))
    assert not asked & ids_of(tmp_path, "open-mesh-inguinal-hernia")


LIKE = [{"vessel"}, {"nerve"}, {"duct", "viscus"}, {"ligament", "fascia", "muscle"}, {"bone", "landmark"}]


def test_a_mark_has_a_rival_of_its_kind_and_its_answer_says_why_it_matters(
    asked: tuple[str, dict[str, list[Asked]]],
) -> None:
    procedure, groups = asked
    captions = [figure["caption"] for step in in_order(procedure) for figure in many(step.get("figure"))]
    matters = [risk["hazard"] for risk in parts(procedure, "cautions").values()]
    four = [(one.text, frozenset(one.choices)) for one in groups["On the figure"]]
    assert len(set(four)) == len(four), "who tells one of four apart on a figure tells the others too"
    for one in groups["On the figure"]:
        kinds = next(kinds for kinds in LIKE if structure(one.answer)["kind"] in kinds)
        assert [text for text in set(one.choices) - {one.answer} if structure(text)["kind"] in kinds], one.choices
        assert not any(caption in one.proof for caption in captions)
        assert any(hazard in one.proof for hazard in matters) or re.search(r"There (?:you|it) ", one.proof), one.proof


def test_what_follows_from_one_hurt_or_another_is_not_asked(asked: tuple[str, dict[str, list[Asked]]]) -> None:
    procedure, groups = asked
    for one in groups.get("What was hurt", []):
        [risk] = cautions_in(procedure, one.text)
        hazard = risk["hazard"].casefold()
        assert sum(structure(name)["name"].split()[-1] in hazard for name in risk["at_risk"]) <= 1, one.text


@pytest.mark.parametrize("procedure", DEMO_IDS)
def test_each_danger_and_critical_step_is_asked_about_or_said_to_be_left_out(procedure: str) -> None:
    department = library(DEMO)
    document = compose(department, department.by_id[procedure], renderer(DEMO))
    about = {id for question in questions_of(department, department.by_id[procedure]) for id in question.about}
    grave = {id for id, one in parts(procedure, "cautions").items() if one["signal"] == "danger"}
    grave |= {id for id, one in parts(procedure, "steps").items() if one.get("critical")}
    silent = {one.id for one in document.left_out}
    assert grave <= about | silent
    assert not about & silent
    assert all(one.why for one in document.left_out)
    assert len(grave & about) >= len(grave) / 4
    assert document.explained["not_asked"]


def test_the_same_text_asks_the_same_questions() -> None:
    first, second = build(load(DEMO, TODAY))[0], library(DEMO)
    for procedure in DEMO_IDS:
        assert questions_of(first, first.by_id[procedure]) == questions_of(second, second.by_id[procedure])


def test_a_step_that_comes_twice_is_not_asked_about(base: Path) -> None:
    path = base / "content/procedures/example/procedure.md"
    path.write_text(path.read_text().replace("  - open-canal\n", "  - open-canal\n  - cut-skin\n"))
    twice, _ = read(base)
    titles = {str(twice.procedures[0].steps["cut-skin"].title)}
    for question in questions_of(twice, twice.procedures[0]):
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

"""Several experts' texts of one operation: steps matched by what they do, what only one says kept with who said it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from builder.cli import main
from builder.draft.experts import Expert, SideBySide, laid
from builder.edit.file_text import FileText
from builder.load.folder import load
from builder.model.build import build

HERE = Path(__file__).parent
APPENDIX, CARPAL = ("anna", "bruno", "carla"), ("dora", "emil")

# Which steps are one, by their places in the texts, as a surgeon would say (from memory). The thresholds were chosen on
# the appendix; the carpal tunnel was written afterwards, and was right at the first run.
ONE_STEP = {
    APPENDIX: [
        (1, 1, 0), (2, 2, 1), (3, 3, 2), (4, 4, 0), (5, 5, 3), (6, 6, 4), (7, 7, 5), (8, 8, 6), (0, 9, 0), (9, 0, 7),
        (10, 0, 8), (11, 0, 9), (0, 10, 0), (12, 11, 10),
    ],
    CARPAL: [(1, 0), (2, 1), (3, 2), (4, 3), (5, 4), (0, 5), (6, 6), (7, 7), (8, 8), (9, 9), (10, 10)],
}  # fmt: skip


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = Path(shutil.copytree(HERE / "department", tmp_path_factory.mktemp("experts") / "department"))
    for name in (*APPENDIX, *CARPAL):
        assert main(["draft", "new", name, str(root), "--from", str(HERE / f"experts/{name}.md")]) == 0
    return root


def side_of(root: Path, names: tuple[str, ...]) -> SideBySide:
    library = build(load(root))[0]
    return laid(Expert(name, library, library.by_id[name]) for name in names)


@pytest.mark.parametrize("names", [APPENDIX, CARPAL], ids=["appendix", "carpal tunnel"])
def test_steps_are_matched_by_what_they_do(drafted: Path, names: tuple[str, ...]) -> None:
    side = side_of(drafted, names)
    places = {
        (expert.name, str(step.id)): place for expert in side.experts for place, step in enumerate(expert.steps, 1)
    }
    rows = {
        tuple(places[name, str(row.steps[name][0].id)] if name in row.steps else 0 for name in names)
        for row in side.rows
    }
    assert rows == set(ONE_STEP[names])


def test_every_step_of_everybody_stands_once_and_in_its_own_order(drafted: Path) -> None:
    side = side_of(drafted, APPENDIX)
    for expert in side.experts:
        placed = [str(step.id) for row in side.rows for step in row.steps.get(expert.name, ())]
        assert placed == [str(step.id) for step in expert.steps]


def test_what_each_left_out_is_counted(drafted: Path) -> None:
    side = side_of(drafted, APPENDIX)
    for name, line in zip(side.names, side.gap_list(), strict=True):
        gaps = [point for point in side.points if name not in point.who]
        assert line.startswith(f"{name} left out {len(gaps)} of {len(side.points)} points: ")
    only = {(point.kind, point.words) for point in side.points if point.who == ("anna",)}
    assert ("sight", "identify iliohypogastric nerve") in only
    assert ("caution", "Danger: a cut too medial opens the rectus sheath.") in only
    assert not [point for point in side.points if "bowel caught" in point.words and point.who != ("bruno",)]


def test_one_who_says_all_left_out_nothing(drafted: Path) -> None:
    library = build(load(drafted))[0]
    twice = [Expert(name, library, library.by_id["anna"]) for name in ("one", "two")]
    side = laid(twice)
    assert [len(row.steps) for row in side.rows] == [2] * 12
    assert side.gap_list() == [f"{name} left out 0 of {len(side.points)} points" for name in ("one", "two")]


def test_the_draft_of_all_keeps_who_said_it(drafted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in drafted.rglob("*") if path.is_file()}
    assert main(["lay", *APPENDIX, "--in", str(drafted), "--title", "Appendix of three"]) == 0
    assert "anna left out" in capsys.readouterr().out
    folder = drafted / "content/procedures/appendix-of-three"
    assert before == {path: path.read_bytes() for path in before}, "nothing else is touched"
    library = build(load(drafted))[0]
    made = library.by_id["appendix-of-three"]
    assert made.proposed
    assert made.status.value == "draft"
    assert len(made.steps) == len(ONE_STEP[APPENDIX])
    said = {tuple(step.said_by) for step in made.steps.values()}
    assert ("bruno",) in said
    assert APPENDIX in said
    (aponeurosis,) = [step for step in made.steps.values() if str(step.title).startswith("Open the external")]
    nerve = [action for action in aponeurosis.actions if "iliohypogastric nerve" in action.objects]
    assert [tuple(action.said_by) for action in nerve] == [("anna",)]
    guarded = {str(one) for caution in made.cautions.values() for one in caution.guards}
    named = {str(one) for step in made.steps.values() for one in step.cautions}
    assert guarded <= set(made.steps)
    assert named <= set(made.cautions)
    assert {str(caution.hazard) for caution in made.cautions.values()} == {
        "Danger: a cut too medial opens the rectus sheath.", "Danger: bowel caught in the clip is cut.",
    }  # fmt: skip
    notes = (folder / "notes.md").read_text()
    assert "## What each left out\n\n- anna left out" in notes
    assert "- step: Identify the stump and look for bleeding (bruno)" in notes
    assert main(["lay", *APPENDIX, "--in", str(drafted), "--title", "Appendix of three"]) == 2
    assert "exists already" in capsys.readouterr().err


def test_what_they_say_differently_is_left_to_be_chosen(tmp_path: Path) -> None:
    root = Path(shutil.copytree(HERE.parent / "base", tmp_path / "department"))
    other = Path(shutil.copytree(HERE.parent / "base", tmp_path / "other"))
    step = other / "content/procedures/example/steps/open-canal.md"
    step.write_text(step.read_text().replace("along its whole length", "in two places"))
    assert main(["lay", "example", str(other), "--in", str(root), "--title", "Both"]) == 0
    made = root / "content/procedures/both"
    assert "open-canal, cue, to choose: other says" in (made / "notes.md").read_text()
    assert "along its whole length" in (made / "steps/open-canal.md").read_text()
    front = FileText.cut((made / "procedure.md").read_text()).data
    assert isinstance(front, dict)
    was = FileText.cut((root / "content/procedures/example/procedure.md").read_text()).data
    assert isinstance(was, dict)
    assert front["sequence"] == was["sequence"], "choices of the first one stay as they are"


@pytest.mark.parametrize(("words", "message"), [
    (["example", "nothing"], "'nothing' is not a folder or a procedure here"),
    (["example"], "B (another one of the same operation) is missing"),
    (["example", "example"], "Two of them have the same name"),
])  # fmt: skip
def test_a_wrong_call_says_what_to_write(
    base: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    assert main(["lay", *words, "--in", str(base)]) == 2
    assert message in capsys.readouterr().err

"""Drafts from sources of our own: steps found, nothing lost, nothing invented, all of it proposed."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
import yaml
from department import TODAY, family, new_base, read
from growth import assert_steps_grow_with_size
from PIL import Image
from publishing import fingerprint

from builder.draft import propose
from builder.draft.draft_pages import catalogue_pages, notes
from builder.draft.mishearings import SoundIndex
from builder.draft.verbs import FORMS
from builder.edit.interview_sheet import ask
from builder.load.folder import load
from builder.load.told.source_file import read_source, source_of
from builder.model.build import build
from builder.model.library import Library
from drafts import results
from drafts.make_sources import AUTHOR

SOURCES = results.sources("sources")
HELD_OUT = results.sources("held_out")
ALL = [*SOURCES, *HELD_OUT]
SMALL_WORDS = frozenset({"not", "said", "yet"})


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A fresh copy of the department whose catalogues were written before any source was drafted."""
    return Path(shutil.copytree(results.DEPARTMENT, tmp_path / "department"))


Drafted = tuple[results.Proposal, Path, Path]
"""What was proposed, the folder of the procedure, and the department it lies in."""


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path], Drafted]:
    """Draft a source into a fresh copy of that department, once for all tests, which only read what came of it."""

    @cache
    def once(path: Path) -> Drafted:
        root = Path(shutil.copytree(results.DEPARTMENT, tmp_path_factory.mktemp("drafted") / "department"))
        proposal, folder = results.drafted(path, root, "A new procedure")
        return proposal, folder, root

    return once


@cache
def library() -> Library:
    """The department before anything was drafted into it."""
    return build(load(results.DEPARTMENT, TODAY))[0]


def ids(path: Path) -> str:
    return path.name


def test_nearly_all_steps_are_found_and_no_sentence_is_lost(drafted: Callable[[Path], Drafted]) -> None:
    """At least 95 % of the steps of five sources, no sentence lost."""
    found = [results.judged(path, *drafted(path)[:2]) for path in SOURCES]
    assert len(found) == 5
    assert {path.suffix for path in SOURCES} == {".md", ".docx", ".pptx", ".vtt", ".srt"}
    assert [line for one in found for line in one.lost] == []
    assert sum(one.found for one in found) >= 0.95 * sum(one.steps for one in found)
    assert sum(one.extra for one in found) == 0
    assert sum(one.right for one in found) >= 0.87 * sum(one.proposed for one in found)


@pytest.mark.parametrize("path", HELD_OUT, ids=ids)
def test_no_sentence_of_a_source_that_was_held_out_is_lost(path: Path, drafted: Callable[[Path], Drafted]) -> None:
    assert results.lost(path, drafted(path)[1]) == []


def test_a_lost_sentence_is_noticed(root: Path) -> None:
    """The comparison itself can fail: take a sentence out of what was written."""
    path = SOURCES[-1]
    _, folder = results.drafted(path, root, "Trigger finger")
    assert results.lost(path, folder) == []
    step = next(folder.glob("steps/*tourniquet*.md"))
    step.write_text(step.read_text(encoding="utf-8").replace("Exsanguinate the arm", "Lift the arm"), encoding="utf-8")
    assert results.lost(path, folder) == ["Exsanguinate the arm and inflate the tourniquet"]


def test_the_talk_has_about_nine_hundred_words() -> None:
    spoken = (results.HERE / "sources" / "tracheostomy.txt").read_text(encoding="utf-8").split()
    assert 850 <= len(spoken) <= 1000
    assert sum(word.strip(",.").casefold() in results.FILLERS for word in spoken) >= 8


@pytest.mark.parametrize("path", ALL, ids=ids)
def test_draft_fits_the_schema_and_everything_in_it_is_proposed(path: Path, drafted: Callable[[Path], Drafted]) -> None:
    proposal, folder, root = drafted(path)
    library, findings = read(root)
    assert [one for one in findings if family(one) in ("files", "format", "names", "acceptances")] == []
    (procedure,) = library.procedures
    assert procedure.status == "draft"
    pages = [procedure, *procedure.steps.values(), *procedure.cautions.values(), *procedure.aftercare_items.values()]
    assert all(page.proposed for page in pages)
    assert all(action.proposed for step in procedure.steps.values() for action in step.actions)
    listed = {one.at.file for one in findings if one.name == "proposed-not-confirmed"}
    assert listed == {page.file for page in pages}
    assert {step.title for step in proposal.steps} == {str(step.title) for step in procedure.steps.values()}
    assert (folder / "notes.md").is_file()
    assert folder.is_dir()


@pytest.mark.parametrize("path", ALL, ids=ids)
def test_check_asks_what_comes_next(path: Path, drafted: Callable[[Path], Drafted]) -> None:
    proposal, _, root = drafted(path)
    sheet = ask(read(root)[0])
    asked = sheet[sheet.index("# A new procedure") :].count("\n### ")
    missing = [step.id for step in proposal.steps if f"steps/{step.id}.md" not in sheet]
    assert asked == 25 or (asked < 25 and not missing)
    assert len(missing) < len(proposal.steps) / 4
    assert "What do you see, feel or hear" in sheet


@pytest.mark.parametrize("path", ALL, ids=ids)
def test_same_source_gives_the_same_draft(path: Path, drafted: Callable[[Path], Drafted], root: Path) -> None:
    _, folder = results.drafted(path, root, "A new procedure")
    assert fingerprint(folder) == fingerprint(drafted(path)[1])


@pytest.mark.parametrize("path", ALL, ids=ids)
def test_nothing_is_invented(path: Path, drafted: Callable[[Path], Drafted]) -> None:
    """Every word of every proposed text stands in the source; every name in an action, in a catalogue."""
    proposal, _, root = drafted(path)
    library = build(load(root, TODAY))[0]
    said = {word for line in results._lines(path) for word in results.words(line)}
    named = {
        word for one in (library.structures, library.items) for name in one.names() for word in results.words(name)
    }
    texts = [text for step in proposal.steps for text in (step.title, *step.body, step.cue, step.if_not, step.why)]
    texts += [text for one in proposal.cautions for text in (one.hazard, one.consequence, one.avoid, one.if_it_happens)]
    texts += [text for one in proposal.aftercare for text in (one.title, *one.body)]
    strange = {word for text in texts for word in results.words(text)} - said - SMALL_WORDS
    # `Opening the trachea` is titled `Open the trachea`, and `clip out` becomes `Remove the clip`.
    strange -= {*FORMS, "the", "patient"}
    assert {word for word in strange if f"{word}ing" not in said and f"{word[:-1]}ing" not in said} == set()
    for action in (action for step in proposal.steps for action in step.actions):
        if action.verb not in ("count", "tell"):
            assert all(library.structures.find(one) or library.items.find(one) for one in action.objects)
            assert {word for one in action.objects for word in results.words(one)} <= named


def _holds(path: Path, name: str) -> bool:
    raw = path.read_bytes()
    if not zipfile.is_zipfile(path):
        return name.encode() in raw
    with zipfile.ZipFile(path) as packed:
        return any(name.encode() in packed.read(part) for part in packed.namelist())


@pytest.mark.parametrize("path", [one for one in SOURCES if one.suffix in (".docx", ".pptx", ".vtt")], ids=ids)
def test_no_name_of_a_writer_or_speaker_comes_along(path: Path, drafted: Callable[[Path], Drafted]) -> None:
    assert _holds(path, AUTHOR), "a source without the name would prove nothing"
    _, folder, _ = drafted(path)
    for file in folder.rglob("*"):
        if file.is_file():
            raw = file.read_bytes()
            for word in AUTHOR.split():
                assert word.encode() not in raw
            assert path.name.encode() not in raw


def test_picture_is_made_anew_and_what_was_cropped_is_gone(drafted: Callable[[Path], Drafted]) -> None:
    proposal, folder, root = drafted(results.HERE / "sources" / "hydrocele.pptx")
    (picture,) = folder.glob("figures/*")
    assert picture.name == "picture-1.png"
    with Image.open(BytesIO(picture.read_bytes())) as shown:
        shown.load()
        assert not shown.info
        assert not shown.getexif()
        assert shown.size[0] == pytest.approx(640 * 2 / 3, abs=2)
        # The green of the part that was cropped away stands nowhere.
        colours = [colour for _, colour in shown.getcolors(1_000_000) or []]
        assert all(not (green > 80 and red < 60) for red, green, _ in colours)
    step = next(one for one in proposal.steps if one.pictures)
    assert step.title == "Free the sac"
    front = yaml.safe_load((folder / "steps" / f"{step.id}.md").read_text(encoding="utf-8").split("---\n")[1])
    assert front["figure"] == [{"file": "picture-1.png", "alt": "The sac held up between two fingers"}]
    wanted = {one.name for one in read(root)[1] if family(one) == "figures"}
    assert wanted == {
        "figure-without-credit",
        "figure-without-consent",
    }  # credit and consent: only the educator knows them


def test_broken_picture_is_left_out_and_named(root: Path) -> None:
    from drafts.hostile import repacked

    raw = (results.HERE / "sources" / "hydrocele.pptx").read_bytes()
    with zipfile.ZipFile(BytesIO(raw)) as packed:
        name = next(one for one in packed.namelist() if "/media/" in one)
    path = root.parent / "slides.pptx"
    path.write_bytes(repacked(raw, {name: b"no picture at all"}))
    _, folder = results.drafted(path, root, "Hydrocele")
    assert not (folder / "figures").exists()
    assert "the picture at slide 7 cannot be read as a picture" in (folder / "notes.md").read_text(encoding="utf-8")


def test_time_of_each_step_is_kept(drafted: Callable[[Path], Drafted]) -> None:
    """Each step of the talk begins where the cue with its first words begins."""
    proposal, _, root = drafted(results.HERE / "sources" / "tracheostomy.vtt")
    text = (results.HERE / "sources" / "tracheostomy.vtt").read_text(encoding="utf-8")
    starts = {
        ("first step is"): 1, "The second step": 2, "The third step": 3, "step four": 4, "The fifth step": 5,
        "The eighth step": 8,
    }  # fmt: skip
    pages = read(root)[0].procedures[0].steps
    for words, number in starts.items():
        before = text[: text.index(words)]
        hours, minutes, seconds = re.findall(r"(\d\d):(\d\d):(\d\d)\.\d{3} -->", before)[-1]
        assert hours == "00"
        step = proposal.steps[number - 1]
        assert step.heard_at == f"{int(minutes)}:{seconds}"
        page = pages[step.id]
        assert page.heard_at == step.heard_at


def test_misheard_names_are_shown_and_not_corrected_in_the_words(drafted: Callable[[Path], Drafted]) -> None:
    proposal, folder, _ = drafted(results.HERE / "sources" / "central-line.srt")
    heard = {(one.words, one.name) for one in proposal.misheard}
    assert {("karotid artery", "carotid artery"), ("lidocane", "lidocaine")} <= heard
    kept = (folder / "notes.md").read_text(encoding="utf-8")
    assert 'heard "karotid artery", meant "carotid artery"?' in kept
    step = (folder / "steps" / f"{proposal.steps[3].id}.md").read_text(encoding="utf-8")
    assert "inject: lidocaine" in step
    assert "lidocane" in step


def test_warning_with_what_comes_of_it_and_what_to_do() -> None:
    text = (
        "1. Open the skin. Never cut deep. Otherwise the nerve is gone. If it bleeds, press on it and call.\n"
        "2. Close the skin.\n"
    )
    (caution,) = propose("Cut", source_of("a.md", text.encode()), library()).cautions
    assert caution.avoid == "Never cut deep."
    assert caution.hazard == "Not said yet."
    assert caution.consequence == "Otherwise the nerve is gone."
    assert caution.if_it_happens == "If it bleeds, press on it and call."
    assert caution.guards == ("open-skin",)


@pytest.mark.parametrize(
    ("sentence", "actions"),
    [
        ("We divide the appendix with scissors.", [("divide", "appendix")]),
        ("The appendix is divided.", [("divide", "appendix")]),
        ("Never divide the appendix.", []),
        ("Do not divide the appendix yet.", []),
        ("Here we do not lift the caecum up and divide the appendix.", []),
        ("If you divide the appendix, stop.", []),
        ("Once you have divided the appendix, look at the caecum.", [("inspect", "caecum")]),
        ("Before dividing the appendix, count the swabs.", [("count", "swabs")]),
        ("You could divide the appendix.", []),
        ("You are about to divide the appendix.", []),
        ("Cut the skin.", [("open", "skin")]),
        ("Cut the appendicular artery.", [("divide", "appendicular artery")]),
        ("Release the A1 pulley.", [("divide", "A1 pulley")]),
        ("Take out the appendix.", [("excise", "appendix")]),
        ("Take the swab out.", [("remove", "radio-opaque swab")]),
        ("Leave a suction drain in the peritoneal cavity.", [("place", "suction drain")]),
        ("Wash the abscess cavity with saline.", [("irrigate", "saline")]),
        ("Infiltrate the skin with lidocaine.", [("inject", "lidocaine")]),
        ("Put a clip on it.", []),
        ("Put artery forceps on the appendicular artery.", [("clamp", "appendicular artery")]),
        ("Identify the caecum, the appendix and the skin.", [("identify", "caecum", "appendix", "skin")]),
        ("Tell the scrub nurse that the line is in.", [("tell", "scrub nurse")]),
        ("The cut is long and the clip is near the caecum.", []),
        ("Open the apendix.", [("open", "appendix")]),
    ],
)  # fmt: skip
def test_actions_of_a_sentence(sentence: str, actions: list[tuple[str, ...]]) -> None:
    proposal = propose("Try", source_of("a.md", f"1. Begin here.\n2. {sentence}\n".encode()), library())
    assert [(one.verb, *one.objects) for one in proposal.steps[1].actions] == actions


def test_what_is_announced_and_then_done_is_one_action_where_it_is_done() -> None:
    text = "1. Opening the skin. Place a silk suture. Then open the skin with the scalpel.\n2. Close the skin.\n"
    first = propose("Try", source_of("a.md", text.encode()), library()).steps[0]
    assert [(one.verb, *one.objects, *one.more) for one in first.actions] == [
        ("place", "silk suture", ("stays", True)), ("open", "skin", ("with", "scalpel blade")),
    ]  # fmt: skip


def test_what_aftercare_takes_out_stays() -> None:
    text = "1. Place a suction drain.\n2. Close the skin.\n\nAftercare: the suction drain comes out after 2 days.\n"
    proposal = propose("Try", source_of("a.md", text.encode()), library())
    assert proposal.steps[0].actions[0].more == (("stays", True),)
    (item,) = proposal.aftercare
    assert (item.concerns, item.until) == ("suction drain", "2 days")


def test_words_that_are_in_no_catalogue_are_proposed_with_what_is_done_to_them(root: Path) -> None:
    text = "1. Divide the frondiform ligament.\n2. Put in rung forceps.\n3. Excise the zonk.\n"
    library = build(load(root, TODAY))[0]
    proposal = propose("Try", source_of("a.md", text.encode()), library)
    shown = {one.words: one.near for one in proposal.not_understood}
    assert {"frondiform ligament", "rung forceps", "zonk"} <= set(shown)
    assert "ring-tipped forceps" in shown["rung forceps"]
    said = [(one.verb, *one.objects) for step in proposal.steps for one in step.actions]
    assert said == [("divide", "frondiform ligament"), ("excise", "zonk")]
    kept = catalogue_pages(proposal)["content/catalogue/structures-proposed-try.yml"]
    assert "- {id: frondiform-ligament, name: frondiform ligament, kind: ligament}" in kept
    assert "frondiform" not in notes(proposal).partition("copy it to")[2]


def test_what_is_left_open_becomes_an_option_a_choice_or_a_preference(root: Path) -> None:
    path = root.parent / "a.md"
    path.write_text(
        "1. Open the skin. It is thin here. If there is pus, I leave a suction drain in the abscess cavity. "
        "Either you tie the appendix or you clip it.\n"
        "2. Close the skin. It holds. I personally use a silk suture.\n",
        encoding="utf-8",
    )
    _, folder = results.drafted(path, root, "Try")
    sequence = yaml.safe_load((folder / "procedure.md").read_text(encoding="utf-8").split("---\n")[1])["sequence"]
    first, option, choice, last = sequence
    assert (first, last) == ("open-skin", "close-skin")
    assert (option["option"]["when"], option["option"]["steps"]) == ("If there is pus", ["place-suction-drain"])
    assert choice["choose"]["between"] == {"tie-appendix": ["tie-appendix"], "clip-appendix": ["clip-appendix"]}
    assert results.lost(path, folder) == []
    library, findings = read(root)
    assert [one for one in findings if family(one) in ("files", "format", "names")] == []
    (procedure,) = library.procedures
    assert str(procedure.steps["place-suction-drain"].actions[0].objects[0]) == "suction drain"
    assert procedure.steps["close-skin"].basis == "preference"


def test_another_organ_is_no_mishearing() -> None:
    """What differs has to sound alike: the rest of a name is the same in a hundred names."""
    index = SoundIndex(["suspensory ligament of the ovary", "cystic duct", "common bile duct"])
    assert index.heard("Divide the suspensory ligament of the thyroid.", []) == []
    heard = index.heard("Clip the cistic duct, and see the common vile duct.", [])
    assert [(one.heard, one.name) for one in heard] == [
        ("cistic duct", "cystic duct"), ("common vile duct", "common bile duct"),
    ]  # fmt: skip


def test_short_forms_are_shown_with_what_they_mean(tmp_path: Path) -> None:
    text = "1. Feel the right iliac fossa (RIF).\n2. Ask for an ECG and a VTE check.\n"
    library = build(load(new_base(tmp_path), TODAY))[0]
    proposal = propose("Try", source_of("a.md", text.encode()), library)
    found = {one.short: one.long for one in proposal.abbreviations}
    assert found["RIF"] == "right iliac fossa"
    assert found["ECG"] == ""


def test_patient_named_in_a_source_is_pointed_out(root: Path) -> None:
    text = "1. Open the skin of Mr Johnson.\n2. Close the skin.\n"
    path = root.parent / "a.md"
    path.write_text(text, encoding="utf-8")
    proposal, _ = results.drafted(path, root, "Try")
    assert proposal.persons == ("patient name at line 1: Mr …",)
    assert "name-of-person" in {one.name for one in read(root)[1]} or any(
        family(one) == "identity" for one in read(root)[1]
    )


def test_patient_named_in_the_notes_is_found_by_check(root: Path) -> None:
    path = root.parent / "a.txt"
    path.write_text("Seen with Mrs Johnson last week.\n\n1. Open the skin.\n2. Close the skin.\n", encoding="utf-8")
    results.drafted(path, root, "Try")
    found = [one for one in read(root)[1] if family(one) == "identity"]
    assert [one.at.file for one in found] == [f"content/procedures/try/{name}" for name in ("notes.md", "told.yml")]


@pytest.mark.slow
def test_a_long_talk_is_drafted_in_the_time_that_its_length_takes(root: Path) -> None:
    lines = (results.HERE / "sources" / "tracheostomy.txt").read_text(encoding="utf-8").splitlines()
    library = build(load(root, TODAY))[0]

    def work(times: int) -> Callable[[], object]:
        text = "\n".join(
            f"[{number}:00] {line}" for number, line in enumerate(lines * times) if "thank" not in line.casefold()
        )
        source = source_of("a.md", text.encode())
        return lambda: propose("Long", source, library)

    work(1)()  # the names of a Library are read once
    assert_steps_grow_with_size(work, 2)
    assert read_source(results.HERE / "sources" / "trigger-finger.md").name == "trigger-finger.md"

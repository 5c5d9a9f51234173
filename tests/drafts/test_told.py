"""What a reader decides sentence by sentence: where the words go, that none is lost, and that the file says so."""

from __future__ import annotations

import shutil
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from department import lay, read
from gallbladder import TALK, drafted_in
from publishing import made_once

from builder.compose.reading.reading_view import meanings_of
from builder.draft.heard_names import names_of
from builder.draft.made_actions import counted
from builder.draft.proposal import Proposal, ProposedEntry
from builder.draft.told_answers import accepted, meant, named, pages_accepted, said_instead, short_for, sure
from builder.draft.told_desk import Desk
from builder.draft.told_file import Told, ToldSentence, read_told, told_text
from builder.draft.told_places import makes_sense, told_of
from builder.draft.told_steps import joined, one_or_other, only_sometimes, ordered, sequence_ids
from builder.draft.told_uses import Use, action_added, action_dropped, moved, split
from builder.draft.told_words import guessed
from builder.edit.file_change import CannotEdit
from builder.edit.forms.form_files import FormEdit, FormFolder
from builder.facts.counts import categories
from builder.load.files import open_file, walk
from builder.load.told.draft_source import Source, SourceForm
from builder.model.library import Library
from builder.write.writer import undo, write_files

BASE = Path(__file__).parents[1] / "base"
HOME = "content/procedures/gallbladder"


class Room:
    """A draft of the talk, and its desk as it stands now."""

    def __init__(self, root: Path) -> None:
        self.root = root

    @property
    def library(self) -> Library:
        return read(self.root)[0]

    @property
    def desk(self) -> Desk:
        names = frozenset(f"content/{name}" for name, _ in walk(self.root / "content"))
        return Desk(FormFolder(names, partial(open_file, self.root)), "gallbladder")

    def number(self, words: str) -> int:
        return next(at for at, one in enumerate(self.desk.told.sentences) if words in one.text)

    def page(self, words: str) -> str:
        return self.desk.told.sentences[self.number(words)].page

    def keep(self, edit: FormEdit) -> None:
        write_files(self.root, edit.changes, edit.label)

    @property
    def order(self) -> list[str]:
        return list(sequence_ids(self.desk.data("procedure.md")["sequence"]))

    def all_text(self) -> dict[str, str]:
        return {path.name: path.read_text(encoding="utf-8") for path in sorted((self.root / HOME).rglob("*.*"))}


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The draft, made once."""
    return made_once(tmp_path_factory, "drafted-talk", drafted_in)


@pytest.fixture
def room(drafted: Path, tmp_path: Path) -> Room:
    return Room(Path(shutil.copytree(drafted, tmp_path / "department")))


def test_every_sentence_is_told_once_in_order_and_its_page_has_its_words(room: Room) -> None:
    told = room.desk.told
    spoken = [line for line in TALK.read_text().splitlines() if line[:1].isupper() and line != "WEBVTT"]
    assert [sentence.text for sentence in told.sentences] == spoken
    for sentence in told.sentences:
        assert not sentence.page or sentence.text.rstrip(".") in " ".join(room.desk.text(sentence.page).split())
    assert told.misheard["cistic duct"] == "cystic duct"


def test_what_was_told_is_read_back_as_it_was_written() -> None:
    sentences = (ToldSentence("0:01", 'He said: "no" — 5 % {x} # y', "steps/a.md", "cue", True), ToldSentence("", "é"))
    told = Told(sentences, {"a: b": "c"}, ("yes", "1.0"))
    assert read_told(told_text(told)) == told
    with pytest.raises(CannotEdit):
        read_told("[]")


def test_a_warning_that_was_taken_for_a_step_becomes_a_caution_and_the_step_goes(room: Room) -> None:
    page, before = room.page("great danger"), room.page("You must see two")
    number = room.number("great danger")
    room.keep(moved(room.desk, room.library, Use(number, "caution", before)))
    room.keep(moved(room.desk, room.library, Use(number + 1, "consequence", before)))
    assert not (room.root / HOME / page).exists()
    caution = room.desk.data(room.page("great danger"))
    assert caution["hazard"] == "The great danger is cutting the common bile duct."
    assert caution["consequence"] == "It makes the patient jaundiced and needs a second operation."
    assert room.page("great danger") == room.page("jaundiced")
    assert not any("cannot" in finding.message for finding in read(room.root)[1] if "order" in finding.message)


def test_moving_there_and_back_leaves_every_page_as_it_was(room: Room) -> None:
    before = room.all_text()
    number, page = room.number("Place three clips"), room.page("Place three clips")
    other = room.page("take the gallbladder off")
    room.keep(moved(room.desk, room.library, Use(number, "does", other)))
    assert {"clamp": "cystic artery", "with": "clips", "number": "3", "proposed": "true"} not in room.desk.data(page)[
        "actions"
    ]
    assert "Place three clips" in room.desk.prose(other)
    undo(room.root)
    assert room.all_text() == before


def test_a_sentence_that_was_reworded_travels_as_the_module_has_it(room: Room) -> None:
    page = room.page("white sheet")
    path = room.root / HOME / page
    path.write_text(path.read_text().replace("as a thin white sheet", "as a white film"))
    room.keep(moved(room.desk, room.library, Use(room.number("white sheet"), "why", page)))
    assert "cue" not in room.desk.data(page)
    assert room.desk.data(page)["why"] == "You should see the peritoneum as a white film."


def test_what_a_reader_wrote_without_the_talk_stays_where_it_is(room: Room) -> None:
    page = room.page("white sheet")
    path = room.root / HOME / page
    path.write_text(path.read_text().replace("You should see the peritoneum as a thin white sheet.", "It is pale."))
    room.keep(moved(room.desk, room.library, Use(room.number("white sheet"), "why", page)))
    assert room.desk.data(page)["cue"] == "It is pale."
    assert room.desk.data(page)["why"] == "You should see the peritoneum as a thin white sheet."


def test_selected_words_make_a_part_and_their_sentence_stays(room: Room) -> None:
    number, page = room.number("Grasp the fundus"), room.page("Grasp the fundus")
    room.keep(moved(room.desk, room.library, Use(number, "caution", page, "push it over the liver")))
    assert "push it over the liver" in " ".join(text for name, text in room.all_text().items() if "push" in name)
    assert "Grasp the fundus" in room.desk.prose(page)
    room.keep(moved(room.desk, room.library, Use(number, "name", page, "the fundus", "structures:viscus")))
    assert room.library.structures.find("fundus") is not None
    room.keep(moved(room.desk, room.library, Use(number, "action", page, "Expose the fundus with a forceps")))
    assert any("expose" in action and action["expose"] == "fundus" for action in room.desk.data(page)["actions"])


@pytest.mark.parametrize("role", ["option", "choice", "step", "aftercare", "before", "indication", "error"])
def test_every_use_of_words_gives_pages_that_can_be_read(room: Room, role: str) -> None:
    number, page = room.number("press with a swab"), room.page("press with a swab")
    room.keep(moved(room.desk, room.library, Use(number, role, page)))
    assert [one for one in read(room.root)[1] if "cannot be read" in one.message or "not a key" in one.message] == []
    assert "press with a swab" in " ".join(room.all_text().values())
    assert room.page("press with a swab")
    assert room.desk.told.sentences[number].is_read


def test_a_step_is_split_and_joined_again(room: Room) -> None:
    before, number = room.order, room.number("Then place clips on the cystic duct")
    room.keep(split(room.desk, room.library, number))
    new = room.page("Then place clips on the cystic duct")
    assert len(room.order) == len(before) + 1
    assert new != room.page("Divide the cystic artery with scissors")
    assert "Then place clips" in room.desk.prose(new)
    room.keep(joined(room.desk, new))
    assert room.order == before
    assert "Then place clips" in room.desk.prose(room.page("Divide the cystic artery with scissors"))
    with pytest.raises(CannotEdit, match="first"):
        split(room.desk, room.library, room.number("Step five"))


def test_steps_are_put_in_another_order_and_into_ways(room: Room) -> None:
    first, second, third = (f"steps/{id}.md" for id in room.order[:3])
    room.keep(ordered(room.desk, first, third, behind=True))
    assert room.order[:3] == [Path(page).stem for page in (second, third, first)]
    room.keep(ordered(room.desk, first, second, behind=False))
    room.keep(only_sometimes(room.desk, second, "The belly was opened before."))
    room.keep(one_or_other(room.desk, room.page("Remove the gallbladder through"), ""))
    assert [
        one.name for one in read(room.root)[1] if one.at.file.endswith("procedure.md") and "sequence" in one.name
    ] == []
    room.keep(ordered(room.desk, second, third, behind=True))
    assert room.order[:3] == [Path(page).stem for page in (first, third, second)]


def test_a_step_is_read_when_its_last_sentence_is(room: Room) -> None:
    page = room.page("You should see the peritoneum")
    numbers = room.desk.told.on(page)
    for number in numbers:
        assert "proposed" in room.desk.data(page)
        room.keep(accepted(room.desk, number))
    assert "proposed" not in room.desk.text(page)
    room.keep(pages_accepted(room.desk, [room.page("Divide the cystic artery with")]))
    assert all(
        room.desk.told.sentences[one].is_read for one in room.desk.told.on(room.page("Divide the cystic artery with"))
    )


def test_a_mishearing_is_asked_once_and_mended_everywhere(room: Room) -> None:
    room.keep(meant(room.desk, room.library, "cistic duct", "cystic duct"))
    assert "cistic" not in " ".join(
        text for name, text in room.all_text().items() if name not in ("told.yml", "notes.md")
    )
    assert "cistic duct" not in room.desk.told.misheard
    assert "cistic duct" in room.desk.told.sentences[room.number("Step four")].text, "what was heard stays"
    words = room.desk.told.unknown[0]
    room.keep(named(room.desk, room.library, words, ""))
    assert words not in room.desk.told.unknown


def test_a_mishearing_is_mended_in_the_head_of_the_module_and_in_what_is_laid_out(room: Room) -> None:
    number, step = room.number("Step four"), room.page("Divide the peritoneum")
    room.keep(moved(room.desk, room.library, Use(number, "before", step)))
    room.keep(moved(room.desk, room.library, Use(number, "option", step, "Open the cistic duct")))
    desk = room.desk
    desk.put("procedure.md", "kit", {"cistic duct": "1"})
    room.keep(desk.done("laid out"))
    room.keep(meant(room.desk, room.library, "cistic duct", "cystic duct"))
    assert room.desk.data("procedure.md")["kit"] == {"cystic duct": "1"}
    assert "over the cystic duct" in str(room.desk.data("procedure.md")["before_you_start"])
    assert "cistic duct" not in room.desk.text("procedure.md")
    assert room.desk.told.meant == {"cistic duct": "cystic duct"}


def test_a_mishearing_that_stands_nowhere_keeps_its_question_and_says_why(room: Room) -> None:
    for path in sorted((room.root / HOME).rglob("*/*.md")):
        path.write_text(path.read_text().replace("cistic duct", "second tube"))
    with pytest.raises(CannotEdit, match="the module says “cistic duct” nowhere any more"):
        meant(room.desk, room.library, "cistic duct", "cystic duct")
    assert "cistic duct" in room.desk.told.misheard


def test_a_name_that_was_meant_begins_a_sentence_with_a_capital(room: Room) -> None:
    desk = room.desk
    desk.put(page := room.page("Divide the peritoneum"), "why", "Cistic duct below. The cistic duct tears.")
    room.keep(desk.done("said"))
    room.keep(meant(room.desk, room.library, "cistic duct", "cystic duct"))
    assert room.desk.data(page)["why"] == "Cystic duct below. The cystic duct tears."


def test_an_answered_mishearing_never_comes_back_when_its_sentence_moves(room: Room) -> None:
    room.keep(meant(room.desk, room.library, "cistic duct", "cystic duct"))
    number, page = room.number("Step four"), room.page("Step four")
    room.keep(moved(room.desk, room.library, Use(number, "why", room.page("Grasp the fundus"))))
    room.keep(moved(room.desk, room.library, Use(number, "caution", page, "over the cistic duct")))
    words = [text for name, text in room.all_text().items() if name not in ("told.yml", "notes.md")]
    assert "cistic" not in " ".join(words)
    assert sum("over the cystic duct" in text for text in words) == 2


def test_a_split_step_takes_the_corrected_words_along_and_says_nothing_twice(room: Room) -> None:
    number, page = room.number("Then place clips on the cystic duct"), room.page("Then place clips on the cystic duct")
    room.keep(pages_accepted(room.desk, [page]))
    path = room.root / HOME / page
    path.write_text(
        path.read_text().replace("Then place clips on the cystic duct", "Put clips on the wide cystic duct")
    )
    actions = room.desk.data(page)["actions"]
    room.keep(split(room.desk, room.library, number))
    new = room.page("Then place clips on the cystic duct")
    assert "wide cystic duct" in room.desk.prose(new)
    assert "cystic duct" not in room.desk.prose(page)
    assert "Then place" not in room.desk.text(new)
    assert [*room.desk.data(page)["actions"], *room.desk.data(new)["actions"]] == actions, "none is lost, new or twice"
    assert all("duct" in str(action) for action in room.desk.data(new)["actions"])
    assert "cystic duct" not in str(room.desk.data(page)["actions"])


def test_what_was_told_later_than_the_cut_goes_to_the_new_step(room: Room) -> None:
    cut, page = room.number("Divide the cystic artery with"), room.page("Divide the cystic artery with")
    for number in (cut - 1, cut + 1):
        room.keep(moved(room.desk, room.library, Use(number, "caution", page)))
    desk = room.desk
    desk.add(page, ("actions",), {"count": ["needles"]})
    room.keep(desk.done("counted"))
    earlier, later = (room.desk.told.sentences[number].page for number in (cut - 1, cut + 1))
    room.keep(split(room.desk, room.library, cut))
    new = room.page("Divide the cystic artery with")
    assert room.desk.data(earlier)["guards"] == [Path(page).stem]
    assert room.desk.data(later)["guards"] == [Path(new).stem]
    assert {"count": ["needles"]} in room.desk.data(new)["actions"]


def test_no_leftover_of_a_mishearing_stays_beside_a_name_of_the_catalogue(room: Room) -> None:
    desk, page = room.desk, room.page("Divide the peritoneum")
    desk.put(page, "actions", [{"open": "eye cistic duct"}, {"count": ["cistic duct clips"]}])
    room.keep(desk.done("as a talk is heard"))
    room.keep(meant(room.desk, room.library, "cistic duct", "cystic duct"))
    assert room.desk.data(page)["actions"] == [{"open": "cystic duct"}, {"count": ["cystic duct clips"]}]


def test_a_new_step_begins_with_a_sentence_that_was_taken_for_a_warning(room: Room) -> None:
    number, page = room.number("Be careful not to plunge"), room.page("cut the skin below")
    assert room.page("Be careful").startswith("cautions/")
    room.keep(split(room.desk, room.library, number))
    new = room.page("Be careful")
    assert new.startswith("steps/")
    assert new != page
    assert "Be careful not to plunge" in room.desk.prose(new)
    assert not any("plunge" in room.desk.text(f"cautions/{id}.md") for id in room.desk.taken("cautions"))


def test_what_is_told_of_a_caution_that_only_its_step_names_goes_to_that_caution(room: Room) -> None:
    number, page = room.number("Be careful not to plunge"), room.page("cut the skin below")
    caution, desk = room.page("Be careful"), room.desk
    desk.put(caution, "guards", [])
    desk.put(page, "cautions", [Path(caution).stem])
    room.keep(desk.done("named by the step alone"))
    room.keep(moved(room.desk, room.library, Use(number - 1, "if_it_happens", page)))
    assert room.desk.told.sentences[number - 1].page == caution
    assert room.desk.data(caution)["if_it_happens"] == "If you do not, stop and call me."


def test_the_only_sentence_of_what_is_done_sometimes_moves_and_its_way_goes(room: Room) -> None:
    number, page, other = room.number("leave a drain"), room.page("leave a drain"), room.page("Grasp the fundus")
    room.keep(moved(room.desk, room.library, Use(number, "prose", other)))
    assert not room.desk.has(page)
    assert Path(page).stem not in room.order
    assert "Some people leave a drain" in room.desk.prose(other)


def test_what_was_answered_of_an_action_travels_and_what_was_taken_out_does_not_come_back(room: Room) -> None:
    number, page = room.number("Then place clips on the cystic duct"), room.page("Then place clips on the cystic duct")
    desk = room.desk
    (at,) = [at for at, one in enumerate(desk.data(page)["actions"]) if one.get("clamp") == "cystic duct"]
    desk.put(page, "actions", [one | {"number": "3"} for one in desk.data(page)["actions"]])
    room.keep(desk.done("answered"))
    room.keep(sure(room.desk, page, str(at)))
    answered = room.desk.data(page)["actions"][at]
    assert (answered["number"], "proposed" in answered) == ("3", False)
    other = room.page("take the gallbladder off")
    room.keep(moved(room.desk, room.library, Use(number, "does", other)))
    assert answered in room.desk.data(other)["actions"]
    gone = room.desk.data(other)["actions"].index(answered)
    room.keep(action_dropped(room.desk, other, str(gone)))
    room.keep(moved(room.desk, room.library, Use(number, "does", page)))
    assert not any(one.get("clamp") == "cystic duct" for one in room.desk.data(page)["actions"])


def test_a_sentence_is_put_right_as_it_was_said_wherever_the_module_has_it(room: Room) -> None:
    heard = "Divide the peritoneum with the hook."
    page, small = room.page(heard), room.page("Then open the linea alba between two")
    room.keep(said_instead(room.desk, room.library, heard, "Divide the serosa with the hook."))
    assert "Divide the serosa with the hook" in room.desk.prose(page)
    assert room.desk.told.as_meant("You should see the peritoneum.") == "You should see the serosa."
    heard = "Then open the linea alba between two clamps."
    room.keep(said_instead(room.desk, room.library, heard, heard.replace("two", "to")))
    assert "between to clamps" in room.desk.prose(small)
    assert room.desk.told.as_meant("You must see two structures.") == "You must see two structures."
    room.keep(said_instead(room.desk, room.library, "over the cistic duct", "over the common duct"))
    assert "cistic duct" not in room.desk.told.misheard, "what was corrected is asked no more"
    with pytest.raises(CannotEdit, match="as they were heard"):
        said_instead(room.desk, room.library, heard, heard)


def test_an_action_whose_thing_no_sentence_names_is_a_guess(room: Room) -> None:
    desk, page = room.desk, room.page("Place three clips")
    desk.add(page, ("actions",), {"tie": "liver", "proposed": "true"})
    desk.add(page, ("actions",), {"clamp": "liver"})
    room.keep(desk.done("as a pronoun is read"))
    actions = room.library.by_id["gallbladder"].steps[Path(page).stem].actions
    found = guessed(room.desk.told, names_of(room.library), page, actions)
    guesses = {at: (actions[at].verb.value, str(actions[at].objects[0])) for at in found}
    assert set(guesses.values()) == {("tie", "liver"), ("clamp", "bile duct")}, (
        "not what a person wrote, nor what is said"
    )
    at = next(at for at, guess in guesses.items() if guess[0] == "tie")
    assert "cystic artery" in found[at]
    room.keep(sure(room.desk, page, str(at), "cystic artery"))
    assert room.desk.data(page)["actions"][at] == {"tie": "cystic artery"}


def test_what_is_meant_to_stay_is_not_left_in(room: Room) -> None:
    page = room.page("close the skin")
    for name, kind in (("wool dressing", "dressing"), ("mesh", "implant"), ("small pack", "pack")):
        chosen = {"verb": "place", "object": name, "kind": f"items:{kind}"}
        room.keep(action_added(room.desk, room.library, page, chosen))
    placed = {one["place"]: one.get("stays") for one in room.desk.data(page)["actions"] if "place" in one}
    assert placed == {"wool dressing": "true", "mesh": "true", "small pack": None}


@pytest.mark.parametrize("heard", ["He's on", "There's a vein", "a patient", "in case", "carries on", "stamp on"])
def test_plain_words_are_no_mishearing(heard: str) -> None:
    assert makes_sense(heard)


@pytest.mark.parametrize("heard", ["limb attics", "pro fun dear", "men is cuss", "tea band", "a jakular", "spine all"])
def test_words_that_say_nothing_plain_are_asked_about(heard: str) -> None:
    assert not makes_sense(heard)


def test_a_sentence_of_the_kit_is_laid_out_and_what_is_unknown_is_asked(room: Room) -> None:
    desk, step = room.desk, room.page("Grasp the fundus")
    number = room.number("Make sure there is blood saved")
    laid_out = desk.data("procedure.md").get("kit") or {}
    words = "Kit: three small swabs, a skin blade and two bendy wangles, a five oh nylon suture."
    desk.told = desk.told.changed([number], text=words)
    room.keep(desk.done("as it was told"))
    room.keep(moved(room.desk, room.library, Use(number, "kit", step)))
    assert room.desk.data("procedure.md")["kit"] == {
        **laid_out,
        "small swab": "3",
        "skin blade": "1",
        "nylon suture": "1",
    }
    assert (room.page("three small swabs"), room.desk.told.sentences[number].role) == ("procedure.md", "kit")
    assert any("wangles" in name for name in room.desk.told.unknown)


@pytest.mark.parametrize(
    ("words", "title"),
    [
        ("Before the last three stitches, we flush", "Flush"),
        ("I go straight down over it, about ten centimetres", "Go straight down over it"),
        (
            "The cystic duct comes off the back, usually low down",
            "The cystic duct comes off the back, usually low down",
        ),
        ("So next you open the sheath, and you go up till you see the ligament", "Open the sheath"),
        ("If it floats, tack it, two or three stitches", "Tack it"),
    ],
)
def test_a_new_step_is_titled_by_what_its_sentence_orders_in_its_own_words(room: Room, words: str, title: str) -> None:
    number = room.number("Grasp the fundus")
    room.keep(moved(room.desk, room.library, Use(number, "step", room.page("Grasp the fundus"), words)))
    page = room.desk.told.sentences[number].page
    assert title in {room.desk.data(f"steps/{id}.md")["title"] for id in room.order}, page


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (
            "Swabs, needles, blades, slings and bulldogs, the bulldogs are left behind",
            "swabs needles blades slings bulldogs",
        ),
        ("Patties, sharps, forceps and mosquitos", "swabs needles forceps mosquitos"),
        ("Scalpels and instruments", "blades instruments"),
    ],
)
def test_what_is_counted_keeps_its_own_word_and_is_understood(words: str, names: str) -> None:
    (count,) = counted(words)
    assert count.objects == tuple(names.split())
    assert all(categories(name, None) for name in count.objects)


def test_a_short_name_is_asked_about_and_becomes_a_name_of_what_is_meant(room: Room) -> None:
    page = room.page("Grasp the fundus")
    entry = "- {id: profunda, name: profunda, kind: vessel}\n- {id: sheath-flap, name: sheath flap, kind: fascia}\n"
    catalogue = room.root / "content/catalogue/structures-proposed-gallbladder.yml"
    catalogue.write_text(entry)
    desk = room.desk
    desk.add(page, ("actions",), {"clamp": "profunda"})
    desk.told = replace(desk.told, unknown=("profunda",))
    room.keep(desk.done("clamped"))
    assert meanings_of(room.library, "profunda") == ("profunda brachii artery", "deep artery of thigh")
    assert meanings_of(room.library, "tube") == ("uterine tube", "endotracheal tube", "passive tube drain")
    lay(room.root, {"content/catalogue/items-proposed-gallbladder.yml": "- {id: tube, name: tube, kind: catheter}\n"})
    assert meanings_of(read(room.root)[0], "tube") == ("endotracheal tube", "passive tube drain")
    (room.root / "content/catalogue/items-proposed-gallbladder.yml").unlink()
    room.keep(short_for(room.desk, room.library, "profunda", "deep artery of thigh"))
    meant = room.library.structures.find("profunda")
    assert meant is not None
    assert (str(meant.name), meant.paired) == ("deep artery of thigh", True), (
        "what the common catalogue knows of it holds"
    )
    assert room.library.structures.find("profunda femoris") == meant, "its other names stay"
    assert room.desk.told.unknown == ()
    room.keep(short_for(room.desk, room.library, "deep one", "deep artery of thigh"))
    assert room.library.structures.find("deep one") == room.library.structures.find("profunda")
    assert catalogue.read_text().count("deep-artery-of-thigh") == 1
    room.keep(short_for(room.desk, room.library, "bipolar", "bipolar forceps"))
    assert room.library.items.find("bipolar") == room.library.items.find("bipolar forceps")


def test_a_name_for_more_than_one_thing_is_asked_about_even_where_it_is_proposed() -> None:
    proposal = Proposal(
        "x",
        "X",
        SourceForm.TALK,
        "surgery",
        ("A", "owner"),
        entries=(ProposedEntry("profunda", "vessel", True), ProposedEntry("flake", "device", False)),
    )
    assert told_of(proposal, Source(SourceForm.TALK, ()), []).unknown == ("profunda",)

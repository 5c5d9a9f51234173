"""What is read out of a spoken sentence: phrases, doings, what pronouns mean, titles, parting ways, mishearings."""

from __future__ import annotations

from functools import cache

import pytest

from builder.draft import propose
from builder.draft.actions import ReadSentence, TalkReader
from builder.draft.aftercare import times_said
from builder.draft.heard_names import CatalogueNames
from builder.draft.parting_ways import way_of
from builder.draft.sounds import likeness, sound
from builder.draft.titles import step_title
from builder.load.folder import load
from builder.load.learned_weights import file_of
from builder.load.told.source_file import source_of
from builder.model.build import build
from drafts import results
from drafts.labelled import FOLDER, talks
from drafts.learn_doings import learned, taught_by_all
from drafts.measure_actions import Measure


@cache
def names() -> CatalogueNames:
    return CatalogueNames(build(load(results.DEPARTMENT, results.TODAY))[0])


def read(*sentences: str, role: str = "do") -> ReadSentence:
    """Read sentences one after the other; return what the last one says."""
    reader = TalkReader(names())
    return [reader.read(sentence, role) for sentence in sentences][-1]


def told(*sentences: str, role: str = "do") -> list[tuple[str, ...]]:
    return [(action.verb, *action.objects) for action in read(*sentences, role=role).actions]


@pytest.mark.parametrize(
    ("sentence", "actions"),
    [
        ("I cut the cystic duct.", [("divide", "cystic duct")]),
        ("The cystic duct is clamped, then divided.", [("clamp", "cystic duct"), ("divide", "cystic duct")]),
        ("The cystic duct gets a tie.", [("tie", "cystic duct")]),
        ("My assistant ties the cystic duct.", [("tie", "cystic duct")]),
        ("Speculum out.", [("remove", "speculum")]),
        ("Put a stay through the peritoneum.", [("place", "stay"), ("suture", "peritoneum")]),
        ("Stay on the gallbladder.", []),
        ("The swab's off.", [("remove", "radio-opaque swab")]),
        ("A suction drain goes into the peritoneal cavity.", [("place", "suction drain")]),
        ("Out comes the guidewire.", [("remove", "guidewire")]),
        ("Two clips on the cystic artery.", [("clamp", "cystic artery")]),
        ("Peritoneum with a running stitch, then skin.", [("close", "peritoneum", "skin")]),
        ("I find the cystic duct, which I tie.", [("identify", "cystic duct"), ("tie", "cystic duct")]),
        ("I don't tie the cystic duct.", []),
        ("You could tie the cystic duct.", []),
        ("If it bleeds, tie the cystic artery.", []),
        ("I wash the pelvis with saline.", [("irrigate", "saline")]),
        ("Exsanguinate the arm and inflate the tourniquet.", [("place", "pneumatic tourniquet")]),
        ("Deflate the tourniquet.", [("remove", "pneumatic tourniquet")]),
        ("The cuff is taken right off.", []),
    ],
)  # fmt: skip
def test_what_is_plainly_done(sentence: str, actions: list[tuple[str, ...]]) -> None:
    assert told(sentence) == actions


def test_pronouns_and_short_names_mean_what_was_named_before() -> None:
    assert told("I find the cystic duct.", "I tie it and cut.") == [("tie", "cystic duct"), ("divide", "cystic duct")]
    assert told("I find the cystic duct.", "The duct is tied.") == [("tie", "cystic duct")]
    assert told("Tie it.") == []


@pytest.mark.parametrize(
    "sentence",
    [
        "There's a thing that crosses in front, and I divide that.",
        "A strip of something comes up here, and I tie it.",
        "The wrinkle at the back is cut.",
    ],
)
def test_what_is_done_for_good_reaches_back_over_nothing_that_was_named_since(sentence: str) -> None:
    """Common sense of speech: a pronoun means what was spoken of last, though we have no name for that."""
    before = "I find the cystic duct."
    assert not [done for done in told(before, sentence) if "cystic duct" in done]
    assert ("divide", "cystic duct") in told(before, "I divide it.")


def test_a_short_name_means_what_the_operation_is_about() -> None:
    reader = TalkReader(names(), "Excision of the submandibular gland")
    read = [reader.read(sentence, role="do") for sentence in ("Tie the duct.", "Divide the facial artery.")]
    assert [one.actions[0].objects for one in read] == [("submandibular duct",), ("facial artery",)]


def test_a_name_that_is_whole_means_itself() -> None:
    """An accessory spleen, looked for and named before, is not taken out in place of the spleen (fact of the trade)."""
    assert ("excise", "spleen") in told("Look for an accessory spleen.", "Excise the spleen.")


def test_a_pronoun_means_what_its_own_sentence_named() -> None:
    found = told("I find the cystic duct.", "The cystic artery shows up as you lift it, and I tie it with a tie.")
    assert ("tie", "cystic artery") in found
    assert ("tie", "cystic duct") not in found


def test_what_comes_off_a_vessel_by_nature_is_not_taken_out() -> None:
    assert told("The cystic artery comes off the right hepatic artery, behind the duct.") == []
    assert told("The gallbladder comes off the liver.") == [("excise", "gallbladder")]


def test_what_warns_or_leaves_open_is_no_action() -> None:
    for role in ("danger", "if-not", "alternative", "why"):
        assert told("I tie the cystic duct.", role=role) == []


def test_a_new_name_is_proposed_with_its_kind() -> None:
    found = read("I divide the left frondiform ligament and put in a zonk retractor.")
    assert [(thing.name, thing.is_structure, thing.kind) for thing in found.new] == [
        ("frondiform ligament", True, "ligament"), ("zonk retractor", False, "retractor"),
    ]  # fmt: skip
    assert found.actions[0].more == (("side", "left"),)


@pytest.mark.parametrize(
    ("sentence", "title"),
    [
        ("Step four, the cystic duct is clamped.", "Clamp the cystic duct"),
        ("Stage eight, guidewire.", "Place the guidewire"),
        ("Step two. Speculum out.", "Remove the speculum"),
        ("Stage four, incision.", "Incise the skin"),
        ("She goes flat on her back with the legs apart.", "Position the patient"),
        ("Next.", ""),
    ],
)
def test_titles_are_instructions_with_their_object(sentence: str, title: str) -> None:
    assert step_title([read(sentence, role="begin")]) == title


@pytest.mark.parametrize(
    ("sentence", "kind"),
    [
        ("Either you tie the duct or you clip it.", "choice"),
        ("If there is pus, leave a drain.", "option"),
        ("Some leave out the drain.", "option"),
        ("I personally like a running stitch.", "preference"),
        ("The duct is white.", ""),
    ],
)
def test_where_the_way_parts(sentence: str, kind: str) -> None:
    way = way_of(sentence, read(sentence, role="alternative"))
    assert (way.kind if way else "") == kind


def test_what_sounds_alike_is_found_and_what_is_right_is_not() -> None:
    said = {
        (heard.heard, heard.name)
        for heard in names().heard("Then the frantic nerve, and die a thermy on the duo denim.")
    }
    assert ("die a thermy", "diathermy") in said
    assert {"duodenum"} <= {name for _, name in said}
    assert names().heard("I tie a suture round the cystic duct and hold the drain.") == []
    assert likeness(sound("rick current"), sound("recurrent")) == 1
    assert likeness(sound("clip"), sound("suture")) < 0.5


def test_the_labelled_talks_that_were_kept_apart() -> None:
    """Not below what was reached when this was written; the aim is higher."""
    measure = Measure(build(load(results.DEPARTMENT, results.TODAY))[0], hears=False)
    for talk in talks(FOLDER / "apart"):
        measure.add(talk)
    counts = measure.counts
    assert counts["titles that instruct"] >= 0.9 * counts["titles"]
    assert counts["titles right"] >= 0.4 * counts["titles"]
    assert counts["actions right"] >= 0.38 * counts["actions"]
    assert counts["proposed right"] >= 0.8 * counts["proposed"]
    assert counts["ways right"] >= 0.7 * counts["ways"]


@pytest.mark.slow
def test_weights_of_doings_follow_from_the_labels() -> None:
    """A changed label, feature, verb of the trade or name of the catalogue needs ``make drafts``."""
    for what, text in zip(("doing", "title"), learned(taught_by_all().values()), strict=True):
        assert file_of(what).read_text(encoding="utf-8") == text, what


@pytest.mark.parametrize(
    ("said", "times"),
    [
        ("Skin stitches out at five days.", ("5 days", "")),
        ("Nothing heavier than a kettle for six weeks.", ("", "6 weeks")),
        ("Antibiotics five days and then stop.", ("", "5 days")),
        ("The pack comes out on the second or third day.", ("2 days", "")),
        ("Catheter out on day five.", ("5 days", "")),
        ("Clips out at fourteen, film at two, six and twelve weeks.", ("14 days", "")),
        ("Stitches out at ten to fourteen days.", ("10 days", "")),
        ("A film at two, six and twelve weeks.", ("2 weeks", "")),
        ("Home the same evening, head up, no blowing for ten days.", ("0 h", "10 days")),
        ("She walks the next morning.", ("1 day", "")),
        ("Anti-D within seventy-two hours.", ("", "72 h")),
        ("Clinic in a fortnight.", ("2 weeks", "")),
        ("Irrigation till it runs clear.", ("", "it runs clear")),
        ("Toes felt every two hours.", ("", "")),
        ("Paracetamol four times a day.", ("", "")),
        ("Half an hour flat.", ("", "")),
    ],
)
def test_times_of_aftercare_as_they_are_said(said: str, times: tuple[str, str]) -> None:
    assert times_said(said) == times


PROSE = (
    "First we cut over the abscess with a blade. Then we let the pus out and wash the cavity with saline. "
    "Never cut deep, the artery is close. Then we put in a drain and dress the wound."
)


@pytest.mark.parametrize("name", ["a.md", "a.txt"])
def test_prose_that_tells_first_and_then_is_read_as_if_it_were_spoken(name: str) -> None:
    library = build(load(results.DEPARTMENT, results.TODAY))[0]
    proposal = propose("Drain an abscess", source_of(name, PROSE.encode()), library)
    assert [step.title for step in proposal.steps] == ["Open the abscess", "Wash the cavity", "Place the drain"]
    assert [caution.guards for caution in proposal.cautions] == [(proposal.steps[1].id,)]
    said = " ".join(sentence.text for sentence in proposal.told.sentences)
    assert said == PROSE

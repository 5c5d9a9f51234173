"""Facts that checks and outputs rest on, each asked by itself: a slip there would show far away, or nowhere."""

from __future__ import annotations

import pytest
from department import BASE, Overlay, read

from builder.check.rules import translated_texts
from builder.facts.anatomy import Anatomy
from builder.facts.counts import INSTRUMENTS, categories
from builder.facts.gap_questions import QUESTIONS
from builder.facts.imperatives import stem
from builder.facts.staff import PersonName, person_name
from builder.model.action import action
from builder.model.library import Library
from builder.place import Text


@pytest.fixture(scope="module")
def library() -> Library:
    return read(BASE)[0]


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Dr Ada Mary Example", PersonName("dr", ("ada", "mary"), "example")),
        ("Example, Ada", PersonName("", ("ada",), "example")),
        ("Example", PersonName("", (), "example")),
    ],
)
def test_a_name_is_read_in_its_parts(written: str, name: PersonName) -> None:
    assert person_name(written) == name


@pytest.mark.parametrize(("other", "same"), [("A. Example", True), ("Example", True), ("Bea Example", False)])
def test_an_initial_or_nothing_may_stand_for_a_given_name_but_no_other_name(other: str, same: bool) -> None:
    assert person_name("Ada Example").is_same(person_name(other)) is same


def test_what_has_no_category_of_its_own_is_counted_with_the_instruments(library: Library) -> None:
    retractor = library.items.find("self-retaining retractor")
    assert categories("self-retaining retractor", retractor) == (INSTRUMENTS,)
    assert categories("swabs", None) == ("swabs",)
    assert categories("self-retaining retractor", None) == ()


@pytest.mark.parametrize(
    ("cue", "asked"), [(None, True), ("Adequate.", True), ("The nerve is seen along its whole length.", False)]
)
def test_a_cue_is_asked_for_where_there_is_none_that_can_be_seen(
    cue: str | None, asked: bool, library: Library
) -> None:
    step = library.procedures[0].steps["open-canal"].model_copy(update={"cue": cue})
    assert next(question for question in QUESTIONS if question.key == "cue").is_open(step) is asked


@pytest.mark.parametrize(
    ("verb", "using", "cuts"),
    [
        ("open", "skin blade", True),
        ("open", "dissecting scissors", True),
        ("open", "self-retaining retractor", False),
        ("remove", "skin blade", False),
        ("release", "dissecting scissors", False),
    ],
)
def test_only_an_opening_with_what_cuts_is_a_cut(verb: str, using: str, cuts: bool, library: Library) -> None:
    item = Anatomy(library).cut_with(action(verb, "inguinal canal", using=[Text(using)]))
    assert (item is not None) is cuts


def test_a_relation_that_is_set_aside_names_structures_of_the_catalogue(overlay: Overlay) -> None:
    procedure = "content/procedures/example/procedure.md"
    text = (BASE / procedure).read_text("utf-8")
    set_aside = "not_close:\n  - {structure: thin air, to: moonlight, because: Neither is there.}\nkit:\n"
    _, findings = read(overlay({procedure: text.replace("kit:\n", set_aside, 1)}))
    unknown = [found.message for found in findings if found.name == "structure-unknown"]
    assert unknown == [f"'{name}' is not in the catalogue of structures" for name in ("thin air", "moonlight")]


@pytest.mark.parametrize(
    ("word", "verb"), [("ties", "tie"), ("cuts", "cut"), ("closing", "close"), ("clipped", "clip")]
)
def test_a_form_of_a_verb_is_known(word: str, verb: str) -> None:
    assert stem(word) == verb


LONG = "".join(f"{number:04}" for number in range(100))


@pytest.mark.parametrize(
    ("changed_at", "shown"),
    [(0, f"'{LONG[:160]}…'"), (200, f"'…{LONG[140:300]}…'"), (399, f"'…{LONG[240:]}'")],
)
def test_of_a_long_sentence_what_stands_around_its_change_is_shown(changed_at: int, shown: str) -> None:
    assert translated_texts._short(LONG, changed_at) == shown

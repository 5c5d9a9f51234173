"""Roles of sentences: what ships was learned from the labels and is read as it was learned."""

from __future__ import annotations

from itertools import pairwise, product
from math import exp

import pytest

from builder.draft.sentence_roles import SaidRole, chances_of, roles_of
from builder.load.learned_weights import file_of, parsed
from drafts.labelled import FIRST, ROLES, talks
from drafts.learn_roles import broken, given_roles, learned, left_out, measured

EVERY = list(talks())
FEW = EVERY[:6]


def test_roles_are_those_of_the_labels() -> None:
    assert tuple(role.value for role in SaidRole) == ROLES
    assert parsed(file_of("role").read_text(encoding="utf-8")).labels == ROLES


def test_weights_are_the_same_each_time_they_are_learned() -> None:
    weights = learned(FEW)
    assert weights == learned(FEW)
    assert weights != learned(EVERY[1:7])
    assert weights.splitlines()[1:] == sorted(weights.splitlines()[1:])


@pytest.mark.slow
def test_weights_that_ship_follow_from_the_labels() -> None:
    """A changed label, feature or verb of the trade needs ``make drafts``."""
    assert file_of("role").read_text(encoding="utf-8") == learned([*EVERY, *talks(FIRST)])


@pytest.mark.slow
def test_what_is_learned_holds_for_operations_left_out() -> None:
    """Not less than was reached when it was learned; what two people agree on is printed by ``make drafts``."""
    given = left_out(EVERY, list(talks(FIRST)))
    assert sum(
        one.role == role for talk in EVERY for one, role in zip(talk.sentences, given[talk.name], strict=True)
    ) >= 0.69 * sum(len(talk.sentences) for talk in EVERY)
    assert any(line.startswith("cautions found at the right step: 6") for line in measured(EVERY, given))


def test_how_likely_a_role_is_follows_from_every_sequence() -> None:
    """Every sequence of a few sentences is tried; forward and backward gives what all of them give."""
    own = [[120, -40, 10], [0, 90, -200], [35, 20, 60], [-10, 5, 150]]
    after = [[30, -80, 0], [-20, 60, 40], [10, 0, -90]]
    every = list(product(range(3), repeat=4))

    def weight(roles: tuple[int, ...]) -> float:
        said = sum(own[at][role] for at, role in enumerate(roles))
        return exp((said + sum(after[before][role] for before, role in pairwise(roles))) / 100)

    whole = sum(map(weight, every))
    for at, chances in enumerate(chances_of(own, after)):
        expected = [sum(weight(roles) for roles in every if roles[at] == role) / whole for role in range(3)]
        assert chances == pytest.approx(expected)


def test_what_warns_begins_no_step() -> None:
    """However a talk counts its dangers, a sentence that only warns is not the beginning of a step."""
    for said in ("Third, never cut what you have not seen.", "The danger here is the ureter, which is a finger away."):
        assert roles_of(["First I open the skin with a knife.", said, "Next I close the skin."])[1] is SaidRole.DANGER


def test_steps_that_are_known_begin_where_they_begin() -> None:
    texts = [one.said for one in FEW[0].sentences]
    roles = roles_of(texts, {0, 5, 9})
    assert [at for at, role in enumerate(roles) if role is SaidRole.BEGIN] == [0, 5, 9]
    assert not {SaidRole.OPENING, SaidRole.BEFORE, SaidRole.AFTERWARDS} & set(roles)


@pytest.mark.parametrize("said", ["", "…", "Go.", "ü 1.5 %", "a " * 3000])
def test_any_sentence_has_a_role(said: str) -> None:
    assert len(roles_of([said])) == 1
    assert len(roles_of([said] * 3)) == 3


def test_nothing_said_has_no_role() -> None:
    assert roles_of([]) == []


def test_no_sentence_is_lost_or_broken_in_subtitles() -> None:
    assert {talk.name: broken(talk) for talk in EVERY if broken(talk)} == {}


def test_what_is_not_whole_is_noticed() -> None:
    from dataclasses import replace

    first = FEW[0].sentences[0]
    cut = replace(FEW[0], sentences=(replace(first, said="Right. Now, dear"), *FEW[0].sentences[1:]))
    assert "Right. Now, dear" in broken(cut)


def test_labelled_talk_is_read_as_it_is_labelled() -> None:
    """The weights that ship have seen these talks; they cannot show how good they are, only that they are used."""
    for talk in FEW:
        right = sum(one.role == role for one, role in zip(talk.sentences, given_roles(talk), strict=True))
        assert right >= 0.85 * len(talk.sentences), talk.name

"""The labelled talks hold what they are for, and two labellers agree on them."""

from __future__ import annotations

from collections import Counter

from builder.draft.heard_names import CatalogueNames
from drafts.judged_titles import controls
from drafts.labelled import FOLDER, ROLES, talks
from drafts.measure_actions import library_of_test

EVERY = list(talks())
SECOND = list(talks(FOLDER / "second"))


def test_many_operations_in_many_manners() -> None:
    assert len({talk.head["operation"] for talk in EVERY}) == len(EVERY) >= 60
    assert sum(talk.words >= 900 for talk in EVERY) * 2 >= len(EVERY) - 2
    manners = [word.strip() for talk in EVERY for word in talk.head["manner"].split(",")]
    said = Counter(manners)
    for manner in ("announced", "not announced", "rambling", "terse", "dictation", "two speakers", "recogniser"):
        assert said[manner] >= 6, (manner, said)


def test_every_role_and_every_kind_of_action_is_there() -> None:
    roles = Counter(sentence.role for talk in EVERY for sentence in talk.sentences)
    assert all(roles[role] >= 60 for role in ROLES), roles
    marks = Counter(doing.mark for talk in EVERY for sentence in talk.sentences for doing in sentence.doings)
    assert min(marks[""], marks["!"], marks["?"]) >= 100
    assert sum("unsaid" in talk.head for talk in EVERY) >= 20
    assert sum(len(sentence.misheard) for talk in EVERY for sentence in talk.sentences) >= 150


def test_every_step_has_a_title_of_its_own() -> None:
    for talk in EVERY:
        titles = [sentence.title for sentence in talk.sentences if sentence.role == "begin"]
        assert len(titles) >= 5, talk.name
        assert all(2 <= len(title.split()) <= 10 for title in titles), (talk.name, titles)


def test_two_labellers_agree() -> None:
    """Cohen's kappa, from the definition (J. Cohen, Educational and Psychological Measurement 1960; 20: 37)."""
    first = {talk.name: talk for talk in EVERY}
    assert len(SECOND) >= 15
    pairs: Counter[tuple[str, str]] = Counter()
    for again in SECOND:
        before = first[again.name]
        assert [sentence.said for sentence in again.sentences] == [sentence.said for sentence in before.sentences]
        pairs.update((one.role, other.role) for one, other in zip(before.sentences, again.sentences, strict=True))
    total = pairs.total()
    agreed = sum(pairs[role, role] for role in ROLES) / total
    shares = [
        (sum(pairs[role, other] for other in ROLES) / total, sum(pairs[other, role] for other in ROLES) / total)
        for role in ROLES
    ]
    by_chance = sum(first_share * second_share for first_share, second_share in shares)
    assert (agreed - by_chance) / (1 - by_chance) >= 0.9


def test_a_second_labellers_titles_are_right_and_those_of_the_next_step_are_not() -> None:
    """The measure of titles asks neither for the words of the first labeller nor for less than the same doing."""
    right, moved = controls(CatalogueNames(library_of_test()))
    (same, of_same), (other, of_other) = (map(int, line.rpartition(" ")[2].split("/")) for line in (right, moved))
    assert same >= 0.85 * of_same
    assert other <= 0.15 * of_other

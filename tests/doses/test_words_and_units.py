"""Words of numbers and units mean what everybody means by them, in every table that reads them.

Against the order in which one counts, and the SI Brochure (9th edition): prefixes in table 7; minute, hour, day and
litre in table 8.
"""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from builder.facts.dose_amounts import amount_of
from builder.facts.dose_mentions import by_the_clock, how_often
from builder.facts.how_many import how_many
from builder.facts.quantities import MASSES, VOLUMES, exact
from builder.facts.times import nth_days, spans
from builder.facts.told_limits import limits_in

_WORDS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_NTH = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh")
COUNTING = {word: number for number, word in enumerate(_WORDS, 1)}
IN_TURN = {word: number for number, word in enumerate(_NTH, 1)} | {"tenth": 10}
PREFIXES = {"nano": -9, "n": -9, "micro": -6, "mc": -6, "µ": -6, "μ": -6, "u": -6, "milli": -3, "m": -3, "": 0, "k": 3}
LENGTHS_IN_MM = {"mm": 1, "cm": 10, "m": 1000}
TIMES_IN_S = {"second": 1, "minute": 60, "hour": 60 * 60, "h": 60 * 60, "day": 24 * 60 * 60, "week": 7 * 24 * 60 * 60}


@pytest.mark.parametrize(("word", "number"), [*COUNTING.items(), ("twelve", 12), ("twenty-four", 24)])
def test_a_number_in_words_before_hours_is_that_many(word: str, number: int) -> None:
    assert [span.hours for span in spans(f"for {word} hours")] == [number]


@pytest.mark.parametrize(("word", "number"), COUNTING.items())
def test_so_many_things_are_that_many(word: str, number: int) -> None:
    assert [one.number for one in how_many(f"Place {word} loose stitches in the skin.")] == [number]


@pytest.mark.parametrize("word", ["one", "two", "three", "four", "six", "eight", "twelve"])
def test_every_so_many_hours_are_that_many(word: str) -> None:
    (often,) = how_often(f"Take it every {word} hours.")
    assert often.hours == (COUNTING | {"twelve": 12})[word]


@pytest.mark.parametrize(("words", "hours"), [("each day", 24), ("every other day", 48), ("three times a day", 8)])
def test_an_interval_without_hours_has_them(words: str, hours: int) -> None:
    assert [often.hours for often in how_often(f"Take one tablet {words}.")] == [hours]


@pytest.mark.parametrize(
    ("words", "apart"),
    [
        ("at 8 a.m. and 8 p.m.", 12),
        ("at noon and 2 pm", 2),
        ("at 8.30 am and 2 pm", Fraction(11, 2)),
        ("at 7 am, 1 pm, 7 pm and 1 am", 6),
    ],
)
def test_hours_of_the_clock_are_so_far_apart(words: str, apart: Fraction) -> None:
    told = by_the_clock(words)
    assert told is not None
    assert told[0] == apart


@pytest.mark.parametrize(("word", "number"), IN_TURN.items())
def test_a_day_that_is_counted_ends_after_that_many_days(word: str, number: int) -> None:
    assert [span.hours for span in nth_days(f"Come on the {word} day.")] == [24 * number]


@pytest.mark.parametrize("unit", MASSES)
def test_a_mass_is_what_its_prefix_says(unit: str) -> None:
    prefix = re.sub(r"(?:grams?|gm|g)$", "", unit)
    assert MASSES[unit] == Fraction(10) ** (PREFIXES[prefix] + 3)


@pytest.mark.parametrize("unit", VOLUMES)
def test_a_volume_is_what_its_prefix_says(unit: str) -> None:
    milli = unit == "cc" or unit.startswith("m")
    assert VOLUMES[unit] == (1 if milli else 1000)


@pytest.mark.parametrize(("unit", "size"), [*LENGTHS_IN_MM.items(), *TIMES_IN_S.items()])
def test_a_limit_is_as_large_as_its_unit(unit: str, size: int) -> None:
    (limit,) = limits_in(f"Call if the wound gapes for more than 3 {unit}.")
    assert (limit.above, limit.size) == (True, 3 * size)


@pytest.mark.parametrize(
    ("words", "is_amount"),
    [("5 mg", True), ("5 mg/kg", False), ("a little", False), (f"5{' ' * 57}mg", True), (f"5{' ' * 58}mg", False)],
)
def test_an_amount_is_a_number_and_a_unit_of_at_most_60_characters(words: str, is_amount: bool) -> None:
    assert (amount_of(words) is not None) is is_amount


@pytest.mark.parametrize(
    ("number", "value"),
    [("1,250.5", Fraction(2501, 2)), ("1,25", None), ("9" * 24, 10**24 - 1), ("9" * 25, None)],
)
def test_a_number_is_read_exactly_or_not_at_all(number: str, value: Fraction | int | None) -> None:
    assert exact(number) == value

"""Doses in exact numbers, derived again by other code, and held against published arithmetic.

The doses here are test data. They are no advice, and no reader ever sees them.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor

import pytest
from department import Overlay, family, read
from hypothesis import given
from hypothesis import strategies as st

from builder.compose.view.procedure_view import view_of
from builder.facts.dose_amounts import amount_of, ceiling_of, strength_of
from builder.facts.dose_table import extra_lines, is_local_anaesthetic, limits, rows, sum_of_fractions
from builder.facts.quantities import plain_number
from builder.model.dose import Dose
from builder.place import Text


def dose(drug: str = "lidocaine", **parts: object) -> Dose:
    texts = {key: Text(part) if isinstance(part, str) else part for key, part in parts.items()}
    return Dose.model_validate({"drug": Text(drug), **texts})


def table(**parts: object) -> list[tuple[str, str]]:
    return [(row.weight, str(row)) for row in rows(dose(**parts))]


# Worked examples of oxfordmedicaleducation.com and rcemlearning.co.uk (read in stored copies); the rest is arithmetic.
WORKED = [
    ("1 %", "3 mg/kg", None, 70, "210 mg = 21 mL"),
    ("1 %", "7 mg/kg", None, 70, "490 mg = 49 mL"),
    ("1 %", "3 mg/kg", "200 mg", 70, "200 mg = 20 mL"),
    ("1 %", "7 mg/kg", "500 mg", 80, "500 mg = 50 mL"),
    ("2 %", "4.5 mg/kg", "300 mg", 70, "300 mg = 15 mL"),
    ("0.5 %", "2 mg/kg", None, 60, "120 mg = 24 mL"),
    ("0.25 %", "2 mg/kg", "150 mg", 80, "150 mg = 60 mL"),
    ("0.25 %", "2 mg/kg", None, 50, "100 mg = 40 mL"),
    ("0.75 %", "3 mg/kg", None, 70, "210 mg = 28 mL"),
    ("10 mg/mL", "15 mg/kg", None, 42, "630 mg = 63 mL"),
]


@pytest.mark.parametrize(("strength", "per_weight", "cap", "kilograms", "expected"), WORKED)
def test_worked_examples(strength: str, per_weight: str, cap: str | None, kilograms: int, expected: str) -> None:
    parts = {"strength": strength, "per_weight": per_weight, "weights": [str(kilograms)]}
    assert table(**parts, **({"cap": cap} if cap else {})) == [(f"{kilograms} kg", expected)]


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("0.25 %", "2.5 mg/mL"), ("0.5%", "5 mg/mL"), ("1 %", "10 mg/mL"), ("2 per cent", "20 mg/mL"),
        ("1 in 200,000", "5 micrograms/mL"), ("1:200 000", "5 micrograms/mL"), ("1:1000", "1 mg/mL"),
        ("50 mg in 10 mL", "5 mg/mL"), ("5000 units/mL", "5000 units/mL"), ("40 mg/0.4 mL", "100 mg/mL"),
        ("1 % with adrenaline 1 in 200,000", "10 mg/mL"), ("20 mmol/10 mL", "2 mmol/mL"),
    ],
)  # fmt: skip
def test_strengths_are_read(words: str, shown: str) -> None:
    assert str(strength_of(words)) == shown


@pytest.mark.parametrize("words", ["strong", "10 mg", "1", "% 1", "10 mg/kg", "0 mg/0 mL", ""])
def test_what_is_no_strength_is_not_read(words: str) -> None:
    assert strength_of(words) is None


@pytest.mark.parametrize(
    ("words", "shown"),
    [("1 g", "1 g"), ("500 micrograms", "500 micrograms"), ("500 mcg", "500 micrograms"), ("5,000 units", "5000 units"),
     ("10 000 units", "10,000 units"), (".5 mL", "0.5 mL"), ("10mg", "10 mg"), ("1.50 g", "1.5 g")],
)  # fmt: skip
def test_amounts_are_read(words: str, shown: str) -> None:
    assert str(amount_of(words)) == shown


@pytest.mark.parametrize("words", ["3 mg/kg", "3 mg per kg", "1.5 mL/kg", "75 units/kg"])
def test_ceilings_are_read(words: str) -> None:
    assert ceiling_of(words) is not None


@pytest.mark.parametrize("words", ["3 mg", "3 mg/mL", "3 mg/kg/day", "kg", "0.1 micrograms/kg/min"])
def test_what_is_no_ceiling_for_one_dose_is_not_read(words: str) -> None:
    assert ceiling_of(words) is None


# The same arithmetic written a second time: whole numbers of hundredths, and floor.


def again(percent: int, per_kg: int, cap: int, kilograms: int, step: int) -> tuple[Decimal, Decimal]:
    """Milligrams and millilitres; ``percent``, ``per_kg`` and ``step`` in hundredths."""
    most = min(Fraction(per_kg, 100) * kilograms, Fraction(cap))
    steps = floor(most / (Fraction(percent, 100) * 10) / Fraction(step, 100))
    volume = Decimal(steps * step) / 100
    return volume * percent / 10, volume


@given(
    percent=st.sampled_from([25, 50, 75, 100, 200]),
    per_kg=st.integers(10, 1500),
    cap=st.integers(50, 1000),
    kilograms=st.integers(3, 180),
    step=st.sampled_from([5, 10, 20, 50, 100, 500]),
)
def test_table_agrees_with_the_arithmetic_written_again(
    percent: int, per_kg: int, cap: int, kilograms: int, step: int
) -> None:
    drug = dose(
        strength=f"{Decimal(percent) / 100} %",
        per_weight=f"{Decimal(per_kg) / 100} mg/kg",
        cap=f"{cap} mg",
        weights=[str(kilograms)],
        draw_up=f"{Decimal(step) / 100} mL",
    )
    (row,) = rows(drug)
    milligrams, millilitres = again(percent, per_kg, cap, kilograms, step)
    assert row.dose is not None
    assert row.volume is not None
    assert row.volume.value == Fraction(millilitres)
    assert row.dose.value == Fraction(milligrams)
    assert row.dose.value <= Fraction(per_kg, 100) * kilograms
    assert row.dose.value <= cap
    # Rounded down, and by less than one step.
    assert Fraction(percent, 10) * (row.volume.value + Fraction(step, 100)) > min(
        Fraction(per_kg, 100) * kilograms, Fraction(cap)
    )


@given(st.fractions(min_value=Fraction(1, 10_000), max_value=10_000))
def test_any_number_can_be_told_and_what_is_cut_off_is_never_rounded_up(number: Fraction) -> None:
    about, _, shown = plain_number(number).rpartition("about ")
    told = Fraction(shown.replace(",", ""))
    assert (
        told == number if not plain_number(number).startswith("about ") else number * Fraction(99, 100) < told < number
    )
    assert about == ""


@given(st.decimals(min_value="0.001", max_value="99999", places=3))
def test_numbers_are_written_without_losing_anything(number: Decimal) -> None:
    shown = plain_number(Fraction(number))
    assert Fraction(shown.replace(",", "")) == Fraction(number)
    assert not shown.startswith(".")
    assert "." not in shown or not shown.endswith("0")


def test_bands_are_shown_with_what_they_hold() -> None:
    bands = [{"from": "40", "to": "49", "amount": Text("10 mL")}, {"from": "50", "to": "60", "amount": Text("12 mL")}]
    assert table(strength="0.5 %", bands=bands) == [("40 to 49 kg", "50 mg = 10 mL"), ("50 to 60 kg", "60 mg = 12 mL")]
    # RCOG Green-top Guideline 37a, as read in a secondary copy: enoxaparin by weight, as test data.
    bands = [{"from": "50", "to": "90", "amount": Text("40 mg")}, {"from": "91", "to": "130", "amount": Text("60 mg")}]
    assert table(drug="enoxaparin", strength="100 mg/mL", bands=bands) == [
        ("50 to 90 kg", "40 mg = 0.4 mL"),
        ("91 to 130 kg", "60 mg = 0.6 mL"),
    ]


def test_two_anaesthetics_share_one_limit() -> None:
    half = [(amount_of("100 mg"), amount_of("200 mg")), (amount_of("75 mg"), amount_of("150 mg"))]
    assert sum_of_fractions(half) == 1  # type: ignore[arg-type]  # both can be read
    assert is_local_anaesthetic("levobupivacaine")
    assert not is_local_anaesthetic("paracetamol")
    assert "Sources differ" in dict(extra_lines(dose(strength="1 %", cap="200 mg")))["Two together"]


def test_every_dose_says_what_it_does_not_cover() -> None:
    for one in (dose(), dose(not_covered="Children"), dose(not_covered="Children. Check your local formulary.")):
        said = limits(one)
        assert said.endswith("Check your local formulary.")
        assert said.count("formulary") == 1
    assert "kidney" in limits(dose()).casefold()
    assert "pregnancy" in limits(dose()).casefold()


def test_handout_shows_the_table_that_was_worked_out(overlay: Overlay) -> None:
    step = """---
title: Inject the local anaesthetic in layers
supervision: part
minutes: 3
actions:
  - inject: lidocaine
dose:
  drug: lidocaine
  strength: 1 %
  per_weight: 3 mg/kg
  cap: 200 mg
  weights: [50, 70]
  draw_up: 0.5 mL
  evidence: [hernia-nerve-management-2007]
cautions: [toxic-dose]
common_practice: true
---
Draw back before each push of the plunger.
"""
    library, _ = read(overlay({"content/procedures/example/steps/inject-local.md": step}))
    view = view_of(library, library.procedures[0])
    shown = next(one for block in view.blocks for one in _doses(block))
    assert shown.rows == (("50 kg", "150 mg = 15 mL"), ("70 kg", "200 mg = 20 mL"))
    assert ("That is", "10 mg/mL") in shown.lines
    assert shown.cites_html


def _doses(block: object) -> list[object]:
    branches = getattr(block, "branches", None)
    if branches is None:
        return list(block.doses)  # type: ignore[attr-defined]
    return [one for branch in branches for inner in branch.blocks for one in _doses(inner)]


# Planted slips, each in a department of its own.

HEAD = """---
title: Pain relief at home
when: {from: 0 h, until: 3 days}
"""
CEILING = "strength: 1 %, per_weight: 3 mg/kg"
GOOD = f"{CEILING}, cap: 200 mg, weights: [50, 60, 70]"


def two_bands(end: str, start: str, amount: str) -> str:
    return f"bands: [{{from: 40, to: {end}, amount: 10 mL}}, {{from: {start}, to: 60, amount: {amount}}}]"


SLIPS = [
    ("dose-above-ceiling", "tenfold", "lidocaine", "strength: 1 %, amount: 200 mL, cap: 200 mg"),
    ("dose-above-ceiling", "grams for milligrams", "paracetamol", "amount: 500 g, cap: 1 g"),
    ("dose-implausible", "tenfold without a cap", "paracetamol", "amount: 10 g"),
    ("dose-implausible", "micrograms for milligrams without a cap", "paracetamol", "amount: 500 micrograms"),
    ("dose-bands-gap", "band gap", "lidocaine", two_bands("49", "51", "12 mL")),
    ("dose-bands-gap", "half a kilogram", "lidocaine", two_bands("49.5", "50.5", "12 mL")),
    ("dose-bands-overlap", "band overlap", "lidocaine", two_bands("50", "50", "12 mL")),
    ("dose-without-cap", "missing cap", "lidocaine", f"{CEILING}, weights: [50]"),
    ("dose-jump", "jump", "lidocaine", two_bands("49", "50", "100 mL")),
    ("dose-jump", "weight with a zero too many", "lidocaine", "per_weight: 1 mg/kg, cap: 900 mg, weights: [50, 600]"),
    (
        "dose-kinds-differ",
        "units against milligrams",
        "lidocaine",
        "strength: 10 units/mL, per_weight: 3 mg/kg, cap: 200 mg",
    ),
    ("dose-unreadable", "no number", "lidocaine", "strength: 1 %, per_weight: three mg/kg, cap: 200 mg"),
]


def planted(drug: str, parts: str) -> dict[str, str]:
    dose = f"dose: {{drug: {drug}, {parts}, common_practice: true}}\n"
    return {"content/procedures/example/aftercare/planted.md": f"{HEAD}{dose}common_practice: true\n---\n"}


@pytest.mark.parametrize(("check", "slip", "drug", "parts"), SLIPS, ids=[f"{one[0]} {one[1]}" for one in SLIPS])
def test_slips_are_found(check: str, slip: str, drug: str, parts: str, overlay: Overlay) -> None:
    _, findings = read(overlay(planted(drug, parts)))
    assert check in {finding.name for finding in findings if finding.at.file.endswith("planted.md")}, slip


def test_a_good_dose_is_left_alone(overlay: Overlay) -> None:
    _, findings = read(overlay(planted("lidocaine", GOOD)))
    assert [finding.name for finding in findings if family(finding) == "doses"] == []

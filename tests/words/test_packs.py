"""The packs are data: every rule names its list, edition and the day it was read, and the two countries disagree."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
import yaml
from department import BASE, Overlay, family, read

import builder.check
from builder.findings.register import REGISTER
from builder.load.packs import fences, pack, pairings
from builder.load.sources.bibliography import read_sources

PACKS = Path(builder.check.__file__).parent / "packs"
DEPARTMENT = "content/department.md"


@pytest.mark.parametrize("name", ["uk", "us"])
def test_every_rule_names_a_list_with_edition_and_day(name: str) -> None:
    data = yaml.safe_load((PACKS / f"{name}.yml").read_text(encoding="utf-8"))
    names = REGISTER.keys()
    for one in data["lists"].values():
        assert one["title"]
        assert str(one["edition"])
        assert isinstance(one["read"], date)
        assert len(one["how"].split()) >= 2
    for section in ("units", "after_dose", "words", "forms"):
        for rule in data[section]:
            assert rule["list"] in data["lists"], rule
            assert rule["check"] in names
            assert rule["why"]
            assert rule.get("write") or rule.get("form")


@pytest.mark.parametrize("name", ["uk", "us"])
def test_nothing_is_wanted_that_the_same_pack_does_not_want(name: str) -> None:
    one = pack(name)
    for rules in (one.units, one.after_dose, one.words):
        for rule in rules.values():
            assert rule.write not in rules


def test_the_lists_do_not_agree_on_micrograms() -> None:
    assert pack("us").units["µg"].write == "mcg"
    assert pack("uk").units["mcg"].write == "micrograms"


@pytest.mark.parametrize(
    ("wording", "language", "expected"),
    [("uk", "en-GB", 0), ("us", "en-US", 0), ("us", "en-GB", 1), ("[uk, us]", "en-GB", 1), ("uk", "de-DE", 0)],
)
def test_packs_of_two_countries_are_reported(wording: str, language: str, expected: int, overlay: Overlay) -> None:
    text = (BASE / DEPARTMENT).read_text(encoding="utf-8")
    text = text.replace("wording: uk", f"wording: {wording}").replace("language: en-GB", f"language: {language}")
    _, findings = read(overlay({DEPARTMENT: text}))
    assert sum(finding.name == "wording-packs-in-conflict" for finding in findings) == expected


@pytest.mark.parametrize(
    ("wording", "text", "found"),
    [
        ("us", "Give 5 mg QD.", "directions-abbreviated"),
        ("us", "Give 5 mg q.o.d. with food.", "directions-abbreviated"),
        ("us", "Give MSO4 now.", "drug-name-abbreviated"),
        ("us", "Give 5 mg MS for pain.", "drug-name-abbreviated"),
        ("us", "Give 10 U now.", "unit-abbreviated"),
        ("us", "Draw up 5 ml.", "unit-abbreviated"),
        ("us", "Give 5000 units SC.", "directions-abbreviated"),
        ("us", "If > 5 mg is needed, call.", "notation-unclear"),
        ("us", "Give 1.0 mg.", "trailing-zero"),
        ("us", "Take 1/2 tablet.", "notation-unclear"),
        ("us", "Give 5 mg HS.", "directions-abbreviated"),
        ("us", "Give 50 mcg slowly.", ""),
        ("us", "The MS clinic helps.", ""),
        ("us", "Draw up 5 mL.", ""),
        ("us", "The lesion is 2.0 cm.", ""),
        ("us", "Give 5 mg at bedtime.", ""),
        ("uk", "Draw up 5 ml.", ""),
        ("uk", "Give 50 mcg slowly.", "unit-abbreviated"),
    ],
)
def test_each_pack_finds_its_own(wording: str, text: str, found: str, overlay: Overlay) -> None:
    language = "en-US" if wording == "us" else "en-GB"
    head = (BASE / DEPARTMENT).read_text(encoding="utf-8")
    head = head.replace("wording: uk", f"wording: {wording}").replace("en-GB", language)
    item = f"---\ntitle: Look after the wound\nwhen: {{from: 0 h}}\ncommon_practice: true\n---\n{text}\n"
    _, findings = read(overlay({DEPARTMENT: head, "content/procedures/example/aftercare/planted.md": item}))
    names = {finding.name for finding in findings if family(finding) == "notation"}
    assert names == ({found} if found else set())


def test_sources_of_the_pairing_rules_are_those_of_the_demo() -> None:
    file = Path(__file__).parents[2] / "references" / "sources.bib"
    known, _ = read_sources(file.read_text(encoding="utf-8"), "references/sources.bib")
    for rule in pairings():
        assert all(key in known for key in rule.evidence), rule.id


def test_fences_are_wide_and_in_order() -> None:
    for name, fence in fences().items():
        assert float(fence.high) >= 4 * float(fence.low), name
        assert re.fullmatch(r"mg|units", fence.unit)

"""The common catalogue against what was read elsewhere, and how a department's own lies over it.

``relations_read.json`` holds 292 relations of surgical anatomy, collected apart from the catalogue: for 236 of them the
passage of a printed or published work was read (103 of them in Gray, Anatomy of the Human Body, 20th US edition, 1918);
the rest are commonly taught.
"""

from __future__ import annotations

import json
import pickle
import re
from pathlib import Path

import pytest
from department import Overlay, read

from builder.findings.finding import Finding, Severity
from builder.load.common_files import common_rows
from builder.model import common_catalogue
from builder.model.catalogue import plain_name
from builder.model.pages import StructureKind

READ = json.loads((Path(__file__).parent / "relations_read.json").read_text(encoding="utf-8"))
LOCAL = "content/catalogue/structures-local.yml"
STEP = "content/procedures/womb/steps/operate.md"
PROCEDURE = """---
title: Tie the artery of the womb
specialty: gynaecology
edition: "1.0"
status: draft
owner: {name: Ada Example, role: consultant surgeon}
review_by: 2028-05-31
sequence: [operate]
common_practice: true
---
"""


def tying(name: str = "uterine artery", *, seen: str = "uterine artery") -> dict[str, str]:
    """Return a procedure in which one artery is tied."""
    step = f"---\ntitle: Tie it\nactions:\n  - identify: {seen}\n  - tie: {name}\ncommon_practice: true\n---\n"
    return {"content/procedures/womb/procedure.md": PROCEDURE, STEP: step}


def of_paths(root: Path) -> list[Finding]:
    """Return the findings that speak of names and of what is close to what."""
    names = {"neighbour-to-confirm", "neighbour-not-seen", "structure-unknown", "not-seen-before-cut", "key-missing"}
    return [finding for finding in read(root)[1] if finding.name in names]


# What it says


# Where the works name a side, a part or a wider thing, the catalogue has one entry.
CALLED = {
    "descending aorta": "thoracic aorta",
    "aorta": "abdominal aorta",
    "lateral border of left kidney": "kidney",
    "disc between fifth lumbar vertebra and sacrum": "intervertebral disc",
    "lumbar intervertebral discs": "intervertebral disc",
    "left lower intercostal nerves": "intercostal nerve",
    "dura mater": "spinal dura mater",
    "middle meningeal artery, dura mater": "cranial dura mater",
}


def called(name: str, beside: str = "") -> str:
    """Return the name that the catalogue has for ``name`` of a work that speaks of it ``beside`` another structure."""
    if common_catalogue.structures().find(name):
        return name
    plain = name.removeprefix("left ").removeprefix("right ")
    return CALLED.get(f"{beside}, {name}") or CALLED.get(name, plain)


def relations(structure: str, other: str) -> list[common_catalogue.Relation]:
    """Return the rows of two structures that are close to each other."""
    first, second = (
        common_catalogue.structures().find(called(structure)),
        common_catalogue.structures().find(called(other, structure)),
    )
    assert first is not None, structure
    assert second is not None, other
    pair = {first.id, second.id}
    return [
        row
        for row in common_catalogue.near()[first.id]
        if {entry.id for name in (row.of, row.close_to) if (entry := common_catalogue.structures().find(name))} == pair
    ]


@pytest.mark.parametrize("row", READ, ids=lambda row: f"{row['structure']}, {row['other'][0]}")
def test_every_relation_that_was_collected_is_there_with_its_passage(row: dict[str, object]) -> None:
    others = row["other"]
    assert isinstance(others, list)
    for other in others:
        rows = relations(str(row["structure"]), other)
        if row["seen"]:
            sources = {(source.work, source.year, str(held.words or "")) for held in rows if (source := held.source)}
            assert (row["work"], row["year"], row["words"]) in sources
        else:
            assert any(held.source is None for held in rows), "common practice names no source"


# On these the works that were read differ; what is said of them goes no further than what they share.
DISPUTED = [
    ("recurrent laryngeal nerve", "inferior thyroid artery"),
    ("lingual nerve", "lower third molar"),
    ("radial nerve", "shaft of humerus"),
    ("vertebral artery", "posterior arch of atlas"),
]


@pytest.mark.parametrize(("structure", "other"), DISPUTED)
def test_where_works_differ_no_side_is_taken(structure: str, other: str) -> None:
    rows = relations(structure, other)
    assert rows
    assert {str(row.how) for row in rows} == {"close to"}


def test_relations_count_both_ways_and_name_what_is_there() -> None:
    for row in common_rows("relations.json"):
        for name in (row["of"], row["close_to"]):
            assert common_catalogue.structures().find(name) is not None, name
        assert row["of"] != row["close_to"]
        assert ("words" in row) <= ("source" in row), "words without a work they were read in"
    for id, rows in common_catalogue.near().items():
        for row in rows:
            ends = [common_catalogue.structures().find(row.of), common_catalogue.structures().find(row.close_to)]
            assert all(end and row in common_catalogue.near()[end.id] for end in ends), id


def test_no_name_means_two_things() -> None:
    owner: dict[str, str] = {}
    for entry in (*common_catalogue.structures(), *common_catalogue.items()):
        for name in {plain_name(name) for name in (entry.id, entry.name, *entry.also)}:
            assert owner.setdefault(name, entry.id) == entry.id, name
    assert sorted(set(owner) & set(common_catalogue.may_be())) == []


@pytest.mark.parametrize("name", ["IMA", "cord", "profunda", "dura", "sigmoid", "facial", "strap muscle"])
def test_a_spoken_name_of_two_things_belongs_to_none(name: str) -> None:
    assert common_catalogue.structures().find(name) is None
    assert len(common_catalogue.may_be()[plain_name(name)]) >= 2


LAST_WORDS = {
    "artery": StructureKind.VESSEL,
    "vein": StructureKind.VESSEL,
    "nerve": StructureKind.NERVE,
    "ligament": StructureKind.LIGAMENT,
    "fascia": StructureKind.FASCIA,
}


def test_kinds_fit_the_names() -> None:
    """A name that ends in artery is a vessel, and so on (Terminologia Anatomica names by kind)."""
    fits = [
        (entry.name, entry.kind, LAST_WORDS[word])
        for entry in common_catalogue.structures()
        if (word := entry.name.split()[-1]) in LAST_WORDS and " and " not in entry.name
    ]
    assert len(fits) > 200
    assert [fit for fit in fits if fit[1] is not fit[2]] == []


def test_an_id_is_the_name() -> None:
    for entry in (*common_catalogue.structures(), *common_catalogue.items()):
        assert entry.id == re.sub(r"[^a-z0-9]+", "-", entry.name.casefold().replace("'", "")).strip("-")


def test_size_by_what_it_is_for() -> None:
    seen_first = [entry for entry in common_catalogue.structures() if entry.see_first]
    assert all(
        entry.kind in (StructureKind.NERVE, StructureKind.VESSEL, StructureKind.DUCT, StructureKind.VISCUS)
        for entry in seen_first
    )
    assert len(common_catalogue.structures()) > 700
    assert len(common_catalogue.items()) > 550
    assert len(common_catalogue.terms()) > 300


# How a department's own lies over it


def test_a_name_that_only_the_common_catalogue_has_is_known(overlay: Overlay) -> None:
    root = overlay(tying(seen="[ureter, uterine artery]"))
    assert of_paths(root) == []


def test_a_relation_nobody_confirmed_asks_and_never_blocks(overlay: Overlay) -> None:
    (finding,) = of_paths(overlay(tying()))
    assert (finding.name, finding.severity) == ("neighbour-to-confirm", Severity.WARNING)
    assert finding.at.file == STEP
    assert "the ureter has not been identified" in finding.message


def test_a_confirmed_relation_blocks(overlay: Overlay) -> None:
    (finding,) = of_paths(overlay(tying() | {LOCAL: "- {id: uterine-artery, close_to: [ureter]}\n"}))
    assert (finding.name, finding.severity) == ("neighbour-not-seen", Severity.ERROR)


@pytest.mark.parametrize(
    "written",
    [
        "- {id: uterine-artery, not_close_to: {ureter: The ureter is stented and held aside.}}\n",
        "- {id: ureter, not_close_to: {uterine artery: The ureter is stented and held aside.}}\n",
        "- {id: ureter, see_first: false}\n",
        "- {id: ureter, name: ureter, kind: duct, paired: true}\n",
        "- {id: uterine-artery, name: uterine artery, kind: vessel, paired: true}\n",
    ],
    ids=["switched off", "switched off from the other", "never seen first", "neighbour its own", "cut its own"],
)
def test_what_the_department_writes_goes_first(written: str, overlay: Overlay) -> None:
    assert of_paths(overlay(tying() | {LOCAL: written})) == []


def test_an_entry_that_is_switched_off_is_unknown(overlay: Overlay) -> None:
    root = overlay(tying() | {LOCAL: "- {id: uterine-artery, off: Nobody ties it here.}\n"})
    assert {finding.name for finding in of_paths(root)} == {"structure-unknown"}


def test_an_entry_without_kind_that_lies_over_nothing_lacks_it(overlay: Overlay) -> None:
    root = overlay({LOCAL: "- {id: our-own-layer, name: our own layer}\n"})
    assert [finding.name for finding in of_paths(root)] == ["key-missing"]


def test_a_name_of_two_things_is_asked(overlay: Overlay) -> None:
    (finding,) = of_paths(overlay(tying("IMA", seen="ureter")))
    assert finding.name == "structure-unknown"
    assert finding.message == "'IMA' can mean more than one thing"
    assert "inferior mesenteric artery" in finding.hint


def test_a_finding_leads_to_nothing_that_the_department_does_not_have(overlay: Overlay) -> None:
    step = "---\ntitle: Inject it\nactions:\n  - inject: bulb suction drain\ncommon_practice: true\n---\n"
    root = overlay(tying() | {STEP: step, LOCAL: "- {id: ureter, also: [uterus]}\n- {id: uterus}\n"})
    findings = read(root)[1]
    assert {"wrong-kind-of-object", "name-used-twice"} <= {finding.name for finding in findings}
    places = [place for finding in findings for place in (finding.at, *(second.at for second in finding.also))]
    assert [place for place in places if not (root / place.file).is_file()] == []


def test_another_process_gets_what_is_written_and_reads_the_rest_itself(overlay: Overlay) -> None:
    library, _ = read(overlay(tying()))
    sent = pickle.dumps(library.structures)
    assert b"chorda" not in sent
    assert pickle.loads(sent).find("ureter").name == "ureter"  # our own bytes


def test_only_what_is_of_the_wanted_kind_is_proposed(overlay: Overlay) -> None:
    step = "title: Look\nat_risk: [gauze]\nactions:\n  - inspect: skin\n    with: [gauze, loupe]\ncommon_practice: true"
    found = read(overlay(tying() | {STEP: f"---\n{step}\n---\n"}))[1]
    common = "Write a name of the common catalogue, or add yours to content/catalogue/"
    assert [(one.name, one.at.column, one.hint) for one in found if one.name.endswith("-unknown")] == [
        ("structure-unknown", 11, f"{common}structures.yml."),
        ("item-unknown", 12, "Write `small gauze swab`, `gauze dressing` or `paraffin gauze`."),
        ("item-unknown", 19, f"{common}items.yml."),
    ]

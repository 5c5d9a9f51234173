"""What rests on a source, how claims are covered, and what to review first."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import pytest
from department import TODAY, Overlay, read

from builder.check.table import CHECKS
from builder.commands.sources import register_text, source_text
from builder.compose.evidence.evidence_index import RESTING, cells, csv_of, resting_table
from builder.compose.evidence.evidence_pages import Evidence, EvidenceRow
from builder.compose.view.procedure_view import view_of
from builder.facts.claims import ClaimKind, claims, resting
from builder.facts.source_register import register
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library

PROJECT = Path(__file__).parents[2]
NERVE, ITEMS = "hernia-nerve-management-2007", "retained-items-risk-2003"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Library:
    root = tmp_path_factory.mktemp("demo")
    for folder in ("content", "references"):
        shutil.copytree(PROJECT / folder, root / folder)
    return read(root)[0]


def _without(text: str, key: str) -> str:
    """Return the .bib text without the entry ``key``: from its @ to the brace that closes it."""
    start = text.index(f"{{{key},")
    start = text.rindex("@", 0, start)
    depth = 0
    for end in range(text.index("{", start), len(text)):
        depth += {"{": 1, "}": -1}.get(text[end], 0)
        if depth == 0:
            return text[:start] + text[end + 1 :]
    raise AssertionError(f"{key} has no end")


@pytest.mark.slow
def test_removing_a_source_lists_every_place_it_held_up_and_no_other(demo: Library) -> None:
    held = resting(demo)
    cited = [key for key in demo.sources if key in held]
    assert len(cited) >= 10
    [rule] = [check for check in CHECKS if check.name == "source-unknown"]
    for key in cited:
        file = demo.root / demo.sources[key].key.at.file
        before = file.read_text(encoding="utf-8")
        file.write_text(_without(before, key), encoding="utf-8")
        try:
            found = list(rule.run(build(load(demo.root, TODAY))[0]))
        finally:
            file.write_text(before, encoding="utf-8")
        assert sorted(str(one.at) for one in found) == sorted(str(use.source.at) for _, use in held[key])
        assert all(repr(key) in one.message for one in found)


def test_every_citation_written_in_the_demo_is_a_use(demo: Library) -> None:
    """Counted in the text of the files, without our readers."""
    for key in demo.sources:
        written = sum(
            file.read_text(encoding="utf-8").count(key) for file in sorted((demo.root / "content").rglob("*.md"))
        )
        assert len(resting(demo).get(key, ())) == written, key


def test_uses_say_kind_words_place_and_procedure(base: Path) -> None:
    found = register(read(base)[0]).sources[NERVE].uses
    told = {(claim.kind, claim.id, use.locator, claim.procedures) for claim, use in found}
    assert (ClaimKind.CAUTION, "nerve-injury", "", ("example",)) in told
    assert (ClaimKind.STEP, "open-canal", "p. 17", ("example",)) in told


def test_a_shared_caution_belongs_to_the_procedures_that_use_it(base: Path) -> None:
    shared = [claim for claim in claims(read(base)[0]) if claim.at.file.startswith("content/shared/")]
    assert {claim.procedures for claim in shared} == {("example",)}


CAUTION = """---
signal: {signal}
hazard: A hazard of its own kind.
consequence: Harm is done.
avoid: Take care.
if_it_happens: Call for help.
call: consultant on call
guards: [open-canal]
{backing}
---
{body}
"""
STEP = "content/procedures/example/steps/open-canal.md"


@pytest.mark.parametrize(
    ("backing", "body", "bare"),
    [
        ("", "", True),
        ("evidence: []", "", True),
        ("common_practice: false", "", True),
        ("common_practice: true", "", False),
        (f"evidence: [{ITEMS}]", "", False),
        ("", f"As is known [p. 229](source:{ITEMS}).", False),
        ("", "See [the nerve](caution:nerve-injury).", True),
    ],
)
def test_a_caution_is_backed_by_a_source_or_common_practice(
    overlay: Overlay, backing: str, body: str, bare: bool
) -> None:
    text = CAUTION.format(signal="warning", backing=backing, body=body)
    _, findings = read(overlay({"content/procedures/example/cautions/own.md": text}))
    places = [str(one.at) for one in findings if one.name == "claim-without-source"]
    assert places == (["content/procedures/example/cautions/own.md:3:9"] if bare else [])


AFTERCARE = """---
title: Give a tablet
when: {{from: 0 h, until: 3 days}}
who: ward nurse
dose: {{drug: paracetamol, route: by mouth, amount: 1 g, every: 6 h{dose}}}
patient_text: Take your tablets.
{item}
---
"""


@pytest.mark.parametrize(
    ("dose", "item", "bare"),
    [
        ("", "", ["2:8", "5:14"]),
        (", common_practice: true", "", []),
        ("", "common_practice: true", []),
        (f", evidence: [{ITEMS}]", "", []),
        ("", f"evidence: [{ITEMS}]", []),
    ],
)
def test_an_aftercare_item_and_its_dose_back_each_other(
    overlay: Overlay, dose: str, item: str, bare: list[str]
) -> None:
    file = "content/procedures/example/aftercare/pain-relief.md"
    _, findings = read(overlay({file: AFTERCARE.format(dose=dose, item=item)}))
    assert [f"{one.at.line}:{one.at.column}" for one in findings if one.name == "claim-without-source"] == bare


def test_a_dose_in_a_step_needs_its_own_backing(base: Path) -> None:
    path = base / STEP
    text = path.read_text(encoding="utf-8")
    text = text.replace("evidence:\n", "dose: {drug: lidocaine, amount: 10 mL}\nevidence:\n")
    path.write_text(text, encoding="utf-8")
    _, findings = read(base)
    assert [one.message for one in findings if one.name == "claim-without-source"] == [
        "'dose of lidocaine' is a dose that no source backs"
    ]


def test_coverage_counts_each_kind(overlay: Overlay) -> None:
    text = CAUTION.format(signal="notice", backing="", body="")
    library, _ = read(overlay({"content/procedures/example/cautions/own.md": text}))
    told = {one.kind: one for one in register(library).coverage}
    caution = told[ClaimKind.CAUTION]
    assert (caution.bare, caution.all) == (1, caution.sourced + caution.common_practice + 1)
    assert set(told) == {ClaimKind.CAUTION, ClaimKind.DOSE, ClaimKind.AFTERCARE, ClaimKind.STEP}


def _weights(root: Path) -> list[tuple[int, str, int | None]]:
    return [(one.weight, one.claim.id, one.newest) for one in register(read(root)[0]).review]


def test_review_goes_by_risk_times_age(overlay: Overlay) -> None:
    """Read in 2026: a danger (risk 5) from 2003 weighs 5 x 23, a notice (risk 1) from 2003 weighs 23."""
    files = {
        f"content/procedures/example/cautions/{signal}.md": CAUTION.format(
            signal=signal, backing=f"evidence: [{source}]", body=""
        )
        for signal, source in (("danger", ITEMS), ("notice", ITEMS), ("warning", f"{ITEMS}, {NERVE}"))
    }
    weights = _weights(overlay(files))
    assert (115, "danger", 2003) in weights
    assert (23, "notice", 2003) in weights
    # The newest of two sources counts: 4 x 19.
    assert (76, "warning", 2007) in weights
    assert [one[0] for one in weights] == sorted((one[0] for one in weights), reverse=True)


def test_a_claim_on_a_retracted_source_comes_first_and_only_what_stands_counts(overlay: Overlay) -> None:
    notices = "# dated: 2026-11-01\ndoi,pmid,kind,date,note\n10.1002/bjs.5651,,retracted,2020,\n"
    text = CAUTION.format(signal="notice", backing=f"evidence: [{NERVE}, {ITEMS}]", body="")
    root = overlay({"references/notices/x.csv": notices, "content/procedures/example/cautions/own.md": text})
    review = register(read(root)[0]).review
    doubted = [one for one in review if one.doubted]
    assert review[: len(doubted)] == tuple(doubted)
    assert {(one.newest, one.doubted) for one in doubted if one.claim.id == "own"} == {(2003, (NERVE,))}


@pytest.mark.parametrize(
    ("scheme", "level", "known"),
    [
        ("ocebm", "1", True), ("ocebm", "5", True), ("ocebm", "0", False), ("ocebm", "6", False),
        ("ocebm", "1a", False), ("ocebm", "high", False), ("grade", "high", True), ("grade", "very low", True),
        ("grade", "Very Low", True),
        ("grade", "1", False), ("grade", "medium", False),
    ],
)  # fmt: skip
def test_levels_are_those_of_the_scheme(base: Path, scheme: str, level: str, known: bool) -> None:
    """OCEBM Levels of Evidence Working Group 2011: 1 to 5, no letters. GRADE Working Group: four certainties."""
    head = base / "content" / "department.md"
    head.write_text(head.read_text(encoding="utf-8").replace("levels: ocebm", f"levels: {scheme}"), encoding="utf-8")
    path = base / STEP
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(f"  - {NERVE}", f"  - {{source: {NERVE}, level: {level}}}"), encoding="utf-8")
    _, findings = read(base)
    assert [one.name for one in findings] == ([] if known else ["level-unknown"])


def test_register_as_text(base: Path) -> None:
    text = register_text(register(read(base)[0]))
    assert f"{NERVE}  (cited " in text
    assert "Nerve management during open hernia repair. Br J Surg. 2007;94(1):17-22." in text
    assert "cautions: " in text
    assert "To review first" in text


MANY = """@article{many-2009,
  author = {A, A and B, B and C, C and D, D and E, E and F, F and G, G},
  title = {T}, journal = {Lancet}, year = {2009}, volume = {1}, pages = {1--2},
}
"""


@pytest.mark.parametrize(
    ("style", "names"),
    [("vancouver", "E E, F F, et al."), ("nlm-all-authors", "E E, F F, G G."), ("by author", "and G")],
)
def test_the_department_chooses_the_style_of_its_references(base: Path, style: str, names: str) -> None:
    """In the register and in what is published alike; the ICMJE samples give six names, then et al."""
    head = base / "content" / "department.md"
    head.write_text(head.read_text(encoding="utf-8").replace("levels:", f"style: {style}\nlevels:"), encoding="utf-8")
    (base / "references" / "many.bib").write_text(MANY, encoding="utf-8")
    step = base / STEP
    step.write_text(step.read_text(encoding="utf-8") + "\nAs is known [p. 2](source:many-2009).\n", encoding="utf-8")
    library, findings = read(base)
    assert findings == []
    assert names in register(library).sources["many-2009"].text
    listed = {one.key: one.html for one in view_of(library, library.procedures[0]).references}
    assert names in listed["many-2009"]
    assert "et al." in register(library, "vancouver").sources["many-2009"].text


def test_one_source_as_text_names_every_place_and_output(base: Path) -> None:
    found = register(read(base)[0])
    text = source_text(found, NERVE, {"example": ("pocket card, edition 1.0, code ABC-123",)})
    assert text is not None
    for claim, use in found.sources[NERVE].uses:
        assert f"{use.source.at}  {claim.kind.value} {claim.id}: " in text
    assert "code ABC-123" in text
    assert source_text(found, "nowhere-2000") is None


def test_evidence_table_of_a_procedure_and_its_reverse_agree(demo: Library) -> None:
    evidence = Evidence(demo)
    resting = [dict(zip(RESTING, row, strict=True)) for row in resting_table(evidence.register)]
    reverse = {(row["key"], row["claim"], row["place"]) for row in resting if row["place"]}
    tables = [row for procedure in demo.procedures for row in evidence.table(procedure)]
    assert {(row.key, row.claim, row.place) for row in tables if row.key} == reverse
    # What needs backing stands in the table even where it has no source.
    assert any(row.source == "common practice" for row in tables)


def test_csv_is_read_back_and_runs_nothing(base: Path) -> None:
    library = read(base)[0]
    rows = Evidence(library).table(library.by_id["example"])
    read_back = list(csv.DictReader(io.StringIO(csv_of(cells(EvidenceRow._fields, rows)))))
    assert [row["place"] for row in read_back] == [row.place for row in rows]
    assert {row["year"] for row in read_back if row["key"] == NERVE} == {"2007"}
    assert {row["age"] for row in read_back if row["key"] == NERVE} == {"19"}
    bad = ("=1+1", "@x", "", "-2", "+3", "", "")
    assert "'=1+1,'@x,,'-2,'+3" in csv_of(cells(RESTING, [bad]))

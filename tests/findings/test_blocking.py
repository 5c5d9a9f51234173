"""What a finding blocks follows from its row in the register and from how far its procedure has come."""

from __future__ import annotations

from dataclasses import replace

import pytest
from department import BASE, Overlay, read

from builder.check.blocking import with_blocking
from builder.findings.finding import Finding, Severity
from builder.findings.register import REGISTER, Blocks
from builder.model.library import Library
from builder.model.pages import Status
from builder.place import Place

OWN = Place("content/procedures/example/steps/open-canal.md", 3, 1)
ORDER = {Status.DRAFT: 0, Status.IN_REVIEW: 1, Status.APPROVED: 2, Status.WITHDRAWN: 0}


def standing(status: Status) -> Library:
    """Return the base with its one procedure in ``status``."""
    library, _ = read(BASE)
    procedure = library.procedures[0].model_copy(update={"status": status})
    return replace(library, procedures=(procedure,))


def blocked(library: Library, name: str, at: Place = OWN, *, issue: bool = False) -> bool:
    made = Finding(name, REGISTER[name].severity, at, "'x' is wrong")
    [told] = with_blocking(library, [made], issue=issue)
    return told.severity is Severity.ERROR


@pytest.mark.parametrize("status", list(Status))
@pytest.mark.parametrize("issue", [False, True], ids=["published", "issued"])
def test_every_finding_blocks_from_its_stage_on(status: Status, issue: bool) -> None:
    library = standing(status)
    reached = 3 if issue and status is Status.APPROVED else ORDER[status]
    for kind in REGISTER.values():
        expected = kind.blocks is not Blocks.NOTHING and reached >= list(Blocks).index(kind.blocks)
        assert blocked(library, kind.name, issue=issue) == expected, kind.name


def test_every_stage_has_findings_that_block_it() -> None:
    assert {kind.blocks for kind in REGISTER.values()} == set(Blocks)


def test_finding_that_a_rule_weighs_itself_stays_as_it_is() -> None:
    made = Finding("source-retracted", Severity.NOTE, OWN, "'x' was retracted")
    assert list(with_blocking(standing(Status.APPROVED), [made])) == [made]


def test_shared_page_blocks_those_that_show_it() -> None:
    library = standing(Status.APPROVED)
    shown = Place("content/shared/cautions/wrong-side.md", 2, 1)
    assert shown.file in {caution.file for caution in library.procedures[0].cautions.values()}
    assert blocked(library, "caution-without-if-it-happens", shown)
    assert not blocked(library, "caution-without-if-it-happens", Place("content/shared/cautions/other.md", 2, 1))
    assert blocked(library, "notices-out-of-date", Place("references/notices/retracted.csv", 1, 1), issue=True)


def test_critical_step_without_if_not_stops_a_review_and_no_draft(overlay: Overlay) -> None:
    step = (BASE / "content/procedures/example/steps/open-canal.md").read_text(encoding="utf-8")
    kept = "".join(line for line in step.splitlines(keepends=True) if not line.startswith("if_not:"))
    assert kept != step
    procedure = (BASE / "content/procedures/example/procedure.md").read_text(encoding="utf-8")
    for status, severity in (("draft", Severity.WARNING), ("in review", Severity.ERROR)):
        root = overlay(
            {
                "content/procedures/example/steps/open-canal.md": kept,
                "content/procedures/example/procedure.md": procedure.replace("status: draft", f"status: {status}"),
            }
        )
        [made] = [finding for finding in read(root)[1] if finding.name == "critical-without-if-not"]
        assert made.severity is severity


# Style of what was spoken


SPOKEN = """---
title: Inspection of the drain
heard_at: "3:12"
{more}common_practice: true
---
"""


@pytest.mark.parametrize(
    ("more", "found"),
    [("", ["step-without-actions"]), ("actions:\n  - tell: recovery nurse\n", ["title-not-an-instruction"])],
    ids=["something graver is to be settled", "all else is settled"],
)
def test_style_of_what_was_spoken_waits_for_what_matters(more: str, found: list[str], overlay: Overlay) -> None:
    page = "content/procedures/example/steps/tell-recovery.md"
    assert [finding.name for finding in read(overlay({page: SPOKEN.format(more=more)}))[1]] == found

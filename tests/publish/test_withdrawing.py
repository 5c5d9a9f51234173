"""A withdrawal waits for nothing: it is published although another procedure is blocked, whose last good pages stay.

So it is with either engine.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, time
from pathlib import Path

import pytest
from department import TODAY, lay, new_base
from publishing import UNDER, fingerprint, with_mkdocs

from builder.cli import main

PROCEDURE = "content/procedures/second/procedure.md"
STEP = "content/procedures/example/steps/open-canal.md"
SECOND = """---
title: Look at the wound
specialty: general surgery
edition: "1.0"
status: {status}
owner: {{name: Ada Example, role: consultant surgeon}}
review_by: 2028-05-31
sequence: [look]
common_practice: true
---
"""
LOOK = "---\ntitle: Look at the wound\nactions:\n  - inspect: skin\ncommon_practice: true\n---\n"
WITHDRAWN = "withdrawn\nwithdrawn: {on: 2026-11-24, because: The stitch cuts through.}"


@pytest.fixture(scope="module", params=["own", "mkdocs"])
def department(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    """A department whose first site is published, then one procedure withdrawn while another has an error."""
    folder = tmp_path_factory.mktemp("withdrawing")
    root = new_base(folder)
    if request.param == "mkdocs":
        with_mkdocs(root)
    lay(root, {PROCEDURE: SECOND.format(status="draft"), "content/procedures/second/steps/look.md": LOOK})
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.combine(TODAY, time(12), UTC).timestamp())))
        assert (
            main(["publish", str(root), "--to", str(folder / "public"), "--only", "site", "--only", "rehearsal"]) == 0
        )
        KEPT["before"] = {name: (pages(root) / name).read_bytes() for name in ("example/rehearsal.pdf",)}
        step = (root / STEP).read_text(encoding="utf-8")
        lay(
            root,
            {PROCEDURE: SECOND.format(status=WITHDRAWN), STEP: step.replace("  - identify: ilio", "  - identfy: ilio")},
        )
        assert main(["publish", str(root), "--to", str(folder / "public")]) == 1
    return root


KEPT: dict[str, dict[str, bytes]] = {}
"""What was published before, by name."""


def site(department: Path) -> Path:
    return department.parent / "public"


def pages(department: Path) -> Path:
    """Return the folder of the site that the pages are in."""
    return site(department) / (UNDER if (department / "mkdocs.yml").exists() else "")


def test_page_and_code_and_front_page_say_withdrawn(department: Path) -> None:
    public, ours = site(department), pages(department)
    page = (ours / "second/index.html").read_text(encoding="utf-8")
    assert "The stitch cuts through." in page
    report = json.loads((public / "build-report.json").read_text(encoding="utf-8"))
    [code] = [one for one in report["artefacts"] if one["kind"] == "status" and one["procedure"] == "second"]
    assert code["explained"]["state"] == "withdrawn"
    assert "Withdrawn: do not use this copy" in (public / code["path"]).read_text(encoding="utf-8")
    front = (ours / "index.html").read_text(encoding="utf-8")
    assert '<li class="state withdrawn">Withdrawn</li>' in front
    assert front.count("<li data-title=") == 2


def test_papers_of_what_is_withdrawn_are_gone(department: Path) -> None:
    assert not (pages(department) / "second/rehearsal.pdf").exists()


def test_last_good_pages_and_papers_of_what_is_blocked_stay_and_are_marked(department: Path) -> None:
    ours = pages(department)
    page = (ours / "example/index.html").read_text(encoding="utf-8")
    assert page.count("Kept as it was on 25 November 2026") == 1
    assert "Find the nerve, then open the canal" in page
    for name, content in KEPT["before"].items():
        assert (ours / name).read_bytes() == content


def test_report_is_of_the_site_as_it_is(department: Path) -> None:
    public = site(department)
    report = json.loads((public / "build-report.json").read_text(encoding="utf-8"))
    listed = {one["path"]: one["sha256"] for one in report["artefacts"]} | report["files"]
    found = {path.relative_to(public).as_posix() for path in public.rglob("*") if path.is_file()}
    assert set(listed) | {"build-report.json"} == found
    for name, digest in listed.items():
        assert hashlib.sha256((public / name).read_bytes()).hexdigest() == digest, name
    assert set(report["coverage"]) == {"example", "second"}


def test_what_is_withdrawn_already_is_no_reason_to_publish(
    department: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.combine(TODAY, time(12), UTC).timestamp())))
    before = fingerprint(site(department))
    assert main(["publish", str(department), "--to", str(site(department))]) == 1
    assert "Nothing was published" in capsys.readouterr().err
    assert fingerprint(site(department)) == before

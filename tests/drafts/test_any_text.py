"""Whatever people write in an outline, the draft of it can be read, and holds all of its words."""

from __future__ import annotations

import shutil
import tempfile
from functools import cache
from pathlib import Path

import pytest
from department import family, read
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from builder.draft import Proposal, propose
from builder.findings.finding import Refused
from builder.load.folder import load
from builder.load.told.source_file import source_of
from builder.model.build import build
from builder.model.library import Library
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import write
from drafts import results

PIECES = [
    "1. Open the skin", "2) Close: the skin", "- a bullet", "# Heading", "Equipment: scalpel, swab", "## Dangers",
    "Never cut: the nerve is #1", "'quoted' \"twice\"", "key: value", "---", "...", "[x](step:nowhere)",
    "[a](source:b)",
    "<script>alert(1)</script>", "<b>bold</b>", "a & b < c > d", "*star* _line_ `code`", "| a | b |", "{{ x }}", "%s",
    "\\backslash", "![p](q.png)", "Step 3: tie the appendix", "After the operation: keep it dry for 2 days",
    "If you cannot find it, stop.", "You should see fat.", "yes", "null", "~", "0:12", "1e5", "@at", "!tag", "&anchor",
    "- [ ] box", "> quote", "```", "RIF (right iliac fossa)", "Side: nowhere", "Specialty: a: b", "10 mL", "a) sub",
    "First, cut the skin. Then, tie the vein. Next, close it.", "é à ß 日本", "\u202eabc", "\tindented", "x" * 300,
    "Warning: hot", "Owner: ---", "kit", "the the the", "Count the swabs", "\u2028", "a\u00a0b", "&lt;b&gt;",
]  # fmt: skip


@cache
def department() -> Library:
    return build(load(results.DEPARTMENT, results.TODAY))[0]


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(lines=st.lists(st.sampled_from(PIECES), min_size=1, max_size=14), name=st.sampled_from(["a.md", "a.txt"]))
@example(lines=["1. Open the skin", "---", "title: x", "---"], name="a.md")
@example(lines=["1. 'a' \"b\": #c", "2. - x", "3. [x](step:y)"], name="a.txt")
def test_any_outline_gives_a_procedure_or_a_refusal(lines: list[str], name: str) -> None:
    text = "\n".join(lines)
    try:
        proposal = propose("New", source_of(name, text.encode()), department())
    except Refused as refusal:
        found = refusal.finding.name
    else:
        _is_readable_and_whole(proposal, text, name)
        return
    assert found in ("source-empty", "no-step-found")


def _is_readable_and_whole(proposal: Proposal, text: str, name: str) -> None:
    with tempfile.TemporaryDirectory() as place:
        root = Path(shutil.copytree(results.DEPARTMENT, Path(place) / "department"))
        write(root, proposal, clean_photograph)
        findings = read(root)[1]
        # caution-not-used: a line below a heading such as Dangers does not say which step it guards, and check asks.
        wrong = [
            one
            for one in findings
            if family(one) in ("files", "format", "names", "citations", "acceptances")
            and one.name != "caution-not-used"
            and one.name != "caution-not-used"
        ]
        assert wrong == []
        path = Path(place) / name
        path.write_text(text, encoding="utf-8")
        assert results.lost(path, root / "content/procedures/new") == []


@pytest.mark.parametrize("title", ["A: b", "# x", "'", "yes", "---", "1. First", "a" * 300, "Öffnung <b>", "../up"])
def test_any_title_gives_a_folder_or_a_refusal(title: str, tmp_path: Path) -> None:
    from builder.edit.ids import slug

    root = Path(shutil.copytree(results.DEPARTMENT, tmp_path / "department"))
    if not slug(title):
        return
    write(
        root,
        propose(title, source_of("a.md", b"1. Open the skin\n2. Close the skin\n"), department()),
        clean_photograph,
    )
    library, findings = read(root)
    (procedure,) = library.procedures
    assert str(procedure.title) == title
    assert [one for one in findings if family(one) in ("files", "format")] == []
    assert [path.name for path in (root / "content/procedures").iterdir()] == [slug(title)]

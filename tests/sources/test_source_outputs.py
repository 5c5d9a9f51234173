"""Which outputs and which issued copies rest on a source."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import papers
import pytest
from department import DEMO, read
from publishing import publish_site

from builder.cli import main
from builder.compose.card.card_plan import plan_of
from builder.compose.document import Renderer
from builder.compose.site.status import line_now
from builder.compose.view.procedure_view import view_of
from builder.facts.claims import resting
from builder.load.ledger import Issued
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.publish.issuing import append, with_lines
from builder.resting import resting_outputs

NERVE, ITEMS = "hernia-nerve-management-2007", "retained-items-risk-2003"


@cache
def _renderer(root: Path) -> Renderer:
    return Renderer(load_templates(root), lambda _: ({},))


def _told(library: Library, key: str) -> dict[str, tuple[str, ...]]:
    return dict(resting_outputs(library, key, _renderer(library.root)))


@pytest.fixture(scope="module")
def demo() -> Library:
    return papers.library(DEMO)


@pytest.mark.slow
def test_every_procedure_that_cites_a_source_is_told_and_no_other(demo: Library) -> None:
    held = resting(demo)
    for key in list(demo.sources)[::4]:
        cited = {id for claim, _ in held.get(key, ()) for id in claim.procedures}
        assert set(_told(demo, key)) == cited, key


@pytest.mark.slow
def test_the_number_is_the_one_on_the_page(demo: Library) -> None:
    for procedure in demo.procedures:
        shown = {one.key: one.number for one in view_of(demo, procedure).references}
        assert len(shown) > 3
        for key, number in list(shown.items())[::4]:
            [line] = [one for one in _told(demo, key)[str(procedure.id)] if one.startswith("page, ")]
            assert f"reference {number}, cited in " in line


def test_the_card_counts_the_lines_that_cite_or_state_it(demo: Library) -> None:
    for procedure in demo.procedures:
        lines = plan_of(demo, procedure)
        for key in sorted({key for line in lines for key in line.sources})[:2]:
            told = _told(demo, key)[str(procedure.id)]
            assert sum(one.startswith("card, ") for one in told) == 1, (procedure.id, key)


def test_sheets_without_references_are_told_by_the_statements_they_show(base: Path) -> None:
    told = " | ".join(_told(read(base)[0], NERVE)["example"])
    assert "what now: shows" in told
    assert "rehearsal: shows" in told
    # Nothing about a nerve is on the patient's sheet of the base.
    assert "patient sheet" not in told


def _with_line(base: Path, **changed: object) -> tuple[Library, Issued]:
    library = read(base)[0]
    line = replace(line_now(library, library.procedures[0]), **changed)  # type: ignore[arg-type]
    return with_lines(library, [line]), line


def _issued(told: tuple[str, ...]) -> list[str]:
    return [line for line in told if line.startswith("issued copies")]


def test_an_issued_copy_that_holds_the_statement_is_named_by_its_code(base: Path) -> None:
    library, line = _with_line(base)
    [told] = _issued(_told(library, NERVE)["example"])
    assert f"code {line.code}, edition 1.0 of " in told
    assert "current: " in told
    assert "caution nerve-injury" in told
    assert "step open-canal" in told
    assert "in other words" not in told


def test_a_copy_issued_in_other_words_says_so(base: Path) -> None:
    line = _with_line(base)[1]
    parts = tuple(part._replace(digest="0" * 10) if part.id == "nerve-injury" else part for part in line.parts)
    library, _ = _with_line(base, parts=parts, code="AAA-AAA-AA")
    [told] = _issued(_told(library, NERVE)["example"])
    assert "caution nerve-injury (in other words or on other sources than now: look at the copy)" in told
    assert "step open-canal (" not in told


def test_a_copy_that_never_held_the_statement_is_not_named(base: Path) -> None:
    held = {claim.id for claim, _ in resting(read(base)[0])[ITEMS]}
    line = _with_line(base)[1]
    library, _ = _with_line(base, parts=tuple(part for part in line.parts if part.id not in held | {"about"}))
    assert _issued(_told(library, ITEMS)["example"]) == []
    assert len(_issued(_told(library, NERVE)["example"])) == 1


def test_the_command_prints_it(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = _with_line(base)[1]
    append(base, [line])
    assert main(["sources", NERVE, "--in", str(base)]) == 0
    out = capsys.readouterr().out
    assert "\nexample\n  page, handout, handout docx, single file, book: reference " in out
    assert f"code {line.code}" in out
    assert "content/procedures/example/steps/open-canal.md:" in out


def test_with_errors_the_places_are_printed_all_the_same(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    step = base / "content/procedures/example/steps/open-canal.md"
    step.write_text(step.read_text(encoding="utf-8") + "\n[x](step:nowhere)\n", encoding="utf-8")
    assert main(["sources", NERVE, "--in", str(base)]) == 0
    out = capsys.readouterr().out
    assert "content/procedures/example/steps/open-canal.md:" in out
    assert out.endswith("Outputs are not worked out while there are errors: run `prescrub check`.\n")


def test_an_unknown_key_is_refused_with_what_is_near(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sources", "hernia-nerve-managment-2007", "--in", str(base)]) == 2
    assert f"Near: {NERVE}" in capsys.readouterr().err


def test_what_is_told_is_what_is_published(base: Path, tmp_path: Path) -> None:
    """The references of the published page, read from its HTML, against what the command says of every source."""
    from lxml import html

    publish_site(base, tmp_path / "public")
    tree = html.parse(str(tmp_path / "public/example/index.html"))
    library = read(base)[0]
    listed = [one.text_content() for one in tree.xpath("//li[starts-with(@id, 'ref-')]")]
    told = {key: _told(library, key).get("example", ()) for key in library.sources}
    numbers = {
        int(line.split("reference ")[1].split(",")[0]): key for key, lines in told.items() for line in lines
        if line.startswith("page, ")
    }  # fmt: skip
    assert sorted(numbers) == list(range(1, len(listed) + 1))

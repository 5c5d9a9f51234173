"""``Add an output`` in DEVELOPERS.md, followed literally in a copy: three files, and it is made, proved and offered."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from department import BASE

ROOT = Path(__file__).parents[2]

MODULE = '''"""The titles of all steps, to be hung up beside the table."""

from __future__ import annotations

from builder.compose.document import Document, Must
from builder.compose.document import Renderer
from builder.compose.view.head import head_of
from builder.model.library import Library
from builder.model.pages import Procedure


def compose(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the titles of the steps of ``procedure`` as plain text."""
    head, steps = head_of(library, procedure), tuple(procedure.steps.values())
    text = renderer.render("sheets/step_titles.txt.j2", head=head, steps=steps)
    musts = (*head.musts, *(Must("step", step.id, step.title) for step in steps))
    return Document.about(procedure, "step-titles", "step-titles.txt", text, musts=musts)
'''
TEMPLATE = """{% autoescape false %}
{{ head.title }}
{{ head.mark }}

{% for step in steps %}
{{ step.title }}
{% endfor %}

{{ head.usual_caution }}
{% endautoescape %}
"""
# Whoever follows the recipe changes these lines: what comes after the first words of each may be anything.
IMPORT = re.compile(r"^(?=from builder\.compose\.sheets import )", re.MULTILINE)
AFTER_IT = re.compile(r"^(?= *Output\(\s*[\"']count-sheet)", re.MULTILINE)
ROW = """    Output("step-titles", "Titles of all steps", _THEATRE, "step-titles.txt", "text", _TEXT,
           step_titles.compose),
"""


def test_the_recipe_names_three_places() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("\n## Add an output\n")[2].partition("\n## ")[0]
    places = [re.match(r"[^`]*`([^`]+)`", step) for step in re.split(r"^\d\. ", section, flags=re.MULTILINE)[1:]]
    assert [place[1] for place in places if place] == [
        "builder/compose/<group>/<output>.py",
        "site_templates/<group>/<output>.html.j2",
        "builder/outputs.py",
    ]


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recipe") / "copy"
    shutil.copytree(ROOT, folder, ignore=shutil.ignore_patterns(".*", "public"))
    (folder / "builder/compose/sheets/step_titles.py").write_text(MODULE, encoding="utf-8")
    (folder / "site_templates/sheets/step_titles.txt.j2").write_text(TEMPLATE, encoding="utf-8")
    table = folder / "builder/outputs.py"
    before = table.read_text(encoding="utf-8")
    table.write_text(_with_row(before), encoding="utf-8")
    return folder


def _with_row(table: str) -> str:
    """Return the text of the table of outputs with one import and one row more."""
    imported, imports = IMPORT.subn("from builder.compose.sheets import step_titles\n", table, count=1)
    changed, rows = AFTER_IT.subn(lambda _: ROW, imported, count=1)
    assert (imports, rows) == (1, 1)
    return changed


def test_a_table_to_which_somebody_added_an_output_is_followed_too() -> None:
    before = (ROOT / "builder/outputs.py").read_text(encoding="utf-8")
    other = re.sub(r"(sheets import )(count_sheet, .*)\n", r"\1(\n    consent_sheet, \2,\n)\n", before, count=1)
    own = '    Output(\n        "count-sheet"'
    other = other.replace('    Output("count-sheet"', own, 1)
    assert other.count("(\n    consent_sheet") == other.count(own) == 1
    after = _with_row(other)
    assert after.replace(ROW, "", 1).replace("from builder.compose.sheets import step_titles\n", "", 1) == other
    compile(after, "outputs.py", "exec")


def _run(copy: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", *arguments], cwd=copy, capture_output=True, text=True, check=False)


def test_no_test_of_the_structure_fails(copy: Path) -> None:
    wanted = "step-titles or outputs or offered or world or used_once or more_than_can"
    run = _run(
        copy, "pytest", "-v", "-p", "no:cacheprovider", "--assert=plain", "-k", wanted,
        "tests/test_stages.py", "tests/test_house.py", "tests/site/test_page.py", "tests/paper/test_papers.py",
    )  # fmt: skip
    assert run.returncode == 0, run.stdout
    assert "[step-titles] PASSED" in run.stdout


def test_it_is_made_proved_and_offered_where_it_belongs(copy: Path, tmp_path: Path) -> None:
    to = tmp_path / "public"
    run = _run(copy, "builder", "publish", str(BASE), "--to", str(to), "--only", "step-titles", "--only", "site")
    assert run.returncode == 0, run.stderr
    assert "Tell the recovery nurse" in (to / "example/step-titles.txt").read_text(encoding="utf-8")
    page = (to / "example/index.html").read_text(encoding="utf-8")
    shelf = page.partition("<h3>For theatre</h3>")[2].partition("</ul>")[0]
    assert 'href="step-titles.txt"' in shelf
    assert "Titles of all steps" in shelf
    report = (to / "build-report.json").read_text(encoding="utf-8")
    assert '"kind": "step-titles"' in report


def test_a_template_that_loses_a_step_is_not_published(copy: Path, tmp_path: Path) -> None:
    template = copy / "site_templates/sheets/step_titles.txt.j2"
    whole = template.read_text(encoding="utf-8")
    template.write_text(whole.replace("in steps %}", "in steps[1:] %}"), encoding="utf-8")
    run = _run(copy, "builder", "publish", str(BASE), "--to", str(tmp_path / "public"), "--only", "step-titles")
    template.write_text(whole, encoding="utf-8")
    assert run.returncode == 1
    assert "example/step-titles.txt: " in run.stderr
    assert not (tmp_path / "public").exists()

"""One register holds every finding; each has one name, one page, and, where a check makes it, one rule."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from builder.check.table import CHECKS
from builder.facts.coverage import COUNTERS
from builder.findings.register import FAMILIES, REGISTER
from builder.load.manual import finding_pages, old_codes

ROOT = Path(__file__).parents[2]
BUILDER = ROOT / "builder"
REGISTER_FILE = Path("findings", "register.py")

CODE = re.compile(r"(?<![A-Za-z0-9])[A-Z]{2}\d\d(?![A-Za-z0-9])")
"""The pattern of the codes that findings once had."""
TABLE = "builder/findings/old-codes.txt"
NOT_OURS = {
    ("builder/check/packs/uk.yml", "MS04"),  # how morphine sulfate is misread, for the wording packs to find
    ("builder/check/packs/us.yml", "MS04"),
    ("builder/findings/pages/acceptance-by-old-code.md", "WD01"),  # the page on old codes shows one
    ("references/sources.bib", "NG89"),  # the number of a guideline
    ("tests/unseen/fifth/department/references/sources.bib", "NG89"),
    ("tests/unseen/first/department/references/sources.bib", "NG89"),
    ("tests/unseen/fourth/department/references/sources.bib", "NG89"),
    ("tests/unseen/sixth/department/references/sources.bib", "NG89"),
    ("tests/unseen/sixth/errors.yml", "CG92"),
    ("tests/unseen/sixth/errors.yml", "FN26"),  # of a number plate
    ("tests/unseen/sixth/errors.yml", "NG89"),
    ("tests/unseen/seventh/department/references/sources.bib", "NG89"),
    ("tests/unseen/third/department/references/sources.bib", "NG89"),
}


def test_every_finding_has_a_page_and_every_page_a_finding() -> None:
    assert finding_pages().keys() == REGISTER.keys()


def test_checks_run_in_the_order_of_the_register() -> None:
    assert [check.name for check in CHECKS] == [kind.name for kind in REGISTER.values() if kind.family.looks]


def test_everything_that_a_family_looks_at_is_counted() -> None:
    assert {name for family in FAMILIES for name in family.looks} == COUNTERS.keys()


def _made(path: Path) -> Iterator[str]:
    """Yield the names of findings that the code in ``path`` makes."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in REGISTER:
            yield node.value


def test_every_row_of_the_register_is_made_somewhere() -> None:
    files = [path for path in BUILDER.rglob("*.py") if path != BUILDER / REGISTER_FILE]
    data = {rule["check"] for pack in BUILDER.glob("check/packs/u?.yml") for rule in _rules(pack)}
    assert {name for path in files for name in _made(path)} | data == REGISTER.keys()


def _rules(pack: Path) -> list[dict[str, str]]:
    return [{"check": name} for name in re.findall(r"\bcheck: ([a-z-]+)", pack.read_text(encoding="utf-8"))]


def test_a_finding_is_made_from_the_register_alone() -> None:
    """``Finding(...)`` itself stands where the register is looked up, and where findings are kept between runs."""
    makes = {
        path.relative_to(BUILDER).as_posix()
        for path in BUILDER.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding"
    }
    assert makes == {"findings/register.py", "check/hit.py", "load/kept/check_cache.py"}


def _imported(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "import builder.check.table"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A copy of the program in which a row or a rule can be changed."""
    shutil.copytree(BUILDER, tmp_path / "builder", ignore=shutil.ignore_patterns("__pycache__", "pages"))
    return tmp_path


def _changed(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


ROW = '    FindingKind("step-unknown", ERROR, NAMES),\n'
RULE = '@finds("caution-unknown")'


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("findings/register.py", ROW, ROW * 2, "two findings have the same name: ['step-unknown']"),
        ("findings/register.py", ROW, ROW.replace("step", "moon") + ROW, "no rule finds moon-unknown"),
        ("check/rules/named_parts.py", RULE, RULE.replace("caution", "moon"), "'moon-unknown' is not a check in the"),
        ("check/rules/named_parts.py", RULE, '@finds("aftercare-unknown")', "two rules find 'aftercare-unknown'"),
        ("check/rules/named_parts.py", RULE, '@finds("file-unreadable")', "'file-unreadable' is not a check in the"),
    ],
    ids=["double name", "row without a rule", "rule of an unknown name", "two rules", "rule of what is no check"],
)
def test_what_does_not_fit_does_not_import(copied: Path, file: str, old: str, new: str, said: str) -> None:
    _changed(copied / "builder" / file, old, new)
    run = _imported(copied)
    assert run.returncode == 1
    assert said in run.stderr


def test_what_fits_imports(copied: Path) -> None:
    assert _imported(copied).returncode == 0


# Old codes


def _codes(path: Path) -> Iterator[tuple[str, str]]:
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:  # a font, a picture
        return
    yield from ((path.relative_to(ROOT).as_posix(), code) for code in CODE.findall(text))


def test_no_code_is_left_outside_the_one_table() -> None:
    tops = ("builder", "bench", "content", "references", "site_templates", "tests", "tools")
    files = [path for top in tops for path in (ROOT / top).rglob("*") if path.is_file() and path.suffix != ".pyc"]
    files += [path for path in ROOT.iterdir() if path.suffix in (".md", ".toml", ".yml") or path.name == "Makefile"]
    own = Path(__file__).relative_to(ROOT).as_posix()
    hits = {hit for path in files for hit in _codes(path) if hit[0] not in (TABLE, own)}
    assert hits == NOT_OURS


def test_old_codes_lead_to_names_of_the_register() -> None:
    rows = [line.split() for line in (ROOT / TABLE).read_text(encoding="utf-8").splitlines()]
    assert {name for _, *names in rows for name in names} <= REGISTER.keys()
    assert [code for code, *_ in rows] == sorted({code for code, *_ in rows})
    assert all(CODE.fullmatch(code) for code, *_ in rows)
    assert old_codes() == {code: names[0] for code, *names in rows}


def test_a_code_that_meant_two_findings_is_that_of_the_check() -> None:
    """What an import met with could never be accepted, so ``accept:`` meant the check."""
    rows = [line.split() for line in (ROOT / TABLE).read_text(encoding="utf-8").splitlines()]
    twice = [names for _, *names in rows if len(names) > 1]
    assert len(twice) == 3
    for first, second in twice:
        assert REGISTER[first].family.name == "sides"
        assert REGISTER[second].family.name == "imports"

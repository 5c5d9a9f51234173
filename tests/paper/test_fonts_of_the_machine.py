"""Every artefact has the same bytes, whatever fonts the machine has: all its text is set in our own type."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from department import BASE
from needs import needs

DEMONSTRATION = Path(__file__).parents[2]
NO_FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig><cachedir>{}</cachedir></fontconfig>
"""
SET_IN_LIBERATION = (
    "import weasyprint, sys;"
    "sys.stdout.buffer.write(weasyprint.HTML(string='<p style=\"font-family: Liberation Sans\">a').write_pdf())"
)


@pytest.fixture
def without_fonts(tmp_path: Path) -> dict[str, str]:
    """The environment of a machine on which no font is installed."""
    settings = tmp_path / "fonts.conf"
    settings.write_text(NO_FONTS.format(tmp_path / "cache"), encoding="utf-8")
    return {**os.environ, "FONTCONFIG_FILE": str(settings)}


def run(environment: dict[str, str], *words: str) -> bytes:
    call = [sys.executable, "-W", "error", *words]
    return subprocess.run(call, cwd=DEMONSTRATION, env=environment, capture_output=True, check=True).stdout


def published(root: Path, to: Path, environment: dict[str, str], *words: str) -> dict[str, bytes]:
    """What ``prescrub publish`` writes for the department in ``root``, on a fixed day."""
    environment = {**environment, "SOURCE_DATE_EPOCH": "1795910400"}
    run(environment, "-m", "builder", "publish", str(root), "--to", str(to), *words)
    return {path.relative_to(to).as_posix(): path.read_bytes() for path in to.rglob("*") if path.is_file()}


def test_without_fonts_other_type_is_set_otherwise(without_fonts: dict[str, str]) -> None:
    """That is, the machine without fonts is one: what is not in our type does come out differently."""
    needs("Liberation Sans", "fonts of the machine")
    usual = run({**os.environ}, "-c", SET_IN_LIBERATION)
    assert usual == run({**os.environ}, "-c", SET_IN_LIBERATION)
    with pytest.raises(subprocess.CalledProcessError):  # there is no font to set it in
        run(without_fonts, "-c", SET_IN_LIBERATION)


@pytest.mark.parametrize(
    ("root", "words"),
    [
        pytest.param(BASE, ("--only", "handout", "--only", "card"), id="base"),
        pytest.param(DEMONSTRATION, (), id="demonstration", marks=pytest.mark.slow),
    ],
)
def test_without_fonts_the_bytes_are_the_same(
    root: Path, words: tuple[str, ...], without_fonts: dict[str, str], tmp_path: Path
) -> None:
    usual = published(root, tmp_path / "usual", {**os.environ}, *words)
    assert sum(name.endswith(".pdf") for name in usual) > 1
    assert published(root, tmp_path / "bare", without_fonts, *words) == usual

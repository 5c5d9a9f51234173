"""Every artefact has the same bytes, whatever fonts the machine has: all its text is set in our own type."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from department import BASE, DEMO
from needs import needs
from publishing import publish_by_command

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
    return subprocess.run(call, cwd=DEMO, env=environment, capture_output=True, check=True).stdout


def files(to: Path) -> dict[str, bytes]:
    return {path.relative_to(to).as_posix(): path.read_bytes() for path in to.rglob("*") if path.is_file()}


def test_without_fonts_other_type_is_set_otherwise(without_fonts: dict[str, str]) -> None:
    """That is, the machine without fonts is one: what is not in our type does come out differently."""
    needs("Liberation Sans", "fonts of the machine")
    usual = run({**os.environ}, "-c", SET_IN_LIBERATION)
    assert usual == run({**os.environ}, "-c", SET_IN_LIBERATION)
    with pytest.raises(subprocess.CalledProcessError):  # there is no font to set it in
        run(without_fonts, "-c", SET_IN_LIBERATION)


def test_without_fonts_the_bytes_are_the_same(without_fonts: dict[str, str], tmp_path: Path) -> None:
    for name, environment in (("usual", {**os.environ}), ("bare", without_fonts)):
        publish_by_command(BASE, tmp_path / name, "--only", "handout", "--only", "card", environment=environment)
    usual = files(tmp_path / "usual")
    assert sum(name.endswith(".pdf") for name in usual) > 1
    assert files(tmp_path / "bare") == usual


@pytest.mark.slow
def test_without_fonts_every_byte_of_the_demonstration_is_the_same(
    whole_demo: Path, without_fonts: dict[str, str], tmp_path: Path
) -> None:
    publish_by_command(DEMO, tmp_path / "bare", environment=without_fonts)
    usual = files(whole_demo)
    assert sum(name.endswith(".pdf") for name in usual) > 50
    assert files(tmp_path / "bare") == usual

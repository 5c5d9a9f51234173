"""Every artefact has the same bytes, whatever fonts the machine has: all its text is set in our own type.

Of the smallest department ``publish/test_publish.py`` shows it, together with what else may differ elsewhere.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from department import DEMO
from needs import needs
from publishing import publish_by_command

SET_IN_LIBERATION = (
    "import weasyprint, sys;"
    "sys.stdout.buffer.write(weasyprint.HTML(string='<p style=\"font-family: Liberation Sans\">a').write_pdf())"
)


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


@pytest.mark.slow
def test_without_fonts_every_byte_of_the_demonstration_is_the_same(
    whole_demo: Path, without_fonts: dict[str, str], tmp_path: Path
) -> None:
    publish_by_command(DEMO, tmp_path / "bare", environment=without_fonts)
    usual = files(whole_demo)
    assert sum(name.endswith(".pdf") for name in usual) > 50
    assert files(tmp_path / "bare") == usual

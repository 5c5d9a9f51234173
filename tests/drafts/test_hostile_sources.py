"""Whatever is named as the source of a draft: refused in plain words, nothing written, no failure of the tool."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from growth import steps
from hypothesis import given, settings
from hypothesis import strategies as st
from publishing import fingerprint

from builder.cli import main
from builder.findings.finding import Refused
from builder.load.told.source_file import source_of
from drafts.hostile import files

FILES = files()


def test_there_are_thirty_and_more() -> None:
    assert len(FILES) >= 30


@pytest.mark.parametrize("name", FILES)
def test_hostile_file_is_refused_in_plain_words(
    name: str, base: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, word = FILES[name]
    path = tmp_path / name
    path.write_bytes(content)
    before = fingerprint(base)
    words = ["draft", "A new procedure", str(base), "--from", str(path)]
    code = main(words)
    shown = capsys.readouterr()
    assert code == 1, shown
    assert shown.out == ""
    assert f"{name}:" in shown.err
    assert re.search(r" error (?:source-[a-z-]+|no-step-found|file-too-large): ", shown.err)
    assert word in shown.err
    assert shown.err.endswith("Nothing was written.\n")
    for bad in ("Traceback", "Exception", "None", "NoneType", "lxml", "zipfile", "xml.etree", "OpcError", "pptx.exc"):
        assert bad not in shown.err
    assert fingerprint(base) == before
    # The names of the common catalogue are laid out once, however long the file is.
    assert steps(lambda: main(words)) < 700_000 + 10 * len(content)


@pytest.mark.parametrize("kind", ["missing", "folder", "link", "pipe"])
def test_what_is_no_file_is_refused(kind: str, base: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "source.md"
    if kind == "folder":
        path.mkdir()
    elif kind == "link":
        (tmp_path / "real.md").write_text("1. Open the skin\n2. Close the skin\n", encoding="utf-8")
        path.symlink_to(tmp_path / "real.md")
    elif kind == "pipe":
        os.mkfifo(path)
    assert main(["draft", "A new procedure", str(base), "--from", str(path)]) == 1
    assert "Nothing was written." in capsys.readouterr().err
    assert not (base / "content/procedures/a-new-procedure").exists()


@settings(max_examples=150)
@given(content=st.binary(max_size=300), ending=st.sampled_from([".md", ".txt", ".vtt", ".srt", ".docx", ".pptx"]))
def test_any_bytes_are_read_or_refused(content: bytes, ending: str) -> None:
    try:
        source = source_of(f"source{ending}", content)
    except Refused as refusal:
        found = refusal.finding
    else:
        assert source.passages
        return
    assert found.message
    assert found.hint.endswith(".")

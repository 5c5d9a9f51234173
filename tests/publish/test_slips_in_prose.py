"""What an educator may well write in prose is published, and what the command says of it is true."""

from __future__ import annotations

import pytest
from department import Overlay

from builder.cli import main

STEP = "content/procedures/example/steps/test-block.md"


def test_a_list_in_a_list_is_set_in_our_type(overlay: Overlay, capsys: pytest.CaptureFixture[str]) -> None:
    """The hollow circle of the inner list is no character of the type; the read-back refused the handout for it."""
    text = (overlay({}) / STEP).read_text(encoding="utf-8")
    root = overlay({STEP: f"{text}- Touch the groin.\n    - Touch the left.\n        - Touch it again.\n"})
    assert main(["publish", str(root), "--to", str(root.parent / "site"), "--only", "handout"]) == 0, (
        capsys.readouterr()
    )


def test_no_page_is_named_that_was_not_made(overlay: Overlay, capsys: pytest.CaptureFixture[str]) -> None:
    """With one output alone there is no index.html to open."""
    root = overlay({})
    site = root.parent / "site"
    assert main(["publish", str(root), "--to", str(site), "--only", "card"]) == 0
    assert not (site / "index.html").exists()
    assert "index.html" not in capsys.readouterr().out


def test_a_folder_of_somebody_else_is_a_wrong_call(overlay: Overlay, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 3 would say that the tool failed; it was sent to a folder that it must not touch."""
    root = overlay({})
    (root / "years").mkdir()
    (root / "years" / "thesis.txt").write_text("mine")
    assert main(["publish", str(root), "--to", str(root / "years")]) == 2
    assert "was not made by prescrub" in capsys.readouterr().err


def test_schemas_that_cannot_be_written_are_a_wrong_call(overlay: Overlay, capsys: pytest.CaptureFixture[str]) -> None:
    """A file stands where the folder should be."""
    root = overlay({})
    assert main(["schema", "--to", str(root / "content" / "department.md")]) == 2
    assert "Nothing was written." in capsys.readouterr().err

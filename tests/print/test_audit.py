"""Every paper of the base department against checkers that are not ours."""

from __future__ import annotations

from pathlib import Path

import page as page_validation
import pytest
from papers import library, renderer, typesetter

from builder.compose.document import Document
from builder.publish.outputs import OUTPUTS


def papers() -> list[Document]:
    made = (output.compose(library(), library().procedures[0], renderer()) for output in OUTPUTS)
    return [document for document in made if document.name.endswith(".pdf") and document.of is None]


def test_page_validation_passes_every_single_document() -> None:
    """page-validation (of the Python Package Index), rules of ISO 14289-1."""
    found = papers()
    assert len(found) >= 6
    for document in found:
        report = page_validation.validate_pdf_bytes(typesetter().pdf(document), profile="ua1")
        assert report.is_compliant, document.name
        assert report.checks.failed == 0, document.name


def test_outloud_has_no_error(tmp_path: Path) -> None:
    """outloud (of the Python Package Index); it is large, so it comes with the extra `audit` only."""
    pytest.importorskip("outloud")
    import subprocess
    import sys

    paths = []
    for document in papers():
        path = tmp_path / document.name.replace("/", "-")
        path.write_bytes(typesetter().pdf(document))
        paths.append(str(path))
    done = subprocess.run([sys.executable, "-m", "outloud", *paths], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout

"""The table of proofs: which finished files are read back, by what, and what that shows."""

from __future__ import annotations

from builder.publish.proof import Proof, Proofs
from builder.readback import package, page, pdf, slides, table, text

PROOFS: Proofs = {
    ".html": Proof(page.NAMES, page.read_back),
    ".pdf": Proof(pdf.NAMES, pdf.read_back, pdf.SHEET_NAMES),
    ".zip": Proof(package.NAMES, package.read_back),
    ".pptx": Proof(slides.NAMES, slides.read_back),
    ".csv": Proof(table.NAMES, table.read_back),
    ".txt": Proof(text.NAMES, text.read_back),
}

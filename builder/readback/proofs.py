"""The table of proofs: which finished files are read back, by what, and what that shows."""

from __future__ import annotations

from builder.publish.proof import Proof, Proofs
from builder.readback import plain_text
from builder.readback.evidence import csv_table
from builder.readback.paper import pdf
from builder.readback.selftest import package
from builder.readback.site import page
from builder.readback.slides import slides

PROOFS: Proofs = {
    ".html": Proof(page.NAMES, page.read_back),
    ".pdf": Proof(pdf.NAMES, pdf.read_back, pdf.SHEET_NAMES),
    ".zip": Proof(package.NAMES, package.read_back),
    ".pptx": Proof(slides.NAMES, slides.read_back),
    ".csv": Proof(csv_table.NAMES, csv_table.read_back),
    ".txt": Proof(plain_text.NAMES, plain_text.read_back),
}

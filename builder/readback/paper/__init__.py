"""Proofs of finished PDFs, one file each; the table is in ``builder/readback/pdf.py``."""

"""Proofs of finished PDFs, one file each; the table is in ``builder/readback/paper/pdf.py``.

Proofs look at ink, not only at text: what was composed is compared with the words in the tags, their boxes, and the
rendered page, because text can be whole in the file and still be cut from view.
"""

"""Approval against the content it was given for, editions against what was issued, and the ledger itself."""

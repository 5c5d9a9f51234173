"""Writes the ledger: lines are added, and nothing that stands in it is ever written again."""

"""Proofs of tables."""

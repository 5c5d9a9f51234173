"""Proofs of finished pages."""

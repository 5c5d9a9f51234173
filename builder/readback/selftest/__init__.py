"""Proofs of packages."""

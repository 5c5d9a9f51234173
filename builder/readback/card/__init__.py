"""Proofs of cards that are no paper."""

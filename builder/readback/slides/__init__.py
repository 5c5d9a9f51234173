"""Proofs of finished .pptx files."""

"""Slide files (.pptx)."""

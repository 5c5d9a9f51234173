"""Slides, 16:9."""

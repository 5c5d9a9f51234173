"""Slides, 16:9, whole or cut to a session, with the plan for the teacher."""

LENGTHS = (10, 20, 40)
"""The sessions that can be asked for, in minutes."""

"""Slides cut to a session, with the plan for the teacher."""

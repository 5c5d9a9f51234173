"""Gaps: what the writer of a step has in the head and not yet on paper, as questions, and the answers put back."""

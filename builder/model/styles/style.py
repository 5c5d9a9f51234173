"""The names of the styles of references."""

from __future__ import annotations

from enum import StrEnum


class Style(StrEnum):
    """How references are written; ``vancouver`` where the department says nothing."""

    VANCOUVER = "vancouver"
    NLM_ALL_AUTHORS = "nlm-all-authors"
    PLAIN = "plain"
    UNSRT = "unsrt"
    ALPHA = "alpha"

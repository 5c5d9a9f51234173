"""Drafts: what an old outline, slides or a talk say, proposed as steps, actions, cautions and aftercare.

Rules, the department's catalogues and edit distance; no model of language, no network. Nothing is invented: every
word of a proposal stands in the source, and every sentence of the source stands in the proposal.
"""

from __future__ import annotations

from builder.draft.proposal import Proposal
from builder.draft.proposing import propose

__all__ = ["Proposal", "propose"]

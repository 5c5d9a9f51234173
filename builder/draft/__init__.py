"""Drafts: what an old outline, slides or a talk say, proposed as steps, actions, cautions and aftercare.

A draft proposes, it does not write for you. ``load/told`` turns a source into passages; here rules, the names of the
department's catalogues, edit distance and weights learned from labelled talks decide what each sentence is: no
language model, no network. Nothing is invented and nothing is lost: every word of a proposal is in the source, and
every sentence of the source is in one page or in the notes. ``tests/drafts`` compares each sentence of the source,
extracted independently, with the files written. What is required and was not said is written as ``Not said yet.``, so
that it is asked for. ``proposed`` and ``heard_at`` are outside the edition hash, so that confirming a draft changes
no edition. Sources that were held out of the making of the rules keep the numbers of their first reading.
"""

from builder.draft.proposal import Proposal
from builder.draft.proposing import propose

__all__ = ["Proposal", "propose"]

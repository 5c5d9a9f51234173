"""Kinds of sign: what a frightened reader looks under first. A sign goes to the kind that most of its words name.

The lists are ours, of everyday theatre English (common practice). A sign that none names stands in the last kind, so
that nothing is lost.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SignKind:
    """A kind of sign: its ``id``, its ``title`` on the sheet, and the words that name it."""

    id: str
    title: str
    words: frozenset[str] = frozenset()


def _kind(id: str, title: str, words: str) -> SignKind:
    return SignKind(id, title, frozenset(words.split()))


# In the order in which they stand on every sheet: what kills fastest first.
KINDS = (
    _kind("fire", "Fire or burning", "fire flame flames burning smoke spark sparks heat burn"),
    _kind(
        "blood",
        "Blood where there should be none",
        "blood bleed bleeds bleeding haemorrhage hemorrhage haematoma hematoma bruise ooze oozes oozing clots",
    ),
    _kind(
        "patient",
        "The patient changes",
        "pulse heartbeat fit fits seizure lips tingling twitching ringing breath breaths breathless breathlessness "
        "breathing oxygen saturation cough coughs wheeze drowsy confused fever shivering sweating vomiting pain rash "
        "worsens faints collapse collapses tenses metal taste",
    ),
    _kind(
        "fluid",
        "Fluid, gut content or air",
        "fluid urine bile stool content contents faeces leak leaks air hiss froth bubbles bubbling pus",
    ),
    _kind(
        "colour",
        "Blue, cold or swollen",
        "blue cold dusky mottled swollen swells swelling refill tense",
    ),
    _kind(
        "match",
        "The count or the side does not match",
        "count counts missing match answered hesitates side mark label name wristband tray",
    ),
    _kind("other", "It looks or feels wrong", ""),
)
_WORD = re.compile(r"[^\W\d_]+")


def kind_of(sign: str) -> SignKind:
    """Return the kind that most words of ``sign`` name; among equals the one that stands first."""
    words = _WORD.findall(sign.casefold())
    scores = [sum(word in kind.words for word in words) for kind in KINDS]
    best = max(scores)
    return KINDS[scores.index(best)] if best else KINDS[-1]

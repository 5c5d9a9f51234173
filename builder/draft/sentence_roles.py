"""The role of each sentence of a talk: the worthiest by how likely each is under weights learned from labelled talks.

A linear-chain conditional random field (J. Lafferty, A. McCallum, F. Pereira, ICML 2001; 282-289). Learning is
elsewhere (``make drafts``).
"""

import re
from collections.abc import Container, Iterator, Mapping, Sequence
from enum import StrEnum
from math import exp, log

from builder.draft.role_features import features
from builder.draft.verbs import FORMS, meaning_of
from builder.load.learned_weights import AFTER, LearnedWeights, learned_weights


class SaidRole(StrEnum):
    """What a sentence does in the telling."""

    OPENING = "opening"
    BEFORE = "before"
    BEGIN = "begin"
    DO = "do"
    DANGER = "danger"
    GO_ON = "go-on"
    IF_NOT = "if-not"
    WHY = "why"
    AFTERWARDS = "afterwards"
    ALTERNATIVE = "alternative"
    COUNT = "count"
    ASIDE = "aside"


DOES = frozenset({SaidRole.BEGIN, SaidRole.DO, SaidRole.COUNT})
"""What is said in these roles is done, and no part of a warning, a remedy or another way."""


_IN_STEP = DOES | {SaidRole.DANGER, SaidRole.GO_ON, SaidRole.IF_NOT, SaidRole.WHY, SaidRole.ALTERNATIVE}
_NEVER = -1_000_000
_WORTH = {SaidRole.BEGIN: 2.4, SaidRole.DANGER: 2.6, SaidRole.ALTERNATIVE: 2.2}
"""A step, a warning or another way that is missed costs more than one too many."""
_SAYS_NOTHING = re.compile(
    r"\W*(?:okay|ok|all right|alright|right|so|now|then|good|fine|great|well|yes|yeah|next)\W*", re.IGNORECASE
)
_DREADED = 4
"""A sentence begins a step only where that is so many times as likely as a danger."""


def roles_of(
    texts: Sequence[str],
    begins: Container[int] | None = None,
    weights: LearnedWeights | None = None,
    announced: Container[int] = (),
) -> list[SaidRole]:
    """Return the role of each sentence of one talk; ``begins`` are the sentences that begin its steps, where known.

    ``announced`` are those that say so of themselves, such as ``Step one``, where others may begin steps too.
    """
    known = weights or learned_weights("role")
    roles = [SaidRole(label) for label in known.labels]
    own = [known.sums(spoken) for spoken in features(texts)]
    for at, scores in enumerate(own):
        surely = at in begins if begins is not None else at in announced
        if surely or begins is not None:
            own[at] = [score if _may_be(role, surely) else _NEVER for role, score in zip(roles, scores, strict=True)]
        elif barred := _barred(texts[at]):
            own[at] = [_NEVER if role is barred else score for role, score in zip(roles, scores, strict=True)]
    after = [known.sums([f"{AFTER}{role}"]) for role in roles]
    return [_worth_most(dict(zip(roles, chances, strict=True))) for chances in chances_of(own, after)]


def _may_be(role: SaidRole, begins: bool) -> bool:
    return role is SaidRole.BEGIN if begins else role in _IN_STEP - {SaidRole.BEGIN}


def _barred(text: str) -> SaidRole | None:
    """Return the role that a sentence surely has not: what takes breath begins no step, an order warns of nothing."""
    if _SAYS_NOTHING.fullmatch(text):
        return SaidRole.BEGIN
    first = re.match(r"[a-z]+(?= )", text.casefold())
    is_order = first is not None and meaning_of(first[0]) in _ORDERS and FORMS[first[0]][1] in ("base", "both")
    return SaidRole.DANGER if is_order and not _WARNS.search(text) else None


_ORDERS_LIST = "open close clamp clip divide place remove inject irrigate excise suture tie seal count identify inspect"
_ORDERS = frozenset(_ORDERS_LIST.split())
_WARNS = re.compile(
    r"\b(?:not|never|no|don't|danger\w*|risks?|careful\w*|beware|mind|watch|avoid\w*|too|or|and (?:it|you|they))\b",
    re.IGNORECASE,
)


def _worth_most(chances: Mapping[SaidRole, float]) -> SaidRole:
    """Return the role that is worth most; what may well be a danger begins no step, unless nothing else is left."""
    role = max(chances, key=lambda role: chances[role] * _WORTH.get(role, 1))
    if role is SaidRole.BEGIN and chances[SaidRole.DANGER] * _DREADED > chances[role]:
        return max(chances.keys() - {role}, key=lambda role: (chances[role] * _WORTH.get(role, 1), role))
    return role


def chances_of(own: Sequence[Sequence[int]], after: Sequence[Sequence[int]]) -> list[list[float]]:
    """Return how likely each role of each sentence is over all sequences, forward and backward (L. Rabiner, Proceedings
    of the IEEE 1989; 77: 257).

    ``own`` are the hundredths that speak for each role of each sentence, ``after`` those for each role after each.
    """
    forward = list(_summed(own, after))
    before = [list(column) for column in zip(*after, strict=True)]
    backward = list(_summed(own[::-1], before))[::-1]
    both = (
        [there + back - here for there, back, here in zip(*scores, strict=True)]
        for scores in zip(forward, backward, own, strict=True)
    )
    return [[exp((score - _log_sum(scores)) / 100) for score in scores] for scores in map(list, both)]


def _summed(own: Sequence[Sequence[int]], after: Sequence[Sequence[int]]) -> Iterator[list[float]]:
    reached: list[float] = []
    for scores in own:
        if reached:
            ways = (
                [score + after[before][role] for before, score in enumerate(reached)] for role in range(len(scores))
            )
            reached = [_log_sum(way) + score for way, score in zip(ways, scores, strict=True)]
        else:
            reached = [float(score) for score in scores]
        yield reached


def _log_sum(scores: Sequence[float]) -> float:
    """Return the hundredths that speak for any of what ``scores`` speak for."""
    highest = max(scores)
    return highest + 100 * log(sum(exp((score - highest) / 100) for score in scores))

"""The role of each sentence of a talk: the likeliest sequence under weights that were learned from labelled talks.

A linear-chain conditional random field (J. Lafferty, A. McCallum, F. Pereira, ICML 2001; 282-289), read with the
algorithm of Viterbi. Learning is elsewhere (``make drafts``); here are sums of whole numbers.
"""

from collections.abc import Container, Sequence
from enum import StrEnum

from builder.draft.role_features import features
from builder.load.role_weights import AFTER, RoleWeights, role_weights


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


def roles_of(
    texts: Sequence[str],
    begins: Container[int] | None = None,
    weights: RoleWeights | None = None,
    announced: Container[int] = (),
) -> list[SaidRole]:
    """Return the role of each sentence of one talk; ``begins`` are the sentences that begin its steps, where known.

    ``announced`` are those that say so of themselves, such as ``Step one``, where others may begin steps too.
    """
    known = weights or role_weights()
    after = [_sums([f"{AFTER}{role}"], known) for role in known.roles]
    best: list[int] = []
    came_from: list[list[int]] = []
    for at, spoken in enumerate(features(texts)):
        own = _sums(spoken, known)
        if begins is not None:
            own = [own[at_role] if _may_be(role, at in begins) else _NEVER for at_role, role in enumerate(known.roles)]
        elif at in announced:
            own = [score if role == SaidRole.BEGIN else _NEVER for role, score in zip(known.roles, own, strict=True)]
        if not best:
            best = own
            continue
        reached = [[score + after[before][role] for before, score in enumerate(best)] for role in range(len(own))]
        came_from.append([max(range(len(scores)), key=scores.__getitem__) for scores in reached])
        best = [max(scores) + own[role] for role, scores in enumerate(reached)]
    path = [max(range(len(best)), key=best.__getitem__)] if best else []
    for back in reversed(came_from):
        path.append(back[path[-1]])
    return [SaidRole(known.roles[role]) for role in reversed(path)]


def _may_be(role: str, begins: bool) -> bool:
    return role == SaidRole.BEGIN if begins else role in _IN_STEP - {SaidRole.BEGIN}


def _sums(spoken: Sequence[str], known: RoleWeights) -> list[int]:
    sums = [0] * len(known.roles)
    for feature in spoken:
        for role, weight in known.of(feature):
            sums[role] += weight
    return sums

"""What is done to each thing that a sentence names: as the labelled talks have taught it.

Log-linear models: the weights of features are summed up for each verb at each place of a sentence, and become chances.
Learning is elsewhere (``make drafts``); here are sums of whole numbers.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from math import exp
from typing import NamedTuple

from builder.draft.doing_features import MEANT_BY, DonePlace, LookedAt, place_features
from builder.draft.doings import Doing
from builder.draft.made_actions import NamedThing
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import on_item, on_structure
from builder.load.learned_weights import LearnedWeights, learned_weights

NOTHING_DONE = "nothing"
"""Labels a place to which nothing is done."""
LIKELY, LIKELY_UNNAMED, DOUBTFUL = 0.45, 0.5, 0.12
"""The chance from which a verb is taken to be done to what is named, and to what is not; and below which what was read
is not taken to be done, unless it is an order."""


class DoingWeights(NamedTuple):
    """What speaks for what is done at a place, and for a place and its verb as the title of a step."""

    doings: LearnedWeights
    titles: LearnedWeights


@cache
def shipped() -> DoingWeights:
    """Return the weights that ship with the program."""
    return DoingWeights(*map(learned_weights, ("doing", "title")))


class Judged:
    """What is likely done at the places of one sentence."""

    def __init__(self, looked_at: LookedAt, weights: DoingWeights | None = None) -> None:
        self.places = looked_at.places
        self.chances = chances_at(looked_at, (weights or shipped()).doings)
        self.is_marked = bool(looked_at.doings) and all(doing.mark for doing in looked_at.doings)

    def is_doubtful(self, action: ProposedAction) -> bool:
        """Tell whether it is unlikely that an action, which was read, is done."""
        if action.verb in _NOT_JUDGED or not self.chances[-1]:
            return False
        fitting = [
            sum(chance for verb, chance in chances.items() if are_alike(verb, action.verb))
            for place, chances in zip(self.places, self.chances, strict=True)
            if place.thing is None or place.thing.name in action.objects
        ]
        return max(fitting, default=0) < DOUBTFUL

    def likely(self) -> Iterator[tuple[str, DonePlace]]:
        """Yield the verbs that are likely done, each at its place, where it is not read that they are not done."""
        for place, chances in zip(self.places, self.chances, strict=True):
            doing = place.doing
            if doing.mark if doing else self.is_marked:
                continue
            for verb, chance in chances.items():
                if verb != NOTHING_DONE and chance >= (LIKELY if place.phrase else LIKELY_UNNAMED):
                    yield verb, place


_NOT_JUDGED = frozenset({"count", "tell"})


def are_alike(verb: str, other: str) -> bool:
    """Tell whether one verb may be what another says."""
    return verb == other or other in MEANT_BY.get(verb, ()) or verb in MEANT_BY.get(other, ())


def action_verb(verb: str, thing: NamedThing) -> str:
    """Return the action's verb for what is done to ``thing``; "" where it has none."""
    if verb == "dress":
        return "place" if thing.kind in ("dressing", "garment", "pack") else ""
    if verb == "place" and thing.kind in ("clip", "suture"):
        return ""  # on what is not said
    if verb == "remove" and thing.is_structure:
        verb = "excise"
    return on_structure(verb, thing.kind) if thing.is_structure else on_item(verb, thing.kind)


_SEWN = {"suture": "suture", "clip": "clamp"}
"""What is done to a structure with an item of a kind."""


def likely_action(verb: str, thing: NamedThing, target: NamedThing | None) -> ProposedAction | None:
    """Return the action that ``verb`` done to ``thing`` makes; None where it makes none.

    ``target``: the structure that a stitch or a clip would be for.
    """
    if thing.is_structure and verb in _WITHIN:
        item, key = _WITHIN[verb]
        return ProposedAction("place" if verb == "dress" else verb, (item,), ((key, thing.name),))
    if not thing.is_structure and thing.kind in _SEWN and verb in ("place", "suture", "close", "clamp", "seal", "tie"):
        made = "close" if verb == "close" else _SEWN[thing.kind]
        return ProposedAction(made, (target.name,), (("with", thing.name),)) if target else None
    made = action_verb(verb, thing)
    return ProposedAction(made, (thing.name,)) if made else None


_WITHIN = {"irrigate": ("irrigation fluid", "in"), "dress": ("dressing", "on")}
"""What is used, where only the structure is said."""


_JUST_BEFORE = re.compile(
    r"(?:^|[,;:.]|\band|\bthen|\bnow|^\W*so)\s*(?:then|now|and|just|next|\w+ly)?\s*$", re.IGNORECASE
)


def is_order(text: str, doing: Doing) -> bool:
    """Tell whether something is told as an order: ``tie the vein``, ``..., then cut it``."""
    is_bare = text[doing.start :].casefold().startswith(doing.lemma)
    return doing.way == "verb" and is_bare and bool(_JUST_BEFORE.search(text[: doing.start]))


def chances_at(looked_at: LookedAt, weights: LearnedWeights) -> Sequence[Mapping[str, float]]:
    """Return, for each place of a sentence, the chance of each verb to be done there."""
    return [_chances(weights, spoken) for spoken in place_features(looked_at)]


def _chances(weights: LearnedWeights, spoken: Sequence[str]) -> Mapping[str, float]:
    sums = weights.sums(spoken)
    highest = max(sums, default=0)
    grown = [exp((score - highest) / 100) for score in sums]
    whole = sum(grown)
    return {verb: part / whole for verb, part in zip(weights.labels, grown, strict=True)}

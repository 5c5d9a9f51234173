"""What is done in a sentence and to what: as the labelled talks have taught it.

Log-linear models: the weights of features are summed up for each verb, and for each place as the object of a verb that
is said. Learning is elsewhere (``make drafts``); here are sums of whole numbers.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from builder.draft.doing_features import LookedAt, object_features, sentence_features
from builder.draft.verbs import is_telling
from builder.load.learned_weights import LearnedWeights, learned_weights

LEAST = 0
"""Hundredths that must speak for a verb, its likeliest object counted at a part of its own."""
_PART_OF_OBJECT = 0.3
_UNLIKELY = -300
_SAID = 150
"""Hundredths that speak for a verb that is plainly said in its own word."""


class DoingWeights(NamedTuple):
    """What speaks for the verbs of a sentence, for the objects of a verb, and for the verb of a title."""

    verbs: LearnedWeights
    objects: LearnedWeights
    titles: LearnedWeights


@cache
def shipped() -> DoingWeights:
    """Return the weights that ship with the program."""
    return DoingWeights(*map(learned_weights, ("doing", "object", "title")))


def objects_said(looked_at: LookedAt, weights: DoingWeights | None = None) -> Iterator[tuple[str, list[int]]]:
    """Yield each verb that is done in a sentence, with the numbers of the places it is done to."""
    for verb, score in scores_of_verbs(looked_at, weights).items():
        if score < _UNLIKELY:
            continue
        scores = scores_as_object(verb, looked_at, weights)
        best = max(range(len(scores)), key=scores.__getitem__)
        if score + _PART_OF_OBJECT * scores[best] > LEAST:
            yield verb, [at for at, one in enumerate(scores) if one > 0 or at == best]


def scores_of_verbs(looked_at: LookedAt, weights: DoingWeights | None = None) -> Mapping[str, int]:
    """Return how much speaks for each verb in a sentence, in hundredths."""
    known = (weights or shipped()).verbs
    said = {doing.meaning for doing in looked_at.doings if not doing.mark and doing.objects and is_telling(doing.lemma)}
    scores = zip(known.labels, known.sums(sentence_features(looked_at)), strict=True)
    return {verb: score + _SAID * (verb in said) for verb, score in scores}


def scores_as_object(verb: str, looked_at: LookedAt, weights: DoingWeights | None = None) -> Sequence[int]:
    """Return how much speaks for each place of a sentence as the object of ``verb``, in hundredths."""
    known = (weights or shipped()).objects
    return [known.sums(spoken)[0] for spoken in object_features(verb, looked_at)]

"""What is done in a sentence and to what: as the labelled talks have taught it.

Log-linear models: the weights of features are summed up for each verb, and for each place as the object of a verb that
is said. Learning is elsewhere (``make drafts``); here are sums of whole numbers.
"""

from collections.abc import Iterator, Sequence

from builder.draft.doing_features import LookedAt, object_features, sentence_features
from builder.load.learned_weights import LearnedWeights, learned_weights

LEAST = 0
"""Hundredths that must speak for a verb, its likeliest object counted at a part of its own."""
_PART_OF_OBJECT = 0.3
_UNLIKELY = -300


def objects_said(
    looked_at: LookedAt, verbs: LearnedWeights | None = None, objects: LearnedWeights | None = None
) -> Iterator[tuple[str, list[int]]]:
    """Yield each verb that is done in a sentence, with the numbers of the places it is done to."""
    known = verbs or learned_weights("doing")
    for verb, score in zip(known.labels, known.sums(sentence_features(looked_at)), strict=True):
        if score < _UNLIKELY:
            continue
        scores = scores_as_object(verb, looked_at, objects)
        best = max(range(len(scores)), key=scores.__getitem__)
        if score + _PART_OF_OBJECT * scores[best] > LEAST:
            yield verb, [at for at, one in enumerate(scores) if one > 0 or at == best]


def scores_as_object(verb: str, looked_at: LookedAt, objects: LearnedWeights | None = None) -> Sequence[int]:
    """Return how much speaks for each place of a sentence as the object of ``verb``, in hundredths."""
    known = objects or learned_weights("object")
    return [known.sums(spoken)[0] for spoken in object_features(verb, looked_at)]

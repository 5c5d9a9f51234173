"""Learns from the labelled talks what is done in a sentence, to what, and which of it is the title of a step.

``builder/load/doing-weights.txt``, ``object-weights.txt`` and ``title-weights.txt`` follow byte by byte from the labels,
``builder/draft/doing_features.py`` and the catalogue.
"""

from __future__ import annotations

import re
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pycrfsuite

from builder.draft.actions import ReadSentence, TalkReader
from builder.draft.doing_features import LookedAt, agrees, object_features, sentence_features
from builder.draft.heard_names import CatalogueNames
from builder.draft.titles import title_features
from builder.draft.verbs import meaning_of
from builder.load.learned_weights import LETTERS, LearnedWeights, parsed
from drafts.labelled import LabelledSentence, Talk

CLASSES: Mapping[str, str] = {
    "check": "inspect", "incise": "open", "transect": "divide", "ligate": "tie", "insert": "place", "pass": "place",
    "dissect": "expose", "mobilise": "expose", "infiltrate": "inject", "give": "inject", "wash": "irrigate",
    "clip": "clamp", "drain": "aspirate", "ask": "tell", "call": "tell",
}  # fmt: skip
"""Verbs of labels that mean the same here; others stand for themselves."""
SETTINGS = {"c1": 0.1, "c2": 1.0, "max_iterations": 60, "feature.minfreq": 2}
FEWEST = 30
"""A verb that the labels have less often is not learned."""
LEAST = 4
"""Hundredths below which a weight is left out."""
NOTHING = LearnedWeights((), {})
_SMALL_LIST = """
of the a an and to in with for at on by from its left right upper lower superior inferior anterior posterior medial
lateral deep superficial proximal distal internal external front back outer inner first second third large small long
short both other great common end ends side whole middle new old
"""
_SMALL = frozenset(_SMALL_LIST.split())


class Taught(NamedTuple):
    """What one talk teaches, as pairs of features and what they show: verbs of sentences, objects, titles of steps."""

    verbs: list[tuple[list[str], frozenset[str]]]
    objects: list[tuple[list[str], str]]
    titles: list[tuple[list[str], str]]


class Learned(NamedTuple):
    """The texts of the three files of weights."""

    verbs: str
    objects: str
    titles: str

    def parsed(self) -> tuple[LearnedWeights, LearnedWeights, LearnedWeights]:
        """Return the weights as they are used."""
        return parsed(self.verbs), parsed(self.objects), parsed(self.titles)


def class_of(verb: str) -> str:
    """Return the verb under which a labelled verb is learned."""
    return CLASSES.get(verb, verb)


def telling(text: str) -> set[str]:
    """Return the words of a name that tell what it is, in the singular."""
    words = [CatalogueNames.plain(word) for word in re.findall(r"[a-z0-9]+", text.casefold())]
    return {word for word in words if word not in _SMALL} or set(words[-1:])


def taught_by(talk: Talk, names: CatalogueNames) -> Taught:
    """Return what a labelled talk teaches."""
    reader, taught = TalkReader(names, NOTHING, NOTHING), Taught([], [], [])
    read = [reader.read(sentence.said, sentence.role) for sentence in talk.sentences]
    for sentence, one in zip(talk.sentences, read, strict=True):
        labels = labels_of(sentence, one.looked_at)
        taught.verbs.append((sentence_features(one.looked_at), frozenset(labels)))
        for verb, places in labels.items():
            for at, features in enumerate(object_features(verb, one.looked_at)):
                taught.objects.append((features, "yes" if at in places else "no"))
    for number, (sentence, told) in enumerate(steps := list(read_steps(talk, read))):
        word = sentence.title.partition(" ")[0].casefold()
        taught.titles.append((title_features(told, number, len(steps)), class_of(meaning_of(word) or word)))
    return taught


def labels_of(sentence: LabelledSentence, looked_at: LookedAt) -> dict[str, set[int]]:
    """Return the verbs that the labels say are done, each with the numbers of the places it is done to.

    What is supposed counts only where everything is: in what leaves open, and in what is done when it goes wrong.
    """
    labels: dict[str, set[int]] = {}
    is_open = sentence.role in ("alternative", "if-not")
    for doing in sentence.doings:
        if doing.mark == "!" or (doing.mark and not is_open):
            continue
        for wanted in doing.objects:
            verb = class_of(doing.verb)
            labels.setdefault(verb, set()).add(_place_of(verb, wanted, sentence, looked_at))
    return labels


def _place_of(verb: str, wanted: str, sentence: LabelledSentence, looked_at: LookedAt) -> int:
    """Return the number of the place that a label means: the one with its words, else the one its verb is said of."""
    best, chosen = 0.0, len(looked_at.places) - 1
    for at, place in enumerate(looked_at.places):
        if place.phrase is None:
            continue
        words = sentence.said[place.phrase.start : place.phrase.end]
        for heard, right in sentence.misheard:
            words = re.sub(re.escape(heard), right, words, flags=re.IGNORECASE)
        shared = len(telling(wanted) & (telling(words) | telling(place.thing.name if place.thing else words)))
        is_said = place.doing is not None and not place.joint and agrees(verb, place.doing)
        score = shared + (0.5 if shared else 0.4) * is_said
        if score > best:
            best, chosen = score, at
    return chosen


def read_steps(talk: Talk, read: Sequence[ReadSentence]) -> Iterator[tuple[LabelledSentence, list[ReadSentence]]]:
    """Yield the first sentence of each step, and what was read in it and in what is done after it."""
    starts = [number for number, sentence in enumerate(talk.sentences) if sentence.role == "begin"]
    for start, end in zip(starts, [*starts[1:], len(talk.sentences)], strict=True):
        told = [number for number in range(start, end) if number == start or talk.sentences[number].role == "do"]
        yield talk.sentences[start], [read[number] for number in told]


def learned(taught: Iterable[Taught]) -> Learned:
    """Return the weights that talks teach."""
    every = list(taught)
    sentences = [pair for one in every for pair in one.verbs]
    counts = Counter(verb for _, verbs in sentences for verb in verbs)
    verbs = sorted(verb for verb, count in counts.items() if count >= FEWEST)
    items = [(pycrfsuite.ItemSequence([features]), said) for features, said in sentences]
    apart = {verb: _trained((one, "yes" if verb in said else "no") for one, said in items) for verb in verbs}
    objects = _trained((pycrfsuite.ItemSequence([one]), label) for taught in every for one, label in taught.objects)
    titles = [pair for one in every for pair in one.titles]
    often = Counter(verb for _, verb in titles)
    kept = [(pycrfsuite.ItemSequence([one]), verb) for one, verb in titles if often[verb] >= FEWEST // 3]
    return Learned(
        _written(verbs, {(feature, verb): weight for verb in verbs for feature, weight in _yes(apart[verb]).items()}),
        _written(["object"], {(feature, "object"): weight for feature, weight in _yes(objects).items()}),
        _written(sorted({verb for _, verb in kept}), _trained(kept)),
    )


def _trained(pairs: Iterable[tuple[pycrfsuite.ItemSequence, str]]) -> dict[tuple[str, str], float]:
    trainer = pycrfsuite.Trainer(algorithm="lbfgs", params=SETTINGS, verbose=False)
    for items, label in pairs:
        trainer.append(items, [label])
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "model")
        trainer.train(file)
        tagger = pycrfsuite.Tagger()
        tagger.open(file)
        weights = dict(tagger.info().state_features)
        tagger.close()
    return weights


def _yes(weights: Mapping[tuple[str, str], float]) -> dict[str, float]:
    """Return by how much more each feature speaks for "yes" than for "no"."""
    spoken = dict.fromkeys(sorted({feature for feature, _ in weights}))
    return {feature: weights.get((feature, "yes"), 0) - weights.get((feature, "no"), 0) for feature in spoken}


def _written(labels: Sequence[str], weights: Mapping[tuple[str, str], float]) -> str:
    lines: dict[str, str] = {}
    letters = {label: LETTERS[at] for at, label in enumerate(labels)}
    for (feature, label), weight in sorted(weights.items()):
        if abs(round(weight * 100)) >= LEAST:
            lines[feature] = f"{lines.get(feature, '')}{letters[label]}{round(weight * 100)}"
    return "".join([f"{chr(9).join(labels)}\n", *(f"{feature}\t{lines[feature]}\n" for feature in sorted(lines))])

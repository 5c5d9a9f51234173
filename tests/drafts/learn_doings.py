"""Learns from the labelled talks what is done in a sentence, to what, and which of it is the title of a step.

``python tests/drafts/learn_doings.py`` writes ``builder/load/doing-weights.txt`` and ``title-weights.txt`` anew; they
follow byte by byte from the labels, ``builder/draft/doing_features.py`` and the catalogue.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

import pycrfsuite

from builder.draft.actions import PARTS, ReadSentence, TalkReader
from builder.draft.doing_features import MEANT_BY, LookedAt, place_features
from builder.draft.doings import Doing
from builder.draft.heard_names import CatalogueNames
from builder.draft.learned_doings import NOTHING_DONE, DoingWeights
from builder.draft.verbs import meaning_of
from builder.load.folder import load
from builder.load.learned_weights import LETTERS, LearnedWeights, file_of, parsed
from builder.model.build import build
from drafts.labelled import LabelledSentence, Talk, talks
from drafts.results import DEPARTMENT, TODAY

CLASSES: Mapping[str, str] = {
    "check": "inspect", "incise": "open", "transect": "divide", "ligate": "tie", "insert": "place", "pass": "place",
    "dissect": "expose", "mobilise": "expose", "infiltrate": "inject", "give": "inject", "wash": "irrigate",
    "clip": "clamp", "drain": "aspirate", "ask": "tell", "call": "tell",
}  # fmt: skip
"""Verbs of labels that mean the same here; others stand for themselves."""
SETTINGS = {"c1": 0.5, "c2": 1.0, "max_iterations": 40, "feature.minfreq": 3}
FEWEST = 30
"""A verb that the labels have less often is not learned."""
LEAST = 4
"""Hundredths below which a weight is left out."""
NOTHING = DoingWeights(*[LearnedWeights((), {})] * 2)
READ_ROLES = frozenset({"begin", "do", "count", "alternative", "if-not"})
"""What is done is read, and learned, in sentences of these roles."""
_SMALL_LIST = """
of the a an and to in with for at on by from its left right upper lower superior inferior anterior posterior medial
lateral deep superficial proximal distal internal external front back outer inner first second third large small long
short both other great common end ends side whole middle new old
"""
_SMALL = frozenset(_SMALL_LIST.split())


class Taught(NamedTuple):
    """What one talk teaches, as pairs of features and a verb: what is done at places, and what titles steps."""

    doings: list[tuple[list[str], str]]
    titles: list[tuple[list[str], str]]


class Learned(NamedTuple):
    """The texts of the two files of weights."""

    doings: str
    titles: str

    def parsed(self) -> DoingWeights:
        """Return the weights as they are used."""
        return DoingWeights(*map(parsed, self))


def class_of(verb: str) -> str:
    """Return the verb under which a labelled verb is learned."""
    return CLASSES.get(verb, verb)


def telling(text: str) -> set[str]:
    """Return the words of a name that tell what it is, in the singular."""
    words = [CatalogueNames.plain(word) for word in re.findall(r"[a-z0-9]+", text.casefold())]
    return {word for word in words if word not in _SMALL} or set(words[-1:])


def taught_by(talk: Talk, names: CatalogueNames) -> Taught:
    """Return what a labelled talk teaches."""
    reader, taught = TalkReader(names, talk.head["operation"], NOTHING), Taught([], [])
    read = read_talk(reader, talk)
    for sentence, result in zip(talk.sentences, read, strict=True):
        if sentence.role in READ_ROLES:
            taught.doings.extend(_at_places(result.looked_at, labels_of(sentence, result.looked_at)))
    for sentence, told in read_steps(talk, read):
        taught.titles.extend(_at_places(told[0].looked_at, _title_of(sentence, told[0].looked_at)))
    return taught


def read_talk(reader: TalkReader, talk: Talk) -> list[ReadSentence]:
    """Return what is read in the sentences of a talk, each with its labelled role."""
    begun = list(accumulate(sentence.role == "begin" for sentence in talk.sentences))
    return [
        reader.read(sentence.said, sentence.role, max(0, steps - 1) * PARTS // max(1, begun[-1]))
        for sentence, steps in zip(talk.sentences, begun, strict=True)
    ]


def _at_places(looked_at: LookedAt, labels: Mapping[str, set[int]]) -> Iterator[tuple[list[str], str]]:
    """Yield the features of each place of a sentence with each verb that is done there."""
    for at, features in enumerate(place_features(looked_at)):
        done = [verb for verb, places in labels.items() if at in places]
        for verb in done or [NOTHING_DONE]:
            yield features, verb


def _title_of(sentence: LabelledSentence, looked_at: LookedAt) -> dict[str, set[int]]:
    """Return the verb of the title of a step, with the places of its first sentence that the title names."""
    word, _, wanted = sentence.title.partition(" ")
    verb = class_of(meaning_of(word.casefold()) or word.casefold())
    return {verb: {_place_of(verb, wanted, sentence, looked_at)}}


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


def agrees(verb: str, doing: Doing) -> bool:
    """Tell whether a doing that was read may be what ``verb`` says."""
    return doing.lemma == verb or doing.meaning in MEANT_BY.get(verb, {verb})


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
    return Learned(*(_written(_trained(pair for talk in every for pair in talk[what])) for what in (0, 1)))


def _trained(pairs: Iterable[tuple[list[str], str]]) -> dict[tuple[str, str], float]:
    every = list(pairs)
    often = Counter(verb for _, verb in every)
    trainer = pycrfsuite.Trainer(algorithm="lbfgs", params=SETTINGS, verbose=False)
    for features, verb in every:
        if often[verb] >= FEWEST:
            trainer.append([features], [verb])
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "model")
        trainer.train(file)
        tagger = pycrfsuite.Tagger()
        tagger.open(file)
        weights = dict(tagger.info().state_features)
        tagger.close()
    return weights


def _written(weights: Mapping[tuple[str, str], float]) -> str:
    labels = sorted({verb for _, verb in weights})
    letters = {label: LETTERS[at] for at, label in enumerate(labels)}
    lines: dict[str, str] = {}
    for (feature, label), weight in sorted(weights.items()):
        if abs(round(weight * 100)) >= LEAST:
            lines[feature] = f"{lines.get(feature, '')}{letters[label]}{round(weight * 100)}"
    return "".join([f"{chr(9).join(labels)}\n", *(f"{feature}\t{lines[feature]}\n" for feature in sorted(lines))])


def taught_by_all() -> dict[str, Taught]:
    """Return what each labelled talk teaches, by its name."""
    names = CatalogueNames(build(load(DEPARTMENT, TODAY))[0])
    return {talk.name: taught_by(talk, names) for talk in talks()}


def main() -> int:
    """Write the weights anew."""
    for what, text in zip(("doing", "title"), learned(taught_by_all().values()), strict=True):
        file_of(what).write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

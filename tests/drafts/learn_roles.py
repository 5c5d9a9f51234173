"""Learns the roles of sentences from the labelled talks, and measures them on operations left out of the learning.

``python tests/drafts/learn_roles.py`` writes ``builder/load/role-weights.txt`` anew and measures; the file follows from
the labels and ``builder/draft/role_features.py``, byte by byte.
"""

from __future__ import annotations

import sys
import tempfile
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

import pycrfsuite

from builder.draft.role_features import features
from builder.draft.sentence_roles import roles_of
from builder.draft.sentences import sentences_of, without_fillers
from builder.load.learned_weights import AFTER, LearnedWeights, file_of, parsed
from builder.load.told.draft_source import Source
from builder.load.told.source_file import source_of
from drafts.labelled import FIRST, FOLDER, ROLES, Talk, talks

FOLDS = 5
SETTINGS = {"c1": 0.05, "c2": 2.0, "max_iterations": 70, "feature.minfreq": 2}
LEAST = 4
"""Hundredths below which a weight is left out."""


def learned(talks: Iterable[Talk]) -> str:
    """Return the weights learned from ``talks`` as the text of their file."""
    trainer = pycrfsuite.Trainer(algorithm="lbfgs", params=SETTINGS, verbose=False)
    for talk in talks:
        trainer.append(features([one.said for one in talk.sentences]), [one.role for one in talk.sentences])
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "model")
        trainer.train(file)
        tagger = pycrfsuite.Tagger()
        tagger.open(file)
        learned = tagger.info()
        tagger.close()
    weights: dict[str, dict[str, int]] = {}
    for (feature, role), weight in learned.state_features.items():
        weights.setdefault(feature, {})[role] = round(weight * 100)
    for (before, role), weight in learned.transitions.items():
        weights.setdefault(f"{AFTER}{before}", {})[role] = round(weight * 100)
    return "".join([f"{chr(9).join(ROLES)}\n", *(_line(feature, weights[feature]) for feature in sorted(weights))])


def _line(feature: str, weights: dict[str, int]) -> str:
    kept = [f"{chr(97 + at)}{weights[role]}" for at, role in enumerate(ROLES) if abs(weights.get(role, 0)) >= LEAST]
    return f"{feature}\t{''.join(kept)}\n" if kept else ""


def folds(talks: Sequence[Talk]) -> list[list[Talk]]:
    """Return ``talks`` in parts, by a checksum of the name, so that a new talk moves no other."""
    ordered = sorted(talks, key=lambda talk: zlib.crc32(talk.name.encode()))
    return [ordered[part::FOLDS] for part in range(FOLDS)]


def left_out(every: Sequence[Talk], first: Sequence[Talk]) -> dict[str, list[str]]:
    """Return the roles of each talk under weights learned without it, by its name."""
    parts = folds(every)
    given: dict[str, list[str]] = {}
    for part in parts:
        weights = parsed(learned([*(talk for other in parts if other is not part for talk in other), *first]))
        given |= {talk.name: given_roles(talk, weights) for talk in part}
    return given


def given_roles(talk: Talk, weights: LearnedWeights | None = None) -> list[str]:
    """Return the role that each sentence of a talk is given."""
    return [str(role) for role in roles_of([one.said for one in talk.sentences], weights=weights)]


def measured(every: Sequence[Talk], given: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Yield the lines of the table: what the roles are worth, steps, and cautions at their step."""
    pairs: Counter[tuple[str, str]] = Counter()
    sums: Counter[str] = Counter()
    for talk in every:
        true = [one.role for one in talk.sentences]
        pairs.update(zip(true, given[talk.name], strict=True))
        sums.update(_steps(true, given[talk.name]))
    yield f"{sum(pairs[role, role] for role in ROLES) / pairs.total():.1%} of {pairs.total()} sentences have their role"
    yield "role          found  right  sentences"
    for role in ROLES:
        labelled, said = (sum(pairs[pair] for pair in pairs if pair[side] == role) for side in (0, 1))
        hits = pairs[role, role]
        yield f"{role:12} {hits / max(1, labelled):6.0%} {hits / max(1, said):6.0%} {labelled:10}"
    steps, dangers = sums["steps"], sums["dangers"]
    yield f"steps that begin at their sentence: {sums['at its sentence'] / steps:.0%}; begun anywhere within: "
    yield f"  {sums['within'] / steps:.0%}; begun where none begins: {sums['false'] / steps:.2f} for each true step"
    yield f"cautions found at the right step: {sums['right dangers'] / dangers:.0%} of {dangers}"


def _steps(true: Sequence[str], given: Sequence[str]) -> Counter[str]:
    """Count steps begun at their sentence, within their sentences and falsely; and warnings that are at their step."""
    sums: Counter[str] = Counter()
    begun = proposed = -1
    within = set()
    for at, (role, said) in enumerate(zip(true, given, strict=True)):
        begun = at if role == "begin" else begun
        proposed = at if said == "begin" else proposed
        sums["steps"] += role == "begin"
        sums["at its sentence"] += role == said == "begin"
        sums["false"] += said == "begin" != role
        if said == "begin" and begun >= 0 and role not in ("before", "afterwards", "opening"):
            within.add(begun)
        sums["dangers"] += role == "danger"
        sums["right dangers"] += role == said == "danger" and proposed >= begun
    sums["within"] = len(within)
    return sums


def subtitles(talk: Talk) -> Source:
    """Return a talk as subtitles of seven words a line."""
    words = [word for one in talk.sentences for word in one.said.split()]
    lines = [" ".join(words[at : at + 7]) for at in range(0, len(words), 7)]
    cues = [
        f"{at // 60:02}:{at % 60:02}.000 --> {at // 60:02}:{at % 60:02}.900\n{line}" for at, line in enumerate(lines)
    ]
    return source_of("talk.vtt", "\n\n".join(["WEBVTT", *cues]).encode())


def broken(talk: Talk) -> list[str]:
    """Return the sentences of a talk that do not come back whole from subtitles."""
    whole = Counter(one.text for passage in subtitles(talk).passages for one in sentences_of(passage))
    return [one.said for one in talk.sentences if not whole[without_fillers(one.said)]]


def labellers(every: Sequence[Talk]) -> Iterator[str]:
    """Yield how far a second labeller begins steps and warns where the first does: no measure can ask for more."""
    first = {talk.name: talk for talk in every}
    again = list(talks(FOLDER / "second"))
    yield "\ntwo labellers: the second measured against the first, as the program is above"
    yield from measured(
        [first[talk.name] for talk in again], {one.name: [said.role for said in one.sentences] for one in again}
    )


def main() -> int:
    """Write the weights anew, and print what they are worth."""
    every, first = list(talks()), list(talks(FIRST))
    file_of("role").write_text(learned([*every, *first]), encoding="utf-8")
    report = [f"roles of sentences, {len(every)} talks, each measured without its operation ({FOLDS} parts)"]
    report += measured(every, left_out(every, first))
    report.append(f"sentences lost or broken in subtitles: {sum(len(broken(talk)) for talk in every)}")
    apart, shipped = list(talks(FOLDER / "apart")), parsed(file_of("role").read_text(encoding="utf-8"))
    report.append(f"\n{len(apart)} talks that were never learned from, nor looked at while this was built")
    report += measured(apart, {talk.name: given_roles(talk, shipped) for talk in apart})
    sys.stdout.writelines(f"{line}\n" for line in [*report, *labellers(every)])
    return 0


if __name__ == "__main__":
    sys.exit(main())

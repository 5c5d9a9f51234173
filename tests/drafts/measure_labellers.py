"""``python tests/drafts/measure_labellers.py``: what a second labeller finds of the first, judged as drafts are judged.

No draft can be asked for more. The second had not seen the labels of the first; mishearings were labelled by one alone.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from drafts.judged_titles import is_right_title
from drafts.labelled import FOLDER, Doing, LabelledSentence, talks
from drafts.measure_actions import IN_STEPS, MEANS, NOT_WRONG, Measure, library_of_test


def figures() -> Iterator[str]:
    """Yield a line for each figure."""
    judge = Measure(library_of_test(), hears=False)
    first, counts = {talk.name: talk for talk in talks()}, Counter[str]()
    for again in talks(FOLDER / "second"):
        for one, other in zip(first[again.name].sentences, again.sentences, strict=True):
            judge.said = one.said
            counts.update(_actions("actions", one, other, judge))
            counts.update(_actions("proposed", other, one, judge))
            if one.role == "begin":
                counts["titles"] += 1
                counts["titles right"] += is_right_title(other.title, one, judge.names)
            for what, role in _ROLES.items():
                counts[what] += one.role == role
                counts[f"{what} right"] += one.role == other.role == role
    for what in ("steps", "titles", "actions", "cautions", "aftercare", "ways"):
        yield f"{what:10} {counts[f'{what} right']:5}/{counts[what]:<5} {counts[f'{what} right'] / counts[what]:.0%}"
    wrong = counts["proposed"] - counts["proposed right"]
    yield f"wrong actions: {wrong} of {counts['proposed']} = {wrong / counts['proposed']:.0%}"


_ROLES = {"steps": "begin", "cautions": "danger", "aftercare": "afterwards", "ways": "alternative"}


def _actions(what: str, one: LabelledSentence, other: LabelledSentence, judge: Measure) -> Iterator[str]:
    """Yield what is counted of the actions of ``one``: each, and each that ``other`` has too."""
    plain = [doing for doing in other.doings if not doing.mark] if other.role in IN_STEPS else []
    for doing in one.doings if one.role in IN_STEPS else ():
        for wanted in doing.objects if doing.verb in MEANS and not doing.mark else ():
            yield what
            if any(_is_same(Doing("", doing.verb, (wanted,)), same, judge) for same in plain):
                yield f"{what} right"


def _is_same(wanted: Doing, other: Doing, judge: Measure) -> bool:
    made = f"{MEANS.get(other.verb, '')} {NOT_WRONG.get(other.verb, '')}".split()
    return any(judge._is(wanted, action, list(other.objects)) for action in made)


if __name__ == "__main__":
    sys.stdout.writelines(f"{line}\n" for line in figures())

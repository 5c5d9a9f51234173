"""``python tests/drafts/measure_talks.py [FOLDER]``: what a whole draft makes of labelled talks, in one table.

Without a folder the labelled talks are measured, each under weights that were learned without its operation (with
``--quick`` a fifth of them). The talks of a FOLDER (``*.talk``, labelled as ``talks/README.md`` says) are read with
the weights that ship. ``--misses`` prints what was missed. Each talk becomes subtitles of seven words a line, and
is drafted as a department would draft it.

- A *step* is found where a proposed step begins within it; *extra* are those that begin where one has begun already.
- A *title* is right where it instructs, and says that the same is done to the same as its label (``judged_titles.py``);
  beside it stands how many are right in the words of the label (``measure_actions.py``).
- An *action* is found where the proposed step that holds its sentence has it; a proposed action is wrong where no label
  of the sentences of its step fits.
- A *caution* is found where its sentence is part of a caution that guards the step in which it was said.
- A *way* is found where a sentence that leaves something open makes an option, a choice or a preference.
- A *mishearing* is found where the words are pointed out with the word that was meant.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from builder.draft import Proposal, learned_doings, propose, sentence_roles
from builder.draft.sentences import without_fillers
from builder.load.learned_weights import LearnedWeights, parsed
from builder.model.fields import NOT_SAID
from drafts.judged_titles import is_right_title
from drafts.labelled import FIRST, Doing, Talk, talks
from drafts.learn_doings import learned as doings_learned
from drafts.learn_doings import taught_by_all
from drafts.learn_roles import folds, learned, subtitles
from drafts.measure_actions import IN_STEPS, MEANS, NOT_WRONG, Measure, has_name, library_of_test, overlap

_SAYS_TIME = re.compile(
    r"\b(?:\w+[- ](?:hours?|days?|weeks?|months?|nights?|fortnight|years?)|day \w+|tonight|tomorrow|until|till|"
    r"(?:that|same|next|this) (?:day|evening|morning|night))\b"
)
_OFTEN = re.compile(r"\b(?:every|times|twice|once|per|a|each|the) (?:\w+[- ])?(?:hours?|days?|weeks?|night)\b")
_TIMELESS = frozenset({"", NOT_SAID})


class WholeDraft:
    """What is counted over some talks; ``misses`` says where."""

    def __init__(self) -> None:
        self.judge = Measure(library_of_test(), hears=False)
        self.counts: Counter[str] = Counter()
        self.misses: list[str] = []

    def add(self, talk: Talk) -> None:
        """Draft one talk, and count."""
        proposal = propose(talk.head["operation"], subtitles(talk), self.judge.library)
        told = {sentence.text: sentence for sentence in proposal.told.sentences}
        pages = [told[said].page if (said := without_fillers(one.said)) in told else None for one in talk.sentences]
        self.counts["sentences"] += len(pages)
        self.counts["lost"] += pages.count(None)
        self.counts["words"] += talk.words
        steps = {f"steps/{step.id}.md": number for number, step in enumerate(proposal.steps)}
        starts: dict[int, int] = {}
        for at, page in enumerate(pages):
            if page in steps:
                starts.setdefault(steps[page], at)
        self._steps(talk, proposal, starts)
        self._actions(talk, proposal, starts)
        self._pages(talk, proposal, pages, starts)
        self._mishearings(talk, proposal)

    def _tell(self, what: str, right: bool, miss: str) -> None:
        self.counts[what] += 1
        self.counts[f"{what} right"] += right
        if not right:
            self.misses.append(f"{what}: {miss}")

    def _steps(self, talk: Talk, proposal: Proposal, starts: Mapping[int, int]) -> None:
        begins = [at for at, one in enumerate(talk.sentences) if one.role == "begin"]
        ends = [*begins[1:], len(talk.sentences)]
        outside = {at for at, one in enumerate(talk.sentences) if one.role in ("before", "opening", "afterwards")}
        self.counts["begun"] += len(starts)
        self.counts["begun by a danger"] += sum(talk.sentences[at].role == "danger" for at in starts.values())
        for begin, end in zip(begins, ends, strict=True):
            own = [number for number, at in starts.items() if begin <= at < end and at not in outside]
            said = talk.sentences[begin].said
            self._tell("steps", bool(own), said)
            title = proposal.steps[own[0]].title if own else ""
            before = self.judge.counts["titles right"], self.judge.counts["titles that instruct"]
            self.judge._title(talk.sentences[begin], title)
            self.counts["titles that instruct"] += self.judge.counts["titles that instruct"] - before[1]
            self.counts["titles in its words"] += self.judge.counts["titles right"] > before[0]
            is_right = is_right_title(title, talk.sentences[begin], self.judge.names)
            self._tell("titles", is_right, f"{title!r} for {talk.sentences[begin].title!r} < {said}")

    def _actions(self, talk: Talk, proposal: Proposal, starts: Mapping[int, int]) -> None:
        ordered = sorted(starts.items(), key=lambda start: start[1])
        for (number, start), (_, end) in zip(ordered, [*ordered[1:], (0, len(talk.sentences))], strict=True):
            made = [
                (action.verb, [*action.objects, *(str(words) for _, words in action.more)])
                for action in proposal.steps[number].actions
            ]
            within = [one for one in talk.sentences[start:end] if one.role in IN_STEPS]
            labels = [(one.said, doing) for one in within for doing in one.doings if not doing.mark]
            for said, doing in labels:
                for wanted in doing.objects if doing.verb in MEANS else ():
                    self.judge.said = said
                    only = Doing("", doing.verb, (wanted,))
                    is_found = any(self.judge._is(only, verb, names) for verb, names in made)
                    self._tell("actions", is_found, f"{doing.verb}: {wanted} < {said}")
            for verb, names in made:
                fits = False
                for said, doing in labels:
                    self.judge.said = said
                    fits = fits or self.judge._is(doing, verb, names, NOT_WRONG.get(doing.verb, ""))
                self._tell("proposed", fits, f"{verb}: {names} in {proposal.steps[number].title}")

    def _pages(self, talk: Talk, proposal: Proposal, pages: Sequence[str | None], starts: Mapping[int, int]) -> None:
        cautions = {f"cautions/{caution.id}.md": caution for caution in proposal.cautions}
        items = {f"aftercare/{item.id}.md": item for item in proposal.aftercare}
        parted = {f"steps/{step.id}.md" for parting in proposal.partings for step in parting.steps}
        numbers = {step.id: number for number, step in enumerate(proposal.steps)}
        preferred = {f"steps/{step.id}.md" for step in proposal.steps if step.basis == "preference"}
        self.counts["cautions made"] += len(cautions)
        begun = 0
        for at, (sentence, page) in enumerate(zip(talk.sentences, pages, strict=True)):
            begun = at if sentence.role == "begin" else begun
            if sentence.role == "danger":
                guarded = [starts.get(numbers[step], -1) for step in cautions[page].guards] if page in cautions else []
                self._tell("cautions", any(begun <= start <= at for start in guarded), f"{sentence.said} > {page}")
            elif sentence.role == "afterwards":
                is_timed = bool(_SAYS_TIME.search(_OFTEN.sub("", sentence.said)))
                item = items.get(page or "")
                has_time = item is not None and not {item.start, item.until} <= _TIMELESS
                self.counts["aftercare placed"] += item is not None
                self._tell("aftercare", item is not None and (has_time or not is_timed), sentence.said)
            elif sentence.role == "alternative":
                self._tell("ways", page in parted or page in preferred, f"{sentence.said} > {page}")
            elif page in cautions:
                self.misses.append(f"no caution: {sentence.role}: {sentence.said}")

    def _mishearings(self, talk: Talk, proposal: Proposal) -> None:
        suggested = [(heard.words.casefold(), heard.name) for heard in proposal.misheard]
        pairs = [pair for sentence in talk.sentences for pair in sentence.misheard]
        for heard, meant in pairs:
            hits = [name for said, name in suggested if overlap(said, heard.casefold())]
            self._tell("misheard", any(has_name(name, meant, self.judge.library) for name in hits), f"{heard}={meant}")
        false = [said for said in suggested if not any(overlap(said[0], heard.casefold()) for heard, _ in pairs)]
        self.counts["false suggestions"] += len(false)
        self.misses += [f"false: {said} = {name}" for said, name in false]


_AIMS = {
    "steps": 95, "titles": 90, "actions": 75, "cautions": 80, "aftercare": 85, "ways": 65, "misheard": 60,
}  # fmt: skip


def table(counts: Mapping[str, int]) -> Iterator[str]:
    """Yield the table as lines."""
    for what, aim in _AIMS.items():
        right, of = counts[f"{what} right"], counts[what]
        yield f"{what:10} {right:5}/{of:<5} {100 * right / max(1, of):4.0f} %  (aim {aim} %)"
    wrong = counts["proposed"] - counts["proposed right"]
    share = 100 * wrong / max(1, counts["proposed"])
    yield f"wrong actions: {wrong} of {counts['proposed']} = {share:.0f} % (aim 10 %)"
    instruct = 100 * counts["titles that instruct"] / max(1, counts["titles"])
    in_words = 100 * counts["titles in its words"] / max(1, counts["titles"])
    yield f"titles right in the words of their labels: {in_words:.0f} %"
    yield f"titles that instruct and name an object: {instruct:.0f} %"
    yield f"steps proposed: {counts['begun']} for {counts['steps']}; begun by a danger: {counts['begun by a danger']}"
    yield f"cautions proposed: {counts['cautions made']} for {counts['cautions']} warnings"
    yield f"aftercare placed: {100 * counts['aftercare placed'] / max(1, counts['aftercare']):.0f} %"
    false = 100 * counts["false suggestions"] / max(1, counts["words"])
    yield f"false suggestions of mishearings: {false:.2f} in 100 words (aim 1)"
    yield f"sentences lost or broken: {counts['lost']} of {counts['sentences']}"


def left_out(*, is_quick: bool) -> WholeDraft:
    """Measure the labelled talks, each under weights learned without its operation."""
    drafts, taught = WholeDraft(), taught_by_all()
    parts, first = folds(list(talks())), list(talks(FIRST))
    for part in parts[:1] if is_quick else parts:
        others = [talk for other in parts if other is not part for talk in other]
        doings = doings_learned(taught[talk.name] for talk in others).parsed()
        weights = {"role": parsed(learned([*others, *first])), "doing": doings.doings, "title": doings.titles}
        with under(weights):
            for talk in part:
                drafts.add(talk)
    return drafts


@contextmanager
def under(weights: Mapping[str, LearnedWeights]) -> Iterator[None]:
    """Let drafts be made under other weights than those that ship."""
    learned_doings.shipped.cache_clear()
    with (
        patch.object(learned_doings, "learned_weights", weights.__getitem__),
        patch.object(sentence_roles, "learned_weights", weights.__getitem__),
    ):
        yield
    learned_doings.shipped.cache_clear()


def main(arguments: Sequence[str]) -> int:
    """Print the table."""
    folders = [Path(word) for word in arguments if not word.startswith("--")]
    if folders:
        drafts = WholeDraft()
        for talk in talks(folders[0]):
            drafts.add(talk)
    else:
        drafts = left_out(is_quick="--quick" in arguments)
    sys.stdout.writelines(f"{line}\n" for line in table(drafts.counts))
    if "--misses" in arguments:
        sys.stdout.writelines(f"{line}\n" for line in drafts.misses)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""``python tests/drafts/measure_actions.py``: titles, actions, choices and mishearings of the labelled talks.

Each talk is read under weights that were learned without its operation. The roles are those of the labels, so that only
what is read out of a sentence is measured. ``--misses`` prints what was missed.

How it is judged:

- A *title* is right where it is an instruction with an object and says what the label says: its verb means the same
  (``SAME``, and the meanings of ``builder/draft/verbs.py``) and its object shares a telling word with the labelled
  title or with what the label says is done in the sentence. An instruction with an object that says something else
  is counted beside it.
- An *action* is found where one of the same sentence has a verb that the label's verb can become (``MEANS``) and one of
  its names shares a telling word with an object of the label, or is the same entry of the catalogue. A proposed action
  that fits no label of its sentence is wrong, one that is denied or supposed there is wrong too.
- A *way* is found where a sentence of the role ``alternative`` proposes a choice, an option or a preference; beside it
  is counted how many of them name what the label says is done.
- A *mishearing* is found where the words are pointed out and the name that is proposed has the word that was meant; a
  suggestion that touches no labelled word is false.
"""

from __future__ import annotations

import json
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from builder.draft.actions import ReadSentence, TalkReader
from builder.draft.heard_names import CatalogueNames
from builder.draft.learned_doings import DoingWeights
from builder.draft.new_names import kind_of
from builder.draft.parting_ways import way_of
from builder.draft.titles import step_title
from builder.draft.verbs import FORMS, meaning_of
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library
from drafts.labelled import Doing, LabelledSentence, Talk, talks
from drafts.learn_doings import Taught, learned, read_steps, read_talk, taught_by_all
from drafts.learn_roles import folds

HERE = Path(__file__).parent
TODAY = date(2026, 11, 25)
MEANS: Mapping[str, str] = {
    "remove": "remove excise", "divide": "divide open release excise", "transect": "divide excise",
    "insert": "place", "place": "place clamp", "pass": "place", "suture": "suture close tie",
    "check": "inspect identify",
    "incise": "open divide", "dissect": "expose divide release", "mobilise": "expose release divide",
    "inspect": "inspect identify", "identify": "identify inspect expose", "open": "open divide", "count": "count",
    "close": "close suture", "seal": "seal divide", "give": "inject", "clamp": "clamp place", "irrigate": "irrigate",
    "wash": "irrigate", "dress": "place", "tie": "tie suture divide", "ligate": "tie suture divide",
    "excise": "excise remove divide", "protect": "protect identify place", "staple": "close suture seal divide place",
    "release": "release divide remove open", "infiltrate": "inject", "inject": "inject",
    "expose": "expose identify open",
    "clip": "clamp tie seal place", "ask": "tell", "call": "tell",
}  # fmt: skip
"""The actions that each verb of the labels can become. Of the verbs that are missing nothing is counted."""
NOT_WRONG: Mapping[str, str] = {
    "take": "excise remove", "fix": "suture place", "cover": "place protect", "aspirate": "remove",
    "drain": "remove open",
    "mark": "suture clamp place", "retract": "expose place clamp", "connect": "suture place",
    "deliver": "remove expose",
    "reduce": "place expose", "measure": "inspect place", "position": "place", "prepare": "irrigate place expose open",
    "dilate": "open place", "send": "remove place", "wait": "inspect", "approach": "expose open",
}  # fmt: skip
"""What may be proposed for a labelled verb that has no action of its own."""
IN_STEPS = frozenset({"begin", "do", "count", "go-on", "danger", "if-not", "alternative", "why"})
"""What is said before and after the operation has no actions in the format, only words."""
_ANY_DIRECTION_LIST = """
left right upper lower superior inferior anterior posterior medial lateral deep superficial proximal distal internal
external front back outer inner first second third large small long short both other great common end ends side whole
middle new old
"""
_DIRECTIONS = frozenset(_ANY_DIRECTION_LIST.split())
SAME: tuple[frozenset[str], ...] = tuple(
    frozenset(words.split())
    for words in (
        "identify look_for inspect expose", "cut divide open excise", "excise remove take divide", "close suture",
        "expose free divide retract", "place inject prepare connect", "tie suture clamp clip seal divide",
        "protect identify retract",
        "position retract", "irrigate prepare", "open expose place",
    )
)  # fmt: skip


def telling(text: str) -> set[str]:
    """Return the words of a name that tell what it is, in the singular, as far as one can do without a grammar."""
    words = [CatalogueNames.plain(word) for word in re.findall(r"[a-z0-9]+", text.casefold())]
    small = {"of", "the", "a", "an", "and", "to", "in", "with", "for", "at", "on", "by", "from", "its"}
    return {word for word in words if word not in small} - _DIRECTIONS or set(words[-1:])


def library_of_test() -> Library:
    """Return the department that drafts are made in."""
    return build(load(HERE / "department", TODAY))[0]


class Measure:
    """What is counted over one part of the talks; ``misses`` says where."""

    def __init__(self, library: Library, *, hears: bool, weights: DoingWeights | None = None) -> None:
        self.hears, self.weights = hears, weights
        self.library, self.names = library, CatalogueNames(library)
        self.counts: Counter[str] = Counter()
        self.misses: list[str] = []
        self.said = ""

    def add(self, talk: Talk) -> None:
        """Count one talk."""
        reader = TalkReader(self.names, talk.head["operation"], self.weights)
        read = read_talk(reader, talk)
        for sentence, result in zip(talk.sentences, read, strict=True):
            self._actions(sentence, result)
            if self.hears:
                self._mishearings(sentence)
            self.counts["words"] += len(sentence.said.split())
            if sentence.role == "alternative":
                self._way(sentence, result)
        for begin, told in read_steps(talk, read):
            self._title(begin, step_title(told, self.weights))

    def _tell(self, what: str, right: bool, miss: str) -> None:
        self.counts[what] += 1
        self.counts[f"{what} right"] += right
        if not right:
            self.misses.append(miss)

    def _same(self, one: str, other: str) -> bool:
        for catalogue in (self.library.structures, self.library.items):
            entry, wanted = catalogue.find(one), catalogue.find(other)
            if entry is not None and entry is wanted:
                return True
        return not telling(one).isdisjoint(telling(other))

    def _is(self, doing: Doing, verb: str, names: list[str], also: str = "") -> bool:
        """Tell whether a proposed action is what the label says: one of its verbs, done to one of its things."""
        if verb not in f"{MEANS.get(doing.verb, '')} {also}".split():
            return False
        if verb in ("tell", "count"):
            return True
        if doing.verb == "dress" and any(self._is_dressing(name) for name in names):
            return True
        is_said = [wanted for wanted in doing.objects if not telling(wanted).isdisjoint(telling(self.said))]
        if not is_said:
            return True
        return any(self._same(name, wanted) for name in names for wanted in doing.objects)

    def _is_dressing(self, name: str) -> bool:
        item = self.library.items.find(name)
        known = (False, item.kind.value) if item else kind_of(name.rsplit(maxsplit=1)[-1])
        return known is not None and known[1] in ("dressing", "garment")

    def _actions(self, sentence: LabelledSentence, read: ReadSentence) -> None:
        if sentence.role not in IN_STEPS:
            return
        self.said = sentence.said
        plain = [doing for doing in sentence.doings if not doing.mark]
        proposed = [
            (action.verb, [*action.objects, *(str(words) for _, words in action.more)]) for action in read.actions
        ]
        for doing in plain:
            for wanted in doing.objects if doing.verb in MEANS else ():
                only = Doing("", doing.verb, (wanted,))
                is_found = any(self._is(only, verb, names) for verb, names in proposed)
                self._tell("actions", is_found, f"action: {doing.verb}: {wanted} < {sentence.said} > {_shown(read)}")
        for verb, names in proposed:
            is_right = any(self._is(doing, verb, names, NOT_WRONG.get(doing.verb, "")) for doing in plain)
            self._tell("proposed", is_right, f"wrong: {verb}: {names} < {sentence.said} | {_labels(sentence)}")

    def _way(self, sentence: LabelledSentence, read: ReadSentence) -> None:
        way = way_of(sentence.said, read)
        self.said = sentence.said
        supposed = [doing for doing in sentence.doings if doing.mark]
        names = [thing.name for doing in (way.doings if way else ()) for thing in doing.things]
        is_told = not supposed or any(
            self._same(name, wanted) for doing in supposed for wanted in doing.objects for name in names
        )
        self.counts["ways with what is done"] += bool(way) and is_told
        self._tell("ways", bool(way), f"way: {sentence.said}")

    def _title(self, sentence: LabelledSentence, title: str) -> None:
        verb, _, rest = title.partition(" ")
        wanted, _, of = sentence.title.partition(" ")
        meaning, other = _meanings(verb), _meanings(wanted)
        is_instruction = verb.casefold() in FORMS and len(rest.split()) > 0 and bool(telling(rest))
        self.counts["titles that instruct"] += is_instruction
        doings = [doing for doing in sentence.doings if not doing.mark]
        same_verb = _mean_the_same(meaning, other)
        is_said = not telling(of).isdisjoint(telling(sentence.said))
        by_title = same_verb and (self._same(rest, of) or not is_said)
        by_doing = any(
            _mean_the_same(meaning, _meanings(doing.verb)) and any(self._same(rest, name) for name in doing.objects)
            for doing in doings
        )
        self._tell(
            "titles",
            is_instruction and (by_title or by_doing),
            f"title: {title!r} for {sentence.title!r} < {sentence.said}",
        )

    def _mishearings(self, sentence: LabelledSentence) -> None:
        suggested = [(heard.heard.casefold(), heard.name) for heard in self.names.heard(sentence.said)]
        for heard, meant in sentence.misheard:
            hits = [name for said, name in suggested if overlap(said, heard.casefold())]
            self.counts["misheard pointed out"] += bool(hits)
            is_right = any(has_name(name, meant, self.library) for name in hits)
            self._tell("misheard", is_right, f"misheard: {heard}={meant} > {hits}")
        false = [
            (said, name) for said, name in suggested
            if not any(overlap(said, heard.casefold()) for heard, _ in sentence.misheard)
        ]  # fmt: skip
        self.counts["false suggestions"] += len(false)
        self.misses += [f"false: {said} = {name} < {sentence.said}" for said, name in false]


def _meanings(word: str) -> frozenset[str]:
    """Return the plain form of a verb, and what it means."""
    lemma = FORMS.get(word.casefold(), (word.casefold(), ""))[0]
    return frozenset(filter(None, (lemma, meaning_of(lemma))))


def _mean_the_same(one: frozenset[str], other: frozenset[str]) -> bool:
    return bool(one & other) or any(one & group and other & group for group in SAME)


def overlap(said: str, heard: str) -> bool:
    """Tell whether what is pointed out and what was misheard share a word."""
    return (
        f" {heard} " in f" {said} "
        or f" {said} " in f" {heard} "
        or bool({word for word in said.split() if len(word) > 3} & {word for word in heard.split() if len(word) > 3})
    )


def has_name(name: str, meant: str, library: Library) -> bool:
    """Tell whether the name that is proposed has the word that was meant."""
    want, entry = CatalogueNames.plain(meant), library.structures.find(name) or library.items.find(name)
    named = CatalogueNames.plain(name)
    others = map(CatalogueNames.plain, (entry.name, *entry.also)) if entry else ()
    return want in named or named in want or any(want in other for other in others)


def _shown(read: ReadSentence) -> str:
    return "; ".join(f"{action.verb} {', '.join(action.objects)}" for action in read.actions)


def _labels(sentence: LabelledSentence) -> str:
    return "; ".join(f"{doing.mark}{doing.verb} {', '.join(doing.objects)}" for doing in sentence.doings)


def lines(counts: Mapping[str, int]) -> Iterator[str]:
    """Yield the figures as lines of text."""
    for what in ("titles", "actions", "ways", "misheard"):
        yield f"{what}: {counts[f'{what} right']}/{counts[what]} = {counts[f'{what} right'] / max(1, counts[what]):.0%}"
    yield f"titles that instruct, with an object: {counts['titles that instruct']}/{counts['titles']}"
    wrong = counts["proposed"] - counts["proposed right"]
    yield f"wrong actions: {wrong}/{counts['proposed']} = {wrong / max(1, counts['proposed']):.0%}"
    false = counts["false suggestions"]
    yield f"false suggestions: {false} in {counts['words']} words = {100 * false / max(1, counts['words']):.2f} per 100"
    yield f"ways that name what is done: {counts['ways with what is done']}/{counts['ways']}"
    yield f"misheard pointed out at all: {counts['misheard pointed out']}"


def invented(path: Path, library: Library) -> str:
    """Return how many of the mishearings in a JSON file are found, each alone in a sentence."""
    names = CatalogueNames(library)
    pairs = json.loads(path.read_text(encoding="utf-8"))
    right = []
    for pair in pairs:
        hits = [heard.name for heard in names.heard(pair["heard"])]
        hits += [mention.name for mention in names.mentions(pair["heard"]) if not mention.exact]
        if any(has_name(name, pair["meant"], library) for name in hits):
            right.append(pair["heard"])
    return f"invented mishearings: {len(right)}/{len(pairs)}"


def measured(taught: Mapping[str, Taught], misses: list[str] | None = None) -> Iterator[str]:
    """Yield the figures of every talk under weights learned without its operation, and of the talks kept apart."""
    library = library_of_test()
    counts: Counter[str] = Counter()
    parts = folds(list(talks()))
    for part in parts:
        weights = learned(taught[talk.name] for other in parts if other is not part for talk in other).parsed()
        measure = Measure(library, hears=False, weights=weights)
        for talk in part:
            measure.add(talk)
        counts.update(measure.counts)
        if misses is not None:
            misses += measure.misses
    yield f"titles and actions, {len(taught)} talks, each measured without its operation, roles as labelled"
    yield from lines(counts)
    apart = Measure(library, hears=True)
    for talk in talks(HERE / "talks" / "apart"):
        apart.add(talk)
    yield "the talks kept apart"
    yield from lines(apart.counts)


def main(arguments: Iterable[str]) -> None:
    """Print the figures, and with ``--misses`` what was missed; with a JSON file of mishearings those as well."""
    options, misses = list(arguments), list[str]()
    for line in measured(taught_by_all(), misses):
        sys.stdout.write(f"{line}\n")
    if "--misses" in options:
        sys.stdout.writelines(f"{line}\n" for line in misses)
    library = library_of_test()
    for path in (Path(option) for option in options if option.endswith(".json")):
        sys.stdout.write(f"{invented(path, library)}\n")


if __name__ == "__main__":
    main(sys.argv[1:])

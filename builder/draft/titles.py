"""Titles of steps: the main action as an instruction, its verb and its object, of the first sentences that tell it."""

import re
from collections.abc import Iterator, Sequence

from builder.draft.actions import ReadDoing, ReadSentence, without_lead
from builder.draft.made_actions import NamedThing

_POSITION = re.compile(
    r"\b(?:supine|prone|lithotomy|on (?:his|her|their|the) (?:back|side|front|tummy)|flat on|face down|legs? up|"
    r"lies? flat|"
    r"head[- ](?:up|down)|half[- ]sitting|sitting up|beach chair|jack ?knife|lateral|sandbag|head ring|on a ring|"
    r"arms? out|"
    r"(?:hip|knee|neck)s? (?:bent|extended|flexed)|lying|pillows? under|roll under|on the table|he's flat|"
    r"she's flat)\b",
    re.IGNORECASE,
)
_VERB_OF = {"remove": "Remove", "place": "Insert"}
_TITLED_AS = {
    "suture": "Suture",
    "close": "Close",
    "clamp": "Clamp",
    "tie": "Tie",
    "open": "Open",
    "place": "Place",
    "inject": "Inject",
    "irrigate": "Wash out",
}
_TITLES_LAST = frozenset({"count", "tell", "send", "measure", "mark", "inspect", "stop", "retract", "take"})
_MOST_WORDS = 9


def step_title(sentences: Sequence[tuple[str, ReadSentence]]) -> str:
    """Return the title of a step that says ``sentences``; "" where they tell nothing to do."""
    if not sentences:
        return ""
    first, *others = sentences
    if title := _best(first[1], strict=True):
        return title
    if _POSITION.search(first[0]):
        return "Position the patient"
    return _best(first[1], strict=False) or next(
        (title for _, read in others if (title := _best(read, strict=True))), ""
    )


def _best(read: ReadSentence, *, strict: bool) -> str:
    """Return the title that the best doing of a sentence makes: one that is an action before one that is none."""
    plain = [doing for doing in read.doings if not doing.doing.mark and doing.things]
    wanted = [doing for doing in plain if doing.verb and doing.doing.meaning not in _TITLES_LAST]
    wanted = wanted or ([] if strict else [doing for doing in plain if doing.doing.meaning])
    return next((title for doing in wanted if (title := instruction_of(doing))), "")


def instruction_of(doing: ReadDoing) -> str:
    """Return a doing as an instruction: its verb and its objects; "" where it has none."""
    names = list(_names(doing.things))
    verb = _verb(doing)
    if not names or not verb:
        return ""
    shown = f"{verb} the {names[0]}" if len(names) == 1 else f"{verb} the {', '.join(names[:-1])} and {names[-1]}"
    return " ".join(shown.split()[: _MOST_WORDS + 4])


def _verb(doing: ReadDoing) -> str:
    said = doing.doing
    if said.way == "verb":
        lemma = {"cut": "Cut"}.get(said.lemma, said.lemma.capitalize())
        return lemma if not said.particle or said.meaning != "remove" else "Remove"
    return _VERB_OF.get(said.meaning) or _TITLED_AS.get(doing.verb, "")


def _names(things: Sequence[NamedThing]) -> Iterator[str]:
    seen: set[str] = set()
    for thing in things:
        if thing.name not in seen:
            seen.add(thing.name)
            yield shown_name(thing)


def shown_name(thing: NamedThing) -> str:
    """Return a name as it was said, without what only leads to it: ``round ligament`` of ``the round ligament``."""
    said = without_lead(thing.said)
    return said if 0 < len(said.split()) <= _MOST_WORDS else thing.name

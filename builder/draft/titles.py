"""Titles of steps: the main action as an instruction, its verb and its object, of the first sentences that tell it."""

import re
from collections.abc import Iterator, Sequence

from builder.draft.actions import ReadDoing, ReadSentence, without_lead
from builder.draft.made_actions import NamedThing
from builder.draft.new_names import singular
from builder.draft.phrases import announced

_POSITION = re.compile(
    r"\b(?:supine|prone|lithotomy|on (?:his|her|their|the) (?:back|side|front|tummy)|flat on|face down|legs? up|"
    r"lies? flat|"
    r"head[- ](?:up|down)|half[- ]sitting|sitting up|beach chair|jack ?knife|lateral|sandbag|head ring|on a ring|"
    r"arms? out|"
    r"(?:hip|knee|neck)s? (?:bent|extended|flexed)|lying|pillows? under|roll under|on the table|he's flat|"
    r"she's flat)\b",
    re.IGNORECASE,
)
_PLAINER = {
    "place": ("Place", "put get pop stick lay slip drop set load slide hang sit run leave"),
    "identify": ("Identify", "see look come get meet reach feel"),
    "remove": ("Remove", "take pull get lift hand slide slip pick clear bring"),
    "seal": ("Seal", "buzz burn zap"),
    "divide": ("Divide", "cut snip go crack come"),
    "open": ("Open", "go get break cut nick"),
    "excise": ("Excise", "cut take remove bite scoop"),
    "expose": ("Expose", "come go get bare lift"),
}
"""How a title says what is spoken in everyday verbs, by the verb of the action."""
_MADE_AS = {"inject": "Inject", "irrigate": "Wash out"}
_HEADS = {
    "closure": "Close the wound", "incision": "Incise the skin", "cut": "Incise the skin",
    "reduction": "Reduce the fracture",
    "haemostasis": "Secure haemostasis", "bleeding": "Stop the bleeding", "wash": "Wash out the wound",
    "washout": "Wash out the wound", "dressing": "Dress the wound", "position": "Position the patient",
    "positioning": "Position the patient", "prep": "Prepare and drape the patient", "count": "Count the swabs",
    "drapes": "Prepare and drape the patient", "anastomosis": "Construct the anastomosis", "join": "Construct the join",
    "knife": "Incise the skin", "block": "Give the block", "closing": "Close the wound", "biopsy": "Take the biopsy",
}  # fmt: skip
"""Titles of steps that are announced by a noun of doing (common practice)."""
_RANK = {
    verb: rank
    for rank, verbs in enumerate((
        "open close divide excise clamp tie suture seal release expose",
        "place remove inject irrigate protect identify",
    ))
    for verb in verbs.split()
}  # fmt: skip
_TITLES_LAST = frozenset({"count", "tell", "send", "measure", "mark", "inspect", "stop", "retract", "take"})
_MOST_WORDS = 9


def step_title(sentences: Sequence[tuple[str, ReadSentence]]) -> str:
    """Return the title of a step that says ``sentences``; "" where they tell nothing to do."""
    if not sentences:
        return ""
    (text, first), *others = sentences
    if title := _best(first, strict=True):
        return title
    if _POSITION.search(text):
        return "Position the patient"
    later = next((title for _, read in others if (title := _best(read, strict=True))), "")
    return _best(first, strict=False) or _headed(text, first) or later


def _best(read: ReadSentence, *, strict: bool) -> str:
    """Return the title that the best doing of a sentence makes: one that is an action before one that is none."""
    plain = [doing for doing in read.doings if not doing.doing.mark and doing.things]
    wanted = [doing for doing in plain if doing.verb and doing.doing.meaning not in _TITLES_LAST]
    wanted = sorted(wanted, key=lambda doing: _RANK.get(doing.verb, 1))
    wanted = wanted or ([] if strict else [doing for doing in plain if doing.doing.meaning])
    return next((title for doing in wanted if (title := instruction_of(doing))), "")


def _headed(text: str, read: ReadSentence) -> str:
    """Return the title that a noun makes which announces the step: ``stage eight, plate``."""
    said = text[announced(text) :].lstrip(" ,:")
    first = re.match(
        r"(?:(?:and|so|then|now|the|a|an|is|was|just|next|last|for|to|on|with)\s+)*([\w'-]+(?:\s+[\w'-]+){0,3})",
        said,
        re.IGNORECASE,
    )
    for word in first[1].casefold().split() if first else ():
        if word in _HEADS:
            return _HEADS[word]
    named = [doing for doing in read.doings if doing.doing.way in ("alone", "named")]
    heads = [thing for doing in named for thing in doing.things if thing.is_known or thing.is_sure]
    if not heads:
        return ""
    return f"{'Expose' if heads[0].is_structure else 'Place'} the {shown_name(heads[0])}"


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
    verb = doing.verb or said.meaning
    plainer, lemmas = _PLAINER.get(verb, ("", ""))
    if said.way != "verb" and verb == "open":
        return "Incise"
    if said.way != "verb" or said.lemma in lemmas.split():
        return plainer or _MADE_AS.get(verb, verb.capitalize())
    return said.lemma.capitalize()


def _names(things: Sequence[NamedThing]) -> Iterator[str]:
    seen: set[str] = set()
    for thing in things:
        if thing.name not in seen:
            seen.add(thing.name)
            yield shown_name(thing)


def shown_name(thing: NamedThing) -> str:
    """Return a name as it was said, without what only leads to it: ``round ligament`` of ``the round ligament``."""
    said = without_lead(thing.said)
    if singular(said.split()[-1]) in ("cut", "incision", "nick"):
        return "skin"
    if thing.said[:1].isupper() and said[1:2].islower() and not thing.name[:1].isupper():
        said = f"{said[:1].lower()}{said[1:]}"
    return said if 0 < len(said.split()) <= _MOST_WORDS else thing.name

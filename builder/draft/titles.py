"""Titles of steps: the main action as an instruction, its verb and its object.

The verb is learned, as what is done is (``learned_doings.py``); the object is the likeliest of what the first sentences
name.
"""

from collections.abc import Iterator, Sequence

from builder.draft.actions import ReadDoing, ReadSentence, without_lead
from builder.draft.doing_features import DonePlace, agrees, sentence_features
from builder.draft.learned_doings import scores_as_object
from builder.draft.made_actions import NamedThing
from builder.draft.new_names import singular
from builder.draft.verbs import meaning_of
from builder.load.learned_weights import LearnedWeights, learned_weights

_MOST_READ = 3
"""A title is looked for in so many sentences that say what is done."""
_WORDS = {
    "inspect": "Check", "irrigate": "Wash out", "fix": "Secure", "retract": "Hold aside", "expose": "Expose",
}  # fmt: skip
"""How a title says a verb whose own word was not said, where that is not the verb itself."""
_EVERYDAY_LIST = """
put get pop stick lay slip drop set load slide hang sit run leave see look come meet reach take pull hand pick bring
buzz burn zap cut snip go crack break bite scoop bare lift let pass give wipe find
"""
_EVERYDAY = frozenset(_EVERYDAY_LIST.split())
"""Verbs that say too little in a title."""
_UNNAMED = {
    "position": "the patient", "prepare": "the patient", "open": "the skin", "inspect": "the wound for bleeding",
    "seal": "the bleeding points", "fix": "haemostasis", "stop": "the bleeding", "place": "the dressing",
    "inject": "the local anaesthetic", "mark": "the incision", "send": "the specimen", "remove": "the specimen",
    "deliver": "the specimen", "excise": "the lesion", "count": "the swabs, needles and instruments",
    "make": "the incision", "expose": "the field", "identify": "the landmarks", "divide": "the tissue",
}  # fmt: skip
"""The object where none was named (common practice); of any other verb it is the wound."""
_LATER = 150
"""Hundredths that a place of a later sentence is less likely the object of the title."""
_FEWEST = -250
_MOST_WORDS = 9


def title_features(sentences: Sequence[ReadSentence], number: int, of: int) -> list[str]:
    """Return what shows the verb of the title of a step, the one with ``number`` among ``of``."""
    first, *others = sentences
    spoken = sentence_features(first.looked_at)
    for other in others[: _MOST_READ - 1]:
        later = sentence_features(other.looked_at)
        spoken += [f"later {one}" for one in later if one.startswith(("w=", "m=", "h=", "k=", "p="))]
    spoken += [f"eighth={number * 8 // of}", f"from start={min(number, 3)}", f"from end={min(of - 1 - number, 3)}"]
    return list(dict.fromkeys(spoken))


def step_title(
    sentences: Sequence[ReadSentence],
    number: int,
    of: int,
    titles: LearnedWeights | None = None,
    objects: LearnedWeights | None = None,
) -> str:
    """Return the title of a step whose sentences were read so; "" where nothing was said."""
    if not sentences:
        return ""
    known = titles or learned_weights("title")
    sums = known.sums(title_features(sentences, number, of))
    verb = known.labels[max(range(len(sums)), key=sums.__getitem__)]
    ranked = list(_ranked(verb, sentences[:_MOST_READ], objects))
    best = max(ranked, key=lambda one: one[0], default=None)
    if best is None or best[0] < _FEWEST or best[1].thing is None:
        return _shown(verb, "", "")
    return _shown(verb, _own_word(verb, best[1]), shown_name(best[1].thing))


def _ranked(
    verb: str, sentences: Sequence[ReadSentence], objects: LearnedWeights | None
) -> Iterator[tuple[int, DonePlace]]:
    for number, read in enumerate(sentences):
        scores = scores_as_object(verb, read.looked_at, objects)
        for score, place in zip(scores, read.looked_at.places, strict=True):
            if place.thing:
                yield score - number * _LATER, place


def _own_word(verb: str, place: DonePlace) -> str:
    doing = place.doing
    return doing.lemma if doing and not place.joint and agrees(verb, doing) and meaning_of(doing.lemma) else ""


def _shown(verb: str, said: str, name: str) -> str:
    word = said.capitalize() if said and said not in _EVERYDAY else _WORDS.get(verb, verb.capitalize())
    if name == "skin" and verb == "open":
        word = "Incise"
    return f"{word} the {name}" if name else f"{word} {_UNNAMED.get(verb, 'the wound')}"


def instruction_of(doing: ReadDoing) -> str:
    """Return a doing as an instruction: its verb and its objects; "" where it has none."""
    names = list(dict.fromkeys(map(shown_name, doing.things)))
    if not names:
        return ""
    said = doing.said.lemma if doing.said and agrees(doing.verb, doing.said) else ""
    shown = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return " ".join(_shown(doing.verb, said, shown).split()[: _MOST_WORDS + 4])


def shown_name(thing: NamedThing) -> str:
    """Return a name as it was said, without what only leads to it: ``round ligament`` of ``the round ligament``."""
    said = without_lead(thing.said)
    if singular(said.split()[-1]) in ("cut", "incision", "nick"):
        return "skin"
    if thing.said[:1].isupper() and said[1:2].islower() and not thing.name[:1].isupper():
        said = f"{said[:1].lower()}{said[1:]}"
    return said if 0 < len(said.split()) <= _MOST_WORDS else thing.name

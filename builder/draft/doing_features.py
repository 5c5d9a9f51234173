"""What shows what is done in a sentence, and to which of the things that it names.

Each name and each pronoun of a sentence is a place, and there is one more for what is done without a name (``rinse``).
How much each feature speaks for a verb, and for a place as its object, is learned (``learned_doings.py``).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from builder.draft.doings import Doing
from builder.draft.made_actions import NamedThing, fits
from builder.draft.phrases import Phrase
from builder.draft.role_features import SMALL, stems_of


@dataclass(frozen=True, slots=True)
class DonePlace:
    """A place of a sentence to which something may be done.

    ``phrase`` is its name or pronoun, None for what is done without one; ``doing`` the doing that it belongs to, as
    far as that is read, with the preposition before it in ``joint``; ``thing`` is what its name means.
    """

    phrase: Phrase | None
    doing: Doing | None = None
    joint: str = ""
    thing: NamedThing | None = None

    @property
    def kind(self) -> str:
        """The kind of thing that is named, as features show it."""
        if self.thing is None:
            return "nothing" if self.phrase and self.phrase.kind == "name" else "pronoun"
        return f"{'s' if self.thing.is_structure else 'i'}:{self.thing.kind}" if self.thing.is_sure else "unsure"


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A sentence as it is looked at: its ``text`` and ``role``, its phrases, what is read of its verbs, its places."""

    text: str
    role: str
    said: Sequence[Phrase]
    doings: Sequence[Doing]
    places: Sequence[DonePlace]


def places_of(said: Sequence[Phrase], read: Sequence[Doing], things: dict[int, NamedThing]) -> list[DonePlace]:
    """Return the places of a sentence with the phrases ``said``; ``things`` by where their names begin."""
    belongs: dict[int, tuple[Doing, str]] = {}
    for doing in read:
        for phrase in doing.objects:
            belongs.setdefault(phrase.start, (doing, ""))
    for doing in read:
        for joint, phrase in doing.rest:
            belongs.setdefault(phrase.start, (doing, joint))
    named = [phrase for phrase in said if phrase.kind in ("name", "pronoun")]
    return [
        *(DonePlace(one, *belongs.get(one.start, (None, "")), things.get(one.start)) for one in named),
        DonePlace(None),
    ]


def sentence_features(looked_at: LookedAt) -> list[str]:
    """Return what shows what is done in a sentence."""
    return list(dict.fromkeys(_of_sentence(looked_at)))


def _of_sentence(looked_at: LookedAt) -> Iterator[str]:
    words = stems_of(looked_at.text)
    telling = [word for word in words if word not in SMALL]
    yield "any"
    yield f"role={looked_at.role}"
    yield from (f"w={word}" for word in words)
    yield from (f"b={one} {other}" for one, other in pairwise(["^", *words, "$"]))
    yield from (f"t={one} {other}" for one, other in pairwise(telling))
    yield from (f"p={word[:size]}" for word in words for size in (4, 5) if len(word) > size)
    yield from (f"first={' '.join(words[:count])}" for count in (1, 2, 3))
    yield f"words={min(6, len(words) // 3)}"
    yield f"doings={min(3, len(looked_at.doings))}"
    for doing in looked_at.doings:
        bare = "" if doing.objects else " bare"
        yield f"m={doing.meaning} {doing.mark}{bare}"
        yield f"l={doing.lemma} {doing.particle}{bare}"
    for place in looked_at.places:
        if place.phrase:
            yield f"k={place.kind}"
            yield f"h={_head(looked_at, place.phrase)}"
        if place.phrase and place.doing:
            how = place.joint or "object"
            yield f"d={place.doing.meaning} {how}"
            yield f"d={place.doing.meaning} {how} {place.kind}"
            yield f"dl={place.doing.lemma} {place.doing.particle} {how}"
            yield f"dl={place.doing.lemma} {how} {place.kind}"


MEANT_BY = {
    verb: frozenset(meanings.split())
    for verb, meanings in {
        "open": "open cut divide", "divide": "divide cut", "excise": "excise remove take cut", "clamp": "clamp clip",
        "expose": "expose identify retract divide", "remove": "remove take", "inspect": "inspect identify",
        "suture": "suture close tie", "close": "close suture", "dress": "place cover dress",
    }.items()
}  # fmt: skip
"""What a verb's own word may be read as."""


def agrees(verb: str, doing: Doing) -> bool:
    """Tell whether a doing that was read may be what ``verb`` says."""
    return doing.lemma == verb or doing.meaning in MEANT_BY.get(verb, {verb})


def object_features(verb: str, looked_at: LookedAt) -> list[list[str]]:
    """Return, for each place of a sentence, what shows that it is the object of ``verb``."""
    return [list(dict.fromkeys(_of_object(verb, looked_at, at))) for at in range(len(looked_at.places))]


def _of_object(verb: str, looked_at: LookedAt, at: int) -> Iterator[str]:
    places = looked_at.places
    place = places[at]
    if place.phrase is None:
        yield from _of_unnamed(verb, looked_at)
        return
    thing, doing, how = place.thing, place.doing, place.joint or "object"
    fit = "none" if thing is None else "unsure" if not thing.is_sure else "fits" if fits(verb, thing) else "not"
    how = "alone" if doing is None else how
    is_said = "none" if doing is None else "yes" if agrees(verb, doing) else "unread" if not doing.meaning else "no"
    mark, way = (doing.mark, doing.way) if doing else ("", "")
    head = _head(looked_at, place.phrase)
    own = (
        "named", f"fit={fit}", f"at={min(at, 4)}", f"head={head}", f"said={is_said} {how}", f"said={is_said} {how} {fit}",
        f"said={is_said} {how} {mark}", f"said={is_said} {how} {way}", *_beside(looked_at, at),
        f"of many={any(one.doing and agrees(verb, one.doing) for one in places)} {is_said} {how}",
        f"fits before={_fitting(verb, places[:at])} {fit}", f"fits after={_fitting(verb, places[at + 1 :])} {fit}",
    )  # fmt: skip
    yield from own
    yield from (
        f"{verb} {feature}"
        for feature in (
            f"{place.kind}", f"head={head}", f"fit={fit}", f"at={min(at, 4)}", how, f"said={is_said} {how}",
            f"lemma={doing.lemma if doing else ''} {how}", *_beside(looked_at, at),
        )
    )  # fmt: skip


def _of_unnamed(verb: str, looked_at: LookedAt) -> Iterator[str]:
    yield "unnamed"
    yield f"unnamed {verb}"
    yield f"unnamed {verb} {min(len(looked_at.places) - 1, 4)}"
    yield f"unnamed {any(agrees(verb, doing) for doing in looked_at.doings)}"
    yield from (f"unnamed {verb} w={word}" for word in stems_of(looked_at.text))
    yield from (f"unnamed {verb} l={doing.lemma} {bool(doing.objects)}" for doing in looked_at.doings)


def _beside(looked_at: LookedAt, at: int) -> Iterator[str]:
    """Yield the words before and after a place, the nearest verbs, and the kind of what is named before it."""
    phrase = looked_at.places[at].phrase
    assert phrase is not None
    before = ["^", "^", *stems_of(looked_at.text[: phrase.start])[-2:]][-2:]
    after = [*stems_of(looked_at.text[phrase.end :])[:1], "$"][0]
    yield f"-1={before[1]}"
    yield f"-2={' '.join(before)}"
    yield f"+1={after}"
    number = next(number for number, one in enumerate(looked_at.said) if one.start == phrase.start)
    for name, run in (("verb-", looked_at.said[:number][::-1]), ("verb+", looked_at.said[number + 1 :])):
        said = next((one for one in run if one.kind == "verb"), None)
        yield f"{name}={said.word if said else ''}"
    yield f"kinds={' '.join(one.kind for one in looked_at.said[max(0, number - 3) : number])}"
    yield f"last={looked_at.places[at - 1].kind if at else '^'}"


def _fitting(verb: str, places: Sequence[DonePlace]) -> int:
    return min(3, sum(place.thing is not None and fits(verb, place.thing) for place in places))


def _head(looked_at: LookedAt, phrase: Phrase) -> str:
    return (stems_of(looked_at.text[phrase.start : phrase.end]) or [""])[-1]

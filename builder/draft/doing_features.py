"""What shows what is done to each of the things that a sentence names.

Each name and each pronoun of a sentence is a place, and there is one more for what is done without a name (``rinse``).
How much each feature speaks for a verb at a place is learned (``learned_doings.py``).
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from builder.draft.doings import Doing
from builder.draft.made_actions import NamedThing
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
    """A sentence as it is looked at: its ``text`` and ``role``, its phrases, what is read of its verbs, its places.

    ``before`` shows how far the operation has come, and what was spoken of last.
    """

    text: str
    role: str
    said: Sequence[Phrase]
    doings: Sequence[Doing]
    places: Sequence[DonePlace]
    before: Sequence[str] = ()


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
    places = []
    for phrase in named:
        done, joint = belongs.get(phrase.start, (None, ""))
        places.append(DonePlace(phrase, done, joint, things.get(phrase.start)))
    return [*places, DonePlace(None)]


MEANT_BY = {
    verb: frozenset(meanings.split())
    for verb, meanings in {
        "open": "open cut divide", "divide": "divide cut", "excise": "excise remove take cut", "clamp": "clamp clip",
        "expose": "expose identify retract divide", "remove": "remove take", "inspect": "inspect identify",
        "suture": "suture close tie", "close": "close suture", "dress": "place cover dress",
    }.items()
}  # fmt: skip
"""What a verb's own word may be read as."""


def place_features(looked_at: LookedAt) -> list[list[str]]:
    """Return, for each place of a sentence, what shows what is done to it."""
    words = stems_of(looked_at.text)
    whole = list(_of_sentence(looked_at, words))
    return [
        list(dict.fromkeys(_of_place(looked_at, at, whole) if place.phrase else _unnamed(looked_at, words)))
        for at, place in enumerate(looked_at.places)
    ]


def _of_sentence(looked_at: LookedAt, words: Sequence[str]) -> Iterator[str]:
    yield "any"
    yield f"role={looked_at.role}"
    yield from (f"w={word}" for word in words if word not in SMALL)
    yield from (f"first={' '.join(words[:count])}" for count in (1, 2))
    yield from (f"k={place.kind}" for place in looked_at.places if place.phrase)
    yield from (f"l={doing.lemma} {doing.particle} {doing.mark}" for doing in looked_at.doings)
    yield f"of {min(len(looked_at.places) - 1, 5)}"
    yield from looked_at.before


def _unnamed(looked_at: LookedAt, words: Sequence[str]) -> Iterator[str]:
    telling = [word for word in words if word not in SMALL]
    shown = [
        *_of_sentence(looked_at, words),
        *(f"b={first} {second}" for first, second in pairwise(["^", *words, "$"])),
        *(f"t={first} {second}" for first, second in pairwise(telling)),
        *(f"p={word[:size]}" for word in telling for size in (4, 5) if len(word) > size),
        *(f"m={doing.meaning} {doing.mark} {bool(doing.objects)} {doing.way}" for doing in looked_at.doings),
        *(f"bare={doing.lemma} {doing.particle}" for doing in looked_at.doings if not doing.objects),
        *(f"h={_head(looked_at, place.phrase)}" for place in looked_at.places if place.phrase),
        f"words={min(6, len(words) // 3)}",
    ]
    yield from (f"unnamed {feature}" for feature in shown)


def _of_place(looked_at: LookedAt, at: int, whole: Sequence[str]) -> Iterator[str]:
    place = looked_at.places[at]
    phrase, doing, kind = place.phrase, place.doing, place.kind
    assert phrase is not None
    yield from whole
    head = _head(looked_at, phrase)
    yield from (f"{before} {kind}" for before in looked_at.before)
    yield from (f"kind={kind}", f"head={head}", f"at={min(at, 4)}", f"head={head} {looked_at.role}")
    yield from (f"n={word}" for word in stems_of(looked_at.text[phrase.start : phrase.end]))
    how = (place.joint or "object") if doing else "alone"
    yield from (f"how={how}", f"how={how} {kind}")
    if doing:
        particle = f"{doing.lemma} {doing.particle}"
        yield from (
            f"d={doing.meaning} {how}", f"d={doing.meaning} {how} {kind}", f"d={doing.meaning} {how} {doing.mark}",
            f"dl={doing.lemma} {how}", f"dl={particle} {how}", f"dl={doing.lemma} {how} {kind}",
            f"way={doing.way} {how} {doing.mark}", f"way={doing.way} {doing.particle} {how}",
            f"way={doing.way} {doing.particle} {how} {kind}", f"mark={doing.mark}",
        )  # fmt: skip
    yield from _beside(looked_at, at, kind)
    start, end = _clause(looked_at.text, phrase)
    for word in stems_of(looked_at.text[start:end]):
        yield f"c={word}"
        yield f"c={word} {kind}"
        if len(word) > 4 and word not in SMALL:
            yield f"cp={word[:4]}"
    others = [other for other in looked_at.places if other.phrase and other is not place]
    yield from (f"with={other.kind} {kind}" for other in others if start <= other.phrase.start < end)  # type: ignore[union-attr]


_STOP = re.compile(r"[,;:.!?–—]")


def _clause(text: str, phrase: Phrase) -> tuple[int, int]:
    """Return where the part between stops that holds a phrase begins and ends."""
    before = [match.end() for match in _STOP.finditer(text, 0, phrase.start)]
    after = _STOP.search(text, phrase.end)
    return (before[-1] if before else 0), (after.start() if after else len(text))


def _beside(looked_at: LookedAt, at: int, kind: str) -> Iterator[str]:
    """Yield the words before and after a place, the nearest verbs, and the kind of what is named before it."""
    phrase = looked_at.places[at].phrase
    assert phrase is not None
    before = ["^", "^", *stems_of(looked_at.text[: phrase.start])[-2:]][-2:]
    after = [*stems_of(looked_at.text[phrase.end :])[:2], "$", "$"][:2]
    yield from (f"-1={before[1]}", f"-2={' '.join(before)}", f"+1={after[0]}", f"+2={' '.join(after)}")
    yield from (f"-1={before[1]} {kind}", f"+1={after[0]} {kind}")
    number = next(number for number, said in enumerate(looked_at.said) if said.start == phrase.start)
    for name, run in (("verb-", looked_at.said[:number][::-1]), ("verb+", looked_at.said[number + 1 :])):
        said = next((near for near in run if near.kind == "verb"), None)
        yield f"{name}={said.word if said else ''}"
        yield f"{name}={said.word if said else ''} {kind}"
    yield f"kinds={' '.join(near.kind for near in looked_at.said[max(0, number - 3) : number])}"
    yield f"kinds+={' '.join(near.kind for near in looked_at.said[number + 1 : number + 3])}"
    yield f"last={looked_at.places[at - 1].kind if at else '^'}"


def _head(looked_at: LookedAt, phrase: Phrase) -> str:
    return (stems_of(looked_at.text[phrase.start : phrase.end]) or [""])[-1]

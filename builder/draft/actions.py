"""Actions in a talk: what its sentences say is done, with the names that the catalogues have for what is meant.

What is done to each thing that a sentence names is learned (``learned_doings.py``). A pronoun, a verb without an object
and a short name (``the duct``) mean what was named before and fits the verb. A name that is in no catalogue is proposed
as a new entry, and its action is proposed as well. What is denied, supposed or optional is no action.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from builder.draft.doing_features import LookedAt, places_of
from builder.draft.doings import Doing, doings
from builder.draft.heard_names import CatalogueNames, Mention
from builder.draft.learned_doings import objects_said
from builder.draft.made_actions import NamedThing, counted, fits, made_of, unnamed
from builder.draft.new_names import NewName, kind_of, new_name, singular
from builder.draft.phrases import Phrase, phrases
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import number_of_word
from builder.load.learned_weights import LearnedWeights

_PLAIN_ROLES = frozenset({"", "begin", "do", "count"})
_ROLE = re.compile(
    r"\b(?:tell|ask|warn|inform|call|alert)(?:s|ed|ing)? (?:the |your |our |my |for the )?((?:[a-z]+ ){0,2}"
    r"(?:anaesthetist|anesthetist|nurse|surgeon|team|radiologist|midwife|assistant|practitioner|registrar|consultant|"
    r"paediatrician|boss))\b",
    re.IGNORECASE,
)
_AS_TOOL = re.compile(r"(?:a|my|your|one|two|the)?\s*(?:\w+\s+)?(?:finger(?:tip)?s?|thumb|hands?)$", re.IGNORECASE)
_SIDE = re.compile(r"\b(left|right|both)\b", re.IGNORECASE)
_FAR_BACK = 40


@dataclass(frozen=True, slots=True)
class ReadDoing:
    """What is done to ``things``: ``verb`` as it was learned, ``made`` the actions of it that the format has.

    ``said`` is the doing that was read at the place from ``start``.
    """

    verb: str
    things: tuple[NamedThing, ...]
    made: tuple[ProposedAction, ...]
    said: Doing | None
    start: int


@dataclass(slots=True)
class ReadSentence:
    """What was read in one sentence: ``actions``, names, names that are ``new``, all doings."""

    actions: list[ProposedAction] = field(default_factory=list)
    mentions: list[Mention] = field(default_factory=list)
    new: list[NamedThing] = field(default_factory=list)
    doings: list[ReadDoing] = field(default_factory=list)
    looked_at: LookedAt = LookedAt("", "", (), (), ())


class TalkReader:
    """Reads the sentences of a source one after the other, and remembers what was named. One instance a source."""

    def __init__(
        self, names: CatalogueNames, verbs: LearnedWeights | None = None, objects: LearnedWeights | None = None
    ) -> None:
        self.names, self.verbs, self.objects = names, verbs, objects
        self.recent: list[NamedThing] = []
        self.topics: list[NamedThing] = []
        self.coined: dict[str, NamedThing] = {}
        self.since = self.so_far = 0

    def read(self, text: str, role: str = "") -> ReadSentence:
        """Return what the next sentence says. ``role``: of the sentence, as labelled talks name it; "" if not known."""
        mentions = self.names.mentions(text)
        looked_at = self.look_at(text, role, mentions)
        read = ReadSentence(mentions=mentions, looked_at=looked_at)
        read.doings.extend(sorted(self._done(looked_at), key=lambda doing: doing.start))
        if role in _PLAIN_ROLES:
            if role == "count" or any(doing.verb == "count" for doing in read.doings):
                read.actions.extend(counted(text))
            read.actions.extend(ProposedAction("tell", (told[1].lower(),)) for told in _ROLE.finditer(text))
            read.actions.extend(action for doing in read.doings for action in doing.made)
            used = {name for doing in read.doings for action in doing.made for name in action.objects}
            read.new.extend(
                thing
                for doing in read.doings
                for thing in doing.things
                if not thing.is_known and thing.name in used
            )
        self._remember(read)
        return read

    def look_at(self, text: str, role: str, mentions: list[Mention]) -> LookedAt:
        """Return the next sentence as it is looked at, with the things that its places name."""
        said, read = phrases(text), doings(text)
        meanings = {phrase.start: doing.meaning for doing in read for phrase in doing.objects}
        things: dict[int, NamedThing] = {}
        for phrase in said:
            if phrase.kind == "name" and (thing := self._meant(text, phrase, meanings.get(phrase.start), mentions)):
                things[phrase.start] = thing
        self.topics.extend(things.values())
        return LookedAt(text, role or "do", said, read, places_of(said, read, things))

    def _done(self, looked_at: LookedAt) -> Iterator[ReadDoing]:
        """Yield what is done in a sentence, verb by verb."""
        for verb, numbers in objects_said(looked_at, self.verbs, self.objects):
            chosen = [looked_at.places[at] for at in numbers]
            things = [place.thing or self._last(verb, is_named=place.phrase is not None) for place in chosen]
            named = tuple(dict.fromkeys(thing for thing in things if thing))
            doing = next((place.doing for place in chosen if place.doing), None)
            joined = {phrase.start: joint for joint, phrase in (doing.rest if doing else ())}
            rest = [
                (joined[place.phrase.start], place.thing)
                for place in looked_at.places
                if place.thing and place.phrase and place.phrase.start in joined and place.thing not in named
            ]
            start = min((place.phrase.start for place in chosen if place.phrase), default=len(looked_at.text))
            yield ReadDoing(verb, named, tuple(made_of(verb, named, rest, doing)), doing, start)

    def _meant(self, text: str, phrase: Phrase, meaning: str | None, mentions: list[Mention]) -> NamedThing | None:
        said = text[phrase.start : phrase.end]
        inside = [mention for mention in mentions if phrase.start <= mention.start < phrase.end]
        if any(mention.start < phrase.start < mention.end for mention in mentions) or _AS_TOOL.match(said):
            return None
        if known := _known(said, phrase, inside):
            return self._named_before(said, known) or known
        new = new_name(said, is_structure=meaning is not None and meaning not in _ON_ITEMS)
        if new is None:
            return None
        thing = self.coined.setdefault(new.name, _thing(new, said))
        return self._named_before(said, thing) or thing

    def _named_before(self, said: str, short: NamedThing) -> NamedThing | None:
        """Return what a short name such as ``the duct`` means: what was named in full before and ends with it."""
        bare = without_lead(said)
        if " " in bare:
            return None
        last = singular(bare)
        for thing in (*reversed(self.topics), *reversed(self.recent)):
            full = without_lead(thing.said)
            if " " in full and singular(full.split()[-1]) == last and thing.is_structure is short.is_structure:
                return thing
        return None

    def _last(self, verb: str, *, is_named: bool) -> NamedThing | None:
        """Return what was spoken of last and fits the verb; for a verb alone else what it then means."""
        spoken_of = (thing for thing in self._spoken_of() if fits(verb, thing))
        return next(spoken_of, None) or (None if is_named else unnamed(verb))

    def _spoken_of(self) -> Iterator[NamedThing]:
        yield from reversed(self.topics[self.since :])
        yield from reversed(self.recent[-4:])

    def _remember(self, read: ReadSentence) -> None:
        self.recent.extend(
            NamedThing(mention.name, mention.is_structure, mention.kind, True, mention.heard)
            for mention in read.mentions
        )
        del self.recent[:-_FAR_BACK]
        self.since, self.so_far = self.so_far, len(self.topics)


_LEADS = re.compile(
    r"^(?:(?:the|a|an|my|your|our|his|her|its|their|this|that|these|those|each|every|both|all|some|any|another|one|"
    r"two|three|"
    r"four|five|six|little|big|whole|first|next|last)\s+)+(?=\w)",
    re.IGNORECASE,
)


def without_lead(said: str) -> str:
    """Return a name as it was said, without what only leads to it: ``round ligament`` of ``the round ligament``."""
    return _LEADS.sub("", " ".join(said.split()))


def _known(said: str, phrase: Phrase, inside: list[Mention]) -> NamedThing | None:
    """Return the entry that a phrase means: the one that ends it, or the whole of which it names a part."""
    if not inside:
        return None
    last = inside[-1]
    ends = last.end >= phrase.end - 1
    head = said[: last.start - phrase.start].split()
    if not ends and " of " in said:
        first = next((mention for mention in inside if said[mention.end - phrase.start :].startswith(" of ")), None)
        last, ends = (first, True) if first else (last, False)
    if not ends:
        after = said[last.end - phrase.start :].split()
        if len(after) > 1 or (
            kind_of(after[-1])
            and singular(after[-1]) not in ("edge", "end", "wall", "margin", "stump", "corner", "layer")
        ):
            return None
    number = max([number_of_word(word) for word in head] or [1])
    side = _SIDE.search(" ".join(head))
    return NamedThing(
        last.name, last.is_structure, last.kind, True, said, True, side[1].lower() if side else "", number or 1
    )


def _thing(new: NewName, said: str) -> NamedThing:
    side = _SIDE.search(said)
    number = max([number_of_word(word) for word in said.split()[:2]] or [1])
    return NamedThing(
        new.name, new.is_structure, new.kind, False, said, new.is_sure, side[1].lower() if side else "", number or 1
    )


_ON_ITEMS = frozenset({"place", "remove", "inject", "irrigate", "take", "connect", "fix", "tell", "count"})



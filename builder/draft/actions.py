"""Actions in a talk: what its sentences say is done, with the names that the catalogues have for what is meant.

A pronoun, a verb without an object and a short name (``the duct``) mean what was named before and fits the verb. A name
that is in no catalogue is proposed as a new entry, and its action is proposed as well. What is denied, supposed or
optional is no action.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from builder.draft.doing_features import DonePlace, LookedAt, places_of
from builder.draft.doings import Doing, doings
from builder.draft.heard_names import CatalogueNames, Mention
from builder.draft.learned_doings import DoingWeights, Judged, action_verb, are_alike, is_order, likely_action
from builder.draft.made_actions import NamedThing, counted, is_where_it_arises, layers_of, made_of, verb_for
from builder.draft.new_names import NewName, kind_of, new_name, singular
from builder.draft.phrases import Phrase, phrases
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import number_of_word
from builder.grouping import word_set

_PLAIN_ROLES = frozenset({"", "begin", "do", "count"})
_ROLE = re.compile(
    r"\s*(?:the |your |our |my |for the )?((?:[a-z]+ ){0,2}(?:anaesthetist|anesthetist|nurse|surgeon|team|"
    r"radiologist|midwife|"
    r"assistant|practitioner|registrar|consultant|paediatrician|boss))\b",
    re.IGNORECASE,
)
_AS_TOOL = re.compile(r"(?:a|my|your|one|two|the)?\s*(?:\w+\s+)?(?:finger(?:tip)?s?|thumb|hands?)$", re.IGNORECASE)
_SIZES = word_set("width breadth length depth height inch inches centimetre centimetres millimetre millimetres")
_GOES_ON = word_set("cut divide tie clamp clip suture seal excise remove close open staple")
"""What is said without an object is done to what was spoken of last."""
_FOR_GOOD = word_set("cut divide tie clamp clip seal excise open close suture staple")
_SIDE = re.compile(r"\b(left|right|both)\b", re.IGNORECASE)
_FAR_BACK = 40
PARTS, MIDDLE = 8, 4
"""An operation is told in so many parts; where nothing is known of it, it is in the middle."""


@dataclass(frozen=True, slots=True)
class ReadDoing:
    """A doing with the things it is done to."""

    doing: Doing
    things: tuple[NamedThing, ...]
    made: tuple[ProposedAction, ...]

    @property
    def verb(self) -> str:
        """The verb of the action that it makes; "" where it makes none."""
        return self.made[0].verb if self.made else ""


@dataclass(slots=True)
class ReadSentence:
    """What was read in one sentence: ``actions``, names, names that are ``new``, all doings."""

    looked_at: LookedAt
    mentions: list[Mention]
    actions: list[ProposedAction] = field(default_factory=list)
    new: list[NamedThing] = field(default_factory=list)
    doings: list[ReadDoing] = field(default_factory=list)


class TalkReader:
    """Reads the sentences of a source one after the other, and remembers what was named. One instance a source.

    ``title``: of the operation; what it is about is meant by a short name, until another thing is named in full.
    """

    def __init__(self, names: CatalogueNames, title: str = "", weights: DoingWeights | None = None) -> None:
        self.names, self.weights = names, weights
        self.about = [NamedThing(str(one.name), True, one.kind.value, True, str(one.name)) for one in names.akin(title)]
        self.recent: list[NamedThing] = []
        self.topics: list[NamedThing] = []
        self.coined: dict[str, NamedThing] = {}
        self.since = self.so_far = 0
        self.meant_before = ""
        self.before: tuple[NamedThing | None, ...] = ()

    def read(self, text: str, role: str = "", part: int = MIDDLE) -> ReadSentence:
        """Return what the next sentence says. ``role``: of the sentence, as labelled talks name it; "" if not known.

        ``part``: how much of the operation is told by then, in eighths.
        """
        mentions = self.names.mentions(text)
        read = ReadSentence(self._look_at(text, role, mentions, part), mentions)
        if role == "count":
            read.actions.extend(counted(text))
        for doing in doings(text):
            self._read_doing(text, doing, read, role)
        if role in _PLAIN_ROLES and role != "count":
            closed = {name for action in read.actions if action.verb == "close" for name in action.objects}
            layers = layers_of([(done.doing, done.things) for done in read.doings], is_early=part < MIDDLE)
            read.actions.extend(action for action in layers if not closed.issuperset(action.objects))
            if role:
                self._judge(read)
        self._remember(read)
        return read

    def _look_at(self, text: str, role: str, mentions: list[Mention], part: int) -> LookedAt:
        """Return the next sentence as what is learned looks at it, with the things that its places name."""
        said, read = phrases(text), doings(text)
        last = [thing.kind for thing in self._spoken_of()][:1]
        before = (f"part={part}", f"topic={''.join(last)}", f"meant={self.meant_before}")
        meanings = {phrase.start: doing.meaning for doing in read for phrase in doing.objects}
        named = (
            (
                phrase.start,
                self._named(text, phrase, mentions, _is_done_to_structures(meanings.get(phrase.start, "place"))),
            )
            for phrase in said
            if phrase.kind == "name"
        )
        things = {start: thing for start, thing in named if thing}
        self.meant_before = next((doing.meaning for doing in reversed(read) if doing.meaning and not doing.mark), "")
        return LookedAt(text, role or "do", said, read, places_of(said, read, things), before)

    def _judge(self, read: ReadSentence) -> None:
        """Take out the actions that are unlikely, as labelled talks have taught, and add those that are likely."""
        judged = Judged(read.looked_at, self.weights)
        surely = {action for done in read.doings if is_order(read.looked_at.text, done.doing) for action in done.made}
        read.actions[:] = [action for action in read.actions if action in surely or not judged.is_doubtful(action)]
        for verb, place in judged.likely():
            thing = place.thing or self._thing_at(read, verb, place)
            if thing and is_where_it_arises(place.doing, thing):
                continue
            made = likely_action(verb, thing, self._beside(read, place)) if thing else None
            is_told = made is None or any(
                not set(made.objects).isdisjoint(action.objects)
                or (place.thing is None and are_alike(made.verb, action.verb))
                or (made.verb == action.verb and not set(made.more).isdisjoint(action.more))
                for action in read.actions
            )
            if thing and made and not is_told:
                read.actions.append(made)
                read.new.extend([thing] if not thing.is_known else [])

    def _thing_at(self, read: ReadSentence, verb: str, place: DonePlace) -> NamedThing | None:
        """Return what ``verb`` is done to at a place whose name is in no catalogue, or that has none."""
        if place.phrase is None or place.phrase.kind != "name":
            spoken_of = self.before if verb in _FOR_GOOD and self.before else self._spoken_of()
            return next((thing for thing in spoken_of if thing and action_verb(verb, thing)), None)
        said = read.looked_at.text[place.phrase.start : place.phrase.end]
        new = new_name(said, is_structure=_is_done_to_structures(verb), is_done=True)
        return self.coined.setdefault(new.name, _thing(new, said)) if new else None

    def _beside(self, read: ReadSentence, place: DonePlace) -> NamedThing | None:
        """Return the structure that a stitch or a clip at a place is for: the next of the sentence, else the last."""
        places = read.looked_at.places
        following = places[places.index(place) + 1 :]
        named = (other.thing for other in following if other.thing and other.thing.is_structure)
        return next(named, None) or next(self._last_structure(), None)

    def _read_doing(self, text: str, doing: Doing, read: ReadSentence, role: str) -> None:
        if doing.meaning == "count":
            if not doing.mark and role != "count":
                read.actions.extend(counted(text[doing.start :]))
            return
        if doing.meaning == "tell":
            told = _ROLE.match(text[doing.start + len(doing.lemma) :].lstrip("sed"))
            if told and not doing.mark and role in _PLAIN_ROLES:
                read.actions.append(ProposedAction("tell", (told[1].lower(),)))
            return
        self.before = self._subject(text, doing, read)
        things = tuple(self._things(text, doing, read.mentions))
        rest = [
            (word, thing)
            for word, phrase in doing.rest
            for thing in self._meant(text, phrase, doing, read.mentions, as_rest=True)
        ]
        made = list(made_of(doing, things, rest))
        read.doings.append(ReadDoing(doing, things, tuple(made)))
        self.topics.extend(things)
        if doing.mark or role not in _PLAIN_ROLES:
            return
        is_opened = any(action.verb == "open" for action in read.actions)  # "open it, a small cut"
        if (doing.way == "named" and is_opened) or (doing.way == "alone" and not role):
            made = [action for action in made if action.verb != "open"]
        read.actions.extend(made)
        used = {name for action in made for name in action.objects} | {
            str(value) for action in made for _, value in action.more
        }
        read.new.extend(
            thing for thing in (*things, *(thing for _, thing in rest)) if not thing.is_known and thing.name in used
        )

    def _things(self, text: str, doing: Doing, mentions: list[Mention]) -> Iterator[NamedThing]:
        if not doing.objects and doing.way == "verb" and doing.meaning in _GOES_ON and doing.lemma != "go":
            yield from self._last(doing)
        for phrase in doing.objects:
            yield from self._meant(text, phrase, doing, mentions)

    def _meant(
        self, text: str, phrase: Phrase, doing: Doing, mentions: list[Mention], *, as_rest: bool = False
    ) -> Iterator[NamedThing]:
        if phrase.kind == "pronoun":
            if phrase.word in ("it", "them", "that", "this", "both", "these", "those", "each"):
                yield from self._last_structure() if as_rest else self._last(doing)
            return
        is_structure = _is_done_to_structures(doing.meaning) and not as_rest
        if thing := self._named(text, phrase, mentions, is_structure, is_coined=True):
            yield thing

    def _named(
        self, text: str, phrase: Phrase, mentions: list[Mention], is_structure: bool, *, is_coined: bool = False
    ) -> NamedThing | None:
        """Return what a name means; one that is new is remembered where it ``is_coined``."""
        said = text[phrase.start : phrase.end]
        inside = [mention for mention in mentions if phrase.start <= mention.start < phrase.end]
        if any(mention.start < phrase.start < mention.end for mention in mentions) or _AS_TOOL.match(said):
            return None
        if phrase.word in _SIZES and " of " not in said:
            return None
        if known := _known(said, phrase, inside):
            is_whole = self.names.plain(without_lead(said)) == self.names.plain(known.name)
            return known if is_whole else self._named_before(said, known) or known
        if meant := self.names.without_noun(without_lead(said)):
            return NamedThing(str(meant.name), True, meant.kind.value, True, said)
        new = new_name(said, is_structure=is_structure)
        if new is None:
            return None
        thing = self.coined.get(new.name) or _thing(new, said)
        if is_coined:
            self.coined[new.name] = thing
        return self._named_before(said, thing) or thing

    def _named_before(self, said: str, short: NamedThing) -> NamedThing | None:
        """Return what a short name such as ``the duct`` means: what was named in full before and ends with it."""
        bare = without_lead(said)
        if " " in bare:
            return None
        last = singular(bare)
        for thing in (*reversed(self.topics), *reversed(self.recent), *self.about):
            full = without_lead(thing.said)
            if " " in full and singular(full.split()[-1]) == last and thing.is_structure is short.is_structure:
                return thing
        return None

    def _subject(self, text: str, doing: Doing, read: ReadSentence) -> tuple[NamedThing | None, ...]:
        """Return the things that the sentence spoke of before ``doing``, the last first; None in place of one that has
        no name that an action could have. Neither what it is done with counts, nor what a preposition leads to.
        """
        said = read.looked_at.said
        named = [
            phrase
            for number, phrase in enumerate(said)
            if phrase.kind == "name" and phrase.end <= doing.start and said[max(0, number - 1)].kind != "preposition"
        ]
        is_structure = _is_done_to_structures(doing.meaning)
        things = (self._named(text, phrase, read.mentions, is_structure) for phrase in reversed(named))
        return tuple(thing for thing in things if thing is None or thing.is_structure)

    def _last(self, doing: Doing) -> Iterator[NamedThing]:
        """Yield what was spoken of last and fits the verb: what something was done to before what was only named.

        What is done for good is done to nothing that was named further back than the last thing of the sentence.
        """
        if doing.meaning in _FOR_GOOD and self.before:
            yield from [thing for thing in self.before if thing and verb_for(doing, thing)][:1]
            return
        here = reversed(self.topics[self.so_far :])
        spoken_of = here if doing.meaning in ("inspect", "identify") else self._spoken_of()
        yield from [thing for thing in spoken_of if verb_for(doing, thing)][:1]

    def _last_structure(self) -> Iterator[NamedThing]:
        yield from [thing for thing in self._spoken_of() if thing.is_structure][:1]

    def _spoken_of(self) -> Iterator[NamedThing]:
        yield from reversed(self.topics[self.since :])
        yield from reversed(self.recent[-4:])

    def _remember(self, read: ReadSentence) -> None:
        self.recent.extend(
            NamedThing(mention.name, mention.is_structure, mention.kind, True, mention.heard)
            for mention in read.mentions
            if not _AS_TOOL.match(mention.heard)
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


def _is_done_to_structures(meaning: str) -> bool:
    return meaning not in _ON_ITEMS

"""Actions in a sentence: a verb of the list and the catalogue names that are in the place of its object.

What is denied (``never divide``), supposed (``if you cut``), already done (``once you have opened``) or only possible
is not an action. A verb whose object is not in a catalogue proposes nothing; its object is shown as not understood.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from builder.draft.heard_names import CatalogueNames, Mention, looks_like_a_name
from builder.draft.proposal import ProposedAction
from builder.draft.verbs import FORMS, number_of_word, on_item, on_structure

_WORD = re.compile(r"[^\W_]+(?:['’-][^\W_]+)*|[,;:.!?()–—]")
_STOPS = frozenset(",;:.!?()–—")
_SUBJECTS_LIST = """
we you i to and then now just let's please will would we'll you'll i'll must should or always also first next
finally by but again can
"""
_SUBJECTS = frozenset(_SUBJECTS_LIST.split())
_DENIES = re.compile(
    r"\b(?:never|not|no|cannot|can't|don't|doesn't|won't|without|avoid|avoids|rather than|instead of|nor|"
    r"stop)\b[^,;.]{0,30}$",
    re.IGNORECASE,
)
_SUPPOSES = re.compile(
    r"\b(?:if|about to|ready to|able to|how to|used to|when|once(?! that| this)|before|after(?! that| this)|until|"
    r"unless|while|as soon as|whenever|in case|having|had|has|have|'ve|where|"
    r"who|which|that might|may|might|could)\b[^,;.]{0,40}$",
    re.IGNORECASE,
)
_BE = re.compile(r"\b(?:is|are|be|gets?|being)\b(?:\s+(?:then|now|also|next|\w+ly))*\s*$", re.IGNORECASE)
_PREPOSITIONS_LIST = """
in into inside within through on onto around round to across over under with using from between along near below
above behind beneath beside against by towards toward until at off for
"""
_PREPOSITIONS = frozenset(_PREPOSITIONS_LIST.split())
_JOINS = re.compile(r"(?:\s|,|and|or|the|a|an|both|then|its|your|&)*", re.IGNORECASE)
_COUNTED = re.compile(r"\b(swabs|needles|blades|instruments|packs|sharps)\b", re.IGNORECASE)
_ROLE = re.compile(
    r"\s*(?:the |your |our )?((?:[a-z]+ ){0,2}(?:anaesthetist|anesthetist|nurse|surgeon|team|radiologist|midwife|"
    r"assistant|"
    r"practitioner|registrar|consultant|paediatrician))\b",
    re.IGNORECASE,
)
_LIQUIDS = ("drug", "fluid")
_THROUGH = frozenset({"cut", "open", "look_for"})
_THROUGH_WORDS = frozenset({"through", "into", "for", "at", "down", "up"})
_AFTER_WORDS = frozenset({"out", "up", "down", "in", "off"})
_FARTHEST, _MOST_BETWEEN = 45, 6
"""Characters and words between a verb and its object; beyond that the name belongs to something else."""


@dataclass(slots=True)
class _Doing:
    """A verb in its sentence: what it means, its form, where it is, and where what belongs to it ends."""

    meaning: str
    form: str
    start: int
    end: int
    until: int = 0


@dataclass(slots=True)
class ReadSentence:
    """What was read in one sentence: the ``actions``, the names, and the objects that are not in a catalogue."""

    actions: list[ProposedAction] = field(default_factory=list)
    mentions: list[Mention] = field(default_factory=list)
    strange: list[tuple[int, str]] = field(default_factory=list)

    def strange_names(self, text: str) -> Iterator[str]:
        """Yield the words that look like a name but are not in a catalogue."""
        likely = list(looks_like_a_name(text, self.mentions))
        yield from (words for _, words, _ in likely)
        for start, words in self.strange:
            if not any(at < start + len(words) and start < at + len(other) for at, other, _ in likely):
                yield words


def read_sentence(text: str, names: CatalogueNames) -> ReadSentence:
    """Return the actions and names in one sentence."""
    read = ReadSentence(mentions=names.mentions(text))
    doings = list(_doings(text))
    for number, doing in enumerate(doings):
        doing.until = doings[number + 1].start if number + 1 < len(doings) else len(text)
        before = doings[number - 1].end if number else 0
        read.actions.extend(_actions(text, doing, read, before))
    return read


def _doings(text: str) -> Iterator[_Doing]:
    words = list(_WORD.finditer(text))
    for number, word in enumerate(words):
        if (verb := FORMS.get(word.group().casefold())) is None:
            continue
        meaning, form = verb
        previous = words[number - 1].group().casefold() if number else ""
        before = text[: word.start()]
        if _is_told(form, previous, before) and not _DENIES.search(before) and not _SUPPOSES.search(before):
            yield _Doing(meaning, form, word.start(), word.end())


_BEFORE_ING_LIST = "by is are then start begin and we're you're i'm with"
_BEFORE_ING = frozenset(_BEFORE_ING_LIST.split())


def _is_told(form: str, previous: str, before: str) -> bool:
    """Tell whether the verb says what is done: an order, ``we`` or ``you`` do it, or it is done."""
    at_start = not previous or previous in _STOPS
    if form == "base":
        is_order = at_start or previous in _SUBJECTS or previous.endswith("ly")
        return is_order or bool(re.search(r"\bgoing to$", before.strip()))
    if form == "ing":
        return at_start or previous in _BEFORE_ING
    if form == "past":
        return bool(_BE.search(before)) or (
            previous in ("we", "i", "and") and bool(re.search(r"\b(?:we|i)\b", before.lower()))
        )
    return False


def _actions(text: str, doing: _Doing, read: ReadSentence, before: int) -> Iterator[ProposedAction]:
    after = text[doing.end : doing.until]
    if doing.meaning == "count":
        counted = tuple(dict.fromkeys(word.lower() for word in _COUNTED.findall(after)))
        if counted:
            yield ProposedAction("count", tuple("needles" if word == "sharps" else word for word in counted))
        return
    if doing.meaning == "tell":
        role = _ROLE.match(after)
        if role:
            yield ProposedAction("tell", (role[1].lower(),))
        return
    here = [mention for mention in read.mentions if doing.end <= mention.start < doing.until]
    is_passive = doing.form == "past" and _BE.search(text[: doing.start])
    if is_passive:
        objects = _group(text, [name for name in read.mentions if before <= name.start and name.end <= doing.start])
        if not objects:
            return
        rest = here
    else:
        objects = _objects(text, doing, here)
        rest = [mention for mention in here if mention not in objects]
    if not objects:
        strange = _strange(text, doing, rest)
        if strange:
            read.strange.append(strange)
        if not (rest and doing.meaning in ("inject", "irrigate")):
            return
    yield from _made(text, doing, objects, rest)


def _objects(text: str, doing: _Doing, here: list[Mention]) -> list[Mention]:
    """Return the names in the place of the verb's object: after it, before any preposition."""
    if not here or here[0].start - doing.end > _FARTHEST:
        return []
    between = text[doing.end : here[0].start].casefold()
    words = _WORD.findall(between)
    if any(word in _STOPS and word != "," for word in words):
        return []
    # "Put in a drain" places the drain, "put it in a pot" does not place the pot.
    first = _THROUGH_WORDS if doing.meaning in _THROUGH else _AFTER_WORDS
    if any(word in _PREPOSITIONS and not (at == 0 and word in first) for at, word in enumerate(words)):
        return []
    if len(words) > _MOST_BETWEEN:
        return []
    return _group(text, here)


def _group(text: str, here: list[Mention]) -> list[Mention]:
    """Return the first name and those joined to it by commas and ``and``."""
    group = here[:1]
    for mention in here[1:]:
        if not _JOINS.fullmatch(text[group[-1].end : mention.start]):
            break
        group.append(mention)
    return group


def _made(text: str, doing: _Doing, objects: list[Mention], rest: list[Mention]) -> Iterator[ProposedAction]:
    more = dict(_more(text, doing, rest))
    if doing.meaning in ("inject", "irrigate") and not any(mention.kind in _LIQUIDS for mention in objects):
        fluid = next((mention for mention in rest if mention.kind in _LIQUIDS), None)
        if fluid is not None:
            inside = next((mention.name for mention in objects if mention.is_structure), None)
            yield ProposedAction(doing.meaning, (fluid.name,), (("in", inside),) if inside else ())
        return
    if doing.meaning in ("place", "clip") and objects and objects[0].kind in ("clip", "instrument"):
        target = next((mention for mention in rest if mention.is_structure), None)
        if target and re.search(r"\b(?:clip|clamp|forceps)", objects[0].heard.casefold()):
            yield ProposedAction("clamp", (target.name,), (("with", objects[0].name),))
            return
    first = text[doing.end : objects[0].start] if objects else ""
    by_verb: dict[str, list[Mention]] = {}
    for mention in objects:
        verb = (on_structure if mention.is_structure else on_item)(doing.meaning, mention.kind, first)
        if doing.meaning == "take" and not verb and re.match(r"\s*(?:out|off)\b", text[mention.end :]):
            verb = "excise" if mention.is_structure else "remove"
        if verb:
            by_verb.setdefault(verb, []).append(mention)
    for verb, mentions in by_verb.items():
        names = tuple(dict.fromkeys(mention.name for mention in mentions))
        yield ProposedAction(verb, names, tuple(_kept(verb, more, text, doing, mentions)))


def _kept(
    verb: str, more: dict[str, str], text: str, doing: _Doing, objects: list[Mention]
) -> Iterator[tuple[str, str | int | bool]]:
    """Yield the further keys that the verb can have."""
    if verb in ("place", "remove") and len(objects) == 1:
        number = _number(text[max(doing.end, objects[0].start - 14) : objects[0].start])
        if number > 1:
            yield "number", number
        for key in ("in", "on"):
            if key in more:
                yield key, more[key]
        if verb == "place" and text[doing.start : doing.end].casefold() in ("leave", "left"):
            yield "stays", True
    elif verb in ("inject", "irrigate"):
        if "in" in more:
            yield "in", more["in"]
    elif "with" in more and verb not in ("identify", "inspect", "place", "remove"):
        yield "with", more["with"]


def _more(text: str, doing: _Doing, rest: list[Mention]) -> Iterator[tuple[str, str]]:
    """Yield ``in``, ``on`` and ``with`` where a name follows such a preposition; the first of each."""
    seen = set()
    for mention in rest:
        before = _WORD.findall(text[doing.end : mention.start].casefold())[-5:]
        last = next((word for word in reversed(before) if word in _PREPOSITIONS), "")
        key = ""
        if last in ("in", "into", "inside", "within") and mention.is_structure:
            key = "in"
        elif last in ("on", "onto", "around", "round", "across", "over", "to") and mention.is_structure:
            key = "on"
        elif last in ("with", "using", "between") and not mention.is_structure and mention.kind not in _LIQUIDS:
            key = "with"
        if key and key not in seen:
            seen.add(key)
            yield key, mention.name


def _number(before: str) -> int:
    words = _WORD.findall(before.casefold())
    return next((number for number in map(number_of_word, words[-3:]) if 0 < number < 50), 1)


_DETERMINERS_LIST = """
the a an your our its this that these those both each any some every two three four of
"""
_DETERMINERS = frozenset(_DETERMINERS_LIST.split())
_NO_OBJECT_LIST = """
midline bubbles centimetres millimetres finger's width
it them him her me us you patient patients wound incision tissue tissues thing things way hand hands finger fingers
bleeding layer layers edge edges side sides place position plane area field blood pus fat that this there here time
size length room table operation procedure step steps end ends top bottom middle front back what where how if up
down out in off over everything anything nothing something one ones lot bit rest help result results
"""
NO_OBJECT = frozenset(_NO_OBJECT_LIST.split())
_WITH_OBJECT_LIST = """
identify protect expose open close clamp tie seal divide excise look_for cut clip release suture place remove
"""
_WITH_OBJECT = frozenset(_WITH_OBJECT_LIST.split())


def _strange(text: str, doing: _Doing, rest: list[Mention]) -> tuple[int, str] | None:
    """Return the object of the verb, as it was said, where it is not in a catalogue."""
    if doing.meaning not in _WITH_OBJECT or doing.form == "past":
        return None
    said: list[re.Match[str]] = []
    for word in _WORD.finditer(text, doing.end, doing.until):
        low = word.group().casefold()
        if not said and (
            low in _DETERMINERS or (doing.meaning in _THROUGH and low in ("for", "through", "into", "at"))
        ):
            continue
        if low in _STOPS or low in _PREPOSITIONS or low in _SUBJECTS or low in FORMS or low.endswith("ly"):
            break
        if low in ("is", "are", "that", "which", "as", "so", "because", "than", "before", "after", "of"):
            break
        said.append(word)
        if len(said) == 4:
            break
    if not said or said[-1].group().casefold() in NO_OBJECT or said[0].group().casefold() in NO_OBJECT:
        return None
    start, end = said[0].start(), said[-1].end()
    if any(mention.start < end and start < mention.end for mention in rest):
        return None
    return start, text[start:end]

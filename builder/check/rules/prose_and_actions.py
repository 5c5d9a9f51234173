"""Do a step's prose and its actions say the same?

Told from both sides, and on purpose not of everything. Prose rightly mentions landmarks, and things handled in an
earlier step, and it calls the sac "the sac". So a finding is made where

- the prose names a structure (no bone, no skin: those are landmarks) or an item that no action of the whole procedure
  deals with, or orders something to be done to it ("divide the ...") that no action of this step does; what is at
  risk, pointed out in a figure, given as a dose or named in a caution of this step is known;
- an action changes the patient for good (cut, tied, left in) and no word of the name of its object is in the text of
  the step;
- the prose forbids what an action does, states another number, or another order.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import pairwise

from builder.check.hit import Hit, finds
from builder.check.paths import path_words
from builder.check.paths.structures import CONTROLLABLE
from builder.check.rules.caution_words import cautions_of
from builder.facts.automata import Deed
from builder.facts.clauses import Mood
from builder.facts.names_in_prose import Entry, NameInText, NamesInProse, names_in_prose
from builder.facts.remembered import once_per_library
from builder.facts.texts import words_in, words_said
from builder.facts.told_actions import DOES, ToldAction, clauses_of, handled_in, mentions_in, told_actions, told_of
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, Procedure, Step, Structure, StructureKind
from builder.place import Place, Text

_FOR_GOOD = frozenset({Verb.CLAMP, Verb.TIE, Verb.SEAL, Verb.DIVIDE, Verb.EXCISE})
_LANDMARKS = frozenset({StructureKind.BONE, StructureKind.SKIN})
_WORD = re.compile(r"[^\W\d_]{3,}")
_BESIDE = re.compile(
    r"\b(?:from|below|behind|above|beside|to|towards|along|between|on|onto|into|near|under|over|of|by|round|around|beyond|"
    r"beneath|in|at|across|than|and|or)\s+(?:(?:the|a|an|both|each|its|his|her|your)\s+)?(?:[a-z-]+\s+)?$",
    re.IGNORECASE,
)
_ACTS = frozenset(DOES) - {"see", "inspect", "protect", "count", "release", "use", "irrigate"}
"""What must be an action where prose orders it. To see and to look at is more often ordered than it is an action."""
_CUTTING = frozenset({Verb.DIVIDE, Verb.EXCISE, Verb.OPEN})
_NO_TISSUE = re.compile(
    r"\b(?:stitch|sutures?|threads?|ties?|ends?|tape|mesh|drapes?|hair|tube|wire|tails?|nothing|only|no)\b"
)


def steps_with_prose(library: Library) -> Iterator[Step]:
    """Yield each step that has prose."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if step.body.source.strip():
                yield step


@finds("named-and-not-done", piecewise=True)
def said_not_done(library: Library) -> Iterator[Hit]:
    """Yield what the prose of a step names or orders and its actions do not know."""
    names = names_in_prose(library)
    for procedure in library.procedures:
        anywhere = {id for step in procedure.steps.values() for id in handled_in(library, step)}
        for step in procedure.steps.values():
            if step.body.source.strip():
                yield from _ordered_not_done(library, step, names)
                yield from _uncounted(step)
                yield from _said_not_done(library, procedure, step, anywhere)


@finds("done-and-not-named", piecewise=True)
def done_not_said(library: Library) -> Iterator[Hit]:
    """Yield what is done for good, or where something is put, that no text of the step names by a word of its name."""
    names = names_in_prose(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            yield from _done_not_said(step, names)


@finds("forbidden-in-text", piecewise=True)
def forbidden_in_text(library: Library) -> Iterator[Hit]:
    """Yield each action that the prose of its step forbids: without a condition, and orders nowhere."""
    for step in steps_with_prose(library):
        if _DENYING.isdisjoint(words_said(library, step)):
            continue
        told = told_actions(library, step)
        for forbidden in told:
            if (
                not forbidden.forbidden
                or (not forbidden.entries and forbidden.doing not in ("count", "open", "irrigate"))
                or _is_limited(step, forbidden)
            ):
                continue
            places = _done_at(library, step, forbidden)
            orders = (other for other in told if other.clause.mood is not Mood.UNDER)
            if places and not any(_is_same(forbidden, other) for other in orders):
                action = step.actions[places[0]]
                message = f"{_said(step, forbidden)} is what the text says, but an action is: {_deed(step, action)}"
                hint = "Remove the action, or say in the same sentence when it is left out."
                yield Hit(_at(step, forbidden), message, hint, (SecondPlace(action.at, "the action"),))
        if _DENIES.search(step.body.source):
            yield from _placed_though_forbidden(library, step)


_DENYING = words_in(
    "no not never without neither don't skip avoid leave leaves leaving make cannot stay stays remain remains back"
)
_DENIES = re.compile(r"\b(?:no|not|never|without)\b|n['’]t\b", re.IGNORECASE)


def _placed_though_forbidden(library: Library, step: Step) -> Iterator[Hit]:
    """Yield each thing that an action places and the text names only to say that it is not used."""
    names, text = names_in_prose(library), step.body.shown
    placed = {id: one for one in step.actions if one.verb is Verb.PLACE and one.stays for id in ids_of(one, names)}
    mentions = [one for one in mentions_in(library, step) if one.entry.id in placed] if placed else []
    for clause in clauses_of(library, step) if mentions else ():
        here = [one for one in mentions if clause.begin <= one.start and one.stop <= clause.stop]
        if clause.negated and not clause.unders and clause.verb != "leave" and len(here) == 1:
            item = here[0].entry
            if isinstance(item, Item) and sum(one.entry is item for one in mentions) == 1:
                words = quoted(" ".join(text[clause.begin : here[0].stop].split()))
                action = placed[str(item.id)]
                message = f"{words} is what the text says, but an action is: {_deed(step, action)}"
                hint = "Remove the action, or say in the same sentence when it is left out."
                yield Hit(step.body.place(clause.begin), message, hint, (SecondPlace(action.at, "the action"),))


@finds("number-differs-from-text", piecewise=True)
def number_differs(library: Library) -> Iterator[Hit]:
    """Yield each number of things placed or taken out that the prose states otherwise than the actions."""
    for step in steps_with_prose(library):
        stated = [one for one in told_actions(library, step) if one.number and not one.forbidden and one.entries]
        for told in stated:
            acting = [step.actions[index] for index in _done_at(library, step, told)]
            numbers = [action.number for action in acting if action.verb in (Verb.PLACE, Verb.REMOVE)]
            numbers += [one.number for one in acting if one.verb is Verb.TIE and "number" in one.model_fields_set]
            alike = [other.number or 0 for other in stated if _is_same(told, other)]
            is_same = told.number in numbers or sum(numbers) in (told.number, sum(alike))
            if numbers and not is_same and not _says_more(step, told):
                message = f"{_said(step, told)} is what the text says, but the number of the action is {sum(numbers)}"
                also = (SecondPlace(acting[0].at, "the action"),)
                hint = "Write the same number in the text and in the action."
                severity = Severity.NOTE if told.doing == "use" else None
                yield Hit(_at(step, told), message, hint, also, severity=severity)


@finds("order-differs-from-text", piecewise=True)
def order_differs(library: Library) -> Iterator[Hit]:
    """Yield each two actions in another order than ``then`` or ``before`` in the prose or a caution puts them in."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            yield from _other_order(library, step, step.body.source, told_actions(library, step), step.body.place)
            yield from _things_in_order(library, step)
            if _IN_ORDER.search(step.body.source):
                yield from _named_in_order(library, step)
            for caution in cautions_of(procedure, step) if len(step.actions) > 1 else ():
                if _ORDERS.search(caution.avoid):
                    # What a caution asks to be seen first may be seen in a step before.
                    told = [one for one in told_of(library, step, caution.avoid) if one.doing not in _SEEN]
                    yield from _other_order(library, step, caution.avoid, told, partial(_always, caution.avoid.at))


def _words(text: str, told: ToldAction) -> str:
    return " ".join((text[told.start : told.stop] or text[told.clause.start : told.clause.stop]).split())


_SEEN = frozenset({"see", "inspect", "protect"})
_ORDERS = re.compile(r"\b(?:then|before|after|until|once|first|when)\b", re.IGNORECASE)


def _always(place: Place, _: int) -> Place:
    return place


def _other_order(
    library: Library, step: Step, text: str, told: Sequence[ToldAction], place: Callable[[int], Place]
) -> Iterator[Hit]:
    for first, second in in_order(text, told) if len(told) > 1 else ():
        earlier, later = (
            [index for index in _done_at(library, step, one) if one.entries or not step.actions[index].nick]
            for one in (first, second)
        )
        if earlier and later and min(earlier) > max(later):
            said, other = (quoted(_words(text, one)) for one in (first, second))
            message = f"{said} comes first in the text, but in the actions {other} does"
            also = (SecondPlace(step.actions[max(later)].at, "comes first in the actions"),)
            yield Hit(place(first.start), message, "Put the text and the actions in the same order.", also)


_AND_THEN = re.compile(r",?\s+(?:and\s+)?then\s+(?:the\s+|both\s+)?", re.IGNORECASE)


def _things_in_order(library: Library, step: Step) -> Iterator[Hit]:
    """Compare ``the inner and then the outer layer`` with the order in which the actions come to them."""
    names, text = names_in_prose(library), step.body.source
    for first, second in pairwise(mentions_in(library, step)) if "then" in text else ():
        if not _AND_THEN.fullmatch(text, first.stop, second.start):
            continue
        of_first, of_second = (
            [
                index
                for index, action in enumerate(step.actions)
                if action.verb not in _LOOKING and mention.entry.id in ids_of(action, names)
            ]
            for mention in (first, second)
        )
        if of_first and of_second and min(of_first) > max(of_second):
            one, other = (quoted(text[mention.start : mention.stop]) for mention in (first, second))
            message = f"{one} comes first in the text, but in the actions {other} does"
            also = (SecondPlace(step.actions[max(of_second)].at, "comes first in the actions"),)
            hint = "Put the text and the actions in the same order."
            yield Hit(step.body.place(first.start), message, hint, also)


_IN_ORDER = re.compile(r"\bin this order\b|\bfirst\b.*\b(?:then|last|next|finally)\b|\bthen\b.*\bfirst\b", re.DOTALL)
_SENTENCE = re.compile(r"[^.;!?]+")


def _named_in_order(library: Library, step: Step) -> Iterator[Hit]:
    """Compare ``the superficial artery first, then the deep one`` with the order of the actions, by words of names."""
    names, text = names_in_prose(library), step.body.shown
    places: dict[str, int] = {}
    words: dict[str, set[str]] = {}
    for index, action in enumerate(step.actions):
        for entry in names.handled([action]).values() if action.verb not in _LOOKING else ():
            if isinstance(entry, Structure):
                places.setdefault(str(entry.id), index)
                for word in _WORD.findall(entry.name.casefold()):
                    words.setdefault(word, set()).add(str(entry.id))
    own = {word: next(iter(ids)) for word, ids in words.items() if len(ids) == 1}
    for sentence in _SENTENCE.finditer(text) if len(places) > 1 else ():
        if not _IN_ORDER.search(sentence.group()) or "for last" in sentence.group():
            continue
        told = [(match, own[match.group()]) for match in _WORD.finditer(sentence.group()) if match.group() in own]
        for (word, id), (other_word, other) in pairwise(told):
            if id != other and places[id] > places[other]:
                one, later = quoted(f"the {word.group()} one"), quoted(f"the {other_word.group()} one")
                message = f"{one} comes first in the text, but in the actions {later} does"
                also = (SecondPlace(step.actions[places[other]].at, "comes first in the actions"),)
                hint = "Put the text and the actions in the same order."
                yield Hit(step.body.place(sentence.start() + word.start()), message, hint, also)
                break


_LOOKING = frozenset({Verb.IDENTIFY, Verb.PROTECT, Verb.INSPECT, Verb.EXPOSE})


def _says_more(step: Step, told: ToldAction) -> bool:
    """Tell whether the number is not all there is: one, and a second if it bleeds; two on each side."""
    rest = step.body.source[told.start :].partition(".")[0]
    return _MORE.search(rest) is not None and _IN_ALL.search(rest) is None


_IN_ALL = re.compile(r"\b(?:in all|altogether|in total|all \w+)\b(?= *[,.;:]|$)", re.IGNORECASE)
_MORE = re.compile(
    r"\b(?:another|second|third|more|each|every|either|further|extra|at a time|one by one|in turn|per|"
    r"and (?:one|two|the other))\b"
)


def in_order(text: str, told: Sequence[ToldAction]) -> Iterator[tuple[ToldAction, ToldAction]]:
    """Yield each pair of which the prose says in words that the one comes before the other."""
    for this, following in pairwise(told):
        if _is_joined(text, this, following):
            yield this, following
    for under in told:
        if under.clause.mood is not Mood.UNDER:
            continue
        main = _ruling(told, under)
        if main is not None and under.clause.under in ("before", "until"):
            yield (under, main) if main.forbidden else (main, under)
        elif main is not None and under.clause.under in ("after", "once", "as soon as", "when") and not main.forbidden:
            yield under, main


def _ruling(told: Sequence[ToldAction], under: ToldAction) -> ToldAction | None:
    """Return what ``under`` depends on: the last that its sentence tells before it, else the first after it."""
    mains = [one for one in told if one.clause.sentence == under.clause.sentence and one.clause.mood is not Mood.UNDER]
    before = [main for main in mains if main.clause.begin < under.clause.begin]
    return before[-1] if before else mains[0] if mains else None


_THEN = re.compile(r"\b(?:then|next|after (?:that|this)|afterwards|later|finally|last)\b")
_FIRST = re.compile(r"\bfirst\b(?!\s+\w)")


def _is_joined(text: str, this: ToldAction, following: ToldAction) -> bool:
    moods = (this.clause.mood, following.clause.mood)
    near = following.clause.sentence - this.clause.sentence <= 1
    if Mood.UNDER in moods or this.forbidden or following.forbidden or not near:
        return False
    tail = text[following.stop : following.clause.stop]
    head = text[this.stop : this.clause.stop]
    says_then = _THEN.search(following.clause.lead) or _THEN.search(tail)
    return bool(says_then or "first" in this.clause.lead or _FIRST.search(head))


def _is_limited(step: Step, told: ToldAction) -> bool:
    """Tell whether a prohibition is limited: on some condition, or in the way in which it must not be done."""
    rest = step.body.source[told.stop : told.clause.stop] if told.clause.mood is not Mood.DONE else ""
    limits = bool(rest.strip()) and not _NO_LIMIT.fullmatch(rest)
    unders = told.clause.unders - (_WHEN_LEFT if told.clause.verb == "leave" else _DENIES_ALONE)
    return bool(unders) or limits


_DENIES_ALONE = frozenset({"without"})
_WHEN_LEFT = frozenset({"when", "after", "once", "while"})
"""When something is left undone, it is left undone."""


_NO_LIMIT = re.compile(
    r"\s*(?:here|at all|again|now|in this (?:step|operation|procedure)|alone|open|closed|"
    r"(?:in the (?:line|middle|direction) of|along|over) [^.;]*)?\s*"
)


def _is_same(told: ToldAction, other: ToldAction) -> bool:
    same = bool({entry.id for entry in told.entries} & {entry.id for entry in other.entries}) or not told.entries
    return other.doing == told.doing and same and not other.forbidden


def _done_at(library: Library, step: Step, told: ToldAction) -> list[int]:
    """Return which actions of ``step`` do what is told."""
    deals_with = ids_in(library, step)
    return [index for index, action in enumerate(step.actions) if told.is_done_by(action, deals_with[index])]


@once_per_library
def ids_in(library: Library, step: Step) -> tuple[frozenset[str], ...]:
    """Return for each action of ``step`` what it is done to."""
    names = names_in_prose(library)
    return tuple(ids_of(action, names) for action in step.actions)


def ids_of(action: Action, names: NamesInProse) -> frozenset[str]:
    """Return what ``action`` is done to: to place a clip on a vessel is to clip the vessel."""
    named = (*action.objects, *filter(None, (action.on,)))
    return frozenset(str(entry.id) for name in named if (entry := names.find(name)) is not None)


def _said(step: Step, told: ToldAction) -> str:
    return quoted(" ".join(step.body.shown[told.start : told.stop].split()))


def _at(step: Step, told: ToldAction) -> Place:
    return step.body.place(told.start)


def _deed(step: Step, action: Action) -> str:
    return path_words.deed(Deed(step, action, action.objects[0]))


def _ordered_not_done(library: Library, step: Step, names: NamesInProse) -> Iterator[Hit]:
    """Yield what is ordered done to a thing to which the actions do something else, or to nothing that has a name."""
    undone = [one for one in told_actions(library, step) if _is_plain_order(one) and not _done_at(library, step, one)]
    names_of = (name for action in step.actions for name in action.objects) if undone else ()
    objects = {str(entry.id) for name in names_of if (entry := names.find(name))}
    for told in undone:
        unnamed = not told.entries and (
            (told.doing in ("cut", "excise") and _cuts_tissue(step, told)) or _is_another_way(library, step, told)
        )
        if unnamed or any(entry.id in objects for entry in told.entries):
            message = f"{_said(step, told)} is ordered here, but no action of this step does it"
            hint = "Write that action, or leave the order out of the text."
            yield Hit(_at(step, told), message, hint, (_actions_of(step),))


_COUNTS = re.compile(
    r"(?:^|(?<=[.;:!?]\s))\W*(?:Count\b(?:\W+(?:again|aloud)\b|[^.;]{0,60}\b(?:swabs?|needles?|instruments?|everything)\b)|"
    r"Ask for (?:the|a) \W*(?:\w+ )?count\b)"
)


def _uncounted(step: Step) -> Iterator[Hit]:
    """Yield the first count that the text orders in a step without a count."""
    match = _COUNTS.search(step.body.shown)
    if match is not None and not any(action.verb is Verb.COUNT for action in step.actions):
        message = f"{quoted(' '.join(match.group().split()))} is ordered here, but no action of this step counts"
        yield Hit(step.body.place(match.start()), message, "Write `count:` with what is counted.", (_actions_of(step),))


_WAYS_TO_SHUT = {"tie": Verb.TIE, "clip": Verb.CLAMP, "seal": Verb.SEAL, "clamp": Verb.CLAMP}


def _is_another_way(library: Library, step: Step, told: ToldAction) -> bool:
    """Tell whether the text shuts something in one way where an action does in another that the text never tells."""
    others = [action for action in step.actions if action.verb in set(_WAYS_TO_SHUT.values()) and action.objects]
    names = names_in_prose(library)
    said = [one for one in told_actions(library, step) if one.doing in _WAYS_TO_SHUT and one is not told]
    untold = [one for one in others if not any(other.is_done_by(one, ids_of(one, names)) for other in said)]
    names_a_thing = bool(step.body.source[told.clause.start : told.clause.stop].strip(" .,"))
    return told.doing in _WAYS_TO_SHUT and names_a_thing and bool(untold)


def _is_plain_order(told: ToldAction) -> bool:
    clause = told.clause
    return told.doing in _ACTS and clause.mood is Mood.ORDER and not told.forbidden and not clause.is_conditional


def _cuts_tissue(step: Step, told: ToldAction) -> bool:
    """Tell whether something of the patient is ordered cut, in a step whose actions cut nothing."""
    cut = step.body.source[told.clause.start : told.clause.stop]
    cutting = any(action.verb in _CUTTING for action in step.actions)
    return bool(step.actions) and not cutting and not _NO_TISSUE.search(cut)


def _said_not_done(library: Library, procedure: Procedure, step: Step, anywhere: set[str]) -> Iterator[Hit]:
    names, text = names_in_prose(library), step.body.shown
    handled, mentions = handled_in(library, step), mentions_in(library, step)
    yield from _mistaken(library, step, mentions)
    if all(mention.entry.id in handled for mention in mentions):
        return
    here = handled.keys() | _known_otherwise(procedure, step, names)
    told = told_actions(library, step)
    ordered = [range(one.start, one.stop) for one in told if one.entries and _is_plain_order(one)]
    for start, stop, entry in mentions:
        if entry.id in here:
            continue
        is_ordered = any(start in span for span in ordered)
        if is_ordered or (entry.id not in anywhere and not _is_landmark(text, start, entry)):
            here.add(entry.id)
            message = f"{quoted(text[start:stop])} is named here, but no action of this step deals with {_the(entry)}"
            hint = "Write that action, add the name to `at_risk`, or leave it out of the text."
            yield Hit(step.body.place(start), message, hint, (_actions_of(step),))


_OF_A_KIND = re.compile(r"\b(?:[a-z-]+ ){1,3}(?P<kind>artery|vein|nerve|duct|muscle|tendon|ligament|bone|sheath)\b")


def _mistaken(library: Library, step: Step, mentions: Sequence[NameInText]) -> Iterator[Hit]:
    """Yield a structure that only the common catalogue knows, named instead of the one of its kind that is dealt with.

    It is told where the text never names that one: who has heard one name for another writes it everywhere.
    """
    named = {mention.entry.id for mention in mentions}
    dealt = {entry.name.split()[-1]: entry for id, entry in handled_in(library, step).items() if id not in named}
    for match in _OF_A_KIND.finditer(step.body.shown) if dealt else ():
        words, meant = match.group().split(), dealt.get(match["kind"])
        tails = (" ".join(words[start:]) for start in range(len(words) - 1)) if meant is not None else ()
        other = next((found for tail in tails if (found := library.structures.find(tail))), None)
        if meant is not None and other is not None and other.id not in named | {meant.id}:
            message = f"{quoted(other.name)} is named here, but the actions deal with {_the(meant)}"
            yield Hit(
                step.body.place(match.start()), message, "Write the same name in both places.", (_actions_of(step),)
            )


def _is_landmark(text: str, start: int, entry: Entry) -> bool:
    """Tell whether it is only said where something is: at a bone, on the skin, below the liver."""
    if not isinstance(entry, Structure):
        return False
    return entry.kind in _LANDMARKS or _BESIDE.search(text, max(0, start - 40), start) is not None


def _known_otherwise(procedure: Procedure, step: Step, names: NamesInProse) -> set[str]:
    cautions = [procedure.cautions[id] for id in step.cautions if id in procedure.cautions]
    named = (
        *step.at_risk,
        *(name for caution in cautions for name in caution.at_risk),
        *(pointer.structure for figure in step.figure for pointer in figure.pointers),
        *(dose.drug for dose in step.dose),
    )
    counted = {_singular(name) for action in step.actions if action.verb is Verb.COUNT for name in action.objects}
    items = (entry for entry in names.items if entry.counted and entry.kind.value in counted) if counted else ()
    return {str(entry.id) for name in named if (entry := names.find(name)) is not None} | {str(one.id) for one in items}


def _singular(name: str) -> str:
    return name.casefold().removesuffix("s")


def _done_not_said(step: Step, names: NamesInProse) -> Iterator[Hit]:
    done = [(action, name) for action in step.actions for name in _must_be_named(action, names)]
    if not done:
        return
    texts = (step.title, step.body.source, step.cue, step.if_not, step.why, step.error, step.recovery)
    said = {_stem(word) for text in texts if text for word in _WORD.findall(text.casefold())}
    for action, name in done:
        entry = names.find(name)
        if entry is not None and not said & _stems(entry):
            doing = path_words.deed(Deed(step, action, name if name in action.objects else action.objects[0]))
            message = f"{quoted(doing)} is an action, but the text of this step does not say so"
            hint = f"Name {_the(entry)} in the text, or remove the action."
            text = step.body.place(0) if step.body.source.strip() else step.title.at
            yield Hit(name.at, message, hint, (SecondPlace(text, "the text of this step"),))


def _must_be_named(action: Action, names: NamesInProse) -> Iterator[Text]:
    """Yield what is changed for good or left in, and the vessel, duct or viscus that something is put into."""
    if action.verb in _FOR_GOOD or (action.verb is Verb.PLACE and action.stays):
        yield from action.objects
    inside = names.find(action.inside) if action.inside is not None and action.objects else None
    if isinstance(inside, Structure) and inside.kind in CONTROLLABLE and action.inside is not None:
        yield action.inside


def _actions_of(step: Step) -> SecondPlace:
    return SecondPlace(step.where.key("actions"), "the actions of this step")


def _the(entry: Entry) -> str:
    return path_words.the(entry.name)


def _stems(entry: Entry) -> set[str]:
    return {_stem(word) for name in (entry.name, *entry.also) for word in _WORD.findall(name.casefold())}


def _stem(word: str) -> str:
    """Return ``word`` without the ending of its plural."""
    return word[:-2] if word.endswith("es") and len(word) > 4 else word.rstrip("s")

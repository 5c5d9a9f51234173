"""Titles of steps: the main action as an instruction, its verb and its object.

What titles a step is learned, as what is done is (``learned_doings.py``): a verb at a place of its first sentence, else
what is done in the next.
"""

import re
from collections.abc import Iterator, Mapping, Sequence

from builder.draft.actions import ReadDoing, ReadSentence, without_lead
from builder.draft.doing_features import DonePlace
from builder.draft.learned_doings import NOTHING_DONE, DoingWeights, are_alike, chances_at, is_order, shipped
from builder.draft.made_actions import NamedThing
from builder.draft.new_names import singular
from builder.draft.phrases import Phrase
from builder.draft.verbs import doing_of_noun, meaning_of

MOST_READ = 3
"""A title is looked for in so many sentences that say what is done."""
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
_WORDS = {
    "inspect": "Check", "irrigate": "Wash out", "fix": "Secure", "retract": "Hold aside",
}  # fmt: skip
"""How a title says a verb whose own word was not said, where that is not the verb itself."""
_UNNAMED = {
    "position": "the patient", "prepare": "the patient", "open": "the skin", "close": "the wound", "dress": "the wound",
    "irrigate": "the wound", "inspect": "the wound for bleeding", "seal": "the bleeding points", "stop": "the bleeding",
    "inject": "the local anaesthetic", "mark": "the incision", "send": "the specimen", "deliver": "the specimen",
    "count": "the swabs, needles and instruments", "reduce": "the fracture",
}  # fmt: skip
"""The object where none was named (common practice)."""
_LATER, _PART_OF_DONE = 0.6, 1.0
"""How much less likely a later sentence titles a step, and how much what is done speaks for its title."""
_OWN_WORD, _KNOWN = 0.2, 0.2
"""How much likelier a title is that the sentence says in its own word, and of what is in a catalogue."""
_SURE = 0.5
"""What no word names is named only where its verb is as likely as that."""
_LIKELY = 0.15
"""A verb that nobody said titles a step only where it is as likely as that; else the step keeps the speaker's words."""
_MOST_WORDS = 9


def step_title(
    sentences: Sequence[ReadSentence], weights: DoingWeights | None = None, spoken: set[str] | None = None
) -> str:
    """Return the title of a step whose sentences were read so; "" where they tell nothing to do.

    ``spoken`` are the words of the whole talk: what no word of it names is not named.
    """
    usual = {verb: name for verb, name in _UNNAMED.items() if spoken is None or spoken.issuperset(_nouns(name))}
    ordered = (
        instruction_of(done) or _unnamed(done, usual)
        for read in sentences[:1]
        for done in read.doings[:1]
        if not done.doing.mark and is_order(read.looked_at.text, done.doing)
    )
    announced = (_announced(read.looked_at.text, read.looked_at.said, usual) for read in sentences[:1])
    if title := next(filter(None, (*ordered, *announced)), ""):
        return title
    ranked = sorted(
        (
            row
            for row in _ranked(sentences[:MOST_READ], weights or shipped())
            if row[0] >= _LIKELY or _is_said(*row[1:3])
        ),
        key=lambda ranked: -ranked[0],
    )
    titles = (_titled(verb, place, read, usual if score >= _SURE else {}) for score, verb, place, read in ranked)
    return next(filter(None, titles), "")


def _ranked(
    sentences: Sequence[ReadSentence], weights: DoingWeights
) -> Iterator[tuple[float, str, DonePlace, ReadSentence]]:
    for number, read in enumerate(sentences):
        done = chances_at(read.looked_at, weights.doings)
        titled = [{} for _ in done] if number else chances_at(read.looked_at, weights.titles)
        for place, verbs, heads in zip(read.looked_at.places, done, titled, strict=True):
            for verb in {**verbs, **heads}:
                if verb != NOTHING_DONE and not (place.doing and place.doing.mark == "denied"):
                    score = heads.get(verb, 0) + _PART_OF_DONE * verbs.get(verb, 0) - number * _LATER
                    is_known = place.thing is not None and place.thing.is_known
                    yield score + _OWN_WORD * bool(_own_word(verb, place)) + _KNOWN * is_known, verb, place, read


def _is_said(verb: str, place: DonePlace) -> bool:
    return place.doing is not None and are_alike(verb, place.doing.meaning)


def _announced(text: str, said: Sequence[Phrase], usual: Mapping[str, str]) -> str:
    """Return the title of what is announced as a noun, ``Stage two, separation of the bladder``."""
    name = next(iter(said), None)
    if name is None or name.kind != "name":
        return ""
    noun, _, of = without_lead(text[name.start : name.end]).partition(" of ")
    before, _, last = noun.rpartition(" ")
    verb = doing_of_noun(last.casefold())
    other = without_lead(of) or before or usual.get(meaning_of(verb), "").removeprefix("the ")
    return f"{verb.capitalize()} the {other}" if verb and other else ""


def _unnamed(done: ReadDoing, usual: Mapping[str, str]) -> str:
    """Return the title of what is ordered without a name, ``Close, in two layers``, with its ``usual`` object."""
    verb = done.doing.meaning
    return _shown(_word(verb), usual[verb]) if not done.doing.objects and verb in usual else ""


def _nouns(name: str) -> set[str]:
    return set(name.replace(",", "").split()) - {"the", "and", "for", "patient"}


def _titled(verb: str, place: DonePlace, read: ReadSentence, usual: Mapping[str, str]) -> str:
    """Return the title that a verb at a place makes; "" where nothing is known of what it is done to.

    ``usual`` is what may be named where nothing was.
    """
    if place.thing:
        return _shown(_own_word(verb, place) or _word(verb), f"the {shown_name(place.thing)}")
    meant = next((doing.things for doing in read.doings if doing.things and are_alike(verb, doing.verb)), ())
    if meant and usual and (place.phrase or verb not in usual):
        return _shown(_own_word(verb, place) or _word(verb), f"the {shown_name(meant[0])}")
    return _shown(_word(verb), usual[verb]) if verb in usual else ""


def _own_word(verb: str, place: DonePlace) -> str:
    """Return the word that says the verb at a place, where that is a word for a title."""
    said = place.doing
    is_said = said and not place.joint and said.way == "verb" and are_alike(verb, said.meaning)
    if said is None or not is_said or not meaning_of(said.lemma) or verb == "identify":
        return ""
    return "" if any(said.lemma in lemmas.split() for _, lemmas in _PLAINER.values()) else said.lemma.capitalize()


def _word(verb: str) -> str:
    return _WORDS.get(verb, verb.capitalize())


def _shown(word: str, name: str) -> str:
    return "Incise the skin" if (word, name) == ("Open", "the skin") else f"{word} {name}"


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
    said = re.sub(r"['’]s?$", "", without_lead(thing.said))
    if singular(said.split()[-1]) in ("cut", "incision", "nick"):
        return "skin"
    if thing.said[:1].isupper() and said[1:2].islower() and not thing.name[:1].isupper():
        said = f"{said[:1].lower()}{said[1:]}"
    return said if 0 < len(said.split()) <= _MOST_WORDS and " the " not in said else thing.name

"""Do a step's prose and its actions say the same in detail: with what it is done, and how long something is?"""

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, permutations

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.check.rules.prose_and_actions import ids_of, steps_with_prose
from builder.facts.clauses import Clause, Mood, clauses
from builder.facts.names_in_prose import NameInText, names_in_prose
from builder.facts.quantities import WrittenNumber, quantities
from builder.facts.stems import senses
from builder.facts.texts import Corpus, corpus, words_in, words_said
from builder.facts.told_actions import DOES, ToldAction, mentions_in, told_actions, told_of
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, ItemKind, Step, Structure, is_shared
from builder.place import Place, Text


@finds("instrument-differs-from-text", piecewise=True)
def instrument_differs(library: Library) -> Iterator[Hit]:
    """Yield each instrument with which the prose orders something done that the actions do with another."""
    for step in steps_with_prose(library):
        if _WITH_WORDS.isdisjoint(words_said(library, step)):
            continue
        used = [action for action in step.actions if action.using]
        if _WITH_ANY.search(step.title):
            yield from _title_differs(library, step)
        if not (_WITH_ANY.search(step.body.source) or _MATERIAL.search(step.body.source)):
            continue
        differing = {
            start: (stop, action)
            for start, stop, action in (
                *_unknown_instruments(library, step, used),
                *_other_than_done(library, step, used),
                *_on_a_structure(library, step, used),
                *_other_material(step, used),
            )
        }
        for start, (stop, action) in sorted(differing.items()):
            yield _differs(step.body.source[start:stop], "text", step.body.place(start), action)


def _title_differs(library: Library, step: Step) -> Iterator[Hit]:
    names = names_in_prose(library)
    for told in told_of(library, step, step.title):
        same = [one for one in step.actions if one.using and told.is_done_by(one, ids_of(one, names))]
        for start, stop, action in _other_kind(
            step.title, told.clause.start, told.clause.stop, same or _held_shut(library, step, told)
        ):
            yield _differs(step.title[start:stop], "title", step.title.at, action)


def _differs(said: str, where: str, at: Place, action: Action) -> Hit:
    """Return what to say of an instrument that a text names, and the action does not."""
    stated = next(iter((*action.using, *action.objects)), action.verb.value)
    message = f"{quoted(said)} is what the {where} does this with, but the action says {quoted(stated)}"
    hint = f"Write the same instrument in the {where} and in the action."
    return Hit(at, message, hint, (SecondPlace(action.at, "the action"),))


_Differing = tuple[int, int, Action]
"""Where the instrument stands in the text, and the action that uses another."""

# Generic names of what sutures are made of.
_MATERIALS = """
polyglactin polydioxanone polypropylene poliglecaprone polyglycolic polyglyconate polyester polyamide nylon silk catgut
steel linen
"""
_MATERIAL = re.compile(rf"\b(?:{'|'.join(_MATERIALS.split())})\b", re.IGNORECASE)


def _other_material(step: Step, used: Sequence[Action]) -> Iterator[_Differing]:
    """Yield the material of a suture that the text names, where the actions sew and tie with others alone."""
    actions = {name.casefold(): action for action in used for name in action.using if _MATERIAL.search(name)}
    known = {word.casefold() for action in step.actions for name in _named(action) for word in _MATERIAL.findall(name)}
    said = list(_MATERIAL.finditer(step.body.shown)) if actions else []
    if not any(match.group().casefold() in known for match in said):
        yield from ((match.start(), match.end(), next(iter(actions.values()))) for match in said)


def _named(action: Action) -> tuple[Text, ...]:
    return (*action.objects, *action.using, *filter(None, (action.on,)))


_WITH_WORDS = words_in(f"with using {_MATERIALS}")
_WITH_ANY = re.compile(r"\b(?:with|using)\b", re.IGNORECASE)


def _on_a_structure(library: Library, step: Step, used: list[Action]) -> Iterator[_Differing]:
    """Yield an instrument of a sentence on a structure that no action on that structure uses, whatever its verb."""
    names = names_in_prose(library)
    mentions = mentions_in(library, step)
    for instrument in _instruments(library, step):
        before = [one for one in mentions if one.stop <= instrument.start and isinstance(one.entry, Structure)]
        between = step.body.source[before[-1].stop : instrument.start] if before else "."
        acting = [action for action in used if before and before[-1].entry.id in ids_of(action, names)]
        using = _used_in(library, acting)
        if _SAME_CLAUSE.fullmatch(between) and using and instrument.entry.id not in using:
            yield instrument.start, instrument.stop, acting[0]


_SAME_CLAUSE = re.compile(r"[^.,;:]{0,12}\b(?:with|using) (?:[a-z]+ ){0,2}")


def _other_than_done(library: Library, step: Step, used: list[Action]) -> Iterator[_Differing]:
    """Yield an instrument of the text, and the action that does the same with others."""
    names = names_in_prose(library)
    for told in told_actions(library, step):
        if told.forbidden or told.clause.mood is not Mood.ORDER or told.clause.is_conditional:
            continue
        alike = [action for action in used if action.verb in DOES[told.doing]]
        same = [action for action in alike if told.is_done_by(action, ids_of(action, names))] or alike
        nicks = told.clause.verb in ("nick", "score")
        same = [action for action in same if bool(action.nick) == nicks] or same
        if told.clause.verb in _GOES_FURTHER:
            first = next((place for place, action in enumerate(step.actions) if action.nick), len(step.actions))
            same = [action for action in step.actions[first:] if action in alike] or same
        instrument = _with_instrument(library, step, told.clause)
        using = _used_in(library, same)
        if instrument is not None and using and instrument.entry.id not in using:
            yield instrument.start, instrument.stop, same[0]
        elif instrument is None and same:
            yield from _other_kind(step.body.source, told.clause.start, told.clause.stop, same)
    for told in told_actions(library, step):
        held = _held_shut(library, step, told)
        if held and told.clause.mood is Mood.ORDER and not told.forbidden and not told.clause.is_conditional:
            yield from _other_kind(step.body.source, told.clause.start, told.clause.stop, held)


_GOES_FURTHER = ("lengthen", "extend", "widen", "enlarge")
"""To go on from a nick is what the next opening does."""


def _held_shut(library: Library, step: Step, told: ToldAction) -> list[Action]:
    """Return the actions that place what holds shut that which is told to be closed: clips on the skin."""
    sutures = any(one.using for one in step.actions if one.verb is Verb.SUTURE)
    if told.doing not in ("close", "suture", "clip") or sutures:
        return []
    names, ids = names_in_prose(library), {entry.id for entry in told.entries}
    placed = [one for one in step.actions if one.verb is Verb.PLACE and one.on and ids & ids_of(one, names)]
    return [action for action in placed if any(_holds(name, library) for name in action.objects)]


def _holds(name: Text, library: Library) -> bool:
    entry = names_in_prose(library).find(name)
    return isinstance(entry, Item) and entry.kind in (ItemKind.CLIP, ItemKind.SUTURE)


_KIND = re.compile(
    r"\b(?:with|using)\s+(?:(?!the count|it\b|them\b)[a-z-]+\s+){0,3}?(?P<kind>scalpel|knife|blade|scissors|diathermy|"
    r"forceps|clips?|staples?|stapler|stitch(?:es)?|sutures?|glue)\b(?!\s+(?:of|blade|suture|in)\b)",
    re.IGNORECASE,
)
_IS_OF_KIND = {
    "scalpel": "scalpel|knife|blade", "knife": "scalpel|knife|blade", "blade": "scalpel|knife|blade",
    "clip": "clip|stapl", "staple": "clip|stapl", "stapler": "clip|stapl", "suture": "sutur|stitch|thread|silk|nylon",
    "stitch": "sutur|stitch|thread|silk|nylon|poly", "stitche": "sutur|stitch|thread|silk|nylon|poly",
}  # fmt: skip


def _other_kind(text: str, start: int, stop: int, actions: list[Action]) -> Iterator[_Differing]:
    """Yield the kind of instrument after ``with`` where no action uses one of that kind, by the words of its name."""
    match = _KIND.search(text, start, stop) if actions else None
    if match is None:
        return
    kind = match["kind"].casefold().removesuffix("s")
    wanted = re.compile(_IS_OF_KIND.get(kind, kind), re.IGNORECASE)
    if not any(wanted.search(str(name)) for action in actions for name in (*action.using, *action.objects)):
        yield match.start("kind"), match.end("kind"), actions[0]


def _unknown_instruments(library: Library, step: Step, used: list[Action]) -> Iterator[_Differing]:
    """Yield an instrument that no action of the step knows, where the text names none of those that they know."""
    # An action need not name what it is done with: where none does, a text that names it says no other.
    if not used or _used_in(library, used) & {one.entry.id for one in mentions_in(library, step)}:
        return
    here = names_in_prose(library).handled(step.actions)
    for clause in clauses(step.body.source):
        if clause.mood is Mood.ORDER and not clause.negated and not clause.is_conditional:
            instrument = _with_instrument(library, step, clause)
            if instrument is not None and instrument.entry.id not in here:
                yield instrument.start, instrument.stop, used[0]


def _used_in(library: Library, actions: list[Action]) -> set[str]:
    names = names_in_prose(library)
    return {entry.id for action in actions for name in action.using if (entry := names.find(name)) is not None}


_WITH = re.compile(
    r"\b(?:with|using) (?:(?:a|an|the|two|both|closed|fresh|clean|new|fine|small|large|curved|straight) )*$"
)


def _with_instrument(library: Library, step: Step, clause: Clause) -> NameInText | None:
    """Return the instrument that stands after ``with`` in ``clause``."""
    found = _instruments(library, step)
    return next((one for one in found if clause.start <= one.start and one.stop <= clause.stop), None)


def _instruments(library: Library, step: Step) -> Iterator[NameInText]:
    """Yield each instrument that stands after ``with`` in the prose."""
    text = step.body.source
    for mention in mentions_in(library, step):
        is_tool = isinstance(mention.entry, Item) and mention.entry.kind in _TOOLS
        if is_tool and _WITH.search(text, max(0, mention.start - 30), mention.start):
            yield mention


_TOOLS = frozenset(
    {ItemKind.INSTRUMENT, ItemKind.BLADE, ItemKind.NEEDLE, ItemKind.SUTURE, ItemKind.CLIP, ItemKind.DEVICE}
)


@finds("length-differs", piecewise=True)
def length_differs(library: Library) -> Iterator[Hit]:
    """Yield each length whose number stands in its step or a caution of it with another unit, 5 cm and 5 mm, and each
    length or volume that is ten times what another sentence says of the same thing.
    """
    sizes = [one for one in quantities(library) if one.unit in _LENGTHS | _VOLUMES and one.value]
    by_file: dict[str, list[WrittenNumber]] = defaultdict(list)
    texts = corpus(library)
    for written in (*sizes, *_lower_ends(library)):
        by_file[texts.piece(written.start).page.file].append(written)
    for procedure in library.procedures if sizes else ():
        for item in procedure.parts.aftercare.values():
            yield from _tenfold(texts, by_file.get(item.file, ())) if not is_shared(item) else ()
        for step in procedure.steps.values():
            of_cautions = (one for caution in cautions_of(procedure, step) for one in by_file.get(caution.file, ()))
            of_step = (*by_file.get(step.file, ()), *of_cautions)
            yield from _tenfold(texts, of_step)
            known: dict[Fraction | None, WrittenNumber] = {}
            for written in (one for one in of_step if one.unit in _LENGTHS):
                first = known.setdefault(written.value, written)
                if first.unit != written.unit:
                    shown_as, other = (quoted(texts.whole[one.start : one.end]) for one in (first, written))
                    message = f"{shown_as} is said here, and {other} as well"
                    also = (SecondPlace(texts.place(written.start), "the other length"),)
                    yield Hit(texts.place(first.start), message, "Correct the unit that is wrong.", also)
                    break
            yield from _below_least(texts, by_file.get(step.file, ()))


_LENGTHS = frozenset({"mm", "cm", "m"})
_VOLUMES = frozenset({"mL", "ml", "L", "l", "litre", "litres"})
_OR_MORE = re.compile(r"\s+(?:or more|or longer|at least)\b")
_LIKE = 2
"""Words that two sentences must share to speak of the same length."""


def _lower_ends(library: Library) -> Iterator[WrittenNumber]:
    """Yield the lower end of each range of volumes with the unit of its upper end: 2 to 3 litres."""
    for low, high in pairwise(quantities(library)):
        if low.unit == "to" and high.unit in _VOLUMES and low.value and high.start == low.end + 1:
            yield low._replace(unit=high.unit)


def _tenfold(texts: Corpus, sizes: Sequence[WrittenNumber]) -> Iterator[Hit]:
    """Yield the larger of two sizes of which one is the other with its point moved, and which are of the same thing."""
    for one, other in permutations(sizes, 2):
        if one.unit != other.unit or not one.value or not other.value or one.value / other.value not in (10, 100):
            continue
        alike = senses(texts.sentence(one.start)) & senses(texts.sentence(other.start))
        if len(alike) > _LIKE and texts.sentence_span(one.start) != texts.sentence_span(other.start):
            shown_as, said = (quoted(texts.whole[size.start : size.end]) for size in (one, other))
            message = f"{shown_as} is said here, and {said} as well"
            also = (
                SecondPlace(texts.place(other.start), "a tenth of it" if one.value / other.value == 10 else "less"),
            )
            yield Hit(texts.place(one.start), message, "Correct the number that is wrong.", also)
            return


def _below_least(texts: Corpus, lengths: Sequence[WrittenNumber]) -> Iterator[Hit]:
    """Yield each length that is less than the least that another sentence of the step asks for."""
    for least in lengths:
        if not _OR_MORE.match(texts.whole, least.end):
            continue
        about = senses(texts.sentence(least.start))
        for other in lengths:
            shorter = other.unit == least.unit and other.value and least.value and other.value < least.value
            if shorter and len(about & senses(texts.sentence(other.start))) >= _LIKE:
                shown_as, wanted = (quoted(texts.whole[one.start : one.end]) for one in (other, least))
                message = f"{shown_as} is said here, but {wanted} or more is asked for as well"
                also = (SecondPlace(texts.place(least.start), "the least"),)
                yield Hit(texts.place(other.start), message, "Write which of the two is right, in both places.", also)

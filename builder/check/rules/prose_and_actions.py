"""Do a step's prose and its actions speak of the same things?

Told from both sides, and on purpose not of everything. Prose rightly mentions landmarks, and things handled in an
earlier step, and it calls the sac "the sac". So a note is made where

- the prose names a structure (no bone, no skin: those are landmarks) or an item that no action of the whole procedure
  deals with, or orders something to be done to it ("divide the ...") that no action of this step does; what is at
  risk, pointed out in a figure, given as a dose or named in a caution of this step is known;
- an action changes the patient for good (cut, tied, left in) and no word of the name of its object is in the text of
  the step.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator

from builder.check.hit import Hit, finds
from builder.check.paths import path_words
from builder.facts.anatomy import Anatomy
from builder.facts.automata import Deed
from builder.facts.remembered import once_per_library
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Item, Procedure, Step, Structure, StructureKind

_Entry = Structure | Item
_ORDERS = (
    "clamp|tie|ligate|seal|divide|cut|transect|excise|resect|place|insert|remove|take out|put in|leave in|inject|"
    "irrigate|release|suture"
)
_BETWEEN = r"\W+(?:(?:the|a|an|both|each|every|all|one|two|this|that)\W+)?(?:[a-z-]+\W+)?"
_FOR_GOOD = frozenset({Verb.CLAMP, Verb.TIE, Verb.SEAL, Verb.DIVIDE, Verb.EXCISE})
_LANDMARKS = frozenset({StructureKind.BONE, StructureKind.SKIN})
_WORD = re.compile(r"[^\W\d_]{3,}")
_HIDDEN = re.compile(r"\]\([a-z]{1,20}:[^)\n]{0,500}\)|`[^`\n]*`")
_ORDERED = re.compile(rf"\b(?:{_ORDERS}){_BETWEEN}$", re.IGNORECASE)
_TOKEN = re.compile(r"[^\W_]+")
_BREAK = re.compile(r"[^\w\s-]")


class NamesInProse:
    """Every name of the catalogues, found in prose word by word; the longest name wins.

    A part of a name is so never taken for another: "cord tape" does not mention the cord.
    """

    def __init__(self, library: Library) -> None:
        self.anatomy = Anatomy(library)
        self._by_first: dict[str, list[tuple[tuple[str, ...], _Entry]]] = defaultdict(list)
        for entry in (*library.structures, *library.items):
            for name in (entry.name, *entry.also):
                parts = tuple(_TOKEN.findall(name.casefold()))
                if parts:
                    self._by_first[parts[0]].append((parts, entry))
        for found in self._by_first.values():
            found.sort(key=lambda one: -len(one[0]))
        self._starts = {form for first in self._by_first for form in _plurals(first)}

    def find(self, name: str) -> _Entry | None:
        """Return the structure or item that ``name`` means."""
        return self.anatomy.structure(name) or self.anatomy.item(name)

    def mentions(self, text: str) -> Iterator[tuple[int, str, _Entry, bool]]:
        """Yield ``(offset, words, entry, ordered)`` of each name in ``text``; ``ordered``: to be done something to."""
        shown = _HIDDEN.sub(lambda hidden: " " * len(hidden.group()), text) if "](" in text or "`" in text else text
        tokens = [(match.group(), match.start(), match.end()) for match in _TOKEN.finditer(shown.casefold())]
        position = 0
        while position < len(tokens):
            found = self._at(shown, tokens, position) if tokens[position][0] in self._starts else None
            if found is None:
                position += 1
                continue
            length, entry = found
            start, end = tokens[position][1], tokens[position + length - 1][2]
            before = shown[max(0, start - 60) : start]
            yield start, shown[start:end], entry, _ORDERED.search(before) is not None
            position += length

    def _at(self, text: str, tokens: list[tuple[str, int, int]], position: int) -> tuple[int, _Entry] | None:
        """Return how many words a name at ``position`` has, and what it names."""
        word = tokens[position][0]
        for first in (word, word.removesuffix("s"), word.removesuffix("es")):
            for parts, entry in self._by_first.get(first, ()):
                here = tokens[position : position + len(parts)]
                if len(here) < len(parts) or tuple(before for before, _, _ in here[:-1]) != parts[:-1]:
                    continue
                apart = text[here[0][2] : here[-1][1]] if len(here) > 1 else ""
                if here[-1][0] in _plurals(parts[-1]) and not _BREAK.search(apart):
                    return len(parts), entry
        return None


def _plurals(word: str) -> tuple[str, ...]:
    return word, f"{word}s", f"{word}es"


_names_in_prose = once_per_library(NamesInProse)


@finds("named-and-not-done", piecewise=True)
def said_not_done(library: Library) -> Iterator[Hit]:
    """Yield what the prose of a step names and its actions do not know."""
    names = _names_in_prose(library)
    for procedure in library.procedures:
        steps = procedure.steps.values()
        anywhere = _handled((action for step in steps for action in step.actions), names)
        for step in steps:
            if step.body.source.strip():
                yield from _said_not_done(procedure, step, anywhere, names)


@finds("done-and-not-named", piecewise=True)
def done_not_said(library: Library) -> Iterator[Hit]:
    """Yield actions for good whose object the text of the step never names, not even by a word of its name."""
    names = _names_in_prose(library)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            yield from _done_not_said(step, names)


def _handled(actions: Iterable[Action], names: NamesInProse) -> set[str]:
    """Return the ids of all structures and items that ``actions`` deal with."""
    named = (
        name
        for action in actions
        for name in (*action.objects, *action.using, *filter(None, (action.inside, action.on)))
    )
    return {entry.id for name in named if (entry := names.find(name)) is not None}


def _said_not_done(procedure: Procedure, step: Step, anywhere: set[str], names: NamesInProse) -> Iterator[Hit]:
    here = _handled(step.actions, names) | _known_otherwise(procedure, step, names)
    for offset, said, entry, ordered in names.mentions(step.body.source):
        landmark = isinstance(entry, Structure) and entry.kind in _LANDMARKS
        if entry.id not in here and (ordered or (entry.id not in anywhere and not landmark)):
            here.add(entry.id)
            name = path_words.the(entry.name)
            message = f"{quoted(said)} is named here, but no action of this step deals with {name}"
            hint = "Write that action, add the name to `at_risk`, or leave it out of the text."
            also = (SecondPlace(step.where.key("actions"), "the actions of this step"),)
            yield Hit(step.body.place(offset), message, hint, also)


def _known_otherwise(procedure: Procedure, step: Step, names: NamesInProse) -> set[str]:
    cautions = [procedure.cautions[id] for id in step.cautions if id in procedure.cautions]
    named = (
        *step.at_risk,
        *(name for caution in cautions for name in caution.at_risk),
        *(pointer.structure for figure in step.figure for pointer in figure.pointers),
        *(dose.drug for dose in step.dose),
    )
    return {entry.id for name in named if (entry := names.find(name)) is not None}


def _done_not_said(step: Step, names: NamesInProse) -> Iterator[Hit]:
    actions = [one for one in step.actions if one.verb in _FOR_GOOD or (one.verb is Verb.PLACE and one.stays)]
    if not actions:
        return
    told = (step.title, step.body.source, step.cue, step.if_not, step.why, step.error, step.recovery)
    said = {_stem(word) for text in told if text for word in _WORD.findall(text.casefold())}
    for action in actions:
        for name in action.objects:
            entry = names.find(name)
            if entry is not None and not said & _stems(entry):
                doing = path_words.deed(Deed(step, action, name))
                message = f"{doing}: the text of this step does not say so"
                hint = f"Name {path_words.the(entry.name)} in the text, or remove the action."
                text = step.body.place(0) if step.body.source.strip() else step.title.at
                yield Hit(name.at, message, hint, (SecondPlace(text, "the text of this step"),))


def _stems(entry: _Entry) -> set[str]:
    return {_stem(word) for name in (entry.name, *entry.also) for word in _WORD.findall(name.casefold())}


def _stem(word: str) -> str:
    """Return ``word`` without the ending of its plural."""
    return word[:-2] if word.endswith("es") and len(word) > 4 else word.rstrip("s")

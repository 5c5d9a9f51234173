"""What a caution must have in it: a sign that is not the cue, advice that says something, an answer, its own step."""

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from itertools import chain
from math import log

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.stems import stems
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal, Step
from builder.place import Text

_CALLS = re.compile(
    r"\b(?:call|calls|phone|ring|ask for|alert|summon|shout for|fetch|send for|bleep|page)\b", re.IGNORECASE
)


@finds("danger-without-answer", piecewise=True)
def danger_without_answer(library: Library) -> Iterator[Hit]:
    """Yield each danger that does not say how it shows, what to do then, or whom to call."""
    for _, page in pages(library):
        if isinstance(page, Caution) and page.signal is Signal.DANGER:
            calls = page.call is not None or _CALLS.search(page.if_it_happens or "")
            lacks = [
                words
                for words, is_there in (
                    ("how it shows", page.sign),
                    ("what to do if it happens", page.if_it_happens),
                    ("whom to call", calls),
                )
                if not is_there
            ]
            if lacks:
                message = f"{quoted(page.hazard)} is a danger, but nothing says {listed(lacks)}"
                yield Hit(page.hazard.at, message, "Add `sign:`, `if_it_happens:` and `call:` where one is missing.")


@finds("sign-is-the-cue", piecewise=True)
def sign_is_the_cue(library: Library) -> Iterator[Hit]:
    """Yield each sign of a danger that is what the step it guards calls the sign that all is well."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            wanted = stems(step.cue) if step.cue is not None else frozenset()
            for caution in cautions_of(procedure, step) if len(wanted) >= _FEWEST else ():
                sign = stems(caution.sign or "")
                if caution.sign is None or step.cue is None or _denies_more(caution.sign, step.cue):
                    continue
                if _are_alike(sign, wanted):
                    message = f"{quoted(caution.sign)} is the sign of the hazard, and the cue that the step is done"
                    also = (SecondPlace(step.cue.at, "the cue"),)
                    yield Hit(caution.sign.at, message, "Write what is seen when it goes wrong.", also)


_FEWEST, _ALIKE = 3, 0.8
"""Words that two texts must have, and the part of them that is alike where the two are taken for the same."""


def _denies_more(sign: str, cue: str) -> bool:
    return len(_DENIES.findall(sign)) not in (0, len(_DENIES.findall(cue)))


_DENIES = re.compile(r"\b(?:no|not|never|nothing|none|without)\b", re.IGNORECASE)


def _are_alike(one: frozenset[str], other: frozenset[str]) -> bool:
    shared = len(one & other)
    is_part = len(one) > _FEWEST and shared >= _ALIKE * len(one)
    return is_part or (len(one) >= _FEWEST and shared >= _ALIKE * max(len(one), len(other)))


_EMPTY_LIST = """
a accordingly act alert all always and apply appropriate appropriately as at attention avoid aware be beware but care
careful carefully caution cautious common deal do due ensure every exercise extra gentle gently good great handle here
in it just make manage meticulous mind mindful needed not nothing of operate out pay please point practice precautions
proper quick quickly required safe safely sense sensible slow slowly sound stage stay sure surgical take technique
that the this throughout times to treat try use usual very vigilant watch with
"""
# A sentence of nothing but these words orders nothing that anybody could do.
_EMPTY = frozenset(_EMPTY_LIST.split())
_WORD = re.compile(r"[a-z]+")
_SENTENCE = re.compile(r"[^.;!?]+")
_BARE_LIST = """
avoid never not don take care careful carefully prevent injuring injury injure damage damaging hurt hurting harm
harming sure make that mind watch aware danger risk
"""
_BARE = stems(_BARE_LIST)


@finds("advice-says-nothing", piecewise=True)
def advice_says_nothing(library: Library) -> Iterator[Hit]:
    """Yield each order that gives nothing to do: ``Take care``, or to avoid the hazard in the words of the hazard."""
    for _, page in pages(library):
        for text in _advice(page) if isinstance(page, Caution | Step) else ():
            said = [sentence for found in _SENTENCE.findall(text) if (sentence := found.strip())]
            repeats = isinstance(page, Caution) and text is page.avoid and stems(text) <= stems(page.hazard) | _BARE
            if said and (repeats or all(_EMPTY.issuperset(_WORD.findall(sentence.casefold())) for sentence in said)):
                message = f"{quoted(text)} gives the reader nothing to do"
                yield Hit(text.at, message, "Write what is held, seen, moved or left, and where.")


def _advice(page: Caution | Step) -> Iterator[Text]:
    texts = (page.avoid, page.if_it_happens) if isinstance(page, Caution) else (page.if_not, page.recovery)
    return (text for text in texts if text is not None)


_FAR_LESS = 0.45
"""In four whole operations and three made for tests no caution had less than 0.7 of its words in a step it guards."""


@finds("caution-guards-other-step", piecewise=True)
def guards_other_step(library: Library) -> Iterator[Hit]:
    """Yield each caution whose words are far more those of a step that it does not guard than of any that it does.

    A word counts the more, the fewer steps use it.
    """
    for procedure in library.procedures:
        if len(procedure.steps) > 2 and procedure.cautions:
            yield from _misplaced(procedure)


def _misplaced(procedure: Procedure) -> Iterator[Hit]:
    words = {str(id): _words_of(step) for id, step in procedure.steps.items()}
    steps_with = Counter(chain.from_iterable(words.values()))
    weights = {word: log(len(words) / count) for word, count in steps_with.items()}
    guarding: dict[str, set[str]] = {}
    for id, step in procedure.steps.items():
        for caution in cautions_of(procedure, step):
            guarding.setdefault(caution.file, set()).add(str(id))
    for caution in procedure.cautions.values():
        if caution.proposed or is_not_said(caution.hazard):  # a draft has it guard the step at which it was told
            continue
        guarded = guarding.get(caution.file, set())
        about = stems(" ".join((caution.hazard, caution.consequence, caution.avoid, *caution.at_risk)))
        shared = {id: sum(map(weights.__getitem__, about & said)) for id, said in words.items()}
        best = max(shared, key=lambda id: shared[id])
        of_guarded = max((shared[id] for id in guarded), default=0.0)
        elsewhere = _deals_with(procedure, caution, words, guarded)
        if guarded and (elsewhere or (best not in guarded and of_guarded < _FAR_LESS * shared[best])):
            best = elsewhere or best
            step = procedure.steps[best]
            message = (
                f"{quoted(caution.hazard)} guards {listed(sorted(guarded))}, but speaks of what {quoted(best)} does"
            )
            hint = f"Guard `{best}` with it, or say in its words what it has to do with the step it guards."
            yield Hit(caution.hazard.at, message, hint, (SecondPlace(step.title.at, "the step it speaks of"),))


def _deals_with(
    procedure: Procedure, caution: Caution, words: Mapping[str, frozenset[str]], guarded: Collection[str]
) -> str:
    """Return the step that acts on what the hazard names as at risk and no step that ``caution`` guards names."""
    hazard = caution.hazard.casefold()
    at_risk = [folded for name in caution.at_risk if (folded := name.casefold()) in hazard]
    if not at_risk or any(stems(name) <= words[id] for name in at_risk for id in guarded if id in words):
        return ""
    acting = (
        str(id)
        for id, step in procedure.steps.items()
        if any(name.casefold() in at_risk for action in step.actions for name in action.objects)
    )
    return next(acting, "")


def _words_of(step: Step) -> frozenset[str]:
    parts = [step.title, step.body.source, step.cue or "", step.why or "", *step.at_risk]
    for action in step.actions:
        parts += [
            action.verb.value,
            *action.objects,
            *action.using,
            action.inside or "",
            action.on or "",
            action.what or "",
        ]
    return stems(" ".join(parts))

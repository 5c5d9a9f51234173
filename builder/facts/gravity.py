"""How grave a consequence is, in the signal words of ISO 3864-2 and ANSI Z535.6, going by its own words.

What is lost decides: a life or a limb, an organ or a function, or less. ``may`` takes one step off, because a warning
is what *could* kill or maim. The lists are our own (common practice); what is on none of them is not ranked.
"""

import re
from collections.abc import Iterator

from builder.model.pages import Signal

_PERSON = re.compile(
    r"\b(?:patients?|she|he|they|wom[ae]n|m[ae]n|mother|baby|child|person|people|who)\b", re.IGNORECASE
)
_BODY = re.compile(
    r"\b(?:heart|brain|lungs?|liver|kidneys?|spleen|bowel|gut|stomach|bladder|uterus|womb|testis|testicle|ovary|eyes?|sight|"
    r"hands?|fingers?|fingertips?|thumb|arms?|legs?|foot|feet|toes?|limbs?|muscles?|nerves?|skin|flap|graft|tissues?|voice|"
    r"hearing|speech|strength|feeling|erection|fertility|function|movement|grip|bone|tendons?)\b",
    re.IGNORECASE,
)
_DIES = re.compile(r"\b(?:dies?|died|dying|is lost|are lost|loses?|lost|fails?|failure)\b", re.IGNORECASE)
_FATAL = re.compile(
    r"\b(?:deaths?|deadly|kills?|killed|fatal|lethal|cardiac arrest|bleeds? to death|"
    r"(?:heart|circulation|breathing) (?:\w+ and )?(?:that |may |can |could |might )?stops?|stops the heart|"
    r"amputat\w+|paralys\w+|brain damage|"
    r"blindness|(?:nobody|no one|none|not|hardly anyone|few) (?:\w+ )?survives?)\b",
    re.IGNORECASE,
)
_GRAVE = re.compile(
    r"\b(?:for good|for life|for ever|permanent(?:ly)?|stroke|sepsis|peritonitis|haemorrhages?|shock|unconscious|"
    r"(?:heavy|heavily|brisk|fast|massive|severe) bleed\w*|bleeds? (?:fast|heavily|badly|freely)|blood pours)\b",
    re.IGNORECASE,
)
_LESSER = re.compile(
    r"\b(?:pain\w*|infect\w+|bleed\w*|blood|bruis\w+|numb\w*|swell\w*|swollen|scars?|sore|haematoma|burns?|wounds?|leaks?|tears?|"
    r"torn|injur\w+|hurts?|fever|weak\w*|vomit\w*)\b",
    re.IGNORECASE,
)
_HEDGED = re.compile(r"\b(?:may|might|can|could|worst case|rarely|sometimes|risk of|perhaps)\b", re.IGNORECASE)
_DENIED = re.compile(r"\b(?:no|not|nobody|never|without|neither|none)\b[^,.;]{0,20}$", re.IGNORECASE)
_CLAUSE = re.compile(r"[^,.;:]+")
_LESS = {Signal.DANGER: Signal.WARNING, Signal.WARNING: Signal.WARNING}
RANKS = tuple(Signal)
"""The signal words, the gravest first."""


def gravest(consequence: str) -> tuple[Signal, str] | None:
    """Return the signal word that the gravest words of ``consequence`` ask for, and these words."""
    found = sorted(_graded(consequence), key=lambda graded: RANKS.index(graded[0]))
    return found[0] if found else None


def _graded(consequence: str) -> Iterator[tuple[Signal, str]]:
    for clause in _CLAUSE.finditer(consequence):
        words = clause.group()
        hedged = _HEDGED.search(words) is not None
        for signal, match in _matches(words):
            if not _DENIED.search(words[: match.start()]):
                yield (
                    _LESS.get(signal, signal) if hedged else signal,
                    " ".join(words[match.start() : match.end()].split()),
                )


def _matches(words: str) -> Iterator[tuple[Signal, re.Match[str]]]:
    for match in _DIES.finditer(words):
        whose = words[: match.start()]
        dies = match.group().casefold().startswith(("di", "dy"))
        if dies and (_PERSON.search(whose) or not whose.strip()):
            yield Signal.DANGER, match
        elif _BODY.search(words):
            yield Signal.WARNING, match
    for signal, pattern in ((Signal.DANGER, _FATAL), (Signal.WARNING, _GRAVE), (Signal.CAUTION, _LESSER)):
        for match in pattern.finditer(words):
            yield signal, match

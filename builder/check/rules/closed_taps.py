"""A tap that is closed, or a tube that is clamped, is opened again, or it is taken out.

Read in the text of steps: what is closed on a condition, and what nobody is to close, says nothing here.
"""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.clauses import Clause, Mood
from builder.facts.remembered import once_per_library
from builder.facts.texts import words_in, words_said
from builder.facts.told_actions import clauses_of
from builder.facts.walk import pages
from builder.findings.message_words import quoted
from builder.model.action import Verb
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Step
from builder.place import Text

_TAPS = r"tap|stopcock|roller clamp|slide clamp"
_TUBES = r"drain|catheter|tube|tubing|line"
_NAMES = {name: name for name in f"{_TAPS}|{_TUBES}".split("|")}
"""The same string each time, so that what was worked out for it is found again."""

_SHUTS = words_in("close clamp shut turn")
_THINGS = words_in("tap stopcock clamp drain catheter tube tubing line")
_A_TAP = re.compile(rf"\s+(?:the |a |its |every |both )?(?:[\w-]+ ){{0,2}}?(?P<thing>{_TAPS})s?\b", re.IGNORECASE)
_A_TUBE = re.compile(rf"\s+(?:the |a |its |every |both )?(?:[\w-]+ ){{0,2}}?(?P<thing>{_TUBES})s?\b", re.IGNORECASE)
_OFF = re.compile(rf"[^.;]*\b(?P<thing>{_TAPS})\b[^.;]*\boff\b", re.IGNORECASE)
_UNTIL = frozenset({"until", "till", "while"})
_FOR_A_TIME = re.compile(r"\bfor (?:\w+ ){1,2}(?:second|minute|hour|day)s?\b", re.IGNORECASE)
_SETS_FREE = (
    r"\bunclamp|\breopen|\blet\b[^.;]*\b(?:run|drain|flow)\b|"
    r"\b(?:open|opens|opened|release|released|undo|loosen|remove|removed|disconnect|pull|take|comes?)\b[^.;]*"
    r"\b(?:{thing}|clamp|tap|it|out|off|again)\b|\b(?:{thing}|tap|clamp)s?\b[^.;]*\b(?:open|opened|released|removed|out)\b|"
    r"\bturn\b[^.;]*\bon\b"
)


@finds("tap-left-closed", piecewise=True)
def tap_left_closed(library: Library) -> Iterator[Hit]:
    """Yield each tap or tube that the text of a step closes and that nothing in the procedure opens or takes out."""
    for home, page in pages(library):
        if home is None or not isinstance(page, Step):
            continue
        said = words_said(library, page)
        if _SHUTS.isdisjoint(said) or _THINGS.isdisjoint(said):
            continue
        for clause in clauses_of(library, page):
            thing = _closed(page.body.shown, clause)
            if thing and not _is_freed(library, home, thing):
                words = quoted(" ".join(page.body.shown[clause.begin : clause.stop].split()))
                message = f"{words} is ordered here, and nothing says when the {thing} is opened again"
                yield Hit(page.body.place(clause.begin), message, "Write where it is opened, or taken out.")


def _closed(text: str, clause: Clause) -> str:
    """Return what ``clause`` orders closed, "" where it orders no such thing."""
    says_when = not _UNTIL.isdisjoint(clause.unders) or _FOR_A_TIME.search(text, clause.start, clause.stop)
    if clause.mood is not Mood.ORDER or clause.negated or clause.is_conditional or says_when:
        return ""
    patterns = {"close": _A_TAP, "shut": _A_TAP, "clamp": _A_TUBE, "turn": _OFF}
    pattern = patterns.get(clause.verb)
    match = pattern.match(text, clause.start, clause.stop) if pattern is not None else None
    return _NAMES[match["thing"].casefold()] if match is not None else ""


@once_per_library
def _is_freed(_: Library, home: Procedure, thing: str) -> bool:
    removed = any(
        name.casefold().endswith(thing)
        for step in home.steps.values()
        for action in step.actions
        if action.verb is Verb.REMOVE
        for name in action.objects
    )
    frees = re.compile(_SETS_FREE.format(thing=re.escape(thing)), re.IGNORECASE)
    return removed or any(frees.search(text) for text in _texts(home))


def _texts(home: Procedure) -> Iterator[str]:
    """Yield the texts that may say that something is opened or taken out."""
    for page in (*home.steps.values(), *home.cautions.values(), *home.aftercare_items.values()):
        said: tuple[Text | None, ...] = ()
        if isinstance(page, Step):
            said = (page.title, page.cue, page.if_not, page.recovery)
        elif isinstance(page, Caution):
            said = (page.avoid, page.if_it_happens)
        elif isinstance(page, Aftercare):
            said = (page.title, page.patient_text)
        yield from (text for text in (*said, page.body.shown) if text)

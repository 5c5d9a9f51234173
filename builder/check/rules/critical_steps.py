"""The stop points of steps: a critical step has its cue and its way out, a cue is seen, a way out does something."""

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache

from builder.check.hit import Hit, finds
from builder.facts.clauses import Mood, clauses, opens_with_order
from builder.facts.gap_questions import is_observable
from builder.facts.graph import unfold
from builder.facts.stems import stem_of, stems
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import quoted
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Caution, Procedure, Signal, Step
from builder.place import Text


def _steps(library: Library) -> Iterator[Step]:
    for procedure in library.procedures:
        yield from procedure.steps.values()


@finds("critical-without-cue", piecewise=True)
def critical_without_cue(library: Library) -> Iterator[Hit]:
    """Yield critical steps that do not say how it is seen that they are done."""
    for step in _steps(library):
        if step.critical and step.cue is None:
            message = f"{quoted(step.title)} is critical, but nothing says what shows that it is done"
            yield Hit(step.where.key("critical"), message, "Add `cue:` with what is seen, felt or heard.")


@finds("critical-without-text", piecewise=True)
def critical_without_text(library: Library) -> Iterator[Hit]:
    """Yield critical steps whose text is empty: the actions say what is done, and nothing says how."""
    for procedure in library.procedures:
        silent = [step for step in procedure.steps.values() if not step.body.source.strip()]
        for step in silent if len(silent) <= _FEW * len(procedure.steps) else ():
            if step.critical and step.actions:
                message = f"{quoted(step.title)} is critical, but its text is empty: nothing says how it is done"
                yield Hit(step.where.key("critical"), message, "Write below the front matter how it is done.")


_FEW = 0.25
"""The part of its steps up to which a procedure that tells how things are done may have left one out by a slip."""


@finds("critical-without-if-not", piecewise=True)
def critical_without_way_out(library: Library) -> Iterator[Hit]:
    """Yield critical steps that do not say what to do when the cue does not come."""
    for step in _steps(library):
        if step.critical and step.if_not is None:
            message = f"{quoted(step.title)} is critical, but nothing says what to do if the cue is not there"
            hint = "Add `if_not:` with one or two orders: stop, look where, ask whom."
            yield Hit(step.where.key("critical"), message, hint)


@finds("cue-not-observable", piecewise=True)
def cue_not_observable(library: Library) -> Iterator[Hit]:
    """Yield cues that only say that all is well."""
    for step in _steps(library):
        if step.cue is not None and not is_observable(step.cue):
            message = f"{quoted(step.cue)} cannot be observed: it says that all is well, not what shows it"
            yield Hit(step.cue.at, message, "Write what a bystander could see, feel, hear or measure.")


@finds("cue-is-an-order", piecewise=True)
def cue_is_an_order(library: Library) -> Iterator[Hit]:
    """Yield cues that say what to do instead of what is seen when it is done, and such signs of cautions."""
    for _, page in pages(library):
        text = page.cue if isinstance(page, Step) else page.sign if isinstance(page, Caution) else None
        if text is None or (isinstance(page, Caution) and not _HAS_OBJECT.match(text)):
            continue
        if opens_with_order(text) or _WISHES.search(text):
            message = f"{quoted(text)} is an order, not something that is seen, felt or heard"
            yield Hit(text.at, message, _WHAT_SHOWS[isinstance(page, Step)])


_HAS_OBJECT = re.compile(r"\w+ (?:the|an?|it|them|your|with|on|for)\b")
"""How an order begins; a sign is often a list of names, some of which are verbs as well: ``Cough, a tight chest``."""

_WHAT_SHOWS = {
    True: "Write what shows that the step is done, and move the order into the text.",
    False: "Write what is seen when it happens, and move the order into `avoid` or `if_it_happens`.",
}


_WISHES = re.compile(
    r"\b(?:should|must|has to|have to|needs? to|ought to) be \w+(?:ed|en|own|eld|ut|id|ied|aid)\b", re.IGNORECASE
)
"""An order in the form of a wish: ``the wall must be inspected`` says what to do, not what is seen."""


@finds("cue-repeated", piecewise=True)
def cue_repeated(library: Library) -> Iterator[Hit]:
    """Yield each cue that another step has word for word: a sign that a step was copied and not thought through."""
    for procedure in library.procedures:
        by_words: dict[str, list[Step]] = defaultdict(list)
        for step in procedure.steps.values():
            if step.cue is not None:
                by_words[_NO_WORD.sub(" ", step.cue.casefold()).strip()].append(step)
        for first, *others in by_words.values():
            for step in others:
                if step.cue is not None and first.cue is not None and not _are_alternatives(procedure, first, step):
                    message = f"{quoted(step.cue)} is also the cue of {quoted(first.title)}"
                    also = (SecondPlace(first.cue.at, "the other cue"),)
                    yield Hit(step.cue.at, message, "Write what shows that this very step is done.", also)


_NO_WORD = re.compile(r"[\W_]+")


def _are_alternatives(procedure: Procedure, first: Step, second: Step) -> bool:
    """Tell whether no way through the operation takes both steps."""
    graph = unfold(procedure)
    taken = [dict(graph.within[node.index]) for node in graph.nodes if node.step is not None and node.step is first]
    others = [dict(graph.within[node.index]) for node in graph.nodes if node.step is not None and node.step is second]
    return all(
        any(choice in other and other[choice] != branch for choice, branch in one.items())
        for one in taken
        for other in others
    )


@finds("danger-on-uncritical-step", piecewise=True)
def danger_on_uncritical_step(library: Library) -> Iterator[Hit]:
    """Yield each step that is said not to be critical although a danger guards it."""
    for procedure in library.procedures:
        dangers = [caution for caution in procedure.cautions.values() if caution.signal is Signal.DANGER]
        for id, step in procedure.steps.items():
            caution = next((one for one in dangers if id in one.guards or one.id in step.cautions), None)
            if caution is not None and not step.critical and "critical" in step.model_fields_set:
                message = f"{quoted(step.title)} is not critical, but a danger guards it: {caution.hazard}"
                also = (SecondPlace(caution.where.value("signal"), "the danger"),)
                hint = "Write `critical: true`, or take the step out of the guards of that caution."
                yield Hit(step.where.value("critical"), message, hint, also)


_GOES_ON = re.compile(
    r"(?:(?:continue|carry on|go on|proceed|press on|keep going|keep on)"
    r"(?: with (?:the )?(?:operation|procedure|case|plan|next step|step|closing|closure))?|"
    r"(?:finish|complete) the (?:operation|procedure|case|step)|ignore\b.*|accept (?:it|this|that)|do nothing)"
    r"(?: as (?:planned|usual|before|normal)| all the same| anyway| regardless| to the (?:next )?[a-z]+)?"
    r"(?=$|,| and\b)",
    re.IGNORECASE,
)
_MAY_GO_ON_LIST = """
continue, carry, go on, proceed, press on, keep, finish, complete, ignore, accept, nothing, same, anyway, less,
no action, leave, let, as, the rest, rest of, remainder, what is left, morning, tomorrow, next, overnight, round,
another day, later, few
"""
_MAY_GO_ON = tuple(" ".join(words.split()) for words in _MAY_GO_ON_LIST.split(","))
"""One of these is in each text that goes on; to look for plain words takes a twentieth of a pattern's time."""

_ALL_THE_SAME = re.compile(
    r"\b(?:all the same|anyway|regardless|nonetheless|as (?:planned|scheduled|intended|arranged))$|"
    r"\b(?:the (?:rest|remainder)|what is left) of (?:the|it|them)\b|"
    r"^(?:give|inject|push|run in|put in) (?:in )?(?:the (?:rest|remainder)|what is left)\b",
    re.IGNORECASE,
)
_LESSENS = re.compile(
    r"(?:slow down|(?:go|inject|pull|push|work|give it|cut) (?:more )?(?:slow(?:er|ly)|gentl[ey]\w*)|"
    r"leave the [a-z]+(?: [a-z]+)?(?: where it is| as it is| in place| alone)?)",
    re.IGNORECASE,
)
"""What alone may be right, and goes on as if all were well where the next order does."""
_LEAVES = re.compile(
    r"leave (?:it|this|that|them)(?: (?:as (?:it is|they are)|be|alone|so))?|let (?:it|them) be|"
    r"do nothing|wait and see",
    re.IGNORECASE,
)
_FINISHES = re.compile(
    r"(?:finish|complete|keep(?: on)?|continue|go on|carry on)\s+(?:with\s+|to\s+)?(?:the\s+)?(?P<what>[a-z]+)",
    re.IGNORECASE,
)
_NOTHING = re.compile(
    r"\b(?:nothing (?:needs? to|must|has to) be done|no action is needed|nothing to do)\b", re.IGNORECASE
)


@finds("way-out-goes-on", piecewise=True)
def way_out_goes_on(library: Library) -> Iterator[Hit]:
    """Yield each ``if_not`` and ``if_it_happens`` that goes on as if all were well, before it does anything else."""
    for home, page in pages(library):
        text = page.if_not if isinstance(page, Step) else page.if_it_happens if isinstance(page, Caution) else None
        if text is not None and _may_go_on(text) and _goes_on(text, _deeds(home, page)):
            message = f"{quoted(text)} goes on as if all were well"
            yield Hit(text.at, message, "Write what to do first: stop, press, look, call.")
        elif text is not None and (first := _shuts_or_cuts(text)):
            message = f"{quoted(first)} goes on as if all were well"
            hint = "Write what to do first: stop, press, look, call."
            yield Hit(text.at, message, hint, severity=Severity.NOTE)


_SHUTS_OR_CUTS = re.compile(
    r"(?:(?:if|where|when) [^,.;]*\b(?:wrong|missing|not|no|nothing|fails?|short|leaks?|bleeds?)\b[^,.;]*, |"
    r"[^,.;:-]*\b(?:wrong|missing|not|no|nothing|fails?|short|leaks?|bleeds?)\b[^,.;:-]*(?: -|:) )?"
    r"(?P<what>(?:close|shut|suture|stitch) (?:the |up the )?(?:skin|wound|belly|abdomen|chest|groin|neck|sheath|"
    r"layers?)\b|"
    r"(?:the )?(?:skin|wound|belly|abdomen|chest|groin|neck) is (?:closed|shut|sutured|stitched)"
    r"(?! (?:only|when|once|after|until|with))|"
    r"cut(?= the skin\b|\s*\.|,? (?:and )?then\b)|"
    r"(?:go on|carry on|continue|proceed) with (?!(?:the |chest )?(?:compressions?|cpr|oxygen|pressure))[a-z ]+)",
    re.IGNORECASE,
)
"""The first that is done is what must wait until all is well."""


def _may_go_on(text: str) -> bool:
    small = text.casefold()
    return any(words in small for words in _MAY_GO_ON)


@lru_cache(maxsize=4096)
def _shuts_or_cuts(text: str) -> str:
    match = _SHUTS_OR_CUTS.match(text)
    return match["what"] if match else ""


def _deeds(home: Procedure | None, page: Page) -> frozenset[str]:
    """Return what the step, or those that the caution guards, is about: the stems of what is done."""
    guards = page.guards if isinstance(page, Caution) and home is not None else ()
    steps = [page] if isinstance(page, Step) else [home.steps[id] for id in guards if home and id in home.steps]
    words = (f"{step.title} {' '.join(action.verb.value for action in step.actions)}" for step in steps)
    return stems(" ".join(words))


_PUTS_OFF = re.compile(
    r"(?:(?!.*\b(?:stop|call|wait)\b).*\b(?:settle|sort|clarify|discuss|clear up)\b[^.;]* later\b)|"
    r"(?:watch|wait|observe|look|review|reassess|check|see|tell|report|mention|leave|keep an eye)\b[^.;]*\b"
    r"(?:until (?:the )?(?:morning|next \w+|ward round|tomorrow|end)|tomorrow|(?:the )?next (?:day|morning|week)|"
    r"overnight|(?:on|at) the (?:next )?ward round|in the morning|another day|later|in a few (?:hours|days|weeks))\b",
    re.IGNORECASE,
)


def _goes_on(text: Text, deeds: frozenset[str]) -> bool:
    """Tell whether the first that ``text`` orders is to go on, to leave all as it is, or to look another day."""
    if _PUTS_OFF.match(text):
        return True
    leaves = False
    for clause in clauses(text):
        if clause.mood is not Mood.ORDER:
            continue
        words = " ".join(text[clause.begin : clause.stop].split())
        goes_on = _GOES_ON.match(words) or _ALL_THE_SAME.search(words) or _finishes(words, deeds)
        if clause.unders or (clause.negated and not words.casefold().startswith("do nothing")):
            return False
        if goes_on:
            return True
        if _LESSENS.fullmatch(words):
            continue
        if not _LEAVES.fullmatch(words):
            return False
        leaves = True
    return leaves or _NOTHING.search(text) is not None


def _finishes(words: str, deeds: frozenset[str]) -> bool:
    """Tell whether ``words`` order the step's own deed to its end: finish the injection, keep pulling."""
    match = _FINISHES.match(words)
    wanted = stem_of(match["what"].casefold()) if match else ""
    return any(deed[:4] == wanted[:4] for deed in deeds if len(wanted) > 3)

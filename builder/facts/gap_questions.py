"""The questions a colleague would have to be asked about a step, and which of them are still open.

Experts who are asked to write down how they operate leave out most of the points at which they decide; the questions
ask for just these: what is looked for, what is done when it does not come, what can be hurt, what goes wrong.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from builder.model.pages import Step


@dataclass(frozen=True, slots=True)
class GapQuestion:
    """One question: the ``key`` of the step it fills, how it is ``asked``, and a ``help`` line.

    It is open where nothing is said under its key, or as ``unanswered`` tells.
    """

    key: str
    asked: str
    help: str
    unanswered: Callable[[Step], bool] | None = None

    def is_open(self, step: Step) -> bool:
        """Tell whether ``step`` leaves the question open."""
        return self.unanswered(step) if self.unanswered else getattr(step, self.key) is None


QUESTIONS: tuple[GapQuestion, ...] = (
    GapQuestion(
        "cue",
        "What do you see, feel or hear that tells you this step is done?",
        "Something a bystander could check, not `adequate` or `carefully`.",
        lambda step: step.cue is None or not is_observable(step.cue),
    ),
    GapQuestion("if_not", "What do you do when that does not come?", "One or two orders: stop, look where, ask whom."),
    GapQuestion(
        "at_risk",
        "Which structures can be hurt in this step?",
        "Names from the anatomy catalogue, with commas between them.",
        lambda step: not step.at_risk and not any(caution for caution in step.cautions),
    ),
    GapQuestion("error", "Which mistake do trainees make here?", "The one you watch for."),
    GapQuestion(
        "recovery", "How is that mistake put right?", "What you would do next, not what should have been done."
    ),
    GapQuestion("call", "Whom should the trainee call for help, if anyone?", "A role, such as `supervising surgeon`."),
    GapQuestion("why", "Why is this done, and why in this way?", "One sentence."),
    GapQuestion(
        "evidence",
        "What does it rest on?",
        "Keys of sources in references/, with commas between them; or: common practice.",
        lambda step: not step.evidence and not step.common_practice,
    ),
)
BY_KEY = {question.key: question for question in QUESTIONS}

SEES, COUNTS, CONTROLS = "sees", "counts", "controls"
COMES_OUT, COMES_OFF, CLOSES, WENT_IN = "comes_out", "comes_off", "closes", "went_in"
IN_A_STEP = {
    COMES_OUT: ("place", "remove"),
    COMES_OFF: ("clamp", "release"),
    CLOSES: ("open", "close"),
    WENT_IN: ("remove", "place"),
}
"""What is answered with the title of a step: the verb that is asked about, and the one that is then done there."""
DEEDS = frozenset({SEES, COUNTS, CONTROLS, *IN_A_STEP})
"""What is asked about one action of a step: on a sheet its number follows, after a full stop."""

ASKED = {
    "not-seen-before-cut": SEES,
    "neighbour-not-seen": SEES,
    "neighbour-to-confirm": SEES,
    "cavity-closed-uncounted": COUNTS,
    "skin-closed-uncounted": COUNTS,
    "vessel-not-controlled": CONTROLS,
    "cut-end-left-open": CONTROLS,
    "item-left-in": COMES_OUT,
    "clamp-left-on": COMES_OFF,
    "left-open": CLOSES,
    "removed-but-not-in": WENT_IN,
}
"""What is asked, by the name of the finding that an answer mends."""

NOT_SAID_YET = {
    "title": ("What is done?", "An instruction: start with a verb."),
    "hazard": ("What can go wrong here?", "What is injured or lost, in a few words."),
    "consequence": ("What happens to the patient then?", "What it leads to if nobody acts."),
    "avoid": ("How do you avoid it?", "One or two orders."),
    "sign": ("How does it show?", "What the operator sees, hears or feels: the “What now?” sheet goes by it."),
    "if_it_happens": ("What do you do if it happens?", "One or two orders, and whom to call."),
    "when.from": ("From when is it done?", "Such as `0 h` or `2 days` after the operation."),
    "when.until": ("Until when?", "Such as `6 h` or `2 days`."),
    "specialty": ("Which specialty is it?", "Such as `general surgery`."),
    "owner.name": ("Who owns this procedure?", "The name that stands on it."),
    "owner.role": ("What is the owner’s role?", "Such as `consultant surgeon`."),
}
"""What is asked, and help with it, of a key where `Not said yet.` stands, or where a caution says nothing; keys of keys
after a full stop."""

# What cannot be observed: it says that something is as it should be, and not how that shows.
_VAGUE = re.compile(
    r"\b(adequate(ly)?|appropriate(ly)?|careful(ly)?|correct(ly)?|cautious(ly)?|enough|gentl[ey]|good|meticulous(ly)?|"
    r"optimal(ly)?|proper(ly)?|safe(ly)?|satisfactor(y|ily)|sufficient(ly)?|suitabl[ey]|well|as (needed|required))\b",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\W\d_]{3,}|\d+")
_SMALL = frozenset(
    {"the", "and", "has", "have", "had", "been", "was", "were", "are", "this", "that", "with", "for", "all", "there"}
    | {"its", "his", "her", "done", "made", "kept", "taken", "being"}
)
_FEWEST_OTHER_WORDS = 3
_BARE = re.compile(
    r"(?:(?:it|this|all|everything|the step)(?: (?:is|has been))? )?"
    r"(?:done|finished|completed?|ready|ok(?:ay)?|fine)\W*",
    re.IGNORECASE,
)


def is_observable(cue: str) -> bool:
    """Tell whether a cue says more than that all is well: beside a vague word, three others that mean something."""
    if _BARE.fullmatch(cue):
        return False
    if not _VAGUE.search(cue):
        return True
    rest = [word for word in _WORD.findall(_VAGUE.sub(" ", cue).casefold()) if word not in _SMALL]
    return len(rest) >= _FEWEST_OTHER_WORDS


def open_questions(step: Step) -> Iterator[GapQuestion]:
    """Yield the questions that ``step`` leaves open."""
    return (question for question in QUESTIONS if question.is_open(step))

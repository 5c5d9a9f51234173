"""Questions of the self-test, made from the model so that each answer is provable from it.

Few and good: a question is drawn only where its answers are of one closed kind (structures, directions, amounts, deeds
out of one text), where the text makes exactly one of them right, and where no word gives it away. What would need an
answer in free words is not asked. Each kind asks a few, first of what nothing was asked about yet, the gravest first;
which dangers and critical steps no question could be drawn for is told to the build report.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from builder.compose.document import LeftOut
from builder.compose.selftest.course_questions import counts
from builder.compose.selftest.deed_questions import emergencies, mistakes, orders
from builder.compose.selftest.gaps import directions, numbers
from builder.compose.selftest.question import Draft, Question
from builder.compose.selftest.structure_questions import figures, hurt, seen
from builder.compose.selftest.taught import Taught
from builder.compose.view.outline import GRAVITY
from builder.facts.remembered import once_per_library
from builder.model.library import Library
from builder.model.pages import Procedure, Signal

_KINDS: tuple[tuple[Callable[[Taught], Iterator[Draft | Question]], int], ...] = (
    (emergencies, 2), (orders, 1), (seen, 3), (figures, 6), (hurt, 4), (mistakes, 5), (directions, 5),
    (numbers, 2), (counts, 1),
)  # fmt: skip
"""What is asked, and the most questions of each kind."""
_WHY = "nothing it says gives one right answer and two of the same kind that are surely wrong and that no word betrays"
_UNFAIR = "fewer than two wrong answers are surely wrong, or a word betrays the right one"
_ENOUGH = "enough of its kind are asked"


@dataclass(frozen=True, slots=True)
class SelfTest:
    """The questions on a procedure, the dangers and critical steps that none is about, and how many questions were
    drawn and not asked, by the reason."""

    questions: tuple[Question, ...]
    left_out: tuple[LeftOut, ...]
    not_asked: Mapping[str, int]


@once_per_library  # the page, the package and the slides ask the same
def self_test(library: Library, procedure: Procedure) -> SelfTest:
    """Return the questions on ``procedure``, kind by kind, in the order of its steps; equal for equal text."""
    taught = Taught(library, procedure)
    asked: Counter[str] = Counter()
    not_asked: Counter[str] = Counter()
    questions: list[Question] = []
    for make, most in _KINDS:
        drawn = [draft.question() if isinstance(draft, Draft) else draft for draft in make(taught)]
        fair = [question for question in drawn if question is not None]
        picked = list(_picked(taught, fair, most, asked))
        not_asked += Counter({_UNFAIR: len(drawn) - len(fair), _ENOUGH: len(fair) - len(picked)})
        questions += picked
    about = {id for question in questions for id in question.about}
    dangers = (caution for caution in taught.cautions if caution.signal is Signal.DANGER)
    critical = (block.step for block in taught.blocks if block.step.critical)
    silent = [LeftOut("danger", str(caution.id), _WHY) for caution in dangers if caution.id not in about]
    silent += [LeftOut("critical step", str(step.id), _WHY) for step in critical if step.id not in about]
    return SelfTest(tuple(questions), tuple(silent), dict(not_asked))


def questions_of(library: Library, procedure: Procedure) -> tuple[Question, ...]:
    """Return the questions on ``procedure``."""
    return self_test(library, procedure).questions


def _picked(taught: Taught, fair: Sequence[Question], most: int, asked: Counter[str]) -> Iterator[Question]:
    """Yield at most ``most`` questions of different answers, in their order; ``asked`` counts what they are about."""
    best: list[Question] = []
    while len(best) < most:
        answers = {question.answer for question in best}
        left = [question for question in fair if question.answer not in answers]
        if not left:
            break
        best.append(min(left, key=lambda question: (_often(question, asked), _gravity(taught, question))))
        asked.update(best[-1].about)
    return (question for question in fair if question in best)


def _often(question: Question, asked: Counter[str]) -> int:
    return min((asked[id] for id in question.about), default=0)


def _gravity(taught: Taught, question: Question) -> int:
    """Return how grave the gravest is that ``question`` is about: 0 a danger or a critical step."""
    signals = [GRAVITY[caution.signal] for caution in taught.cautions if str(caution.id) in question.about]
    critical = [0 for block in taught.blocks if block.step.critical and str(block.step.id) in question.about]
    return min((*signals, *critical), default=len(GRAVITY))

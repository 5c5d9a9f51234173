"""The parts that a source has: steps, things needed, what to fear, aftercare, reasons; and what is none of these."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum

from builder.draft.sentences import Sentence
from builder.facts.imperatives import VERBS


class Role(Enum):
    """What a part of a source holds."""

    STEPS = "steps"
    KIT = "kit"
    BEFORE = "before"
    CAUTIONS = "cautions"
    AFTERCARE = "aftercare"
    WHY = "why"
    ABOUT = "about"
    END = "end"
    OPEN = "open"


# The first that fits says what a heading announces; the words are plain English of the trade (common practice).
_ROLES: tuple[tuple[Role, re.Pattern[str]], ...] = tuple(
    (role, re.compile("|".join(patterns), re.IGNORECASE))
    for role, patterns in (
        (Role.END, (
            r"^(?:references?|bibliography|sources|thank|(?:any )?questions|further reading|acknowledg|summary)\b",
            r"^(?:take.?home|recap|contact)\b",
        )),
        (Role.AFTERCARE, (
            r"\b(?:post[- ]?(?:op\w*|procedure)|after ?-?care|afterwards|follow[- ]?up|discharge|on the ward)\b",
            r"\b(?:ward care|after (?:the )?(?:operation|procedure|surgery)|going home)\b",
            r"^(?:(?:in )?recovery|(?:the )?ward|after)$",
        )),
        (Role.BEFORE, (
            r"\b(?:pre[- ]?(?:op\w*|procedure)|before (?:you|we|the|starting|surgery)|check ?list|consent)\b",
            r"^(?:checks?|preparation|before)$",
        )),
        (Role.CAUTIONS, (
            r"\b(?:pitfalls?|dangers?|complications?|cautions?|warnings?|hazards?|risks?|beware|traps?|mistakes)\b",
            r"\b(?:watch out|what can go wrong|problems|things that go wrong)\b",
        )),
        (Role.KIT, (
            r"\b(?:equipment|instruments?|kit|trays?|materials?|requirements?|things needed|trolley)\b",
            r"\b(?:you(?:'ll| will)? need|what (?:is|you) needed?)\b|^(?:the )?set$",
        )),
        (Role.WHY, (
            r"\b(?:indications?|contra-?indications?|background|introduction|why|when|aims?|objectives?|rationale)\b",
            r"\b(?:overview|purpose|anatomy|landmarks)\b",
        )),
        (Role.STEPS, (
            r"\b(?:steps?|procedure|technique|method|operation|operative|how (?:to|we|i)|conduct|sequence)\b",
            r"\b(?:what (?:we|i|you|to) do|how it is done|doing it|instructions|step.by.step)\b",
        )),
    )
)  # fmt: skip
_ABOUT = re.compile(r"(?:speciality|specialty|setting|place|side|owner|role of the owner)", re.IGNORECASE)


@dataclass(slots=True)
class Segment:
    """One step of the source: the words of its ``head`` (a heading or numbered line, "" in a talk), its sentences, and
    which passages it was read from."""

    head: str
    at: str
    heard_at: str = ""
    sentences: list[Sentence] = field(default_factory=list)
    passages: set[int] = field(default_factory=set)


@dataclass(slots=True)
class SourceParts:
    """A source, taken apart. Every sentence is in exactly one place."""

    steps: list[Segment] = field(default_factory=list)
    parts: dict[Role, list[Sentence]] = field(default_factory=lambda: {role: [] for role in Role})
    notes: list[Sentence] = field(default_factory=list)
    headings: list[Sentence] = field(default_factory=list)
    """Headings that only announce a part, such as ``Equipment``."""

    def put(self, role: Role, sentences: Iterable[Sentence]) -> None:
        """Put sentences that are not steps where they belong; what belongs nowhere becomes notes."""
        if role in (Role.KIT, Role.BEFORE, Role.CAUTIONS, Role.AFTERCARE, Role.WHY, Role.ABOUT):
            self.parts[role].extend(sentences)
        else:
            self.notes.extend(sentences)

    def every_sentence(self) -> Iterator[Sentence]:
        """Yield each sentence of the source once, in no order that means anything."""
        for step in self.steps:
            yield from step.sentences
        for part in self.parts.values():
            yield from part
        yield from self.notes
        yield from self.headings


def role_of(heading: str) -> Role:
    """Return what a heading or label announces; OPEN where it announces none of the known parts."""
    words = heading.strip(" .:–—-")
    if _ABOUT.fullmatch(words):
        return Role.ABOUT
    role = next((role for role, pattern in _ROLES if pattern.search(words)), Role.OPEN)
    first = (re.findall(r"[a-z]+", words.lower()) or [""])[0]
    # "Prepare the equipment" is a step, "Check list" is none.
    is_order = first in VERBS and len(words.split()) >= 3 and role not in (Role.AFTERCARE, Role.END, Role.STEPS)
    return Role.OPEN if is_order and first not in ("watch", "consent", "risk", "kit") else role

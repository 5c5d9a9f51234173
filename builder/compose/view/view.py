"""What a document shows, ready to be arranged: every text final, every number given. Templates only place it.

Texts that end in ``html`` are clean HTML; all others are plain text that the template escapes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CautionView:
    """A caution: ``signal`` is danger, warning, caution or notice."""

    id: str
    anchor: str
    signal: str
    signal_word: str
    hazard: str
    consequence: str
    avoid: str
    sign: str
    if_it_happens: str
    call: str
    body_html: str
    cites_html: str


@dataclass(frozen=True, slots=True)
class PointerView:
    """A numbered mark on a figure at ``x``, ``y`` per cent."""

    number: int
    x: str
    y: str
    name: str


@dataclass(frozen=True, slots=True)
class FigureView:
    """A numbered figure; ``path`` is the file in the department's folder."""

    id: str
    anchor: str
    number: int
    path: str
    alt: str
    caption: str
    credit: str
    side: str
    pointers: tuple[PointerView, ...]


@dataclass(frozen=True, slots=True)
class DoseView:
    """A dose as the educator states it; ``lines`` are (label, value) pairs in reading order."""

    drug: str
    lines: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, str], ...]
    not_covered: str
    cites_html: str


@dataclass(frozen=True, slots=True)
class ReminderView:
    """A caution that stands earlier and guards this step too."""

    anchor: str
    signal: str
    signal_word: str
    hazard: str


@dataclass(frozen=True, slots=True)
class StepView:
    """A step. ``actions`` say what is done, in order, ``counts`` which of them are counts; ``basis`` whether it is
    principle, preference or local policy."""

    id: str
    anchor: str
    number: str
    title: str
    critical: bool
    basis: str
    supervision: str
    minutes: str
    cautions: tuple[CautionView, ...]
    reminders: tuple[ReminderView, ...]
    body_html: str
    actions: tuple[str, ...]
    counts: tuple[str, ...]
    cue: str
    if_not: str
    why: str
    error: str
    recovery: str
    call: str
    figures: tuple[FigureView, ...]
    doses: tuple[DoseView, ...]
    cites_html: str


@dataclass(frozen=True, slots=True)
class BranchView:
    """One way on: ``label`` names it, ``spoken`` says of what; an option, named by its choice, shows no ``heading``."""

    name: str
    letter: str
    label: str
    heading: str
    spoken: str
    blocks: tuple[StepView | ChoiceView, ...]


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """A place where the way parts: ``kind`` is choose, option or follow; ``anchor`` is unique in the document."""

    kind: str
    id: str
    anchor: str
    title: str
    heading: str
    when: str
    cautions: tuple[CautionView, ...]
    branches: tuple[BranchView, ...]


@dataclass(frozen=True, slots=True)
class AftercareView:
    """One item of aftercare; ``when`` in words."""

    id: str
    anchor: str
    title: str
    when: str
    who: str
    concerns: str
    goes_with: tuple[str, ...]
    body_html: str
    patient_text: str
    doses: tuple[DoseView, ...]
    cites_html: str


@dataclass(frozen=True, slots=True)
class KitView:
    """One line of the kit list."""

    number: int
    name: str
    counted: bool


@dataclass(frozen=True, slots=True)
class ReferenceView:
    """A reference: its number in this document, its key, its text, and the anchors of the places that cite it."""

    number: int
    key: str
    anchor: str
    html: str
    cited_at: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProcedureView:
    """A whole procedure in one document's order, with that document's own numbering of references and figures."""

    id: str
    title: str
    specialty: str
    summary: str
    setting: str
    side: str
    edition: str
    status: str
    owner: str
    review_by: str
    department: str
    site: str
    language: str
    call: tuple[tuple[str, str], ...]
    before_you_start: tuple[str, ...]
    kit: tuple[KitView, ...]
    figures: tuple[FigureView, ...]
    body_html: str
    cites_html: str
    blocks: tuple[StepView | ChoiceView, ...]
    aftercare: tuple[AftercareView, ...]
    references: tuple[ReferenceView, ...]
    usual_caution: str

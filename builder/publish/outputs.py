"""The table of outputs of a procedure. A new one is a file in ``compose/`` and a row here."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import partial

from builder.compose.card import booklet, card, card_sheet, card_ways
from builder.compose.document import Document
from builder.compose.handout import handout
from builder.compose.render import Renderer
from builder.compose.selftest import package
from builder.compose.sessions import session_plan
from builder.compose.sessions.session import LENGTHS
from builder.compose.sheets import count_sheet, patient_sheet, rehearsal, what_now
from builder.compose.site import single
from builder.compose.slides import slides
from builder.model.library import Library
from builder.model.pages import Procedure

SITE = "site"
_OF = "/"
_OF_SLIDES = "slides"


@dataclass(frozen=True, slots=True)
class Output:
    """An output: the ``name`` by which it is asked for, and what composes it."""

    name: str
    compose: Callable[[Library, Procedure, Renderer], Document]

    def jobs(self, procedure: Procedure) -> tuple[str, ...]:  # noqa: ARG002  # some outputs depend on it
        """Return the names of the documents that are made of ``procedure``; ``composed`` makes each."""
        return (self.name,)


@dataclass(frozen=True, slots=True)
class ManyOutput:
    """An output of several documents a procedure: ``names`` tells them, ``compose`` makes the one of a name."""

    name: str
    names: Callable[[Procedure], tuple[str, ...]]
    compose: Callable[[Library, Procedure, Renderer, str], Document]

    def jobs(self, procedure: Procedure) -> tuple[str, ...]:
        """Return the names of the documents, such as ``card-ways/local-left``."""
        return tuple(f"{self.name}{_OF}{name}" for name in self.names(procedure))


# The page of each procedure is not a row: it links to what the rows made.
OUTPUTS: tuple[Output, ...] = (
    Output("handout", handout.compose),
    Output("card", card.compose),
    Output("card-sheet-fold", card_sheet.fold),
    Output("card-sheet-duplex", card_sheet.duplex),
    Output("card-sheet-booklet", booklet.compose),
    Output("count-sheet", count_sheet.compose),
    Output("what-now", what_now.compose),
    Output("rehearsal", rehearsal.compose),
    Output("rehearsal-text", rehearsal.compose_text),
    Output("slides", slides.compose),
    Output("slides-pptx", slides.compose_pptx),
    Output("patient-sheet", patient_sheet.compose),
    Output("patient-sheet-large", patient_sheet.compose_large),
    Output("self-test-package", package.compose),
    Output("single-file", single.compose),
)
# Papers of which a procedure has several.
MANY_OUTPUTS: tuple[ManyOutput, ...] = (ManyOutput("card-ways", card_ways.names_of, card_ways.compose),)
# Made only where a length is asked for: slides of a slot, and the teacher's plan.
SESSIONS: tuple[Output, ...] = tuple(
    Output(f"{name}-{length}-minutes", partial(compose, minutes=length))
    for length in LENGTHS
    for name, compose in (
        ("slides", session_plan.slides),
        ("slides-pptx", session_plan.slides_pptx),
        ("session-plan", session_plan.plan),
    )
)
_USUAL: tuple[Output | ManyOutput, ...] = (*OUTPUTS, *MANY_OUTPUTS)
_EVERY: tuple[Output | ManyOutput, ...] = (*_USUAL, *SESSIONS)
NAMES = (SITE, *(output.name for output in _USUAL))
"""What is made where nothing else is asked for."""
PAPERS = tuple(output.name for output in _EVERY)
"""Everything beside the site that can be asked for."""


def session_names(minutes: Collection[int]) -> tuple[str, ...]:
    """Return the names of the outputs of sessions of ``minutes``."""
    return tuple(one.name for one in SESSIONS if any(f"-{length}-minutes" in one.name for length in minutes))


def jobs_of(procedure: Procedure, outputs: Collection[str]) -> tuple[str, ...]:
    """Return the names of all documents of ``procedure`` that the ``outputs`` asked for come to."""
    return tuple(job for one in _EVERY if one.name in outputs for job in one.jobs(procedure))


def composed(job: str, library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the document that ``jobs_of`` calls ``job``."""
    name, _, part = job.partition(_OF)
    if part:
        return next(one for one in MANY_OUTPUTS if one.name == name).compose(library, procedure, renderer, part)
    found = next(one for one in (*OUTPUTS, *SESSIONS) if one.name == name)
    return found.compose(library, procedure, renderer)


def worker_of(job: str) -> str:
    """Return a name that the jobs share which one worker does best: a card and its sheets, the cards of all ways."""
    name, of, _ = job.partition(_OF)
    return name if of else _OF_SLIDES if name.startswith("session-plan") else name.partition("-")[0]

"""The page of a procedure on the department's site."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from builder.compose.code_mark import CodeMark, mark_of
from builder.compose.render import Renderer
from builder.compose.site.metadata import metadata
from builder.compose.site.offers import Offer, first_of, shelves_of
from builder.compose.site.search import sections_of
from builder.compose.site.web import WebPage, as_markdown
from builder.compose.view.procedure_view import view_of
from builder.compose.view.view import BranchView, CautionView, ChoiceView, FigureView, ProcedureView, StepView
from builder.compose.view.words import day
from builder.findings.register import REGISTER
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_LOOKED_AT = tuple(dict.fromkeys(kind.family.looked_at for kind in REGISTER.values() if kind.family.looked_at))
_HEADINGS = {"choose": "Choose: {}", "option": "Option: {}", "follow": "As chosen before: {}"}


@dataclass(frozen=True, slots=True)
class PageBranch:
    """One branch as the page shows it: ``label`` names it, ``spoken`` says of what; an option shows no ``heading``."""

    name: str
    letter: str
    label: str
    heading: str
    spoken: str
    blocks: tuple[StepView | Fork, ...]


@dataclass(frozen=True, slots=True)
class Fork:
    """A place where the way parts, as the page shows it; ``anchor`` is unique on the page."""

    kind: str
    id: str
    anchor: str
    title: str
    heading: str
    when: str
    cautions: tuple[CautionView, ...]
    branches: tuple[PageBranch, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """A line of the list of contents."""

    kind: str
    anchor: str
    title: str
    number: str = ""


def compose(library: Library, procedure: Procedure, renderer: Renderer, offers: Sequence[Offer] = ()) -> WebPage:
    """Return the page of ``procedure``, with its ``offers``."""
    view = view_of(library, procedure)
    html = renderer.render("site/page.html.j2", **page_values(library, view, offers), alone=False)
    return WebPage(
        kind="page",
        procedure=procedure.id,
        edition=procedure.edition,
        title=view.title,
        name=f"{procedure.id}/index.html",
        text=as_markdown(f"{view.title} · {view.department}", view.summary, html),
        resources=page_resources(view),
        musts=view.musts,
        sections=sections_of(view),
    )


def page_values(
    library: Library, view: ProcedureView, offers: Sequence[Offer] = (), *, proved: bool = True
) -> dict[str, Any]:
    """Return what the template of a procedure's page is filled with: what was checked, only where it is ``proved``."""
    procedure = library.by_id[str(view.id)]
    blocks = _Forks().blocks(view.blocks)
    return {
        "view": view,
        "blocks": blocks,
        "marks": _marks(view, procedure),
        "facts": _facts(view, mark_of(library, procedure)),
        "contents": tuple(_contents(view, blocks, has_papers=bool(offers), proved=proved)),
        "first": first_of(offers, f"{view.id}/"),
        "shelves": shelves_of(offers, f"{view.id}/"),
        "proved": proved,
        "checks": _LOOKED_AT,
        "lists": tuple(name.rpartition("/")[2] for name in library.notices),
        "metadata": metadata(view, f"{view.site}/{view.id}/index.html" if view.site else ""),
    }


def page_resources(view: ProcedureView) -> tuple[str, ...]:
    """Return the pictures that the page shows, each once."""
    return tuple(dict.fromkeys(figure.path for figure in _figures(view, view.blocks)))


def _marks(view: ProcedureView, procedure: Procedure) -> tuple[str, ...]:
    overdue = f"Review was due by {view.review_by}" if view.review_overdue else ""
    told = procedure.withdrawn if procedure.status is Status.WITHDRAWN else None
    withdrawn = f"Since {day(told.on)}: {told.because}" if told else ""
    return tuple(mark for mark in (view.status_mark, withdrawn, overdue) if mark)


def _facts(view: ProcedureView, code: CodeMark) -> tuple[tuple[str, str], ...]:
    facts = (
        ("Edition", f"{view.edition}, {view.status}"),
        ("Code of copies", f"{code.code}{code.standing}"),
        ("Review by", view.review_by),
        ("Owner", view.owner),
        ("Where", view.setting),
        ("Side", view.side),
    )
    return tuple((label, value) for label, value in facts if value)


def _contents(
    view: ProcedureView, blocks: Sequence[StepView | Fork], *, has_papers: bool, proved: bool
) -> Iterator[Content]:
    if view.before_you_start:
        yield Content("part", "before", "Before you start")
    if view.body_html or view.cites_html or view.figures:
        yield Content("part", "why", "Why and when")
    if view.kit:
        yield Content("part", "kit", "Kit")
    yield Content("part", "steps", "Steps")
    yield from _step_contents(blocks)
    if view.aftercare:
        yield Content("part", "aftercare", "Aftercare")
    if has_papers:
        yield Content("part", "papers", "To print or keep")
    if view.references:
        yield Content("part", "references", "References")
    if proved:
        yield Content("part", "checks", "What was checked")


def _step_contents(blocks: Iterable[StepView | Fork]) -> Iterator[Content]:
    for block in blocks:
        if isinstance(block, StepView):
            yield Content("a-critical" if block.critical else "a-step", block.anchor, block.title, block.number)
        else:
            for branch in block.branches:
                yield from _step_contents(branch.blocks)


def _figures(view: ProcedureView, blocks: Iterable[StepView | ChoiceView]) -> Iterator[FigureView]:
    yield from view.figures
    for block in blocks:
        if isinstance(block, StepView):
            yield from block.figures
        else:
            for branch in block.branches:
                yield from _figures(view, branch.blocks)


class _Forks:
    """Gives each place where the way parts an anchor of its own; one instance a page."""

    def __init__(self) -> None:
        self.count = 0

    def blocks(self, blocks: Iterable[StepView | ChoiceView]) -> tuple[StepView | Fork, ...]:
        return tuple(block if isinstance(block, StepView) else self.fork(block) for block in blocks)

    def fork(self, choice: ChoiceView) -> Fork:
        self.count += 1
        anchor = f"{choice.id}-{self.count}"
        heading = _HEADINGS[choice.kind].format(choice.title)
        branches = tuple(self.way(choice, branch) for branch in choice.branches)
        return Fork(choice.kind, choice.id, anchor, choice.title, heading, choice.when, choice.cautions, branches)

    def way(self, choice: ChoiceView, branch: BranchView) -> PageBranch:
        # An option has one branch, and its heading has said what it is.
        heading = "" if choice.kind == "option" else branch.label
        spoken = choice.title if choice.kind == "option" else f"{choice.title}: {branch.label}"
        return PageBranch(branch.name, branch.letter, branch.label, heading, spoken, self.blocks(branch.blocks))

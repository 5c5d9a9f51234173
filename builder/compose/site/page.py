"""The page of a procedure on the department's site."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from builder.compose.code_mark import CodeMark, mark_of
from builder.compose.document import Must, promised
from builder.compose.render import Renderer
from builder.compose.site.coverage_view import coverage_view
from builder.compose.site.offers import Offer, first_of, shelves_of
from builder.compose.site.search import sections_of
from builder.compose.site.web import WebPage, page_text
from builder.compose.view.head import page_marks
from builder.compose.view.outline import every_block
from builder.compose.view.procedure_view import picture_paths, view_of
from builder.compose.view.view import ProcedureView, StepView
from builder.compose.view.words import day, plain
from builder.facts.coverage import coverage
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_SCRIPT_ENDS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


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
    return WebPage.about(
        procedure,
        "page",
        "index.html",
        page_text(library, view.title, view.summary, html),
        resources=picture_paths(view),
        musts=tuple(page_musts(view)),
        sections=sections_of(view),
    )


def page_values(
    library: Library, view: ProcedureView, offers: Sequence[Offer] = (), *, proved: bool = True
) -> dict[str, Any]:
    """Return what the template of a procedure's page is filled with: what was checked, only where it is ``proved``."""
    procedure = library.by_id[str(view.id)]
    checked = coverage_view(coverage(library, procedure)) if proved else None
    return {
        "view": view,
        "blocks": view.blocks,
        "marks": [*page_marks(library, procedure), *_withdrawn(procedure)],
        "facts": _facts(view, mark_of(library, procedure)),
        "contents": tuple(_contents(view, has_papers=bool(offers), proved=proved)),
        "first": first_of(offers, f"{view.id}/"),
        "shelves": shelves_of(offers, f"{view.id}/"),
        "proved": proved,
        "checked": checked,
        "lists": tuple(name.rpartition("/")[2] for name in library.notices),
        "metadata": _metadata(view),
    }


def page_musts(view: ProcedureView) -> Iterator[Must]:
    """Yield, in reading order, every caution, step, count, dose, item of aftercare and reference."""
    for block in every_block(view.blocks):
        yield from (Must("caution", caution.id, caution.hazard) for caution in block.cautions)
        if isinstance(block, StepView):
            yield Must("step", block.anchor, block.title)
            yield from promised("count", block.anchor, *block.counts)
            yield from promised("dose", block.anchor, *(dose.drug for dose in block.doses))
    for item in view.aftercare:
        yield Must("aftercare", item.id, item.title)
        yield from promised("dose", item.id, *(dose.drug for dose in item.doses))
    yield from (Must("reference", reference.key, str(reference.number)) for reference in view.references)


def _withdrawn(procedure: Procedure) -> Iterator[str]:
    told = procedure.withdrawn
    if told and procedure.status is Status.WITHDRAWN:
        yield f"Since {day(told.on)}: {told.because}"


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


def _contents(view: ProcedureView, *, has_papers: bool, proved: bool) -> Iterator[Content]:
    if view.before_you_start:
        yield Content("part", "before", "Before you start")
    if view.body_html or view.cites_html or view.figures:
        yield Content("part", "why", "Why and when")
    if view.kit:
        yield Content("part", "kit", "Kit")
    yield Content("part", "steps", "Steps")
    for step in (block for block in every_block(view.blocks) if isinstance(block, StepView)):
        yield Content("a-critical" if step.critical else "a-step", step.anchor, step.title, step.number)
    if view.aftercare:
        yield Content("part", "aftercare", "Aftercare")
    if has_papers:
        yield Content("part", "papers", "To print or keep")
    if view.references:
        yield Content("part", "references", "References")
    if proved:
        yield Content("part", "checks", "What was checked")


def _metadata(view: ProcedureView) -> str:
    """Return what a catalogue or search engine is told, as JSON-LD that is safe to stand inside a script element.

    Types and properties: schema.org ``LearningResource`` and ``MedicalProcedure``.
    """
    name, _, role = view.owner.partition(", ")
    told: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "LearningResource",
        "name": view.title,
        "description": view.summary,
        "url": address_of(view),
        "inLanguage": view.language,
        "version": view.edition,
        "creativeWorkStatus": view.status,
        "learningResourceType": "operative procedure, step by step",
        "about": {"@type": "MedicalProcedure", "name": view.title, "relevantSpecialty": view.specialty},
        "author": {"@type": "Person", "name": name, "jobTitle": role},
        "publisher": {"@type": "Organization", "name": view.department, "url": view.site},
        "citation": [" ".join(plain(reference.html).split()) for reference in view.references],
        "usageInfo": view.usual_caution,
    }
    return json.dumps(_filled(told), ensure_ascii=False, separators=(",", ":")).translate(_SCRIPT_ENDS)


def address_of(view: ProcedureView) -> str:
    """Return the address of the page of a procedure, "" where the department has no site."""
    return f"{view.site}/{view.id}/index.html" if view.site else ""


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is empty."""
    inner = {key: _filled(value) if isinstance(value, dict) else value for key, value in values.items()}
    return {key: value for key, value in inner.items() if value}

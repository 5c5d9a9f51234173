"""The page of a procedure on the department's site, and as one file."""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from builder.compose.code_mark import CodeMark, mark_of
from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.map.operation_map import MapFigure, figure_of
from builder.compose.sheets.patient_sheet import patient_texts, reading_of
from builder.compose.site.own_look import SCREEN
from builder.compose.site.own_page import own_page
from builder.compose.site.page_citation import in_force_since, meta_of, page_address
from builder.compose.site.web import Offer, WebPage, first_of, sections_of, shelves_of
from builder.compose.view.head import page_marks
from builder.compose.view.outline import every_block
from builder.compose.view.parts_view import CautionView, DoseView, ProcedureView, StepView
from builder.compose.view.procedure_view import picture_paths, view_of
from builder.compose.view.words import day, plain, series_or
from builder.facts.coverage import ProcedureCoverage, coverage, excuses, silence, words_of
from builder.load.program_words import gettext
from builder.model.library import Library
from builder.model.pages import Procedure, Status

# Stand in the head of a single file, before anything that an educator wrote; publish puts policy, style and script in
# their place.
POLICY_MARK, STYLE_MARK, SCRIPT_MARK = "prescrub-policy", "/*prescrub-style*/", "/*prescrub-script*/"
_SCRIPT_ENDS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


def compose(library: Library, procedure: Procedure, renderer: Renderer, offers: Sequence[Offer] = ()) -> WebPage:
    """Return the page of ``procedure``, with its ``offers``."""
    view = view_of(library, procedure)
    values = {**page_values(library, view, offers), "alone": False}
    html, look = own_page(procedure, renderer, "site/page.html.j2", SCREEN, values)
    return WebPage.about(
        procedure,
        "page",
        "index.html",
        html,
        description=view.summary,
        resources=picture_paths(view),
        musts=(*look, *page_musts(library, view, labels=not look)),
        sections=tuple(sections_of(view)),
        meta=meta_of(library, procedure),
        modified=in_force_since(library, procedure),
    )


def single_file(library: Library, procedure: Procedure, renderer: Renderer) -> Document:
    """Return the page of ``procedure`` as one file that needs nothing else, for a phone, a share or a stick, with marks
    where policy, style and script go."""
    view = view_of(library, procedure)
    marks = {"policy_mark": POLICY_MARK, "style_mark": STYLE_MARK, "script_mark": SCRIPT_MARK}
    values = {
        **page_values(library, view),
        **marks,
        "meta": meta_of(library, procedure),
        "home": page_address(library, procedure),
        "alone": True,
    }
    html, look = own_page(procedure, renderer, "site/single.html.j2", SCREEN, values)
    return Document.about(
        procedure,
        "single-file",
        f"{procedure.id}.html",
        html,
        resources=picture_paths(view),
        musts=(*look, *page_musts(library, view, labels=not look)),
    )


def page_values(
    library: Library, view: ProcedureView, offers: Sequence[Offer] = (), *, proved: bool = True
) -> dict[str, Any]:
    """Return what the template of a procedure's page is filled with: what was checked, only where it is ``proved``."""
    procedure = view.page
    checked = coverage_view(coverage(library, procedure)) if proved else None
    figure = figure_of(library, procedure)
    return {
        "view": view,
        "blocks": view.blocks,
        "map": figure,
        "marks": [*page_marks(library, procedure), *_withdrawn(procedure)],
        "facts": _facts(view, mark_of(library, procedure)),
        "contents": tuple(_contents(view, figure, has_papers=bool(offers), proved=proved)),
        "first": first_of(offers, f"{procedure.id}/"),
        "shelves": shelves_of(offers, f"{procedure.id}/"),
        "proved": proved,
        "checked": checked,
        "reading": _reading(procedure) if proved else "",
        "lists": tuple(name.rpartition("/")[2] for name in library.notices),
        "metadata": _metadata(library, view),
    }


def page_musts(library: Library, view: ProcedureView, *, labels: bool = True) -> Iterator[Must]:
    """Yield, in reading order, all that nobody may miss: cautions, steps, doses, aftercare, map and references.

    What belongs together is one must, ``labels`` too, so that no other word can stand between them. Where a department
    has labels of its own, each text is one.
    """
    yield from (must for change in view.local for must in change.musts)
    yield from promised("before", "before", *view.before_you_start)
    yield from (Must("kit", f"kit-{at}", f"{kit.number} × {kit.name}") for at, kit in enumerate(view.kit))
    for block in every_block(view.blocks):
        yield from (must for caution in block.cautions for must in _caution_musts(caution, labels))
        if isinstance(block, StepView):
            yield from _step_musts(block, labels)
    for item in view.aftercare:
        yield Must("aftercare", item.page.id, f"{item.when} {item.page.title}")
        yield from (must for dose in item.doses for must in _dose_musts(item.page.id, dose))
        yield from promised("patient", item.page.id, item.page.patient_text)
    yield from figure_of(library, view.page).musts
    yield from (Must("reference", reference.key, plain(reference.html)) for reference in view.references)


def _caution_musts(caution: CautionView, labels: bool) -> Iterator[Must]:
    page = caution.page
    told = (
        ("", page.hazard),
        ("", page.consequence),
        (gettext("Avoid it."), page.avoid),
        (gettext("How it shows."), page.sign),
        (gettext("If it happens."), page.if_it_happens),
        (gettext("Call"), caution.call),
    )
    yield from _labelled("caution", page.id, (("", caution.signal_word), *told), labels)


def _labelled(kind: str, id: str, told: Iterable[tuple[str, object]], labels: bool) -> Iterator[Must]:
    """Yield one must of all that is ``told`` with its ``labels``, or one of each text."""
    whole = (
        [" ".join(f"{label} {text}" if label else str(text) for label, text in told if text)]
        if labels
        else [text for _, text in told]
    )
    yield from promised(kind, id, *whole)


def _step_musts(step: StepView, labels: bool) -> Iterator[Must]:
    page, anchor = step.page, step.anchor
    yield Must("step", anchor, f"{gettext('Step')} {step.number} {page.title}")
    if step.actions:
        yield Must("actions", anchor, " ".join(step.actions))
    yield from (must for dose in step.doses for must in _dose_musts(anchor, dose))
    for figure in step.figures:
        yield from promised("pointers", figure.anchor, " ".join(pointer.name for pointer in figure.pointers))
    gate = ((gettext("Go on when"), page.cue), (gettext("If not"), page.if_not), (gettext("Call"), step.call))
    yield from _labelled("gate", anchor, gate, labels)
    yield from promised("slip", anchor, page.error, page.recovery)


def _dose_musts(anchor: str, dose: DoseView) -> Iterator[Must]:
    yield Must("dose", anchor, " ".join((dose.drug, *(f"{label} {value}" for label, value in dose.lines))))
    if dose.rows:
        yield Must("dose-rows", anchor, " ".join(f"{weight} {amount}" for weight, amount in dose.rows))
    yield from promised("limits", anchor, dose.not_covered)


def _reading(procedure: Procedure) -> str:
    """Return, for staff, how hard the patient's sheet is to read, "" where nothing is written for patients."""
    texts = patient_texts(procedure)
    if not texts:
        return ""
    reading = reading_of(texts)
    told = "; ".join(f"{name} {value}" for name, value in reading.scores)
    hard = (
        gettext("Words of three syllables or more: %(words)s.", words=", ".join(reading.hard)) if reading.hard else ""
    )
    reads = gettext(
        "The patient’s sheet reads at %(spread)s by four formulas (%(told)s).", spread=reading.spread, told=told
    )
    return " ".join(filter(None, (reads, hard)))


def _withdrawn(procedure: Procedure) -> Iterator[str]:
    told = procedure.withdrawn
    if told and procedure.status is Status.WITHDRAWN:
        yield gettext("Since %(day)s: %(because)s", day=day(told.on), because=told.because)


def _facts(view: ProcedureView, code: CodeMark) -> tuple[tuple[str, str], ...]:
    facts = (
        (gettext("Edition"), f"{view.page.edition}, {view.status}"),
        (gettext("Code of copies"), f"{code.code}{code.standing}"),
        (gettext("Review by"), view.review_by),
        (gettext("Owner"), view.owner),
        (gettext("Where"), view.setting),
        (gettext("Side"), view.side),
    )
    return tuple((label, value) for label, value in facts if value)


def _contents(
    view: ProcedureView, figure: MapFigure, *, has_papers: bool, proved: bool
) -> Iterator[tuple[str, str, str, str]]:
    """Yield the lines of the list of contents: kind, anchor, title, and the number of a step."""
    opening = (
        ("local", gettext("Local policy"), view.local),
        ("before", gettext("Before you start"), view.before_you_start),
        ("why", gettext("Why and when"), view.body_html or view.cites_html or view.figures),
        ("kit", gettext("Kit"), view.kit),
        ("steps", gettext("Steps"), True),
    )
    yield from (("part", anchor, title, "") for anchor, title, is_there in opening if is_there)
    for step in (block for block in every_block(view.blocks) if isinstance(block, StepView)):
        yield "a-critical" if step.page.critical else "a-step", step.anchor, step.page.title, step.number
    if view.aftercare:
        yield "part", "aftercare", gettext("Aftercare"), ""
    if figure.drawings:
        yield "part", "map", gettext("Map of the operation"), ""
    if has_papers:
        yield "part", "papers", gettext("To print or keep"), ""
    if view.references:
        yield "part", "references", gettext("References"), ""
    if proved:
        yield "part", "checks", gettext("What was checked"), ""


def _metadata(library: Library, view: ProcedureView) -> str:
    """Return what a catalogue or search engine is told, as JSON-LD that is safe to stand inside a script element.

    Types and properties: schema.org ``LearningResource`` and ``MedicalProcedure``.
    """
    name, _, role = view.owner.partition(", ")
    since, due = in_force_since(library, view.page), view.page.review_by
    told: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "LearningResource",
        "name": view.page.title,
        "description": view.summary,
        "url": page_address(library, view.page),
        "identifier": mark_of(library, view.page).code,
        "inLanguage": view.language,
        "version": view.page.edition,
        "dateModified": since.isoformat() if since else "",
        "expires": due.isoformat() if due else "",
        "creativeWorkStatus": view.status,
        "learningResourceType": gettext("operative procedure, step by step"),
        "about": {"@type": "MedicalProcedure", "name": view.page.title, "relevantSpecialty": view.page.specialty},
        "author": {"@type": "Person", "name": name, "jobTitle": role},
        "publisher": {"@type": "Organization", "name": view.department, "url": view.site},
        "citation": [" ".join(plain(reference.html).split()) for reference in view.references],
        "usageInfo": view.usual_caution,
    }
    return json.dumps(_filled(told), ensure_ascii=False, separators=(",", ":")).translate(_SCRIPT_ENDS)


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is empty."""
    inner = {key: _filled(value) if isinstance(value, dict) else value for key, value in values.items()}
    return {key: value for key, value in inner.items() if value}


@dataclass(frozen=True, slots=True)
class CheckedView:
    """``proved``: what was checked, with how much of it; ``gaps``: what was not, and what is excused."""

    proved: tuple[str, ...]
    gaps: tuple[str, ...]


def coverage_view(found: ProcedureCoverage) -> CheckedView:
    """Return what a page says of what was checked, in sentences that claim no more than was there to be looked at."""
    proved = (
        f"{gettext(things.proves).rstrip('.')}: {words_of(things.name, things.number, things.steps, found.steps)}."
        for things in found.checked
    )
    gaps = [f"{told}." for told in (silence(found), excuses(found)) if told]
    if found.empty:
        gaps.append(
            gettext(
                "There was no %(things)s to check.", things=series_or(gettext(things.name) for things in found.empty)
            )
        )
    return CheckedView(tuple(proved), tuple(gaps))

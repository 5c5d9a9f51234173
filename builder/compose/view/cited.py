"""Where on paper a reference is cited, in words: a page number would need the page to be set first."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from builder.compose.view.view import CautionView, ChoiceView, DoseView, ProcedureView, StepView

_ANCHOR = re.compile(r'id="(cite-\d+-\d+)"')
Cited = tuple[tuple[str, str], ...]
"""``(anchor, place in words)`` of the first citation in each place, in reading order."""


def cited_places(view: ProcedureView) -> Mapping[str, Cited]:
    """Return, by key of the reference, the places that cite it."""
    words = {anchor: place for place, html in _texts(view) for anchor in _ANCHOR.findall(html)}
    found = {}
    for reference in view.references:
        first: dict[str, str] = {}
        for anchor in reference.cited_at:
            if anchor in words:
                first.setdefault(words[anchor], anchor)
        found[reference.key] = tuple((anchor, place) for place, anchor in first.items())
    return found


def _texts(view: ProcedureView) -> Iterator[tuple[str, str]]:
    yield "head", view.cites_html
    yield "why and when", view.body_html
    for block in view.blocks:
        yield from _block(block)
    for item in view.aftercare:
        for html in (item.cites_html, item.body_html, *(_dose(dose) for dose in item.doses)):
            yield "aftercare", html


def _block(block: StepView | ChoiceView) -> Iterator[tuple[str, str]]:
    if isinstance(block, StepView):
        place = f"step {block.number}"
        cautions = (html for caution in block.cautions for html in _caution(caution))
        for html in (*cautions, block.cites_html, block.body_html, *(_dose(dose) for dose in block.doses)):
            yield place, html
        return
    for caution in block.cautions:
        for html in _caution(caution):
            yield f"before the choice {block.title}", html
    for branch in block.branches:
        for inner in branch.blocks:
            yield from _block(inner)


def _caution(caution: CautionView) -> tuple[str, str]:
    return caution.cites_html, caution.body_html


def _dose(dose: DoseView) -> str:
    return dose.cites_html

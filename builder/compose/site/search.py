"""What the search box of the site looks through: every part of a procedure, with the words that lead to it.

Made from the view rather than from finished pages: a result can then say which step it is, the index holds each word of
the prose once, and it costs a fraction of reading the pages again.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builder.compose.view.outline import every_block
from builder.compose.view.view import AftercareView, CautionView, DoseView, ProcedureView, StepView
from builder.compose.view.words import plain

_WORD = re.compile(r"[^\W_]+")
_MARKS = re.compile(r"[\u0300-\u036f]")


@dataclass(frozen=True, slots=True)
class SearchSection:
    """A part of a page: its ``anchor`` ("" = the page itself), its ``title``, what a result ``shows`` of it, and the
    further ``words`` that lead to it."""

    anchor: str
    title: str
    shows: str
    words: str


def sections_of(view: ProcedureView) -> tuple[SearchSection, ...]:
    """Return the sections of a procedure's page in reading order."""
    return tuple(_sections(view))


def index_entry(name: str, title: str, sections: Iterable[SearchSection]) -> str:
    """Return the page ``name`` as the index holds it: ``[name, title, [[anchor, title, shows, words], ...]]``."""
    entry = [name, title, [[section.anchor, section.title, section.shows, section.words] for section in sections]]
    return json.dumps(entry, separators=(",", ":"))


def index_script(entries: Iterable[str]) -> str:
    """Return the index as a script, because a page opened from a file may not fetch."""
    return f"window.searchIndex=[{','.join(entries)}];\n"


def folded(text: str) -> str:
    """Return ``text`` as words are compared: small letters without accents."""
    return _MARKS.sub("", unicodedata.normalize("NFD", text.casefold()))


def _sections(view: ProcedureView) -> Iterator[SearchSection]:
    yield _section("", view.title, view.summary, view.specialty, view.setting, view.body_html)
    if view.kit:
        yield _section("kit", "Kit", ", ".join(item.name for item in view.kit))
    for block in every_block(view.blocks):
        yield from map(_of_caution, block.cautions)
        if isinstance(block, StepView):
            yield _of_step(block)
    yield from map(_of_aftercare, view.aftercare)
    for reference in view.references:
        yield _section(reference.anchor, f"Reference {reference.number}", plain(reference.html, " "))


def _of_step(step: StepView) -> SearchSection:
    shows = ". ".join([*step.actions, step.cue])
    more = (step.if_not, step.why, step.error, step.recovery, step.call, step.body_html, *map(_dose, step.doses))
    names = (name.name for figure in step.figures for name in figure.pointers)
    return _section(step.anchor, f"{step.number} {step.title}", shows, *more, *names)


def _of_caution(caution: CautionView) -> SearchSection:
    shows = f"{caution.consequence} {caution.avoid}"
    more = (caution.sign, caution.if_it_happens, caution.call, caution.body_html)
    return _section(caution.anchor, f"{caution.signal_word}: {caution.hazard}", shows, *more)


def _of_aftercare(item: AftercareView) -> SearchSection:
    shows = ". ".join(part for part in (item.when, item.patient_text) if part)
    return _section(item.anchor, item.title, shows, item.who, item.concerns, item.body_html, *map(_dose, item.doses))


def _dose(dose: DoseView) -> str:
    return f"{dose.drug} {' '.join(value for _, value in dose.lines)}"


def _section(anchor: str, title: str, shows: str, *more: str) -> SearchSection:
    known = set(_WORD.findall(folded(f"{title} {shows}")))
    words = {word for text in more for word in _WORD.findall(folded(plain(text, " ")))}
    return SearchSection(anchor, title, shows, " ".join(sorted(words - known)))

"""What rests on a source once it is published: outputs by their names, and copies that were issued, by their codes."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from builder.compose.card.card_plan import MUST, plan_of
from builder.compose.document import Document, Renderer
from builder.compose.evidence.evidence_pages import place_of
from builder.compose.handout.handout import cited_places
from builder.compose.site.status import standings
from builder.compose.slides.slide_sketch import sketches_of
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import day
from builder.facts.claims import Claim, resting
from builder.facts.remembered import once_per_library
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.outputs import OUTPUTS
from builder.publish.output import PageOutput, Shows


def resting_outputs(library: Library, key: str, renderer: Renderer) -> Mapping[str, tuple[str, ...]]:
    """Return, by id of the procedure, what of it rests on the source ``key``, in words; nothing is typeset."""
    claims = [claim for claim, _ in resting(library).get(key, ())]
    found = {}
    for procedure in library.procedures:
        own = [claim for claim in dict.fromkeys(claims) if str(procedure.id) in claim.procedures]
        if own:
            outputs = _outputs(library, procedure, renderer, (key, own))
            found[str(procedure.id)] = (*outputs, *_issued(library, procedure, own))
    return found


def _outputs(
    library: Library, procedure: Procedure, renderer: Renderer, asked: tuple[str, list[Claim]]
) -> Iterator[str]:
    key, claims = asked
    view = view_of(library, procedure)
    for reference in view.references:
        if reference.key == key:
            places = dict.fromkeys(place for _, place in cited_places(view).get(key, ()))
            yield f"{_named(Shows.WHOLE)}: reference {reference.number}, cited in {', '.join(places)}"
    if card := _card(library, procedure, asked):
        yield card
    if key in _told_on_slides(library, procedure):
        yield f"{_named(Shows.SLIDES)}: in the notes of what rests on it, and on the slides of sources"
    for name, document in _extracts(library, procedure, renderer):
        if shown := _shown(claims, ((must.id, must.text) for must in document.musts)):
            yield f"{name.replace('-', ' ').replace('/', ', ')}: shows {_count(shown)}"
    yield f"evidence table: {_count(len(claims))}"


@once_per_library
def _told_on_slides(library: Library, procedure: Procedure) -> frozenset[str]:
    """Return the keys of the sources of what the slides of ``procedure`` tell."""
    square: Mapping[str, float] = defaultdict(lambda: 1.0)  # how a figure is shown decides nothing here
    sketches = sketches_of(library, view_of(library, procedure), square)
    return frozenset(str(cite.key) for sketch in sketches for cite in sketch.backing)


@once_per_library
def _extracts(library: Library, procedure: Procedure, renderer: Renderer) -> tuple[tuple[str, Document], ...]:
    """Return what shows an extract of ``procedure``, by the names of the outputs: it is the same for each source."""
    found: list[tuple[str, Document | None]] = []
    for row in (row for row in OUTPUTS.rows if row.shows is Shows.EXTRACT):
        if isinstance(row, PageOutput):
            found.append((row.name, row.compose(library, procedure, renderer, ())))
        else:
            found += [(name, row.composed(name, library, procedure, renderer)) for name in row.documents_of(procedure)]
    return tuple((name, document) for name, document in found if document)


def _named(shows: Shows) -> str:
    """Return the names of the outputs that are usually made and show so much, pages before files."""
    rows = [row for row in (*OUTPUTS.pages, *OUTPUTS.files) if row.shows is shows and not row.session]
    return ", ".join(row.name.replace("-", " ") for row in rows)


def _card(library: Library, procedure: Procedure, asked: tuple[str, list[Claim]]) -> str:
    """Return what the pocket card and its sheets hold, "" where nothing on them can rest on the source."""
    key, claims = asked
    lines = plan_of(library, procedure)
    held = [line for line in lines if key in line.sources or _shown(claims, ((line.id, line.parts[0].text),))]
    if not held:
        return ""
    must = sum(bool(line.shown(MUST)) for line in held)
    room = f", {len(held) - must} more where there is room" if len(held) > must else ""
    return f"{_named(Shows.CARD)}: {must} line{'' if must == 1 else 's'} that must stand there{room}"


def _shown(claims: Iterable[Claim], shown: Iterable[tuple[str, str]]) -> int:
    """Return how many of ``claims`` stand among what is ``shown``, known by their mark or by their words."""
    marks, texts = zip(*found, strict=True) if (found := tuple(shown)) else ((), ())
    everything = "\n".join(texts)
    return sum(_is_marked(claim, marks) or claim.words in everything for claim in claims)


def _is_marked(claim: Claim, marks: Iterable[str]) -> bool:
    kind, id = place_of(claim)
    mark = re.compile(rf"{re.escape(f'{kind}-{id}')}(-\d+)?")
    return bool(kind) and any(mark.fullmatch(one) for one in marks)


def _issued(library: Library, procedure: Procedure, claims: list[Claim]) -> Iterator[str]:
    """Yield each issued code whose copies hold one of ``claims``, as it stands now or in other words."""
    kinds = {one.line.code: one.kind for one in standings(library)}
    now = {(part.kind, part.id): part.short for part in edition_of(library, procedure).parts}
    for line in library.ledger.of(str(procedure.id)):
        then = {(part.kind, part.id): part.digest for part in line.parts}
        parts = dict.fromkeys(_part(claim) for claim in claims)
        held = [f"{part[0]} {part[1]}{'' if then[part] == now.get(part) else _OTHER}" for part in parts if part in then]
        if held:
            copies = f"issued copies with code {line.code}, edition {line.edition} of {day(line.on)}"
            yield f"{copies}, {kinds[line.code]}: {', '.join(held)}"


_OTHER = " (in other words or on other sources than now: look at the copy)"


def _part(claim: Claim) -> tuple[str, str]:
    kind, id = place_of(claim)
    return (kind, id) if kind else ("about", "about")


def _count(number: int) -> str:
    return f"{number} statement{'' if number == 1 else 's'} that rest{'s' if number == 1 else ''} on it"

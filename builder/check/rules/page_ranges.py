"""Page numbers run forwards, and a citation names pages that its source has."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.page_numbers import PageRange, cited_ranges, is_within, own_pages, page_ranges, reversed_ranges
from builder.facts.remembered import once_per_library
from builder.facts.walk import citations, links
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.citation import is_locator
from builder.model.library import Library
from builder.place import Place


@finds("pages-reversed")
def pages_reversed(library: Library) -> Iterator[Hit]:
    """Yield each range of pages that ends before it begins, in a source or a citation."""
    hint = "Write the first page first, and check both numbers in the source."
    for source in library.sources.values():
        for span in reversed_ranges(page_ranges(source.fields.get("pages", ""))):
            yield Hit(source.place("pages"), f"{quoted(span.written)} ends before it begins", hint)
    for at, _, spans in _located(library):
        for span in reversed_ranges(spans):
            yield Hit(at, f"{quoted(span.written)} ends before it begins", hint)


@finds("page-outside-source")
def pages_outside(library: Library) -> Iterator[Hit]:
    """Yield each page that is cited and lies outside the pages of its source."""
    for at, key, spans in _located(library):
        own = own_pages(library.sources[key]) if key in library.sources else ()
        outside = [span for span in spans if span.first <= span.last and not is_within(span, own)]
        if own and outside and not any(reversed_ranges(own)):
            source = library.sources[key]
            printed = ", ".join(f"{span.series}{span.first}–{span.series}{span.last}" for span in own)
            message = f"{quoted(outside[0].written)} is not among the pages of {quoted(key)} ({printed})"
            also = (SecondPlace(source.place("pages"), "the pages of the source"),)
            yield Hit(at, message, "Correct the page, or the pages of the source.", also)


@once_per_library
def _located(library: Library) -> tuple[tuple[Place, str, tuple[PageRange, ...]], ...]:
    """Return place, key and pages of each citation that names pages."""
    return tuple(_locators(library))


def _locators(library: Library) -> Iterator[tuple[Place, str, tuple[PageRange, ...]]]:
    for citation in citations(library):
        if citation.locator is not None:
            yield citation.where.value("at"), str(citation.source), cited_ranges(str(citation.locator))
    for _, link, target in links(library, "source"):
        if target == link.targets[0] and is_locator(link.words):
            yield link.at, str(target), cited_ranges(link.words)

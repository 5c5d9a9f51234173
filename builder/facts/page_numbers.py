"""Pages of a source and of a citation: 145-9 is 145 to 149, S12 is of a supplement, e105 is no page."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.load.sources.bibliography import RawSource


class PageRange(NamedTuple):
    """Pages from ``first`` to ``last``, both with the letter ``series`` ("" for none); ``written`` as in the text."""

    written: str
    series: str
    first: int
    last: int


_SPAN = re.compile(
    r"\s*(?P<series>[A-Z]?)(?P<first>[0-9]{1,6})(?:\s*[-–—‑]{1,3}\s*(?P<other>[A-Z]?)(?P<last>[0-9]{1,6}))?\s*"
)
_BETWEEN = re.compile(r"[,;&]|\band\b")
_AFTER_P = re.compile(r"\b(?:pp?\.?|pages?)\s*(?P<spans>[A-Z]?[0-9][^A-Za-z]*(?:(?<=[-–])[A-Z][0-9]+)?)", re.IGNORECASE)
_BARE = re.compile(r"[0-9]{1,5}(?:\s*[-–]{1,2}\s*[0-9]{1,5})?")
_WHOLE_WORKS = frozenset(("book", "report", "techreport", "phdthesis", "mastersthesis", "thesis", "manual", "booklet"))


def page_ranges(written: str) -> tuple[PageRange, ...]:
    """Return the ranges in ``written``, such as ``229--235, 240``; none where any part of it is something else."""
    spans = [_SPAN.fullmatch(part) for part in _BETWEEN.split(written) if part.strip()]
    if any(span is None or (span["other"] or span["series"]) != span["series"] for span in spans):
        return ()
    return tuple(_range(span) for span in spans if span is not None)


def _range(span: re.Match[str]) -> PageRange:
    first, last = span["first"], span["last"] or span["first"]
    if len(last) < len(first):
        last = first[: len(first) - len(last)] + last  # 149 for the 9 of 145-9
    return PageRange(span.group().strip(), span["series"], int(first), int(last))


def cited_ranges(locator: str) -> tuple[PageRange, ...]:
    """Return the pages that the locator of a citation names: ``p. 12``, ``pp. 12-14, 20``, or a number alone."""
    if _BARE.fullmatch(locator.strip()):
        return page_ranges(locator)
    return tuple(span for match in _AFTER_P.finditer(locator) for span in page_ranges(match["spans"].rstrip(" .,;:()")))


def own_pages(source: RawSource) -> tuple[PageRange, ...]:
    """Return the pages on which ``source`` is printed; none where it does not say or gives its first page alone."""
    if source.type in _WHOLE_WORKS:
        number = source.fields.get("pagetotal") or source.fields.get("pages", "")
        return (PageRange(number, "", 1, int(number)),) if number.isdigit() else ()
    spans = page_ranges(source.fields.get("pages", ""))
    return spans if any(span.first != span.last for span in spans) else ()


def reversed_ranges(spans: tuple[PageRange, ...]) -> Iterator[PageRange]:
    """Yield each range that ends before it begins."""
    return (span for span in spans if span.last < span.first)


def is_within(cited: PageRange, own: tuple[PageRange, ...]) -> bool:
    """Tell whether the pages ``cited`` are among ``own``."""
    return any(cited.series == span.series and span.first <= cited.first and cited.last <= span.last for span in own)

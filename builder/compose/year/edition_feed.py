"""The feed of editions: what is new, what was replaced and what was withdrawn (Atom, RFC 4287)."""

from collections.abc import Iterator, Mapping
from datetime import date
from types import MappingProxyType
from typing import NamedTuple

from lxml import etree
from lxml.builder import ElementMaker

from builder.compose.code_mark import page_name
from builder.compose.site.status import NOT_ISSUED, REPLACED, WITHDRAWN, Standing, standings
from builder.compose.view.words import day, series
from builder.compose.year.review_calendar import named
from builder.load.program_words import gettext
from builder.model.library import Library

NAME = "year/editions.atom"
_ATOM = "http://www.w3.org/2005/Atom"


class FeedEntry(NamedTuple):
    """One thing that happened to the edition with the code ``code``: what (``sort``), when, and in words."""

    sort: str
    code: str
    on: date
    title: str
    summary: str


def feed_entries(library: Library) -> tuple[FeedEntry, ...]:
    """Return what happened to the issued editions, the newest first."""
    known = [standing for standing in standings(library) if standing.kind != NOT_ISSUED]
    entries = (entry for standing in known for entry in _entries(standing))
    return tuple(sorted(entries, key=lambda entry: (entry.on, entry.sort, entry.title, entry.code), reverse=True))


def _entries(standing: Standing) -> Iterator[FeedEntry]:
    line = standing.line
    name = gettext("%(title)s, edition %(edition)s", title=line.title, edition=line.edition)
    yield FeedEntry(
        "new",
        line.code,
        line.on,
        gettext("New: %(name)s", name=name),
        gettext("Issued on %(day)s with the code %(code)s.", day=day(line.on), code=line.code),
    )
    if standing.kind == REPLACED and standing.since and standing.latest:
        changed = series([f"{change.name} ({change.what})" for change in standing.changes])
        told = gettext(
            "The current edition is %(edition)s. Destroy copies with the code %(code)s.",
            edition=standing.latest.edition,
            code=line.code,
        )
        told += " " + (
            gettext("No longer as on that copy: %(changed)s.", changed=changed)
            if changed
            else gettext("The text is the same.")
        )
        yield FeedEntry("replaced", line.code, standing.since, gettext("Replaced: %(name)s", name=name), told)
    if standing.kind == WITHDRAWN and standing.since:
        told = gettext(
            "%(because)s Destroy copies with the code %(code)s.", because=standing.because, code=line.code
        ).strip()
        yield FeedEntry("withdrawn", line.code, standing.since, gettext("Withdrawn: %(name)s", name=name), told)


def edition_feed(library: Library, told: Mapping[str, str] = MappingProxyType({})) -> str:
    """Return the feed. Its addresses are relative where the department gives none of its site.

    ``told`` is what changed since each replaced code, as HTML: what a reader of feeds shows below the summary.
    """
    make = ElementMaker(namespace=_ATOM, nsmap={None: _ATOM})
    site = str(library.department.site or "").rstrip("/")
    start = f"{site}/" if site else "../"
    entries = feed_entries(library)
    newest = max((entry.on for entry in entries), default=library.today)
    feed = make.feed(
        make.id(f"urn:uuid:{named(library, 'editions')}"),
        make.title(_clean(gettext("Editions: %(name)s", name=library.department.name))),
        make.updated(_moment(newest)),
        make.author(make.name(_clean(library.department.name))),
        make.link(rel="self", type="application/atom+xml", href=f"{start}{NAME}"),
        make.link(rel="alternate", type="text/html", href=f"{start}year/index.html"),
        *(
            make.entry(
                make.id(f"urn:uuid:{named(library, entry.sort, entry.code)}"),
                make.title(_clean(entry.title)),
                make.updated(_moment(entry.on)),
                make.link(rel="alternate", type="text/html", href=f"{start}{page_name(entry.code)}"),
                make.category(term=entry.sort),
                make.summary(_clean(entry.summary)),
                *([make.content(_clean(told[entry.code]), type="html")] if _tells(entry, told) else ()),
            )
            for entry in entries
        ),
    )
    etree.indent(feed)
    return str(etree.tostring(feed, xml_declaration=True, encoding="UTF-8").decode("utf-8")) + "\n"


def _tells(entry: FeedEntry, told: Mapping[str, str]) -> bool:
    return entry.sort == "replaced" and bool(told.get(entry.code))


def _moment(on: date) -> str:
    return f"{on.isoformat()}T00:00:00Z"


def _clean(text: str) -> str:
    """Return ``text`` without what XML 1.0 cannot carry."""
    return "".join(sign if sign.isprintable() else " " for sign in text)

"""Status pages: the permanent answer to "is my card still current?", one for every code ever issued, and a list of all.

What a code is follows from the ledger, not from the text as it stands: the edition issued last is current until another
is issued or the procedure is withdrawn, whatever somebody is writing meanwhile. The code of an edition that is not
issued has a page too, as long as it stands, so that no QR code leads nowhere.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from types import MappingProxyType

from builder.compose.changes.change_notice import ChangeNotice, shown_changes, summary_of
from builder.compose.code_mark import FOLDER, page_name
from builder.compose.document import Must, Renderer, promised
from builder.compose.site.web import WebPage
from builder.compose.view.outline import outline, step_blocks
from builder.compose.view.words import day, labelled
from builder.findings.message_words import capital
from builder.load.ledger import Issued, IssuedPart
from builder.load.program_words import gettext, noted
from builder.model.edition import edition_key, edition_of
from builder.model.library import Library
from builder.model.pages import Procedure, Status

LIST = f"{FOLDER}/index.html"
CURRENT, REPLACED, WITHDRAWN, NOT_ISSUED = "current", "replaced", "withdrawn", "not issued"
_HEADLINES = {
    CURRENT: noted("Current"),
    REPLACED: noted("Replaced: do not use this copy"),
    WITHDRAWN: noted("Withdrawn: do not use this copy"),
    NOT_ISSUED: noted("Not issued: do not rely on this copy"),
}
_CHANGES_PAGE = "changes.html"
_OVERDUE = noted("Current, but its review is overdue")
_PARTS = {
    "about": noted("Title, purpose or reasons"),
    "before": noted("Before you start"),
    "kit": noted("Kit list"),
    "order": noted("Order of the steps, or the choices"),
    "translation": noted("Translation for the patient"),
    "terms": noted("Abbreviations"),
    "call": noted("Numbers to call"),
}
_KINDS = ("step", "caution", "aftercare", *_PARTS)


@dataclass(frozen=True, slots=True)
class PartChange:
    """A part that is not as on the copy: ``what`` is changed, new or taken out; ``name`` as the copy names it."""

    name: str
    what: str


@dataclass(frozen=True, slots=True)
class Standing:
    """What one code is: its ``line`` (as issued, or as it would be), its ``kind``, and for a copy that must not be used
    since when and why. ``latest`` is the edition issued last; ``overdue`` the review date that has passed."""

    line: Issued
    kind: str
    since: date | None = None
    because: str = ""
    latest: Issued | None = None
    changes: tuple[PartChange, ...] = ()
    overdue: date | None = None

    @property
    def headline(self) -> str:
        """The answer in a few words."""
        return gettext(self.answer)

    @property
    def answer(self) -> str:
        """The headline in English, as it is looked up."""
        return _OVERDUE if self.overdue and self.kind == CURRENT else _HEADLINES[self.kind]


def line_now(library: Library, procedure: Procedure) -> Issued:
    """Return the line under which ``procedure``, as it stands, is issued today."""
    edition = edition_of(library, procedure)
    numbers: dict[str, str] = {}
    for block in step_blocks(outline(procedure)):
        numbers.setdefault(str(block.step.id), block.number)
    return Issued(
        code=edition.code,
        procedure=str(procedure.id),
        title=str(procedure.title),
        edition=str(procedure.edition),
        on=library.today,
        review_by=procedure.review_by,
        content=edition.content,
        parts=tuple(
            IssuedPart(
                part.kind, part.id, numbers.get(part.id, "") if part.kind == "step" else "", part.title, part.short
            )
            for part in edition.parts
        ),
    )


def standings(library: Library) -> tuple[Standing, ...]:
    """Return what every code is: all that were issued, and those of the procedures as they stand; by code."""
    procedures = library.by_id
    now = {id: line_now(library, procedure) for id, procedure in procedures.items()}
    issued: list[Standing] = []
    for id in sorted({line.procedure for line in library.ledger.issued}):
        lines = in_order(library.ledger.of(id))
        issued.extend(_issued(lines, procedures.get(id), now.get(id), library.today))
    known = {standing.line.code for standing in issued}
    for id, line in now.items():
        if line.code not in known:
            is_withdrawn = procedures[id].status is Status.WITHDRAWN
            issued.append(Standing(line, WITHDRAWN if is_withdrawn else NOT_ISSUED))
    return tuple(sorted(issued, key=lambda standing: standing.line.code))


def in_order(lines: Iterable[Issued]) -> tuple[Issued, ...]:
    """Return ``lines`` of one procedure in the order in which they were issued; two of one day by their edition."""
    return tuple(sorted(lines, key=lambda line: (line.on, edition_key(line.edition), line.code)))


def _issued(
    lines: tuple[Issued, ...], procedure: Procedure | None, now: Issued | None, today: date
) -> Iterator[Standing]:
    latest = lines[-1]
    if procedure is None:
        why = gettext("The department no longer publishes this procedure. Ask there before you use any copy of it.")
        yield from (Standing(line, WITHDRAWN, because=why) for line in lines)
    elif procedure.status is Status.WITHDRAWN:
        told = procedure.withdrawn
        since, why = (told.on, str(told.because)) if told else (None, "")
        yield from (Standing(line, WITHDRAWN, since, why) for line in lines)
    else:
        for line, following in pairwise(lines):
            yield Standing(line, REPLACED, following.on, latest=latest, changes=changes_of(line.parts, latest.parts))
        # A review that was done without changing a word moves the day on, and the copy in the pocket with it.
        due = now.review_by if now and now.code == latest.code else latest.review_by
        yield Standing(
            replace(latest, review_by=due), CURRENT, latest=latest, overdue=due if due and due < today else None
        )


def changes_of(copy: Iterable[IssuedPart], latest: Iterable[IssuedPart]) -> tuple[PartChange, ...]:
    """Return which parts are not in ``latest`` as they are on ``copy``: steps first, in the order of the copy."""
    old, new = _by_id(copy), _by_id(latest)
    changes: list[tuple[int, PartChange]] = []
    for key, part in old.items():
        other = new.get(key)
        if other is None or other.digest != part.digest:
            changes.append(
                (_rank(part), PartChange(_name(part), gettext("changed") if other else gettext("taken out")))
            )
    changes.extend(
        (_rank(part), PartChange(_name(part), gettext("new"))) for key, part in new.items() if key not in old
    )
    return tuple(change for _, change in sorted(changes, key=lambda ranked: ranked[0]))


def _by_id(parts: Iterable[IssuedPart]) -> Mapping[tuple[str, str], IssuedPart]:
    return {(part.kind, part.id): part for part in parts}


def _rank(part: IssuedPart) -> int:
    return _KINDS.index(part.kind) if part.kind in _KINDS else len(_KINDS)


def _name(part: IssuedPart) -> str:
    if part.kind in _PARTS:
        return gettext(_PARTS[part.kind])
    kind = capital(gettext(part.kind))
    return labelled(f"{kind} {part.number}" if part.number else kind, part.title)


def compose(
    library: Library, renderer: Renderer, notices: Mapping[str, ChangeNotice] = MappingProxyType({})
) -> Iterator[WebPage]:
    """Yield the status page of every code, and the list of all; ``notices`` tell by code what changed since."""
    codes = standings(library)
    for standing in codes:
        notice = notices.get(standing.line.code)
        yield _page(library, renderer, standing, _CHANGES_PAGE if notice else "")
        if notice:
            yield _change_page(renderer, standing.line, notice)
    yield _list(library, renderer, codes)


def _change_page(renderer: Renderer, line: Issued, notice: ChangeNotice) -> WebPage:
    """Return the page of ``notice``: what changed from the copy that ``line`` issued to the current edition."""
    title = gettext("%(code)s: what has changed since", code=line.code)
    groups, musts = shown_changes(notice)
    text = renderer.render(
        "changes/change_page.html.j2", title=title, procedure=line.title, summary=summary_of(notice), groups=groups
    )
    return WebPage(
        kind="change-notice",
        procedure=line.procedure,
        edition=line.edition,
        title=title,
        name=f"{FOLDER}/{line.code}/{_CHANGES_PAGE}",
        text=text,
        description=gettext("What has changed in %(title)s", title=line.title),
        musts=(Must("summary", line.code, summary_of(notice)), *musts),
    )


def _page(library: Library, renderer: Renderer, standing: Standing, told: str) -> WebPage:
    line = standing.line
    here = line.procedure in library.by_id and standing.kind != WITHDRAWN
    title = f"{line.code}: {standing.headline}"
    says = tuple(_says(standing))
    html = renderer.render(
        "site/status.html.j2",
        code=line.code,
        title=line.title,
        kind=standing.kind.replace(" ", "-"),
        headline=standing.headline,
        overdue=standing.overdue is not None,
        says=says,
        changes=standing.changes,
        told=told,
        facts=tuple(_facts(standing)),
        procedure=f"../../{line.procedure}/index.html" if here else "",
        today=day(library.today),
    )
    return WebPage(
        kind="status",
        procedure=line.procedure,
        edition=line.edition,
        title=title,
        name=page_name(line.code),
        text=html,
        description=gettext("Status of %(title)s", title=line.title),
        musts=(
            Must("answer", line.code, standing.headline),
            *promised("reason", line.code, *says),
            *promised("change", line.code, *(f"{change.name} {change.what}" for change in standing.changes)),
        ),
        explained={
            "code": line.code,
            "state": standing.kind,
            "answer": standing.answer,
            "issued": library.ledger.find(line.code) is not None,
        },
    )


def _says(standing: Standing) -> Iterator[str]:
    """Yield the answer in sentences."""
    line, latest = standing.line, standing.latest
    if standing.kind == CURRENT:
        if standing.overdue:
            yield gettext(
                "This is the edition issued last, but its review was due by %(day)s.", day=day(standing.overdue)
            )
            yield gettext("Ask the department before you use it.")
        else:
            yield gettext("This is the edition issued last. Your copy is current.")
        if line.review_by and not standing.overdue:
            yield gettext(
                "Its review is due by %(day)s. After that day ask, even if this page has not changed.",
                day=day(line.review_by),
            )
    elif standing.kind == REPLACED and latest and standing.since:
        yield gettext(
            "Replaced on %(day)s. The current edition is %(edition)s, issued on %(issued)s.",
            day=day(standing.since),
            edition=latest.edition,
            issued=day(latest.on),
        )
        if not standing.changes:
            yield gettext("The text is the same; the edition was issued anew.")
    elif standing.kind == WITHDRAWN:
        yield gettext("Withdrawn on %(day)s.", day=day(standing.since)) if standing.since else gettext("Withdrawn.")
        yield standing.because or gettext("No reason was published. Ask the department.")
    else:
        yield gettext("This copy was printed from a text that the department has not issued.")
        yield gettext("Its code is valid only until the text is changed.")
    if standing.kind in (REPLACED, WITHDRAWN):
        yield gettext("Destroy your copy.")


def _facts(standing: Standing) -> Iterator[tuple[str, str]]:
    line = standing.line
    yield gettext("Procedure"), line.title
    yield gettext("Edition"), line.edition
    yield gettext("Code"), line.code
    if standing.kind != NOT_ISSUED:
        yield gettext("Issued on"), day(line.on)
    if line.review_by:
        yield gettext("Review by"), day(line.review_by)


def _list(library: Library, renderer: Renderer, codes: tuple[Standing, ...]) -> WebPage:
    title = gettext("Is your copy still current?")
    issued = ((standing.line, standing.headline) for standing in codes if standing.kind != NOT_ISSUED)
    rows = tuple((line.code, f"{line.code}/index.html", line.title, line.edition, answer) for line, answer in issued)
    html = renderer.render("site/codes.html.j2", title=title, rows=rows, today=day(library.today))
    return WebPage(
        kind="status",
        title=title,
        name=LIST,
        text=html,
        description=gettext("Every code ever issued"),
        musts=tuple(Must("code", row[0], row[0]) for row in rows),
    )

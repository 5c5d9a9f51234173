"""The evidence table of a procedure, for a committee: each statement with what backs it, in reading order."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from builder.compose.document import Must, Renderer, promised
from builder.compose.site.own_look import SCREEN
from builder.compose.site.own_page import own_page
from builder.compose.site.web import Offer, WebPage
from builder.compose.view.head import page_marks
from builder.compose.view.outline import ChoiceBlock, every_block, in_time, outline
from builder.compose.view.words import day
from builder.facts.claims import NEED_BACKING, Claim, ClaimKind, SourceUse
from builder.facts.remembered import once_per_library
from builder.facts.source_register import RegisteredSource, notice_lists, register
from builder.findings.message_words import capital
from builder.grouping import grouped
from builder.load.program_words import gettext, ngettext, noted
from builder.load.sources.notices import Notice
from builder.model.library import Library
from builder.model.pages import Levels, Procedure

FOLDER = "sources"
LEVELS = {
    Levels.OCEBM: noted("OCEBM 2011, 1 (strongest) to 5"),
    Levels.GRADE: noted("GRADE certainty, high to very low"),
}
_WHY, _STEPS, _AFTERCARE, _ELSE = (
    noted("Why and when"),
    noted("Steps and their cautions"),
    noted("Aftercare"),
    noted("Not on the page"),
)
_ON_PAGE = frozenset({ClaimKind.STEP, ClaimKind.CAUTION, ClaimKind.AFTERCARE})
_HOLDERS = {"steps": "step", "aftercare": "aftercare"}
"""What holds a dose, by its folder."""
_NOTHING = "–"
NO_LOCATOR, NO_LEVEL = noted("Which page?"), noted("Which level?")
"""What the table asks where a citation does not say it."""


class EvidenceRow(NamedTuple):
    """One use of a source by a claim of a procedure; without a source, ``source`` says common practice or nothing.

    ``age`` is in years on the day of the register, "" where it is not known.
    """

    kind: str
    id: str
    claim: str
    key: str
    source: str
    where: str
    level: str
    year: str
    age: str
    notices: str
    place: str


def evidence_rows(sources: Mapping[str, RegisteredSource], claim: Claim, this_year: int) -> Iterator[EvidenceRow]:
    """Yield a row for each use of a source by ``claim``; one that says what else backs it where it cites none."""
    if not claim.uses:
        backing = (
            gettext("common practice")
            if claim.common_practice
            else gettext("as the item it belongs to")
            if claim.backed
            else ""
        )
        yield EvidenceRow(claim.kind.value, claim.id, claim.words, "", backing, "", "", "", "", "", str(claim.at))
    for use in claim.uses:
        source = sources.get(str(use.source))
        if source is not None:
            yield _row(claim, use, source, this_year)


def _row(claim: Claim, use: SourceUse, source: RegisteredSource, this_year: int) -> EvidenceRow:
    return EvidenceRow(
        kind=claim.kind.value,
        id=claim.id,
        claim=claim.words,
        key=source.key,
        source=source.text,
        where=use.locator,
        level=str(use.level or ""),
        year=str(source.year or ""),
        age=str(max(0, this_year - source.year)) if source.year else "",
        notices=told_of(source.notices),
        place=str(use.source.at),
    )


def told_of(notices: Iterable[Notice]) -> str:
    """Return ``notices`` in words."""
    return "; ".join(
        f"{gettext(notice.kind.value)} {notice.date}"
        + (gettext(" by %(successor)s", successor=notice.successor) if notice.successor else "")
        for notice in notices
    )


@dataclass(frozen=True, slots=True)
class ShownUse:
    """One source of a statement, in words; ``href`` leads to it in the index, "" where there is none.

    ``where`` is the page or section, ``level`` the level of evidence; each asks to be given where it is not.
    """

    source: str
    href: str
    where: str
    level: str
    age: str
    notices: str
    is_doubted: bool

    @property
    def words(self) -> str:
        """All of it as it stands in the row."""
        return f"{self.source} {self.where} {self.level} {self.age} {self.notices}"


@dataclass(frozen=True, slots=True)
class ShownClaim:
    """A statement with what backs it; ``href`` leads to it on the procedure's page."""

    kind: str
    id: str
    words: str
    href: str
    uses: tuple[ShownUse, ...]


class Evidence:
    """The register of a department, its claims sorted by procedure once: a search for each grows as the square."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.register = register(library)
        self.anchors = {key: f"source-{number}" for number, key in enumerate(self.register.sources, start=1)}
        self._in_order: dict[str, tuple[tuple[str, Claim], ...]] = {}
        self._claims = grouped((id, claim) for claim in self.register.claims for id in claim.procedures)

    def claims(self, procedure: Procedure) -> tuple[tuple[str, Claim], ...]:
        """Return what ``procedure`` states that has a source or needs one, with its part, in reading order."""
        if str(procedure.id) not in self._in_order:
            self._in_order[str(procedure.id)] = self._sorted(procedure)
        return self._in_order[str(procedure.id)]

    def _sorted(self, procedure: Procedure) -> tuple[tuple[str, Claim], ...]:
        order = _reading_order(procedure)
        last = (len(order), gettext(_ELSE))
        claims = (
            claim for claim in self._claims.get(str(procedure.id), ()) if claim.uses or claim.kind in NEED_BACKING
        )
        placed = [(order.get(place_of(claim), last), claim) for claim in claims]
        return tuple((part, claim) for (_, part), claim in sorted(placed, key=lambda pair: pair[0][0]))

    def rows(self, *claims: Claim) -> Iterator[EvidenceRow]:
        """Yield the rows of ``claims``."""
        return (row for claim in claims for row in evidence_rows(self.register.sources, claim, self.library.today.year))

    def table(self, procedure: Procedure) -> tuple[EvidenceRow, ...]:
        """Return the evidence table of ``procedure``."""
        return tuple(self.rows(*(claim for _, claim in self.claims(procedure))))

    def shown(self, claim: Claim) -> ShownClaim:
        """Return ``claim`` as a table shows it; a source cited twice alike stands once."""
        uses = tuple(dict.fromkeys(map(self._use, self.rows(claim))))
        return ShownClaim(capital(gettext(claim.name)), claim.id, claim.words, f"index.html{mark_of(claim)}", uses)

    def _use(self, row: EvidenceRow) -> ShownUse:
        if not row.key:
            stated = row.source.capitalize() or gettext("Nothing is stated")
            return ShownUse(stated, "", _NOTHING, _NOTHING, _NOTHING, _NOTHING, False)
        return ShownUse(
            source=row.source,
            href=f"../{FOLDER}/index.html#{self.anchors[row.key]}",
            where=row.where or gettext(NO_LOCATOR),
            level=row.level or gettext(NO_LEVEL),
            age=age_words(row.age, row.year),
            notices=row.notices.capitalize() or (gettext("none") if self.library.notices else gettext("not compared")),
            is_doubted=bool(row.notices),
        )


def age_words(age: str, year: str) -> str:
    """Return an age in years with the year it counts from."""
    if not year:
        return gettext("year unknown")
    if age == "0":
        return gettext("this year (%(year)s)", year=year)
    return ngettext("%(age)s year (%(year)s)", "%(age)s years (%(year)s)", 1 if age == "1" else 2, age=age, year=year)


def place_of(claim: Claim) -> tuple[str, str]:
    """Return kind and id of the part of a page that holds ``claim``, ("", its id) for the procedure itself.

    A dose stands in its step or aftercare item.
    """
    if claim.kind is ClaimKind.DOSE:
        return _HOLDERS.get(claim.at.file.split("/")[-2], ""), claim.id
    return (claim.kind.value if claim.kind in _ON_PAGE else ""), claim.id


def mark_of(claim: Claim) -> str:
    """Return where on the page of its procedure ``claim`` stands, as the end of an address."""
    kind, id = place_of(claim)
    return f"#{kind}-{id}" if kind else ""


def _reading_order(procedure: Procedure) -> dict[tuple[str, str], tuple[int, str]]:
    """Return place and heading of each part of the page of ``procedure``."""
    order: dict[tuple[str, str], tuple[int, str]] = {("", str(procedure.id)): (0, gettext(_WHY))}

    def add(kind: str, ids: Iterable[str], part: str) -> None:
        for id in ids:
            order.setdefault((kind, str(id)), (len(order), part))

    for block in every_block(outline(procedure)):
        add("caution", (caution.id for caution in block.cautions), gettext(_STEPS))
        if not isinstance(block, ChoiceBlock):
            add("step", (block.step.id,), gettext(_STEPS))
    add("aftercare", (item.id for item in in_time(procedure.aftercare_items.values())), gettext(_AFTERCARE))
    return order


evidence_of = once_per_library(Evidence)


def compose(library: Library, procedure: Procedure, renderer: Renderer, _: Sequence[Offer] = ()) -> WebPage:
    """Return the evidence table of ``procedure``."""
    evidence = evidence_of(library)
    parted = [(part, evidence.shown(claim)) for part, claim in evidence.claims(procedure)]
    shown = [claim for _, claim in parted]
    values = {
        "procedure": procedure,
        "groups": [(part, [claim for _, claim in many]) for part, many in groupby(parted, key=lambda pair: pair[0])],
        "marks": page_marks(library, procedure),
        "scheme": gettext(LEVELS[library.department.levels]),
        "summary": _summary(shown),
        "lists": list_names(library),
    }
    html, look = own_page(procedure, renderer, "evidence/evidence.html.j2", SCREEN, values)
    title = gettext("Evidence table: %(title)s", title=procedure.title)
    return WebPage.about(
        procedure,
        "evidence-table",
        "evidence.html",
        html,
        title=title,
        description=gettext("Each statement with what backs it"),
        musts=(*look, *(must for claim in shown for must in _musts(claim))),
        explained={"statements": len(shown), "rows": sum(len(claim.uses) for claim in shown)},
    )


def _summary(shown: list[ShownClaim]) -> str:
    """Return how many statements rest on what, and what the citations leave out."""
    sourced = sum(any(use.href for use in claim.uses) for claim in shown)
    common = sum(claim.uses[0].source == gettext("Common practice") for claim in shown if claim.uses)
    words = ngettext(
        "%(num)s statement: %(sourced)s with a source, %(common)s said to be common practice",
        "%(num)s statements: %(sourced)s with a source, %(common)s said to be common practice",
        len(shown),
        sourced=sourced,
        common=common,
    )
    left = len(shown) - sourced - common
    words += gettext(", %(left)s backed by the item they belong to or by nothing.", left=left) if left else "."
    cited = [use for claim in shown for use in claim.uses if use.href]
    no_page, no_level = (
        sum(use.where == gettext(NO_LOCATOR) for use in cited),
        sum(use.level == gettext(NO_LEVEL) for use in cited),
    )
    if no_page or no_level:
        words += " " + gettext(
            "Citations that do not say where in the source: %(no_page)s of %(cited)s. "
            "Citations that do not say the level of evidence: %(no_level)s of %(cited)s.",
            cited=len(cited), no_page=no_page, no_level=no_level,
        )  # fmt: skip
    return words


def list_names(library: Library) -> list[str]:
    """Return the lists of withdrawn and corrected papers by name and date."""
    return [
        gettext(
            "%(list)s of %(day)s",
            list=notices.at.file.rpartition("/")[2],
            day=day(notices.dated) if notices.dated else gettext("no date"),
        )
        for notices in notice_lists(library)
    ]


def _musts(claim: ShownClaim) -> Iterator[Must]:
    yield Must("claim", claim.id, claim.words)
    yield from promised("evidence", claim.id, *(use.words for use in claim.uses))

"""The register of sources: what rests on each, how claims are covered, how old their sources are, what to review.

Whether a source still stands: what the department's lists of notices say of it, and how fresh the lists are.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from builder.facts.claims import NEED_BACKING, Claim, ClaimKind, SourceUse, claims, resting
from builder.facts.remembered import once_per_library
from builder.load.sources.bibliography import RawSource
from builder.load.sources.identifiers import pmid_of, same_doi
from builder.load.sources.notices import Notice, NoticeKind, NoticeList, read_notices
from builder.model.library import Library
from builder.model.styles.registry import format_in


def notice_lists(library: Library) -> tuple[NoticeList, ...]:
    """Return the department's lists of notices in the order of their files. An empty file is not a list."""
    return tuple(read_notices(text, file) for file, text in sorted(library.notices.items()) if text.strip())


@once_per_library
def notices_on(library: Library) -> Mapping[str, tuple[Notice, ...]]:
    """Return, by key, the notices on each source that has any, the gravest first. Two lists that agree count once."""
    known: dict[str, list[Notice]] = defaultdict(list)
    for notice_list in notice_lists(library):
        for notice in notice_list.notices:
            for name in (notice.doi, notice.pmid and f"pmid {notice.pmid}"):
                if name:
                    known[name].append(notice)
    if not known:
        return {}
    found = {key: _on(source, known) for key, source in library.sources.items()}
    return {key: notices for key, notices in found.items() if notices}


def _on(source: RawSource, known: Mapping[str, list[Notice]]) -> tuple[Notice, ...]:
    names = [same_doi(source.fields["doi"])] if "doi" in source.fields else []
    if "pmid" in source.fields:
        names.append(f"pmid {pmid_of(source.fields['pmid'])}")
    of_kind: dict[NoticeKind, Notice] = {}
    for name in names:
        for notice in known.get(name, ()):
            of_kind.setdefault(notice.kind, notice)
    return tuple(of_kind[kind] for kind in NoticeKind if kind in of_kind)


def months_old(dated: date, today: date) -> int:
    """Return the whole months from ``dated`` to ``today``."""
    months = (today.year - dated.year) * 12 + today.month - dated.month
    return months - (today.day < dated.day)


_WITHDRAWN = frozenset({NoticeKind.RETRACTED, NoticeKind.SUPERSEDED})


@dataclass(frozen=True, slots=True)
class RegisteredSource:
    """One source: its key, its reference as text and HTML, year, notices, and every use of it."""

    key: str
    text: str
    html: str
    year: int | None
    notices: tuple[Notice, ...]
    uses: tuple[tuple[Claim, SourceUse], ...]


@dataclass(frozen=True, slots=True)
class WeighedClaim:
    """A claim with the year of its newest source that still stands, its age in years, and ``weight`` = risk x age.

    Without any source ``newest`` and ``age`` are None and the weight is 0; ``doubted`` holds the keys of its sources
    that were retracted or superseded.
    """

    claim: Claim
    newest: int | None
    age: int | None
    weight: int
    doubted: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Coverage:
    """How many claims of one ``kind`` there are, and what backs them."""

    kind: ClaimKind
    all: int
    sourced: int
    common_practice: int
    bare: int
    without_level: int


@dataclass(frozen=True, slots=True)
class Register:
    """All of it, on the day of the library. ``review`` is in the order in which claims should be looked at again."""

    sources: Mapping[str, RegisteredSource]
    claims: tuple[Claim, ...]
    coverage: tuple[Coverage, ...]
    review: tuple[WeighedClaim, ...]


def register(library: Library, style: str = "") -> Register:
    """Return the register of ``library``, its references in ``style``, by default that of the department.

    Raises KeyError for an unknown style.
    """
    chosen = style or library.department.style
    found = claims(library)
    notices = notices_on(library)
    uses = resting(library)
    sources = {}
    for key, source in library.sources.items():
        reference, used = format_in(chosen, source), tuple(uses.get(key, ()))
        noticed = notices.get(key, ())
        sources[key] = RegisteredSource(key, reference.text, reference.html, source.year, noticed, used)
    return Register(sources, found, coverage(found), review(library, found, notices))


def coverage(found: Iterable[Claim]) -> tuple[Coverage, ...]:
    """Return the coverage of each kind of claim that needs a source or the words common practice, then of steps."""
    kinds = [kind for kind in ClaimKind if kind in NEED_BACKING] + [ClaimKind.STEP]
    by_kind: dict[ClaimKind, list[Claim]] = {kind: [] for kind in kinds}
    for claim in found:
        if claim.kind in by_kind:
            by_kind[claim.kind].append(claim)
    return tuple(_coverage(kind, many) for kind, many in by_kind.items())


def _coverage(kind: ClaimKind, many: list[Claim]) -> Coverage:
    sourced = [claim for claim in many if claim.uses]
    common = [claim for claim in many if claim.common_practice and not claim.uses]
    bare = [claim for claim in many if not claim.backed]
    unlevelled = [claim for claim in sourced if any(use.level is None for use in claim.uses)]
    return Coverage(kind, len(many), len(sourced), len(common), len(bare), len(unlevelled))


def review(
    library: Library, found: Iterable[Claim], notices: Mapping[str, tuple[Notice, ...]]
) -> tuple[WeighedClaim, ...]:
    """Return the claims by what is most due: first those on a withdrawn source, then by risk x age, then by risk."""
    weighed = [_weighed(library, claim, notices) for claim in found if claim.uses or claim.kind in NEED_BACKING]
    return tuple(sorted(weighed, key=_urgency))


def _urgency(weighed: WeighedClaim) -> tuple[bool, int, int, str, int]:
    return (not weighed.doubted, -weighed.weight, -weighed.claim.risk, weighed.claim.at.file, weighed.claim.at.line)


def _weighed(library: Library, claim: Claim, notices: Mapping[str, tuple[Notice, ...]]) -> WeighedClaim:
    keys = list(dict.fromkeys(str(use.source) for use in claim.uses))
    doubted = tuple(key for key in keys if any(notice.kind in _WITHDRAWN for notice in notices.get(key, ())))
    standing = [library.sources[key] for key in keys if key in library.sources and key not in doubted]
    years = [source.year for source in standing if source.year is not None]
    if not years:
        return WeighedClaim(claim, None, None, 0, doubted)
    age = max(0, library.today.year - max(years))
    return WeighedClaim(claim, max(years), age, claim.risk * age, doubted)

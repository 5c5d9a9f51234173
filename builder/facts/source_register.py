"""The register of sources: what rests on each, how claims are covered, how old their sources are, what to review."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from builder.facts.claims import NEED_BACKING, Claim, ClaimKind, SourceUse, claims, resting
from builder.facts.source_standing import notices_on
from builder.load.sources.notices import Notice, NoticeKind
from builder.model.library import Library
from builder.model.styles.registry import format_in

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

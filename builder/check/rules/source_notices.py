"""No source has been withdrawn, the lists that say so are fresh, and cautions, doses and aftercare are backed."""

import re
from collections.abc import Iterator
from datetime import timedelta

from builder.check.hit import Hit, finds
from builder.facts.claims import GRAVE, NEED_BACKING, Claim, ClaimKind, claims, resting
from builder.facts.source_register import months_old, notice_lists, notices_on
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import counted, quoted
from builder.load.sources.notices import Notice, NoticeKind
from builder.model.fields import Proposable
from builder.model.library import Library
from builder.model.pages import Levels
from builder.place import Place


@finds("source-retracted")
def retracted(library: Library) -> Iterator[Hit]:
    """Yield each use of a retracted source: an error under a caution or dose."""
    hint = "Cite another source, or remove what rests on this one."
    for place, key, notice, claim in _uses(library, NoticeKind.RETRACTED):
        severity = Severity.ERROR if claim is not None and claim.kind in GRAVE else None
        message = f"{quoted(key)} was retracted ({notice.date}){_why(notice)}"
        message += f"; republished as {notice.successor}" if notice.successor else ""
        yield Hit(place, message, hint, _row(notice), severity=severity)


@finds("source-in-doubt")
def doubted(library: Library) -> Iterator[Hit]:
    """Yield each use of a source with an expression of concern, and, as a note, of a corrected one."""
    for place, key, notice, _ in _uses(library, NoticeKind.CONCERN):
        message = f"{quoted(key)} is under an expression of concern ({notice.date}){_why(notice)}"
        yield Hit(
            place, message, "Look for another source, or say beside the claim that this one is in doubt.", _row(notice)
        )
    for place, key, notice, _ in _uses(library, NoticeKind.CORRECTED):
        message = f"{quoted(key)} was corrected ({notice.date}){_why(notice)}"
        hint = "Read the correction, and make sure that the claim still holds."
        yield Hit(place, message, hint, _row(notice), severity=Severity.NOTE)


@finds("source-superseded")
def superseded(library: Library) -> Iterator[Hit]:
    """Yield each use of a source that another one has taken the place of, naming that one."""
    for place, key, notice, _ in _uses(library, NoticeKind.SUPERSEDED):
        message = f"{quoted(key)} was superseded ({notice.date}) by {notice.successor}{_why(notice)}"
        yield Hit(place, message, "Read the successor, and cite it where the claim still holds.", _row(notice))


def _uses(library: Library, kind: NoticeKind) -> Iterator[tuple[Place, str, Notice, Claim | None]]:
    """Yield each use of a source with a notice of ``kind``; a source that nothing cites is shown where it stands."""
    by_key = resting(library)
    for key, notices in notices_on(library).items():
        for notice in notices:
            if notice.kind is kind:
                for claim, use in by_key.get(key, ()):
                    yield use.source.at, key, notice, claim
                if key not in by_key:
                    yield library.sources[key].key.at, key, notice, None


def _why(notice: Notice) -> str:
    return f": {notice.note}" if notice.note else ""


def _row(notice: Notice) -> tuple[SecondPlace, ...]:
    return (SecondPlace(notice.at, "the notice"),)


@finds("notices-out-of-date")
def old_lists(library: Library) -> Iterator[Hit]:
    """Yield each list of notices that is undated, dated in the future, or older than the department allows."""
    most = library.department.notices_months
    hint = "Fetch a new list, and run `prescrub sources notices FILE.csv`."
    for one in notice_lists(library):
        if one.dated is None:
            if not one.written_day:
                message = "this list does not say which day it is from"
                yield Hit(one.at, message, "Add a first line such as `# dated: 2026-11-20`.")
        elif one.dated > library.today:
            yield Hit(one.at, f"{quoted(one.dated.isoformat())} is in the future", "Correct the day of the list.")
        elif months_old(one.dated, library.today - timedelta(days=1)) >= most:
            months = months_old(one.dated, library.today)
            age, allowed = counted(months, "month"), counted(most, "month")
            message = f"{quoted(one.dated.isoformat())} is {age} ago; the department allows {allowed}"
            yield Hit(one.at, message, hint)


@finds("notices-unreadable")
def unreadable_notices(library: Library) -> Iterator[Hit]:
    """Yield each row of a list of notices that cannot be used: it may hide a retraction."""
    for one in notice_lists(library):
        for fault in one.faults:
            yield Hit(fault.at, fault.message, fault.hint)


@finds("notices-missing")
def no_lists(library: Library) -> Iterator[Hit]:
    """Yield one hit where sources are cited and no list says whether they still stand."""
    unread = any(kind == "notices" for kind, _, _ in library.broken)
    if library.sources and not notice_lists(library) and not unread:
        first = next(iter(library.sources.values()))
        message = "no list in references/notices/ says whether any source has been withdrawn"
        yield Hit(Place(first.key.at.file), message, "Run `prescrub sources notices FILE.csv` with a public list.")


@finds("claim-without-source")
def without_source(library: Library) -> Iterator[Hit]:
    """Yield each caution, dose and aftercare item that has no source and is not said to be common practice.

    What a draft proposed and nobody has confirmed is no claim of the department yet: that alone keeps it from review.
    """
    proposed = {page.file for _, page in pages(library) if isinstance(page, Proposable) and page.proposed}
    names = {ClaimKind.CAUTION: "a caution", ClaimKind.DOSE: "a dose", ClaimKind.AFTERCARE: "an aftercare item"}
    for claim in claims(library):
        is_proposed = claim.kind is not ClaimKind.DOSE and claim.at.file in proposed
        if claim.kind in NEED_BACKING and not claim.backed and not is_proposed:
            message = f"{quoted(claim.words)} is {names[claim.kind]} that no source backs"
            hint = "Add `evidence:` with a source, or `common_practice: true` if there is none."
            yield Hit(claim.at, message, hint)


_OCEBM = re.compile(r"[1-5]")
_GRADE = frozenset({"high", "moderate", "low", "very low"})
_OCEBM_2009 = re.compile(r"[1-4][abc]-?|5-", re.IGNORECASE)


@finds("level-unknown")
def unknown_levels(library: Library) -> Iterator[Hit]:
    """Yield each level of evidence that is none of the scheme the department has chosen."""
    scheme = library.department.levels
    for claim in claims(library):
        for use in claim.uses:
            if use.level is not None and not is_level(str(use.level), scheme):
                yield Hit(use.level.at, *_no_level(str(use.level), scheme))


def is_level(level: str, scheme: Levels) -> bool:
    """Tell whether ``level`` is one of ``scheme``: OCEBM 2011 (1 to 5) or GRADE (high, moderate, low, very low)."""
    if scheme is Levels.OCEBM:
        return bool(_OCEBM.fullmatch(level.strip()))
    return " ".join(level.lower().split()) in _GRADE


def _no_level(level: str, scheme: Levels) -> tuple[str, str]:
    if scheme is Levels.GRADE:
        return f"{quoted(level)} is not a GRADE certainty", "Write high, moderate, low or very low."
    told = " (letters belong to the scheme of 2009)" if _OCEBM_2009.fullmatch(level.strip()) else ""
    return f"{quoted(level)} is not a level of OCEBM 2011{told}", "Write 1, 2, 3, 4 or 5."

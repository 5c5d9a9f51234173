"""Claims: the statements of a department that something must back, each with the sources it rests on."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from builder.facts.remembered import once_per_library
from builder.facts.walk import doses, pages
from builder.load.program_words import gettext
from builder.model.citation import Citation, is_locator
from builder.model.dose import Dose
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Signal, Step, is_shared
from builder.place import Place, Text


class ClaimKind(StrEnum):
    """What makes a claim."""

    CAUTION = "caution"
    DOSE = "dose"
    AFTERCARE = "aftercare"
    STEP = "step"
    PROCEDURE = "procedure"
    PAGE = "page"


NEED_BACKING = frozenset({ClaimKind.CAUTION, ClaimKind.DOSE, ClaimKind.AFTERCARE})
"""These have a source or say that they are common practice."""

GRAVE = frozenset({ClaimKind.CAUTION, ClaimKind.DOSE})
"""A retracted source under one of these is an error."""

# How much harm a wrong claim can do, 1 to 5: our own scale, used for nothing but the order of the review list.
_RISK_OF_SIGNAL = {Signal.DANGER: 5, Signal.WARNING: 4, Signal.CAUTION: 3, Signal.NOTICE: 1}
_RISK = {ClaimKind.DOSE: 5, ClaimKind.AFTERCARE: 3, ClaimKind.STEP: 2, ClaimKind.PROCEDURE: 1, ClaimKind.PAGE: 1}
_RISK_OF_CRITICAL_STEP = 4


@dataclass(frozen=True, slots=True)
class SourceUse:
    """One citation: the ``source`` (a key that knows its place), where in it, at which level of evidence."""

    source: Text
    locator: str = ""
    level: Text | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """One statement: what it is and ``says`` ("" for the front page), where it stands, the procedures it belongs to,
    its uses of sources.

    ``risk`` is 1 (least) to 5; ``name`` is what a reader calls the claim, such as danger or critical step. ``backed``
    tells whether it has a source of its own or of the item it belongs to, or is said to be common practice.
    """

    kind: ClaimKind
    id: str
    says: str
    at: Place
    procedures: tuple[str, ...]
    uses: tuple[SourceUse, ...]
    common_practice: bool
    risk: int
    backed: bool
    name: str

    @property
    def words(self) -> str:
        """What it says, as a reader meets it among other claims."""
        if self.kind is ClaimKind.DOSE:
            return gettext("dose of %(drug)s", drug=self.says)
        return self.says or gettext("front page")


@once_per_library
def claims(library: Library) -> tuple[Claim, ...]:
    """Return every claim of ``library``, in the order of its pages, each once."""
    users = _users(library)
    found: list[Claim] = []
    for home, page in pages(library):
        procedures = (str(home.id),) if home is not None else tuple(users.get(page.file, ()))
        found.extend(_of_page(page, procedures))
    return tuple(found)


@once_per_library
def resting(library: Library) -> Mapping[str, list[tuple[Claim, SourceUse]]]:
    """Return, by key of the source, every use of it with the claim that it backs."""
    by_key: dict[str, list[tuple[Claim, SourceUse]]] = defaultdict(list)
    for claim in claims(library):
        for use in claim.uses:
            by_key[str(use.source)].append((claim, use))
    return dict(by_key)


def _users(library: Library) -> Mapping[str, list[str]]:
    """Return the ids of the procedures that use each shared page, by its file."""
    found: dict[str, list[str]] = defaultdict(list)
    for procedure in library.procedures:
        for part in (*procedure.cautions.values(), *procedure.aftercare_items.values()):
            if is_shared(part):
                found[part.file].append(str(procedure.id))
    return found


def _of_page(page: Page, procedures: tuple[str, ...]) -> Iterator[Claim]:
    cited = _cited(page.evidence) if isinstance(page, Procedure | Step | Caution | Aftercare) else ()
    uses = (*cited, *_linked(page))
    common = isinstance(page, Procedure | Step | Caution | Aftercare) and page.common_practice
    inner = doses(page)
    # An aftercare item with a dose is about that dose: what backs the one backs the other. A step is about much else.
    shared_backing = isinstance(page, Aftercare)
    backed = bool(uses) or common or (shared_backing and any(_is_backed(dose) for dose in inner))
    kind, key = _MADE_BY.get(type(page), (ClaimKind.PAGE, ""))
    # A claim without a source is shown where its words stand, and so is every other.
    words = getattr(page, key) if key else Text("", Place(page.file))
    risk, name = _weighed(page, kind)
    yield Claim(kind, str(page.id), str(words), words.at, procedures, uses, common, risk, backed, name)
    for dose in inner:
        dose_backed = _is_backed(dose) or (shared_backing and (bool(uses) or common))
        told = (str(page.id), str(dose.drug), dose.drug.at, procedures, _cited(dose.evidence), dose.common_practice)
        yield Claim(ClaimKind.DOSE, *told, _RISK[ClaimKind.DOSE], dose_backed, ClaimKind.DOSE.value)


def _is_backed(dose: Dose) -> bool:
    return bool(dose.evidence) or dose.common_practice


def _cited(evidence: Iterable[Citation]) -> tuple[SourceUse, ...]:
    return tuple(SourceUse(cited.source, str(cited.locator or ""), cited.level) for cited in evidence)


def _linked(page: Page) -> tuple[SourceUse, ...]:
    """What words of a link say where in the source it looks belongs to its first key, as in the outputs."""
    return tuple(
        SourceUse(target, link.words if number == 0 and is_locator(link.words) else "")
        for link in page.body.links
        if link.kind == "source" and link.clear
        for number, target in enumerate(link.targets)
        if target
    )


_MADE_BY: Mapping[type[Page], tuple[ClaimKind, str]] = {
    Caution: (ClaimKind.CAUTION, "hazard"),
    Aftercare: (ClaimKind.AFTERCARE, "title"),
    Step: (ClaimKind.STEP, "title"),
    Procedure: (ClaimKind.PROCEDURE, "title"),
}
"""What a page claims, and the key that holds its words."""


def _weighed(page: Page, kind: ClaimKind) -> tuple[int, str]:
    """Return how much harm a wrong claim of ``page`` can do, and what a reader calls it."""
    if isinstance(page, Caution):
        return _RISK_OF_SIGNAL[page.signal], page.signal.value
    is_critical = isinstance(page, Step) and page.critical
    return (_RISK_OF_CRITICAL_STEP, "critical step") if is_critical else (_RISK[kind], kind.value)

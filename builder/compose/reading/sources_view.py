"""What a module rests on, page by page, and the department's sources to choose from."""

from collections.abc import Iterator
from dataclasses import dataclass

from builder.compose.view.outline import cautions_met, outline, step_blocks
from builder.edit.forms.picks import Pick, picks
from builder.findings.message_words import counted
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Step


@dataclass(frozen=True, slots=True)
class CitedSource:
    """A source on a page: its key, what it is, and the place in its text."""

    key: str
    about: str
    at: str


@dataclass(frozen=True, slots=True)
class RestingPage:
    """A page of the module: what it says, and what that rests on; ``kind`` is what it is called."""

    page: str
    kind: str
    number: str
    words: str
    cited: tuple[CitedSource, ...]
    is_practice: bool


@dataclass(frozen=True, slots=True)
class SourcesView:
    """The screen: pages that rest on nothing yet, the other pages, the sources there are, and those only begun."""

    waiting: tuple[RestingPage, ...]
    resting: tuple[RestingPage, ...]
    sources: tuple[Pick, ...]
    begun: tuple[str, ...]

    @property
    def said(self) -> str:
        """How much rests on nothing yet, in words."""
        return f"{counted(len(self.waiting), 'part')} of {len(self.waiting) + len(self.resting)} rest on nothing yet"


def sources_in(library: Library, procedure: Procedure) -> SourcesView:
    """Return what the pages of ``procedure`` rest on."""
    pages = list(_pages(library, procedure))
    begun = tuple(key for key, one in library.sources.items() if is_not_said(one.fields.get("title", "")))
    return SourcesView(
        tuple(page for page in pages if not page.cited and not page.is_practice),
        tuple(page for page in pages if page.cited or page.is_practice),
        tuple(_all_sources(library)),
        begun,
    )


def _all_sources(library: Library) -> Iterator[Pick]:
    yield from picks(library, {"for": "sources"}, most=len(library.sources))[0]


def _pages(library: Library, procedure: Procedure) -> Iterator[RestingPage]:
    home = f"content/procedures/{procedure.id}/"
    about = dict(_all_sources(library))

    def page(one: Procedure | Step | Caution | Aftercare, kind: str, words: str, number: str = "") -> RestingPage:
        cited = tuple(
            CitedSource(str(use.source), about.get(str(use.source), ""), str(use.locator or "")) for use in one.evidence
        )
        return RestingPage(str(one.file).removeprefix(home), kind, number, words, cited, one.common_practice)

    blocks = outline(procedure)
    yield page(procedure, "Procedure", str(procedure.title))
    for block in step_blocks(blocks):
        if block.turn == 1:
            yield page(block.step, "Step", str(block.step.title), block.number)
    for caution in cautions_met(procedure, blocks):
        if str(caution.file).startswith(home):
            yield page(caution, "Caution", str(caution.avoid if is_not_said(caution.hazard) else caution.hazard))
    for item in procedure.aftercare_items.values():
        if str(item.file).startswith(home):
            yield page(item, "Aftercare", str(item.title))

"""What is shown was mentioned before, and nothing points to what an output leaves out."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.quantities import quantities
from builder.facts.texts import corpus
from builder.facts.walk import has_unknown_step, pages, reading_orders, withdrawn
from builder.findings.message_words import quoted
from builder.load.prose import Link
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Step


@finds("figure-not-mentioned", piecewise=True)
def figures_not_mentioned(library: Library) -> Iterator[Hit]:
    """Yield each figure of a step that no text up to there points to: a reader meets it unprepared."""
    for procedure in library.procedures:
        if not any(
            isinstance(page, Step | Procedure) and page.figure for page in (procedure, *procedure.steps.values())
        ):
            continue
        pointed: set[str] = set()
        for page in reading_orders(library)[procedure.id]:
            here = [link for link in page.body.links if link.kind == "figure"]
            pointed |= {str(target) for link in here for target in link.targets}
            # Without prose the title stands right before the figure; a link that is wrong has its own finding.
            silent = page.body.source.strip() and not here
            for figure in page.figure if isinstance(page, Step | Procedure) and silent else ():
                if figure.id not in pointed:
                    hint = f"Point to it where it helps: `[see how](figure:{figure.id})`."
                    yield Hit(figure.file.at, f"{quoted(figure.file)} is shown before any text mentions it", hint)


@finds("table-not-mentioned", piecewise=True)
def tables_not_mentioned(library: Library) -> Iterator[Hit]:
    """Yield each table in prose that the text before it does not mention."""
    for piece in corpus(library).pieces:
        if piece.role != "prose" or "|" not in piece.page.body.source:
            continue
        source = piece.page.body.source
        start = _first_table(source)
        if start is not None and "table" not in source[:start].casefold():
            hint = "Say before it what it shows, for instance `The table shows ...`."
            yield Hit(piece.page.body.place(start), "a table is shown before the text mentions it", hint)


def _first_table(source: str) -> int | None:
    """Return where the line of dashes of the first table starts."""
    start = 0
    for line in source.split("\n"):
        if "|" in line and "---" in line and not line.strip(" \t:|-"):
            return start
        start += len(line) + 1
    return None


@finds("pointer-to-nothing", piecewise=True)
def pointers_to_nothing(library: Library) -> Iterator[Hit]:
    """Yield each link in prose to a part that exists and that no output of this procedure shows."""
    shown: dict[str, set[tuple[str, str]]] = {}
    for home, page in pages(library):
        for link in page.body.links:
            if link.kind == "procedure":
                for target in withdrawn(library).intersection(link.targets):
                    hint = "Remove the link, or point to another procedure."
                    yield Hit(link.at, f"{quoted(target)} is a procedure that was withdrawn", hint)
            elif home is not None and link.kind in _HINTS and not has_unknown_step(library, home):
                if home.id not in shown:
                    shown[home.id] = {(_kind(one), str(one.id)) for one in reading_orders(library)[home.id]}
                yield from _unshown(home, link, shown[home.id])


def _unshown(home: Procedure, link: Link, shown: set[tuple[str, str]]) -> Iterator[Hit]:
    parts = home.parts
    exists = {"step": parts.steps, "caution": parts.cautions, "aftercare": parts.aftercare}[link.kind]
    for target in link.targets:
        if (link.kind, str(target)) not in shown and target in exists:
            message = f"{quoted(target)} is a {link.kind} that no output of this procedure shows"
            yield Hit(target.at, message, _HINTS[link.kind])


_HINTS = {
    "step": "Put the step into `sequence:`, or remove the link.",
    "caution": "Name the caution in a step, or remove the link.",
    "aftercare": "Name it in `aftercare:` of the procedure, or remove the link.",
}


def _kind(page: object) -> str:
    kinds = ((Step, "step"), (Caution, "caution"), (Aftercare, "aftercare"))
    return next((kind for model, kind in kinds if isinstance(page, model)), "procedure")


_NUMBERED = re.compile(r"(?:^|[^A-Za-z\[])(?P<words>(?:[Ss]teps?|[Ff]igures?|[Ff]igs?\.?|[Tt]ables?) )$")
_BEFORE_NUMBER = frozenset(("p ", "s ", "e ", "g ", ". "))
"""How what ``_NUMBERED`` looks for ends, as it does before few numbers."""
_DIRECTIONS = (
    "see above", "see below", "shown above", "shown below", "listed above", "listed below", "described above",
    "as above", "as below", "overleaf", "next page",
)  # fmt: skip


@finds("pointer-typed-by-hand", piecewise=True)
def pointers_by_hand(library: Library) -> Iterator[Hit]:
    """Yield each number of a step, figure or table typed by hand, and each above and below: outputs differ."""
    texts = corpus(library)
    hint = "Link to it: `[the opening](step:open-canal)` or `[](figure:canal)`; the number is then filled in."
    for written in quantities(library):
        if written.glued or texts.whole[written.start - 2 : written.start] not in _BEFORE_NUMBER:
            continue
        match = _NUMBERED.search(texts.whole, max(0, written.start - 9), written.start)
        if match is not None and written.number.isdigit():
            shown = f"{match['words']}{written.number}"
            message = f"{quoted(shown)} is typed by hand, and another output may number it differently"
            yield Hit(texts.place(match.start("words")), message, hint)
    for words in _DIRECTIONS:
        start = texts.whole.find(words)
        while start >= 0:
            message = f"{quoted(words)} points to a place that may be elsewhere in another output"
            yield Hit(texts.place(start), message, hint)
            start = texts.whole.find(words, start + 1)

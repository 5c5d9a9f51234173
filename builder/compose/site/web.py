"""What every page of the site shares: its way to the root, its frame, the Markdown it is handed over in, and what
it offers: papers, the self-test, the page as one file."""

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from builder.compose.document import Document, Renderer
from builder.compose.view.outline import every_block
from builder.compose.view.parts_view import AftercareView, CautionView, DoseView, ProcedureView, StepView
from builder.compose.view.words import USUAL_CAUTION, plain
from builder.grouping import grouped
from builder.model.library import Library

_WORD = re.compile(r"[^\W_]+")
_MARKS = re.compile(r"[\u0300-\u036f]")


class SearchSection(NamedTuple):
    """A part of a page: its ``anchor`` ("" = the page itself), its ``title``, what a result ``shows`` of it, and the
    further ``words`` that lead to it."""

    anchor: str
    title: str
    shows: str
    words: str


@dataclass(frozen=True, slots=True)
class WebPage(Document):
    """A page of the site; ``sections`` are what its search box finds in it."""

    sections: tuple[SearchSection, ...] = ()


def way_to_root(name: str) -> str:
    """Return the relative way from the page ``name`` to the root of the site: ``.`` or ``..`` and so on."""
    return "/".join([".."] * name.count("/")) or "."


def frame(library: Library, renderer: Renderer, root: str, *, is_front: bool = False) -> dict[str, str]:
    """Return what stands above and below a page: ``header`` and ``footer``, with links that start at ``root``.

    The front page names the department itself and has a search box of its own.
    """
    department = library.department
    values = {
        "root": root,
        "department": str(department.name),
        "is_front": is_front,
        "usual_caution": USUAL_CAUTION,
        "call": [(str(contact.role), str(contact.number)) for contact in department.call],
    }
    return {part: renderer.render(f"site/{part}.html.j2", **values) for part in ("header", "footer")}


def page_text(library: Library, title: str, description: str, html: str) -> str:
    """Return a page of the department as ``as_markdown`` does, its title followed by the department's name."""
    return as_markdown(f"{title} · {library.department.name}", description, html)


def as_markdown(title: str, description: str, html: str, frame: str = "") -> str:
    """Return a page for the site engine: title, description, and ``html`` as one block that Markdown passes through.

    ``html`` is one element, so that nothing in it, whatever an educator wrote, is read as Markdown. JSON is YAML.
    ``frame`` names the frame where it is not that of the page's way to the root.
    """
    front = {"title": title, "description": description, "frame": frame}
    lines = "".join(f"{key}: {json.dumps(value)}\n" for key, value in front.items())
    return f"---\n{lines}---\n{html}\n"


@dataclass(frozen=True, slots=True)
class Offer:
    """A file that was made: its address, its name, its form, and the shelf it stands on ("" = none).

    ``place`` is its place among all offers, ``first`` that among the few which are wanted in a hurry (0 = none).
    """

    href: str
    label: str
    form: str
    shelf: str
    place: int
    first: int = 0


def shelves_of(offers: Iterable[Offer], folder: str) -> dict[str, list[Offer]]:
    """Return what a page in ``folder`` offers, by its purpose."""
    in_order = sorted(offers, key=lambda offer: offer.place)
    return grouped((offer.shelf, _seen_from(folder, offer)) for offer in in_order if offer.shelf)


def first_of(offers: Iterable[Offer], folder: str = "") -> tuple[Offer, ...]:
    """Return the few offers that are wanted in a hurry."""
    wanted = (offer for offer in offers if offer.shelf and offer.first)
    return tuple(_seen_from(folder, offer) for offer in sorted(wanted, key=lambda offer: offer.first))


def _seen_from(folder: str, offer: Offer) -> Offer:
    return replace(offer, href=offer.href.removeprefix(folder))


def index_entry(name: str, title: str, sections: Iterable[SearchSection]) -> str:
    """Return the page ``name`` as the index holds it: ``[name, title, [[anchor, title, shows, words], ...]]``."""
    return json.dumps([name, title, [*sections]], separators=(",", ":"))


def index_script(entries: Iterable[str]) -> str:
    """Return the index as a script, because a page opened from a file may not fetch."""
    return f"window.searchIndex=[{','.join(entries)}];\n"


def folded(text: str) -> str:
    """Return ``text`` as words are compared: small letters without accents."""
    return _MARKS.sub("", unicodedata.normalize("NFD", text.casefold()))


def sections_of(view: ProcedureView) -> Iterator[SearchSection]:
    """Yield the sections of a procedure's page in reading order."""
    yield _section("", view.page.title, view.summary, view.page.specialty, view.setting, view.body_html)
    if view.kit:
        yield _section("kit", "Kit", ", ".join(item.name for item in view.kit))
    for block in every_block(view.blocks):
        yield from map(_of_caution, block.cautions)
        if isinstance(block, StepView):
            yield _of_step(block)
    yield from map(_of_aftercare, view.aftercare)
    for reference in view.references:
        yield _section(reference.anchor, f"Reference {reference.number}", plain(reference.html, " "))


def _of_step(step: StepView) -> SearchSection:
    page = step.page
    shows = ". ".join([*step.actions, page.cue or ""])
    more = (page.if_not, page.why, page.error, page.recovery, page.call, step.body_html, *map(_dose, step.doses))
    names = (name.name for figure in step.figures for name in figure.pointers)
    return _section(step.anchor, f"{step.number} {page.title}", shows, *more, *names)


def _of_caution(caution: CautionView) -> SearchSection:
    page = caution.page
    more = (page.sign, page.if_it_happens, page.call, caution.body_html)
    return _section(caution.anchor, f"{caution.signal_word}: {page.hazard}", f"{page.consequence} {page.avoid}", *more)


def _of_aftercare(item: AftercareView) -> SearchSection:
    shows = ". ".join(part for part in (item.when, item.page.patient_text) if part)
    more = (item.page.who, item.concerns, item.body_html, *map(_dose, item.doses))
    return _section(item.anchor, item.page.title, shows, *more)


def _dose(dose: DoseView) -> str:
    return f"{dose.drug} {' '.join(value for _, value in dose.lines)}"


def _section(anchor: str, title: str, shows: str, *more: str | None) -> SearchSection:
    known = set(_WORD.findall(folded(f"{title} {shows}")))
    words = {word for text in more for word in _WORD.findall(folded(plain(text or "", " ")))}
    return SearchSection(anchor, title, shows, " ".join(sorted(words - known)))

"""Every source that is cited is in references/, and every link in prose can be followed."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.walk import citations, figures, links, pages, procedures_with_broken
from builder.findings.message_words import NearSpelling, mend, near, quoted
from builder.load.prose import LINK_KINDS, Link
from builder.model.fields import Page
from builder.model.library import Library
from builder.place import Text

# A kind of our own is written like a scheme; these are the schemes that a link in a department's prose may have.
_SCHEMES = frozenset({"http", "https", "mailto", "tel"})
_TARGET = re.compile(
    r"(?P<picture>!?)\[[^\[\]]*\]\(\s*<?(?P<inline>[^\s()<>]+)|^ {0,3}\[[^\[\]]+\]:\s*<?(?P<below>[^\s<>]+)",
    re.MULTILINE,
)
_HAS_SCHEME = re.compile(r"[A-Za-z][\w+.-]*\s*:")
_KIND = re.compile(r"\]\(\s*(?P<kind>[A-Za-z][\w+.-]*)\s*:")


@finds("source-unknown")
def unknown_sources(library: Library) -> Iterator[Hit]:
    """Yield each citation, in front matter or prose, of a key that no file in references/ has."""
    if any(kind == "sources" for kind, _, _ in library.broken):
        return
    known = library.sources
    speller = NearSpelling(known)
    for name in _cited(library):
        if name not in known:
            hint = speller.mend(name, "Add the source to a .bib file in references/, or write a key from there.")
            yield Hit(name.at, f"{quoted(name)} is not a source in references/", hint)


def _cited(library: Library) -> Iterator[Text]:
    for citation in citations(library):
        yield citation.source
    for _, _, target in links(library, "source"):
        yield target


@finds("figure-unknown")
def unknown_figures(library: Library) -> Iterator[Hit]:
    """Yield each link to a figure that no file of the procedure describes."""
    described: dict[str, set[str]] = {}
    for procedure, figure in figures(library):
        described.setdefault(procedure.id, set()).add(figure.id)
    doubtful = procedures_with_broken(library, ("step", "procedure"))
    for home, _, target in links(library, "figure"):
        if home is not None and home.id in doubtful:
            continue
        known = described.get(home.id, set()) if home is not None else set()
        if target not in known:
            hint = mend(target, known, "Describe it with `figure:` in the step that shows it.")
            where = "described in this procedure" if home is not None else "described for this page"
            yield Hit(target.at, f"{quoted(target)} is not a figure {where}", hint)


@finds("link-unclear", piecewise=True)
def unclear_links(library: Library) -> Iterator[Hit]:
    """Yield each link in prose that CommonMark or the builder would not follow.

    CommonMark 0.31.2, section 6.3: a link destination that is not in <> contains no spaces.
    """
    for _, page in pages(library):
        for link in page.body.links:
            yield from _unclear(link)
        if "](" in page.body.source:
            yield from _unknown_kinds(page)
        if "[" in page.body.source:
            yield from _addresses_of_nothing(page)


def _unclear(link: Link) -> Iterator[Hit]:
    if not link.clear:
        written = ",".join("-".join(target.split()) for target in link.targets)
        message = f"{quoted(', '.join(link.targets))} has a space in it, so this is not a link"
        yield Hit(link.targets[0].at, message, f"Write `({link.kind}:{written})` without spaces.")
    elif not all(link.targets):
        empty = next(target for target in link.targets if not target)
        yield Hit(empty.at, f"{quoted(f'{link.kind}:')} names nothing", f"Write an id after `{link.kind}:`.")


def _unknown_kinds(page: Page) -> Iterator[Hit]:
    for match in _KIND.finditer(page.body.source):
        kind = match["kind"]
        if kind not in LINK_KINDS and kind.lower() not in _SCHEMES:
            found = near(kind.lower(), LINK_KINDS)
            hint = f"Write `{found}:`." if found else f"Write one of: {', '.join(f'{one}:' for one in LINK_KINDS)}."
            yield Hit(page.body.place(match.start("kind")), f"{quoted(kind)} is not a kind of link", hint)


def _addresses_of_nothing(page: Page) -> Iterator[Hit]:
    """Yield each target that leads nowhere once the page is on paper or in another place of the site: `//host`, a file
    beside it, an anchor."""
    for match in _TARGET.finditer(page.body.source):
        group = "inline" if match["inline"] else "below"
        if not match["picture"] and not _HAS_SCHEME.match(match[group]):
            hint = (
                f"Write the whole address, from `https://` on, or one of: {', '.join(f'{one}:' for one in LINK_KINDS)}."
            )
            at = page.body.place(match.start(group))
            yield Hit(at, f"{quoted(match[group])} leads nowhere from a paper", hint)

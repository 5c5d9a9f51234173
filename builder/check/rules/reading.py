"""The order in which words are read: an abbreviation is spelt out first, and each thing is written one way."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from builder.check.hit import Hit, finds, finds_over_all
from builder.facts.catalogue_names import items_named
from builder.facts.remembered import once_per_department
from builder.facts.texts import Corpus, TextPiece, corpus
from builder.facts.walk import reading_orders
from builder.findings.finding import SecondPlace
from builder.findings.message_words import listed, quoted
from builder.load.packs import words
from builder.model.fields import Page
from builder.model.library import Library
from builder.model.pages import ItemKind, Procedure, Term, is_shared

# What each output shows, by the role of a text; None shows everything. Card, sheets and script leave prose out.
_OUTPUTS: Mapping[str, frozenset[str] | None] = {
    "the page and the handout": None,
    "the pocket card": frozenset(
        {"before_you_start", "title", "cue", "if_not", "hazard", "avoid", "sign", "if_it_happens", "call"}
    ),
    "the what-now sheet": frozenset({"hazard", "sign", "if_it_happens", "if_not", "call"}),
    "the rehearsal script and the slides": frozenset({"title", "cue", "what"}),
    "the patient's sheet": frozenset({"patient_text"}),
}
_ROLES = ("title", "summary", "prose", "what", "cue", "if_not")
"""In this order a step's texts are shown; any others follow."""


class _Use(NamedTuple):
    term: Term
    start: int
    end: int
    piece: TextPiece


@finds("abbreviation-not-spelt-out", piecewise=True)
def not_spelt_out(library: Library) -> Iterator[Hit]:
    """Yield each abbreviation of the terms that an output would show before it is spelt out.

    Spelt out is ``long form (short form)``, or ``short form (long form)``, at its first use in that output.
    """
    yield from _not_spelt_in(library, [one for one in library.procedures if not _has_shared_pages(one)])


@finds_over_all("abbreviation-not-spelt-out")
def not_spelt_out_with_shared_pages(library: Library) -> Iterator[Hit]:
    """Yield the same of each procedure that shows pages which others show too."""
    yield from _not_spelt_in(library, [one for one in library.procedures if _has_shared_pages(one)])


def _has_shared_pages(procedure: Procedure) -> bool:
    return any(map(is_shared, (*procedure.cautions.values(), *procedure.aftercare_items.values())))


def _not_spelt_in(library: Library, procedures: list[Procedure]) -> Iterator[Hit]:
    if not procedures:
        return
    texts = corpus(library)
    by_home: dict[str, list[_Use]] = defaultdict(list)
    for use in _uses(library, texts):
        for home in _homes(library, use.piece):
            by_home[home].append(use)
    for procedure in procedures:
        uses = by_home.get(str(procedure.id))
        if uses:
            yield from _unspelt(texts, reading_orders(library)[procedure.id], uses)


def _uses(library: Library, texts: Corpus) -> Iterator[_Use]:
    terms = {str(term.short): term for term in library.terms if str(term.short).rstrip("s").isupper()}
    if not terms:
        return
    pattern = re.compile("|".join(map(re.escape, sorted(terms, key=len, reverse=True))))
    for match in pattern.finditer(texts.whole):
        start, end = match.span()
        around = texts.whole[start - 1 : start] + texts.whole[end : end + 1]
        if not any(sign.isalnum() or sign == "_" for sign in around):
            yield _Use(terms[match.group()], start, end, texts.piece(start))


def _homes(library: Library, piece: TextPiece) -> Iterable[str]:
    if piece.home is not None:
        return (str(piece.home.id),)
    id = piece.page.id
    return [
        str(one.id)
        for one in library.procedures
        if is_shared(piece.page) and (one.cautions.get(id) is piece.page or one.aftercare_items.get(id) is piece.page)
    ]


def _unspelt(texts: Corpus, order: list[Page], uses: list[_Use]) -> Iterator[Hit]:
    ranks = {page.file: rank for rank, page in enumerate(order)}
    shown = [use for use in uses if use.piece.page.file in ranks]
    shown.sort(key=lambda use: (ranks[use.piece.page.file], _rank(use.piece.role), use.start))
    missing: dict[int, list[str]] = defaultdict(list)
    by_start = {use.start: use for use in shown}
    for output, roles in _OUTPUTS.items():
        first: dict[str, _Use] = {}
        for use in shown:
            # A patient reads no staff text: the patient's sheet is a document of its own, and so is the rest.
            if use.piece.role in roles if roles is not None else use.piece.role != "patient_text":
                first.setdefault(use.term.short, use)
        for use in first.values():
            if not _is_spelt(texts.whole, use):
                missing[use.start].append(output)
    for start, outputs in missing.items():
        use = by_start[start]
        long = use.term.plain if outputs == ["the patient's sheet"] and use.term.plain else use.term.long
        message = f"{quoted(use.term.short)} is not spelt out at its first use in {listed(outputs)}"
        yield Hit(texts.place(start), message, f"Write `{long} ({use.term.short})`, or words that need no short form.")


def _rank(role: str) -> int:
    return _ROLES.index(role) if role in _ROLES else len(_ROLES)


def _is_spelt(whole: str, use: _Use) -> bool:
    before = whole[max(0, use.start - 90) : use.start].rstrip("([ *_").casefold()
    after = whole[use.end : use.end + 90].lstrip(")] *_(").casefold()
    forms = [form.casefold() for form in (use.term.long, use.term.plain or use.term.long)]
    behind = whole[use.end : use.end + 2].lstrip().startswith("(")
    opened = "(" in whole[max(0, use.start - 3) : use.start]
    return any((opened and _ends_alike(before, form)) or (behind and after.startswith(form)) for form in forms)


def _ends_alike(text: str, form: str) -> bool:
    """Tell whether ``text`` ends with ``form``, singular or plural."""
    return text.endswith((form, f"{form}s")) or (form.endswith("s") and text.endswith(form[:-1]))


_CAPITALS = re.compile(r"[A-Z][a-z]?[A-Z][A-Za-z]*[0-9]*")


@finds("abbreviation-unknown")
def unknown_abbreviations(library: Library) -> Iterator[Hit]:
    """Yield each abbreviation that the terms do not know, once a department: nobody can spell it out."""
    if library.is_broken("terms", "terms"):
        return
    texts = corpus(library)
    known = {str(term.short) for term in library.terms} | words("household", "short")
    seen: set[str] = set()
    for match in _CAPITALS.finditer(texts.whole):
        word = match.group()
        plural = word.removesuffix("s")
        if plural in seen or known & {word, plural} or not _is_abbreviation(texts, match):
            continue
        if word in _words_of_names(library):
            continue
        seen.add(plural)
        hint = "Add it to content/catalogue/terms.yml, or write it out."
        yield Hit(texts.place(match.start()), f"{quoted(word)} is an abbreviation that the terms do not list", hint)


@once_per_department
def _words_of_names(library: Library) -> frozenset[str]:
    catalogues = (library.structures.names(), library.items.names())
    return frozenset(word for catalogue in catalogues for name in catalogue for word in name.split())


def _is_abbreviation(texts: Corpus, match: re.Match[str]) -> bool:
    start, word = match.start(), match.group()
    before = texts.whole[start - 1 : start]
    if before.isalnum() or before in tuple("-/_[") or texts.whole[match.end() : match.end() + 1] in tuple("-/_"):
        return False
    role = texts.piece(start).role
    is_short = word.rstrip("s").isupper() and not _is_explained(texts.whole, match)
    return is_short and role != "credit" and not role.startswith("dose")


def _is_explained(whole: str, match: re.Match[str]) -> bool:
    return whole[match.start() - 1 : match.start()] == "(" and whole[match.end() : match.end() + 1] == ")"


@finds("written-two-ways", piecewise=True)
def written_two_ways(library: Library) -> Iterator[Hit]:
    """Yield each word written with and without its hyphen, and each drug under two names, in one procedure."""
    texts = corpus(library)
    yield from _hyphens(texts)
    yield from _drug_names(library, texts)


_BEFORE_HYPHEN = re.compile(r"(?<![\w-])[a-z]{2,}\Z")
_AFTER_HYPHEN = re.compile(r"[a-z]{2,}(?![\w-])")
_PUNCTUATION = str.maketrans(dict.fromkeys(".,;:!?()[]\"'*_", " "))


def _hyphens(texts: Corpus) -> Iterator[Hit]:
    by_home: dict[str, dict[str, int]] = defaultdict(dict)
    for start, word in _hyphened(texts.whole):
        home = texts.piece(start).home
        if home is not None:
            by_home[home.id].setdefault(word, start)
    if not by_home:
        return
    for home_id, (first, last) in _extents(texts).items():
        if home_id not in by_home:
            continue
        written = set(texts.whole[first:last].translate(_PUNCTUATION).split())
        for word, start in by_home[home_id].items():
            joined = word.replace("-", "")
            if joined in written:
                at = texts.place(texts.whole.find(joined, first, last))
                also = (SecondPlace(texts.place(start), f"written {quoted(word)} here"),)
                yield Hit(
                    at, f"{quoted(joined)} is also written {quoted(word)}", "Write it the same way throughout.", also
                )


def _hyphened(whole: str) -> Iterator[tuple[int, str]]:
    place = whole.find("-")
    while place >= 0:
        before = _BEFORE_HYPHEN.search(whole, max(0, place - 20), place)
        after = _AFTER_HYPHEN.match(whole, place + 1) if before else None
        if before and after:
            yield before.start(), f"{before.group()}-{after.group()}"
        place = whole.find("-", place + 1)


def _extents(texts: Corpus) -> dict[str, tuple[int, int]]:
    """Return where the texts of each procedure begin and end; they stand together."""
    found: dict[str, tuple[int, int]] = {}
    for piece in texts.pieces:
        if piece.home is not None:
            first = found.get(piece.home.id, (piece.start, 0))[0]
            found[piece.home.id] = (first, texts.end(piece.start))
    return found


def _drug_names(library: Library, texts: Corpus) -> Iterator[Hit]:
    """A drug has one name; the others of the catalogue are there to be found, not to be written."""
    drugs = (item for item in items_named(library) if item.kind is ItemKind.DRUG)
    names = {str(other).casefold(): item for item in drugs for other in item.also}
    if not names:
        return
    pattern = re.compile(
        "|".join(rf"{re.escape(name)}" for name in sorted(names, key=len, reverse=True)), re.IGNORECASE
    )
    for match in pattern.finditer(texts.whole):
        around = texts.whole[match.start() - 1 : match.start()] + texts.whole[match.end() : match.end() + 1]
        inside_brackets = texts.whole[match.start() - 1 : match.start()] == "("
        if any(map(str.isalnum, around)) or inside_brackets or texts.piece(match.start()).role == "patient_text":
            continue
        name = names[match.group().casefold()].name
        message = f"{quoted(match.group())} is another name for {name}; a reader may take two names for two drugs"
        yield Hit(texts.place(match.start()), message, f"Write `{name}`.")


@finds("term-without-plain-words", piecewise=True)
def terms_without_plain_words(library: Library) -> Iterator[Hit]:
    """Yield each term in a patient's text without its plain words."""
    texts = corpus(library)
    pieces = [piece for piece in texts.pieces if piece.role == "patient_text"]
    if not library.terms or not pieces:
        return
    forms = {form.casefold(): term for term in library.terms for form in (term.short, term.long)}
    pattern = re.compile(
        rf"(?<!\w)(?:{'|'.join(map(re.escape, sorted(forms, key=len, reverse=True)))})(?!\w)", re.IGNORECASE
    )
    for piece in pieces:
        text = str(piece.text)
        for match in pattern.finditer(text):
            term = forms[match.group().casefold()]
            if (
                match.group().isupper() != str(term.short).isupper()
                and match.group().casefold() == term.short.casefold()
            ):
                continue  # "who", the word
            if term.plain is None and not match.group().isupper():
                continue  # everyday words, such as the name of an organisation
            if term.plain is None:
                hint = "Add `plain:` to its entry in content/catalogue/terms.yml, and write that for the patient."
                yield Hit(piece.place(piece.start), f"{quoted(match.group())} has no plain words for patients", hint)
            elif str(term.plain).casefold() not in text.casefold():
                message = f"{quoted(match.group())} stands in a patient's text without its plain words"
                yield Hit(piece.place(piece.start), message, f"Write `{term.plain}`.")

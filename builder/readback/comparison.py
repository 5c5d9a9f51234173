"""What all proofs share: words as they are compared, what was composed, what is missing, and what a proof tells."""

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from lxml import etree

from builder.compose.document import Must
from builder.findings.message_words import quoted

_SILENT = {"head", "style", "script", "title", "template"}
_HEADINGS = {"h1", "h2", "h3", "h4", "h5", "h6"}
# Paper mirrors brackets in text that is read from right to left, and renderers mirror some of them back.
_BRACKETS = str.maketrans(")]}»›", "([{«‹")
# Vowel signs of Arabic stand above and below their letters: from left to right they have no place that could be told.
_VOWEL_SIGNS = re.compile("[\u064b-\u0652\u0670]")


@lru_cache(maxsize=4096)  # each proof looks at each piece of text
def bare(text: str) -> str:
    """Return ``text`` as it is compared: no white space, no capitals, no vowel signs of Arabic, brackets and
    compatibility forms made equal."""
    folded = unicodedata.normalize("NFKC", text).casefold().translate(_BRACKETS).replace("ʼ", "’").replace("∆", "δ")
    if not folded.isascii():
        folded = _VOWEL_SIGNS.sub("", folded)
    return "".join(folded.replace("\u00ad", "").replace("\u200b", "").split())


def named(must: Must) -> str:
    """Return what a problem calls ``must``."""
    return f"the {must.kind.replace('-', ' ')} {quoted(must.id)} (“{must.text[:70]}”)"


def missing(musts: Iterable[Must], shown: str, compared: Callable[[str], str] = bare) -> Iterator[str]:
    """Yield which of ``musts`` are not in ``shown``, words as they are ``compared``, or not in their order."""
    at = 0
    for must in musts:
        words = compared(must.text)
        found = shown.find(words, at)
        if found >= 0:
            at = found + len(words)
        else:
            yield f"{named(must)} {'stands before what it should follow' if words in shown else 'is not there'}"


def parting(wanted: str, shown: str) -> str:
    """Return in words where ``shown`` parts from the words ``wanted``."""
    signs = enumerate(zip(wanted, shown, strict=False))
    at = next((at for at, (sign, other) in signs if sign != other), min(len(wanted), len(shown)))
    before, after = wanted[max(0, at - 30) : at], wanted[at : at + 60]
    return f"after “{before}” should stand “{after}”, but there stands “{shown[at : at + 60]}”"


@dataclass(frozen=True, slots=True)
class Composed:
    """The body of composed HTML: its words, headings ``(level, words)``, descriptions of pictures, numbers of tables,
    header cells and data cells, the language and the direction ("" where nothing is said of it)."""

    language: str
    direction: str
    title: str
    text: str
    headings: list[tuple[str, str]]
    pictures: list[str]
    tables: int
    headers: int
    cells: int


@lru_cache(maxsize=2)  # two proofs compare with it
def composed(html: str) -> Composed:
    """Read ``html`` as composed for print."""
    root = etree.fromstring(html.encode(), etree.HTMLParser(encoding="utf-8"))
    title = root.xpath("string(//title)")
    pictures = [node.get("alt", "") or node.findtext("title") or "" for node in root.iter("img", "svg")]
    etree.strip_elements(root, *_SILENT, with_tail=False)
    return Composed(
        language=root.get("lang", ""),
        direction=root.get("dir", ""),
        title=title,
        text=bare(root.xpath("string()")),
        headings=[(node.tag.upper(), bare(node.xpath("string()"))) for node in root.iter(*_HEADINGS)],
        pictures=pictures,
        tables=len(root.findall(".//table")),
        headers=len(root.findall(".//th")),
        cells=len(root.findall(".//td")),
    )

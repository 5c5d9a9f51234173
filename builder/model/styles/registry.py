"""The styles a department can choose from, by name, and references as HTML that is safe in a page and as plain text."""

from dataclasses import dataclass
from functools import cache, lru_cache
from html import escape
from typing import Any
from urllib.parse import quote

from pybtex.backends import html, plaintext
from pybtex.exceptions import PybtexError
from pybtex.plugin import find_plugin
from pybtex.richtext import Text as RichText

from builder.load.sources.bibliography import RawSource
from builder.model.pages import Style
from builder.model.styles.vancouver import MOST_NAMES, reference

DEFAULT = Style.VANCOUVER
_EVERY_NAME = 10_000
_OWN = {Style.VANCOUVER: MOST_NAMES, Style.NLM_ALL_AUTHORS: _EVERY_NAME}
"""How many authors our own styles name; NLM's own databases have listed them all since 2000."""
_OF_PYBTEX = {Style.BY_AUTHOR: "plain", Style.AS_CITED: "unsrt", Style.LETTERS_AND_YEAR: "alpha"}
_SIGNS = {"ndash": "–", "newblock": " ", "nbsp": " "}


@dataclass(frozen=True, slots=True)
class FormattedSource:
    """A reference as ``html`` (escaped, with links) and as ``text`` (the same words, no markup)."""

    html: str
    text: str


class _Html(html.Backend):  # type: ignore[misc]  # pybtex has no types
    """pybtex leaves ``<`` and ``"`` of an address as they are; old DOIs contain ``<`` and ``>``."""

    symbols = _SIGNS

    def format_protected(self, text: str) -> str:
        return text

    def format_href(self, url: str, text: str, external: bool = False) -> str:  # noqa: ARG002 (pybtex gives it)
        # RFC 3986: every character that is not allowed in a path or query is percent-encoded.
        address = quote(url, safe="%/:?#[]@!$&'()*+,;=-._~")
        return f'<a href="{escape(address)}">{text}</a>' if text else ""


class _Plain(plaintext.Backend):  # type: ignore[misc]
    symbols = _SIGNS


def _formatted(text: RichText) -> FormattedSource:
    return FormattedSource(text.render(_Html()), text.render(_Plain()))


def style_names() -> tuple[str, ...]:
    """Return the names that ``format_in`` takes, the default first."""
    return tuple(style.value for style in Style)


@cache
def _of_pybtex(name: str) -> Any:
    return find_plugin("pybtex.style.formatting", _OF_PYBTEX[Style(name)])()


@lru_cache(maxsize=8192)  # each document lists its own references, and most sources are in several
def format_in(style: str, source: RawSource) -> FormattedSource:
    """Return the reference of ``source`` in ``style``. Raises KeyError for an unknown name of a style.

    pybtex's own styles refuse an entry that lacks a field, or of a type they do not know: it is shown in Vancouver.
    """
    if style not in style_names():
        raise KeyError(style)
    if style in _OWN:
        return format_source(source, _OWN[Style(style)])
    try:
        return _formatted(_of_pybtex(style).format_entry("", source.entry).text)
    except (PybtexError, AttributeError, UnicodeError):
        return format_source(source)


def format_source(source: RawSource, most_names: int = MOST_NAMES) -> FormattedSource:
    """Return the reference of ``source`` in Vancouver: clean HTML with DOI, PMID and address linked, and plain text."""
    return _formatted(reference(source.entry, most_names))

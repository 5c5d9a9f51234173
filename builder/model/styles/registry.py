"""The styles a department can choose from, by name."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache

from pybtex.exceptions import PybtexError
from pybtex.plugin import PluginNotFound, find_plugin
from pybtex.richtext import Text as RichText

from builder.load.sources.bibliography import RawSource
from builder.model.pages import Style
from builder.model.styles import vancouver
from builder.model.styles.backends import FormattedSource, formatted

DEFAULT = Style.VANCOUVER


class AllAuthors(vancouver.Vancouver):
    """Vancouver with every author, as NLM's own databases list them since 2000."""

    most_names = 10_000


_OWN: dict[str, Callable[[], vancouver.Vancouver]] = {
    Style.VANCOUVER: vancouver.Vancouver,
    Style.NLM_ALL_AUTHORS: AllAuthors,
}
_OF_PYBTEX = tuple(style for style in Style if style not in _OWN)


def style_names() -> tuple[str, ...]:
    """Return the names that ``format_in`` takes, the default first."""
    return tuple(style.value for style in Style)


@cache
def _style(name: str) -> vancouver.Vancouver:
    """Return the style ``name``. Raises KeyError for a name that is not in ``style_names()``."""
    if name in _OWN:
        return _OWN[name]()
    if name not in _OF_PYBTEX:
        raise KeyError(name)
    try:
        style: vancouver.Vancouver = find_plugin("pybtex.style.formatting", name)()
    except PluginNotFound:
        raise KeyError(name) from None
    return style


@lru_cache(maxsize=8192)  # each document lists its own references, and most sources are in several
def format_in(style: str, source: RawSource) -> FormattedSource:
    """Return the reference of ``source`` in ``style``. Raises KeyError for an unknown name of a style.

    pybtex's own styles refuse an entry that lacks a field, or of a type they do not know: it is shown in Vancouver.
    """
    chosen = _style(style)
    try:
        reference: RichText = chosen.format_entry("", source.entry)
        # pybtex's styles give a FormattedEntry, ours the text itself.
        return formatted(getattr(reference, "text", reference))
    except (PybtexError, AttributeError, UnicodeError):
        return vancouver.format_source(source)

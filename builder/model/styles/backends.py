"""Rendering of references: HTML that is safe to place in a page, and plain text."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from urllib.parse import quote

from pybtex.backends import BaseBackend
from pybtex.richtext import Text as RichText

_SIGNS = {"ndash": "–", "newblock": " ", "nbsp": " "}


@dataclass(frozen=True, slots=True)
class FormattedSource:
    """A reference as ``html`` (escaped, with links) and as ``text`` (the same words, no markup)."""

    html: str
    text: str


class _Html(BaseBackend):  # type: ignore[misc]  # pybtex has no types
    """pybtex's own HTML backend leaves ``<`` and ``"`` of an address as they are; old DOIs contain ``<`` and ``>``."""

    symbols = _SIGNS

    def format_str(self, text: str) -> str:
        return escape(text, quote=False)

    def format_protected(self, text: str) -> str:
        return text

    def format_tag(self, tag: str, text: str) -> str:
        return f"<{tag}>{text}</{tag}>" if text else ""

    def format_href(self, url: str, text: str, external: bool = False) -> str:  # noqa: ARG002 (pybtex gives it)
        return f'<a href="{escape(safe_address(url))}">{text}</a>' if text else ""


class _Plain(BaseBackend):  # type: ignore[misc]
    symbols = _SIGNS

    def format_str(self, text: str) -> str:
        return text

    def format_protected(self, text: str) -> str:
        return text

    def format_tag(self, tag: str, text: str) -> str:  # noqa: ARG002
        return text

    def format_href(self, url: str, text: str, external: bool = False) -> str:  # noqa: ARG002
        return text


def safe_address(address: str) -> str:
    """Return ``address`` with every character that RFC 3986 does not allow in a path or query percent-encoded."""
    return quote(address, safe="%/:?#[]@!$&'()*+,;=-._~")


def formatted(reference: RichText) -> FormattedSource:
    """Return ``reference`` in both forms."""
    return FormattedSource(reference.render(_Html()), reference.render(_Plain()))

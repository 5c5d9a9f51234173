"""Nothing is written that no output shows: pictures and raw HTML are taken out when prose is cleaned."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.walk import pages
from builder.findings.message_words import quoted
from builder.load.prose import Prose
from builder.model.library import Library

# Bounded, so that a text full of brackets costs no more than its length.
_PICTURE = re.compile(r"!\[[^\]\n]{0,300}\]\s?[(\[]")
_TAG = re.compile(r"<(?:/?[a-zA-Z][a-zA-Z0-9-]{0,30}(?:\s[^<>\n]{0,300})?/?|!--)>?")
_AUTOLINK = re.compile(r"<(?:https?|mailto|tel):")
_FENCE = re.compile(r"^ {0,3}(?:```|~~~)")
_CODE = re.compile(r"`[^`\n]*`")


@finds("prose-not-shown", piecewise=True)
def prose_not_shown(library: Library) -> Iterator[Hit]:
    """Yield each picture and each HTML tag in prose: the outputs drop both."""
    for _, page in pages(library):
        if "<" in page.body.source or "![" in page.body.source:
            yield from _in_prose(page.body)


def _in_prose(prose: Prose) -> Iterator[Hit]:
    offset, fenced = 0, False
    for line in prose.source.split("\n"):
        fenced ^= bool(_FENCE.match(line))
        if not fenced:
            shown = _CODE.sub(lambda code: " " * len(code.group()), line)
            for match in _PICTURE.finditer(shown):
                hint = "Write it as `figure:` in the front matter, with alt text, credit and consent, and link to it."
                message = f"{quoted(match.group().rstrip('([ '))} is a picture in the text, which no output shows"
                yield Hit(prose.place(offset + match.start()), message, hint)
            for match in _TAG.finditer(shown):
                if not _AUTOLINK.match(match.group()):
                    message = f"{quoted(match.group()[:40])} is HTML, which no output shows"
                    hint = "Write it in Markdown; for a sign such as < before a letter, put a space after it."
                    yield Hit(prose.place(offset + match.start()), message, hint)
        offset += len(line) + 1

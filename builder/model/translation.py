"""The patient's words of a procedure in another language: ``translations/<language>.md``, beside the procedure.

The prose is what is sent to a translator: a heading for each item, each sentence of the original quoted (``> ``), its
translation below it. The original is kept word for word, not as a digest: so a change of it can be shown, and what the
translator had before their eyes can be read.
"""

import hashlib
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

from builder.load.prose import Prose
from builder.model.fields import Day, Node, Page
from builder.place import Place, Text

_DIGITS = 16


class TranslationCheck(Node):
    """Which translator checked the text, and on which day; ``content`` is the digest of what was checked."""

    by: Text
    role: Text
    on: Day
    content: Text


class TranslatedSentence(NamedTuple):
    """A sentence of ``item`` as it was when it was translated ("" = none is quoted), and its translation ("" = not
    yet)."""

    item: str
    original: Text
    text: Text


class Translation(Page):
    """A translation; its id is the language, such as ``de``. Without a check that still holds it is a draft."""

    translator: Text | None = None
    checked: TranslationCheck | None = None

    @cached_property
    def sentences(self) -> tuple[TranslatedSentence, ...]:
        """The sentences in the order of the file."""
        return tuple(_sentences(self.body))

    @cached_property
    def content(self) -> str:
        """The digest of originals and translations: what a check is given for."""
        told = "\n".join("\0".join(sentence) for sentence in self.sentences)
        return f"v1-{hashlib.sha256(told.encode('utf-8', 'surrogatepass')).hexdigest()[:_DIGITS]}"

    @property
    def is_checked(self) -> bool:
        """Tell whether a translator has checked the text as it stands."""
        return self.checked is not None and self.checked.content.strip() == self.content


def _sentences(body: Prose) -> Iterator[TranslatedSentence]:
    item = ""
    quoted: list[Text] = []
    told: list[Text] = []
    was_empty = False
    for line in _lines(body):
        starts_anew = line.startswith("#") or (line.startswith(">") and (told or was_empty))
        if starts_anew and (quoted or told):
            yield TranslatedSentence(item, _joined(quoted, told), _joined(told, quoted))
            quoted, told = [], []
        was_empty = not line
        if line.startswith("#"):
            item = line.lstrip("#").strip()
        elif line.startswith(">"):
            quoted.append(Text(line[1:].strip(), line.at))
        elif line:
            told.append(line)
    if quoted or told:
        yield TranslatedSentence(item, _joined(quoted, told), _joined(told, quoted))


def _lines(body: Prose) -> Iterator[Text]:
    for number, line in enumerate(body.source.split("\n")):
        yield Text(line.strip(), Place(body.at.file, body.at.line + number, 1 + len(line) - len(line.lstrip())))


def _joined(lines: list[Text], others: list[Text]) -> Text:
    """Return ``lines`` as one text, "" at the place of ``others`` where there are none."""
    return Text(" ".join(" ".join(lines).split()), (lines or others)[0].at)

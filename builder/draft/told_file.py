"""What was told, sentence by sentence, and where each went: ``told.yml`` beside the pages of a draft.

It is the one place that says which page a sentence became part of, and whether somebody has read it there. The pages
say the rest: what is still ``proposed``, and every word that will be published. So a page may be edited, moved or
taken out by whatever means; a sentence whose page is gone is simply without a place. It is never published.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from builder.edit.file_change import CannotEdit
from builder.edit.file_text import FileText
from builder.findings.message_words import capital

TOLD = "told.yml"
_HEAD = "# What was told, sentence by sentence, and where each went. prescrub keeps it up; it is never published.\n"
DOES, PROSE, TITLE = "does", "prose", "title"
"""What a sentence is taken for beside the keys of its page: it says what is done, it only stands in the prose, or it is
the title."""
STEP_ROLES = ("cue", "if_not", "why", "error", "recovery")
CAUTION_ROLES = ("hazard", "consequence", "avoid", "sign", "if_it_happens")
"""Keys of a step, and of a caution, that sentences fill."""


@dataclass(frozen=True, slots=True)
class ToldSentence:
    """A sentence of the source, and when it was said. ``page`` is the file it went to, below the procedure's folder, ""
    for none; ``role`` is the key that it fills there, or ``does``, ``prose`` or ``title``."""

    at: str
    text: str
    page: str = ""
    role: str = ""
    is_read: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """All sentences in order, and what is still to be asked: words that may be ``misheard``, each with the name that
    may have been meant, and names that no catalogue has."""

    sentences: tuple[ToldSentence, ...] = ()
    misheard: Mapping[str, str] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    set_aside: Mapping[str, str] = field(default_factory=dict)
    """Questions that do not arise in this operation, by page and key, each with the reason."""
    meant: Mapping[str, str] = field(default_factory=dict)
    """Words that were misheard, each with the name that a reader said was meant."""

    def as_meant(self, words: str) -> str:
        """Return ``words`` of the talk with every mishearing that was answered put right."""
        for heard, name in self.meant.items():
            words = in_place(as_words(heard), name, words)
        return words

    def changed(self, numbers: Iterable[int], **values: object) -> "Told":
        """Return what was told with ``values`` in the sentences with these ``numbers``."""
        chosen = set(numbers)
        return replace(
            self,
            sentences=tuple(
                replace(sentence, **values) if number in chosen else sentence  # type: ignore[arg-type]
                for number, sentence in enumerate(self.sentences)
            ),
        )

    def on(self, page: str) -> tuple[int, ...]:
        """Return the numbers of the sentences that went to ``page``."""
        return tuple(number for number, sentence in enumerate(self.sentences) if sentence.page == page)


def as_words(words: str) -> re.Pattern[str]:
    """Return what finds ``words`` as whole words, and not inside the id of a page."""
    return re.compile(rf"(?<![\w-]){re.escape(words)}(?![\w-])", re.IGNORECASE)


def in_place(pattern: re.Pattern[str], name: str, text: str) -> str:
    """Return ``text`` with ``name`` for all that ``pattern`` finds, with a capital where a sentence begins with it."""

    def named(match: re.Match[str]) -> str:
        begins = not text[: match.start()].strip() or text[: match.start()].rstrip()[-1] in ".!?"
        return capital(name) if begins and match[0][:1].isupper() else name

    return pattern.sub(named, text)


def told_text(told: Told) -> str:
    """Return ``told`` as the text of its file: one sentence a line, so that a change shows as one."""
    lines = [f"- {json.dumps(_row(sentence), ensure_ascii=False)}" for sentence in told.sentences]
    asked = {"misheard": dict(told.misheard), "unknown": list(told.unknown), "set_aside": dict(told.set_aside)}
    asked["meant"] = dict(told.meant)
    heads = [f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in asked.items() if value]
    return _HEAD + "\n".join([*heads, "sentences:", *lines, ""])


def _row(sentence: ToldSentence) -> dict[str, str]:
    row = {"at": sentence.at, "text": sentence.text, "page": sentence.page, "as": sentence.role}
    return row | ({"read": "yes"} if sentence.is_read else {})


def read_told(text: str) -> Told:
    """Return what the text of a ``told.yml`` says. Raises CannotEdit where it cannot be understood."""
    data = FileText.cut(text, is_list=True).data
    rows = data.get("sentences") if isinstance(data, dict) else None
    if not isinstance(data, dict) or not isinstance(rows, list):
        raise CannotEdit("what was told cannot be read", "Take back the last edit of that file.")
    unknown = data.get("unknown")
    return Told(
        tuple(_sentence(row) for row in rows if isinstance(row, dict)),
        _texts(data.get("misheard")),
        tuple(map(str, unknown)) if isinstance(unknown, list) else (),
        _texts(data.get("set_aside")),
        _texts(data.get("meant")),
    )


def _texts(value: object) -> dict[str, str]:
    return {str(key): str(text) for key, text in value.items()} if isinstance(value, dict) else {}


def _sentence(row: Mapping[str, object]) -> ToldSentence:
    at, text, page, role, read = (str(row.get(key) or "") for key in ("at", "text", "page", "as", "read"))
    return ToldSentence(at, text, page, role, read == "yes")

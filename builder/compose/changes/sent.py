"""What was sent, in one line of letters: of each passage its id, a digest of its words, and its place in a table."""

from collections.abc import Mapping
from dataclasses import dataclass

from builder.compose.changes.committee_copy import CommitteeCopy, CopyPassage, digest_of_words

_FORM = "v1"


@dataclass(frozen=True, slots=True)
class SentCopy:
    """The procedure that was sent, and of each passage, by the digest of its id and in order, what its words were and
    in which table and row it stood ("" for none)."""

    procedure: str
    passages: Mapping[str, tuple[str, str]]


def sent_words(copy: CommitteeCopy) -> str:
    """Return what a copy carries along of what was sent."""
    return " ".join((_FORM, copy.procedure, *map(_entry, copy.passages)))


def _entry(passage: CopyPassage) -> str:
    place = f"@{passage.cell[0]}.{passage.cell[1]}.{passage.cell[2]}" if passage.cell else ""
    return f"{digest_of_words(passage.name)}:{passage.digest}{place}"


def sent_copy(parts: Mapping[int, str]) -> SentCopy | None:
    """Return what was sent; None where not all of it came back."""
    whole = "".join(parts[number] for number in sorted(parts))
    form, _, rest = whole.partition(" ")
    procedure, *entries = rest.split(" ")
    if form != _FORM or sorted(parts) != list(range(1, len(parts) + 1)):
        return None
    told: dict[str, tuple[str, str]] = {}
    for entry in entries:
        id, mark, rest = entry.partition(":")
        digest, _, place = rest.partition("@")
        if not mark or len(digest) != len(id):
            return None
        told[id] = (digest, place)
    return SentCopy(procedure, told)

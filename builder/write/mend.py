"""``prescrub check --mend``: writes what the wording packs want, where no meaning can change, and names for old codes.

Nothing is guessed: only what a rule marks as safe is edited, the value of every number stays what it was, and a file is
written only when reading it again shows that it says the same with fewer findings. The caller shows the diff first.
"""

import difflib
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from builder.edit.file_change import FileChange
from builder.facts.quantities import exact
from builder.facts.texts import TextPiece, corpus
from builder.facts.walk import pages
from builder.facts.wordings import Worded, wordings
from builder.load.files import OpenedFile, open_file, read_text
from builder.load.manual import old_codes
from builder.load.prose import Prose
from builder.model.library import Library
from builder.place import Place
from builder.write.lock import NotWritten
from builder.write.writer import write_files

_CODE = re.compile(r"\b[A-Z]{2}\d\d\b")
_NUMBER = re.compile(r"(?:\d|\.\d)[\d.,]*")
_CHARACTER = re.compile("(?!^\ufeff)(?:\r\n|.)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Edit:
    """One change: in ``file`` at ``line``, ``found`` between the characters ``start`` and ``end`` becomes ``write``."""

    file: str
    line: int
    start: int
    end: int
    found: str
    write: str


def mends(library: Library) -> list[Edit]:
    """Return the safe edits of everything that is written otherwise than the department's packs want, in order."""
    texts = corpus(library)
    by_file: dict[str, list[tuple[TextPiece, Worded]]] = defaultdict(list)
    for one in wordings(library):
        if one.edit is not None and _same_numbers(one.found, one.edit):
            piece = texts.piece(one.start)
            by_file[piece.page.file].append((piece, one))
    worded = [edit for file in sorted(by_file) for edit in _edits(library.root, file, by_file[file])]
    return sorted([*worded, *_renamed(library)], key=lambda edit: (edit.file, edit.start))


def _renamed(library: Library) -> Iterator[Edit]:
    """Yield the name of each finding that is accepted by its old code."""
    for _, page in pages(library):
        for written in (acceptance.check for acceptance in page.accept if acceptance.check in old_codes()):
            raw = read_text(library.root, page.file)
            start = raw.find(written, _offset(raw, written.at))  # it may stand in quotation marks
            yield Edit(page.file, written.at.line, start, start + len(written), written, old_codes()[written])


def _same_numbers(found: str, write: str) -> bool:
    """Tell whether every number of ``found`` is in ``write`` with the same value; words may bring no number but 4 h."""
    before = [exact(number.rstrip(".,")) for number in _NUMBER.findall(found)]
    after = [exact(number.rstrip(".,")) for number in _NUMBER.findall(write)]
    return before == after and None not in before


def _edits(root: Path, file: str, found: Iterable[tuple[TextPiece, Worded]]) -> Iterator[Edit]:
    raw = read_text(root, file)
    taken: set[int] = set()
    for piece, one in sorted(found, key=lambda pair: pair[1].start):
        start = _start_in_file(raw, piece, one, taken)
        if start is None:
            continue
        taken.add(start)
        assert one.edit is not None  # chosen above
        line = raw.count("\n", 0, start) + 1
        yield Edit(file, line, start, start + len(one.found), one.found, one.edit)


def _start_in_file(raw: str, piece: TextPiece, one: Worded, taken: set[int]) -> int | None:
    """Return where ``one`` stands in the file; None where it cannot be found for certain (a folded line)."""
    if isinstance(piece.text, Prose):
        start = len(raw) - len(piece.text.source) + one.start - piece.start
        same = raw[start : start + len(one.found)] == one.found
        return start if same and start not in taken else None
    at = piece.text.at
    begin = _offset(raw, at)
    # A text in front matter may be quoted or folded: the same words are looked for from its start, in order.
    end = begin + len(str(piece.text)) * 2 + 40
    start = begin + one.start - piece.start
    for place in (start, start + 1):
        if raw[place : place + len(one.found)] == one.found and place not in taken:
            return place
    places = [match.start() for match in re.finditer(re.escape(one.found), raw[begin:end])]
    free = [begin + place for place in places if begin + place not in taken]
    return free[0] if len(free) == 1 else None


def _offset(raw: str, at: Place) -> int:
    return sum(len(line) + 1 for line in raw.split("\n")[: at.line - 1]) + at.column - 1


def edited(root: Path, edits: Iterable[Edit]) -> dict[str, tuple[OpenedFile, str]]:
    """Return ``{file: (as it is, text after)}`` without writing anything. Line ends stay as they are."""
    by_file: dict[str, list[Edit]] = defaultdict(list)
    for edit in edits:
        by_file[edit.file].append(edit)
    found = {}
    for file, own in by_file.items():
        opened = open_file(root, file)
        after = opened.text
        # Where each character of the text as it was checked, with plain line ends and no mark, stands in the file.
        places = [match.start() for match in _CHARACTER.finditer(after)]
        for edit in sorted(own, key=lambda one: one.start, reverse=True):
            if "".join(after[place] for place in places[edit.start : edit.end]) == edit.found:
                start, end = places[edit.start], places[edit.end - 1] + 1
                after = after[:start] + edit.write + after[end:]
                places = places[: edit.start]
        found[file] = (opened, after)
    return found


def diff(root: Path, edits: Iterable[Edit]) -> str:
    """Return the edits as a unified diff, to be shown before anything is written."""
    parts: list[str] = []
    for file, (opened, after) in edited(root, edits).items():
        old, new = opened.text.splitlines(), after.splitlines()
        lines = difflib.unified_diff(old, new, file, f"{file} (mended)", lineterm="", n=1)
        parts.extend(f"{line}\n" for line in lines)
    return "".join(parts)


def apply(root: Path, edits: Iterable[Edit]) -> list[str]:
    """Write the edits and return the files that were written: all of them, or none.

    Raises NotWritten where a file changed since it was read, or an edit would change a number.
    """
    texts = edited(root, edits)
    for file, (opened, after) in texts.items():
        if _values(opened.text) != _values(after):
            raise NotWritten(f"{file}: mending would change a number.")
    changes = {file: FileChange(after, opened.digest) for file, (opened, after) in texts.items()}
    write_files(root, changes, f"{', '.join(texts)}: wording mended")
    return list(texts)


def _values(text: str) -> list[Fraction | str]:
    """Return the value of every number, in order; what is no plain number stays as written. A code holds no number."""
    plain = _CODE.sub(lambda code: old_codes().get(code[0], code[0]), text)
    return [exact(number.rstrip(".,")) or number for number in _NUMBER.findall(plain)]

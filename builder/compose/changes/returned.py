"""What came back from the committee, held against what was sent and against the files as they are now.

Every change is either at the one key it belongs to, or told with the reason why it is not taken. Nothing is guessed:
not where a paragraph went, not what a merged one means, not which of two texts is meant where the file was edited
meanwhile.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from enum import StrEnum

from builder.compose.changes.committee_copy import CommitteeCopy, CopyPassage, digest_of_words
from builder.compose.changes.reworded import CannotReword, PieceEdit, reworded
from builder.compose.changes.sent import SentCopy
from builder.findings.message_words import listed
from builder.load.marked_text import NOT_WORDS, MarkedFile, MarkedParagraph

UNTRACKED = "somebody who did not track it"


class ReturnedSort(StrEnum):
    """What an item is: a change that can be taken, one that is in the file already, a comment, or one that is only
    told."""

    CHANGE = "change"
    DONE = "done"
    COMMENT = "comment"
    TOLD = "told"


@dataclass(frozen=True, slots=True)
class ReturnedItem:
    """One thing that came back. ``number`` names it, ``words`` say at what, ``who`` marked it ("" for a change that was
    not tracked); ``why`` is why it is only told, ``edits`` are what taking it does to ``file``."""

    number: int
    sort: ReturnedSort
    words: str
    before: str
    after: str
    who: tuple[str, ...]
    why: str = ""
    file: str = ""
    edits: tuple[PieceEdit, ...] = ()

    @property
    def by(self) -> str:
        """Who marked it, in words."""
        return listed([name or "nobody named" for name in self.who] or ["nobody named"])


def returned(copy: CommitteeCopy, sent: SentCopy, marked: MarkedFile) -> tuple[ReturnedItem, ...]:
    """Return everything that came back, in the order of the file, numbered from 1; comments last."""
    reader = _ReturnedReader(copy, sent, marked)
    items = [*reader.items(), *reader.comments(), *reader.gone()]
    return tuple(replace(item, number=number) for number, item in enumerate(items, 1))


def has_ids(copy: CommitteeCopy, marked: MarkedFile) -> bool:
    """Tell whether the ids came back: without any of them no change has a place."""
    return not copy.by_name.keys().isdisjoint(name for paragraph in marked.paragraphs for name in paragraph.ids)


class _ReturnedReader:
    def __init__(self, copy: CommitteeCopy, sent: SentCopy, marked: MarkedFile) -> None:
        self.copy = copy
        self.marked = marked
        self.passages = copy.by_name
        self.sent = {name: sent.passages.get(digest_of_words(name)) for name in self.passages}
        known = {digest_of_words(name) for name in self.passages}
        self.gone_meanwhile = sum(digest not in known for digest in sent.passages)
        self.places: dict[str, list[MarkedParagraph]] = {}
        for paragraph in marked.paragraphs:
            for name, letters in paragraph.ids.items():
                # Where all of a text was typed anew, its id stays at what was struck out.
                if letters or (len(paragraph.ids) == 1 and paragraph.after):
                    self.places.setdefault(name, []).append(paragraph)
        self.torn = self._torn_rows()

    def items(self) -> Iterator[ReturnedItem]:
        """Yield what happened to each passage that was sent, then what is new."""
        for name, passage in self.passages.items():
            if self.sent[name]:
                yield from self._of_passage(passage)
        yield from self._moved()
        yield from self._of_new()

    def _of_passage(self, passage: CopyPassage) -> Iterator[ReturnedItem]:
        paragraphs = self.places.get(passage.name, [])
        if not paragraphs:
            yield self._missing(passage)
            return
        paragraph = paragraphs[0]
        words = paragraph.after
        is_whole = len(paragraphs) == 1 and self._alone(paragraph) and passage.name not in self.torn
        if is_whole and words == passage.shown and self._was_edited(passage):
            who = self._who(paragraph, passage)
            yield ReturnedItem(0, ReturnedSort.DONE, passage.words, paragraph.before, words, who)
        if is_whole and (words == passage.shown or digest_of_words(words) == self._digest(passage)):
            return  # as it was sent: what was edited in the module meanwhile stays
        if len(paragraphs) > 1 and any(other.after == passage.shown for other in paragraphs):
            for other in paragraphs:
                if other.after != passage.shown and self._alone(other):
                    yield self._new(other)
            return
        yield from self._changed(passage, paragraphs)

    def _changed(self, passage: CopyPassage, paragraphs: Sequence[MarkedParagraph]) -> Iterator[ReturnedItem]:
        why = self._why_not(passage, paragraphs)
        edits: tuple[PieceEdit, ...] = ()
        try:
            edits = () if why else reworded(passage, paragraphs[0].after)
        except CannotReword as reason:
            why = str(reason)
        if why or edits:
            words, who = " / ".join(one.after for one in paragraphs), self._who(paragraphs[0], passage)
            sort = ReturnedSort.TOLD if why else ReturnedSort.CHANGE
            yield ReturnedItem(0, sort, passage.words, passage.shown, words, who, why, passage.file, edits)

    def _why_not(self, passage: CopyPassage, paragraphs: Sequence[MarkedParagraph]) -> str:
        paragraph = paragraphs[0]
        if len(paragraphs) > 1:
            return "it was split into several paragraphs, or copied"
        if not self._alone(paragraph):
            others = [self._words_of(name) for name, letters in paragraph.ids.items() if letters]
            return f"paragraphs were joined: {listed(dict.fromkeys(others))}"
        if passage.name in self.torn:
            return "its table was rearranged"
        if any(sign in paragraph.after and sign not in passage.shown for sign in NOT_WORDS):
            return "a picture or a footnote was put in; put it into the module itself"
        if self._was_edited(passage):
            return "it was edited in the module after it was sent; the module now says something else"
        return ""

    def _missing(self, passage: CopyPassage) -> ReturnedItem:
        who = self.marked.emptied.get(passage.name, ())
        new = [one for one in self.marked.paragraphs if not one.ids and not one.cell and one.after == passage.shown]
        if new:
            why = f"it has lost its id, and now stands {self._below(new[0])}; order is changed in the module itself"
        elif any(passage.name in one.ids for one in self.marked.paragraphs) or who:
            why = "its words were deleted; take them out in the module itself if that is meant"
        else:
            why = "its paragraph and its id are gone; take it out in the module itself if that is meant"
        return _told(passage.words, passage.shown, "", who or (UNTRACKED,), why)

    def _of_new(self) -> Iterator[ReturnedItem]:
        """Yield each paragraph without an id, and each new table as one."""
        moved = {passage.shown for name, passage in self.passages.items() if not self.places.get(name)}
        tables: dict[int, list[MarkedParagraph]] = {}
        for paragraph in self.marked.paragraphs:
            if paragraph.ids and (any(paragraph.ids.values()) or len(paragraph.ids) == 1):
                continue
            if not paragraph.after or paragraph.after in moved:
                continue
            if paragraph.cell:
                tables.setdefault(paragraph.cell[0], []).append(paragraph)
                continue
            yield self._new(paragraph)
        for cells in tables.values():
            words = " | ".join(cell.after for cell in cells)
            who = tuple(dict.fromkeys(name for cell in cells for name in self._who(cell)))
            yield _told("A table", "", words, who, f"it was put in {self._below(cells[0])} and belongs to no key")

    def _new(self, paragraph: MarkedParagraph) -> ReturnedItem:
        why = f"it was put in {self._below(paragraph)} and belongs to no key"
        return _told("A new paragraph", "", paragraph.after, self._who(paragraph), why)

    def _moved(self) -> Iterator[ReturnedItem]:
        """Yield each passage that came back with its id in another place."""
        came = [name for paragraph in self.marked.paragraphs for name, letters in paragraph.ids.items() if letters]
        came = [name for name in dict.fromkeys(came) if self.sent.get(name) and not self.passages[name].cell]
        sent = [name for name in self.passages if name in set(came)]
        blocks = SequenceMatcher(None, sent, came, autojunk=False).get_matching_blocks()
        kept = {name for block in blocks for name in sent[block.a : block.a + block.size]}
        for name in sent:
            if name not in kept:
                passage, paragraph = self.passages[name], self.places[name][0]
                why = f"it was moved {self._below(paragraph)}; order is changed in the module itself"
                yield _told(passage.words, passage.shown, "", self._who(paragraph, passage), why)

    def comments(self) -> Iterator[ReturnedItem]:
        """Yield the comments, each at its key."""
        for comment in self.marked.comments:
            if comment.words:
                where = self._words_of(comment.id) if comment.id else "The whole copy"
                file = self.passages[comment.id].file if comment.id in self.passages else ""
                about = "" if len(comment.about) > _LONGEST_ABOUT else comment.about
                yield ReturnedItem(0, ReturnedSort.COMMENT, where, about, comment.words, (comment.author,), file=file)

    def gone(self) -> Iterator[ReturnedItem]:
        """Yield how much of what was sent is no longer there: last, so that it moves no other number."""
        if self.gone_meanwhile:
            words = f"{self.gone_meanwhile} paragraphs" if self.gone_meanwhile > 1 else "1 paragraph"
            yield _told("The module", "", "", (), f"{words} of what was sent is no longer in the module as it is now")

    def _who(self, paragraph: MarkedParagraph, passage: CopyPassage | None = None) -> tuple[str, ...]:
        """Return who marked it, and that somebody changed it without tracking."""
        if passage and not self._alone(paragraph):
            return paragraph.authors
        untracked = digest_of_words(paragraph.before) != self._digest(passage) if passage else bool(paragraph.before)
        return (*paragraph.authors, *((UNTRACKED,) if untracked else ()))

    def _digest(self, passage: CopyPassage) -> str:
        sent = self.sent[passage.name]
        return sent[0] if sent else ""

    def _was_edited(self, passage: CopyPassage) -> bool:
        return passage.digest != self._digest(passage)

    @staticmethod
    def _alone(paragraph: MarkedParagraph) -> bool:
        return len(paragraph.ids) == 1 or sum(letters > 0 for letters in paragraph.ids.values()) == 1

    def _words_of(self, name: str) -> str:
        return self.passages[name].words if name in self.passages else name.replace("_", " ")

    def _below(self, wanted: MarkedParagraph) -> str:
        above = ""
        for paragraph in self.marked.paragraphs:
            if paragraph is wanted:
                break
            above = next((name for name, letters in paragraph.ids.items() if letters), above)
        return f"below “{self._words_of(above)}”" if above else "at the beginning"

    def _torn_rows(self) -> frozenset[str]:
        """Return the cells whose row did not come back as it was sent, or in another order."""
        rows: dict[tuple[int, int], list[str]] = {}
        for name, passage in self.passages.items():
            if passage.cell:
                rows.setdefault(passage.cell[:2], []).append(name)
        came = {name: paragraphs[0].cell for name, paragraphs in self.places.items()}
        cells = Counter(paragraph.cell for paragraph in self.marked.paragraphs if paragraph.ids)
        torn: set[str] = set()
        order: dict[int, int] = {}
        for (table, _), names in rows.items():
            placed = [came.get(name) for name in names]
            kept = [cell for cell in placed if cell]
            if not kept:
                continue  # the whole row is gone, which is told of each cell
            is_row = all(cell and cell[:2] == kept[0][:2] and cell[2] == column for column, cell in enumerate(placed))
            if not is_row or any(cells[cell] > 1 for cell in kept) or kept[0][1] < order.get(table, -1):
                torn.update(names)
            order[table] = max(order.get(table, -1), kept[0][1])
        return frozenset(torn)


_LONGEST_ABOUT = 120


def _told(words: str, before: str, after: str, who: tuple[str, ...], why: str) -> ReturnedItem:
    return ReturnedItem(0, ReturnedSort.TOLD, words, before, after, who, why)

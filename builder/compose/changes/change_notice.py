"""The change notice: what changed in a procedure between two editions, as text for a terminal, as data, and as a page.

The page is one sheet of A4 to pin up: matter first, step by step, with each number that is no longer the same in bold;
what is only worded otherwise is counted at the end. Where one sheet does not hold it, it goes on.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import takewhile
from textwrap import wrap
from typing import Any

from builder.compose.changes.edition_changes import ChangeSort, EditionChange, changes_between
from builder.compose.changes.edition_lines import EditionText, edition_text
from builder.compose.document import Document, Must, Renderer, promised
from builder.compose.view.head import head_of
from builder.grouping import grouped
from builder.load.program_words import gettext, ngettext
from builder.model.library import Library
from builder.model.pages import Procedure

_PIECE = re.compile(r"\s+|[^\s]+")
_BESIDE = 8
"""Words shown on either side of what is not the same in two long texts; what is not the same is shown whole."""
_NOTHING = EditionText({}, ())


@dataclass(frozen=True, slots=True)
class ChangeNotice:
    """What changed in one procedure from edition ``old`` to edition ``new``; "" where there is no such edition."""

    procedure: Procedure
    old: str
    new: str
    changes: tuple[EditionChange, ...]

    @property
    def of_matter(self) -> tuple[EditionChange, ...]:
        """The changes that are not of wording alone."""
        return tuple(change for change in self.changes if change.sort is not ChangeSort.WORDING)


def notices_between(old: Library, new: Library, only: str = "") -> tuple[ChangeNotice, ...]:
    """Return what changed in each procedure, or in ``only`` that; a new one and one that is gone are notices too."""
    ids = [str(procedure.id) for procedure in (*new.procedures, *old.procedures)]
    notices = (_notice(old, new, id) for id in dict.fromkeys(ids) if only in ("", id))
    return tuple(notice for notice in notices if notice.changes or notice.old != notice.new)


def _notice(old: Library, new: Library, id: str) -> ChangeNotice:
    before, after = old.by_id.get(id), new.by_id.get(id)
    texts = [edition_text(old, before) if before else _NOTHING, edition_text(new, after) if after else _NOTHING]
    procedure = after or before
    assert procedure is not None
    editions = [str(one.edition) if one else "" for one in (before, after)]
    # All of a procedure that came or went is one thing to say, not hundreds.
    changes = changes_between(texts[0], texts[1]) if before and after else ()
    return ChangeNotice(procedure, editions[0], editions[1], changes)


def summary_of(notice: ChangeNotice) -> str:
    """Return in one line what a notice tells."""
    if not notice.old:
        return gettext("New: edition %(new)s", new=notice.new)
    if not notice.new:
        return gettext("No longer there: it was edition %(old)s", old=notice.old)
    matter = len(notice.of_matter)
    wording = len(notice.changes) - matter
    editions = (
        gettext("edition %(old)s and now", old=notice.old)
        if notice.old == notice.new
        else gettext("editions %(old)s and %(new)s", old=notice.old, new=notice.new)
    )
    changed = ngettext("%(num)s change", "%(num)s changes", matter) if matter else gettext("no change of what is said")
    return gettext("Between %(editions)s: %(changed)s", editions=editions, changed=changed) + (
        ngettext(", and %(num)s text only worded otherwise", ", and %(num)s texts only worded otherwise", wording)
        if wording
        else ""
    )


def as_lines(notices: Sequence[ChangeNotice]) -> Iterator[str]:
    """Yield the lines that a terminal shows."""
    if not notices:
        yield gettext("Nothing that a reader sees has changed.")
    for notice in notices:
        yield f"{notice.procedure.title}"
        yield from lines_of(notice)
        yield ""


def lines_of(notice: ChangeNotice) -> Iterator[str]:
    """Yield what a terminal shows of ``notice`` below the title."""
    yield f"{summary_of(notice)}."
    for heading, changes in grouped((change.heading, change) for change in notice.of_matter).items():
        yield ""
        yield heading
        for change in changes:
            yield from _told(change)


def _told(change: EditionChange) -> Iterator[str]:
    where = gettext(", from %(place)s", place=change.place) if change.place else ""
    yield f"  {change.field} {change.sort.value}{where}"
    moved = change.sort is ChangeSort.MOVED
    before, after = ("", change.after) if moved else _where_they_differ(change.before, change.after)
    for sign, text in (("-", before), ("=" if moved else "+", after)):
        first, *rest = wrap(text, 90) or [""]
        if first:
            yield f"    {sign} {first}"
            yield from (f"      {line}" for line in rest)


def _where_they_differ(before: str, after: str) -> tuple[str, str]:
    """Return both texts without what is the same at their beginning and end, but for a few words beside it."""
    old, new = before.split(), after.split()
    if not (old and new):
        return before, after
    start = _alike_first(old, new)
    end = _alike_first(old[start:][::-1], new[start:][::-1])
    return _excerpt(old, start, end), _excerpt(new, start, end)


def _alike_first(old: list[str], new: list[str]) -> int:
    """Return how many words at the beginning of both are the same."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(old, new, strict=False)))


def _excerpt(words: list[str], start: int, end: int) -> str:
    first, last = max(0, start - _BESIDE), len(words) - max(0, end - _BESIDE)
    return " ".join([*["[...]"] * (first > 0), *words[first:last], *["[...]"] * (last < len(words))])


def as_data(notices: Sequence[ChangeNotice]) -> list[dict[str, Any]]:
    """Return the notices as JSON can hold them."""
    return [
        {
            "procedure": str(notice.procedure.id),
            "title": str(notice.procedure.title),
            "old": notice.old,
            "new": notice.new,
            "changes": [
                {
                    "sort": change.sort.value, "part": list(change.part), "heading": change.heading,
                    "field": change.field, "before": change.before, "after": change.after, "from": change.place,
                }
                for change in notice.changes
            ],
        }
        for notice in notices
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class ChangeView:
    """A change as the page shows it: each text as pieces, ``True`` where a piece is not in the other text."""

    anchor: str
    sort: str
    field: str
    place: str
    before: tuple[tuple[str, bool], ...]
    after: tuple[tuple[str, bool], ...]


def compose_notice(library: Library, notice: ChangeNotice, renderer: Renderer) -> Document:
    """Return the page of ``notice``. ``library`` is the newer one that has the procedure."""
    groups, musts = shown_changes(notice)
    text = renderer.render(
        "changes/change_notice.html.j2",
        head=head_of(library, notice.procedure),
        summary=summary_of(notice),
        groups=groups,
    )
    return Document.about(notice.procedure, "change-notice", "change-notice.pdf", text, musts=musts)


def shown_changes(notice: ChangeNotice) -> tuple[list[tuple[str, list[ChangeView]]], tuple[Must, ...]]:
    """Return the changes of matter by heading, and what a page of them promises to show."""
    numbered = [(f"change-{number}", change) for number, change in enumerate(notice.of_matter, 1)]
    groups = grouped((change.heading, _view(anchor, change)) for anchor, change in numbered)
    return list(groups.items()), tuple(_musts(numbered))


def listed_changes(notice: ChangeNotice, renderer: Renderer) -> str:
    """Return the changes of matter as a piece of HTML."""
    return renderer.render("changes/change_list.html.j2", groups=shown_changes(notice)[0])


def _view(anchor: str, change: EditionChange) -> ChangeView:
    moved = change.sort is ChangeSort.MOVED
    before, after = _marked("" if moved else change.before, change.after)
    return ChangeView(anchor, gettext(change.sort.value), change.field, change.place, before, after)


def _marked(before: str, after: str) -> tuple[tuple[tuple[str, bool], ...], tuple[tuple[str, bool], ...]]:
    """Return both texts in pieces, with what is not in the other one marked, word by word."""
    if not (before and after):
        return tuple((text, False) for text in (before,) if text), tuple((text, False) for text in (after,) if text)
    left, right = _PIECE.findall(before), _PIECE.findall(after)
    pieces: tuple[list[tuple[str, bool]], list[tuple[str, bool]]] = ([], [])
    for tag, start, stop, from_, to in SequenceMatcher(None, left, right, autojunk=False).get_opcodes():
        for words, side in (("".join(left[start:stop]), 0), ("".join(right[from_:to]), 1)):
            if words:
                pieces[side].append((words, tag != "equal"))
    return tuple(pieces[0]), tuple(pieces[1])


def _musts(numbered: Sequence[tuple[str, EditionChange]]) -> Iterator[Must]:
    for anchor, change in numbered:
        before = "" if change.sort is ChangeSort.MOVED else change.before
        yield from promised("change", anchor, change.field, before, change.after)

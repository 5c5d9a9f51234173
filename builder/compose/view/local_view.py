"""What is local in a procedure that a parent wrote: what was changed, why, and by which document."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from builder.compose.document import Must, promised
from builder.compose.view.outline import outline, step_blocks
from builder.compose.view.words import day, uncapital
from builder.edit.forms.field_words import words_of
from builder.load.program_words import gettext, noted
from builder.model.library import Library
from builder.model.local_page import LocalChange
from builder.model.pages import Procedure

_DONE = {
    "replace": noted("%(what)s: replaced here"), "add": noted("%(what)s: added here"),
    "switch_off": noted("%(what)s: left out here"),
}  # fmt: skip
Names = Mapping[str, str]
PARENT_CHANGED = noted("The parent has changed a text that is replaced here")


@dataclass(frozen=True, slots=True)
class LocalView:
    """One change: ``what`` was done to what, ``why``, and the document and day on which it ``rests``.

    ``ours`` and ``theirs`` are both texts where nobody has chosen between them, else "".
    """

    what: str
    why: str
    rests: str
    ours: str = ""
    theirs: str = ""

    @property
    def musts(self) -> Iterator[Must]:
        """All that is told of it, in order."""
        told = (f"{self.what}. {self.why}", self.rests, self.ours, self.theirs)
        return promised("local", "local", *filter(None, told))


def local_views(library: Library, procedure: Procedure) -> tuple[LocalView, ...]:
    """Return what is local in ``procedure``, in the order in which it was written."""
    names = names_of(procedure)
    return tuple(_view(change, names) for change in library.local_of(procedure))


def _view(change: LocalChange, names: Names) -> LocalView:
    view = LocalView(changed_name(change, names), change.because, rests_on(change))
    if change.is_chosen:
        return view
    return replace(view, ours=change.ours or gettext("Left out."), theirs=change.theirs or gettext("Nothing."))


def names_of(procedure: Procedure) -> Names:
    """Return the numbers of the steps of ``procedure``, by id."""
    blocks = reversed(tuple(step_blocks(outline(procedure))))
    return {str(block.step.id): gettext("Step %(steps)s", steps=block.number) for block in blocks}


def place_name(change: LocalChange, names: Names) -> str:
    """Return what was changed: ``Step 4, go on when``."""
    key, _, inner = change.key.partition("/")
    words = [gettext(words_of(change.kind, key).label)] * bool(key) + [inner] * bool(inner)
    if change.kind == "step" and change.id in names:
        words.insert(0, names[change.id])
    elif change.kind != "procedure" or not key:
        called = f"{gettext(change.kind)} “{change.name.rstrip('.')}”" if change.name else change.target
        words.insert(0, f"{called[:1].upper()}{called[1:]}")
    return ", ".join([words[0], *map(uncapital, words[1:])])


def changed_name(change: LocalChange, names: Names) -> str:
    """Return what was changed and how: ``Step 4, go on when: replaced here``."""
    return gettext(_DONE[change.verb], what=place_name(change, names))


def rests_on(change: LocalChange) -> str:
    """Return the document that a change rests on, with its day."""
    return gettext("%(document)s, %(day)s", document=change.document, day=day(change.on))


def parent_has_changed(library: Library, procedure: Procedure) -> bool:
    """Tell whether the parent has changed a text of ``procedure`` since it was replaced here."""
    return any(change.was and not change.is_chosen for change in library.local_of(procedure))

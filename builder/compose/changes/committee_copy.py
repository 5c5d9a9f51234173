"""A procedure as the committee reads it: paragraphs and table cells, each with an id, and where in the files each
of its words stands.

A passage is made of pieces. A piece with a path is text of a file, letter for letter, but for line breaks; one without
is ours (a label, a number, a comma between two names). So a change in the word processor can be put back exactly where
it was made, and one that touches what is ours can be refused by name.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import NamedTuple

from builder.compose.view.outline import Block, ChoiceBlock, StepBlock, every_block, in_time, outline
from builder.compose.view.words import (
    DEEDS,
    MORE_OF_DEED,
    SAID_OF_DEED,
    STATUS_MARKS,
    branch_label,
    labelled,
    series,
    signal_word,
)
from builder.edit.file_change import Path, Value
from builder.edit.file_text import FileText, plain_ends
from builder.edit.forms.field_words import SECTIONS, words_of
from builder.findings.message_words import capital
from builder.load.marked_text import PICTURE
from builder.load.program_words import gettext, message, ngettext, noted, speaking
from builder.model.action import VERBS, Verb
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.place import Text

PROSE: Path = ("prose",)
"""The path of the text below the front matter."""

_LONGEST_NAME = 40
"""Letters of a bookmark's name: word processors cut off what is longer."""
_SIGNS = 8


class CopyPiece(NamedTuple):
    """Words as they are shown. ``path`` is the value they are of (None: they are ours), ``start`` where they stand in
    it."""

    shown: str
    path: Path | None = None
    start: int = 0


@dataclass(frozen=True, slots=True)
class CopyPassage:
    """One paragraph: ``name`` is its id, ``words`` say in the reader's words what it is, ``look`` is its style, and
    ``cell`` is its table, row and column, where it stands in one. ``picture`` is the drawing that it shows, if any."""

    name: str
    file: str
    words: str
    look: str
    pieces: tuple[CopyPiece, ...]
    cell: tuple[int, int, int] | None = None
    picture: str = ""

    @property
    def shown(self) -> str:
        """All its words, with single spaces."""
        return " ".join("".join(piece.shown for piece in self.pieces).split())

    @property
    def digest(self) -> str:
        """What tells one state of its words from another."""
        return digest_of_words(self.shown)


@dataclass(frozen=True, slots=True)
class CommitteeCopy:
    """All passages of a procedure in the order of reading; ``content`` names what its files say of each value."""

    procedure: str
    title: str
    passages: tuple[CopyPassage, ...]
    values: Mapping[str, Value]

    @property
    def by_name(self) -> dict[str, CopyPassage]:
        """The passages by their ids."""
        return {passage.name: passage for passage in self.passages}


def digest_of_words(words: str) -> str:
    """Return the short digest by which it is seen that a text was edited meanwhile."""
    return sha256(" ".join(words.split()).encode()).hexdigest()[:_SIGNS]


def committee_copy(library: Library, procedure: Procedure) -> CommitteeCopy:
    """Return what the committee is shown of ``procedure``, what is ours in the language of the department."""
    reader = _PassageReader(library, procedure)
    with speaking(library.department.language):
        passages = tuple(_named(reader.passages()))
    return CommitteeCopy(str(procedure.id), str(procedure.title), passages, reader.values)


def _named(passages: Iterable[CopyPassage]) -> Iterator[CopyPassage]:
    """Yield each passage with an id that no other has, made of what it is and not of where it stands."""
    taken: dict[str, int] = {}
    for passage in passages:
        name = re.sub(r"[^A-Za-z0-9]+", "_", passage.name).strip("_")
        if len(name) > _LONGEST_NAME:
            name = f"{name[: _LONGEST_NAME - _SIGNS - 1]}_{sha256(passage.name.encode()).hexdigest()[:_SIGNS]}"
        taken[name] = taken.get(name, 0) + 1
        yield replace(passage, name=name if taken[name] == 1 else f"{name[:36]}_{taken[name]}")


_UNSHOWN = frozenset({
    "title", "actions", "sequence", "kit", "prose", "accept", "proposed", "heard_at", "said_by", "approval",
    "withdrawn", "owner", "authors", "review_by", "edition", "status", "needs", "gives", "cautions", "guards",
    "goes_with", "aftercare", "signal", "hazard", "critical", "common_practice", "dose", "figure", "not_close",
    "concerns", "only_if", "no_actions", "converts_to", "before_you_start",
    "may_be_removed",
})  # fmt: skip
"""Keys that are shown in a way of their own, or tell the program and no reader."""
_OF_FIGURE = ("caption", "alt")
_MARKUP = re.compile(r"\[(?P<words>[^\]\n]*)\]\((?P<kind>[a-z]+):(?P<ids>[^)\s]*)\)|\*{1,3}|`")
_BLOCK_END = re.compile(r"\n[ \t]*\n\s*|\n(?=[ \t]*(?:[-*+]|\d+\.)[ \t])")
_BLOCK_HEAD = re.compile(r"(?P<level>#{1,6})[ \t]+|(?P<bullet>[-*+]|\d+\.)[ \t]+")


class _PassageReader:
    """Reads one procedure; ``values`` grow with the files that were read."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        self.values: dict[str, Value] = {}
        self.tables = 0

    def passages(self) -> Iterator[CopyPassage]:
        procedure, file = self.procedure, str(self.procedure.file)
        front = self._front(file)
        yield self._own("about", "title", "Title of the procedure", (CopyPiece(str(front["title"]), ("title",)),), file)
        head = gettext(
            "Edition %(edition)s. %(mark)s. Owner: %(name)s, %(role)s.", edition=procedure.edition,
            mark=gettext(STATUS_MARKS[procedure.status] or noted("Approved")), name=procedure.owner.name,
            role=procedure.owner.role,
        )  # fmt: skip
        yield self._ours("head", "small", head)
        yield self._ours("how", "small", gettext(_HOW_TO_MARK))
        yield from self._fields("about", "procedure", file, "About the procedure")
        yield from self._prose("about", file, "About the procedure")
        yield from self._lines(file, "before_you_start", noted("Before you start"))
        yield from self._kit(file)
        yield self._ours("steps", "heading1", gettext("Steps"))
        for block in every_block(outline(procedure)):
            yield from self._block(block)
        yield from self._aftercare()

    def _block(self, block: Block) -> Iterator[CopyPassage]:
        if isinstance(block, ChoiceBlock):
            yield from self._choice(block)
        for caution in block.cautions:
            yield from self._caution(str(caution.file), str(caution.id), str(caution.signal.value))
        if isinstance(block, StepBlock):
            yield from self._step(block)

    def _choice(self, block: ChoiceBlock) -> Iterator[CopyPassage]:
        where = f"Choice {block.title}"
        path = next(iter(_entry_paths(self._front(self.procedure.file)["sequence"], ("sequence",), block)), None)
        own = path if block.kind != "follow" else None
        name = f"{block.kind} {block.id}"
        has_title = own is not None and "title" in _mapping_at(self._front(self.procedure.file), own)
        title = CopyPiece(block.title, (*own, "title") if own and has_title else None)
        yield self._own(name, "heading2", where, _within(message(_FORKS[block.kind]), title), self.procedure.file)
        if own and block.when:
            pieces = _labels(gettext("When"), CopyPiece(str(block.when), (*own, "when")))
            yield self._own(f"{name} when", "labelled", f"{where}, what decides", pieces, self.procedure.file)
        ways = [
            labelled(f"{branch.letter} {branch_label(branch.name)}".strip(), _numbers(branch.blocks))
            for branch in block.branches
        ]
        yield self._ours(f"{name} ways", "small", ". ".join(ways) + ".")

    def _step(self, block: StepBlock) -> Iterator[CopyPassage]:
        step, file = block.step, str(block.step.file)
        name, where = f"step {step.id}", f"Step {block.number}"
        if block.turn > 1:
            again = gettext("%(step)s (as before)", step=f"{block.number}  {step.title}")
            yield self._ours(f"{name} {block.turn}", "heading2", again)
            return
        front = self._front(file)
        critical = (CopyPiece(f"  ({gettext('critical')})"),) if step.critical else ()
        title = (CopyPiece(f"{block.number}  "), CopyPiece(str(front["title"]), ("title",)), *critical)
        yield self._own(name, "heading2", f"{where}, title", title, file)
        yield from self._prose(name, file, f"{where}, how it is done")
        yield from self._actions(name, file, where)
        yield from self._fields(name, "step", file, where)

    def _caution(self, file: str, id: str, signal: str) -> Iterator[CopyPassage]:
        front, name = self._front(file), f"caution {id}"
        where = f"Caution {id.replace('-', ' ')}"
        pieces = _labels(signal_word(signal), CopyPiece(str(front["hazard"]), ("hazard",)))
        yield self._own(name, "caution", f"{where}, what can happen", pieces, file)
        yield from self._fields(name, "caution", file, where)
        for passage in self._prose(name, file, f"{where}, more about it"):
            yield replace(passage, look="cautionprose")

    def _aftercare(self) -> Iterator[CopyPassage]:
        items = in_time(self.procedure.aftercare_items.values())
        if items:
            yield self._ours("afterwards", "heading1", gettext("Afterwards"))
        for item in items:
            file, name, where = str(item.file), f"aftercare {item.id}", f"Aftercare {str(item.id).replace('-', ' ')}"
            title = (CopyPiece(str(self._front(file)["title"]), ("title",)),)
            yield self._own(name, "heading2", f"{where}, what is done", title, file)
            yield from self._fields(name, "aftercare", file, where)
            yield from self._prose(name, file, f"{where}, for staff")

    def _fields(self, name: str, kind: str, file: str, where: str) -> Iterator[CopyPassage]:
        """Yield a labelled paragraph for each key that is shown as it stands, then figures and doses."""
        front = self._front(file)
        keys = [key for _, held in SECTIONS[kind] for key in held if key in front and key not in _UNSHOWN]
        for key in keys:
            label = words_of(kind, key).label
            if pieces := tuple(_told(front[key], (key,))):
                told = self._labelled(f"{name} {key}", file, f"{where}, {label}", label, pieces)
                yield replace(told, look="cautioned") if kind == "caution" else told
        for path, figure in _entries(front, "figure"):
            yield self._picture(f"{name} {'_'.join(map(str, path))} picture", str(figure.get("file")))
            for key in _OF_FIGURE:
                if figure.get(key):
                    label = f"Figure, {words_of('Figure', key).label.lower()}"
                    piece = CopyPiece(str(figure[key]), (*path, key))
                    yield self._labelled(f"{name} {'_'.join(map(str, path))} {key}", file, f"{where}, {label}", label,
                                         (piece,))  # fmt: skip
        for path, dose in _entries(front, "dose"):
            yield from self._dose(f"{name} {'_'.join(map(str, path))}", file, f"{where}, dose of {dose.get('drug')}",
                                  (path, dose))  # fmt: skip

    def _picture(self, name: str, figure: str) -> CopyPassage:
        """Return a drawing as it is; a photograph is only named: who may see it is for its consent to say."""
        if not figure.endswith(".svg"):
            said = gettext("The photograph %(figure)s is looked at in the module itself.", figure=figure)
            return self._ours(name, "small", said)
        path = f"content/procedures/{self.procedure.id}/figures/{figure}"
        return replace(self._ours(name, "picture", PICTURE), words=f"The drawing {figure}", picture=path)

    def _dose(self, name: str, file: str, where: str, entry: tuple[Path, dict[str, Value]]) -> Iterator[CopyPassage]:
        path, dose = entry
        rows = [(key, value) for key, value in dose.items() if key not in ("evidence", "common_practice") and value]
        cells = [
            (key, label := words_of("Dose", key).label, gettext(label), tuple(_told(value, (*path, key))))
            for key, value in rows
        ]
        yield from self._table(name, file, where, cells)

    def _kit(self, file: str) -> Iterator[CopyPassage]:
        kit = self._front(file).get("kit")
        if isinstance(kit, dict) and kit:
            yield self._ours("kit", "heading1", gettext("Kit"))
            rows = [
                (item, name := capital(item), name, tuple(_told(number, ("kit", item)))) for item, number in kit.items()
            ]
            yield from self._table("kit", file, "Kit", rows)

    def _table(
        self, name: str, file: str, where: str, rows: list[tuple[str, str, str, tuple[CopyPiece, ...]]]
    ) -> Iterator[CopyPassage]:
        """Yield a table; a row has its key, its label as we tell of it and as the copy shows it, and its value."""
        self.tables += 1
        for number, (key, label, shown, pieces) in enumerate(rows):
            first = CopyPassage(f"{name} {key} label", file, f"{where}, {label}", "label", (CopyPiece(shown),))
            yield replace(first, cell=(self.tables, number, 0))
            value = CopyPassage(f"{name} {key}", file, f"{where}, {label}", "cell", pieces)
            yield replace(value, cell=(self.tables, number, 1))

    def _lines(self, file: str, key: str, heading: str) -> Iterator[CopyPassage]:
        held = self._front(file).get(key)
        if isinstance(held, list) and held:
            yield self._ours(key, "heading1", gettext(heading))
            for number, line in enumerate(held):
                piece = CopyPiece(str(line), (key, number))
                yield self._own(f"{key} {number + 1}", "bullet", f"{heading}, line {number + 1}", (piece,), file)

    def _actions(self, name: str, file: str, where: str) -> Iterator[CopyPassage]:
        for number, action in enumerate(_rows(self._front(file).get("actions"))):
            pieces = tuple(_action(action, ("actions", number)))
            told = f"{where}, action {number + 1}"
            yield self._own(
                f"{name} action {number + 1}", "action", told, (CopyPiece(f"{number + 1}.  "), *pieces), file
            )

    def _prose(self, name: str, file: str, where: str) -> Iterator[CopyPassage]:
        body = FileText.cut(plain_ends(self.library.texts[file])).body
        self.values.setdefault(f"{file} prose", body)
        start, number = 0, 0
        for end in [*(match for match in _BLOCK_END.finditer(body)), None]:
            stop = end.start() if end else len(body)
            head = _BLOCK_HEAD.match(body, start + _indent(body, start, stop))
            look = "heading3" if head and head["level"] else "bullet" if head else "body"
            pieces = tuple(_prose_pieces(body, head.end() if head else start, stop))
            start = end.end() if end else stop
            if any(piece.shown.strip() for piece in pieces):
                number += 1
                told = f"{where}, paragraph {number}"
                yield self._own(f"{name} prose {number}", look, told, pieces, file)

    def _labelled(self, name: str, file: str, where: str, label: str, pieces: tuple[CopyPiece, ...]) -> CopyPassage:
        return self._own(name, "labelled", where, _labels(gettext(label), *pieces), file)

    @staticmethod
    def _own(name: str, look: str, where: str, pieces: tuple[CopyPiece, ...], file: str | Text) -> CopyPassage:
        return CopyPassage(name, str(file), where, look, pieces)

    @staticmethod
    def _ours(name: str, look: str, words: str) -> CopyPassage:
        return CopyPassage(f"ours {name}", "", f"The line “{words[:40]}”", look, (CopyPiece(words),))

    def _front(self, file: str) -> dict[str, Value]:
        if file not in self.values:
            self.values[file] = FileText.cut(plain_ends(self.library.texts[file])).data
        front = self.values[file]
        return front if isinstance(front, dict) else {}


_HOW_TO_MARK = noted(
    "Mark it with tracked changes and comments, under your own name, and send it back as .docx or .odt. "
    "What stands before a colon, numbers of steps, and the order of things are changed in the module itself: "
    "write a comment for that."
)


_FORKS = {
    "choose": noted("Choice: %(value)s"),
    "option": noted("May be left out: %(value)s"),
    "follow": noted("By the choice: %(value)s"),
}


def _within(said: str, *pieces: CopyPiece) -> tuple[CopyPiece, ...]:
    """Return ``pieces`` in the one place of ``said``, the rest of which is ours."""
    before, after = re.split(r"%\(\w+\)s", said)
    return tuple(piece for piece in (CopyPiece(before), *pieces, CopyPiece(after)) if piece.shown)


def _labels(label: str, *pieces: CopyPiece) -> tuple[CopyPiece, ...]:
    return _within(labelled(label, "%(value)s"), *pieces)


_KEYS = {
    "from": noted("from %(value)s"),
    "until": noted("until %(value)s"),
    "to": noted("to %(value)s"),
    "words": noted("to the patient: %(value)s"),
    "level": noted("level %(value)s"),
}
"""How the keys of a value that has several are said; of any other, what stands in it alone."""


_CHOSEN = ("supervision", "basis", "side")
"""Keys that take a word of the format. In another language than the format's it is ours, and nobody's to reword."""


def _told(value: Value, path: Path) -> Iterator[CopyPiece]:
    """Yield what stands at ``path`` in words: texts as they are, what parts them as ours."""
    if isinstance(value, dict):
        for number, (key, inner) in enumerate(value.items()):
            inside = [CopyPiece(str(inner))] if key == "source" else _told(inner, (*path, key))
            if number:
                yield CopyPiece(", ")
            yield from _within(message(_KEYS.get(key, "%(value)s")), *inside)
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            if number:
                yield CopyPiece("; " if isinstance(inner, dict) else ", ")
            yield from _told(inner, (*path, number))
    elif value:
        shown = gettext(value) if path[-1] in _CHOSEN else value
        yield CopyPiece(_one_line(shown), path if shown == value else None)


def _one_line(text: str) -> str:
    """Return ``text`` with a space for each line break or tab, so that every letter keeps its place."""
    return re.sub(r"\s", " ", text)


def _action(action: dict[str, Value], path: Path) -> Iterator[CopyPiece]:
    verb = next((key for key in action if key in VERBS), "")
    yield from _within(message(DEEDS[Verb(verb)]), *_told(action.get(verb), (*path, verb)))
    for key, value in action.items():
        if key in MORE_OF_DEED and value:
            yield from _within(message(MORE_OF_DEED[key]), *_told(value, (*path, key)))
        elif key in SAID_OF_DEED and value == "true":
            yield CopyPiece(gettext(SAID_OF_DEED[key]))


def _prose_pieces(body: str, start: int, stop: int) -> Iterator[CopyPiece]:
    """Yield the words of Markdown between two places, without the marks of links and of emphasis."""
    at = start
    for match in _MARKUP.finditer(body, start, stop):
        yield CopyPiece(_one_line(body[at : match.start()]), PROSE, at)
        if match["words"]:
            yield CopyPiece(_one_line(match["words"]), PROSE, match.start("words"))
        elif match["kind"]:
            yield CopyPiece(f"({match['ids']})")
        at = match.end()
    if at < stop:
        yield CopyPiece(_one_line(body[at:stop]), PROSE, at)


def _indent(body: str, start: int, stop: int) -> int:
    return len(body[start:stop]) - len(body[start:stop].lstrip(" \t\n"))


def _entries(front: Mapping[str, Value], key: str) -> Iterator[tuple[Path, dict[str, Value]]]:
    """Yield each entry of a key that takes one or many, with its path."""
    held = front.get(key)
    if isinstance(held, dict):
        yield (key,), held
    for number, entry in enumerate(held if isinstance(held, list) else ()):
        if isinstance(entry, dict):
            yield (key, number), entry


def _rows(value: Value) -> list[dict[str, Value]]:
    return [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []


def _entry_paths(value: Value, path: Path, block: ChoiceBlock) -> Iterator[Path]:
    """Yield the path of the choice or option ``block`` in the raw sequence ``value``."""
    if isinstance(value, dict):
        held = value.get(block.kind)
        if isinstance(held, dict) and held.get("id") == block.id:
            yield (*path, block.kind)
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield from _entry_paths(one, (*path, key), block)


def _mapping_at(value: Value, path: Path) -> dict[str, Value]:
    for part in path:
        value = value[part]  # type: ignore[index]
    return value if isinstance(value, dict) else {}


def _numbers(blocks: Iterable[Block]) -> str:
    numbers = [block.number for block in every_block(blocks) if isinstance(block, StepBlock)]
    return (
        ngettext("step %(steps)s", "steps %(steps)s", len(numbers), steps=series(numbers))
        if numbers
        else gettext("nothing more")
    )

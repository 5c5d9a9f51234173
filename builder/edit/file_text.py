"""One file's text cut into what edits touch and what they do not, with the marks of every value."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import yaml

from builder.edit.file_change import CannotEdit, Path, Value, plain
from builder.edit.writing import BLOCK_STYLES, LOADER, Manner
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.frontmatter import read_values

_BREAK = re.compile(r"\r\n|\r|\n")
_BOM = "\ufeff"
_FENCE = "---"


@dataclass(frozen=True)
class FileText:
    """``head`` and ``tail`` hold the ``---`` lines, ``front`` the YAML between them, ``body`` the prose.

    A catalogue is all ``front``. Line ends are those of the file; joined, the four are the file.
    """

    head: str
    front: str
    tail: str
    body: str
    has_blocks: bool = True
    """Whether new texts of several lines may be written line by line; a remark behind one could become a part of it."""

    @classmethod
    def cut(cls, text: str, is_list: bool = False) -> FileText:
        """Cut the text of a file; ``is_list``: a catalogue, without fences. Raises CannotEdit where it has none."""
        mark = _BOM if text.startswith(_BOM) else ""
        text = text[len(mark) :]
        if is_list:
            return cls(mark, text, "", "")
        lines = keep_lines(text)
        fences = [number for number, line in enumerate(lines) if line.rstrip() == _FENCE][:2]
        if not lines or len(fences) < 2 or fences[0] != 0:
            raise CannotEdit("the front matter has no `---` line above or below it", "Add the line in the file.", 1)
        close = fences[1]
        front, body = "".join(lines[1:close]), "".join(lines[close + 1 :])
        return cls(mark + lines[0], front, lines[close], body)

    @property
    def text(self) -> str:
        """The whole file."""
        return self.head + self.front + self.tail + self.body

    @property
    def first_line(self) -> int:
        """The number of the line in which ``front`` begins."""
        return 2 if self.tail else 1

    @cached_property
    def newline(self) -> str:
        """The line ending of the file: that of its first line."""
        found = _BREAK.search(self.head + self.front + self.tail)
        return found[0] if found else "\n"

    @cached_property
    def root(self) -> yaml.Node | None:
        """The front matter as nodes with marks. Raises CannotEdit where it cannot be read, or uses shorthand."""
        try:
            node, tokens = yaml.compose(self.front, Loader=LOADER), self._tokens
        except (yaml.YAMLError, ValueError) as error:
            line = getattr(getattr(error, "problem_mark", None), "line", -1) + self.first_line
            raise CannotEdit("the front matter cannot be read", "Mend it in the text of the file.", line) from None
        for token in tokens:
            if isinstance(token, yaml.AnchorToken | yaml.AliasToken):
                sign = "&" if isinstance(token, yaml.AnchorToken) else "*"
                raise CannotEdit(
                    f"`{sign}{token.value}` stands for a value that is written once and used again",
                    "Write the value out in full in the file; then it can be edited here.",
                    token.start_mark.line + self.first_line,
                )
        return node

    @cached_property
    def dashes(self) -> list[tuple[int, int]]:
        """Place and column of each dash that begins a list entry, in order."""
        places = (one.start_mark.index for one in self._tokens if isinstance(one, yaml.BlockEntryToken))
        return [(place, self.column(place)) for place in places]

    @cached_property
    def _tokens(self) -> list[yaml.Token]:
        return list(yaml.scan(self.front, Loader=LOADER))

    @cached_property
    def data(self) -> Value:
        """The front matter as values, as the loader reads it. Raises CannotEdit where it cannot."""
        normal = _BREAK.sub("\n", self.front)
        try:
            return plain(read_values(normal, "", self.first_line)[0])
        except Refused as refusal:
            found = refusal.finding
            raise CannotEdit(found.message, found.hint, found.at.line) from None

    @cached_property
    def manner(self) -> Manner:
        """How this file indents lists below their keys."""
        return Manner(self.newline, next(self._dash_steps(self.root), 2), self.has_blocks)

    def _dash_steps(self, node: yaml.Node | None) -> Iterator[int]:
        if isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if isinstance(value, yaml.SequenceNode) and not value.flow_style and value.value:
                    yield self.column(value.start_mark.index) - self.column(key.start_mark.index)
                yield from self._dash_steps(value)
        elif isinstance(node, yaml.SequenceNode):
            for inner in node.value:
                yield from self._dash_steps(inner)

    def node(self, path: Path) -> yaml.Node:
        """Return the node at ``path``. Raises LookupError where there is none, CannotEdit where a key stands twice."""
        node: yaml.Node | None = self.root
        for part in path:
            if isinstance(node, yaml.MappingNode) and isinstance(part, str):
                node = self.pairs(node)[part][1]
            elif isinstance(node, yaml.SequenceNode) and isinstance(part, int) and 0 <= part < len(node.value):
                node = node.value[part]
            else:
                raise LookupError(path)
        if node is None:
            raise LookupError(path)
        return node

    def pairs(self, node: yaml.MappingNode) -> dict[str, tuple[yaml.ScalarNode, yaml.Node]]:
        """Return key and value nodes by key, in order."""
        found: dict[str, tuple[yaml.ScalarNode, yaml.Node]] = {}
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode) or key.value in found:
                line = key.start_mark.line + self.first_line
                raise CannotEdit(f"{quoted(key.value)} is written twice", "Keep one of the two in the file.", line)
            found[key.value] = (key, value)
        return found

    def spliced(self, start: int, end: int, new: str) -> FileText:
        """Return the sheet with ``new`` in place of the characters from ``start`` to ``end`` of ``front``."""
        return replace(self, front=self.front[:start] + new + self.front[end:])

    def line_start(self, index: int) -> int:
        """Return where the line of ``index`` begins."""
        return max(self.front.rfind("\n", 0, index), self.front.rfind("\r", 0, index)) + 1

    def line_end(self, index: int) -> int:
        """Return where the next line begins; the end of ``front`` where there is none."""
        found = _BREAK.search(self.front, index)
        return found.end() if found else len(self.front)

    def column(self, index: int) -> int:
        """Return the column of ``index``, from 0."""
        return index - self.line_start(index)

    def dash_of(self, node: yaml.SequenceNode, number: int) -> int:
        """Return where the dash of an entry of a list written line by line stands."""
        column = self.column(node.start_mark.index)
        end = node.value[number].start_mark.index
        start = node.start_mark.index if number == 0 else self.content_end(node.value[number - 1])
        low = bisect_left(self.dashes, (start, -1))
        high = bisect_left(self.dashes, (end, -1))
        fitting = [place for place, its in self.dashes[low:high] if its == column]
        if not fitting or self.front[self.line_start(fitting[0]) : fitting[0]].strip(" "):
            line = node.start_mark.line + self.first_line
            raise CannotEdit("a list inside a list stands on one line with it", "Edit it in the file.", line)
        return fitting[-1]

    def content_end(self, node: yaml.Node) -> int:
        """Return where the last sign of ``node`` ends; remarks and empty lines behind it are not its own."""
        if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
            last = node.value[-1]
            return self.content_end(last[1] if isinstance(last, tuple) else last)
        end = node.end_mark.index
        if isinstance(node, yaml.ScalarNode) and node.style in BLOCK_STYLES:
            head = self.front[node.start_mark.index : self.line_end(node.start_mark.index)]
            written = self.front[:end]
            if "+" in head.split("#")[0]:
                return len(written) - len(_BREAK.findall(written[-2:])[-1]) if written[-1:] in ("\n", "\r") else end
            return max(len(written.rstrip(" \t\r\n")), node.start_mark.index + 1)
        return end


def plain_ends(text: str) -> str:
    """Return ``text`` with plain line ends, and without a mark at its beginning."""
    return _BREAK.sub("\n", text.removeprefix(_BOM))


def keep_lines(text: str) -> list[str]:
    """Return the lines of ``text`` with their ends; only the line ends of files count, not those of typography."""
    found, start = [], 0
    for match in _BREAK.finditer(text):
        found.append(text[start : match.end()])
        start = match.end()
    return found + ([text[start:]] if start < len(text) else [])

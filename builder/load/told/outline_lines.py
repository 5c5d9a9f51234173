"""Outlines in plain text or Markdown, line by line: headings, numbered lines, bullets, paragraphs, rows of tables.

People number as it comes: ``1.``, ``2)``, ``(3)``, ``Step 4:``, ``5 -``, ``6 Close the skin``. All of it is read.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.load.told.draft_source import Passage, PassageKind, Source, SourceForm, clean

_NUMBER = r"(?:\d{1,2}(?:\.\d{1,2}){0,3}|[ivx]{1,5}|[a-z])"
_LABELLED = re.compile(
    rf"(?P<label>(?:\(?(?:step|stage)\s*(?:no\.?\s*)?{_NUMBER}\)?\s*(?:[.:)\]–—-]+|(?=\s))"
    rf"|\({_NUMBER}\)|{_NUMBER}\s?[.)\]:](?!\d)|\d{{1,2}}(?:\.\d{{1,2}}){{1,3}}(?=\s+(?-i:[A-Z]))|\d{{1,2}}\s?[–—-](?=\s)))"
    r"\s*(?P<text>\S.*)",
    re.IGNORECASE | re.DOTALL,
)
_BARE = re.compile(r"(?P<label>\d{1,2})\s+(?P<text>[A-Z][a-z].*)", re.DOTALL)
_BULLET = re.compile(r"(?P<label>[-*+•·▪◦‣–—]|o(?=\s{1,3}[A-Z]))\s+(?P<text>\S.*)", re.DOTALL)
_HEADING = re.compile(r"(?P<signs>#{1,6})\s+(?P<text>.*?)(?:\s+#+)?")
_UNDERLINE = re.compile(r"(?:={3,}|-{3,})")
_BOLD = re.compile(r"(?P<sign>\*\*|__)(?P<text>[^*_]+)(?P=sign):?")
_RULE = re.compile(r"[|:\s]*-{2,}[|:\s-]*")
_WRAPPED = 60
_LONGEST_HEADING = 70
_LETTER = re.compile(r"[a-z]|[ivx]{1,5}", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class OutlineLine:
    """One line: its text without indent, how far it is indented, and where it is, in words."""

    text: str
    indent: int
    at: str


def read_outline(text: str, is_markdown: bool) -> Source:
    """Return the passages of a text; ``is_markdown`` says whether ``#`` and ``*`` are markup or words."""
    rows = text.split("\n")
    lines = [
        OutlineLine(clean(row), len(row.expandtabs(4)) - len(row.expandtabs(4).lstrip()), f"line {number}")
        for number, row in enumerate(rows, start=1)
    ]
    head = _head(lines) if is_markdown else 0
    kept = [
        OutlineLine("", 0, line.at) if at < head and _PERSONAL.match(line.text) else line
        for at, line in enumerate(lines)
    ]
    left_out = ("the lines that name who wrote it",) if kept != lines else ()
    return Source(SourceForm.OUTLINE, tuple(_passages(kept, is_markdown)), left_out=left_out, is_markdown=is_markdown)


_PERSONAL = re.compile(r"(?:author|authors|creator|by|email|date)\s*:", re.IGNORECASE)


def _head(lines: list[OutlineLine]) -> int:
    """Return how many lines the front matter of a Markdown text has."""
    if not lines or lines[0].text != "---":
        return 0
    return next((number for number, line in enumerate(lines[1:], start=1) if line.text == "---"), 0)


def _passages(lines: list[OutlineLine], is_markdown: bool) -> Iterator[Passage]:
    width = max((line.indent + len(line.text) for line in lines), default=0)
    held: Passage | None = None
    number, last = 0, 0
    above = OutlineLine("", 0, "")
    while number < len(lines):
        line = lines[number]
        following = lines[number + 1].text if number + 1 < len(lines) else ""
        number += 1
        passage: Passage | None = None
        if line.text and not _RULE.fullmatch(line.text):
            passage = _heading(line, following, is_markdown) or passage_of(line, last)
            number += (
                passage.kind is PassageKind.HEADING and bool(_UNDERLINE.fullmatch(following)) and passage.level <= 2
            )
        if held and passage and goes_on(held, passage, line, _was_full(above, line, width)):
            held = replace(held, text=f"{held.text} {line.text}")
        else:
            if held:
                yield held
            held = passage
            last = (number_of(passage) if passage else 0) or last
        above = line
    if held:
        yield held


def _heading(line: OutlineLine, following: str, is_markdown: bool) -> Passage | None:
    """Return the heading that a line is by the line below it, or by being bold from end to end."""
    if _UNDERLINE.fullmatch(following) and len(line.text) <= _LONGEST_HEADING and "|" not in line.text:
        return Passage(PassageKind.HEADING, line.text, line.at, 1 if following[0] == "=" else 2)
    bold = _BOLD.fullmatch(line.text) if is_markdown else None
    if bold and len(bold["text"]) <= _LONGEST_HEADING:
        return replace(passage_of(OutlineLine(bold["text"], 0, line.at)), kind=PassageKind.HEADING, level=5)
    return None


def _was_full(above: OutlineLine, line: OutlineLine, width: int) -> bool:
    """Tell whether the first word of ``line`` did not fit after ``above``: then the line was broken by a program."""
    first = line.text.split(" ", 1)[0]
    length = above.indent + len(above.text)
    return length >= _WRAPPED and length + 1 + len(first) > width


def goes_on(held: Passage, passage: Passage, line: OutlineLine, was_full: bool) -> bool:
    """Tell whether ``line`` only goes on with the paragraph or item above it; ``was_full``: that line had no room."""
    if passage.kind is not PassageKind.TEXT or held.kind is PassageKind.HEADING:
        return False
    if line.text[:1].islower():
        return True
    if held.kind is PassageKind.ITEM and line.indent >= 2:
        return True
    return was_full and held.text[-1:] not in ".!?:;"


def passage_of(line: OutlineLine, last: int = 0) -> Passage:  # noqa: PLR0911  # one return for each form of a line
    """Return the passage that a line begins. ``last``: the number of the numbered line before, 0 where none was."""
    text, level = line.text, line.indent // 2
    heading = _HEADING.fullmatch(text)
    if heading and heading["text"]:
        inner = _LABELLED.fullmatch(heading["text"])
        label = inner["label"] if inner else ""
        words = inner["text"] if inner else heading["text"]
        return Passage(PassageKind.HEADING, words, line.at, len(heading["signs"]), label, bool(inner))
    if text.startswith("|") and text.count("|") >= 2:
        return row_passage([cell.strip() for cell in text.strip("|").split("|") if cell.strip()], line.at)
    item = _LABELLED.fullmatch(text)
    if item and not _is_initial(item["label"], last):
        label = _bare(item["label"])
        deeper = 1 if _LETTER.fullmatch(label) and last and line.indent else 0
        level = max(level, label.count("."), deeper)
        return Passage(PassageKind.ITEM, item["text"], line.at, level, item["label"], True)
    bare = _BARE.fullmatch(text)
    if bare and int(bare["label"]) == last + 1:
        return Passage(PassageKind.ITEM, bare["text"], line.at, level, bare["label"], True)
    bullet = _BULLET.fullmatch(text)
    if bullet:
        return Passage(PassageKind.ITEM, bullet["text"], line.at, level, bullet["label"])
    if is_shouted(text):
        return Passage(PassageKind.HEADING, text, line.at, 2)
    return Passage(PassageKind.TEXT, text, line.at, level)


def _bare(label: str) -> str:
    return label.strip("().: -–—")


def _is_initial(label: str, last: int) -> bool:
    """Tell a name's initial or a word, such as ``A.`` and ``I:``, from a label; letters label only below a number."""
    bare = _bare(label)
    return bool(re.fullmatch(r"[A-Z]", bare)) and not label.startswith("(") and not last


def is_shouted(text: str) -> bool:
    """Tell whether a line is a heading in capitals, as in texts that know no other headings."""
    letters = [sign for sign in text if sign.isalpha()]
    return len(letters) >= 5 and text == text.upper() and len(text) <= _LONGEST_HEADING and not text.endswith(".")


def number_of(passage: Passage) -> int:
    """Return the number that labels ``passage``, 0 where it has none in digits."""
    digits = re.search(r"\d+", passage.label)
    return int(digits.group()) if digits and passage.is_numbered else 0


def row_passage(cells: list[str], at: str) -> Passage:
    """Return the row of a table as a passage: a numbered item where its first cell is a number, else a text."""
    first = re.fullmatch(r"(?:step\s*)?(\d{1,2})\.?", cells[0], re.IGNORECASE) if cells else None
    if first and len(cells) > 1:
        return Passage(PassageKind.ITEM, sentences_of(cells[1:]), at, 0, first[1], True)
    inner = _LABELLED.fullmatch(cells[0]) if cells else None
    if inner:
        return Passage(PassageKind.ITEM, sentences_of([inner["text"], *cells[1:]]), at, 0, inner["label"], True)
    return Passage(PassageKind.TEXT, sentences_of(cells), at)


def sentences_of(cells: list[str]) -> str:
    """Return the texts of cells one after the other, each ending as a sentence does."""
    return " ".join(cell if cell[-1:] in ".!?:;" else f"{cell}." for cell in cells if cell)

"""The pages of the findings, read as tests: each bad example gives the finding of the page, each good one does not."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

PAGES = Path(__file__).parent.parent / "builder" / "findings" / "pages"

_SECTION = re.compile(r"^## (?P<name>.+)$", re.MULTILINE)
_BLOCK = re.compile(r"^(?P<fence>`{3,})(?P<info>[^\n`]*)\n(?P<text>.*?)^(?P=fence)$", re.MULTILINE | re.DOTALL)
_TITLE = re.compile(r"# (?P<name>[a-z0-9-]+): (?P<says>.+)")


@dataclass(frozen=True)
class CheckPage:
    """One page, as its title and sections say; the first of ``severities`` is the usual one.

    ``bad`` and ``good`` are files to lay over the base; a name with ``[01-24]`` in it stands for twenty-four files.
    ``command`` is the one that meets with the finding, where it is not ``prescrub check``.
    """

    name: str
    severities: list[str]
    why: str
    bad: dict[str, str]
    good: dict[str, str]
    finding: str
    command: list[str]

    @property
    def file(self) -> str:
        return f"{self.name}.md"


def read_page(path: Path) -> CheckPage:
    text = path.read_text(encoding="utf-8")
    title = _TITLE.match(text)
    assert title, f"{path.name}: the title is not `# name: what it says`"
    severity = re.search(r"^Severity: (?:error|warning|note)[.;].*", text, re.MULTILINE)
    assert severity, f"{path.name}: no line `Severity: error.`"
    sections = _sections(text)
    return CheckPage(
        name=title["name"],
        severities=re.findall(r"\b(?:error|warning|note)\b", severity[0]),
        why=sections.get("Why", ""),
        bad=_files(sections.get("Bad", "")),
        good=_files(sections.get("Good", "")),
        finding="".join(match["text"] for match in _BLOCK.finditer(sections.get("Finding", ""))),
        command=shlex.split("".join(re.findall(r"^```console\n(.*)\n```$", text, re.MULTILINE))),
    )


def all_pages() -> list[CheckPage]:
    return [read_page(path) for path in sorted(PAGES.glob("*.md"))]


def _sections(text: str) -> dict[str, str]:
    heads = list(_SECTION.finditer(text))
    ends = [*(head.start() for head in heads[1:]), len(text)]
    return {head["name"]: text[head.end() : end] for head, end in zip(heads, ends, strict=True)}


def _files(section: str) -> dict[str, str]:
    """Return ``{file: text}``; the info string of a block is its language and the file it stands for."""
    return {
        name: match["text"]
        for match in _BLOCK.finditer(section)
        if match["info"] != "console"
        for name in _names(match["info"].split(maxsplit=1)[1])
    }


def _names(pattern: str) -> list[str]:
    many = re.search(r"\[(\d\d)-(\d\d)\]", pattern)
    if many is None:
        return [pattern]
    return [pattern.replace(many[0], f"{number:02}") for number in range(int(many[1]), int(many[2]) + 1)]

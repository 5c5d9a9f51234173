"""Drafts every source beside what is true of it: steps and actions found, words placed nowhere, sentences lost.

The sentences of a source are taken from it here by means of our own (a zip and regular expressions), not by the readers
under test.
"""

from __future__ import annotations

import html
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from builder.draft import Proposal, propose
from builder.load.folder import load
from builder.load.told.source_file import read_source
from builder.model.build import build
from builder.publish.pictures import clean_photograph
from builder.write.draft_files import write
from drafts.make_sources import misheard

HERE = Path(__file__).parent
DEPARTMENT = HERE / "department"
TODAY = date(2026, 11, 25)
FILLERS = frozenset({"um", "uh", "er", "erm", "hmm", "mm"})
_FRAGMENT = re.compile(r"[.!?:;]+(?=\s|$)|\s[-–—]\s|\|")
_LABEL = re.compile(
    r"^\s*(?:[#>*•-]+\s*)*(?:\(?(?:step\s+)?(?:\d{1,2}(?:\.\d)*|[a-z])\s?[.):-]\s*|\d{1,2}\s+(?=[A-Z]))?(?:[#>*•-]+\s+)*",
    re.IGNORECASE,
)
_MISSING = frozenset({"what", "how many"})


@dataclass
class Result:
    """What came of one source."""

    name: str
    steps: int
    found: int
    extra: int
    proposed: int
    right: int
    true_actions: int
    found_actions: int
    words: int
    not_placed: int
    not_understood: int
    cautions: tuple[int, int]
    aftercare: tuple[int, int]
    lost: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def words(text: str) -> list[str]:
    """The words of a text as they are compared: small letters and digits, no apostrophes, no ``um``."""
    bare = text.replace("'", "").replace("’", "").replace("\\", "").casefold()
    return [word for word in re.findall(r"[^\W_]+", html.unescape(bare)) if word not in FILLERS]


def sources(folder: str) -> list[Path]:
    """The sources beside a truth, in order of their names."""
    truths = sorted((HERE / folder).glob("*.truth.yml"))
    endings = (".md", ".docx", ".pptx", ".vtt", ".srt", ".txt")
    found = []
    for truth in truths:
        stem = truth.name.removesuffix(".truth.yml")
        found.append(next(path for ending in endings if (path := truth.with_name(stem + ending)).exists()))
    return found


def fragments(path: Path) -> Iterator[str]:
    """Every sentence of a source, or the part of it up to a colon or dash: such a part lands in one place."""
    for line in _lines(path):
        for part in _FRAGMENT.split(_LABEL.sub("", line)):
            if len(words(part)) > 1:
                yield part


def _lines(path: Path) -> Iterator[str]:
    if path.suffix in (".vtt", ".srt") and not path.with_suffix(".txt").exists():
        yield from (line for line in path.read_text(encoding="utf-8").splitlines() if "-->" not in line)
    elif path.suffix in (".vtt", ".srt"):
        spoken = path.with_suffix(".txt").read_text(encoding="utf-8")
        yield from (misheard(spoken) if path.suffix == ".srt" else spoken).splitlines()
    elif path.suffix in (".docx", ".pptx"):
        yield from _packed_lines(path)
    else:
        for line in path.read_text(encoding="utf-8").splitlines():
            yield re.sub(r"^\s*\[\d+:\d\d\]", "", line)


def _packed_lines(path: Path) -> Iterator[str]:
    wanted = re.compile(r"word/(?:document|footnotes|comments|footer\d*)\.xml|ppt/(?:slides|notesSlides)/[^/]+\.xml")
    with zipfile.ZipFile(path) as packed:
        for name in packed.namelist():
            if not wanted.fullmatch(name):
                continue
            text = re.sub(r"<a:fld.*?</a:fld>", "", packed.read(name).decode("utf-8"), flags=re.DOTALL)
            # A text box stands inside a paragraph; its own paragraphs end it here, which cuts no words.
            for paragraph in re.split(r"</[wa]:p>|<w:br\b[^>]*/>|<a:br\b.*?(?:/>|</a:br>)|<[wa]:p[ >]", text):
                line = "".join(re.findall(r"<[wa]:t(?:\s[^>]*)?>([^<]*)</[wa]:t>", paragraph))
                yield html.unescape(line)


def drafted(path: Path, root: Path, title: str) -> tuple[Proposal, Path]:
    """Draft ``path`` into the department in ``root``; return the proposal and the new folder."""
    library = build(load(root, TODAY))[0]
    proposal = propose(title, read_source(path), library)
    write(root, proposal, clean_photograph)
    return proposal, root / "content" / "procedures" / proposal.id


def lost(path: Path, folder: Path) -> list[str]:
    """The sentences of ``path`` that stand in no file of ``folder``."""
    texts = [f" {' '.join(words(file.read_text(encoding='utf-8')))} " for file in sorted(folder.rglob("*.md"))]
    return [
        part for part in fragments(path)
        if not any(f" {' '.join(words(part))} " in text for text in texts)
    ]  # fmt: skip


def _truth(path: Path) -> dict[str, Any]:
    return yaml.safe_load(path.with_name(f"{path.stem}.truth.yml").read_text(encoding="utf-8"))


def result(path: Path) -> Result:
    """Draft one source into a fresh copy of the department, and compare."""
    with tempfile.TemporaryDirectory() as place:
        root = Path(shutil.copytree(DEPARTMENT, Path(place) / "department"))
        return judged(path, *drafted(path, root, _truth(path)["title"]))


def judged(path: Path, proposal: Proposal, folder: Path) -> Result:
    """Compare what was proposed of a source, and written to ``folder``, with what is true of it."""
    truth = _truth(path)
    matched = _matched(truth, proposal)
    missed = [phrase for number, phrase in enumerate(truth["steps"], start=1) if number not in matched.values()]
    right, wrong, hits = _actions(truth, proposal, matched)
    true_actions = sum(map(len, truth["actions"].values()))
    return Result(
        name=path.name,
        steps=len(truth["steps"]),
        found=len(matched),
        extra=len(proposal.steps) - len(matched),
        proposed=sum(len(step.actions) for step in proposal.steps),
        right=right,
        true_actions=true_actions,
        found_actions=hits,
        words=sum(len(words(part)) for part in fragments(path)),
        not_placed=sum(len(words(note.text)) for note in proposal.notes),
        not_understood=len(proposal.not_understood),
        cautions=(len(proposal.cautions), truth["cautions"]),
        aftercare=(len(proposal.aftercare), truth["aftercare"]),
        lost=lost(path, folder), missed=missed, wrong=wrong,
    )  # fmt: skip


def _matched(truth: dict[str, Any], proposal: Proposal) -> dict[int, int]:
    """Which proposed step is which true one: the words at its beginning stand in its title or its first sentences."""
    matched: dict[int, int] = {}
    for at, step in enumerate(proposal.steps):
        opening = f" {' '.join(words(step.title))} | {' '.join(words(' '.join(step.body))[:60])} "
        for number, phrase in enumerate(truth["steps"], start=1):
            said = [phrase, misheard(phrase)]
            if number not in matched.values() and any(f" {' '.join(words(one))} " in opening for one in said):
                matched[at] = number
                break
    return matched


def _actions(truth: dict[str, Any], proposal: Proposal, matched: dict[int, int]) -> tuple[int, list[str], int]:
    right, hits = 0, 0
    wrong: list[str] = []
    for at, step in enumerate(proposal.steps):
        number = matched.get(at)
        good = [tuple(one) for one in truth["actions"].get(number, ())]
        fine = [tuple(one) for one in truth.get("also_right", {}).get(number, ())]
        said = [(action.verb, *action.objects) for action in step.actions]
        hits += sum(one in said for one in good)
        for one in said:
            if one in good or one in fine:
                right += 1
            else:
                wrong.append(f"{step.title}: {' '.join(one)}")
    return right, wrong, hits


HEAD = (
    "source",
    "steps",
    "extra",
    "actions right",
    "true actions",
    "cautions",
    "aftercare",
    "words not placed",
    "names not understood",
    "lost",
)


def table(results: list[Result]) -> Iterator[str]:
    """The table as lines of text, with a line of sums."""
    rows = [HEAD, *(_row(one) for one in results), _sum(results)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    for row in rows:
        yield "  ".join(
            cell.ljust(width) if at == 0 else cell.rjust(width)
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()


def _row(one: Result) -> tuple[str, ...]:
    return (
        one.name, f"{one.found}/{one.steps}", str(one.extra), f"{one.right}/{one.proposed}",
        f"{one.found_actions}/{one.true_actions}", f"{one.cautions[0]}/{one.cautions[1]}",
        f"{one.aftercare[0]}/{one.aftercare[1]}", f"{one.not_placed}/{one.words}", str(one.not_understood),
        str(len(one.lost)),
    )  # fmt: skip


def _sum(results: list[Result]) -> tuple[str, ...]:
    def total(name: str) -> int:
        return sum(getattr(one, name) for one in results)

    def pair(name: str) -> str:
        return f"{sum(getattr(one, name)[0] for one in results)}/{sum(getattr(one, name)[1] for one in results)}"

    return (
        "all", f"{total('found')}/{total('steps')}", str(total("extra")), f"{total('right')}/{total('proposed')}",
        f"{total('found_actions')}/{total('true_actions')}", pair("cautions"), pair("aftercare"),
        f"{total('not_placed')}/{total('words')}", str(total("not_understood")),
        str(sum(len(one.lost) for one in results)),
    )  # fmt: skip

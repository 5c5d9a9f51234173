"""What changed between two editions: every change of matter is told with both values, and wording is kept apart."""

from __future__ import annotations

import copy
import hashlib
import json
import random
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from department import lay, read
from over import HEAD, Ward

from builder.cli import main
from builder.compose.changes.change_notice import as_data, as_lines, notices_between
from builder.compose.changes.edition_changes import ChangeSort, EditionChange, changes_between
from builder.compose.changes.edition_lines import text_of_parts
from builder.facts.same_meaning import same_meaning
from builder.load.folder import load
from builder.model.build import build
from builder.model.edition import ToldPart, told_parts
from builder.model.library import Library

ROOT = Path(__file__).parent.parent.parent
STEP = "content/procedures/example/steps/open-canal.md"
Change = Callable[[str, random.Random], str | None]

# --- mutations of matter: each returns the text changed, or None where it has nothing to change ----------------------

_NUMBER = re.compile(r"(?<![\w.-])\d+(?:\.\d+)?(?![\w.-])")


def another_number(text: str, chance: random.Random) -> str | None:
    return _replaced(_NUMBER, text, chance, lambda number: str(int(float(number)) + chance.choice((1, 2, 9))))


def ten_times(text: str, chance: random.Random) -> str | None:
    return _replaced(_NUMBER, text, chance, lambda number: f"{number}0")


def another_unit(text: str, chance: random.Random) -> str | None:
    units = {"mg": "g", "g": "mg", "mL": "L", "hours": "days", "days": "hours", "minutes": "hours", "cm": "mm"}
    return _replaced(re.compile(rf"\b(?:{'|'.join(units)})\b"), text, chance, units.__getitem__)


def other_side(text: str, chance: random.Random) -> str | None:
    sides = {
        "left": "right", "right": "left", "medial": "lateral", "lateral": "medial", "above": "below", "below": "above",
        "before": "after", "after": "before",
    }  # fmt: skip
    return _replaced(re.compile(rf"\b(?:{'|'.join(sides)})\b"), text, chance, sides.__getitem__)


def no_longer_denied(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"\b(?:not|never|no|without) "), text, chance, lambda _: "")


def denied(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"^[A-Z][a-z]+ (?=the )"), text, chance, lambda words: f"Do not {words.lower()}")


def another_word(text: str, chance: random.Random) -> str | None:
    words = {"artery": "vein", "vein": "artery", "nerve": "vessel", "close": "open", "open": "close", "cut": "tie",
             "stitch": "staple", "swab": "pack", "drain": "mesh", "call": "wait for"}  # fmt: skip
    return _replaced(re.compile(rf"\b(?:{'|'.join(words)})\b"), text, chance, words.__getitem__)


def sentence_gone(text: str, chance: random.Random) -> str | None:
    sentences = re.split(r"(?<=[.!?])\s+", text)
    if len(sentences) < 2:
        return None
    del sentences[chance.randrange(len(sentences))]
    return " ".join(sentences)


# --- mutations of wording ---------------------------------------------------------------------------------------------


def contracted(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"\b(?:Do|do|is|are|must|does) not\b"), text, chance, lambda said: f"{said[:-4]}n't")


def article_gone(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"\b(?:the|a|an) "), text, chance, lambda _: "")


def comma(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r", (?=\w)"), text, chance, lambda _: " ")


def semicolon(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"\. (?=[A-Z])"), text, chance, lambda _: "; ")


def capitals(text: str, chance: random.Random) -> str | None:
    return text.upper() if text != text.upper() else None


def in_words(text: str, chance: random.Random) -> str | None:
    words = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    return _replaced(re.compile(r"(?<![\w.-])\d(?![\w./-])"), text, chance, lambda number: words[int(number)])


def hyphen(text: str, chance: random.Random) -> str | None:
    return _replaced(re.compile(r"(?<=[a-z])-(?=[a-z])"), text, chance, lambda _: " ")


def synonym(text: str, chance: random.Random) -> str | None:
    """Pairs of a thesaurus of everyday English, from memory; not the list of the program."""
    words = {"before": "prior to", "begin": "commence", "use": "employ", "every": "each", "show": "demonstrate",
             "give": "administer", "until": "till", "about": "approximately", "whole": "entire"}  # fmt: skip
    return _replaced(re.compile(rf"\b(?:{'|'.join(words)})\b"), text, chance, words.__getitem__)


MATTER = (
    another_number, ten_times, another_unit, other_side, no_longer_denied, denied, another_word, sentence_gone,
)  # fmt: skip
WORDING = (contracted, article_gone, comma, semicolon, capitals, in_words, hyphen, synonym)


def _replaced(pattern: re.Pattern[str], text: str, chance: random.Random, by: Callable[[str], str]) -> str | None:
    matches = list(pattern.finditer(text))
    if not matches:
        return None
    match = chance.choice(matches)
    return text[: match.start()] + by(match.group()) + text[match.end() :]


def leaves(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Yield every text that a reader sees in ``value``, with the way to it; names of keys and ids are none."""
    if isinstance(value, str):
        yield way, value
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*way, index))
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*way, key))


def put(value: Any, way: tuple[Any, ...], text: str) -> Any:
    changed = copy.deepcopy(value)
    inner = changed
    for key in way[:-1]:
        inner = inner[key]
    inner[way[-1]] = text
    return changed


def mutated(
    library: Library, kinds: tuple[Change, ...], number: int
) -> Iterator[tuple[str, str, tuple[EditionChange, ...]]]:
    """Yield ``number`` changes of one text somewhere in the demo: before, after, and what is told of it."""
    chance = random.Random(20_281_130)  # the same every time
    parts = [(list(told_parts(library, procedure))) for procedure in library.procedures]
    while number:
        edition = chance.choice(parts)
        at = chance.randrange(len(edition))
        part = edition[at]
        texts = [(way, text) for way, text in leaves(part.says) if " " in text or text[:1].isdigit()]
        if part.kind == "order" or not texts:
            continue
        way, text = chance.choice(texts)
        changed = chance.choice(kinds)(text, chance)
        if changed is None or changed.split() == text.split():
            continue
        after = [*edition]
        after[at] = ToldPart(part.kind, part.id, part.title, put(part.says, way, changed))
        yield text, changed, changes_between(text_of_parts(edition, {}), text_of_parts(after, {}))
        number -= 1


@pytest.fixture(scope="module")
def library() -> Library:
    return read(ROOT)[0]


def test_every_change_of_matter_is_told_with_old_and_new_text(library: Library) -> None:
    for before, after, told in mutated(library, MATTER, 300):
        of_matter = [change for change in told if change.sort is not ChangeSort.WORDING]
        assert of_matter, (before, after)
        gone, come = (" ".join(getattr(change, side) for change in of_matter) for side in ("before", "after"))
        old, new = (set(re.findall(r"\w+", re.sub(r"\]\([a-z]+:", " ", text))) for text in (before, after))
        words = old - new, new - old
        assert all(word in gone for word in words[0]), (before, after, told)
        assert all(word in come for word in words[1]), (before, after, told)


def test_of_a_hundred_changes_of_wording_at_most_ten_are_called_matter(library: Library) -> None:
    called = [
        (before, after)
        for before, after, told in mutated(library, WORDING, 100)
        if any(change.sort is not ChangeSort.WORDING for change in told)
    ]
    assert len(called) <= 10, called


def test_an_edition_compared_with_itself_has_no_changes(library: Library) -> None:
    assert notices_between(library, library) == ()


@pytest.mark.parametrize(
    ("one", "other"),
    [("Do not cut it.", "Do cut it."), ("5 mg", "5 g"), ("1.5 mL", "15 mL"), ("left", "right"), ("-5 °C", "5 °C"),
     ("> 5", "< 5"), ("Tie, then cut.", "Cut, then tie."), ("2 to 3 days", "2 to 5 days"), ("may", "must")],
)  # fmt: skip
def test_what_turns_a_meaning_is_no_wording(one: str, other: str) -> None:
    assert not same_meaning(one, other)


# --- whole folders ----------------------------------------------------------------------------------------------------


def told(old: Path, new: Path) -> list[tuple[str, str, str, str]]:
    notices = notices_between(build(load(old))[0], build(load(new))[0])
    return [
        (change.sort.value, change.heading, change.before, change.after)
        for notice in notices
        for change in notice.changes
    ]


def edited(folder: Path, file: str, before: str, after: str) -> Path:
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert text.count(before) == 1, (file, before)
    path.write_text(text.replace(before, after), encoding="utf-8")
    return folder


@pytest.fixture
def later(base: Path, tmp_path: Path) -> Path:

    return Path(shutil.copytree(base, tmp_path / "later"))


def test_two_actions_in_another_order_have_moved(base: Path, later: Path) -> None:
    text = (base / STEP).read_text(encoding="utf-8")
    first, second = re.findall(r"^  - .+\n", text[text.index("actions:") :], re.MULTILINE)[:2]
    edited(later, STEP, first + second, second + first)
    assert [row[0] for row in told(base, later)] == ["moved"]


def test_a_step_that_is_gone_is_told_with_all_that_it_said(base: Path, later: Path) -> None:
    procedure = (later / "content/procedures/example/procedure.md").read_text(encoding="utf-8")
    (later / "content/procedures/example/procedure.md").write_text(
        re.sub(r"^ +- (?:step: )?open-canal\n", "", procedure, flags=re.MULTILINE), encoding="utf-8"
    )
    (later / STEP).unlink()
    rows = told(base, later)
    assert {row[0] for row in rows if row[1].startswith("Step")} >= {"removed"}


def test_revisions_and_folders_are_named_alike(base: Path, capsys: pytest.CaptureFixture[str]) -> None:

    def git(*words: str) -> None:
        author = ["-c", "user.name=Ada Example", "-c", "user.email=ada@example.org"]
        subprocess.run(["git", "-C", str(base), *author, *words], check=True, capture_output=True)

    git("init", "-q", ".")
    git("add", "-A")
    git("commit", "-qm", "First edition")
    title = re.search(r"^title: (.+)$", (base / STEP).read_text(encoding="utf-8"), re.MULTILINE)
    assert title is not None
    edited(base, STEP, title.group(), "title: Open the canal 2 cm further")
    assert main(["changes", "HEAD", "--in", str(base), "--format", "json"]) == 0
    notices = json.loads(capsys.readouterr().out)
    changes = [change for notice in notices for change in notice["changes"]]
    assert {"before": title[1], "after": "Open the canal 2 cm further"}.items() <= changes[0].items()
    assert main(["changes", "no-such-thing", "--in", str(base)]) == 2
    assert "'no-such-thing' is not a department's folder" in capsys.readouterr().err


def test_the_notice_is_written_and_read_back(base: Path, later: Path, capsys: pytest.CaptureFixture[str]) -> None:

    title = re.search(r"^title: (.+)$", (base / STEP).read_text(encoding="utf-8"), re.MULTILINE)
    assert title is not None
    edited(later, STEP, title.group(), "title: Open the canal 2 cm further")
    target = base.parent / "changed.pdf"
    assert main(["changes", str(base), str(later), "--in", str(later), "--to", str(target)]) == 0
    assert "2 cm further" in capsys.readouterr().out
    assert target.read_bytes().startswith(b"%PDF-")


def test_lines_and_data_tell_the_same(base: Path, later: Path) -> None:
    edited(
        later,
        "content/procedures/example/procedure.md",
        "specialty:",
        "summary: Another sentence of 7 words here.\nspecialty:",
    )
    notices = notices_between(build(load(base))[0], build(load(later))[0])
    lines = "\n".join(as_lines(notices))
    for notice in as_data(notices):
        for change in notice["changes"]:
            assert change["after"] in lines


# --- over a parent ----------------------------------------------------------------------------------------------------


class Laid(Ward):
    """A ward under git, with its region beside it or kept elsewhere."""

    def git(self, *words: str) -> None:
        author = ["-c", "user.name=Ada Example", "-c", "user.email=ada@example.org"]
        subprocess.run(["git", *author, *words], cwd=self.under, check=True, capture_output=True)

    def committed(self, under: Path) -> None:
        self.under = under
        self.git("init", "-q", ".")
        self.git("add", "-A")
        self.git("commit", "-qm", "First edition")


def test_a_change_of_the_parent_is_told_between_two_revisions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ward = Laid(tmp_path)
    ward.local({"replace": "step open-canal", "key": "cue", "with": "The nerve is free."})
    ward.committed(tmp_path)
    ward.of_region("steps/open-canal.md", "title: ", "title: Slowly ")
    assert main(["changes", "HEAD", "--in", str(ward.root), "--format", "json"]) == 0
    [notice] = json.loads(capsys.readouterr().out)
    assert [(change["sort"], change["field"]) for change in notice["changes"]] == [("changed", "What is done")]
    assert notice["changes"][0]["after"].startswith("Slowly ")


def test_a_parent_that_git_does_not_have_is_said_and_nothing_is_guessed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ward = Laid(tmp_path)
    ward.committed(ward.root)
    assert main(["changes", "HEAD", "--in", str(ward.root)]) == 2
    assert "The parent '../region' is not in this git repository as it was at 'HEAD'" in capsys.readouterr().err


def test_an_archive_with_its_digest_is_the_parent_that_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ward = Laid(tmp_path)
    archive = shutil.make_archive(str(tmp_path / "region"), "zip", ward.region)
    digest = hashlib.sha256(Path(archive).read_bytes()).hexdigest()
    lay(ward.root, {"content/department.md": HEAD.replace("{parent}", f"{{archive: ../region.zip, digest: {digest}}}")})
    ward.committed(ward.root)
    assert main(["changes", "HEAD", "--in", str(ward.root)]) == 0
    assert "Nothing that a reader sees has changed." in capsys.readouterr().out
    Path(archive).write_bytes(b"another")
    assert main(["changes", "HEAD", "--in", str(ward.root)]) == 2
    assert "is not how the digest of '../region.zip' begins" in capsys.readouterr().err

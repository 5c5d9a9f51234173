"""Reading and checking only what has changed gives exactly what reading and checking all of it gives."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from department import TODAY, lay, read
from pages import all_pages

from bench.departments import make
from builder.check import piecewise
from builder.check.piecewise import PIECEWISE, WHOLE, Examiner
from builder.check.table import CHECKS
from builder.load import again as again_module
from builder.load.again import Again
from builder.load.folder import load
from builder.load.frontmatter import read_values
from builder.model.build import KeptPages, build

Edit = Callable[[random.Random, Path], None]

_BROKEN = (b"", b"---\n", b"---\ntitle: [\n---\n", b"\xff\xfe\x00broken", b"---\nno mapping\n---\n", b"---\ntitle: x\n")


def _pick(chance: random.Random, root: Path, pattern: str) -> Path | None:
    found = sorted(path for path in root.glob(pattern) if path.is_file())
    return chance.choice(found) if found else None


def _drop_line(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/procedures/*/*/*.md")
    if path:
        lines = path.read_bytes().split(b"\n")
        del lines[chance.randrange(len(lines))]
        path.write_bytes(b"\n".join(lines))


def _swap_words(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/**/*.md")
    words = [
        (b"ilioinguinal nerve", b"unknown nerve"),
        (b"critical: true", b"critical: false"),
        (b"place:", b"remove:"),
        (b"critical: true", b"critical: true\nat_risk: [ureter]"),
        (b"name: Ada Example", b"name: Eve Sample"),
    ]
    words += [(b"identify:", b"divide:"), (b"either", b"left"), (b"draft", b"withdrawn"), (b"cue:", b"why:")]
    if path:
        old, new = chance.choice(words)
        path.write_bytes(path.read_bytes().replace(old, new))


def _break(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/**/*.*")
    if path:
        path.write_bytes(chance.choice(_BROKEN))


def _add_prose(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/procedures/*/*/*.md")
    more = (
        b"\nGive 5000 mg of paracetamol on the left.\n",
        b"\nSee [x](step:nowhere) and [](procedure:gone).\n",
        b"\nDivide the ureter with the stapler. Ada Example is here.\n",  # known where another procedure names them
    )
    if path:
        path.write_bytes(path.read_bytes() + chance.choice(more))


def _delete(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/procedures/*/*/*")
    if path:
        path.unlink()


def _folder_for_file(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/procedures/*/steps/*.md")
    if path:
        path.unlink()
        path.mkdir()


def _touch(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/**/*.md")
    if path:
        os.utime(path, ns=(1, chance.randrange(10**18)))


def _catalogue(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "content/catalogue/*.yml")
    if path:
        blocks = path.read_bytes().split(b"\n- ")
        del blocks[chance.randrange(len(blocks))]
        path.write_bytes(b"\n- ".join(blocks))


def _sources(chance: random.Random, root: Path) -> None:
    path = _pick(chance, root, "references/*.bib")
    if path:
        text = path.read_bytes()
        path.write_bytes(chance.choice((text.replace(b"year", b"yaer", 1), text[: len(text) // 2], text + text)))


def _copy_procedure(chance: random.Random, root: Path) -> None:
    home = root / "content" / "procedures"
    source = chance.choice(sorted(one for one in home.iterdir() if one.is_dir()))
    shutil.copytree(source, home / f"copy-{chance.randrange(10**6)}", dirs_exist_ok=True)


def _mend(chance: random.Random, root: Path) -> None:
    """Take one file back to what it was, so that an edit can also end a finding."""
    good = root.parent / "good"
    path = _pick(chance, good, "**/*.*")
    if path:
        target = root / path.relative_to(good)
        if target.is_dir():
            shutil.rmtree(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(path.read_bytes())


EDITS: tuple[Edit, ...] = (
    _drop_line, _swap_words, _break, _add_prose, _delete, _folder_for_file, _touch, _catalogue, _sources,
    _copy_procedure, _mend, _mend, _mend,
)  # fmt: skip


@pytest.fixture
def five(tmp_path: Path) -> Path:
    root = make(tmp_path / "department", 5)
    shutil.copytree(root, tmp_path / "good")
    return root


@pytest.mark.parametrize("seed", range(8))
def test_any_row_of_edits_is_found_as_by_a_check_of_all(five: Path, seed: int) -> None:
    chance = random.Random(seed)
    again, examiner, pages = Again(five), Examiner(), KeptPages()
    kinds: set[str] = set()
    for _ in range(25):
        for _ in range(chance.randrange(1, 4)):
            chance.choice(EDITS)(chance, five)
        loaded = again.load(TODAY)
        library, misfits = build(loaded, pages)
        found = examiner.findings(loaded, library, misfits)
        fresh_library, fresh = read(five)
        assert found == fresh
        assert library.broken == fresh_library.broken
        assert [str(one.id) for one in library.procedures] == [str(one.id) for one in fresh_library.procedures]
        kinds |= {one.name for one in found}
    assert len(kinds) > 10, "edits that nothing is found in prove nothing"


@pytest.mark.slow
def test_what_each_check_finds_on_its_page_is_found_again(base: Path) -> None:
    """The list of checks that run piece by piece is right for all that they find, not only for what is common."""
    good = {path.relative_to(base): path.read_bytes() for path in sorted(base.rglob("*")) if path.is_file()}
    again, examiner = Again(base), Examiner()
    seen: set[str] = set()
    for page in all_pages():
        for files in (page.bad, page.good):
            for name, text in files.items():
                lay(base, {name: text})
            _, found = examiner.examine(again.load(TODAY))
            assert found == read(base)[1], page.file
            seen |= {one.name for one in found}
            for path in sorted(base.rglob("*")):
                if path.is_file() and path.relative_to(base) not in good:
                    path.unlink()
            for name, content in good.items():
                (base / name).write_bytes(content)
    assert {check.name for check in CHECKS} - seen == set()


@pytest.mark.parametrize("procedures", [3, 9])
def test_one_save_has_the_pages_of_one_procedure_checked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, procedures: int
) -> None:
    root = make(tmp_path / "department", procedures)
    again, examiner, pages = Again(root), Examiner(), KeptPages()
    parts: list[str] = []
    validated: list[str] = []
    run, page_of = piecewise._run, KeptPages.page
    monkeypatch.setattr(
        piecewise,
        "_run",
        lambda checks, library: (
            parts.append(" ".join(str(one.id) for one in library.procedures) if library.within else "whole")
            or run(checks, library)
        ),
    )
    monkeypatch.setattr(
        KeptPages,
        "page",
        lambda kept, file, make_page: page_of(kept, file, lambda: validated.append(file.name) or make_page()),
    )

    def look() -> None:
        parts.clear()
        validated.clear()
        loaded = again.load(TODAY)
        library, misfits = build(loaded, pages)
        examiner.findings(loaded, library, misfits)

    look()
    assert len(parts) == procedures + 2  # each, what they share, and what is looked at over all
    step = sorted(root.glob("content/procedures/synthetic-*/steps/open-canal.md"))[1]
    step.write_bytes(step.read_bytes() + b"\nOne more line.\n")
    look()
    assert sorted(parts) == [step.parts[-3], "whole"]
    assert validated == [step.relative_to(root).as_posix()]


def test_every_check_is_run_once() -> None:
    rules = [rule for one in CHECKS for rule in (one.rule, one.over_all) if rule]
    assert {one.rule for one in (*PIECEWISE, *WHOLE)} == set(rules)
    assert len(PIECEWISE) + len(WHOLE) == len(rules)
    assert all(one.over_all is None for one in (*PIECEWISE, *WHOLE))


def test_a_check_that_is_called_piecewise_wrongly_is_noticed(five: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: with every check run piece by piece, the comparison above does fail."""
    monkeypatch.setattr(piecewise, "PIECEWISE", CHECKS)
    monkeypatch.setattr(piecewise, "WHOLE", ())
    again, examiner = Again(five), Examiner()
    chance = random.Random(1)
    differs = False
    for _ in range(10):
        _add_prose(chance, five)
        differs |= examiner.examine(again.load(TODAY))[1] != read(five)[1]
    assert differs


def test_only_the_changed_file_is_parsed_again(five: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    again = Again(five)
    again.load(TODAY)
    read_names: list[str] = []

    def watched(text: str, file: str, first_line: int = 1) -> object:
        read_names.append(file)
        return read_values(text, file, first_line)

    monkeypatch.setattr("builder.load.folder.read_values", watched)
    step = next(five.glob("content/procedures/*/steps/*.md"))
    step.write_bytes(step.read_bytes() + b"\nOne more line.\n")
    loaded = again.load(TODAY)
    assert again.changed
    assert read_names == [step.relative_to(five).as_posix()]
    assert again.load(TODAY).files == loaded.files
    assert not again.changed
    assert len(read_names) == 1


def test_two_writes_within_one_tick_of_the_clock_are_told_apart(five: Path) -> None:
    """What `make` and version control call the racy file: same size, same times, other bytes."""
    step = next(five.glob("content/procedures/*/steps/*.md"))
    again = Again(five)
    before = again.load(TODAY)
    stamp = step.stat()
    step.write_bytes(step.read_bytes().replace(b"\ntitle: ", b"\nTitle: ", 1))
    os.utime(step, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    real = again_module.stamp_of
    told = real(str(step))

    def same_stamp(path: str) -> tuple[int, ...]:
        return (*told[:3], stamp.st_mtime_ns, stamp.st_ctime_ns) if path == str(step) else real(path)

    again_module.stamp_of = same_stamp
    try:
        after = again.load(TODAY)
    finally:
        again_module.stamp_of = real
    assert after.files != before.files
    assert after.files == load(five, TODAY).files

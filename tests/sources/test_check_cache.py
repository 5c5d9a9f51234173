"""Findings kept between runs: always what a fresh check says, and kept only where nothing but bytes decides."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest
from department import BASE, TODAY, Overlay, lay, new_base

from builder.check.engine import examine
from builder.cli import main
from builder.commands import check as command
from builder.commands.formats import FORMATS
from builder.findings.finding import Finding
from builder.load.folder import load
from builder.load.kept import check_cache
from builder.load.kept.check_cache import CheckCache, fingerprint

TESTS = Path(__file__).parent.parent
PROJECT = TESTS.parent
DEFECTS = sorted(path.name for path in (TESTS / "defects").iterdir())
STEP = "content/procedures/example/steps/open-canal.md"


@pytest.fixture(autouse=True)
def _day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")  # noon of TODAY


@pytest.fixture
def cache(tmp_path: Path) -> CheckCache:
    return CheckCache(tmp_path / "kept")


def _fresh(root: Path) -> list[Finding]:
    return examine(load(root, TODAY))[1]


def _asked(root: Path, cache: CheckCache) -> list[Finding]:
    return command._findings(str(root), cache)[0]


def _from_cache(root: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch) -> list[Finding] | None:
    """Return what is kept for ``root``; None where the check would have to run."""

    class _Ran(Exception):
        pass

    def ran(*_: object) -> None:
        raise _Ran

    with monkeypatch.context() as patch:
        patch.setattr(command, "examined", ran)
        try:
            return _asked(root, cache)
        except _Ran:
            return None


@pytest.mark.parametrize("defect", DEFECTS)
def test_every_kind_of_finding_comes_back_as_it_was(
    defect: str, overlay: Overlay, cache: CheckCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = overlay(TESTS / "defects" / defect)
    fresh = _asked(root, cache)
    assert fresh == _fresh(root) != []
    again = _from_cache(root, cache, monkeypatch)
    assert again is not None
    for form in FORMATS.values():
        assert form(again) == form(fresh)
    assert [repr(one) for one in again] == [repr(one) for one in fresh]


# Edits: each is told the root and a source of chance, and changes something.


def _files(root: Path) -> list[Path]:
    return sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())


def _append(root: Path, chance: random.Random) -> None:
    with chance.choice(_files(root)).open("ab") as file:
        file.write(chance.choice([b"\n", b" ", b"\nA line more.\n", b"\xff", b"[x](step:nowhere)\n"]))


def _change_a_byte(root: Path, chance: random.Random) -> None:
    path = chance.choice(_files(root))
    content = bytearray(path.read_bytes())
    if content:
        content[chance.randrange(len(content))] ^= 1
    path.write_bytes(bytes(content))


def _remove(root: Path, chance: random.Random) -> None:
    chance.choice(_files(root)).unlink()


def _rename(root: Path, chance: random.Random) -> None:
    path = chance.choice(_files(root))
    path.rename(path.with_name(f"{path.stem}-{chance.randrange(9)}{path.suffix}"))


def _move_up(root: Path, chance: random.Random) -> None:
    path = chance.choice(_files(root))
    if path.parent != root:
        path.rename(path.parent.parent / path.name)


def _swap_contents(root: Path, chance: random.Random) -> None:
    one, other = chance.choice(_files(root)), chance.choice(_files(root))
    before = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(before)


def _add(root: Path, chance: random.Random) -> None:
    name = chance.choice(
        ["content/stray.txt", "references/more.bib", "references/notices/x.csv", "ledger/issued.jsonl",
         "content/procedures/other/steps/a.md", "content/shared/cautions/extra.md"]
    )  # fmt: skip
    lay(root, {name: chance.choice(["", "# dated: 2026-01-01\n", "{}\n", "@book{x, title={T}}\n", "---\n---\n"])})


def _add_folder(root: Path, chance: random.Random) -> None:
    (root / "content" / f"folder-{chance.randrange(9)}").mkdir(exist_ok=True)


def _link(root: Path, chance: random.Random) -> None:
    target = chance.choice(_files(root))
    (target.parent / f"link-{chance.randrange(9999)}.md").symlink_to(target)


def _unlink(root: Path, chance: random.Random) -> None:
    for path in root.rglob("link-*"):
        path.unlink()


def _hide(root: Path, chance: random.Random) -> None:
    lay(root, {"content/.hidden.md": str(chance.random())})


def _undo(root: Path, chance: random.Random) -> None:
    shutil.rmtree(root)
    shutil.copytree(BASE, root)


EDITS: tuple[Callable[[Path, random.Random], None], ...] = (
    _append, _change_a_byte, _remove, _rename, _move_up, _swap_contents, _add, _add_folder, _link, _unlink, _hide,
    _undo, _undo,
)  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
def test_after_any_edit_the_answer_is_that_of_a_fresh_check(
    seed: int, base: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(seed)
    hits = 0
    for _ in range(25):
        edit = chance.choice(EDITS)
        edit(base, chance)
        hits += _from_cache(base, cache, monkeypatch) is not None
        assert _asked(base, cache) == _fresh(base), edit.__name__
        if not any(path.is_symlink() for path in base.rglob("*")):
            assert _from_cache(base, cache, monkeypatch) == _fresh(base), edit.__name__
    assert hits, "the cache never answered: this test shows nothing"


@pytest.mark.parametrize("path", sorted(one.relative_to(BASE).as_posix() for one in BASE.rglob("*") if one.is_file()))
def test_every_file_counts_by_name_and_by_content(path: str, base: Path) -> None:
    before = fingerprint(base, TODAY)
    file = base / path
    file.write_bytes(file.read_bytes() + b" ")
    changed = fingerprint(base, TODAY)
    file.write_bytes(file.read_bytes()[:-1])
    assert fingerprint(base, TODAY) == before
    file.rename(file.with_name(f"x{file.name}"))
    renamed = fingerprint(base, TODAY)
    assert None not in (before, changed, renamed)
    assert len({before, changed, renamed}) == 3


def test_the_same_files_elsewhere_are_the_same_and_another_day_is_not(base: Path, tmp_path: Path) -> None:
    other = new_base(tmp_path / "other")
    assert fingerprint(base, TODAY) == fingerprint(other, TODAY)
    assert fingerprint(base, TODAY) != fingerprint(base, date(2026, 11, 26))


def test_a_review_falls_due_overnight(
    base: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch, overlay: Overlay
) -> None:
    text = (base / "content/procedures/example/procedure.md").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("review_by:"))
    overlay({"content/procedures/example/procedure.md": text.replace(line, "review_by: 2026-11-25")})
    assert _asked(base, cache) == []
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(1795608000 + 86_400))
    assert [one.name for one in _asked(base, cache)] == ["review-overdue"]


def _make_link(path: Path) -> None:
    path.symlink_to(BASE / STEP)


def _make_pipe(path: Path) -> None:
    os.mkfifo(path)


def _make_folder_link(path: Path) -> None:
    path.symlink_to(BASE / "content" / "shared", target_is_directory=True)


def _make_dangling(path: Path) -> None:
    path.symlink_to("nowhere")


@pytest.mark.parametrize("make", [_make_link, _make_pipe, _make_folder_link, _make_dangling])
@pytest.mark.parametrize("folder", ["content", "content/shared/cautions", "references", "references/notices", "ledger"])
def test_what_is_no_plain_file_is_never_kept(
    make: Callable[[Path], None], folder: str, base: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    (base / folder).mkdir(parents=True, exist_ok=True)
    make(base / folder / "odd.md")
    assert fingerprint(base, TODAY) is None
    assert _asked(base, cache) == _fresh(base)
    assert _from_cache(base, cache, monkeypatch) is None


@pytest.mark.parametrize("top", ["content", "references", "ledger"])
def test_a_top_folder_that_is_a_link_is_never_kept(top: str, base: Path, tmp_path: Path) -> None:
    (base / top).mkdir(exist_ok=True)
    shutil.move(base / top, tmp_path / "real")
    (base / top).symlink_to(tmp_path / "real")
    assert fingerprint(base, TODAY) is None


def test_what_cannot_be_read_is_never_kept(base: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rights do not stop the administrator, so the refusal is made here."""
    real = os.open

    def refuse(path: str, *rest: int) -> int:
        if str(path).endswith("open-canal.md"):
            raise PermissionError(13, "Permission denied")
        return real(path, *rest)

    monkeypatch.setattr(os, "open", refuse)
    assert fingerprint(base, TODAY) is None
    assert "file-unreadable" in {one.name for one in _asked(base, cache)}
    monkeypatch.undo()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")
    assert _asked(base, cache) == []


def test_a_file_saved_while_the_check_ran_keeps_nothing(
    base: Path, cache: CheckCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = command.examined
    text = (base / STEP).read_text(encoding="utf-8")

    def busy(folder: str, today: date) -> object:
        (base / STEP).write_text(text + "\n[x](step:nowhere)\n", encoding="utf-8")
        return real(folder, today)

    monkeypatch.setattr(command, "examined", busy)
    assert [one.name for one in _asked(base, cache)] == ["step-unknown"]
    monkeypatch.undo()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")
    (base / STEP).write_text(text, encoding="utf-8")
    assert _asked(base, cache) == []


def _kept(cache: CheckCache) -> Path:
    (file,) = cache.folder.iterdir()
    return file


def _sealed(body: bytes) -> bytes:
    return sha256(body).hexdigest().encode() + b"\n" + body


DAMAGE = {
    "empty": b"",
    "cut short": None,
    "wrong checksum": b"0" * 64 + b"\n[]",
    "no JSON": _sealed(b"["),
    "a number": _sealed(b"7"),
    "null": _sealed(b"null"),
    "another shape": _sealed(b'[["step-unknown"]]'),
    "no such severity": _sealed(json.dumps([["a", "fatal", ["f", 1, 1], "m", "h", [], [], ""]]).encode()),
    "no place": _sealed(json.dumps([["a", "error", ["f"], "m", "h", [], [], ""]]).encode()),
    "nested": _sealed(b"[" * 100_000),
}


@pytest.mark.parametrize("bytes_", DAMAGE.values(), ids=DAMAGE.keys())
def test_a_damaged_file_is_passed_over_and_made_anew(bytes_: bytes | None, overlay: Overlay, cache: CheckCache) -> None:
    root = overlay(TESTS / "defects" / "caution-misspelt")
    fresh = _asked(root, cache)
    good = _kept(cache).read_bytes()
    _kept(cache).write_bytes(good[:-9] if bytes_ is None else bytes_)
    assert _asked(root, cache) == fresh
    assert _kept(cache).read_bytes() == good


def test_fresh_passes_the_cache_by(
    base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PRESCRUB_CACHE", str(tmp_path / "user"))
    assert main(["check", str(base)]) == 0
    (file,) = (tmp_path / "user" / "checks").iterdir()
    wrong = [[["step-unknown", "error", ["f", 1, 1], "planted in the cache", "", [], [], ""]], {}]
    file.write_bytes(_sealed(json.dumps(wrong).encode()))
    capsys.readouterr()
    assert main(["check", str(base)]) == 1
    assert "planted in the cache" in capsys.readouterr().out, "the cache was not asked, so this test shows nothing"
    assert main(["check", "--fresh", str(base)]) == 0
    assert capsys.readouterr().out == "No findings.\n"
    # Publishing never asks it.
    assert "check_cache" not in (PROJECT / "builder" / "commands" / "publish.py").read_text(encoding="utf-8")


def test_switched_off_nothing_is_written(base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user"))
    monkeypatch.setenv("HOME", str(tmp_path / "user"))
    monkeypatch.setenv("PRESCRUB_CACHE", "off")
    assert main(["check", str(base)]) == 0
    assert not (tmp_path / "user").exists()


def test_kept_files_are_few_and_private(base: Path, cache: CheckCache) -> None:
    for number in range(40):
        (base / "content" / f"folder-{number}").mkdir()
        key = fingerprint(base, TODAY)
        assert key is not None
        cache.keep(key, [], {})
    folder = cache.folder
    assert len(list(folder.iterdir())) == 32
    assert folder.stat().st_mode & 0o077 == 0


def test_another_program_is_another_key(base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "builder"
    shutil.copytree(PROJECT / "builder", program, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(check_cache, "_PROGRAM", program)
    before = fingerprint(base, TODAY)
    for name in ("check/engine.py", "check/packs/uk.yml", "model/fields.py", "load/prose.py", "findings/finding.py"):
        content = (program / name).read_bytes()
        (program / name).write_bytes(content + b"#")
        assert fingerprint(base, TODAY) not in (before, None), name
        (program / name).write_bytes(content)
    assert fingerprint(base, TODAY) == before
    installed = tmp_path / "site-packages"
    (installed / "pybtex-9.9.dist-info").mkdir(parents=True)
    monkeypatch.syspath_prepend(installed)
    assert fingerprint(base, TODAY) != before


_LISTEN = """
import sys
from pathlib import Path
root = Path(sys.argv[1]).resolve()
opened = set()
def hear(event, args):
    if event in ("open", "os.scandir", "os.listdir") and isinstance(args[0], (str, bytes)):
        opened.add(args[0] if isinstance(args[0], str) else args[0].decode())
from builder.check.engine import examine
from builder.load.folder import load
sys.addaudithook(hear)
examine(load(root))
for name in sorted(opened):
    print(name)
"""


def test_a_check_reads_nothing_that_the_key_does_not_hold() -> None:
    """Heard from Python's own audit events, over the whole demo."""
    done = subprocess.run(
        [sys.executable, "-c", _LISTEN, str(PROJECT)], capture_output=True, text=True, check=True, cwd=PROJECT
    )
    opened = done.stdout.splitlines()
    assert len(opened) > 100
    covered = [f"{PROJECT}/{top}" for top in ("content", "references", "ledger", "builder")]
    inside = [name for name in opened if name.startswith(f"{PROJECT}/") and "/.venv/" not in name]
    assert [name for name in inside if not name.startswith(tuple(covered))] == []


_KEPT_RUN = """
import sys
from builder.cli import main
code = main(["check", sys.argv[1]])
dear = {"pydantic", "pydantic_core", "yaml", "markdown", "pybtex", "networkx", "mkdocs", "weasyprint"}
print(code, sorted(dear & sys.modules.keys()))
"""


def test_an_answer_from_the_cache_imports_none_of_the_dear_packages(base: Path, tmp_path: Path) -> None:
    environment = {**os.environ, "PRESCRUB_CACHE": str(tmp_path / "user")}
    call = [sys.executable, "-c", _KEPT_RUN, str(base)]
    told = [
        subprocess.run(call, capture_output=True, text=True, check=True, cwd=PROJECT, env=environment).stdout
        for _ in range(2)
    ]
    assert "pydantic" in told[0]
    assert told[1] == "No findings.\n0 []\n"

"""Whatever stands in the folder, the program says what is wrong with it and never fails itself."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from department import BASE, Overlay, lay, lines, new_base
from department import read_broken as read
from growth import assert_matching_grows_with_size, assert_steps_grow_with_size, steps
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from builder.commands.formats import FORMATS
from builder.findings.finding import Finding

EXAMPLE = "content/procedures/example"
STEP = f"{EXAMPLE}/steps/tell-recovery.md"
TEXTS = sorted(
    str(path.relative_to(BASE)) for path in BASE.rglob("*") if path.suffix in (".md", ".yml", ".bib") and path.is_file()
)

BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{b}: &{b} [{','.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)
VALUES = [
    "", "~", "null", "true", "0", "-1", "1e999999", "9" * 5000, "0x1F", "1_000", ".nan", ".inf", "-.inf", "12:30:45",
    "2026-13-45", "0001-01-01", "9999-12-31", "[]", "{}", "[[[]]]", "{a: {b: {c: d}}}", "[~, ~]", "'", '"', "|", ">",
    "&a [*a]", "&a {b: *a}", "*nowhere", "!!python/object/apply:os.system ['true']", "!!binary gA==", "!!set {a, b}",
    "<<: {a: b}", "? [a, b]\n: c", "- a", "a: b: c", "\t", "@x", "`x`", "%TAG", "---", "...", "x" * 70_000,
    "[" * 200 + "]" * 200, "{a: " * 200 + "}" * 200, "..", "../../../etc/passwd", "/etc/passwd", "C:\\x", "a\\0b",
    '"\\x00"', '"\\ud800"', "\u202eabc", "\ufeff", "\u2028", "é", "ǅ", "ß", "İ", "٣", "\U0001f600", "a\u0301" * 50,
    "<script>alert(1)</script>", "{{ 7*7 }}", "${x}", "%s%n", "[](step:)", "](", "[x](source:a, b)", "[x](step:a\nb)",
]  # fmt: skip
CHARACTERS = st.one_of(
    st.sampled_from("\t\0\r\n:-[]{}&*#?|>'\"%@`,!\u00a0\u200b\u2028\u202e\ufeff"), st.characters(codec="utf-8")
)


@st.composite
def mutated(draw: st.DrawFn) -> tuple[str, bytes]:
    """Draw one file of the base, changed in one to four places."""
    name = draw(st.sampled_from(TEXTS))
    text = (BASE / name).read_text(encoding="utf-8")
    for _ in range(draw(st.integers(1, 4))):
        text = draw(st.sampled_from(MUTATIONS))(draw, text)
    raw = text.encode("utf-8", "surrogatepass")
    if draw(st.integers(0, 19)) == 0:
        cut = draw(st.integers(0, len(raw)))
        raw = raw[:cut] + draw(st.binary(max_size=4)) + raw[cut:]
    return name, raw


def _character(draw: st.DrawFn, text: str) -> str:
    at = draw(st.integers(0, len(text)))
    return text[:at] + draw(CHARACTERS) + text[at + draw(st.integers(0, 2)) :]


def _value(draw: st.DrawFn, text: str) -> str:
    """Give one key a hostile value."""
    rows = text.split("\n")
    keys = [index for index, row in enumerate(rows) if ":" in row]
    if keys:
        index = draw(st.sampled_from(keys))
        rows[index] = f"{rows[index].split(':')[0]}: {draw(st.sampled_from(VALUES))}"
    return "\n".join(rows)


def _line(draw: st.DrawFn, text: str) -> str:
    """Drop, double, move or indent one line."""
    rows = text.split("\n")
    index, other = draw(st.integers(0, len(rows) - 1)), draw(st.integers(0, len(rows) - 1))
    kind = draw(st.sampled_from(["drop", "double", "swap", "indent"]))
    if kind == "drop":
        del rows[index]
    elif kind == "double":
        rows.insert(other, rows[index])
    elif kind == "swap":
        rows[index], rows[other] = rows[other], rows[index]
    else:
        rows[index] = draw(st.sampled_from(["  ", "\t", "- ", "# ", "    - "])) + rows[index]
    return "\n".join(rows)


def _ending(draw: st.DrawFn, text: str) -> str:
    at = draw(st.integers(0, len(text)))
    return draw(
        st.sampled_from([text[:at], text.replace("\n", "\r\n"), "\ufeff" + text, text.replace("\n", "\r"), "\n" + text])
    )


def _bomb(draw: st.DrawFn, text: str) -> str:
    return text.replace("---\n", f"---\n{BOMB}", 1) if draw(st.booleans()) else BOMB


MUTATIONS = [_character, _character, _value, _value, _value, _line, _line, _ending, _bomb]


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return new_base(tmp_path_factory.mktemp("hostile"))


def presentable(findings: list[Finding]) -> None:
    """Every finding stands somewhere, says something, and can be printed in every form."""
    for finding in findings:
        assert finding.at.file
        assert finding.at.line >= 1
        assert finding.at.column >= 1
        assert finding.message
        assert finding.hint
    for form in FORMATS.values():
        form(findings).encode("utf-8")
    assert len(json.loads(FORMATS["json"](findings))["findings"]) == len(findings)


@pytest.mark.slow
@settings(
    max_examples=1000,
    derandomize=True,
    database=None,
    phases=[Phase.generate, Phase.shrink],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(change=mutated())
def test_a_thousand_mutated_files_end_without_exception(shared: Path, change: tuple[str, bytes]) -> None:
    name, raw = change
    (shared / name).write_bytes(raw)
    try:
        presentable(read(shared)[1])
    finally:
        shutil.copyfile(BASE / name, shared / name)


STEP_KEYS = ("title", "minutes", "actions", "figure", "dose", "evidence", "accept", "dosse")
HEAD_KEYS = ("sequence", "kit", "review_by", "approval", "aftercare", "side")


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A department with a procedure for each key, for what is broken in one keeps others from being analysed."""
    root = new_base(tmp_path_factory.mktemp("many"))
    for key in (*STEP_KEYS, *HEAD_KEYS):
        shutil.copytree(BASE / EXAMPLE, _home(root, key))
    return root


def _home(root: Path, key: str) -> Path:
    return root / "content/procedures" / key.replace("_", "-")


def _with_value(head: str, key: str, value: str) -> str:
    """Return the front matter ``head`` with ``value`` for ``key``, whether it has one or not."""
    line = f"\n{key}: {value}\n"
    return head.replace(f"\n{key}:", f"{line}old:") if f"\n{key}:" in head else head.replace("\n", line, 1)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", errors="surrogatepass")


@pytest.mark.parametrize("value", VALUES, ids=range(len(VALUES)))
def test_hostile_value_of_any_key_ends_in_findings(value: str, many: Path) -> None:
    for key in STEP_KEYS:
        _write(_home(many, key) / "steps/tell-recovery.md", f"---\ntitle: Tell them\n{key}: {value}\n---\n")
    head = (BASE / EXAMPLE / "procedure.md").read_text(encoding="utf-8")
    for key in HEAD_KEYS:
        _write(_home(many, key) / "procedure.md", _with_value(head, key, value))
    findings = read(many)[1]
    presentable(findings)
    assert any("/dosse/" in finding.at.file for finding in findings)


# Size and depth


@pytest.mark.parametrize(
    ("front", "ids"),
    [
        (BOMB, ["front-matter-too-large"]),
        ("a: &a [*a, *a]\n", ["front-matter-too-large"]),
        ("title: " + "[" * 100_000 + "\n", ["front-matter-unreadable"]),
        ("title: " + "{a: " * 60 + "x" + "}" * 60 + "\n", ["front-matter-too-large"]),
        ("cautions: [" + "a," * 30_000 + "]\n", ["front-matter-too-large"]),
    ],
    ids=["bomb", "recursion", "open-brackets", "nesting", "many-values"],
)
def test_text_that_expands_is_stopped_early(front: str, ids: list[str], overlay: Overlay) -> None:
    root = overlay({STEP: f"---\n{front}---\n"})
    assert [finding.name for finding in read(root)[1]] == ids
    assert steps(lambda: read(root)) < 1_000_000


def test_long_sequence_is_checked_in_the_time_that_its_length_takes(base: Path) -> None:
    """Four thousand times the same step: nothing may be quadratic in it."""
    text = (BASE / f"{EXAMPLE}/procedure.md").read_text(encoding="utf-8")

    def work(size: int) -> Callable[[], object]:
        long = text.replace("  - close-canal\n", "  - check-side\n" * size + "  - close-canal\n")
        root = lay(new_base(base.parent / str(size)), {f"{EXAMPLE}/procedure.md": long})
        return lambda: presentable(read(root)[1])

    assert_steps_grow_with_size(work, 1000)


@pytest.mark.parametrize("unit", ["[", "](", "[a](step:", "(", "A. ", "`", "# ", "> ", "- a\n", '[a](step:b "', "| a "])
def test_prose_of_brackets_is_read_in_the_time_that_its_length_takes(unit: str, base: Path) -> None:
    def work(size: int) -> Callable[[], object]:
        body = unit * (size // len(unit))
        root = lay(new_base(base.parent / str(size)), {STEP: f"---\ntitle: Tell them\n---\n{body}\n"})
        return lambda: presentable(read(root)[1])

    assert_matching_grows_with_size(work, 7500)


def test_flood_of_unknown_names_is_told_in_the_time_that_its_length_takes(base: Path) -> None:
    """A missing file makes thousands of names unknown at once."""

    def work(size: int) -> Callable[[], object]:
        sources = "".join(
            f"@misc{{source-{n:05}, title = {{T}}, year = {{2020}}, url = {{https://x.org}}}}\n" for n in range(size)
        )
        evidence = "[" + ", ".join(f"sourse-{n:05}" for n in range(size)) + "]"
        step = f"---\ntitle: Tell them\nevidence: {evidence}\nat_risk: {evidence}\n---\n"
        root = lay(new_base(base.parent / str(size)), {STEP: step, "references/more.bib": sources})

        def told() -> None:
            findings = read(root)[1]
            assert sum(finding.name == "source-unknown" for finding in findings) == size
            assert sum(finding.name == "structure-unknown" for finding in findings) == size

        return told

    assert_steps_grow_with_size(work, 100)


def test_file_that_is_too_large_is_not_read(overlay: Overlay) -> None:
    root = overlay({STEP: "---\ntitle: Tell them\n---\n" + "x" * 600_000})
    assert lines(read(root)[1]) == [f"{STEP}:1:1 file-too-large"]


# Encodings


@pytest.mark.parametrize(
    "change", [lambda text: "\ufeff" + text, lambda text: text.replace("\n", "\r\n")], ids=["bom", "crlf"]
)
def test_byte_order_mark_and_windows_line_ends_are_no_fault(change, base: Path) -> None:  # type: ignore[no-untyped-def]
    for name in TEXTS:
        (base / name).write_bytes(change((base / name).read_text(encoding="utf-8")).encode("utf-8"))
    assert lines(read(base)[1]) == []


def test_places_do_not_move_with_windows_line_ends(base: Path) -> None:
    text = (base / STEP).read_text(encoding="utf-8").replace("supervision", "supervison")
    (base / STEP).write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert lines(read(base)[1]) == [f"{STEP}:3:1 key-unknown"]


def test_latin_1_is_refused_at_the_character(base: Path) -> None:
    (base / STEP).write_bytes("---\ntitle: Tell the café\n---\n".encode("latin-1"))
    assert lines(read(base)[1]) == [f"{STEP}:2:20 file-not-utf8"]


def test_nul_is_refused_at_the_character(base: Path) -> None:
    (base / STEP).write_bytes(b"---\ntitle: Tell\0 them\n---\n")
    assert lines(read(base)[1]) == [f"{STEP}:2:12 file-not-utf8"]


@pytest.mark.parametrize("name", TEXTS)
def test_empty_file_ends_in_findings(name: str, base: Path) -> None:
    (base / name).write_bytes(b"")
    findings = read(base)[1]
    presentable(findings)
    # A department may have no terms, and take what it names from the common catalogue.
    assert findings or name in ("content/catalogue/terms.yml", "content/catalogue/structures.yml")


# Links, folders, names


def links() -> Iterator[tuple[str, str]]:
    yield STEP, "/etc/passwd"
    yield "content/shared/cautions/wrong-side.md", "../aftercare/wound-care.md"
    yield f"{EXAMPLE}/figures/canal.svg", "/etc/hostname"
    yield "references/sources.bib", "/dev/zero"
    yield "content/department.md", "catalogue/terms.yml"


@pytest.mark.parametrize(("name", "target"), list(links()))
def test_symbolic_link_is_not_followed(name: str, target: str, base: Path) -> None:
    (base / name).unlink()
    (base / name).symlink_to(target)
    assert lines(read(base)[1]) == [f"{name}:1:1 link-not-followed"]


@pytest.mark.parametrize("folder", ["content", "references", "content/shared", f"{EXAMPLE}/steps"])
def test_folder_that_is_a_link_is_not_followed(folder: str, base: Path, tmp_path: Path) -> None:
    shutil.move(base / folder, tmp_path / "elsewhere")
    (base / folder).symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    findings = read(base)[1]
    presentable(findings)
    assert f"{folder}:1:1 link-not-followed" in lines(findings)


def test_link_in_a_circle_ends(base: Path) -> None:
    (base / "content/circle").symlink_to(base, target_is_directory=True)
    assert lines(read(base)[1]) == ["content/circle:1:1 link-not-followed"]


def test_pipe_is_not_waited_for(base: Path) -> None:
    (base / STEP).unlink()
    os.mkfifo(base / STEP)
    assert lines(read(base)[1]) == [f"{STEP}:1:1 file-unreadable"]


def test_file_without_rights_is_unreadable(base: Path) -> None:
    (base / STEP).chmod(0)
    assert lines(read(base)[1]) == [f"{STEP}:1:1 file-unreadable"]


@pytest.mark.parametrize(
    "name", [STEP, "content/department.md", "content/catalogue/items.yml", "references/sources.bib"]
)
def test_folder_with_the_name_of_a_file_ends_in_findings(name: str, base: Path) -> None:
    (base / name).unlink()
    (base / name).mkdir()
    (base / name / "inside.md").write_text("---\ntitle: x\n---\n", encoding="utf-8")
    findings = read(base)[1]
    presentable(findings)
    assert any(finding.at.file.startswith(name) for finding in findings)


@pytest.mark.skipif(sys.platform == "darwin", reason="file names: on macOS they are always Unicode")
def test_file_name_that_is_no_unicode_ends_in_findings(base: Path) -> None:
    (base / EXAMPLE / "steps" / os.fsdecode(b"caf\xe9.md")).write_bytes(b"---\ntitle: Look\n---\n")
    findings = read(base)[1]
    presentable(findings)
    assert [finding.name for finding in findings] == ["file-name-not-an-id"]


@pytest.mark.parametrize(
    "file", ["../../../../../etc/passwd", "/etc/passwd", "..", ".", "canal.svg/", "a\\b.svg", "./canal.svg"]
)
def test_figure_outside_its_folder_is_missing(file: str, overlay: Overlay) -> None:
    figure = f"figure: {{file: '{file}', alt: x, credit: own, consent: none needed}}"
    findings = read(overlay({STEP: f"---\ntitle: Tell them\n{figure}\ncommon_practice: true\n---\n"}))[1]
    assert lines(findings) == [f"{STEP}:3:16 figure-file-missing"]


def test_folder_that_is_no_department_says_so(tmp_path: Path) -> None:
    findings = read(tmp_path)[1]
    assert "content/department.md:1:1 folder-incomplete" in lines(findings)
    presentable(findings)

"""The command line as people type it: options anywhere, short forms, slips of the pen, and help that works."""

from __future__ import annotations

import io
import shlex
import shutil
import subprocess
from collections.abc import Iterator
from importlib import import_module
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from department import BASE
from drafts import results
from publishing import fingerprint
from regions import region

from builder.cli import main
from builder.commands import preview
from builder.commands.command_table import COMMANDS, SHORT_FORMS

ROOT = Path(__file__).parents[1]
OUTLINE = results.HERE / "sources" / "trigger-finger.md"

# Words in their order, options that can go together, and what the command must then be given.
CALLS: dict[str, tuple[list[str], list[list[str]], dict[str, Any]]] = {
    "start": (
        ["start", "ours"],
        [["--name", "Ours"], ["--call", "ward, 6"], ["--approver", "lead"], ["--procedure", "A title"],
         ["--from", "talk.md"]],
        {"folder": "ours", "name": "Ours", "call": ["ward, 6"], "approver": ["lead"], "procedure": "A title",
         "source": "talk.md"},
    ),
    "draft new": (["draft", "new", "A title", "my"], [["--from", "talk.md"]],
                  {"title": "A title", "folder": "my", "source": "talk.md"}),
    "draft, short": (["draft", "A title", "my"], [["--from", "talk.md"]],
                     {"title": "A title", "folder": "my", "source": "talk.md"}),
    "draft confirm": (["draft", "confirm", "a.md", "my"], [], {"file": "a.md", "folder": "my"}),
    "draft --confirm": (["draft", "my"], [["--confirm", "a.md"]], {"file": ["a.md"], "folder": "my"}),
    "preview": (["preview", "my"], [["--port", "8080"], ["--no-browser"], ["--editor", "ed {line} {path}"]],
                {"folder": "my", "port": "8080", "no_browser": True, "editor": "ed {line} {path}"}),
    "check --coverage": (["check", "my"], [["--coverage"], ["--explain"]],
                         {"folder": "my", "ask": None, "fill": None, "mend": None, "yes": None, "fresh": None,
                          "format": None, "coverage": True, "explain": True}),
    "check --ask": (["check", "my"], [["--ask"], ["--yes"], ["--fresh"], ["--format", "json"]],
                    {"folder": "my", "ask": True, "fill": None, "mend": None, "yes": True, "fresh": True,
                     "format": "json", "coverage": None, "explain": None}),
    "check --fill": (["check", "my"], [["--fill", "q.md"], ["--yes"], ["--fresh"], ["--format", "json"]],
                     {"folder": "my", "ask": None, "fill": "q.md", "mend": None, "yes": True, "fresh": True,
                      "format": "json", "coverage": None, "explain": None}),
    "check --mend": (["check", "my"], [["--mend"], ["--yes"], ["--fresh"], ["--format=json"]],
                     {"folder": "my", "ask": None, "fill": None, "mend": True, "yes": True, "fresh": True,
                      "format": "json", "coverage": None, "explain": None}),
    "lay": (["lay", "a", "b"], [["--in", "my"], ["--title", "Both"]],
        {"a": "a", "b": "b", "c": None, "d": None, "e": None, "folder": "my", "title": "Both"}),
    "share": (["share", "hernia", "my"], [["--to", "committee.docx"]],
        {"procedure": "hernia", "folder": "my", "to": "committee.docx"}),
    "take": (["take", "committee.docx", "my"], [["--accept", "1,3"]],
        {"file": "committee.docx", "folder": "my", "accept": ["1,3"]}),
    "approve": (["approve", "hernia", "my"], [["--as", "lead"], ["--name", "Bea"], ["--key", "k"], ["--yes"]],
                {"procedure": "hernia", "folder": "my", "role": "lead", "name": "Bea", "key_file": "k", "yes": True}),
    "local": (["local", "hernia", "2"], [["--in", "my"], ["--keep"], ["--take"]],
              {"page": "hernia", "number": "2", "folder": "my", "keep": True, "take": True}),
    "year": (["year", "my"], [["--format", "json"]], {"folder": "my", "format": "json"}),
    "publish": (["publish", "my"], [["--to", "out"], ["--only", "card"], ["--session", "10"], ["--issue"]],
                {"folder": "my", "to": "out", "only": ["card"], "session": ["10"], "issue": True, "jobs": None,
                 "cluster": None}),
    "publish --cluster": (["publish", "my"], [["--to", "out"], ["--jobs", "2"], ["--cluster", "tcp://host:1"]],
                          {"folder": "my", "to": "out", "only": None, "session": None, "issue": None, "jobs": "2",
                           "cluster": "tcp://host:1"}),
    "region publish": (["region", "publish", "my"], [["--to", "out"], ["--only", "card"], ["--cluster", "tcp://host:1"]],
                       {"folder": "my", "to": "out", "only": ["card"], "cluster": "tcp://host:1"}),
    "changes": (["changes", "old", "new"],
                [["--in", "my"], ["--procedure", "hernia"], ["--to", "out.pdf"], ["--format", "json"]],
                {"old": "old", "new": "new", "folder": "my", "procedure": "hernia", "to": "out.pdf", "format": "json"}),
    "sources list": (["sources", "list"], [["--in", "my"], ["--style", "plain"]], {"folder": "my", "style": "plain"}),
    "sources, short": (["sources"], [["--in", "my"], ["--style", "plain"]], {"folder": "my", "style": "plain"}),
    "sources show": (["sources", "show", "key", "my"], [["--style", "plain"]],
                     {"key": "key", "folder": "my", "style": "plain"}),
    "sources KEY": (["sources", "key"], [["--in", "my"], ["--style", "plain"]],
                    {"key": "key", "folder": "my", "style": "plain"}),
    "sources add": (["sources", "add", "x.ris"], [["--in", "my"]], {"file": "x.ris", "folder": "my"}),
    "sources notices": (["sources", "notices", "x.csv"], [["--in", "my"]], {"file": "x.csv", "folder": "my"}),
    "schema": (["schema", "step"], [["--to", "out"]], {"kind": "step", "to": "out"}),
}  # fmt: skip


def _orders(words: list[str], options: list[list[str]]) -> Iterator[list[str]]:
    """Yield every order of words and options in which the words keep theirs."""
    for order in permutations(range(len(words) + len(options))):
        if [index for index in order if index < len(words)] == list(range(len(words))):
            parts = [[words[index]] if index < len(words) else options[index - len(words)] for index in order]
            yield [word for part in parts for word in part]


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Run nothing, and keep what each command would have been given."""
    kept: list[dict[str, Any]] = []
    for command in COMMANDS:
        module = import_module(f"builder.commands.{command.name.split()[0]}")
        monkeypatch.setattr(module, command.function, lambda arguments: kept.append(vars(arguments)) or 0)
    return kept


def test_every_option_of_every_command_is_tried() -> None:
    tried = {(call[0][0], part[0].split("=")[0]) for call in CALLS.values() for part in call[1]}
    assert tried == {(command.name.split()[0], option.flag) for command in COMMANDS for option in command.options}


@pytest.mark.parametrize("name", CALLS)
def test_options_may_stand_anywhere(name: str, given: list[dict[str, Any]]) -> None:
    words, options, expected = CALLS[name]
    calls = list(_orders(words, options))
    for call in calls:
        assert main(call) == 0, call
        assert given.pop() == expected, call
    assert len(calls) >= len(options) + 1


def test_options_can_be_repeated_and_words_can_begin_with_a_hyphen(given: list[dict[str, Any]]) -> None:
    assert main(["publish", "--only", "card", ".", "--only", "site", "--to", "out"]) == 0
    assert given.pop()["only"] == ["card", "site"]
    assert main(["draft", "--from", "x.md", "--", "--from the front", "."]) == 0
    assert given.pop() == {"title": "--from the front", "folder": ".", "source": "x.md"}


def test_a_draft_is_the_same_by_its_short_form(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = set()
    for words in (["draft"], ["draft", "new"]):
        root = Path(shutil.copytree(results.DEPARTMENT, tmp_path / words[-1]))
        assert main([*words, "Trigger finger release", "--from", str(OUTLINE), str(root)]) == 0
        made.add(fingerprint(root / "content"))
    assert len(made) == 1


def test_bare_shows_help_on_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    bare = capsys.readouterr()
    assert main(["--help"]) == 0
    assert (bare.out, bare.err) == (capsys.readouterr().out, "")
    for command in COMMANDS:
        assert command.usage in bare.out
        assert command.about in bare.out


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_each_command_has_help_wherever_it_is_asked_for(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    texts = set()
    for order in _orders(command.name.split(), [["--help"]]):
        assert main(order) == 0
        texts.add(capsys.readouterr().out)
    text = max(texts, key=len) if len(command.name.split()) == 1 else None
    for shown in texts if text is None else {text}:
        assert command.usage in shown
        assert command.about in shown
        assert all(option.flag in shown for option in command.options)
        assert all(example in shown for example in command.examples)


def test_readme_lists_every_command_and_short_form() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for usage in [command.usage for command in COMMANDS] + [typed for typed, _ in SHORT_FORMS]:
        assert usage in readme
    names = {command.name for command in COMMANDS}
    assert {name for _, name in SHORT_FORMS} <= names


@pytest.mark.parametrize(
    ("call", "said"),
    [
        ("chek .", "There is no command 'chek'. Did you mean check?"),
        ("publsh", "There is no command 'publsh'. Did you mean publish?"),
        ("qwx", "There is no command 'qwx'. `prescrub --help` lists what there is."),
        ("--fresh", "No command is named. `prescrub --help` lists them."),
        ("check --frsh", "`prescrub check` has no option --frsh. Did you mean --fresh?"),
        ("check --fres", "`prescrub check` has no option --fres. Did you mean --fresh?"),
        ("check --formt=json", "`prescrub check` has no option --formt=json. Did you mean --format?"),
        ('draft "A title" --form talk.md .', "`prescrub draft` has no option --form. Did you mean --from?"),
        ("check --in .", "`prescrub check` has no option --in."),
        ("sources add x.ris --style plain", "`prescrub sources add` has no option --style. It belongs to "
         "`prescrub sources list [FOLDER]`."),
        ("check . more", "'more' is one word too many. Write: prescrub check [FOLDER]."),
        ("sources show key a --in b", "'a' is one word too many."),
        ("check --format yaml", "--format cannot be 'yaml'. Write text, json or sarif."),
        ("check --format", "--format must be followed by FORM."),
        ("check --ask=yes", "--ask takes no value."),
        ("check --ask --mend", "--ask and --mend do not go together."),
        ("publish .", "--to (the folder to publish to; it is replaced as a whole) is missing. "
         "Write: prescrub publish [FOLDER] --to DIR"),
        ("publish --to x --session 15", "--session cannot be '15'. Write 10, 20 or 40."),
        ("sources add", "FILE (sources from elsewhere: .bib, .ris, .nbib (PubMed) or CSL-JSON) is missing."),
        ("sources show", "KEY (the key of a source) is missing."),
        ("draft Open appendicectomy", "appendicectomy is not a folder. A title of several words needs quotation"),
        ("draft confrim a.md", "a.md is not a folder. Did you mean prescrub draft confirm?"),
        ("sources ad --in BASE", "There is no source 'ad'. Near: `prescrub sources add`."),
        ("sources list --style vancuver --in BASE", "There is no style 'vancuver'. Name one of: vancouver"),
        ("schema stepp", "There is no kind of file 'stepp'."),
        ("preview BASE --port eighty", "eighty is not a port."),
    ],
)  # fmt: skip
def test_a_slip_is_named_with_what_was_meant(
    call: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(shlex.split(call.replace("BASE", shlex.quote(str(BASE))))) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.out == ""
    assert list(tmp_path.iterdir()) == []


def _with_source(base: Path, key: str) -> None:
    with (base / "references/sources.bib").open("a", encoding="utf-8") as file:
        file.write(f"\n@book{{{key},\n  title = {{A book of its own}},\n  year = {{2020}},\n}}\n")


@pytest.mark.parametrize("key", ["list", "show", "add", "notices"])
def test_a_source_with_the_name_of_a_command_is_reached(
    key: str, base: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _with_source(base, key)
    monkeypatch.chdir(base)
    assert main(["sources", "show", key]) == 0
    assert "A book of its own" in capsys.readouterr().out
    if key == "list":
        assert main(["sources", "list"]) == 0
        assert "retained-items-risk-2003" in capsys.readouterr().out
    else:
        assert main(["sources", key]) == 2
        asked = capsys.readouterr().err
        full = f"`prescrub sources {key} {'KEY' if key == 'show' else 'FILE'}` or `prescrub sources show {key}`"
        assert f"`prescrub sources {key}` could mean two things. Write {full}." in asked


def test_a_word_that_is_key_and_folder_is_asked_about(
    base: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(BASE, base / "mine")
    monkeypatch.chdir(base)
    assert main(["sources", "mine"]) == 0
    assert "Coverage" in capsys.readouterr().out
    _with_source(base, "mine")
    assert main(["sources", "mine"]) == 2
    assert "Write `prescrub sources list mine` or `prescrub sources show mine`." in capsys.readouterr().err
    assert main(["sources", "show", "mine"]) == 0
    assert "A book of its own" in capsys.readouterr().out
    assert main(["sources", "list", "mine"]) == 0
    assert "A book of its own" not in capsys.readouterr().out


@pytest.mark.parametrize("title", ["new", "confirm"])
def test_a_procedure_with_the_name_of_a_command_is_reached(
    title: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(shutil.copytree(results.DEPARTMENT, tmp_path / "department"))
    assert main(["draft", title, "--from", str(OUTLINE)]) == 2
    asked = capsys.readouterr().err
    assert f"prescrub draft {title} {'TITLE' if title == 'new' else 'FILE'}" in asked
    assert f"For a procedure with the title {title!r}, write: prescrub draft new {title}" in asked
    assert main(["draft", "new", title, "--from", str(OUTLINE)]) == 0
    assert Path("content/procedures", title, "procedure.md").is_file()


def test_a_folder_alone_is_not_taken_for_a_title(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(shutil.copytree(results.DEPARTMENT, tmp_path / "department"))
    shutil.copytree(results.DEPARTMENT, "mine")
    for call in (["draft", "mine"], ["draft", "new", "mine"]):
        assert main([*call, "--from", str(OUTLINE)]) == 2
        asked = capsys.readouterr().err
        assert "prescrub draft new TITLE mine" in asked
        assert "prescrub draft new mine ." in asked
    assert main(["draft", "new", "mine", ".", "--from", str(OUTLINE)]) == 0


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


EXAMPLES = [example for command in COMMANDS for example in command.examples]
ANSWERS = "\n\n\n\n\n\n\n\nOpen the skin\nClose the skin\n"
RIS = "TY  - JOUR\nTI  - Closing the canal\nAU  - Berg, Ada\nPY  - 2020\nJO  - Hernia\nVL  - 1\nER  - \n"


@pytest.fixture
def desk(base: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A department's folder with another one in it, and the files that the examples name."""
    shutil.copytree(BASE, base / "my-department")
    region(base / "my-region", ["north"])
    step = base / "content/procedures/example/steps/open-canal.md"
    step.write_text(step.read_text(encoding="utf-8").replace("---\n", "---\nproposed: true\n", 1), encoding="utf-8")
    (base / "old-outline.md").write_text(OUTLINE.read_text(encoding="utf-8"), encoding="utf-8")
    (base / "talk.vtt").write_text("WEBVTT\n\n00:01.000 --> 00:04.000\nStep one, open the skin.\n", encoding="utf-8")
    (base / "export.ris").write_text(RIS, encoding="utf-8")
    (base / "retractions.csv").write_text(
        "# dated: 2026-11-20\ndoi,pmid,kind,date,note\n10.1002/bjs.5651,,corrected,2020-06-04,invented\n",
        encoding="utf-8",
    )
    for year in ("last-year", "this-year"):
        shutil.copytree(BASE, base / year)
    step = base / "last-year/content/procedures/example/steps/open-canal.md"
    step.write_text(step.read_text(encoding="utf-8").replace("\ntitle: ", "\ntitle: Slowly ", 1), encoding="utf-8")
    monkeypatch.chdir(base)
    author = ["-c", "user.name=Ada Example", "-c", "user.email=ada@example.org"]
    for words in (["init", "-q", "."], ["add", "-A"], [*author, "commit", "-qm", "First edition"]):
        subprocess.run(["git", *words], check=True)
    return base


def _is_whole_publish(example: str) -> bool:
    return example.startswith("prescrub publish") and "--only" not in example


@pytest.mark.parametrize(
    "example",
    [
        pytest.param(example, marks=pytest.mark.slow) if _is_whole_publish(example) else example
        for example in EXAMPLES
        if "preview" not in example
    ],
)
def test_examples_of_help_work(
    example: str, desk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if "--fill" in example:
        assert main(["check", "my-department", "--ask"]) == 0
        Path("questions.md").write_text(capsys.readouterr().out, encoding="utf-8")
    if ('"Open appendicectomy"' in example or "start" in example) and "--from" not in example:
        first = "Surgery\n\n\nOpen appendicectomy\n" if "start" in example else ""
        monkeypatch.setattr("sys.stdin", _Terminal(first + ANSWERS))
        monkeypatch.setattr("sys.stdout", _Terminal())
    if "take" in example:
        assert main(["share", "example", "--to", "committee.docx"]) == 0
    if "approve" in example:
        for page in desk.glob("**/procedures/example/procedure.md"):
            page.write_text(page.read_text(encoding="utf-8").replace("status: draft", "status: in review"), "utf-8")
        step = desk / "content/procedures/example/steps/open-canal.md"
        step.write_text(step.read_text(encoding="utf-8").replace("proposed: true\n", ""), encoding="utf-8")
        monkeypatch.setattr("sys.stdin", _Terminal("Bea Example\ny\n"))
        monkeypatch.setattr("sys.stdout", _Terminal())
    words = shlex.split(example.partition(" > ")[0])
    assert words[0] == "prescrub"
    assert main(words[1:]) == 0, capsys.readouterr().err
    if "--to" in words:
        made = Path(words[words.index("--to") + 1])
        assert made.stat().st_size if made.is_file() else any(made.iterdir())


@pytest.mark.parametrize("example", [example for example in EXAMPLES if "preview" in example])
def test_examples_of_preview_lead_to_a_server(example: str, desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """How it starts and ends as a process of its own is shown in ``preview/test_command.py``."""
    served: list[str] = []

    def once(server: Any, *, browser: bool) -> None:
        served.append(server.server_address[0])
        server.workshop.end()
        server.server_close()

    monkeypatch.setattr(preview, "_serve", once)
    words = shlex.split(example)[1:]
    if "--port" in words:  # this one may be taken on the machine that tests
        words[words.index("--port") + 1] = "0"
    assert main(words) == 0
    assert served == ["127.0.0.1"]

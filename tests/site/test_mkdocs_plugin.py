"""The plugin of mkdocs in sites of others: everything proved is there, and nothing is built where it is not.

Three projects as departments have them: the theme that comes with mkdocs, mkdocs-material with tabs and search, and
one with other plugins, addresses as folders, a navigation of its own and code of its own.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import patience
import pytest
import yaml
from browser_tools import free_port
from department import BASE
from lxml import html
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort, PluginError

from builder.compose.site.scoped_look import scoped
from builder.load.templates import load_templates
from builder.readback.site.page import shown_by

PLAIN = {"theme": "mkdocs"}
TABS = {"theme": {"name": "material", "font": False, "features": ["navigation.tabs"]}}
OTHERS = ["material/meta", "material/tags"]
OWN = {"theme": {"name": "material", "font": False}, "use_directory_urls": True, "nav": [{"Home": "index.md"}]}
HOOK = """
def on_page_content(html, page, config, files):
    return html + "<p>Local rota: ask the desk.</p>"
"""


@pytest.fixture
def project(tmp_path: Path) -> Path:
    docs = tmp_path / "docs"
    docs.mkdir()
    (docs / ".meta.yml").write_text("tags: [ward]\n", encoding="utf-8")
    (docs / "index.md").write_text("# Ward handbook\n\nSee the [procedures](teaching/index.md).\n", encoding="utf-8")
    return tmp_path


def built(project: Path, more: dict[str, Any], folder: Path = BASE, outputs: tuple[str, ...] = ()) -> Path:
    plugin = {"prescrub": {"folder": str(folder), "under": "teaching", "outputs": list(outputs)}}
    others = OTHERS if "hooks" in more and "nav" in more else []
    told = {"site_name": "Handbook", "plugins": [*others, "search", plugin], "use_directory_urls": False, **more}
    (project / "mkdocs.yml").write_text(yaml.safe_dump(told), encoding="utf-8")
    config = load_config(str(project / "mkdocs.yml"), strict=True)
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    return project / "site"


def refused(project: Path, more: dict[str, Any], folder: Path = BASE) -> str:
    """Return why nothing was built; mkdocs says it, and ends."""
    with pytest.raises((PluginError, Abort)) as told:
        built(project, more, folder)
    assert not list(project.glob("site/teaching/**/*.html"))
    return str(told.value if isinstance(told.value, PluginError) else told.value.__context__)


def ours(site: Path, name: str = "teaching/example/index.html") -> Any:
    return html.document_fromstring((site / name).read_text(encoding="utf-8")).get_element_by_id("prescrub")


def addresses(tree: Any) -> Iterator[str]:
    yield from tree.xpath(".//@src | .//@href")


@pytest.mark.parametrize("more", [PLAIN, TABS, {**OWN, "hooks": ["hook.py"]}], ids=["plain", "tabs", "other plugins"])
def test_a_page_has_every_caution_and_asks_for_nothing_outside(project: Path, more: dict[str, Any]) -> None:
    (project / "hook.py").write_text("def on_env(env, config, files):\n    return env\n", encoding="utf-8")
    site = built(project, more)
    page = ours(site)
    text = " ".join(page.text_content().split())
    for words in ("Warning", "Stop, lengthen the skin cut", "Go on when", "local policy and the supervising clinician"):
        assert words in text, words
    for path in site.joinpath("teaching").rglob("*.html"):
        tree = ours(site, path.relative_to(site).as_posix())
        for address in addresses(tree):
            local = address.partition("#")[0]
            if local and not re.match(r"[a-z]+:", local):
                assert (path.parent / local).exists(), (path, address)
        assert not tree.xpath(".//img[starts-with(@src, 'http')] | .//script[@src]")
    first = (site / "index.html").read_text(encoding="utf-8")
    assert "procedures" in first.casefold()
    assert ("md-tags" in first) == ("hooks" in more), "the other plugins did their work too"


def test_papers_are_made_where_they_are_asked_for(project: Path) -> None:
    site = built(project, PLAIN, outputs=("what-now",))
    assert (site / "teaching/example/what-now.pdf").read_bytes().startswith(b"%PDF")
    assert "what-now.pdf" in set(addresses(ours(site)))


def test_a_navigation_of_ones_own_gets_the_procedures_and_headings_are_in_the_list_of_contents(project: Path) -> None:
    site = built(project, OWN)
    tree = html.document_fromstring((site / "teaching/example/index.html").read_text(encoding="utf-8"))
    assert any("Procedures" in text for text in tree.xpath("//nav//text()"))
    assert any("Aftercare" in text for text in tree.xpath("//nav[@class='md-nav md-nav--secondary']//text()"))
    assert "teaching/example/index.html" in (site / "search/search_index.json").read_text(encoding="utf-8")


def test_an_error_of_the_content_builds_nothing(project: Path, base: Path) -> None:
    step = base / "content/procedures/example/steps/open-canal.md"
    step.write_text(step.read_text(encoding="utf-8").replace("identify:", "identfy:", 1), encoding="utf-8")
    assert re.search(r"open-canal\.md:\d+:\d+: error", refused(project, PLAIN, base))


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (
            "def on_page_content(html, page, config, files):\n    return html.replace('lengthen the skin cut', '')\n",
            "changed what is shown",
        ),
        (
            "def on_page_content(html, page, config, files):\n    return '<details>' + html + '</details>'\n",
            "hides this page",
        ),
        ("def on_page_content(html, page, config, files):\n    return '<p>moved</p>'\n", "left out"),
        (
            "def on_post_page(output, page, config):\n    return output.replace('Warning', '<i hidden>Warning</i>')\n",
            "changed what is shown",
        ),
    ],
    ids=["a word", "folded", "everything", "hidden"],
)
def test_what_another_takes_away_is_noticed(project: Path, code: str, said: str) -> None:
    (project / "hook.py").write_text(code, encoding="utf-8")
    assert said in refused(project, {**PLAIN, "hooks": ["hook.py"]})


def test_what_another_adds_is_left_alone(project: Path) -> None:
    (project / "hook.py").write_text(HOOK, encoding="utf-8")
    site = built(project, {**PLAIN, "hooks": ["hook.py"]})
    assert "ask the desk" in (site / "teaching/example/index.html").read_text(encoding="utf-8")


def test_the_look_stays_within_our_element() -> None:
    style = scoped(load_templates(BASE)["site/look/site.css"], ".85rem", '[data-md-color-scheme="slate"]')
    rules = re.sub(r"@media[^{]*", "", style).replace("--unit:.85rem", "")
    assert not re.search(r"\drem\b", rules)
    selectors = re.findall(r"(?:^|[{}])\s*([^@{}]+)\{", style)
    ours_alone = ("#prescrub", ".stepbar", "dialog", ".large", "body.has-bar", ".is-small #prescrub")
    assert len(selectors) > 200
    for selector in (part.strip() for group in selectors for part in re.split(r",(?![^(]*\))", group)):
        bare = selector.removeprefix('[data-md-color-scheme="slate"] ')
        assert bare.startswith(ours_alone) or re.match(r"size|margin|font", bare), selector


def test_words_are_compared_as_a_browser_shows_them() -> None:
    assert "".join(shown_by(b"<p>one</p><p hidden>two</p>").words) == "one"


def test_an_edit_is_seen_while_mkdocs_serves(project: Path, base: Path) -> None:
    plugin = {"prescrub": {"folder": str(base), "under": "teaching"}}
    told = {"site_name": "Handbook", "plugins": [plugin], "use_directory_urls": False, "theme": "mkdocs"}
    (project / "mkdocs.yml").write_text(yaml.safe_dump(told), encoding="utf-8")
    port = free_port()
    command = [sys.executable, "-m", "mkdocs", "serve", "--dev-addr", f"127.0.0.1:{port}"]
    with (project / "log").open("w") as log, subprocess.Popen(command, cwd=project, stdout=log, stderr=log) as server:
        try:
            waited_for("Cut the skin and tie the vein", port, server)
            step = base / "content/procedures/example/steps/cut-skin.md"
            step.write_text(step.read_text(encoding="utf-8").replace("title: Cut the skin", "title: Incise the skin"))
            waited_for("Incise the skin and tie the vein", port, server)
        finally:
            server.terminate()


def waited_for(words: str, port: int, server: subprocess.Popen[bytes]) -> None:
    """Ask for the page until it has ``words``."""
    address = f"http://127.0.0.1:{port}/teaching/example/index.html"
    for _ in range(patience.SECONDS * 5):
        assert server.poll() is None, "mkdocs has ended"
        try:
            with urllib.request.urlopen(address) as answer:
                if words in answer.read().decode():
                    return
        except OSError:
            pass  # it does not listen yet, or is building
        time.sleep(0.2)
    pytest.fail(f"never shown: {words}")


@pytest.mark.slow
def test_mkdocs_publishes_the_demonstration(tmp_path: Path) -> None:
    """As `mkdocs build` does it in this folder."""
    root = Path(__file__).parents[2]
    config = load_config(str(root / "mkdocs.yml"), site_dir=str(tmp_path / "site"), strict=True)
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    made = tmp_path / "site/procedures/open-mesh-inguinal-hernia"
    assert {"index.html", "self-test.html", "evidence.html", "card.pdf", "what-now.pdf"} <= {
        path.name for path in made.iterdir()
    }

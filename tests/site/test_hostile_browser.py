"""Hostile text wherever text can stand, opened in a real browser with no policy to help."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from department import new_base
from publishing import publish_site
from test_hostile_pages import PAYLOADS
from test_pictures import HOSTILE, NS

KEYS = {
    "title", "summary", "setting", "cue", "if_not", "why", "error", "recovery", "call", "hazard", "consequence",
    "avoid", "sign", "if_it_happens", "patient_text", "alt", "caption", "credit", "who", "when", "long", "name", "role",
    "what",
}  # fmt: skip
LINE = re.compile(r"^(?P<before> *(?P<key>\w+): )(?P<text>[^\[{|>].*)$", re.MULTILINE)
ACTS = """
window.acted = [];
['alert', 'confirm', 'prompt', 'open', 'print'].forEach(function (name) {
  window[name] = function () { window.acted.push(name); };
});
"""


def poisoned(folder: Path) -> tuple[Path, int]:
    """Return a department with every payload in all texts, prose, sources and figures, and how many were put in."""
    root = new_base(folder)
    quoted = " ".join(PAYLOADS).replace("'", "''")
    places = 0

    def spoilt(match: re.Match[str]) -> str:
        nonlocal places
        if match["key"] not in KEYS:
            return match[0]
        places += 1
        return f"{match['before']}'{match['text'].strip(chr(34))} {quoted}'"

    for path in [*root.rglob("*.md"), root / "content/catalogue/terms.yml"]:
        text = re.sub(
            r"^(?P<before> *(?P<key>\w+): )(?P<text>[^\[{|>].*)$", spoilt, path.read_text(), flags=re.MULTILINE
        )
        if path.suffix == ".md":
            text = "\n\n".join([text, *PAYLOADS, ""])
            places += 1
        path.write_text(text)
    plain = " ".join(one for one in PAYLOADS if not re.search(r"[{}\\%]", one))
    bib = root / "references/sources.bib"
    bib.write_text(re.sub(r"(?<=title = \{)|(?<=journal = \{)", lambda _: f"{plain} ", bib.read_text()))
    figure = root / "content/procedures/example/figures/canal.svg"
    figure.write_text(f'<svg {NS} viewBox="0 0 9 9">{"".join(HOSTILE)}<circle r="3"/></svg>')
    return root, places * len(PAYLOADS) + len(HOSTILE)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("poisoned")
    root, count = poisoned(folder)
    assert count > 1000
    publish_site(root, folder / "public", ("site", "single-file"))
    return folder / "public"


def test_nothing_acts_and_nothing_is_fetched(browser: Any, site: Path) -> None:
    context = browser.new_context()
    context.add_init_script(ACTS)
    tab = context.new_page()
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("dialog", lambda dialog: asked.append(f"dialog {dialog.message}"))
    # The page for what is not there is never opened from a folder: its links start at the root of a server.
    pages = sorted(path for path in site.rglob("*.html") if path.name != "404.html")
    assert len(pages) >= 5
    ours = (site.as_uri(), "data:image/svg+xml;", "data:font/woff2;")
    for path in [*pages, *site.rglob("*.svg")]:
        tab.goto(path.as_uri())
        if tab.locator("input[type=search]").count():
            tab.locator("input[type=search]").first.fill("alert")
            tab.wait_for_selector(".found:not([hidden]) li, .found:not([hidden])")
        for control in tab.query_selector_all(".enlarge, .ways input, .question button"):
            control.dispatch_event("click")
        tab.mouse.move(200, 200)
        assert tab.evaluate("window.acted") == [], path.name
        assert tab.url == path.as_uri(), "no page was left"
    context.close()
    assert [address for address in asked if not address.startswith(ours)] == []


def test_no_file_of_the_machine_is_in_anything_published(site: Path) -> None:
    for path in site.rglob("*"):
        if path.is_file():
            assert b"root:x:0:0" not in path.read_bytes(), path

"""``engine: mkdocs``: prescrub publish makes the department's mkdocs site, as whole and as safely as its own."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from department import new_base
from lxml import html
from publishing import SETTINGS, UNDER, fingerprint, with_mkdocs

from builder.cli import main

HOOK = "def on_page_content(html, page, config, files):\n    return html.replace('lengthen the skin cut', '')\n"


def published(root: Path, to: Path, *more: str) -> int:
    return main(["publish", str(root), "--to", str(to), "--only", "site", *more])


@pytest.fixture(scope="module")
def public(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = with_mkdocs(new_base(tmp_path_factory.mktemp("engine")))
    to = root.parent / "public"
    assert published(root, to, "--only", "what-now") == 0
    return to


def test_the_site_is_that_of_mkdocs_with_every_page_and_paper_in_it(public: Path) -> None:
    page = (public / UNDER / "example/index.html").read_text(encoding="utf-8")
    assert "md-content" in page
    assert "lengthen the skin cut" in page
    assert (public / UNDER / "example/what-now.pdf").read_bytes().startswith(b"%PDF")
    assert "Ward" in (public / "index.html").read_text(encoding="utf-8")


def test_the_report_is_of_the_finished_files(public: Path) -> None:
    report = json.loads((public / "build-report.json").read_text(encoding="utf-8"))
    listed = {made["path"]: made["sha256"] for made in report["artefacts"]} | report["files"]
    found = {path.relative_to(public).as_posix() for path in public.rglob("*") if path.is_file()}
    assert set(listed) | {"build-report.json"} == found
    for name, digest in listed.items():
        assert hashlib.sha256((public / name).read_bytes()).hexdigest() == digest, name
    assert {"page", "what-now", "status"} <= {made["kind"] for made in report["artefacts"]}


def test_a_second_publish_takes_the_place_of_the_first(public: Path) -> None:
    (root,) = (path for path in public.parent.iterdir() if (path / "content").is_dir())
    step = root / "content/procedures/example/steps/cut-skin.md"
    step.write_text(step.read_text(encoding="utf-8").replace("title: Cut the skin", "title: Incise the skin"))
    assert published(root, public) == 0
    assert "Incise the skin and tie" in (public / UNDER / "example/index.html").read_text(encoding="utf-8")
    assert not (public / UNDER / "example/what-now.pdf").exists()


def test_paper_alone_needs_no_mkdocs(tmp_path: Path) -> None:
    root = with_mkdocs(new_base(tmp_path))
    (root / "mkdocs.yml").unlink()
    assert main(["publish", str(root), "--to", str(tmp_path / "paper"), "--only", "what-now"]) == 0
    assert (tmp_path / "paper/example/what-now.pdf").is_file()


@pytest.mark.parametrize(
    ("settings", "code", "said"),
    [
        (None, 2, "there is no mkdocs.yml beside content/"),
        ("site_name: Handbook\n", 2, "does not name the plugin `prescrub`"),
        ("site_name: [", 2, "mkdocs.yml cannot be used"),
        (SETTINGS.replace("prescrub:", "prescrubs:"), 2, "mkdocs.yml cannot be used"),
        (SETTINGS + "hooks: [hook.py]\n", 1, "changed what is shown"),
        (SETTINGS + "strict: true\nnav: [missing.md]\n", 1, "missing.md"),
    ],
)
def test_what_cannot_be_made_leaves_the_old_site(  # noqa: PLR0917  # given by pytest, by name
    tmp_path: Path, public: Path, capsys: pytest.CaptureFixture[str], settings: str | None, code: int, said: str
) -> None:
    root, to, before = with_mkdocs(new_base(tmp_path)), public, fingerprint(public)
    (root / "hook.py").write_text(HOOK, encoding="utf-8")
    if settings is None:
        (root / "mkdocs.yml").unlink()
    else:
        (root / "mkdocs.yml").write_text(settings, encoding="utf-8")
    capsys.readouterr()
    assert published(root, to) == code
    told = capsys.readouterr().err
    assert said in told
    assert "Nothing was published" in told
    assert fingerprint(to) == before


def test_the_head_says_how_a_page_is_cited_and_the_sitemap_only_days_that_are_known(public: Path) -> None:
    page = html.document_fromstring((public / UNDER / "example/index.html").read_bytes())
    told = {one.get("name"): one.get("content") for one in page.xpath("//head/meta[@name]")}
    assert told["citation_title"] == told["DC.title"] == "Opening and closing the inguinal canal"
    [data] = page.xpath("//script[@type='application/ld+json']/text()")
    assert json.loads(data)["expires"] == "2028-05-31"
    places = html.fromstring((public / "sitemap.xml").read_bytes()).xpath("//url")
    days = {place.xpath("string(loc)"): place.xpath("string(lastmod)") for place in places}
    ours = [day for address, day in days.items() if f"/{UNDER}/" in address]
    assert ours
    assert not any(ours), "nothing here was issued or approved"

"""Our site engine, and the whole of ``prescrub publish --only site``, against bare mkdocs builds of the same text.

The pages are those of a real publish. Like is compared with like in the first row:

- *our engine*: it is given the finished bodies that mkdocs is given in our frame, and writes pages, look, pictures,
  list of addresses and the index of the search; mkdocs writes no index.

The second row is all of a publish, the last the same in mkdocs-material by our plugin. "Bare" is measured each way:

- *our frame*: every page that we make, as finished HTML in one file each, in a frame as lean as ours that carries no
  list of all pages. The hardest reference, and one that nobody has without us.
- *stock theme*: the same text as the Markdown that somebody would write, with mkdocs-material and its search as they
  come: one page a procedure, a quarter of the pages that we make.
- *stock theme, all pages*: the same with every page that we make. Each carries links to all others, so time and bytes
  grow as the square: a thousand procedures take a quarter of an hour and 14 GB. Asked for by name (`site-all`).

The whole publish reads, checks, composes, draws maps, writes, indexes, reads every page back, looks through every file
for what names a patient and hashes it; the bare runs only build.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config

from bench.departments import BASE
from bench.measure import Measured, measure
from bench.plain import markdown_of
from builder.check.engine import examine
from builder.compose.document import Renderer
from builder.compose.site.web import SearchSection, WebPage
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.site.site import Site

_MAIN = re.compile(r'<main id="main" tabindex="-1">(.*)</main>', re.DOTALL)
_TITLE = re.compile(r"<title>(.*?)</title>")
_FRAME = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ page.title }}</title>
<link rel="stylesheet" href="{{ base_url }}/look/site.css"><script src="{{ base_url }}/look/site.js" defer></script>
</head><body><main>{{ page.content }}</main></body></html>
"""


@dataclass(frozen=True)
class Built:
    """One run: what it took, and the bytes, files and pages it wrote."""

    took: Measured
    bytes: int
    files: int
    pages: int


def ours(folder: Path, to: Path) -> None:
    """Check and publish the site alone, as the command does."""
    library, _ = examine(load(folder))
    publish(library, to, load_templates(folder), only=("site",))


def engine(kept: Path, to: Path) -> None:
    """Write the finished pages in ``kept`` as our engine does, with all that belongs to them."""
    library, _ = examine(load(BASE))
    templates, docs = load_templates(BASE), kept / "docs"
    shutil.copytree(docs, to, ignore=shutil.ignore_patterns("*.md", "look"))
    site = Site(library, Renderer(templates), to)
    site.add_look(templates)
    sections = json.loads((kept / "sections.json").read_text(encoding="utf-8"))
    for path in sorted(docs.rglob("*.md")):
        _, head, body = path.read_text(encoding="utf-8").split("---\n", 2)
        name = path.relative_to(docs).with_suffix(".html").as_posix()
        found = tuple(SearchSection(*section) for section in sections.get(name, ()))
        site.take(site.write(WebPage("page", json.loads(head.removeprefix("title: ")), name, body, sections=found)))
    site.finish()


def keep_pages(folder: Path, work: Path) -> None:
    """Publish once, and keep in ``work/site`` and ``work/text`` what the bare runs build."""
    ours(folder, work / "kept")
    keep(work / "kept", work / "site")
    keep_text(work / "kept", work / "text", all_pages=False)
    keep_text(work / "kept", work / "all", all_pages=True)
    shutil.rmtree(work / "kept")


def _kept(made: Path, to: Path) -> Iterator[tuple[str, str, str]]:
    """Copy what is no page of the published folder ``made`` to ``to``; yield name, title and body of each page."""
    shutil.copytree(made, to, ignore=shutil.ignore_patterns("*.html", "search", "sitemap.xml"))
    for path in sorted(made.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        main, title = _MAIN.search(text), _TITLE.search(text)
        if main and title and path.name != "404.html":
            yield path.relative_to(made).with_suffix(".md").as_posix(), title[1], main[1].strip()


def keep(made: Path, to: Path) -> None:
    """Keep in ``to`` the finished pages of the published folder ``made``, for mkdocs alone in a lean frame."""
    for name, title, body in _kept(made, to / "docs"):
        (to / "docs" / name).write_text(f"---\ntitle: {json.dumps(title)}\n---\n{body}\n", encoding="utf-8")
    index = (made / "search" / "places.js").read_text(encoding="utf-8")
    entries = json.loads(index.removeprefix("window.searchIndex=").rstrip().removesuffix(";"))
    (to / "sections.json").write_text(json.dumps({name: told for name, _, told in entries}), encoding="utf-8")
    (to / "theme").mkdir()
    (to / "theme" / "main.html").write_text(_FRAME, encoding="utf-8")
    told = {
        "site_name": "Department",
        "theme": {"name": None, "custom_dir": str(to / "theme")},
        "plugins": [],
        "markdown_extensions": [],
        "use_directory_urls": False,
    }
    (to / "mkdocs.yml").write_text(yaml.safe_dump(told), encoding="utf-8")


def keep_text(made: Path, to: Path, *, all_pages: bool) -> None:
    """Keep in ``to`` the text of the pages as Markdown with all that is no page; without ``all_pages`` only the first
    page and one for each procedure."""
    for name, title, body in _kept(made, to / "docs"):
        folder, _, file = name.rpartition("/")
        if all_pages or (file == "index.md" and folder not in ("sources", "hosting") and not folder.startswith("C")):
            page = f"---\ntitle: {json.dumps(title)}\n---\n{markdown_of(body)}"
            (to / "docs" / name).write_text(page, encoding="utf-8")


def bare_frame(work: Path, to: Path) -> None:
    """Build the kept pages with mkdocs in a lean frame."""
    _build(work / "site" / "mkdocs.yml", to)


def bare_stock(kept: Path, to: Path) -> None:
    """Build the text in ``kept`` with mkdocs-material as it comes, with its search."""
    told = {
        "site_name": "Department",
        "theme": {"name": "material", "font": False},
        "plugins": ["search"],
        "use_directory_urls": False,
        # A link to a page that is not among them is no news here, and telling of thousands would take time.
        "validation": dict.fromkeys(("omitted_files", "absolute_links", "unrecognized_links", "not_found"), "ignore"),
    }
    file = kept / "stock.yml"
    file.write_text(yaml.safe_dump(told), encoding="utf-8")
    _build(file, to)


def plugin(folder: Path, to: Path) -> None:
    """Let mkdocs-material build a site with our plugin in it: the same check, pages and proofs, in its frame."""
    docs = folder / "docs"
    docs.mkdir(exist_ok=True)
    (docs / "index.md").write_text("# Department\n", encoding="utf-8")
    told = {
        "site_name": "Department",
        "theme": {"name": "material", "font": False},
        "plugins": ["search", {"prescrub": {"folder": str(folder), "outputs": []}}],
        "use_directory_urls": False,
    }
    file = folder / "mkdocs.yml"
    file.write_text(yaml.safe_dump(told), encoding="utf-8")
    _build(file, to)


def _build(file: Path, to: Path) -> None:
    os.chdir(file.parent)
    mkdocs_build(load_config(str(file), docs_dir=str(file.parent / "docs"), site_dir=str(to)))


def compare(folder: Path, work: Path, *, all_pages: bool) -> dict[str, Built]:
    """Return what each run took and wrote, by its name, each once; ``all_pages`` adds the dearest."""
    work.mkdir()
    keep_pages(folder, work)
    found = {
        "our engine": _run(work / "engine", engine, work / "site"),
        "ours": _run(work / "ours", ours, folder),
        "bare, our frame": _run(work / "frame", bare_frame, work),
        "bare, stock theme": _run(work / "stock", bare_stock, work / "text"),
        "our mkdocs plugin": _run(work / "plugin", plugin, folder),
    }
    if all_pages:
        found["bare, stock, all"] = _run(work / "stock-all", bare_stock, work / "all")
    return found


def _run(to: Path, task: Any, source: Path) -> Built:
    took = measure(task, source, to, runs=1)
    files = [path for path in to.rglob("*") if path.is_file()]
    pages = sum(path.suffix == ".html" for path in files)
    built = Built(took, sum(path.stat().st_size for path in files), len(files), pages)
    shutil.rmtree(to)
    return built

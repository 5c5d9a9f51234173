"""``prescrub publish --only site`` against bare mkdocs builds of the same text, in time and in bytes.

The pages are taken from a real publish. What "bare" may mean is measured each way:

- *our frame*: what mkdocs got from us, head and body in one file, in our own frame, which is lean and carries no list
  of all pages. The hardest reference, and one that nobody has without us.
- *stock theme*: the same text as the Markdown that somebody would write, with mkdocs-material and its search as they
  come: one page a procedure, a quarter of the pages that we make.
- *stock theme, all pages*: the same with every page that we make. Each carries links to all others, so time and bytes
  grow as the square: a thousand procedures take a quarter of an hour and 14 GB. Asked for by name (`site-all`).

Ours reads, checks, composes, builds, indexes, reads every page back, looks through every file for what names a patient
and hashes it; the bare runs only build.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config

from bench.measure import Measured, measure
from bench.plain import markdown_of
from builder.check.engine import examine
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.site import site

_BODY = "config.extra.bodies[page.file.src_uri]"


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


def keep_pages(folder: Path, work: Path) -> None:
    """Publish once, and keep in ``work/site`` what mkdocs was given."""
    built = site.Site.build

    def build(self: site.Site, *given: Any, **named: Any) -> Any:
        result = built(self, *given, **named)
        keep(self, work / "site")
        keep_text(self, work / "text", all_pages=False)
        keep_text(self, work / "all", all_pages=True)
        return result

    site.Site.build = build  # type: ignore[method-assign]  # put back below
    try:
        ours(folder, work / "kept")
    finally:
        site.Site.build = built  # type: ignore[method-assign]
    shutil.rmtree(work / "kept")


def keep(built: site.Site, to: Path) -> None:
    """Keep in ``to`` the composed Markdown pages and settings of a site for mkdocs alone: head and body in one file,
    and our frame with what Markdown makes of the body."""
    shutil.copytree(built.folder, to, ignore=shutil.ignore_patterns("made", "new", "bodies"))
    for source in built.bodies.places:
        page = to / "docs" / source
        page.write_text(f"{page.read_text(encoding='utf-8')}{built.bodies[source]}\n", encoding="utf-8")
    told = yaml.safe_load((to / "mkdocs.yml").read_text(encoding="utf-8"))
    shutil.copytree(told["theme"]["custom_dir"], to / "theme")
    frame = to / "theme" / "main.html"
    text = frame.read_text(encoding="utf-8")
    assert _BODY in text
    frame.write_text(text.replace(_BODY, "page.content"), encoding="utf-8")
    told["theme"]["custom_dir"] = str(to / "theme")
    (to / "mkdocs.yml").write_text(yaml.safe_dump(told, allow_unicode=True), encoding="utf-8")


def keep_text(built: site.Site, to: Path, *, all_pages: bool) -> None:
    """Keep in ``to`` the text of the pages as Markdown with all that is no page; without ``all_pages`` only the first
    page and one for each procedure."""
    shutil.copytree(built.docs, to / "docs", ignore=shutil.ignore_patterns("look", "search"))
    wanted = {f"{id}/index.md" for id in built.library.by_id} | {"index.md"}
    for source in built.bodies.places:
        page = to / "docs" / source
        if all_pages or source in wanted:
            head = page.read_text(encoding="utf-8")
            page.write_text(f"{head}{markdown_of(built.bodies[source])}", encoding="utf-8")
        else:
            page.unlink()


def bare_frame(work: Path, to: Path) -> None:
    """Build the kept site with mkdocs in our own frame."""
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


def _build(file: Path, to: Path) -> None:
    os.chdir(file.parent)
    mkdocs_build(load_config(str(file), docs_dir=str(file.parent / "docs"), site_dir=str(to)))


def compare(folder: Path, work: Path, *, all_pages: bool) -> dict[str, Built]:
    """Return what each run took and wrote, by its name, each once; ``all_pages`` adds the dearest."""
    work.mkdir()
    keep_pages(folder, work)
    found = {
        "ours": _run(work / "ours", ours, folder),
        "bare, our frame": _run(work / "frame", bare_frame, work),
        "bare, stock theme": _run(work / "stock", bare_stock, work / "text"),
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

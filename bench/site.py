"""``prescrub publish --only site`` against the bare mkdocs build of the same pages, in time and in bytes.

The pages are taken from a real publish, as mkdocs got them. Bare is measured twice: with stock mkdocs-material and its
own search, as a department would run it; and, much leaner, in our own frame without a search index. Ours reads,
checks, composes, builds, indexes, reads every page back and hashes every file; the bare runs only build.
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
from builder.check.engine import examine
from builder.load.folder import load
from builder.load.templates import load_templates
from builder.publish import site
from builder.publish.outputs import SITE
from builder.publish.publish import publish
from builder.readback.proofs import PROOFS

_BODY = "config.extra.bodies[page.file.src_uri]"
CAP_SECONDS = 120.0
"""A build with the stock theme that takes longer is stopped: its pages each carry links to all others."""


@dataclass(frozen=True)
class Built:
    """One run: what it took, or None where it was stopped at the cap, and the bytes and files it wrote."""

    took: Measured | None
    bytes: int
    files: int


def ours(folder: Path, to: Path) -> None:
    """Check and publish the site alone, as the command does."""
    library, _ = examine(load(folder))
    publish(library, to, load_templates(folder), proofs=PROOFS, only=(SITE,))


def keep_pages(folder: Path, work: Path) -> None:
    """Publish once, and keep in ``work/site`` what mkdocs was given."""
    built = site.Site.build

    def build(self: site.Site, *given: Any, **named: Any) -> Any:
        result = built(self, *given, **named)
        keep(self, work / "site")
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
    for body in built.bodies.rglob("*.html"):
        page = (to / "docs" / body.relative_to(built.bodies)).with_suffix(".md")
        page.write_text(page.read_text(encoding="utf-8") + body.read_text(encoding="utf-8"), encoding="utf-8")
    told = yaml.safe_load((to / "mkdocs.yml").read_text(encoding="utf-8"))
    shutil.copytree(told["theme"]["custom_dir"], to / "theme")
    frame = to / "theme" / "main.html"
    text = frame.read_text(encoding="utf-8")
    assert _BODY in text
    frame.write_text(text.replace(_BODY, "page.content"), encoding="utf-8")
    told["theme"]["custom_dir"] = str(to / "theme")
    (to / "mkdocs.yml").write_text(yaml.safe_dump(told, allow_unicode=True), encoding="utf-8")


def bare_frame(work: Path, to: Path) -> None:
    """Build the kept site with mkdocs in our own frame."""
    _build(work / "site" / "mkdocs.yml", work, to)


def bare_stock(work: Path, to: Path) -> None:
    """Build the kept pages with mkdocs-material as it comes, with its search."""
    told = {
        "site_name": "Department",
        "theme": {"name": "material", "font": False},
        "plugins": ["search"],
        "use_directory_urls": False,
        "validation": dict.fromkeys(("omitted_files", "absolute_links", "unrecognized_links"), "ignore"),
    }
    file = work / "site" / "stock.yml"
    file.write_text(yaml.safe_dump(told), encoding="utf-8")
    _build(file, work, to)


def _build(file: Path, work: Path, to: Path) -> None:
    os.chdir(file.parent)
    mkdocs_build(load_config(str(file), docs_dir=str(work / "site" / "docs"), site_dir=str(to)))


def compare(folder: Path, work: Path) -> dict[str, Built]:
    """Return what each run took and wrote, by its name, each once."""
    work.mkdir()
    keep_pages(folder, work)
    return {
        "ours": _run(work / "ours", ours, folder),
        "bare, our frame": _run(work / "frame", bare_frame, work),
        "bare, stock theme": _run(work / "stock", bare_stock, work),
    }


def _run(to: Path, task: Any, source: Path) -> Built:
    took = measure(task, source, to, runs=1, cap=CAP_SECONDS if task is bare_stock else None)
    files = [path for path in to.rglob("*") if path.is_file()] if took else []
    return Built(took, sum(path.stat().st_size for path in files), len(files))

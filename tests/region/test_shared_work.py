"""What is the same is made and looked through once: figures by a process, files by whoever shares the cache."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from department import lay, new_base, read
from publishing import publish_site

from builder.publish.cache import Cache
from builder.publish.slides import pptx_file
from builder.readback import identity

FIGURE = "content/procedures/example/figures/canal.svg"
IMAGE = f'<img src="folder:{FIGURE}">'
PATIENT = "<p>Mr. John Smith, born 3 May 1961, hospital number 1234567</p>"


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is really drawn."""
    done: list[str] = []
    draw = pptx_file._points

    def noted(html: str, root: Path) -> bytes:
        done.append(root.name)
        return draw(html, root)

    monkeypatch.setattr(pptx_file, "_points", noted)
    monkeypatch.setattr(pptx_file, "_DRAWN", {})
    return done


def test_a_figure_of_two_departments_is_drawn_once_by_a_process(tmp_path: Path, drawn: list[str]) -> None:
    north = new_base(tmp_path / "a").rename(tmp_path / "north")
    south = Path(shutil.copytree(north, tmp_path / "south"))
    first = pptx_file.drawn(north, 1.5, IMAGE)
    assert pptx_file.drawn(south, 1.5, IMAGE) == first
    assert drawn == ["north"]

    # Another drawing under the same name, another shape, and another type are drawn anew.
    lay(south, {FIGURE: (north / FIGURE).read_text().replace("<svg", "<svg data-other=''", 1)})
    pptx_file.drawn(south, 1.5, IMAGE)
    pptx_file.drawn(north, 2.0, IMAGE)
    lay(north, {"site_templates/fonts/own.ttf": "another"})
    pptx_file.drawn(north, 1.5, IMAGE)
    assert drawn == ["north", "south", "north", "north"]


def test_a_process_keeps_so_many_figures_and_no_more(
    tmp_path: Path, drawn: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pptx_file, "_MOST_DRAWN", 3)
    monkeypatch.setattr(pptx_file, "_points", lambda html, _: html.encode())
    for number in range(20):
        pptx_file.drawn(new_base(tmp_path / f"{number}"), 1 + number / 20, IMAGE)
        assert len(pptx_file._DRAWN) <= 3
    assert drawn == []


def test_a_file_that_named_nobody_is_looked_through_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root, to, cache = new_base(tmp_path), tmp_path / "public", Cache(tmp_path / "cache")
    publish_site(root, to)
    library, looked = read(root)[0], list[str]()
    look = identity.problems_of

    def noted(name: str, *told: Any) -> Iterator[str]:
        looked.append(name)
        return look(name, *told)

    monkeypatch.setattr(identity, "problems_of", noted)
    assert identity.sweep(library, to, cache=cache) == ()
    assert len(looked) == len({path for path in to.rglob("*") if path.is_file()})
    looked.clear()
    assert identity.sweep(library, to, cache=Cache(tmp_path / "cache")) == ()
    assert looked == []

    # A file that changed is looked through again, found each time, and never noted as clean.
    page = to / "example/index.html"
    page.write_text(page.read_text().replace("</main>", f"{PATIENT}</main>", 1))
    for _ in range(2):
        assert any("example/index.html" in line for line in identity.sweep(library, to, cache=cache))
    assert looked == ["example/index.html"] * 2
    shutil.copy(to / "404.html", to / "copy.html")
    identity.sweep(library, to, cache=cache)
    assert looked[2:] == ["copy.html", "example/index.html"]

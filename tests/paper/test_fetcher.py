"""The typesetter gets files of the project and nothing else, and a refusal ends the document."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from papers import document, typesetter
from weasyprint.urls import FatalURLFetchingError

from builder.publish.paper.pdf import ProjectFetcher, Typesetter
from builder.publish.publish_error import PublishError

FIGURE = "content/procedures/example/figures/canal.svg"


def test_a_figure_of_the_department_and_a_font_of_the_templates_are_served(base: Path) -> None:
    fetcher = ProjectFetcher(base)
    with closing(fetcher.fetch(f"folder:{FIGURE}")) as response:
        assert b"<svg" in response.read()
    with closing(fetcher.fetch("templates:fonts/PrescrubSans-Regular.ttf")) as response:
        assert response.read()[:4] == b"\0\1\0\0"
    assert fetcher.refused == []


@pytest.mark.parametrize(
    "url",
    [
        "http://example.org/a.png",
        "https://example.org/a.png",
        "ftp://example.org/a.png",
        "file:///etc/passwd",
        "file:///etc/passwd.png",
        "data:image/png;base64,AAAA",
        "javascript:alert(1)",
        "canal.svg",
        "//example.org/a.svg",
        "folder:/etc/passwd.svg",
        f"folder:../department/{FIGURE}",
        "folder:content/../../outside.svg",
        "folder:content/%2e%2e/%2e%2e/outside.svg",
        "folder:content/%252e%252e/outside.svg",
        "folder:content\\..\\outside.svg",
        "folder:content/./department.svg",
        "folder:content/department.md",
        "folder:references/sources.bib",
        "templates:paper/base.css",
        "templates:../pyproject.toml",
        "templates:fonts/../../LICENSE.svg",
        f"FOLDER:{FIGURE}",
        "folder:content/procedures/example/figures/missing.svg",
    ],
)
def test_everything_else_is_refused_and_remembered(base: Path, url: str) -> None:
    (base.parent / "outside.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    fetcher = ProjectFetcher(base)
    with pytest.raises(FatalURLFetchingError):
        fetcher.fetch(url)
    assert len(fetcher.refused) == 1
    assert fetcher.refused[0].startswith(url)


def test_links_are_not_followed(base: Path) -> None:
    outside = base.parent / "outside.svg"
    outside.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    (base / "content/procedures/example/figures/link.svg").symlink_to(outside)
    (base / "content/away").symlink_to(base.parent)
    for url in ("folder:content/procedures/example/figures/link.svg", "folder:content/away/outside.svg"):
        with pytest.raises(FatalURLFetchingError, match="link"):
            ProjectFetcher(base).fetch(url)


@pytest.mark.parametrize(
    ("html", "said"),
    [
        ('<img alt="x" src="http://127.0.0.1:9/x.png">', "must not have"),
        ('<img alt="x" src="file:///etc/hostname">', "must not have"),
        ('<img alt="x" src="data:image/svg+xml,<svg/>">', "must not have"),
        ('<p style="background: url(file:///etc/hostname)">x</p>', "must not have"),
        ("<style>@import url(http://127.0.0.1:9/x.css);</style>", "must not have"),
        ("<style>@font-face { font-family: F; src: url(file:///etc/hostname) }</style>", "must not have"),
        ('<link rel="stylesheet" href="http://127.0.0.1:9/x.css">', "must not have"),
        ('<link rel="attachment" href="templates:paper/triangle-dark.svg">', "attaches a file"),
        ('<a rel="attachment" href="templates:paper/triangle-dark.svg">x</a>', "only https"),
        ('<a href="file:///etc/hostname">x</a>', "only https"),
        ('<a href="javascript:alert(1)">x</a>', "only https"),
        ('<object data="file:///etc/hostname"></object>', "must not have"),
        ('<embed src="http://127.0.0.1:9/x.png">', "must not have"),
        ('<p style="colour: red">x</p>', "cannot be set"),
        ('<a href="#nowhere">x</a>', "cannot be set"),
    ],
)  # fmt: skip
def test_a_document_that_asks_for_more_is_refused_in_words(html: str, said: str) -> None:
    page = f'<html lang="en"><head><title>t</title></head><body>{html}</body></html>'
    with pytest.raises(PublishError, match=said) as caught:
        typesetter().pdf(replace(document("card"), text=page))
    assert caught.value.is_content
    assert "card.pdf" in str(caught.value)


def test_what_a_figure_points_to_is_fetched_by_the_same_rules(base: Path) -> None:
    for at, inside in enumerate(
        (
            '<image href="file:///etc/hostname" width="9" height="9"/>',
            '<image href="http://127.0.0.1:9/x.png" width="9" height="9"/>',
            "<style>@import url(http://127.0.0.1:9/x.css);</style>",
        )
    ):
        name = f"content/procedures/example/figures/bad-{at}.svg"
        text = f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'><rect width='9' height='9'/>{inside}</svg>"
        (base / name).write_text(text)
        page = f'<html lang="en"><head><title>t</title></head><body><img alt="x" src="folder:{name}"></body></html>'
        with pytest.raises(PublishError):
            Typesetter(base).pdf(replace(document("card"), text=page))

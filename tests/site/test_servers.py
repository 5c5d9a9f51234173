"""The shipped configurations in a real nginx and a real Apache, at the root of a server and under a path."""

from __future__ import annotations

import shutil
import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_tools import apache, nginx
from faults import change_text
from publishing import publish_site

DRAWING = "example/figures/canal.svg"


@pytest.fixture
def open_site(site: Path) -> Iterator[Path]:
    """A copy of the published site where a user without rights may read it, and a publish may replace it."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(shutil.copytree(site, Path(name) / "site"))


@pytest.fixture(params=[("nginx", ""), ("nginx", "/surgery"), ("Apache", ""), ("Apache", "/surgery")])
def served(request: pytest.FixtureRequest, open_site: Path, tmp_path: Path) -> Iterator[str]:
    server, under = request.param
    with (nginx if server == "nginx" else apache)(open_site, tmp_path, under) as address:
        yield address


def get(address: str, **sent: str) -> tuple[int, dict[str, str]]:
    try:
        with urllib.request.urlopen(urllib.request.Request(address, headers=sent)) as answer:
            return answer.status, {key.lower(): value for key, value in answer.headers.items()}
    except urllib.error.HTTPError as error:
        with error:
            return error.code, {key.lower(): value for key, value in error.headers.items()}


def test_pages_and_drawings_are_served_with_their_policy(served: str) -> None:
    status, sent = get(f"{served}/example/index.html")
    assert status == 200
    assert "script-src 'self'" in sent["content-security-policy"]
    status, sent = get(f"{served}/{DRAWING}")
    assert status == 200
    assert sent["content-security-policy"] == "default-src 'none'; style-src 'unsafe-inline'; sandbox"
    assert sent["x-content-type-options"] == "nosniff"


def test_nothing_is_listed_and_the_report_is_not_told(served: str) -> None:
    assert get(f"{served}/build-report.json")[0] == 403
    assert get(f"{served}/example/figures/")[0] == 403


def test_text_is_packed_and_a_copy_is_asked_about_each_time(served: str) -> None:
    status, sent = get(f"{served}/look/site.css", **{"Accept-Encoding": "gzip"})
    assert (status, sent["content-encoding"]) == (200, "gzip")
    _, sent = get(f"{served}/example/card.pdf")
    assert sent["cache-control"] == "no-cache"
    assert "expires" not in sent
    assert get(f"{served}/example/card.pdf", **{"If-None-Match": sent["etag"]})[0] == 304


def test_what_was_published_again_is_never_answered_with_the_old(base: Path, open_site: Path, served: str) -> None:
    """What a browser keeps is current until the next publish and never after it, however the browser asks."""
    names = ("example/card.pdf", "example/index.html", "example/example.html")
    kept = {name: get(f"{served}/{name}")[1] for name in names}

    def asked_again() -> set[int]:
        told = [
            (name, {ask: sent[kind]})
            for name, sent in kept.items()
            for ask, kind in (("If-None-Match", "etag"), ("If-Modified-Since", "last-modified"))
        ]
        return {get(f"{served}/{name}", **one)[0] for name, one in told}

    assert asked_again() == {304}
    change_text(base)
    publish_site(base, open_site, ("site", "card", "single-file"))
    assert asked_again() == {200}

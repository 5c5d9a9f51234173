"""The shipped configurations in a real nginx and a real Apache, at the root of a server and under a path."""

from __future__ import annotations

import os
import shutil
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_tools import apache, nginx

DRAWING = "example/figures/canal.svg"


@pytest.fixture(params=[("nginx", ""), ("nginx", "/surgery"), ("Apache", ""), ("Apache", "/surgery")])
def served(request: pytest.FixtureRequest, site: Path, tmp_path: Path) -> Iterator[str]:
    server, under = request.param
    with nginx(site, tmp_path, under) if server == "nginx" else apache(site, under) as address:
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


def test_a_card_that_was_published_again_is_never_answered_with_the_old_one(site: Path, tmp_path: Path) -> None:
    """The same length and the same second: the browser's copy must still be found to be old."""
    copy = Path(shutil.copytree(site, tmp_path / "site"))
    (tmp_path / "nginx").mkdir()
    with nginx(copy, tmp_path / "nginx") as served:
        card = copy / "example/card.pdf"
        _, sent = get(f"{served}/example/card.pdf")
        told = {"If-None-Match": sent["etag"], "If-Modified-Since": sent["last-modified"]}
        content = card.read_bytes()
        card.write_bytes(content[:-20] + b"x" + content[-19:] + b"\n")
        os.utime(card, (card.stat().st_atime, card.stat().st_mtime))
        assert get(f"{served}/example/card.pdf", **told)[0] == 200

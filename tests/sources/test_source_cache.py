"""Parsed sources kept between runs: the same as parsed afresh, never trusted when damaged, off unless asked for."""

from __future__ import annotations

import json
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from builder.load.folder import load
from builder.load.kept.kept_files import users_folder
from builder.load.sources.bibliography import SourceCache, read_sources
from builder.load.sources.record import record_of
from builder.model.styles.registry import format_source

TEXT = (Path(__file__).parent / "data" / "verified.bib").read_text(encoding="utf-8")


@pytest.fixture
def cache(tmp_path: Path) -> SourceCache:
    return SourceCache(tmp_path / "cache")


def _file(cache: SourceCache) -> Path:
    (file,) = cache.folder.iterdir()
    return file


def test_from_the_cache_comes_what_was_parsed(cache: SourceCache) -> None:
    fresh, _ = read_sources(TEXT, "a.bib", cache)
    stored, findings = read_sources(TEXT, "b.bib", cache)
    assert findings == []
    assert list(stored) == list(fresh)
    for key, source in fresh.items():
        again = stored[key]
        assert format_source(again) == format_source(source)
        assert record_of(again) == record_of(source)
        assert again.place("doi") == source.place("doi")._replace(file="b.bib")
        assert again.key.at == source.key.at._replace(file="b.bib")


def test_it_is_the_cache_that_answers(cache: SourceCache) -> None:
    read_sources(TEXT, "a.bib", cache)
    file = _file(cache)
    rows = json.loads(file.read_bytes().partition(b"\n")[2])
    body = json.dumps(rows[:1]).encode()
    file.write_bytes(sha256(body).hexdigest().encode() + b"\n" + body)
    assert len(read_sources(TEXT, "a.bib", cache)[0]) == 1


DAMAGE = {
    "empty": b"",
    "no checksum": b"[]",
    "wrong checksum": b"0" * 64 + b"\n[]",
    "no JSON": sha256(b"[").hexdigest().encode() + b"\n[",
    "another shape": sha256(b'[["key"]]').hexdigest().encode() + b'\n[["key"]]',
    "an object": sha256(b"7").hexdigest().encode() + b"\n7",
    "nested": sha256(b"[" * 100_000).hexdigest().encode() + b"\n" + b"[" * 100_000,
    "no text": b"\xff\xfe\n[]",
}


@pytest.mark.parametrize("bytes_", DAMAGE.values(), ids=DAMAGE.keys())
def test_a_damaged_cache_is_passed_over_and_made_anew(cache: SourceCache, bytes_: bytes) -> None:
    fresh, _ = read_sources(TEXT, "a.bib", cache)
    good = _file(cache).read_bytes()
    _file(cache).write_bytes(bytes_)
    again, findings = read_sources(TEXT, "a.bib", cache)
    assert (again, findings) == (fresh, [])
    assert _file(cache).read_bytes() == good


def test_another_text_is_parsed(cache: SourceCache) -> None:
    read_sources(TEXT, "a.bib", cache)
    changed, _ = read_sources(TEXT.replace("Nerve management", "Care of nerves"), "a.bib", cache)
    assert changed["hernia-nerve-management-2007"].fields["title"] == "Care of nerves during open hernia repair"


def test_a_text_with_faults_is_not_kept(cache: SourceCache) -> None:
    broken = TEXT + "@article{half,\n  title = {Half\n"
    first = read_sources(broken, "a.bib", cache)[1]
    assert not cache.folder.exists()
    assert read_sources(broken, "a.bib", cache)[1] == first != []


def test_a_cache_that_cannot_be_written_is_none(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("a file, no folder", encoding="utf-8")
    sources, findings = read_sources(TEXT, "a.bib", SourceCache(tmp_path / "cache"))
    assert (len(sources) > 60, findings) == (True, [])


def test_only_the_newest_are_kept(cache: SourceCache) -> None:
    for number in range(30):
        read_sources(f"@book{{b{number}, title = {{T}}}}", "a.bib", cache)
    assert len(list(cache.folder.iterdir())) == 16


def test_it_lies_where_the_xdg_specification_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    assert users_folder({"XDG_CACHE_HOME": str(tmp_path)}) == tmp_path / "prescrub"
    # A relative path is invalid and to be ignored.
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert users_folder({"XDG_CACHE_HOME": "here"}) == tmp_path / "home" / ".cache" / "prescrub"
    assert users_folder({"XDG_CACHE_HOME": str(tmp_path), "PRESCRUB_CACHE": "/elsewhere"}) == Path("/elsewhere")
    assert users_folder({"XDG_CACHE_HOME": str(tmp_path), "PRESCRUB_CACHE": "off"}) is None


def test_without_being_asked_nothing_is_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, base: Path) -> None:
    monkeypatch.setenv("PRESCRUB_CACHE", str(tmp_path / "user"))
    load(base)
    assert not (tmp_path / "user").exists()
    load(base, cache=SourceCache.of_user())
    folder = tmp_path / "user" / "sources"
    assert len(list(folder.iterdir())) == 1
    assert folder.stat().st_mode & 0o077 == 0
    monkeypatch.setenv("PRESCRUB_CACHE", "off")
    assert SourceCache.of_user() is None

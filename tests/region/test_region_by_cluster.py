"""A region made by the workers of a cluster is the same, byte for byte, as one made by this machine."""

from __future__ import annotations

from pathlib import Path

import pytest
from clusters import Engine
from publishing import fingerprint
from regions import NOON, region

from builder.cli import main


@pytest.mark.slow
def test_a_region_made_by_a_cluster_is_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    first, second = region(tmp_path / "first", ["north", "south"]), region(tmp_path / "second", ["north", "south"])
    only = ("--only", "rehearsal-text", "--only", "self-test-package")
    assert main(["region", "publish", str(first), "--to", str(tmp_path / "here"), *only]) == 0
    (tmp_path / "work").mkdir()
    with Engine(tmp_path / "work") as engine:
        engine.start_worker()
        there = ["--to", str(tmp_path / "there"), "--cluster", engine.address]
        assert main(["region", "publish", str(second), *there, *only]) == 0
    assert fingerprint(tmp_path / "there") == fingerprint(tmp_path / "here")
    assert (tmp_path / "here/north/example/rehearsal.txt").is_file()

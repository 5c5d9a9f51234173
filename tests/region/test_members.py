"""Members of a region in other forms: an archive with its digest, and a department that has issued codes."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest
from house import House
from publishing import fingerprint
from regions import NOON
from test_nights import no_turns, publish
from test_region import states

from builder import region_night
from builder.cli import main


def test_an_archive_and_a_department_with_codes_are_members(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    coded, to = House(tmp_path), tmp_path / "site"
    packed = Path(shutil.make_archive(str(tmp_path / "west"), "zip", coded.root))
    coded.approve()
    coded.publish(issue=True)
    code, digest = coded.code(), hashlib.sha256(packed.read_bytes()).hexdigest()
    (tmp_path / "region.yml").write_text(
        f"name: Example Region\ndepartments:\n  - {{id: coded, folder: {coded.root.name}}}\n"
        f"  - {{id: west, archive: west.zip, digest: {digest}}}\n"
    )
    assert main(["region", "publish", str(tmp_path), "--to", str(to), "--only", "site"]) == 0, capsys.readouterr().out
    assert (to / "west/example/index.html").is_file()
    [answer] = json.loads((to / f"codes/{code}.json").read_text())["answers"]
    assert (answer["hospital"], answer["state"]) == ("Department of General Surgery, Example Hospital", "Current")
    assert code in (to / "codes/index.html").read_text()
    before = fingerprint(to / "west")

    # Looked at once more, because they were written just before; then neither has a turn.
    assert main(["region", "publish", str(tmp_path), "--to", str(to), "--only", "site"]) == 0
    with monkeypatch.context() as quiet:
        quiet.setattr(region_night, "Processes", no_turns)
        assert main(["region", "publish", str(tmp_path), "--to", str(to), "--only", "site"]) == 0
    assert states(to) == {"coded": "Unchanged", "west": "Unchanged"}

    # Another file under the same digest is refused, and the last good site stays.
    shutil.make_archive(str(tmp_path / "west"), "zip", coded.root)
    assert publish(tmp_path, to) == 1
    assert states(to)["west"] == "On its last good site"
    assert "region.yml:4:" in capsys.readouterr().out
    assert fingerprint(to / "west") == before

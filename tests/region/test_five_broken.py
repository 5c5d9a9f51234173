"""Small departments, five of them broken in five ways: the others are published, and the report names each place."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from department import lay
from publishing import fingerprint
from regions import NOON, local, region

from builder.cli import main

IDS = [f"ward-{chr(97 + number // 26)}{chr(97 + number % 26)}" for number in range(30)]
BROKEN = UNCLOSED, MISFIT, UNREADABLE, TEMPLATE, GONE = IDS[:5]


def publish(root: Path, to: Path) -> int:
    return main(["region", "publish", str(root), "--to", str(to), "--only", "rehearsal-text"])


def break_five(root: Path) -> None:
    hospitals = root / "hospitals"
    lay(hospitals / UNCLOSED, {"content/procedures/example/steps/spare.md": "---\ntitle: Look\n"})
    local(root, MISFIT, {"replace": "step nowhere", "key": "cue", "with": "It is seen."})
    (hospitals / UNREADABLE / "content/catalogue").mkdir()
    (hospitals / UNREADABLE / "content/catalogue/terms.yml").write_bytes(b"- id: a\n  name: \xff\n")
    lay(hospitals / TEMPLATE, {"site_templates/sheets/rehearsal.txt.j2": "{{ head.title }}\n\n{% if %}\n"})
    shutil.rmtree(hospitals / GONE)


@pytest.mark.parametrize("many", [6, pytest.param(30, marks=pytest.mark.slow)])
def test_five_of_many_stay_on_their_last_good_site(
    many: int, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NOON)
    ids = IDS[:many]
    root, to = region(tmp_path / "region", ids), tmp_path / "public"
    assert publish(root, to) == 0, capsys.readouterr().out
    before = {id: fingerprint(to / id) for id in ids}

    break_five(root)
    head = root / "common/content/procedures/example/procedure.md"
    head.write_text(head.read_text().replace("title: Opening", "title: Careful opening", 1))
    capsys.readouterr()
    assert publish(root, to) == 1
    said = capsys.readouterr().out
    kept = set(BROKEN)
    told = {each["id"]: each for each in json.loads((to / "night.json").read_text())["hospitals"]}
    assert {id for id, each in told.items() if each["state"] == "On its last good site"} == kept
    assert {id for id, each in told.items() if each["state"] == "Published"} == set(ids) - kept
    assert {id for id in ids if fingerprint(to / id) == before[id]} == kept
    assert all("Careful opening" in (to / id / "example/rehearsal.txt").read_text() for id in set(ids) - kept)
    assert f"{many} hospitals: {many - 5} published, 5 left on the last good site." in said
    for id, place in (
        (UNCLOSED, f"hospitals/{UNCLOSED}/content/procedures/example/steps/spare.md:1:1: "),
        (MISFIT, f"hospitals/{MISFIT}/content/local/example.md:6:12: "),
        (UNREADABLE, f"hospitals/{UNREADABLE}/content/catalogue/terms.yml:2:9: "),
        (TEMPLATE, f"hospitals/{TEMPLATE}/site_templates/sheets/rehearsal.txt.j2:3:1: "),
        (GONE, "region.yml:14:11: "),
    ):
        assert place in said
        assert place in (to / "night.html").read_text().replace("&#39;", "'")
        assert any(str(problem["line"]) in place for problem in told[id]["problems"])

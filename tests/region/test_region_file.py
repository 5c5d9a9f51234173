"""What is wrong in region.yml is told at its line, and nothing is published."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.cli import main
from builder.findings.finding import Refused
from builder.model.region_reading import region_of

GOOD = "name: A\nparent: {folder: common}\ndepartments:\n  - {id: north, folder: north}\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("id: north", "id: look"), "region.yml:4:10: 'look' cannot name a department's folder"),
        (GOOD.replace("id: north", "id: North"), "region.yml:4:10: 'North' cannot name a department's folder"),
        (f"{GOOD}  - {{id: north, folder: south}}\n", "region.yml:5:10: 'north' is already the id of the department"),
        (GOOD.replace("departments", "departements"), "region.yml:3:1: 'departements' is not"),
        ("- north\n", "region.yml:1:1: region.yml is not a block of keys"),
        (f"{GOOD}cache: {{gigabytes: none}}\n", "region.yml:5:20: 'none'"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_at_its_line(text: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        region_of(text)
    assert f"{refused.value.finding.at}: {refused.value.finding.message}".startswith(said)


def test_what_is_not_said_has_its_usual_value() -> None:
    region = region_of(GOOD)
    assert (region.cache.folder, region.cache.gigabytes, region.cache.days) == ("region-cache", 20, 60)


def test_without_region_yml_or_into_a_strange_folder_nothing_is_published(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["region", "publish", str(tmp_path), "--to", str(tmp_path / "out")]) == 2
    assert "region.yml does not exist" in capsys.readouterr().out
    (tmp_path / "region.yml").write_text(GOOD)
    assert main(["region", "publish", str(tmp_path), "--to", str(tmp_path)]) == 2
    assert "holds files and no region of ours" in capsys.readouterr().err
    assert main(["region", "--to", str(tmp_path / "out")]) == 2
    assert "needs the word publish" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()

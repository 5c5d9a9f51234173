"""A department's own template that cannot be used is named with its place; it reaches nothing but what it is shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from publishing import publish_site

from builder.findings.finding import Refused
from builder.load import templates
from builder.load.templates import own_folder

BROKEN = {
    "{% if %}": "Expected an expression",
    "{{ nothing.at.all }}": "'nothing' is undefined",
    "{{ ''.__class__.__mro__ }}": "unsafe",
    "{{ [1].append(2) }}": "unsafe",
    "{% include 'no.j2' %}": "no template 'no.j2'",
    "{{ 1 / 0 }}": "division by zero",
    "{{ range(1000000000) | list }}": "Range too big",
}


@pytest.mark.parametrize("name", ["site/page.html.j2", "handout/handout.html.j2"])
@pytest.mark.parametrize("words", BROKEN)
def test_a_template_that_cannot_be_used_is_named_with_its_line(
    base: Path, tmp_path: Path, name: str, words: str
) -> None:
    lines = (own_folder() / name).read_text(encoding="utf-8").splitlines()
    path = base / "site_templates" / name
    path.parent.mkdir(parents=True)
    path.write_text("\n".join([*lines, words]), encoding="utf-8")
    to = tmp_path / "out"

    with pytest.raises(Refused) as refused:
        publish_site(base, to, ["site" if name.startswith("site") else "handout"])

    finding = refused.value.finding
    assert str(finding.at) == f"site_templates/{name}:{len(lines) + 1}:1"
    assert finding.message.startswith("this template cannot be used: ")
    assert BROKEN[words] in finding.message
    assert not to.exists()


def test_templates_at_old_addresses_are_refused_with_the_new_ones(base: Path, tmp_path: Path) -> None:
    for name in ("print/card.css", "site/evidence.html.j2", "print/triangle-light.svg"):
        path = base / "site_templates" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("", encoding="utf-8")
    with pytest.raises(Refused) as refused:
        publish_site(base, tmp_path / "out")
    finding = refused.value.finding
    assert str(finding.at) == "site_templates/print/card.css:1:1"
    assert finding.message == (
        "these templates have new addresses: print/card.css is now card/card.css, print/triangle-light.svg is now "
        "paper/triangle-light.svg, site/evidence.html.j2 is now evidence/evidence.html.j2"
    )
    assert not (tmp_path / "out").exists()


def test_every_new_address_is_one_of_ours_and_no_old_one_is() -> None:
    table = Path(templates.__file__).with_name("moved-templates.txt").read_text(encoding="utf-8")
    moved = dict(line.split() for line in table.splitlines())
    assert len(moved) == 29
    assert all((own_folder() / new).is_file() for new in moved.values())
    assert not any((own_folder() / old).exists() for old in moved)

"""“Put it right” opens the field that is meant, and comes back to where it was pressed."""

from __future__ import annotations

import html
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

EXAMPLE = "content/procedures/example"


def changed(preview: Any, file: str, old: str, new: str) -> None:
    path = preview.root / EXAMPLE / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    preview.shop.saved()


def mending(preview: Any, words: str) -> str:
    """Where "Put it right" leads for the finding that says ``words``, below the preview's home."""
    page = html.unescape(preview.get("found/example").text)
    notes = re.findall(r'<(?:li|div) class="pv-note.*?Put it right', page, re.DOTALL)
    (note,) = [one for one in notes if words in one]
    return str(re.findall(r'href="([^"]*)"', note)[-1]).removeprefix(f"{preview.shop.home}/")


def test_the_end_of_what_stays_is_asked_for_in_its_own_field(preview: Any) -> None:
    changed(preview, "aftercare/drain-out.md", "{from: 1 day, until: 2 days}", "{from: 1 day}")
    form = preview.get(mending(preview, "nothing says when it comes out")).text
    note = form.index('data-name="removal-without-time"')
    assert re.findall(r'data-field data-key="(\w+)"', form[:note])[-1] == "until"


def test_two_findings_of_one_name_are_told_apart(preview: Any) -> None:
    unknown = "  - tie: grey cord\n  - tie: wide cord\n"
    changed(preview, "steps/place-drain.md", "  - place: suction drain", f"{unknown}  - place: suction drain")
    more = "More may be found: 'place-drain' cannot be followed, so "
    assert more in html.unescape(preview.get("found/example").text)
    for name, number in (("grey cord", 0), ("wide cord", 1)):
        address = mending(preview, f"'{name}' is not in the catalogue")
        asked = parse_qs(urlsplit(address).query)
        form = preview.get(address).text
        note = form.index(f'data-name="{asked["finding"][0]}" data-line="{asked["line"][0]}"')
        assert re.findall(r"data-row[^>]*data-path='([^']*)'", form[:note])[-1] == f'["actions", {number}]'
        assert asked["back"][0].startswith("found/example#f")


def test_missing_aftercare_opens_a_new_one_for_the_item(preview: Any) -> None:
    (preview.root / EXAMPLE / "aftercare/drain-out.md").unlink()
    preview.shop.saved()
    words = "suction drain stays in, but no aftercare takes it out"
    address = mending(preview, words)
    assert address.startswith("edit/new/aftercare/example?concerns=suction%20drain&back=found/example%23f")
    form = preview.get(address).text
    field = form[form.index('data-key="concerns"') :]
    assert re.search(r'value="([^"]*)"', field)[1] == "suction drain"  # type: ignore[index]
    assert re.search(r'href="[^"]*/found/example#f\d+" data-return>Back to where you were', form)


def test_one_number_is_asked_for_once_and_stands_wherever_the_item_is(preview: Any) -> None:
    changed(
        preview,
        "steps/open-canal.md",
        "  - place: small swab\n    number: 2\n",
        "  - place: small swab\n    number: 5\n",
    )
    page = html.unescape(preview.get("found/example").text)
    assert "in use at once, but the kit list has" in page
    assert 'value="many:small swab"' in page
    preview.post("found/example", {"do": "many:small swab", "number": "3"})
    texts = [path.read_text() for path in sorted((preview.root / EXAMPLE).rglob("*.md"))]
    numbers = [re.findall(r"(?:place|remove): small swab\n    number: (\d+)", text) for text in texts]
    assert [one for found in numbers for one in found] == ["3", "3"]
    assert "small swab: 3" in "".join(texts)
    assert 'value="many:small swab"' not in html.unescape(preview.get("found/example").text)


def test_a_short_name_is_taken_for_what_was_named_in_full(preview: Any) -> None:
    catalogue = preview.root / "content/catalogue/items-proposed-example.yml"
    catalogue.write_text("- {id: retractor, name: retractor, kind: retractor}\n")
    changed(preview, "steps/close-canal.md", "  - remove: self-retaining retractor\n", "  - remove: retractor\n")
    page = html.unescape(preview.get("found/example").text)
    assert "self-retaining retractor is still in" in page
    (named,) = set(re.findall(r'value="(sure:steps/close-canal.md:\d+:self-retaining retractor)"', page))
    preview.post("found/example", {"do": named})
    assert "  - remove: self-retaining retractor\n" in (preview.root / EXAMPLE / "steps/close-canal.md").read_text()
    assert "is still in" not in html.unescape(preview.get("found/example").text)

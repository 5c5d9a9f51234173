"""Sources in the reading room: added from what is pasted, put on a page with the place, and nothing is looked up."""

from __future__ import annotations

import socket
from typing import Any
from urllib.parse import urlencode

import pytest

from builder.edit.file_text import FileText
from builder.load.sources.bibliography import read_sources
from builder.write.sources_file import DEFAULT_FILE

PAGE = "steps/cut-skin.md"
RIS = """TY  - JOUR
AU  - Invented, Ida
TI  - An invented paper on wounds
JO  - Journal of Invented Wounds
VL  - 3
SP  - 1
EP  - 9
PY  - 2019
DO  - 10.1000/invented.7
ER  -
"""


def pressed(preview: Any, do: str, **fields: str) -> Any:
    body = urlencode({"do": do, **fields}).encode()
    form = "application/x-www-form-urlencoded"
    return preview.send("POST", f"{preview.shop.home}/sources/example", body, Content_Type=form)


def front(preview: Any, page: str = PAGE) -> Any:
    return FileText.cut((preview.root / "content/procedures/example" / page).read_text(encoding="utf-8")).data


def titles(preview: Any) -> dict[str, str]:
    text = (preview.root / DEFAULT_FILE).read_text(encoding="utf-8")
    return {key: one.fields["title"] for key, one in read_sources(text, DEFAULT_FILE)[0].items()}


def test_a_record_is_pasted_and_put_on_a_page_with_its_place(preview: Any) -> None:
    before = titles(preview)
    assert "1 source added" in pressed(preview, "add", pasted=RIS).text
    (key,) = titles(preview).keys() - before.keys()
    assert pressed(preview, f"put:{PAGE}", source=key, at="p. 4").status == 303
    assert front(preview)["evidence"][-1] == {"source": key, "at": "p. 4"}
    assert "common_practice" not in front(preview)
    assert "An invented paper on wounds, p. 4" in preview.get("sources/example").text
    assert pressed(preview, f"off:{PAGE} {key}").status == 303
    assert key not in str(front(preview).get("evidence"))


def test_numbers_alone_begin_sources_and_their_records_complete_them(
    preview: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (preview.root / DEFAULT_FILE).read_text(encoding="utf-8")
    known = titles(preview)
    answer = pressed(preview, "add", pasted="https://doi.org/10.1000/invented.7\n12345678\n")
    assert "2 sources added" in answer.text
    begun = {key for key, title in titles(preview).items() if title == "Not said yet."}
    assert (len(begun), "To complete:" in answer.text) == (2, True)
    (doi,) = [key for key in begun if "invented" in key]
    pressed(preview, f"put:{PAGE}", source=doi)
    waiting = [one for one in preview.shop.state.findings if one.name == "not-answered-yet"]
    assert [(one.at.file.endswith(PAGE), doi in one.message) for one in waiting] == [(True, True)]
    assert "0 sources added, 1 source known before" in pressed(preview, "add", pasted=RIS).text
    now = titles(preview)
    assert (now[doi], len(now)) == ("An invented paper on wounds", len(known) + 2)
    assert (preview.root / DEFAULT_FILE).read_text(encoding="utf-8").startswith(before.rstrip())
    assert [one for one in preview.shop.state.findings if one.name == "not-answered-yet"] == []


def test_no_request_leaves_the_machine(preview: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    real = socket.socket.connect

    def connect(self: Any, address: Any) -> Any:
        asked.append(address)
        return real(self, address)

    monkeypatch.setattr(socket.socket, "connect", connect)
    pressed(preview, "add", pasted="10.1000/invented.9")
    assert {address[0] for address in asked} == {"127.0.0.1"}
    monkeypatch.undo()


@pytest.mark.parametrize("pasted", ["", "Just some words.", "10.", "<html>"])
def test_what_is_no_record_is_refused_and_stays_in_its_field(preview: Any, pasted: str) -> None:
    before = (preview.root / DEFAULT_FILE).read_bytes()
    answer = pressed(preview, "add", pasted=pasted)
    assert (answer.status, 'role="alert"' in answer.text) == (409, True)
    assert (preview.root / DEFAULT_FILE).read_bytes() == before


def test_what_rests_on_nothing_is_said_to_be_practice_at_once(preview: Any) -> None:
    page = preview.root / "content/procedures/example" / PAGE
    page.write_text(page.read_text(encoding="utf-8").replace("common_practice: true\n", ""), encoding="utf-8")
    preview.shop.saved()
    assert "1 part of" in preview.get("sources/example").text
    assert pressed(preview, f"practice:{PAGE}").status == 303
    assert front(preview)["common_practice"] == "true"
    assert pressed(preview, f"put:{PAGE}", source="none-such").status == 409

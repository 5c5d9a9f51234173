"""A picture in the reading room: put on a step clean, described, cropped, pointed at; nothing of it is lost by undo."""

from __future__ import annotations

import base64
import io
from typing import Any
from urllib.parse import urlencode

import pytest
from PIL import Image

from builder.draft.told_pictures import pointers_of
from builder.edit.file_text import FileText

PAGE = "steps/cut-skin.md"
STEP = f"content/procedures/example/{PAGE}"
SAID = {"alt": "The canal, opened.", "credit": "The department", "consent": "none needed"}


def photograph() -> str:
    picture, camera = Image.new("RGB", (400, 200), "red"), Image.Exif()
    camera[0x010F] = "Camera of Somebody"
    content = io.BytesIO()
    picture.save(content, "JPEG", exif=camera)
    assert b"Somebody" in content.getvalue()
    return base64.b64encode(content.getvalue()).decode()


def pressed(preview: Any, do: str, **fields: str) -> Any:
    body = urlencode({"do": do, "n": "0", **fields}).encode()
    form = "application/x-www-form-urlencoded"
    return preview.send("POST", f"{preview.shop.home}/picture/example/{PAGE}", body, Content_Type=form)


def figures(preview: Any) -> Any:
    return FileText.cut((preview.root / STEP).read_text(encoding="utf-8")).data.get("figure", [])


@pytest.fixture
def pictured(preview: Any) -> Any:
    assert figures(preview) == []
    assert pressed(preview, "put", file=photograph(), **SAID).status == 303
    return preview


def test_a_picture_is_clean_before_it_is_kept(pictured: Any) -> None:
    (figure,) = figures(pictured)
    assert figure == {"file": "picture-1.png", **SAID}
    kept = (pictured.root / "content/procedures/example/figures/picture-1.png").read_bytes()
    assert b"Somebody" not in kept
    assert Image.open(io.BytesIO(kept)).getexif() == {}


@pytest.mark.parametrize("missing", ["alt", "credit", "consent"])
def test_description_owner_and_consent_are_asked_for(preview: Any, missing: str) -> None:
    answer = pressed(preview, "put", file=photograph(), **{**SAID, missing: " "})
    assert (answer.status, figures(preview)) == (409, [])
    assert "It was not said" in answer.text
    assert not (preview.root / "content/procedures/example/figures/picture-1.png").exists()


def test_a_pointer_stays_on_its_structure_when_the_picture_is_cropped(pictured: Any) -> None:
    pressed(pictured, "point", x="50", y="40", structure="skin")
    pressed(pictured, "crop", left="25", top="20", right="75", bottom="70")
    assert pointers_of(figures(pictured)[0])[0]["at"] == ["50", "40"]
    pressed(pictured, "crop", left="50", top="20", right="100", bottom="70")
    assert pointers_of(figures(pictured)[0])[0]["at"] == ["0", "40"]
    outside = pressed(pictured, "crop", left="60", top="20", right="100", bottom="70")
    assert (outside.status, "would lie outside" in outside.text) == (409, True)
    pressed(pictured, "crop", left="0", top="0", right="100", bottom="100")
    assert pointers_of(figures(pictured)[0])[0]["at"] == ["50", "40"]
    assert "crop" not in figures(pictured)[0]


def test_what_is_cropped_is_what_is_shown(pictured: Any) -> None:
    pressed(pictured, "crop", left="0", top="0", right="50", bottom="50")
    shown = pictured.get("figures/example/picture-1.png")
    assert Image.open(io.BytesIO(shown.body)).size == (200, 100)
    assert Image.open(io.BytesIO(pictured.get("figures/example/picture-1.png?whole").body)).size == (400, 200)


def test_pointers_and_pictures_are_taken_out_and_come_back(pictured: Any) -> None:
    pressed(pictured, "point", x="10", y="10", structure="skin")
    pressed(pictured, "point", x="20", y="20", structure="skin")
    assert [one["at"] for one in pointers_of(figures(pictured)[0])] == [["20", "20"]]
    pressed(pictured, "unpoint:0")
    assert pointers_of(figures(pictured)[0]) == []
    file = pictured.root / "content/procedures/example/figures/picture-1.png"
    before = file.read_bytes()
    assert pressed(pictured, "off").status == 303
    assert (figures(pictured), file.exists()) == ([], False)
    pictured.post("edit/undo", {})
    assert (file.read_bytes(), len(figures(pictured))) == (before, 1)


@pytest.mark.parametrize(
    ("do", "fields"),
    [("put", {"file": "no picture"}), ("put", {"file": "aGFsbG8="}), ("point", {"x": "a"}),
     ("point", {"x": "120", "y": "1"}),
     ("crop", {"left": "50", "right": "50", "top": "0", "bottom": "9"}), ("no", {}), ("unpoint:x", {})],
)  # fmt: skip
def test_what_makes_no_sense_changes_nothing(pictured: Any, do: str, fields: dict[str, str]) -> None:
    before = (pictured.root / STEP).read_bytes()
    assert pressed(pictured, do, **{**SAID, "structure": "skin", **fields}).status == 409
    assert (pictured.root / STEP).read_bytes() == before


def test_a_click_sets_a_pointer_and_a_drawn_part_is_shown(tab: Any, pictured: Any) -> None:
    tab.goto(f"{pictured.home}/picture/example/{PAGE}?n=0")
    tab.locator("[name=structure]").select_option(index=1)
    box = tab.locator("[data-point] .rd-picture").bounding_box()
    with tab.expect_navigation():
        tab.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 4)
    assert [round(float(at)) for at in pointers_of(figures(pictured)[0])[0]["at"]] == [50, 25]
    tab.get_by_text("Crop it").click()
    whole = tab.locator("[data-crop] .rd-picture")
    whole.scroll_into_view_if_needed()
    box = whole.bounding_box()
    tab.mouse.move(box["x"] + box["width"] / 5, box["y"] + 2)
    tab.mouse.down()
    tab.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + box["height"] / 2)
    tab.mouse.up()
    with tab.expect_navigation():
        tab.get_by_role("button", name="Show this part").click()
    assert round(float(figures(pictured)[0]["crop"][0])) == 20

"""Every screen of the preview, as its table of addresses has them: no barrier that axe can find, nothing sticks out."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import pytest
from browser_tools import barriers
from department import lay

from builder.preview.server import ROUTES

_NO_SCREENS = {
    "/changes", "/static/<name>", "/figures/<id>/<name>", "/part/overview", "/part/page/<id>", "/part/<output>/<id>",
    "/side/<key>/<int:number>", "/keep/<output>/<id>", "/edit/picks", "/give/<id>", "/changed/<id>/paper", "/copy/<id>",
}  # fmt: skip
"""Addresses of parts, pictures and files: no screen of their own."""
_STEP = "content/procedures/example/steps/open-canal.md"
_NAMES = {
    "<id>": ("gallbladder", "example"),
    "<procedure>": ("example",),
    "<kind>": ("step", "caution", "aftercare"),
    "<output>": ("card", "handout"),
    "<language>": ("de", "ar"),
    "<path:page>": ("steps/open-canal.md",),
    "<path:file>": (_STEP, "content/procedures/gallbladder/procedure.md", "content/department.md"),
    "<path:name>": (_STEP,),
}
_MORE = ("/read/gallbladder?use=8#s8", "/asked/gallbladder?n=3", "/found/gallbladder?way=0")
"""Screens in another state."""


def screens() -> Iterator[str]:
    """Yield the address of every screen; a rule with a variable that has no example here raises KeyError."""
    for rule in ROUTES.iter_rules():
        if "GET" in (rule.methods or ()) and rule.rule not in _NO_SCREENS:
            parts = [_NAMES[part] if part.startswith("<") else (part,) for part in rule.rule.split("/")]
            yield from map("/".join, itertools.product(*parts))
    yield from _MORE


def test_every_address_that_is_no_screen_is_there() -> None:
    assert {rule.rule for rule in ROUTES.iter_rules()} >= _NO_SCREENS


@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1280])
def test_no_barrier_on_any_screen(browser: Any, room: Any, width: int) -> None:
    step = (room.root / _STEP).read_text(encoding="utf-8")
    lay(room.root, {_STEP: step.replace("cue:", "why:", 1)})
    lay(room.root, {"content/procedures/example/steps/place-drain.md": "---\ntitle: [\n---\n"})
    room.shop.saved()
    # The policy would keep axe itself out; that the pages keep to it is what `tab` sees to.
    context = browser.new_context(viewport={"width": width, "height": 900}, has_touch=width < 1000, bypass_csp=True)
    tab = context.new_page()
    tab.goto(room.server.gate.address)
    tab.wait_for_url(f"{room.home}/")
    found, seen = [], 0
    for path in screens():
        answer = tab.goto(f"{room.home}{path}")
        if answer.status == 404:
            continue  # a page that this procedure does not have
        seen += 1
        tab.wait_for_selector("[data-part]:not([data-shown])", state="detached")
        if tab.evaluate("document.documentElement.scrollWidth") > width:
            found.append(f"{path}: sticks out")
        for scheme in ("light", "dark"):
            tab.emulate_media(color_scheme=scheme)
            found += [f"{path}, {scheme}: {barrier}" for barrier in barriers(tab)]
    context.close()
    print(f"{seen} screens at {width} px")
    assert found == []
    assert seen > 40

"""The shipped look in a real browser: every must is seen in 24 states, and what a style sheet does to one is noticed.

Three widths, screen and print, light and dark, scripts on and off. What the pass asks of a must, and what it cannot
know, stands in ``visible.js``.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import Any

import pytest
from sabotaged import SET

STATES = list(product((390, 768, 1280), ("screen", "print"), ("light", "dark"), (True, False)))
PASS = (Path(__file__).parent / "visible.js").read_text("utf-8")
# Those that style sheets alone do to a must at once, and not by a font: what was read with the letters swapped is seen.
# p11 is done to a reminder, and the page that is looked at has none.
BY_STYLE = ["p01", "p02", "p04", "p07", "p09", "p10", "p12", "p16", "p17", "p18", "p19", "p21"]


def seen(browser: Any, address: str, state: tuple[int, str, str, bool], style: str = "") -> list[str]:
    """Return what of a page is not seen as it is written."""
    width, media, scheme, scripts = state
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, java_script_enabled=scripts, bypass_csp=True
    )
    tab = context.new_page()
    tab.goto(address)
    tab.emulate_media(media=media, color_scheme=scheme)
    if style:
        tab.evaluate(
            "(text) => document.head.append(Object.assign(document.createElement('style'), {textContent: text}))", style
        )
    found: list[str] = tab.evaluate(PASS, media == "screen")
    context.close()
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", ["example/index.html", "example/example.html"])
def test_every_must_of_the_shipped_look_is_seen(name: str, browser: Any, site: Path) -> None:
    address = (site / name).as_uri()
    assert {state: found for state in STATES if (found := seen(browser, address, state))} == {}


@pytest.mark.slow
@pytest.mark.parametrize("start", BY_STYLE)
def test_what_a_style_sheet_does_to_a_must_is_noticed(start: str, browser: Any, site: Path) -> None:
    [style] = [one["edits"][0]["new"] for one in SET if one["id"].startswith(f"{start}-")]
    address = (site / "example/index.html").as_uri()
    assert any(seen(browser, address, state, style) for state in STATES)

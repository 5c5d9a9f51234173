"""One educator's walk, in Chromium: a procedure drafted from an old outline, a step edited, a caution added, a finding
mended, the order changed, the card taken home. The files then differ only where something was edited."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

Preview = Any  # the fixture of conftest.py
OUTLINE = """\
# Removal of a skin lump

1. Check the name, the side and the mark with the theatre team.
2. Inject lidocaine 1 % round the lump, 10 mL at most.
3. Cut the skin round the lump with the skin blade.
   Keep to an ellipse along the lines of the skin.
4. Identify and protect the superficial epigastric vein.
5. Count the swabs and close the skin with the absorbable skin suture.
"""
NAMES = "content/catalogue/structures-proposed-"  # with what the draft found that no catalogue has
FOLDER = "content/procedures/removal-of-a-skin-lump"
CLOSE = f"{FOLDER}/steps/count-swabs-close-skin-absorbable.md"
CUT = f"{FOLDER}/steps/cut-skin-round-lump-skin.md"
VEIN = f"{FOLDER}/steps/identify-protect-superficial-epigastric-vein.md"
HEAD = f"{FOLDER}/procedure.md"
CAUTION = f"{FOLDER}/cautions/vein-torn-in-the-cut.md"


@pytest.fixture
def tab(browser: Any, preview: Preview) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text))
    page.goto(preview.server.gate.address)
    page.wait_for_url(f"{preview.home}/")
    yield page
    context.close()
    assert [one for one in said if not one.startswith("Failed to load resource")] == []


def files(root: Path) -> dict[str, str]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes().decode()
        for folder in ("content", "references")
        for path in sorted((root / folder).rglob("*"))
        if path.suffix in (".md", ".yml", ".bib")
    }


def diff(before: str, after: str) -> list[str]:
    return [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[:1] in "+-"]


def saved(tab: Any, act: Callable[[], Any]) -> None:
    with tab.expect_navigation():
        act()
    tab.wait_for_selector("#save:enabled")
    assert tab.inner_text("#state").startswith("Saved")


def field(tab: Any, key: str) -> Any:
    return tab.locator(f"#form [data-field][data-key={key}] [data-value]").first


def drafted(tab: Any) -> None:
    """The outline is pasted, and becomes a procedure."""
    tab.get_by_role("link", name="A new procedure").click()
    tab.get_by_label("Title").fill("Removal of a skin lump")
    tab.get_by_label("Or words to paste").fill(OUTLINE)
    tab.get_by_role("button", name="Draft it").click()
    tab.get_by_role("link", name="Page", exact=True).click()
    tab.get_by_role("heading", name="Removal of a skin lump").first.wait_for()


def a_step_is_edited(tab: Any, preview: Preview, before: dict[str, str]) -> None:
    """A step is edited by its form, and what the draft proposed there is confirmed."""
    tab.locator(f'a[href$="/edit/{CUT}"]').first.click()
    tab.wait_for_selector("#save:enabled")
    field(tab, "critical").check()
    field(tab, "cue").fill("The lump lies free in the middle of the ellipse.")
    field(tab, "if_not").fill("Stop. Feel for its edge, and make the ellipse longer: do not pull.")
    saved(tab, lambda: tab.get_by_role("button", name="Confirm this page").click())
    assert diff(before[CUT], (preview.root / CUT).read_text()) == [
        "- proposed: true",
        "+ critical: true",
        "-     proposed: true",
        "+ cue: The lump lies free in the middle of the ellipse.",
        '+ if_not: "Stop. Feel for its edge, and make the ellipse longer: do not pull."',
    ]


def a_caution_is_added(tab: Any, preview: Preview, before: dict[str, str]) -> None:
    """A caution is added, and stands before the step it guards."""
    tab.get_by_role("link", name="Add a caution").click()
    tab.wait_for_selector("#save:enabled")
    field(tab, "signal").select_option("warning")
    field(tab, "hazard").fill("Vein torn in the cut")
    field(tab, "consequence").fill("Dark blood hides the lump.")
    field(tab, "avoid").fill("See the vein before the blade goes deep.")
    field(tab, "sign").fill("The wound fills with dark blood.")
    field(tab, "if_it_happens").fill("Press with a swab for two minutes, then tie it.")
    tab.get_by_role("button", name="Add a step").click()
    tab.keyboard.type("Identify and")
    tab.locator("[role=option]").first.click()
    tab.get_by_label("Common practice").check()
    saved(tab, lambda: tab.get_by_role("button", name="Add it").click())
    assert (preview.root / CAUTION).read_text() == (
        "---\nsignal: warning\nhazard: Vein torn in the cut\nconsequence: Dark blood hides the lump.\n"
        "avoid: See the vein before the blade goes deep.\nsign: The wound fills with dark blood.\n"
        "if_it_happens: Press with a swab for two minutes, then tie it.\n"
        "guards: [identify-protect-superficial-epigastric-vein]\ncommon_practice: true\n---\n"
    )
    assert diff(before[VEIN], (preview.root / VEIN).read_text()) == ["+ cautions: [vein-torn-in-the-cut]"]


def a_finding_is_mended(tab: Any, preview: Preview, before: dict[str, str]) -> None:
    """A finding is mended where it is shown: the blades were not counted."""
    assert any(one.name == "skin-closed-uncounted" for one in preview.shop.state.findings if one.at.file == CLOSE)
    tab.get_by_role("link", name="To page and papers").click()
    note = tab.locator(".pv-note", has_text="the blades have not been counted").first
    note.get_by_role("link", name="Put it right").click()
    tab.wait_for_selector("#save:enabled")
    assert "blades have not been counted" in tab.locator("[data-key=actions]").first.inner_text()
    tab.get_by_role("button", name="Add another object to this action").first.click()
    tab.keyboard.type("bla")
    tab.locator("[role=option]", has_text="blades").click()
    saved(tab, lambda: tab.keyboard.press("Control+s"))
    assert [
        one for one in preview.shop.state.findings if one.name == "skin-closed-uncounted" and one.at.file == CLOSE
    ] == []
    # The action was edited by hand, so it is no longer a proposal; the other action still is.
    assert diff(before[CLOSE], (preview.root / CLOSE).read_text()) == [
        "+   - count: [swabs, needles, blades]",
        "-   - count:",
        "-       - swabs",
        "-       - needles",
        "-     proposed: true",
    ]


def the_order_is_changed(tab: Any, preview: Preview, before: dict[str, str]) -> None:
    """The vein is seen before the cut."""
    tab.get_by_role("link", name="Details, kit and order").click()
    tab.wait_for_selector("#save:enabled")
    row = tab.locator(
        "li[data-entry=step]", has=tab.get_by_text("Identify and protect the superficial epigastric vein")
    )
    row.locator("[data-up]").click()
    saved(tab, lambda: tab.locator("#save").click())
    vein_id, cut_id = "identify-protect-superficial-epigastric-vein", "cut-skin-round-lump-skin"
    assert sorted(diff(before[HEAD], (preview.root / HEAD).read_text())) == sorted(
        [f"+   - {vein_id}", f"-   - {vein_id}"]
    )
    text = (preview.root / HEAD).read_text()
    assert text.index(vein_id) < text.index(cut_id)


def the_card_is_taken(tab: Any, folder: Path) -> None:
    """The card goes home."""
    tab.get_by_role("link", name="To page and papers").click()
    tab.get_by_role("link", name="Pocket card").first.click()
    link = tab.locator('a[href*="/keep/card/"]').first
    link.wait_for()
    with tab.expect_download() as kept:
        link.click()
    card = folder / "card.pdf"
    kept.value.save_as(card)
    document = pypdfium2.PdfDocument(card)
    words = " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    assert "Vein torn in the cut" in words
    assert "The lump lies free" in words
    width, height = document[0].get_size()
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (105, 148)  # ISO 216, A6


def test_from_an_old_outline_to_the_card_in_the_pocket(tab: Any, preview: Preview, tmp_path: Path) -> None:
    others = files(preview.root)
    drafted(tab)
    before = files(preview.root)
    assert {name: text for name, text in before.items() if not name.startswith((FOLDER, NAMES))} == others
    a_step_is_edited(tab, preview, before)
    a_caution_is_added(tab, preview, before)
    a_finding_is_mended(tab, preview, before)
    the_order_is_changed(tab, preview, before)
    the_card_is_taken(tab, tmp_path)
    # Nothing else was touched, in this procedure or anywhere.
    after = files(preview.root)
    touched = {name for name in after if after[name] != before.get(name)}
    assert touched == {CUT, CAUTION, VEIN, CLOSE, HEAD}
    assert set(before) <= set(after)

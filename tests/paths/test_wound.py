"""Cutting before seeing, nicks, what is left open, and the count that is due when nothing is closed.

All rules here are common practice, but for the last count: WHO Guidelines for Safe Surgery (2009), objective 7 (cited
from memory), counts before the skin is closed and before the patient leaves.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from department import BASE, Overlay, of_families, read

from builder.compose.view.words import sentence
from builder.findings.finding import Finding, Severity
from builder.model.action import action
from builder.place import Text

STEPS = "content/procedures/example/steps"
OPENING = "  - open: external oblique aponeurosis\n    with: dissecting scissors\n"
SIGHT = "  - identify: ilioinguinal nerve\n  - protect: ilioinguinal nerve\n"


def paths_of(root: Path) -> list[Finding]:
    return of_families(read(root)[1], "paths")


def changed(overlay: Overlay, name: str, *pairs: tuple[str, str]) -> list[tuple[str, Severity]]:
    """Return what is found when parts of a step of the base are replaced."""
    text = (BASE / STEPS / name).read_text(encoding="utf-8")
    for old, new in pairs:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return [(one.name, one.severity) for one in paths_of(overlay({f"{STEPS}/{name}": text}))]


def opened(overlay: Overlay, actions: str) -> list[str]:
    return [id for id, _ in changed(overlay, "open-canal.md", (SIGHT, ""), (OPENING, actions))]


NICK = f"{OPENING}    nick: true\n"
SEE = "  - identify: ilioinguinal nerve\n"
DIVIDE = "  - divide: external oblique aponeurosis\n"


@pytest.mark.parametrize(
    ("actions", "ids"),
    [
        (f"{SEE}{OPENING}", []),
        (f"{OPENING}{SEE}", ["neighbour-not-seen"]),
        (f"{NICK}{SEE}{DIVIDE}", []),
        (f"{NICK}{DIVIDE}{SEE}", ["neighbour-not-seen"]),
        (f"{NICK}{NICK}{SEE}", ["neighbour-not-seen"]),
        (f"{NICK}{OPENING}{SEE}", ["neighbour-not-seen"]),
        (f"{SEE}{NICK}{NICK}", []),
        (NICK, ["nick-without-looking"]),
        ("  - open: external oblique aponeurosis\n", ["instrument-not-said"]),
        ("  - open: external oblique aponeurosis\n    what: with a finger\n", []),
        (f"{SEE}  - open: external oblique aponeurosis\n", []),
        ("  - open: external oblique aponeurosis\n    with: skin blade\n", ["neighbour-not-seen"]),
        ("  - open: external oblique aponeurosis\n    with: self-retaining retractor\n", []),
    ],
)
def test_a_nick_may_come_before_the_nerve_is_seen_and_nothing_else_may(
    actions: str, ids: list[str], overlay: Overlay
) -> None:
    assert opened(overlay, actions) == ids


def test_an_item_cuts_only_if_the_catalogue_says_so(overlay: Overlay) -> None:
    items = (BASE / "content/catalogue/items.yml").read_text(encoding="utf-8")
    text = (BASE / STEPS / "open-canal.md").read_text(encoding="utf-8").replace(SIGHT, "")
    files = {"content/catalogue/items.yml": items.replace(", cuts: true", ""), f"{STEPS}/open-canal.md": text}
    assert paths_of(overlay(files)) == []


CLOSING = "  - close: external oblique aponeurosis\n    with: absorbable canal suture\n"
SKIN = "  - close: skin\n    with: absorbable skin suture\n"


@pytest.mark.parametrize(
    ("closing", "found"),
    [
        ("suture", []),
        ("inspect", [("left-open", Severity.WARNING)]),
    ],
)
def test_a_layer_is_shut_by_stitches_too(closing: str, found: list[tuple[str, Severity]], overlay: Overlay) -> None:
    new = CLOSING.replace("close", closing)
    assert changed(overlay, "close-canal.md", (CLOSING, new)) == found


@pytest.mark.parametrize("verb", ["suture", "inspect"])
def test_the_skin_is_shut_by_its_closing_alone(verb: str, overlay: Overlay) -> None:
    assert changed(overlay, "close-canal.md", (SKIN, SKIN.replace("close", verb))) == [("left-open", Severity.ERROR)]


def test_what_stays_open_on_purpose_is_no_finding(overlay: Overlay) -> None:
    stays = (OPENING, f"{OPENING}    stays: true\n")
    text = (BASE / STEPS / "open-canal.md").read_text(encoding="utf-8").replace(*stays)
    closing = (
        (BASE / STEPS / "close-canal.md")
        .read_text(encoding="utf-8")
        .replace(CLOSING, CLOSING.replace("close", "inspect"))
    )
    assert paths_of(overlay({f"{STEPS}/open-canal.md": text, f"{STEPS}/close-canal.md": closing})) == []


COUNT = "  - count: [swabs, needles, blades, instruments]\n"


def test_leaving_out_the_closing_does_not_leave_out_the_count(overlay: Overlay) -> None:
    """The count goes with the closing it stands before; both are missed, each once."""
    gone = changed(overlay, "close-canal.md", (COUNT + SKIN, SKIN.replace("close", "suture")))
    assert gone == [("ended-uncounted", Severity.ERROR), ("left-open", Severity.ERROR)]


def test_where_nothing_is_opened_no_count_is_asked_for(overlay: Overlay) -> None:
    """A bedside injection is no wound: its needle is not asked for in a count."""
    folder = "content/procedures/second"
    items = (BASE / "content/catalogue/items.yml").read_text(encoding="utf-8")
    front = (
        '---\ntitle: Numb the nerve\nspecialty: general surgery\nedition: "1.0"\nstatus: draft\n'
        "owner: {name: Ada Example, role: consultant surgeon}\nreview_by: 2028-05-31\n"
        "kit: {lidocaine: 1, thin needle: 1}\nsequence: [numb]\ncommon_practice: true\n---\n"
    )
    step = "---\ntitle: Numb it\nactions:\n  - inject: lidocaine\n    with: thin needle\n%scommon_practice: true\n---\n"
    needle = "{id: thin-needle, name: thin needle, kind: needle, counted: true}"
    files = {
        "content/catalogue/items.yml": f"{items}- {needle}\n",
        f"{folder}/procedure.md": front,
        f"{folder}/steps/numb.md": step % "",
    }
    assert paths_of(overlay(files)) == []
    files[f"{folder}/steps/numb.md"] = step % "  - open: skin\n    stays: true\n"
    assert "ended-uncounted" in [one.name for one in paths_of(overlay(files))]


def test_what_is_printed_says_nick_and_left_open() -> None:
    library = read(BASE)[0]
    nick = action("open", "external oblique aponeurosis", using=[Text("skin blade")], nick=True)
    assert sentence(library, nick) == "Nick the external oblique aponeurosis with skin blade"
    assert sentence(library, action("open", "skin", stays=True)) == "Open the skin (left open)"
    assert sentence(library, action("place", "small swab", stays=True)) == "Place small swab (stays)"

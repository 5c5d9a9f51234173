"""What a surgeon must be able to say of an operation can be written, is read by the checks, and the reader is told."""

from __future__ import annotations

import pytest
from department import BASE, Overlay, read
from papers import renderer

from builder.compose.handout import handout
from builder.facts.coverage import coverage, data_of
from builder.findings.finding import Severity

HOME = "content/procedures/example/"
PROCEDURE, CLOSE, OPEN = f"{HOME}procedure.md", f"{HOME}steps/close-canal.md", f"{HOME}steps/open-canal.md"
STRUCTURES, ITEMS = "content/catalogue/structures.yml", "content/catalogue/items.yml"
Edits = tuple[tuple[str, str, str], ...]


def way_out(end: str) -> Edits:
    """An option after the canal is closed, with which the operation ends as ``end`` says."""
    step = (
        f"---\ntitle: Tell the team what was found\nactions:\n  - tell: theatre team\n    what: what was found\n{end}\n"
    )
    return (
        (f"{HOME}steps/say.md", "", f"{step}common_practice: true\n---\n"),
        (PROCEDURE, "  - follow:\n", "  - option: {id: growth, title: Fixed growth, steps: [say]}\n  - follow:\n"),
    )


CANNULA = (
    (ITEMS, "- {id: lidocaine", "- {id: cannula, name: cannula, kind: line}\n- {id: lidocaine"),
    (PROCEDURE, "kit:\n", "kit:\n  cannula: 1\n"),
    (
        f"{HOME}steps/inject-local.md",
        "  - inject: lidocaine\n",
        "  - place: cannula\n  - inject: lidocaine\n    through: cannula\n  - remove: cannula\n",
    ),
)
SAYINGS: dict[str, tuple[Edits, str]] = {
    "the operation stops here": (
        way_out("stops_here: The growth cannot be taken out."),
        "The operation stops here: The growth cannot be taken out.",
    ),
    "it goes on as another procedure": (
        way_out("converts_to: example"),
        "Go on with: Opening and closing the inguinal",
    ),
    "a drug through a line": (CANNULA, "through the cannula"),
    "a landmark is found": (
        (
            (
                STRUCTURES,
                "- id: inguinal-canal",
                "- {id: point, name: pubic point, kind: landmark}\n- id: inguinal-canal",
            ),
            (OPEN, "actions:\n", "actions:\n  - identify: pubic point\n"),
        ),
        "Identify the pubic point",
    ),
    "this order matters": (
        ((CLOSE, "evidence:", "order_matters: What is lost is found while all is open.\nevidence:"),),
        "In this order: What is lost is found while all is open.",
    ),
}
APART = (
    PROCEDURE,
    "kit:\n",
    "not_close:\n  - structure: external oblique aponeurosis\n    to: ilioinguinal nerve\n"
    "    because: The cut is made far above it.\nkit:\n",
)
UNSEEN = (OPEN, "  - identify: ilioinguinal nerve\n  - protect: ilioinguinal nerve\n", "")


def changed(*edits: tuple[str, str, str]) -> dict[str, str]:
    """Return the files of the base with these edits: what is to be replaced, or "" for a new file."""
    pages: dict[str, str] = {}
    for file, old, new in edits:
        text = pages.get(file) or ((BASE / file).read_text(encoding="utf-8") if old else "")
        assert old in text
        pages[file] = text.replace(old, new, 1) if old else new
    return pages


@pytest.mark.parametrize("what", SAYINGS)
def test_what_is_said_is_read_and_told(what: str, overlay: Overlay) -> None:
    edits, told = SAYINGS[what]
    library, findings = read(overlay(changed(*edits)))
    assert not [finding for finding in findings if finding.severity is Severity.ERROR]
    made = handout.compose(library, library.procedures[0], renderer(BASE))
    assert told in made.text
    assert told not in handout.compose(read(BASE)[0], read(BASE)[0].procedures[0], renderer(BASE)).text


def test_relation_that_does_not_hold_here_is_set_aside_with_its_reason_and_told(overlay: Overlay) -> None:
    """Without it the same text is refused; page, report and approver are told that a relation is set aside."""
    assert "neighbour-not-seen" in {finding.name for finding in read(overlay(changed(UNSEEN)))[1]}
    library, findings = read(overlay(changed(UNSEEN, APART)))
    assert "neighbour-not-seen" not in {finding.name for finding in findings}
    told = data_of(coverage(library, library.procedures[0]))
    assert told["relations_set_aside"] == 1
    assert "1 relation of the catalogue is set aside with a reason" in told["told"][-1]


def test_of_two_opposite_answers_to_one_trouble_both_are_told(overlay: Overlay) -> None:
    text = (BASE / OPEN).read_text("utf-8")
    for now, then in (
        ("Stop, lengthen the skin cut and ask for the supervising surgeon.", "Push the retractor deeper."),
        ("Tell the supervising surgeon and write it down.", "Pull the retractor back."),
    ):
        text = text.replace(now, then)
    (found,) = (one for one in read(overlay({OPEN: text}))[1] if one.name == "caution-contradicted")
    assert (
        found.message == "'Pull the retractor back' and 'Push the retractor deeper' are opposite answers to one trouble"
    )

"""What a consultant would call wrong at once: each written once more, away from the lists, and which finding speaks."""

from __future__ import annotations

import pytest
from department import BASE, Overlay, read

HOME = "content/procedures/example/"
STEPS, PROCEDURE, DEPARTMENT = f"{HOME}steps/", f"{HOME}procedure.md", "content/department.md"
CUT, OPEN, CLOSE = f"{STEPS}cut-skin.md", f"{STEPS}open-canal.md", f"{STEPS}close-canal.md"
RELIEF, ITEMS, STRUCTURES = (
    f"{HOME}aftercare/pain-relief.md",
    "content/catalogue/items.yml",
    "content/catalogue/structures.yml",
)
Edits = tuple[tuple[str, str, str], ...]


def step(title: str, *actions: str, more: str = "") -> str:
    listed = "actions:\n" + "".join(f"  - {action}\n" for action in actions) if actions else "no_actions: You say it.\n"
    return f"---\ntitle: {title}\n{listed}{more}common_practice: true\n---\n"


def late(title: str, *actions: str, kit: str = "") -> Edits:
    """A step right after the cut."""
    return (
        (f"{STEPS}late.md", "", step(title, *actions)),
        (PROCEDURE, "  - open-canal\n", "  - late\n  - open-canal\n"),
        *(((PROCEDURE, "kit:\n", f"kit:\n  {kit}: 1\n"),) if kit else ()),
    )


LAYERS = """  - close: external oblique aponeurosis
    with: absorbable canal suture
  - close: inguinal canal
  - count: [swabs, needles, blades, instruments]
  - close: skin
    with: absorbable skin suture
"""
BACKWARDS = """  - close: inguinal canal
  - count: [swabs, needles, blades, instruments]
  - close: skin
    with: absorbable skin suture
  - close: external oblique aponeurosis
    with: absorbable canal suture
"""
DUCT = (
    (STRUCTURES, "- id: inguinal-canal", "- {id: cystic-duct, name: cystic duct, kind: duct}\n- id: inguinal-canal"),
    (OPEN, "cue: The", "  - identify: cystic duct\n  - divide: cystic duct\n    with: dissecting scissors\ncue: The"),
)
VISCUS = (
    (STRUCTURES, "- id: inguinal-canal", "- {id: appendix, name: appendix, kind: viscus}\n- id: inguinal-canal"),
    (
        OPEN,
        "cue: The",
        "  - identify: appendix\n  - excise: appendix\n    with: dissecting scissors\n  - tie: appendix\n"
        "    with: absorbable vessel tie\ncue: The",
    ),
)
MUSCLE = (
    (STRUCTURES, "- id: inguinal-canal", "- {id: oblique, name: internal oblique, kind: muscle}\n- id: inguinal-canal"),
    (OPEN, "  - place: self-ret", "  - open: internal oblique\n    with: dissecting scissors\n  - place: self-ret"),
    (CLOSE, "  - close: inguinal canal\n", "  - close: internal oblique\n  - close: inguinal canal\n"),
)
DOSE = "dose: {drug: paracetamol, route: by mouth, amount: 1 g, every: 6 h, common_practice: true}"
BANDS = (
    "dose: {drug: paracetamol, route: by mouth, every: 6 h, common_practice: true, strength: 24 mg/mL,\n"
    "  bands: [{from: 10, to: 20, amount: 240 mg}, {from: 21, to: 40, amount: 120 mg}]}"
)
AMOUNT = "Take your pain tablets regularly for three days."

WRONG: dict[str, tuple[Edits, str]] = {
    "skin prepared after the cut": (
        late("Clean the skin with chlorhexidine", "irrigate: chlorhexidine", kit="chlorhexidine"),
        "prepared-too-late",
    ),
    "antibiotic after the cut": (
        late("Give the antibiotic into the vein", "inject: cefuroxime", kit="cefuroxime"),
        "prepared-too-late",
    ),
    "position after the drapes": (
        (
            (f"{STEPS}drape.md", "", step("Drape the groin")),
            (f"{STEPS}lay.md", "", step("Lay the patient flat on the back")),
            (PROCEDURE, "  - cut-skin\n", "  - drape\n  - lay\n  - cut-skin\n"),
        ),
        "prepared-too-late",
    ),
    "step pasted twice": (
        (
            (f"{STEPS}again.md", "", (BASE / CUT).read_text(encoding="utf-8")),
            (PROCEDURE, "  - open-canal\n", "  - again\n  - open-canal\n"),
        ),
        "step-repeated",
    ),
    "skin closed before the layer beneath": (((CLOSE, LAYERS, BACKWARDS),), "left-open"),
    "layers closed in the order of opening": (MUSCLE, "closed-out-of-order"),
    "duct left open": (DUCT, "cut-end-left-open"),
    "stump of a viscus tied after it was taken out": (VISCUS, "tied-after-removal"),
    "vessel tied only after it was cut off": (
        (
            (CUT, "  - divide: superficial", "  - excise: superficial"),
            (
                CUT,
                "  - tie: superficial epigastric vein\n    with: absorbable vessel tie\n",
                "",
            ),
            (
                CUT,
                "with: dissecting scissors\n",
                "with: dissecting scissors\n  - tie: superficial epigastric vein\n    with: absorbable vessel tie\n",
            ),
        ),
        "vessel-not-controlled",
    ),
    "protected and never seen": (((OPEN, "  - identify: ilioinguinal nerve\n", ""),), "neighbour-not-seen"),
    "rows that fall with weight": (((RELIEF, DOSE, BANDS),), "dose-falls-with-weight"),
    "sum of a day": (
        ((RELIEF, "EOF", "Give 1 g every 6 hours, which is 3 g in a day.\n"),),
        "dose-arithmetic-wrong",
    ),
    "tablets against strength": (
        ((RELIEF, AMOUNT, "Take three 500 mg tablets every six hours for three days."),),
        "dose-told-otherwise",
    ),
    "patient's text against `every:`": (
        ((RELIEF, AMOUNT, "Take your pain tablets every four hours for three days."),),
        "patient-told-other-dose",
    ),
    "staff text against `every:`": (((RELIEF, "EOF", "Give it every 8 hours.\n"),), "dose-told-otherwise"),
    "page range reversed": (((CLOSE, "at: p. 229", "at: pp. 235-229"),), "pages-reversed"),
    "page outside": (((CLOSE, "at: p. 229", "at: p. 300"),), "page-outside-source"),
    "review past": (((PROCEDURE, "review_by: 2028-05-31", "review_by: 2026-05-31"),), "review-overdue"),
    "role without a number": (((OPEN, "call: consultant on call", "call: vascular surgeon"),), "call-without-number"),
    "owner approves": (
        (
            (
                PROCEDURE,
                "status: draft\n",
                "status: approved\napproval: {by: Ada Example, role: clinical lead, on: 2026-11-20, content: v1-0}\n",
            ),
        ),
        "approved-by-owner",
    ),
}
CHARACTERS = {
    "turned direction": ("\u202e", "hidden-character"),
    "no width": ("ner\u200bve", "hidden-character"),
    "another script": ("n\u0435rve", "mixed-script"),
    "letter in a number": ("Give 1O mg.", "letter-in-number"),
    "full-width digit": ("Give \uff11 mg.", "digit-not-plain"),
}
FILES = {
    "procedure": (PROCEDURE, "This is the way", "{} This is the way"),
    "step": (CUT, "Tie the vein on", "{} Tie the vein on"),
    "caution": (f"{HOME}cautions/nerve-injury.md", "avoid: See", "avoid: {} See"),
    "aftercare": (RELIEF, AMOUNT, AMOUNT + " {}"),
    "department": (DEPARTMENT, "Teaching material.", "Teaching material. {}"),
    "catalogue": ("content/catalogue/terms.yml", "World Health Organization", "World Health {} Organization"),
    "bibliography": ("references/sources.bib", "{Nerve management", "{Nerve {} management"),
    "figure": (f"{HOME}figures/canal.svg", "</svg>", "<desc>{}</desc></svg>"),
}


def changed(edits: Edits) -> dict[str, str]:
    pages: dict[str, str] = {}
    for file, old, new in edits:
        path = BASE / file
        text = pages.get(file) or (path.read_text(encoding="utf-8") if path.is_file() else "")
        if old == "EOF":
            pages[file] = text + new
            continue
        assert old in text, (file, old)
        pages[file] = text.replace(old, new, 1) if old else new
    return pages


@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_told_by_its_finding(what: str, overlay: Overlay) -> None:
    edits, name = WRONG[what]
    said = {finding.name for finding in read(overlay(changed(edits)))[1]}
    assert name in said, sorted(said)


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("what", CHARACTERS)
def test_deceiving_character_is_told_in_every_kind_of_file(file: str, what: str, overlay: Overlay) -> None:
    name, (path, old, new) = CHARACTERS[what][1], FILES[file]
    found = read(overlay(changed(((path, old, new.replace("{}", CHARACTERS[what][0])),))))[1]
    assert name in {finding.name for finding in found if finding.at.file == path}

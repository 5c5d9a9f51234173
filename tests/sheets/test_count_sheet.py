"""The count and kit sheet: the kit, every count at its moment, and what is in the patient after each step."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from department import BASE, Overlay, read
from papers import document, library, proved, renderer, spoilt, typesetter

from builder.compose.document import Document
from builder.compose.sheets import count_sheet
from builder.compose.sheets.count_sheet import moments_of
from builder.compose.view.outline import outline

FOLDER = "content/procedures/example"


def moments(root: Path) -> list[tuple[int, str, str, tuple[str, ...]]]:
    lib = read(root)[0]
    procedure = lib.procedures[0]
    found = moments_of(lib, procedure, outline(procedure))
    return [(one.number, one.title, one.steps, one.what) for one in found]


def sheet(root: Path) -> Document:
    lib = read(root)[0]
    return count_sheet.compose(lib, lib.procedures[0], renderer(root))


def words(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", text.split("<body>")[1]))


def test_the_whole_kit_is_on_it_once_what_is_counted_with_boxes_for_a_number() -> None:
    lib = library()
    text = document("count-sheet").text
    shown = words(text).split("In the patient after")[0]
    for name, number in lib.procedures[0].kit.items():
        item = lib.items.find(name)
        assert item is not None
        row = f"{item.name} {number}" if item.counted else f"□ {number} {item.name}"
        assert shown.count(row) == 1, row
    [swabs] = re.findall(r"<tr><th scope=\"row\">small swab</th>.*?</tr>", text)
    assert swabs.count('<span class="blank"></span>') == 3


def no_place_for_a_patient(text: str) -> list[str]:
    return re.findall(
        r"(?i)\b(?:patient.s name|name of the patient|hospital number|NHS number|date of birth|ward)\b", text
    )


def test_it_is_a_sheet_for_practice_without_a_place_for_a_patient() -> None:
    shown = words(document("count-sheet").text)
    assert "Practice sheet: the record of your own theatre counts" in shown
    assert no_place_for_a_patient(shown) == []
    assert "Two who counted" not in shown
    assert no_place_for_a_patient("Hospital number: ____") == ["Hospital number"], "the control"


def test_the_sheets_of_the_demo_take_two_pages(tmp_path: Path) -> None:
    demo = BASE.parents[1]
    for procedure in library(demo).procedures:
        made = count_sheet.compose(library(demo), procedure, renderer(demo))
        found = proved(made, typesetter(demo).pdf(made), tmp_path)
        assert found.problems == ()
        assert found.pages == 2
    long = spoilt(made, "</style>", ".moments-part { break-after: page }</style>")
    assert proved(long, typesetter(demo).pdf(long), tmp_path).pages == 3, "the control"


def test_counts_stand_at_their_moments() -> None:
    everything = ("swabs", "needles", "blades", "instruments")
    assert moments(BASE) == [
        (1, "Before the start", "", ("swabs", "blades", "instruments")),  # no needle is counted in this kit
        (2, "Before closing the external oblique aponeurosis", "Step 6", everything),
        (3, "At skin closure", "Step 6", everything),
    ]


def test_a_count_that_a_step_makes_before_the_cut_is_the_first_count(overlay: Overlay) -> None:
    step = (BASE / FOLDER / "steps/cut-skin.md").read_text(encoding="utf-8")
    root = overlay({f"{FOLDER}/steps/cut-skin.md": step.replace("actions:\n", "actions:\n  - count: [swabs]\n")})
    assert [moment[:3] for moment in moments(root)] == [
        (1, "Before the cut", "Step 3"),
        (2, "Before closing the external oblique aponeurosis", "Step 6"),
        (3, "At skin closure", "Step 6"),
    ]


def test_a_count_on_either_branch_is_one_moment(overlay: Overlay) -> None:
    count = "---\ntitle: Count it\nactions:\n  - count: [swabs]\ncommon_practice: true\n---\nCount.\n"
    close = "---\ntitle: Close it\nactions:\n  - close: {}\ncommon_practice: true\n---\nClose.\n"
    text = (BASE / FOLDER / "procedure.md").read_text(encoding="utf-8")
    start, end = text.index("sequence:\n"), text.index("aftercare:")
    sequence = (
        "  - choose: {id: one, between: {a: [count-a], b: [count-b]}}\n"
        "  - follow: {choice: one, with: {a: [close-a], b: [close-b]}}\n"
    )
    root = overlay(
        {
            f"{FOLDER}/procedure.md": f"{text[:start]}sequence:\n{sequence}{text[end:]}",
            f"{FOLDER}/steps/count-a.md": count,
            f"{FOLDER}/steps/count-b.md": count,
            f"{FOLDER}/steps/close-a.md": close.format("inguinal canal"),
            f"{FOLDER}/steps/close-b.md": close.format("external oblique aponeurosis"),
        }
    )
    assert moments(root)[1:] == [
        (
            2,
            "Before closing the inguinal canal or before closing the external oblique aponeurosis",
            "Step 1A or 1B",
            ("swabs",),
        )
    ]


def test_what_is_not_in_a_count_has_no_box_there(overlay: Overlay) -> None:
    name = f"{FOLDER}/steps/close-canal.md"
    fewer = (
        (BASE / name)
        .read_text(encoding="utf-8")
        .replace("count: [swabs, needles, blades, instruments]", "count: [swabs]", 1)
    )
    shown = words(sheet(overlay({name: fewer})).text)
    assert "skin blade 1 – " in shown
    assert "small swab 2 –" not in shown


def test_what_is_in_is_said_by_path_and_what_stays_where_it_is_left() -> None:
    shown = words(document("count-sheet").text)
    after = shown[shown.index("In the patient after each step") :]
    assert "4 Find the nerve, then open the canal □ self-retaining retractor in the inguinal canal" in after
    assert "□ 2 × small swab in the inguinal canal" in after
    drain = after[after.index("5 If drain:") : after.index("6 Close")]
    assert re.search(r"As after step 4\W+suction drain in the inguinal canal", drain)
    assert re.search(r"The patient leaves with .*suction drain.*, if drain for", after)
    assert re.search(r"6 Close the canal and the skin in layers Nothing", after)


def test_a_count_that_does_not_match_has_what_the_cautions_say(overlay: Overlay) -> None:
    assert "If a count is not correct" not in document("count-sheet").text
    caution = (
        "---\nsignal: danger\nhazard: A swab is left behind\nconsequence: Infection.\navoid: Count aloud.\n"
        "sign: The count does not match.\nif_it_happens: Stop closing and search.\ncall: consultant on call\n"
        "guards: [close-canal]\ncommon_practice: true\n---\n"
    )
    shown = words(sheet(overlay({f"{FOLDER}/cautions/left-behind.md": caution})).text)
    assert "If a count is not correct: Stop closing and search. Call consultant on call 4000" in shown


def test_a_kit_too_long_for_one_table_is_parted_by_kind_and_no_table_by_a_page(
    overlay: Overlay, tmp_path: Path
) -> None:
    names = [f"long named dissecting instrument of the second tray number {n}" for n in range(60)]
    catalogue = (BASE / "content/catalogue/items.yml").read_text(encoding="utf-8")
    catalogue += "".join(
        f'- {{id: tool-{n}, name: "{name}", kind: instrument, counted: true}}\n' for n, name in enumerate(names)
    )
    page = (BASE / FOLDER / "procedure.md").read_text(encoding="utf-8")
    page = page.replace("kit:\n", "kit:\n" + "".join(f"  tool-{n}: 1\n" for n in range(60)))
    root = overlay({"content/catalogue/items.yml": catalogue, f"{FOLDER}/procedure.md": page})
    made = sheet(root)
    assert made.text.count('<table class="count">') > 3
    assert proved(made, typesetter(root).pdf(made), tmp_path).problems == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('<td class="laid">2</td>', '<td class="laid">3</td>', "count row"),
        ("</span>suction drain</li>", "</span></li>", "kit"),
        ("As after step", "Nothing after step", "the in"),
        ("<b>At skin closure</b>", "", "count"),
        ("<b>2 × small swab</b> in the inguinal canal", "", "the in"),
        ("<b>suction drain</b>", "", "stays"),
        ("<b>2 × small swab, self-retaining retractor</b>", "", "the out"),
        ('<th scope="row">skin blade</th>', "<td>skin blade</td>", ""),
        ("</style>", ".out { height: 3mm; overflow: hidden }</style>", "cut off"),
        (
            "</style>",
            "table { break-inside: auto } .moments-part { break-inside: auto; margin-top: 200mm }</style>",
            "parted by a page",
        ),
    ],
)
def test_a_sheet_that_lost_something_is_refused(old: str, new: str, said: str, tmp_path: Path) -> None:
    wanted = document("count-sheet")
    made = spoilt(wanted, old, new, count=-1)
    problems = proved(wanted if not said else made, typesetter().pdf(made), tmp_path).problems
    assert any(said in problem for problem in problems), problems

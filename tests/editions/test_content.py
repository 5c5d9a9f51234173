"""The hash that is approved: what a reader sees is in it, what nobody sees is not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from house import House

from builder.model.edition import code_of, edition_key, edition_of, reflowed

# (what is done, file, old, new): each is seen by somebody who uses a card, a page or a handout.
SEEN = [
    ("a step is renamed", "steps/open-canal.md", "title: ", "title: Slowly "),
    ("an action is turned round", "steps/open-canal.md", "identify:", "expose:"),
    ("a cue says something else", "steps/open-canal.md", "cue: ", "cue: Nearly always "),
    ("a way out says something else", "steps/open-canal.md", "if_not: ", "if_not: Do not "),
    ("a step is no longer critical", "steps/open-canal.md", "critical: true", "critical: false"),
    ("the prose of a step", "steps/open-canal.md", "\n---\n", "\n---\nOne more sentence.\n\n"),
    ("a hazard", "cautions/nerve-injury.md", "hazard: ", "hazard: Rarely, "),
    ("a signal word", "cautions/nerve-injury.md", "signal: warning", "signal: caution"),
    ("what a caution guards", "cautions/nerve-injury.md", "guards: [open-canal", "guards: [cut-skin, open-canal"),
    ("aftercare", "aftercare/drain-out.md", "title: ", "title: Perhaps "),
    ("a dose", "aftercare/pain-relief.md", "amount: 1 g", "amount: 2 g"),
    ("a number in the kit", "procedure.md", "small swab: 2", "small swab: 3"),
    ("the order of the steps", "procedure.md", "  - cut-skin\n  - open-canal\n", "  - open-canal\n  - cut-skin\n"),
    ("when a choice is made", "procedure.md", "when: The raw", "when: The dry"),
    ("a line before the start", "procedure.md", "The side is marked", "The side is not marked"),
    ("the side", "procedure.md", "side: either", "side: left"),
    ("a drawing", "figures/canal.svg", "<svg", "<!-- moved --><svg"),
    ("the reasons", "procedure.md", "This is the way", "This is not the way"),
]  # fmt: skip
UNSEEN = [
    ("the owner", "procedure.md", "Ada Example, role: consultant", "Bea Example, role: senior consultant"),
    ("the review date", "procedure.md", "2028-05-31", "2028-04-30"),
    ("the edition", "procedure.md", 'edition: "1.0"', 'edition: "1.1"'),
    ("the status", "procedure.md", "status: draft", "status: in review"),
    ("line breaks", "procedure.md", "This is the way into the groin. It", "This is the way\ninto the groin.   \nIt"),
    ("spaces", "steps/open-canal.md", "title: ", "title:    "),
    ("quotation marks", "procedure.md", "specialty: general surgery", 'specialty: "general surgery"'),
    ("line ends of a drawing", "figures/canal.svg", "\n", "\r\n"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "file", "old", "new"), SEEN, ids=lambda one: one if " " in one else "")
def test_what_is_seen_changes_hash_and_code(house: House, what: str, file: str, old: str, new: str) -> None:
    before = house.content(), house.code()
    house.change(file, old, new)
    assert house.content() != before[0], what
    assert house.code() != before[1], what


@pytest.mark.parametrize(("what", "file", "old", "new"), UNSEEN, ids=lambda one: one if " " in one else "")
def test_what_is_not_seen_leaves_the_hash(house: House, what: str, file: str, old: str, new: str) -> None:
    before = house.content()
    path = house.example / file
    text = path.read_bytes().decode()
    assert old in text
    path.write_bytes(text.replace(old, new).encode())
    assert house.content() == before, what


def test_a_name_of_the_catalogue_is_seen_where_it_is_used(house: House) -> None:
    before = house.content()
    path = house.root / "content/catalogue/items.yml"
    used = path.read_text().replace("name: suction drain", "name: sucking drain, also: [suction drain]")
    assert used != path.read_text()
    path.write_text(used)
    assert house.content() != before


def test_a_name_that_nothing_uses_is_not_seen(house: House) -> None:
    before = house.content()
    path = house.root / "content/catalogue/items.yml"
    path.write_text(path.read_text() + "- {id: spare-thing, name: spare thing, kind: instrument}\n")
    assert house.content() == before


def test_a_step_that_is_in_no_sequence_is_not_seen(house: House) -> None:
    before = house.content()
    (house.example / "steps/later.md").write_text("---\ntitle: Do this next year\ncommon_practice: true\n---\n")
    assert house.content() == before


def test_a_number_to_call_changes_the_code_and_leaves_the_approval(house: House) -> None:
    """Whoever dials from an old card must learn of it; the approver has nothing to look at again."""
    content, code = house.content(), house.code()
    path = house.root / "content/department.md"
    path.write_text(path.read_text().replace('"4000"', '"5000"'))
    assert house.content() == content
    assert house.code() != code


def test_each_part_has_its_own_digest(house: House) -> None:
    library, _ = house.read()
    before = {(part.kind, part.id): part.digest for part in edition_of(library, library.procedures[0]).parts}
    house.change("steps/open-canal.md", "title: ", "title: Slowly ")
    library, _ = house.read()
    after = {(part.kind, part.id): part.digest for part in edition_of(library, library.procedures[0]).parts}
    assert {key for key in before if before[key] != after[key]} == {("step", "open-canal")}


def test_the_hash_stays_what_it_is(house: House) -> None:
    """A later version of this program must not void approvals: this value was made by the first that had one."""
    (house.root / "content/procedures/tiny/steps").mkdir(parents=True)
    (house.root / "content/procedures/tiny/procedure.md").write_text(
        "---\ntitle: Look\nspecialty: surgery\nedition: '1'\nstatus: draft\nowner: {name: A, role: nurse}\n"
        "sequence: [look]\nkit: {small swab: 2}\n---\nWhy: to see.\n"
    )
    (house.root / "content/procedures/tiny/steps/look.md").write_text(
        "---\ntitle: Look at the wound\nminutes: 2\nactions: [{inspect: skin}]\n---\nLook twice.\n"
    )
    library, _ = house.read()
    tiny = next(one for one in library.procedures if one.id == "tiny")
    assert edition_of(library, tiny).content == "v1-3d95a5f09ee28fbaf08b59b2"
    assert edition_of(library, tiny).code == "TKK-5H9-YK7"


def test_the_order_in_which_files_are_found_is_not_seen(house: House, tmp_path: Path) -> None:
    before = house.content()
    for path in sorted(house.example.glob("*/*.md"), reverse=True):
        text = path.read_text()
        path.unlink()
        path.write_text(text)
    assert house.content() == before


@pytest.mark.parametrize(
    ("source", "shown"),
    [
        ("One\ntwo.\n\n\nThree.\n", "One two.\n\nThree."),
        ("# Heading\nText", "# Heading\nText"),
        ("- one\n- two\n  and", "- one\n- two\n  and"),
        ("| a |\nb", "| a |\nb"),
        ("1. one\n2. two", "1. one\n2. two"),
        ("cafe\u0301", "café"),
    ],
)
def test_only_line_breaks_within_a_paragraph_are_folded(source: str, shown: str) -> None:
    assert reflowed(source) == shown


def test_editions_are_ordered_by_their_numbers() -> None:
    assert edition_key("1.10") > edition_key("1.9") > edition_key("1")
    assert edition_key("2026-11") < edition_key("2027-01")


def test_a_code_depends_on_procedure_edition_and_every_part() -> None:
    parts = (("step", "a", "0123456789"), ("step", "b", "0123456789"))
    codes = {
        code_of("x", "1.0", parts),
        code_of("y", "1.0", parts),
        code_of("x", "1.1", parts),
        code_of("x", "1.0", parts[:1]),
        code_of("x", "1.0", tuple(reversed(parts))),
        code_of("x", "1.0", (parts[0], ("step", "b", "0123456780"))),
    }
    assert len(codes) == 6
    assert all(re.fullmatch(r"[2-9CDFHJKMNPRTWXY]{3}(-[2-9CDFHJKMNPRTWXY]{3}){2}", code) for code in codes)

"""A department adds to a catalogue and changes it by id, in a file of its own beside the one it took over."""

from __future__ import annotations

from department import Overlay, read

from builder.facts.anatomy import Anatomy

LOCAL = "content/catalogue/structures-local.yml"
VEIN = "- {id: superficial-epigastric-vein, name: superficial epigastric vein, kind: vessel, paired: true"


def test_an_entry_is_added_and_can_be_used(overlay: Overlay) -> None:
    library, findings = read(overlay({LOCAL: "- {id: round-ligament, name: round ligament, kind: ligament}\n"}))
    assert findings == []
    assert library.structures.find("round ligament") is not None
    assert library.structures.find("ilioinguinal nerve") is not None


def test_an_entry_is_replaced_by_id_and_the_paths_know(overlay: Overlay) -> None:
    _, findings = read(overlay({LOCAL: f"{VEIN}, close_to: [ilioinguinal nerve]}}\n"}))
    assert [(one.name, str(one.at)) for one in findings] == [
        ("neighbour-not-seen", "content/procedures/example/steps/cut-skin.md:9:10"),
    ]
    assert "ilioinguinal nerve has not been identified" in findings[0].message


def test_what_is_close_to_another_is_so_both_ways(overlay: Overlay) -> None:
    library, _ = read(overlay({LOCAL: f"{VEIN}, see_first: true, close_to: [skin]}}\n"}))
    skin, vein = library.structures.find("skin"), library.structures.find("superficial epigastric vein")
    assert skin is not None
    assert vein is not None
    assert Anatomy(library).see_first(skin) == (vein,)
    assert Anatomy(library).see_first(vein) == ()


def test_two_own_entries_with_one_id_are_found(overlay: Overlay) -> None:
    _, findings = read(overlay({LOCAL: f"{VEIN}}}\n{VEIN}}}\n"}))
    assert [(one.name, str(one.at)) for one in findings] == [("id-used-twice", f"{LOCAL}:2:8")]


def test_items_too(overlay: Overlay) -> None:
    library, findings = read(
        overlay({"content/catalogue/items-local.yml": "- {id: small-swab, name: small swab, kind: swab}\n"})
    )
    assert findings == []
    swab = library.items.find("small swab")
    assert swab is not None
    assert not swab.counted

"""Whatever is edited in whatever file: it reads as wanted, and every other line is byte for byte what it was.

What "reads as wanted" and "other lines" mean is worked out here without the code under test: with PyYAML's own slow
loader that keeps every value as text, and by cutting the file into the lines of its top-level keys.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
import yaml
from edit.written import ANY_TEXT, NAMES, Written, files
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.edit.file_change import CannotEdit, Drop, Edit, ListEntry, ProseEdit, Put
from builder.edit.operations import edited, put_in

# FORMAT.md, the table of a step
_ORDER = (
    *("title", "critical", "basis", "whose", "supervision", "minutes", "actions", "cue", "if_not", "why", "at_risk"),
    *("error", "recovery", "call", "cautions", "figure", "dose", "needs", "gives", "evidence", "common_practice"),
)


def parsed(text: str) -> dict[str, Any]:
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    close = next(number for number, line in enumerate(lines) if number and line.rstrip() == "---")
    return yaml.load("\n".join(lines[1:close]) + "\n", Loader=yaml.BaseLoader) or {}


def raw_lines(text: str) -> list[str]:
    return re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$", text)


def same_outside(after: str, before: str, key: str) -> bool:
    """All lines but those of ``key`` are equal; a text written with `+` counts the empty lines behind it."""
    outside = [without_block(after, key), without_block(before, key)]
    if ">+" in before:
        outside = [[line for line in lines if line.strip()] for lines in outside]
    # What is set in stays, but not set in where it would become a part of the text above.
    outside = [[line.lstrip(" ") for line in lines if line.strip() != "# at the end"] for lines in outside]
    return outside[0] == outside[1]


def without_block(text: str, key: str) -> list[str]:
    """The lines of ``text`` but for those of the top-level ``key``; remarks behind its last value are not its own."""
    kept: list[str] = []
    held: list[str] = []
    inside, fences = False, 0
    for line in raw_lines(text):
        bare = line.rstrip("\r\n").removeprefix("\ufeff")
        fences += bare.rstrip() == "---"
        if fences >= 2:
            inside = False
        elif re.match(rf"{key}:", bare):
            inside = True
        elif inside and not re.match(r"[ \t]|- |-$|$|#|\]", bare):
            inside = False
        if inside and re.match(r"#|  # set in|$", bare):
            held.append(line)
            continue
        if not inside:
            kept += [*held, line]
        held = []
    return kept


@settings(max_examples=150)
@given(files(), st.sampled_from(["title", "cue", "if_not", "why", "recovery", "call"]), ANY_TEXT)
def test_a_text(written: Written, key: str, words: str) -> None:
    after = edited(written.text, "step", [Put((key,), words)])
    assert parsed(after) == {**parsed(written.text), key: words}
    assert same_outside(after, written.text, key)


@settings(max_examples=120)
@given(files(), st.sampled_from(["at_risk", "cautions", "needs"]), st.lists(ANY_TEXT, max_size=4))
def test_a_list(written: Written, key: str, names: list[str]) -> None:
    after = edited(written.text, "step", [Put((key,), list(names))])
    assert parsed(after) == {**parsed(written.text), key: names}
    assert same_outside(after, written.text, key)


@settings(max_examples=120)
@given(files(), st.data())
def test_entries_put_in_and_taken_out(written: Written, data: st.DataObject) -> None:
    before = parsed(written.text)
    key = data.draw(st.sampled_from(["at_risk", "actions"]))
    held = before.get(key) or []
    number = data.draw(st.integers(0, len(held)))
    value: Any = data.draw(st.sampled_from(NAMES)) if key == "at_risk" else {"divide": "skin", "what": "a: b"}
    after = put_in(written.text, "step", (key,), value, number)
    assert parsed(after) == {**before, key: [*held[:number], value, *held[number:]]}
    assert same_outside(after, written.text, key)
    assert is_part_of(raw_lines(written.text), after, but=1 if held and "[" not in block(written.text, key) else 99)
    again = edited(after, "step", [Drop((key, number))])
    assert (parsed(again).get(key) or []) == held
    if held:
        assert again == written.text


def block(text: str, key: str) -> str:
    rest = without_block(text, key)
    return "".join(line for line in raw_lines(text) if line not in rest)


def is_part_of(lines: list[str], text: str, but: int) -> bool:
    """All ``lines`` stand in ``text`` in their order, but for as many as ``but``."""
    missing, others = 0, iter(raw_lines(text))
    kept = list(others)
    place = 0
    for line in lines:
        if line in kept[place:]:
            place = kept.index(line, place) + 1
        else:
            missing += 1
    return missing <= but


@settings(max_examples=120)
@given(files(), st.data())
def test_another_order(written: Written, data: st.DataObject) -> None:
    before = parsed(written.text)
    key = data.draw(st.sampled_from(["at_risk", "cautions", "actions"]))
    held = before.get(key) or []
    if not held:
        return
    order = data.draw(st.permutations(range(len(held))))
    keep = data.draw(st.integers(1, len(held)))
    rows = [ListEntry(held[number], (key, number)) for number in order]
    after = edited(written.text, "step", [Put((key,), rows[:keep])])
    assert parsed(after)[key] == [held[number] for number in order[:keep]]
    assert same_outside(after, written.text, key)
    if keep == len(held):
        assert sorted(raw_lines(after)) == sorted(raw_lines(written.text)) or "[" in block(written.text, key)
        back = [ListEntry(one, (key, order.index(number))) for number, one in enumerate(held)]
        assert edited(after, "step", [Put((key,), back)]) == written.text


@settings(max_examples=120)
@given(files(), st.data())
def test_actions_as_a_form_sends_them(written: Written, data: st.DataObject) -> None:
    before = parsed(written.text)
    held = before.get("actions") or []
    order = data.draw(st.permutations(range(len(held))))
    rows: list[Any] = []
    for number in order:
        value = dict(held[number])
        change = data.draw(st.sampled_from(["none", "verb", "number", "in"]))
        if change == "verb":
            verb = next(iter(value))
            value = {"protect": value.pop(verb), **value}
        elif change == "number":
            value["number"] = "3"
        elif change == "in":
            value["in"] = data.draw(ANY_TEXT)
        rows.append(ListEntry(value, ("actions", number)))
    if data.draw(st.booleans()):
        rows.insert(data.draw(st.integers(0, len(rows))), ListEntry({"count": ["swabs", "needles"]}))
    after = edited(written.text, "step", [Put(("actions",), rows)])
    assert parsed(after) == {**before, "actions": [row.value for row in rows]}
    assert same_outside(after, written.text, "actions")


@settings(max_examples=120)
@given(files(), st.data())
def test_a_key_taken_out_and_a_new_one_at_its_place(written: Written, data: st.DataObject) -> None:
    before = parsed(written.text)
    key = data.draw(st.sampled_from(list(written.keys)))
    try:
        after = edited(written.text, "step", [Drop((key,))])
    except CannotEdit:  # the empty lines behind it would become a part of the text above, if that keeps such
        assert ">+" in written.text
        return
    assert parsed(after) == {name: value for name, value in before.items() if name != key}
    assert same_outside(after, written.text, key)
    new = data.draw(st.sampled_from([name for name in _ORDER if name not in before]))
    more = edited(written.text, "step", [Put((new,), "words")])
    keys = list(parsed(more))
    ahead = [name for name in keys if _ORDER.index(name) < _ORDER.index(new)]
    assert keys[: keys.index(new)][-1:] == ahead[-1:]
    assert [line for line in raw_lines(more) if line not in raw_lines(written.text)] == [
        f"{new}: words" + re.search(r"\r\n|\r|\n", written.text)[0]  # type: ignore[index]
    ]


@settings(max_examples=100)
@given(files(), ANY_TEXT)
def test_the_prose(written: Written, words: str) -> None:
    after = edited(written.text, "step", [ProseEdit(words)])
    assert parsed(after) == parsed(written.text)
    ending = re.search(r"\r\n|\r|\n", written.text)[0]  # type: ignore[index]
    assert after.endswith(words.replace("\n", ending))
    head = written.text.index(f"{ending}---") + len(ending) + 3
    assert after[:head] == written.text[:head]


@settings(max_examples=100)
@given(files(), st.data())
def test_edits_one_after_the_other_and_back(written: Written, data: st.DataObject) -> None:
    before = parsed(written.text)
    there = [key for key in written.keys if isinstance(before[key], str) and before[key]]
    edits: list[Edit] = [Put((key,), "changed: it") for key in there]
    after = edited(written.text, "step", edits)
    assert parsed(after) == {**before, **dict.fromkeys(there, "changed: it")}
    assert parsed(edited(after, "step", [Put((key,), before[key]) for key in there])) == before


def test_nothing_to_do_changes_nothing() -> None:
    text = "---\ntitle:   'Cut'   # so\nactions: [ {open: skin } ]\n---\nProse"
    assert edited(text, "step", [Put(("title",), "Cut"), Put(("actions",), [{"open": "skin"}])]) == text


@pytest.mark.parametrize(
    ("front", "said", "line"),
    [
        ("cue: &same Seen.\nerror: *same\n", "`&same`", 2),
        ("title: a\ntitle: b\n", "'title' is written twice", 3),
        ("title: [a\n", "cannot be read", 0),
    ],
)
def test_what_cannot_be_edited_is_refused_in_plain_words(front: str, said: str, line: int) -> None:
    with pytest.raises(CannotEdit) as caught:
        edited(f"---\n{front}---\n", "step", [Put(("title",), "Cut")])
    assert said in caught.value.reason
    assert caught.value.hint.endswith(".")
    assert line in (0, caught.value.line)


def test_a_file_without_fences_is_refused() -> None:
    with pytest.raises(CannotEdit, match="no `---` line"):
        edited("title: a\n", "step", [Put(("title",), "Cut")])


@pytest.mark.parametrize("words", ["a\0b", "bell\x07", "half \ud800"])
def test_signs_that_no_file_can_hold_are_refused(words: str) -> None:
    with pytest.raises(CannotEdit, match="cannot be kept"):
        edited("---\ntitle: a\n---\n", "step", [Put(("title",), words)])


def test_text_of_several_lines_may_look_like_remarks() -> None:
    after = edited("---\ntitle: a\n---\n", "step", [Put(("why",), "One.\n# no remark\n\n- no list")])
    assert after == "---\ntitle: a\nwhy: |-\n  One.\n  # no remark\n\n  - no list\n---\n"

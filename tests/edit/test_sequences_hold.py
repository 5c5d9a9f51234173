"""Steps that go anywhere in a sequence, in and out of branches: it reads as wanted, and no remark is lost."""

from __future__ import annotations

import re
from typing import Any

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.edit.file_change import ListEntry, Ordered, Put, settled
from builder.edit.operations import edited


@st.composite
def sequences(draw: st.DrawFn, depth: int = 2) -> list[Any]:
    """A sequence as plain values; every step has a name of its own once it is written."""
    found: list[Any] = []
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["step", "step", "choose", "option"] if depth else ["step"]))
        if kind == "step":
            found.append("step")
        elif kind == "option":
            found.append({"option": {"id": "o", "steps": draw(sequences(depth - 1))}})
        else:
            ways = {"one": draw(sequences(depth - 1)), "two": draw(st.one_of(st.just([]), sequences(depth - 1)))}
            found.append({"choose": {"id": "c", "between": ways}})
    return found


class Writer:
    """Writes a sequence with a remark above and behind many an entry, each of them different."""

    def __init__(self, chance: Any) -> None:
        self.chance = chance
        self.number = 0

    def lines(self, sequence: list[Any], indent: int) -> list[str]:
        found = []
        for place, entry in enumerate(sequence):
            self.number += 1
            own = self.number
            if self.chance():
                found.append(f"{' ' * indent}# above {own}")
            if entry == "step":
                sequence[place] = f"step-{own}"
                found.append(f"{' ' * indent}- step-{own}" + (f"   # behind {own}" if self.chance() else ""))
                continue
            kind, inner = next(iter(entry.items()))
            found += [f"{' ' * indent}- {kind}:", f"{' ' * indent}    id: {inner['id']}"]
            if kind == "option":
                found += [f"{' ' * indent}    steps:", *self.lines(inner["steps"], indent + 6)]
                continue
            found.append(f"{' ' * indent}    between:")
            for name, way in inner["between"].items():
                if (way and not all(one == "step" for one in way)) or (self.chance() and way):
                    found += [f"{' ' * indent}      {name}:", *self.lines(way, indent + 8)]
                else:
                    way[:] = [f"step-{own}-{name}-{number}" for number in range(len(way))]
                    found.append(f"{' ' * indent}      {name}: [{', '.join(way)}]")
        return found


def rows(value: Any, path: tuple[Any, ...]) -> Any:
    """The wanted values of what stands there, every entry with its origin."""
    if isinstance(value, list):
        return [ListEntry(rows(one, (*path, number)), (*path, number)) for number, one in enumerate(value)]
    if isinstance(value, dict):
        found = {key: rows(inner, (*path, key)) for key, inner in value.items()}
        return Ordered(found) if path[-1:] == ("between",) else found
    return value


def lists(value: Any) -> list[list[Any]]:
    """Every list of a wanted sequence, from the outside."""
    found = [value] if isinstance(value, list) else []
    for inner in value if isinstance(value, list) else value.values() if isinstance(value, dict) else ():
        found += lists(inner.value if isinstance(inner, ListEntry) else inner)
    return found


@settings(max_examples=300)
@given(sequences(), st.data())
def test_steps_go_anywhere(sequence: list[Any], data: st.DataObject) -> None:
    written = Writer(lambda: data.draw(st.booleans())).lines(sequence, 2)
    text = "\n".join(["---", "title: t", "sequence:", *written, "kit: {}", "---", ""])
    wanted = rows(sequence, ("sequence",))
    for _ in range(data.draw(st.integers(1, 3))):
        steps = [(one, row) for one in lists(wanted) for row in one if isinstance(row.value, str)]
        if not steps:
            break
        home, row = data.draw(st.sampled_from(steps))
        del home[next(number for number, one in enumerate(home) if one is row)]
        target = data.draw(st.sampled_from(lists(wanted)))
        target.insert(data.draw(st.integers(0, len(target))), row)
    after = edited(text, "procedure", [Put(("sequence",), wanted)])
    assert yaml.load(after.split("---")[1], Loader=yaml.BaseLoader)["sequence"] == settled(wanted)
    if "[" not in after and "[" not in text:  # in brackets a step has no line of its own to carry a remark
        remarks = sorted(re.findall(r"# \w+ \d+", text))
        assert sorted(re.findall(r"# \w+ \d+", after)) == remarks
        assert sorted(line.strip() for line in after.splitlines()) == sorted(line.strip() for line in text.splitlines())

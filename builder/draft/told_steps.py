"""The steps of a draft in another order: joined, put elsewhere, done only sometimes, one or the other."""

from collections.abc import Iterator

from builder.draft.told_desk import HEAD, Desk
from builder.draft.told_file import STEP_ROLES, TITLE
from builder.edit.file_change import CannotEdit, Drop, Path, Put, Value, at
from builder.edit.forms.form_files import FormEdit, place_in_sequence
from builder.edit.ids import id_for


def joined(desk: Desk, page: str) -> FormEdit:
    """Join the step ``page`` to the one before it: nothing that either says is lost."""
    before = step_before(desk, page)
    if not before:
        raise CannotEdit("this is the first step", "Join the next step to it.")
    into, gone = desk.data(before), desk.data(page)
    for key, value in gone.items():
        held = into.get(key)
        if key in (TITLE, "proposed", "heard_at"):
            continue
        if isinstance(held, list) and isinstance(value, list):
            desk.put(before, key, [*held, *(one for one in value if one not in held)])
        elif held in (None, "", "false"):
            desk.put(before, key, value)
        elif key in STEP_ROLES and isinstance(held, str) and isinstance(value, str):
            desk.put(before, key, f"{held} {value}")
    desk.set_prose(before, f"{desk.prose(before).strip()}\n\n{desk.prose(page).strip()}")
    for caution in sorted(desk.taken("cautions")):
        guards = desk.data(f"cautions/{caution}.md").get("guards")
        if isinstance(guards, list) and page_id(page) in guards and page_id(before) not in guards:
            desk.put(f"cautions/{caution}.md", "guards", [*guards, page_id(before)])
    desk.told = desk.told.changed(desk.told.on(page), page=before)
    lift_out(desk, page)
    desk.remove(page)
    return desk.done("Two steps joined", [before])


def ordered(desk: Desk, page: str, other: str, *, behind: bool) -> FormEdit:
    """Put the step ``page`` before, or ``behind``, the step ``other``."""
    desk.text(page)  # refuses a step that is not there
    put_beside(desk, page, other, behind=behind)
    return desk.done("Steps put in another order", [page])


def only_sometimes(desk: Desk, page: str, when: str) -> FormEdit:
    """Make a step an option: it is done only when ``when``."""
    path, number = _place(desk, page_id(page))
    title = str(desk.data(page).get(TITLE) or page_id(page))
    told: dict[str, Value] = {"id": f"{page_id(page)}-option", "title": title, **_when(when), "steps": [page_id(page)]}
    _replace_entries(desk, path, number, 1, [{"option": told}])
    return desk.done(f"{title}: only sometimes", [page])


def one_or_other(desk: Desk, page: str, when: str) -> FormEdit:
    """Make a choice of a step and the one before it: either the one is done, or the other."""
    before = step_before(desk, page)
    if not before:
        raise CannotEdit("this is the first step", "Make the next step the other way.")
    return chosen_instead(desk, page, before, when)


def chosen_instead(desk: Desk, page: str, other: str, when: str) -> FormEdit:
    """Make the step ``page`` a way of its own beside the step ``other``: either the one is done, or the other.

    Where ``other`` is all of a way already, ``page`` becomes one more way of that choice.
    """
    if page == other:
        raise CannotEdit("a step cannot be done instead of itself", "Choose another step.")
    lift_out(desk, page)
    first, second = page_id(other), page_id(page)
    path, number = _place(desk, first)
    if path[-2:-1] == ("between",) and len(_list_at(desk, path)) == 1:
        desk.edit(HEAD, Put((*path[:-1], second), [second]))
    else:
        title = f"{desk.data(other).get(TITLE)}, or {str(desk.data(page).get(TITLE) or '').lower()}"
        told: dict[str, Value] = {"id": id_for(f"{first} or {second}", ()), "title": title, **_when(when)}
        told["between"] = {first: [first], second: [second]}
        _replace_entries(desk, path, number, 1, [{"choose": told}])
    return desk.done("Two steps made a choice", [page])


def always_done(desk: Desk, page: str) -> FormEdit:
    """Have a step that was done only sometimes, or on one way of a choice, stand in the order for itself again."""
    path, _ = _place(desk, page_id(page))
    if path[-1:] == ("sequence",):
        raise CannotEdit("this step is done on every way already", "Nothing needs to be done.")
    outer = path[:-2] if path[-1] == "steps" else path[:-3]
    lift_out(desk, page)
    desk.add(HEAD, outer[:-1], page_id(page), int(outer[-1]))
    return desk.done("A step done on every way", [page])


def way_filled(desk: Desk, way: str, page: str) -> FormEdit:
    """Put the step ``page`` on a ``way`` (``choice:way``) on which nothing is done yet."""
    desk.text(page)  # refuses a step that is not there
    lift_out(desk, page)
    desk.edit(HEAD, Put(_way_at(desk, way), [page_id(page)]))
    return desk.done("A way filled", [page])


def way_taken_out(desk: Desk, way: str) -> FormEdit:
    """Take a ``way`` (``choice:way``) on which nothing is done out of its choice; the other one is always done then."""
    path = _way_at(desk, way)
    choice = way.partition(":")[0]
    if any(entry.get("choice") == choice for _, entry in mappings(desk.data(HEAD).get("sequence"), ("sequence",))):
        raise CannotEdit("a later step follows this choice", "Move that step first.")
    if _list_at(desk, path):
        raise CannotEdit("something is done on this way", "Move its steps first.")
    _drop_way(desk, path)
    return desk.done("A way taken out")


def _way_at(desk: Desk, way: str) -> Path:
    choice, _, name = way.partition(":")
    for path, entry in mappings(desk.data(HEAD).get("sequence"), ("sequence",)):
        ways = entry.get("between")
        if entry.get("id") == choice and isinstance(ways, dict) and name in ways:
            return (*path, "between", name)
    raise CannotEdit("this choice would have no other way left", "Choose another step.")


def mappings(value: Value, path: Path) -> Iterator[tuple[Path, dict[str, Value]]]:
    """Yield every mapping in a sequence, with its place."""
    if isinstance(value, dict):
        yield path, value
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for part, held in inner:
        yield from mappings(held, (*path, part))


def lift_out(desk: Desk, page: str) -> None:
    """Take a step out of the order, if it has a place there; a way that is empty by that goes, and a choice with one
    way left is none."""
    place = place_in_sequence(desk.data(HEAD).get("sequence"), page_id(page))
    if place is None:
        return
    path, number = place
    desk.edit(HEAD, Drop((*path, number)))
    if path[-1:] == ("sequence",) or _list_at(desk, path):
        return
    if path[-1] == "steps":
        desk.edit(HEAD, Drop(path[:-2]))
        return
    _drop_way(desk, path)


def _drop_way(desk: Desk, path: Path) -> None:
    desk.edit(HEAD, Drop(path))
    ways = at(desk.data(HEAD), path[:-1])
    if path[-2] == "between" and isinstance(ways, dict) and len(ways) == 1:
        (rest,) = ways.values()
        _replace_entries(desk, path[:-4], int(path[-4]), 1, rest if isinstance(rest, list) else [rest])


def put_beside(desk: Desk, page: str, other: str, *, behind: bool) -> None:
    """Put the step ``page`` before or behind ``other``, in the same way; a new one comes in, another one moves."""
    if place_in_sequence(desk.data(HEAD).get("sequence"), page_id(page)):
        path, number = _place(desk, page_id(page))
        if path[-2:] == ("option", "steps") and len(_list_at(desk, path)) == 1:
            path, number = path[:-3], int(path[-3])  # what is done only sometimes moves as a whole
        entry = _list_at(desk, path)[number]
        if page_id(other) in sequence_ids([entry]):
            return
        desk.edit(HEAD, Drop((*path, number)))
    else:
        entry = page_id(page)
    path, number = _place(desk, page_id(other))
    desk.add(HEAD, path, entry, number + behind)


def _when(when: str) -> dict[str, Value]:
    return {"when": when.strip()} if when.strip() else {}


def _list_at(desk: Desk, path: Path) -> list[Value]:
    held = at(desk.data(HEAD), path)
    return held if isinstance(held, list) else [held]


def step_before(desk: Desk, page: str) -> str:
    """Return the page of the step before ``page`` in the order of the operation; "" for the first."""
    return _neighbour(desk, page, -1)


def step_beside(desk: Desk, page: str, *, behind: bool) -> str:
    """Return the page of the step next to ``page``. Raises CannotEdit where there is none on that side."""
    if other := _neighbour(desk, page, 1 if behind else -1):
        return other
    raise CannotEdit("there is no step on that side", "Move another step.")


def _neighbour(desk: Desk, page: str, by: int) -> str:
    order = list(sequence_ids(desk.data(HEAD).get("sequence")))
    number = order.index(page_id(page)) + by if page_id(page) in order else -1
    return f"steps/{order[number]}.md" if 0 <= number < len(order) else ""


def sequence_ids(sequence: Value) -> Iterator[str]:
    """Yield the ids of the steps in a sequence, in order."""
    for entry in sequence if isinstance(sequence, list) else [sequence]:
        if isinstance(entry, str):
            yield entry
        for told in entry.values() if isinstance(entry, dict) else ():
            if isinstance(told, dict):
                ways = [way for key in ("between", "with") for way in _values(told.get(key))]
                for way in (told.get("steps"), *ways):
                    yield from sequence_ids(way)


def _values(value: Value) -> list[Value]:
    return list(value.values()) if isinstance(value, dict) else []


def _place(desk: Desk, id: str) -> tuple[Path, int]:
    place = place_in_sequence(desk.data(HEAD).get("sequence"), id)
    if place is None:
        raise CannotEdit("this step stands nowhere in the order", "Put it into the order of the steps first.")
    return place


def _replace_entries(desk: Desk, path: Path, number: int, many: int, entries: list[Value]) -> None:
    for entry in reversed(entries):
        desk.add(HEAD, path, entry, number)
    for _ in range(many):
        desk.edit(HEAD, Drop((*path, number + len(entries))))


def page_id(page: str) -> str:
    """Return the id of a page: ``cut-skin`` of ``steps/cut-skin.md``."""
    return page.rpartition("/")[2].removesuffix(".md")

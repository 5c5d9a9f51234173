"""What names a step, caution, aftercare item, choice or procedure names one that exists, and nothing lies unused."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from builder.check.hit import Hit, finds, finds_over_all
from builder.facts.walk import Home, has_unknown_step, links, procedures_with_broken
from builder.findings.finding import SecondPlace, Severity
from builder.findings.message_words import NearSpelling, mend, near, quoted
from builder.model.library import Library
from builder.model.pages import Procedure, is_shared
from builder.model.sequence import AS_TOLD, Choose, Follow, Option, StepEntry, branches
from builder.place import Place, Text


@finds("step-unknown", piecewise=True)
def unknown_steps(library: Library) -> Iterator[Hit]:
    """Yield each step that is named and does not exist: in a sequence, in ``guards``, in a link."""
    for procedure in library.procedures:
        for entry in procedure.entries:
            if isinstance(entry, StepEntry):
                yield from _step(library, procedure, entry.step)
        for caution in procedure.parts.cautions.values():
            if not is_shared(caution):
                for guarded in caution.guards:
                    yield from _step(library, procedure, guarded)
    for home, _, target in links(library, "step"):
        yield from _step(library, home, target)


def _step(library: Library, home: Home, name: Text) -> Iterator[Hit]:
    if home is None:
        message = f"{quoted(name)} is a step, but this page belongs to no procedure"
        yield Hit(name.at, message, "Remove the link, or move the page into the folder of the procedure.")
    elif name not in home.steps and not library.is_broken("step", name, home.id):
        hint = mend(name, home.steps, f"Add the file steps/{name}.md, or name a step that exists.")
        yield Hit(name.at, f"{quoted(name)} is not a step of this procedure", hint)


@finds_over_all("step-unknown")
def shared_guards(library: Library) -> Iterator[Hit]:
    """Yield each guarded step that no user of a shared caution has: that only some of them have it is right."""
    users = _users(library)
    for id, caution in library.shared_cautions.items():
        for guarded in caution.guards:
            using = users.get(id, ())
            if using and not any(guarded in one.steps or library.is_broken("step", guarded, one.id) for one in using):
                known = [step for one in using for step in one.steps]
                hint = mend(guarded, known, "Name a step of a procedure that uses this caution.")
                yield Hit(guarded.at, f"{quoted(guarded)} is not a step of any procedure that uses this caution", hint)


def _users(library: Library) -> Mapping[str, list[Procedure]]:
    """Return the procedures that use each shared caution."""
    found: dict[str, list[Procedure]] = defaultdict(list)
    for procedure in library.procedures:
        for id in dict.fromkeys(caution for step in procedure.steps.values() for caution in step.cautions):
            if id in library.shared_cautions and is_shared(procedure.parts.cautions[id]):
                found[id].append(procedure)
    return found


@finds("caution-unknown")
def unknown_cautions(library: Library) -> Iterator[Hit]:
    """Yield each caution that is named by a step or a link and does not exist."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            for name in step.cautions:
                yield from _part(library, procedure, "caution", name)
    for home, _, target in links(library, "caution"):
        yield from _part(library, home, "caution", target)


@finds("aftercare-unknown")
def unknown_aftercare(library: Library) -> Iterator[Hit]:
    """Yield each aftercare item that is named by a procedure, another item or a link and does not exist."""
    for procedure in library.procedures:
        for name in procedure.aftercare:
            yield from _part(library, procedure, "aftercare", name)
        for item in procedure.parts.aftercare.values():
            if not is_shared(item):
                for name in item.goes_with:
                    yield from _part(library, procedure, "aftercare", name)
    for item in library.shared_aftercare.values():
        for name in item.goes_with:
            yield from _part(library, None, "aftercare", name)
    for home, _, target in links(library, "aftercare"):
        yield from _part(library, home, "aftercare", target)


_FOLDERS = {"caution": "cautions", "aftercare": "aftercare"}
_CALLED = {"caution": "a caution", "aftercare": "an aftercare item"}


def _part(library: Library, home: Home, kind: str, name: Text) -> Iterator[Hit]:
    shared = library.shared_cautions if kind == "caution" else library.shared_aftercare
    own = shared if home is None else home.parts.cautions if kind == "caution" else home.parts.aftercare
    if name in own or library.is_broken(kind, name, home.id if home else ""):
        return
    folder = f"content/shared/{_FOLDERS[kind]}" if home is None else _FOLDERS[kind]
    where = "in content/shared" if home is None else "of this procedure"
    hint = mend(name, own, f"Add the file {folder}/{name}.md, or name one that exists.")
    yield Hit(name.at, f"{quoted(name)} is not {_CALLED[kind]} {where}", hint)


@finds("procedure-unknown")
def unknown_procedures(library: Library) -> Iterator[Hit]:
    """Yield each link to a procedure that does not exist."""
    known = {str(procedure.id) for procedure in library.procedures}
    speller = NearSpelling(known)
    for _, _, target in links(library, "procedure"):
        if target not in known and not library.is_broken("procedure", "procedure", target):
            hint = speller.mend(target, "Name the folder of a procedure in content/procedures.")
            yield Hit(target.at, f"{quoted(target)} is not a procedure of this department", hint)
    for procedure in library.procedures:
        for step in procedure.steps.values():
            goes_on = step.converts_to
            if (
                goes_on is not None
                and goes_on not in known
                and not library.is_broken("procedure", "procedure", goes_on)
            ):
                hint = speller.mend(goes_on, "Name the folder of a procedure in content/procedures.")
                yield Hit(goes_on.at, f"{quoted(goes_on)} is not a procedure of this department", hint)


@finds("choice-unknown", piecewise=True)
def unknown_choices(library: Library) -> Iterator[Hit]:
    """Yield each choice or option that a ``follow`` or an aftercare names and that does not exist."""
    for procedure, name, _, choice in _choices_named(library):
        if choice is None:
            known = [str(entry.id) for entry in procedure.entries if isinstance(entry, Choose | Option)]
            hint = mend(name, known, "Name the id of an earlier `choose` or `option`.")
            yield Hit(name.at, f"{quoted(name)} is not a choice or option of this procedure", hint)


@finds("branch-unknown", piecewise=True)
def unknown_branches(library: Library) -> Iterator[Hit]:
    """Yield each branch that a ``follow`` or an aftercare names and that its choice does not have."""
    for _, _, named, choice in _choices_named(library):
        if choice is not None:
            known = [str(name) for name, _ in branches(choice)]
            for name in named:
                if name not in known:
                    found = near(name, known)
                    hint = f"Write `{found}`." if found else f"Write one of: {', '.join(known)}."
                    yield Hit(
                        name.at,
                        f"{quoted(name)} is not a branch of {quoted(choice.id)}",
                        hint,
                        (SecondPlace(choice.id.at, "the choice is made here"),),
                    )


def _choices_named(library: Library) -> Iterator[tuple[Procedure, Text, Iterable[Text], Choose | Option | None]]:
    """Yield where a ``follow`` or an aftercare names a choice: its name, the branches named, and the choice itself."""
    for procedure in library.procedures:
        entries = procedure.entries
        choices = {str(entry.id): entry for entry in entries if isinstance(entry, Choose | Option)}
        for entry in entries:
            if isinstance(entry, Follow):
                yield procedure, entry.choice, entry.branches, choices.get(entry.choice)
        for item in procedure.aftercare_items.values():
            if (bound := item.only_if) is not None:
                yield procedure, bound.choice, bound.branch, choices.get(bound.choice)


@finds("choice-id-used-twice", piecewise=True)
def choice_ids_twice(library: Library) -> Iterator[Hit]:
    """Yield each id of a choice or option that an earlier one of the procedure has."""
    for procedure in library.procedures:
        first: dict[str, Text] = {}
        for entry in procedure.entries:
            if isinstance(entry, Choose | Option):
                other = first.setdefault(str(entry.id), entry.id)
                if other is not entry.id:
                    yield Hit(
                        entry.id.at,
                        f"{quoted(entry.id)} is already the id of the choice in line {other.at.line}",
                        "Give one of the two another id.",
                        (SecondPlace(other.at, "first used here"),),
                    )


@finds("step-not-used", piecewise=True)
def unused_steps(library: Library) -> Iterator[Hit]:
    """Yield each step file that its procedure's sequence never reaches.

    A sequence with a name that is not a step is left alone: the unused step is most likely the one that was meant.
    """
    for procedure in library.procedures:
        used = {str(entry.step) for entry in procedure.entries if isinstance(entry, StepEntry)}
        if has_unknown_step(library, procedure):
            continue
        for id, step in procedure.steps.items():
            if id not in used:
                hint = "Add it to `sequence:` in procedure.md where it belongs, or remove the file."
                if step.file in library.lent:
                    hint = f"Add `switch_off: step {id}` to content/local/{procedure.id}.md, with its reason."
                critical = "critical " if step.critical else ""
                severity = Severity.ERROR if step.critical else None
                message = f"{quoted(id)} is a {critical}step that the sequence never uses"
                yield Hit(step.id.at, message, hint, severity=severity)


@finds("way-without-step", piecewise=True)
def ways_without_step(library: Library) -> Iterator[Hit]:
    """Yield each choice with a way on which nothing is done, as a draft wrote it and nobody named it since."""
    for procedure in library.procedures:
        for entry in procedure.entries:
            if isinstance(entry, Choose) and any(name == AS_TOLD and not way for name, way in entry.between.items()):
                title = quoted(entry.title or entry.id)
                hint = (
                    "Put a step on that way, or take the way out, under “Order”. If it is right that nothing is done, "
                    f"give the way `{AS_TOLD}` a name that says so."
                )
                yield Hit(entry.id.at, f"{title} is a choice with a way on which nothing is done", hint)


@finds("caution-not-used")
def unused_cautions(library: Library) -> Iterator[Hit]:
    """Yield each caution that no step shows: it guards nothing and is named by no step."""
    doubtful = procedures_with_broken(library, ("step", "procedure"))
    for procedure in library.procedures:
        if procedure.id in doubtful:
            continue
        named = {caution for step in procedure.steps.values() for caution in step.cautions}
        for id, caution in procedure.parts.cautions.items():
            if not is_shared(caution) and not caution.guards and id not in named:
                hint = "Add `guards:` with the step it belongs to, or name it in `cautions:` of that step."
                yield Hit(caution.id.at, f"{quoted(id)} guards no step, and no step names it", hint)
    if not doubtful:
        users = _users(library)
        for id, caution in library.shared_cautions.items():
            if id not in users:
                hint = f"Name it in `cautions:` of a step, or remove {caution.file}."
                yield Hit(
                    caution.id.at, f"{quoted(id)} is a shared caution that no step names", hint, severity=Severity.NOTE
                )


@finds("aftercare-not-used")
def unused_aftercare(library: Library) -> Iterator[Hit]:
    """Yield each shared aftercare item that no procedure and no other item names."""
    if procedures_with_broken(library, ("procedure",)):
        return
    named = {name for procedure in library.procedures for name in procedure.aftercare}
    for procedure in library.procedures:
        named.update(name for item in procedure.parts.aftercare.values() for name in item.goes_with)
    for id, item in library.shared_aftercare.items():
        if id not in named:
            hint = f"Name it in `aftercare:` of a procedure, or remove {item.file}."
            yield Hit(item.id.at, f"{quoted(id)} is a shared aftercare item that no procedure names", hint)


@finds("aftercare-left-out", piecewise=True)
def aftercare_left_out(library: Library) -> Iterator[Hit]:
    """Yield each shared item that must go with an item of a procedure and that the procedure does not name."""
    for procedure in library.procedures:
        named = {str(name) for name in procedure.aftercare}
        for id, item in procedure.aftercare_items.items():
            for name in item.goes_with:
                other = procedure.parts.aftercare.get(name)
                if other is not None and is_shared(other) and name not in named:
                    yield Hit(
                        _named_at(procedure, id) if is_shared(item) else name.at,
                        f"{quoted(name)} must go with {quoted(id)}, but this procedure does not name it",
                        f"Add `{name}` to `aftercare:` in procedure.md.",
                        (SecondPlace(name.at, "said here"),) if is_shared(item) else (),
                    )


def _named_at(procedure: Procedure, id: str) -> Place:
    """Return where ``procedure`` names the shared aftercare item ``id``."""
    return next((name.at for name in procedure.aftercare if name == id), procedure.at)

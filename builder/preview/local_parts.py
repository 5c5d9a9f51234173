"""A whole part left out, written anew or added over the parent, in the browser."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from builder.compose.view.local_view import names_of
from builder.compose.view.outline import Block, Branch, ChoiceBlock, StepBlock, every_block, outline
from builder.compose.view.words import as_words
from builder.edit.file_change import Value
from builder.edit.ids import id_for
from builder.edit.operations import new_text
from builder.model.fields import NOT_SAID, Page
from builder.model.library import Library
from builder.model.pages import Procedure, is_shared
from builder.model.sequence import LEFT_OUT, StepEntry

DEEDS = (
    ("switch_off", "Leave it out"), ("replace", "Write it anew"), ("add_step", "Add a step after it"),
    ("add_caution", "Add a caution that guards it"),
)  # fmt: skip
"""What can be done to a part, and in which words."""


@dataclass(frozen=True, slots=True)
class ParentPart:
    """A part of the parent: ``name`` as an entry has it, what it is in words, and its file. A way or an option has no
    file, but ``steps`` that nothing else leads to."""

    name: str
    words: str
    file: str = ""
    steps: tuple[str, ...] = ()


class CannotChangePart(Exception):
    """It cannot be done to that part; says why and what to do."""


def pages_of(procedure: Procedure) -> dict[tuple[str, str, str], Page]:
    """Return the pages of a procedure by kind, id and title, in the order in which they are read."""
    steps = dict.fromkeys(str(entry.step) for entry in procedure.entries if isinstance(entry, StepEntry))
    inside = [procedure.steps[id] for id in steps if id in procedure.steps]
    pages: dict[tuple[str, str, str], Page] = {("step", str(one.id), str(one.title)): one for one in inside}
    pages |= {("caution", id, str(one.hazard)): one for id, one in procedure.cautions.items()}
    return pages | {("aftercare", id, str(one.title)): one for id, one in procedure.parts.aftercare.items()}


def part_words(procedure: Procedure, kind: str, id: str, title: str) -> str:
    """Return what a page is called: “Step 4: Open the canal”."""
    return f"{names_of(procedure).get(id, 'Step')}: {title}" if kind == "step" else f"{kind.capitalize()}: {title}"


def parts_of_parent(library: Library, procedure: Procedure) -> Iterator[ParentPart]:
    """Yield what of the parent is not changed as a whole yet."""
    whole = {change.target for change in library.local_of(procedure) if not change.key}
    for part in _every_part(library, procedure):
        if part.name not in whole:
            yield part


def _every_part(library: Library, procedure: Procedure) -> Iterator[ParentPart]:
    for (kind, id, title), page in pages_of(procedure).items():
        if page.file in library.lent and not is_shared(page):
            yield ParentPart(f"{kind} {id}", part_words(procedure, kind, id, title), page.file)
    blocks = outline(procedure)
    forks = [block for block in every_block(blocks) if isinstance(block, ChoiceBlock)]
    every = Counter(_steps_in(blocks))
    for fork in forks:
        own = [branch for block in forks if block.id == fork.id for branch in block.branches]
        if fork.kind == "choose":
            for name in (branch.name for branch in fork.branches):
                only = _only_in((branch for branch in own if branch.name == name), every)
                yield ParentPart(f"branch {name} of {fork.id}", f"Way of “{fork.title}”: {as_words(name)}", steps=only)
        elif fork.kind == "option":
            only = _only_in((branch for branch in own if branch.name != LEFT_OUT), every)
            yield ParentPart(f"option {fork.id}", f"May be left out: {fork.title}", steps=only)


def _steps_in(blocks: Iterable[Block]) -> Iterator[str]:
    return (str(block.step.id) for block in every_block(blocks) if isinstance(block, StepBlock))


def _only_in(branches: Iterable[Branch], every: Mapping[str, int]) -> tuple[str, ...]:
    """Return the steps of ``branches`` that stand nowhere else; ``every`` counts where each stands."""
    inside = Counter(step for branch in branches for step in _steps_in(branch.blocks))
    return tuple(step for step, number in inside.items() if number == every[step])


def changed_part(
    library: Library, procedure: Procedure, part: ParentPart, deed: str, title: str
) -> tuple[list[dict[str, str]], Mapping[str, str]]:
    """Return the entries that do ``deed`` to ``part``, and the text of the new file by its name, if there is one; a new
    part is called ``title``. Raises CannotChangePart."""
    kind, _, id = part.name.partition(" ")
    folder = f"content/procedures/{procedure.id}"
    if deed == "switch_off":
        return [{"switch_off": name} for name in (part.name, *(f"step {step}" for step in part.steps))], {}
    if deed == "replace" and part.file:
        if any(change.target == part.name for change in library.local_of(procedure)):
            raise CannotChangePart("A text of it is changed already. Take the parent’s there first.")
        return [{"replace": part.name}], {part.file: library.texts[part.file]}
    if deed not in ("add_step", "add_caution") or kind != "step":
        raise CannotChangePart("That can be done to a step only. A way or an option can only be left out here.")
    if not title:
        raise CannotChangePart("Write what the new one is called.")
    if deed == "add_step":
        new = id_for(title, procedure.steps)
        return [{"add": f"step {new}", "after": id}], {f"{folder}/steps/{new}.md": new_text("step", {"title": title})}
    new = id_for(title, procedure.cautions)
    caution: dict[str, Value] = {
        "signal": "caution",
        "hazard": title,
        "consequence": NOT_SAID,
        "avoid": NOT_SAID,
        "guards": [id],
    }
    return [{"add": f"caution {new}"}], {f"{folder}/cautions/{new}.md": new_text("caution", caution)}

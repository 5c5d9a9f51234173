"""What a draft tells the educator: found, proposed, not placed, not understood, and what to do next."""

from __future__ import annotations

from collections.abc import Iterator

from builder.draft.proposal import Proposal, ProposedAction, ProposedStep
from builder.findings.message_words import counted
from builder.model.fields import NOT_SAID

_SHOWN = 8
_CONFIRM = "Proposed, for you to confirm: take out `proposed: true`, or `prescrub draft --confirm PATH`"


def report(proposal: Proposal, folder: str | None = None) -> str:
    """Return the report on a draft that was written; with ``folder``, the department's, which commands come next."""
    parts = [
        _found(proposal),
        _listed(_CONFIRM, list(_proposed(proposal))),
        _not_placed(proposal),
        _not_understood(proposal),
        _cautioned(proposal),
        _next(folder) if folder else "",
    ]
    return "\n".join(part for part in parts if part)


def _found(one: Proposal) -> str:
    actions = sum(len(step.actions) for step in one.steps)
    counts = [
        (len(one.steps), "step", ""), (actions, "action", ""), (len(one.cautions), "caution", ""),
        (len(one.aftercare), "aftercare item", ""), (len(one.kit), "item", " of kit"),
        (sum(len(step.pictures) for step in one.steps), "picture", ""),
    ]  # fmt: skip
    shown = ", ".join(f"{counted(number, word)}{more}" for number, word, more in counts if number)
    return f"Drafted content/procedures/{one.id}/ from {one.form.value}: {shown}.\n"


def _proposed(one: Proposal) -> Iterator[str]:
    for number, step in enumerate(one.steps, start=1):
        heard = f"  [{step.heard_at}]" if step.heard_at else ""
        yield f"{number:>4}. {step.title}{heard}"
        yield from (f"        {said}" for said in _step(step))
    for caution in one.cautions:
        said = caution.hazard if caution.avoid == NOT_SAID else caution.avoid
        yield f"  {caution.signal}: {said}"
    yield from (f"  aftercare: {item.title}" for item in one.aftercare)
    if one.kit:
        yield f"  kit: {', '.join(f'{number} {name}' if number > 1 else name for name, number in one.kit.items())}"


def _step(step: ProposedStep) -> Iterator[str]:
    if step.actions:
        yield "; ".join(action_words(action) for action in step.actions)
    for key in ("cue", "if_not", "why"):
        if value := getattr(step, key):
            yield f"{key}: {value}"


def action_words(action: ProposedAction) -> str:
    """Return an action on one line, such as ``place drain in pleural cavity, stays``."""
    more = "".join(f", {key}" if value is True else f", {key} {value}" for key, value in action.more)
    return f"{action.verb} {', '.join(action.objects)}{more}"


def _not_placed(one: Proposal) -> str:
    if not one.notes:
        return "Every sentence was placed.\n"
    lines = [f"  {note.at}: {note.text}" for note in one.notes[:_SHOWN]]
    if len(one.notes) > _SHOWN:
        lines.append(f"  and {len(one.notes) - _SHOWN} more")
    return _listed(f"Not placed, kept in content/procedures/{one.id}/notes.md ({len(one.notes)})", lines)


def _not_understood(one: Proposal) -> str:
    lines = []
    for strange in one.not_understood:
        near = f"   near: {', '.join(strange.near)}" if strange.near else ""
        lines.append(f"  {strange.words} ({strange.at}){near}")
    lines += [f"  {heard.words} ({heard.at})   taken for: {heard.name}" for heard in one.misheard]
    lines += [f"  {short.short} ({short.at})   {short.long or 'not spelt out'}" for short in one.abbreviations]
    hint = (
        "  Add to content/catalogue/ what is right; remove the draft and draft again to have it used." if lines else ""
    )
    return _listed("Not understood: in no catalogue, or not sure", [*lines, *([hint] if hint else [])])


def _cautioned(one: Proposal) -> str:
    lines = [f"  {person}: take it out" for person in one.persons]
    lines += [f"  left out: {left}" for left in one.left_out]
    return _listed("Please look", lines)


def _listed(title: str, lines: list[str]) -> str:
    return "\n".join([title, *lines, ""]) if lines else ""


def _next(folder: str) -> str:
    where = "" if folder == "." else f" {folder}"
    return (
        "Next\n"
        f"  prescrub check{where} --ask > questions.md    what the source left open, to fill in\n"
        f"  prescrub check{where}                         what does not hold together yet\n"
    )

"""What a draft tells the educator: what was found, proposed, not placed and not understood, and what to do next."""

from collections.abc import Iterator

from builder.draft.proposal import Proposal, ProposedAction, ProposedStep
from builder.findings.message_words import counted
from builder.load.told.draft_source import SourceForm
from builder.model.fields import NOT_SAID

_SHOWN = 8
_CONFIRM = "Proposed, for you to confirm: remove `proposed: true`, or run `prescrub draft confirm PATH`"


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


def _found(proposal: Proposal) -> str:
    actions = sum(len(step.actions) for step in proposal.steps)
    counts = [
        (len(proposal.steps), "step", ""), (actions, "action", ""), (len(proposal.cautions), "caution", ""),
        (len(proposal.aftercare), "aftercare item", ""), (len(proposal.kit), "item", " of kit"),
        (sum(len(step.pictures) for step in proposal.steps), "picture", ""),
    ]  # fmt: skip
    shown = ", ".join(f"{counted(number, word)}{more}" for number, word, more in counts if number)
    return f"Drafted content/procedures/{proposal.id}/ from {proposal.form.value}: {shown}.\n"


def _proposed(proposal: Proposal) -> Iterator[str]:
    for number, step in enumerate(proposal.steps, start=1):
        heard = f"  [{step.heard_at}]" if step.heard_at else ""
        yield f"{number:>4}. {step.title}{heard}"
        yield from (f"        {said}" for said in _step(step))
    for parting in proposal.partings:
        when = f", when: {parting.when}" if parting.when else ""
        yield f"  {parting.kind} after {parting.after}: {parting.steps[0].title}{when}"
    for caution in proposal.cautions:
        said = caution.hazard if caution.avoid == NOT_SAID else caution.avoid
        yield f"  {caution.signal}: {said}"
    yield from (f"  aftercare: {item.title}" for item in proposal.aftercare)
    if proposal.kit:
        yield f"  kit: {', '.join(f'{number} {name}' if number > 1 else name for name, number in proposal.kit.items())}"


def _step(step: ProposedStep) -> Iterator[str]:
    if step.actions:
        yield "; ".join(action_words(action) for action in step.actions)
    for words, value in (("go on when", step.cue), ("if not", step.if_not), ("why", step.why)):
        if value:
            yield f"{words}: {value}"


def action_words(action: ProposedAction) -> str:
    """Return an action on one line, such as ``place drain in pleural cavity, stays``."""
    more = "".join(f", {key}" if value is True else f", {key} {value}" for key, value in action.more)
    return f"{action.verb} {', '.join(action.objects)}{more}"


def _not_placed(proposal: Proposal) -> str:
    if not proposal.notes:
        return "Every sentence was placed.\n"
    lines = [f"  {note.at}: {note.text}" for note in proposal.notes[:_SHOWN]]
    if len(proposal.notes) > _SHOWN:
        lines.append(f"  and {len(proposal.notes) - _SHOWN} more")
    return _listed(f"Not placed, kept in content/procedures/{proposal.id}/notes.md ({len(proposal.notes)})", lines)


def _not_understood(proposal: Proposal) -> str:
    lines = []
    for strange in proposal.not_understood:
        near = f"   nearest: {', '.join(strange.near)}" if strange.near else ""
        lines.append(f"  {strange.words} ({strange.at}){near}")
    lines += [f'  {heard.at}: heard "{heard.words}", meant "{heard.name}"?' for heard in proposal.misheard]
    lines += [f"  {short.short} ({short.at})   {short.long or 'not spelt out'}" for short in proposal.abbreviations]
    if lines:
        # Nobody types the answers again.
        again = "write the action that names it into its step"
        if proposal.form is not SourceForm.ANSWERS:
            again = "remove this draft and draft again"
        lines.append(f"  Add what is right to content/catalogue/, then {again}.")
    return _listed("Not understood: not in a catalogue, or uncertain", lines)


def _cautioned(proposal: Proposal) -> str:
    lines = [f"  {person}: remove it" for person in proposal.persons]
    lines += [f"  left out: {left}" for left in proposal.left_out]
    return _listed("Please check", lines)


def _listed(title: str, lines: list[str]) -> str:
    return "\n".join([title, *lines, ""]) if lines else ""


def _next(folder: str) -> str:
    where = "" if folder == "." else f" {folder}"
    return (
        "Next\n"
        f"  prescrub check{where} --ask > questions.md    what the source left out, as questions to answer\n"
        f"  prescrub check{where}                         what does not hold together yet\n"
    )

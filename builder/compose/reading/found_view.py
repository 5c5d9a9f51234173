"""What remains to be put right, in the words of the forms: by step, the gravest first, style last and folded."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from builder.compose.map.map_drawing import draw
from builder.compose.map.map_view import map_of
from builder.compose.reading.asked_view import picks_of
from builder.compose.view.outline import outline, step_blocks
from builder.compose.view.words import sentence
from builder.draft.heard_names import names_of
from builder.draft.told_file import Told
from builder.draft.told_words import guessed
from builder.edit.forms.field_words import KEY_NAMED, in_form
from builder.edit.forms.form_files import target_of
from builder.edit.interview_sheet import gravest_questions
from builder.facts.coverage import silence_of, steps_of
from builder.facts.gap_questions import ASKED
from builder.findings.finding import Finding, Severity
from builder.findings.message_words import counted
from builder.findings.register import ABBREVIATIONS_AND_POINTERS, DRAFTS, INSTRUCTIONS, NOTATION, REGISTER, Blocks
from builder.load.folder import kind_of
from builder.model.action import Action, Verb
from builder.model.library import Library
from builder.model.pages import Procedure, Status
from builder.place import Place

_UNBACKED, _UNANSWERED = "step-without-evidence", "not-answered-yet"
_ABOUT_NUMBERS = ("item-left-in", "not-enough-kit", "removed-but-not-in")
_STYLE = (INSTRUCTIONS, NOTATION, ABBREVIATIONS_AND_POINTERS)
"""Families about how something is written, not about what is done."""


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A finding in the words of its form; ``number`` is its place on the screen, ``mend`` where it is put right.

    An error about an action has the question whose answer mends it, if there is one: its ``file``, ``key``, what is
    ``asked``, and answers to be clicked. ``action`` names it, to be taken out where it is not done at all;
    ``is_guess``: no sentence names what it is done to, so it is asked whether it is done before anything else.
    """

    number: int
    finding: Finding
    mend: str = ""
    file: str = ""
    key: str = ""
    asked: str = ""
    picks: tuple[str, ...] = ()
    action: str = ""
    does: str = ""
    is_guess: bool = False
    others: tuple[str, ...] = ()
    """What may be meant instead, of which the action has the short name."""
    how_many: str = ""
    """The item of which places disagree how many there are."""


@dataclass(frozen=True, slots=True)
class FoundGroup:
    """What was found on one page."""

    title: str
    number: str
    lines: tuple[FoundLine, ...]


@dataclass(frozen=True, slots=True)
class FoundView:
    """The screen: errors, and folded what else is to be looked at and style; ``map`` is drawn for the finding ``way``,
    with the steps of its way marked."""

    groups: tuple[FoundGroup, ...]
    folded: tuple[tuple[str, tuple[FoundGroup, ...]], ...]
    said: str
    unbacked: str = ""
    """How many parts rest on nothing yet, in words: they wait on a screen of their own."""
    way: int = -1
    map: str = ""
    silent: str = ""
    """How many steps say nothing of what is done, so that nothing of them was checked."""
    unseen: tuple[str, ...] = ()
    """What was not looked at, because something before it cannot be followed: more may be found there."""


@dataclass(frozen=True, slots=True)
class MissingLine:
    """One thing that approval waits for, and where it is done: on another screen, or here, where the key ``decides``
    gets its ``value`` or a day."""

    text: str
    screen: str = ""
    decides: str = ""
    value: str = ""


def found_in(
    library: Library, procedure: Procedure, findings: Iterable[Finding], told: Told, way: int = -1
) -> FoundView:
    """Return what was found in ``procedure``; that something waits to be read is said by the reading itself."""
    grave = list(Severity).index
    own = [one for one in findings if _is_of(procedure, one) and REGISTER[one.name].family is not DRAFTS]
    lines = [FoundLine(number, one) for number, one in enumerate(sorted(own, key=lambda one: grave(one.severity)))]
    style = [line for line in lines if _is_style(line.finding)]
    unbacked = [line for line in lines if line.finding.name == _UNBACKED]
    rest = [line for line in lines if line not in style and line not in unbacked]
    errors = [line for line in rest if line.finding.severity is Severity.ERROR]
    others = [line for line in rest if line not in errors]
    to_look_at = f"{counted(len(others), 'other thing')} to look at"
    found = f"{counted(len(errors), 'error')}, {to_look_at}, {len(style)} about style"
    silent = silence_of(procedure)
    said = "; ".join(filter(None, (found, silent)))
    shown = lines[way].finding if 0 <= way < len(lines) and lines[way].finding.path else None
    drawn = _drawn(library, procedure, shown) if shown else ""
    waiting = f"{counted(len(unbacked), 'part')} rest on nothing yet" if unbacked else ""
    groups = _groups(procedure, errors, dict(_mends(library, procedure, told, errors)))
    folded = [(to_look_at.capitalize(), others), ("Style: how it is written", style)]
    below = tuple((words, _groups(procedure, held, {})) for words, held in folded if held)
    unseen = tuple(one.message for one in own if one.name == "rest-not-analysed")
    return FoundView(groups, below, said, waiting, way if drawn else -1, drawn, silent, unseen)


def remaining(findings: Iterable[Finding], home: str = "") -> str:
    """Return what remains in the folder ``home`` as a count of parts, which does not grow with each sentence.

    What is about style, waits to be read or rests on nothing yet is left out: it stands folded or on its own screen.
    """
    parts: dict[bool, set[str]] = {True: set(), False: set()}
    for one in findings:
        if one.at.file.startswith(home) and not (_is_style(one) or is_waiting(one)):
            parts[one.severity is Severity.ERROR].add(one.at.file)
    wrong, others = len(parts[True]), len(parts[False] - parts[True])
    put_right = f"{counted(wrong, 'part')} to put right" if wrong else "nothing to put right"
    look_at = f"{others if wrong else counted(others, 'part')} to look at"
    return f"{put_right}, {look_at}" if others else put_right


def is_waiting(finding: Finding) -> bool:
    """Tell whether a finding only says what another screen asks: what is to be read, answered or backed by a source."""
    is_draft = REGISTER[finding.name].family is DRAFTS or finding.name == _UNBACKED
    return is_draft and finding.severity is not Severity.ERROR


def _is_style(finding: Finding) -> bool:
    return REGISTER[finding.name].family in _STYLE and finding.severity is not Severity.ERROR


def _is_of(procedure: Procedure, finding: Finding) -> bool:
    return finding.at.file.startswith(f"content/procedures/{procedure.id}/")


def _mends(
    library: Library, procedure: Procedure, told: Told, lines: Iterable[FoundLine]
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield, by the number of its line, how an error about an action is put right here: answered, or taken out."""
    steps = procedure.steps.values()
    done = {
        name.at: (step, at)
        for step in steps
        for at, one in enumerate(step.actions)
        for name in (*one.objects, *one.using)
    }
    asked = {(str(page.file), one.key): (page, one) for page, one in gravest_questions(library, procedure)}
    for line in lines:
        if line.finding.at in done:
            step, at = done[line.finding.at]
            file = str(step.file)
            taken_out: dict[str, Any] = {
                "action": f"steps/{step.id}.md:{at}",
                "does": sentence(library, step.actions[at]),
                "others": _longer_names(procedure, step.actions[at]),
                "is_guess": at in guessed(told, names_of(library), f"steps/{step.id}.md", step.actions),
            }
            if line.finding.name in _ABOUT_NUMBERS:
                taken_out["how_many"] = _disagreed(library, procedure, line.finding.at)
            page, question = asked.get((file, f"{ASKED.get(line.finding.name)}.{at + 1}"), (None, None))
            if question is not None:
                picks = picks_of(library, procedure, page, question)
                taken_out |= {"file": file, "key": question.key, "asked": question.asked, "picks": picks}
            yield line.number, taken_out


def _disagreed(library: Library, procedure: Procedure, at: Place) -> str:
    """Return the item that an action names ``at`` a place, if kit and actions differ about it, and one puts it in."""
    actions = [action for step in procedure.steps.values() for action in step.actions]
    named = [(action, name) for action in actions for name in action.objects]
    item = next((library.items.find(str(name)) for _, name in named if name.at == at), None)
    own = [action for action, name in named if item and library.items.find(str(name)) is item]
    numbers = [one.number for one in own if one.verb in (Verb.PLACE, Verb.REMOVE)]
    numbers += [number for name, number in procedure.kit.items() if item and library.items.find(str(name)) is item]
    is_once = sum(one.verb is Verb.PLACE for one in own) == 1
    return str(item.name) if item and is_once and len(set(numbers)) > 1 else ""


def _longer_names(procedure: Procedure, action: Action) -> tuple[str, ...]:
    """Return what else is named in full, of which the one object of ``action`` may be the short name."""
    if len(action.objects) > 1:
        return ()
    short = set(str(action.objects[0]).casefold().split())
    named = dict.fromkeys(
        str(name) for step in procedure.steps.values() for one in step.actions for name in one.objects
    )
    return tuple(name for name in named if short < set(name.casefold().split()))


def _groups(
    procedure: Procedure, lines: Iterable[FoundLine], mends: Mapping[int, dict[str, Any]]
) -> tuple[FoundGroup, ...]:
    pages = [(str(procedure.file), str(procedure.title), "")]
    pages += [(str(block.step.file), str(block.step.title), block.number) for block in step_blocks(outline(procedure))]
    pages += [(str(one.file), str(one.hazard), "") for one in procedure.cautions.values()]
    pages += [(str(one.file), str(one.title), "") for one in procedure.aftercare_items.values()]
    titled = {file: (title, number) for file, title, number in pages}
    by_file: dict[str, list[FoundLine]] = {file: [] for file in titled}
    for line in lines:
        shown = in_form(line.finding, kind_of(line.finding.at.file)[0])
        by_file.setdefault(line.finding.at.file, []).append(
            FoundLine(line.number, shown, mending_of(line.finding), **mends.get(line.number, {}))
        )
    named = {file: titled.get(file, (file.rpartition("/")[2], "")) for file in by_file}
    return tuple(FoundGroup(*named[file], tuple(held)) for file, held in by_file.items() if held)


def mending_of(finding: Finding) -> str:
    """Return the address in the preview where ``finding`` is put right: a field of a form, or what is not there yet."""
    target = target_of(finding.at.file)
    if target and finding.name == "way-without-step":
        return f"order/{target.procedure}?"
    named = KEY_NAMED.search(finding.hint)
    if target and named and finding.name == "left-in-without-aftercare":
        return f"edit/new/aftercare/{target.procedure}?concerns={quote(named['value'].strip())}"
    return f"edit/{finding.at.file}?finding={finding.name}&line={finding.at.line}.{finding.at.column}"


def _drawn(library: Library, procedure: Procedure, finding: Finding) -> str:
    """Return the map with the steps of the way marked on which ``finding`` is so."""
    way = [str(words).casefold() for words in finding.path]
    steps = list(step_blocks(outline(procedure)))
    marked = [block.anchor for block in steps if any(str(block.step.title).casefold() in words for words in way)]
    return draw(map_of(library, procedure, marked), str(procedure.title)).svg


def missing_for_approval(procedure: Procedure, findings: Iterable[Finding]) -> tuple[MissingLine, ...]:
    """Return what ``procedure`` lacks for approval, as a short list of things to do."""
    own = [one for one in findings if _is_of(procedure, one)]
    steps = steps_of(procedure)
    waiting = sum(step.proposed for step in steps)
    drafts = [one for one in own if REGISTER[one.name].family is DRAFTS]
    unsaid = sum(one.name == _UNANSWERED for one in drafts)
    others = [one for one in own if one not in drafts]
    errors = sum(one.severity is Severity.ERROR for one in others)
    asks = [one for one in others if REGISTER[one.name].blocks in (Blocks.REVIEW, Blocks.APPROVAL)]
    later = {one.at.file for one in asks if one.severity is not Severity.ERROR}
    lines = [
        (waiting, MissingLine(f"{counted(waiting, 'step')} to be read", "read")),
        (not waiting and len(drafts) > unsaid, MissingLine("Parts of the draft to be read", "read")),
        (unsaid, MissingLine(f"{counted(unsaid, 'answer')} that the draft left open", "asked")),
        (errors, MissingLine(f"{counted(errors, 'error')} to be put right", "found")),
        (bool(silence_of(procedure)), MissingLine(silence_of(procedure), "read")),
        (bool(later), MissingLine(f"{counted(len(later), 'part')} with something that approval asks for", "found")),
        (procedure.review_by is None, MissingLine("The day of the review", decides="review_by")),
        (procedure.status is Status.DRAFT, MissingLine("It is a draft", "", "status", Status.IN_REVIEW.value)),
        (not procedure.approval, MissingLine("Somebody to approve it who did not write it", "approve")),
    ]  # fmt: skip
    return tuple(line for is_missing, line in lines if is_missing)

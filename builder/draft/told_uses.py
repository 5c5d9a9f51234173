"""What a reader has become of a sentence, or of some words of it, and what that changes in the pages.

A sentence that is moved takes its words, as the page has them now, out of the one page and into the other, with the
actions that it says. What a reader has written without it stays where it is. A page from which the last sentence goes,
and that nobody has accepted, goes as well. Words that are only selected are used once more, and their sentence stays.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from builder.draft.actions import ReadSentence, TalkReader, without_lead
from builder.draft.aftercare import aftercare_of, kit_of
from builder.draft.draft_pages import aftercare_page, as_written, caution_page, step_page
from builder.draft.heard_names import names_of
from builder.draft.new_names import proposed_entries
from builder.draft.proposal import ProposedAction, ProposedCaution, ProposedEntry, ProposedStep
from builder.draft.said import says_what_to_avoid, signal_of
from builder.draft.sentences import Sentence
from builder.draft.speech import instruction, shortened_title
from builder.draft.titles import MOST_READ, instruction_of, step_title
from builder.draft.told_desk import HEAD, Desk
from builder.draft.told_file import CAUTION_ROLES, DOES, PROSE, STEP_ROLES, TITLE
from builder.draft.told_steps import lift_out, one_or_other, only_sometimes, page_id, put_beside, step_before
from builder.draft.told_words import as_said, held_on, reader_before, sayers
from builder.edit.file_change import CannotEdit, Value
from builder.edit.forms.form_files import FormEdit
from builder.edit.ids import id_for, slug
from builder.facts.anatomy import MEANT_TO_STAY
from builder.model.fields import NOT_SAID, is_not_said
from builder.model.library import Library

_KEPT = frozenset({"hazard", "consequence", "avoid", "signal", TITLE})
"""Keys that must not be missing: where their words go, it is asked for them again."""

NAMES_ONLY = frozenset({"action", "name"})
"""Uses after which the sentence stays where it is, even if all of it was meant."""


@dataclass(frozen=True, slots=True)
class Use:
    """What is to become of words of sentence ``number``: ``role`` on ``step``, its page or that of a caution; ``kind``
    of a new name.

    ``brought``: the actions that come with it as they were answered; None where they are to be read in the words.
    """

    number: int
    role: str
    step: str = ""
    words: str = ""
    kind: str = ""
    brought: tuple[Value, ...] | None = None


def moved(desk: Desk, library: Library, use: Use) -> FormEdit:
    """Use words of a sentence as ``use`` says; where they are all of it, it leaves the place where it was."""
    sentence = desk.told.sentences[use.number]
    words = " ".join(use.words.split()) or sentence.text
    is_whole = words in (sentence.text, desk.told.as_meant(sentence.text)) and use.role not in NAMES_ONLY
    neighbour = step_before(desk, use.step) if use.step else ""
    held = held_on(desk, sentence.page).get(use.number, []) if is_whole else []
    words = as_said(held) or desk.told.as_meant(words)
    if is_whole:
        use = replace(use, brought=_take_out(desk, library, use.number))
        desk.told = desk.told.changed([use.number], page="", role="", is_read=True)
    put = _USES.get(use.role)
    step = use.step if not use.step or desk.has(use.step) else neighbour  # it may have gone with its last sentence
    page, role = put(desk, library, replace(use, words=words, step=step)) if put else ("", "")
    if is_whole:
        desk.told = desk.told.changed([use.number], page=page, role=role)
    return desk.done(f"“{_short(words)}”: used otherwise", [page])


def split(desk: Desk, library: Library, number: int) -> FormEdit:
    """Begin a new step with sentence ``number``: what was told from there on goes along, as the page has it now."""
    page = _in_a_step(desk, library, number)
    moving = [one for one in desk.told.on(page) if one >= number]
    if not page.startswith("steps/") or len(moving) == len(desk.told.on(page)):
        raise CannotEdit("this sentence is the first of its step", "Split the step at a later sentence.")
    held = held_on(desk, page)
    texts = {one: as_said(held.get(one, [])) or desk.told.as_meant(desk.told.sentences[one].text) for one in moving}
    new = _new_step(desk, library, number, list(texts.values()))
    put_beside(desk, new, page, behind=True)
    _part_actions(desk, library, page, new, number)
    _part_cautions(desk, page, new, moving)
    for one in moving:
        _take_words_out(desk, one, held.get(one, []))
        role = desk.told.sentences[one].role
        role = role if role in (DOES, PROSE, *STEP_ROLES) else PROSE
        if one in held:
            _put_words(desk, Use(one, role, new, as_said(held[one])))
        desk.told = desk.told.changed([one], page=new, role=role)
    return desk.done("A step split in two", [new])


def _in_a_step(desk: Desk, library: Library, number: int) -> str:
    """Return the step in which sentence ``number`` stands; one that warns of something there becomes part of it."""
    page = desk.told.sentences[number].page
    guards = desk.data(page).get("guards") if page.startswith("cautions/") else None
    step = f"steps/{guards[0]}.md" if isinstance(guards, list) and guards else ""
    if not step or not any(one < number for one in desk.told.on(step)):
        return page
    words = as_said(held_on(desk, page).get(number, [])) or desk.told.as_meant(desk.told.sentences[number].text)
    _take_out(desk, library, number)
    desk.told = desk.told.changed([number], page=step, role=DOES)
    _put_in_step(desk, library, Use(number, DOES, step, words))
    return step


def _part_actions(desk: Desk, library: Library, page: str, new: str, number: int) -> None:
    """Move the actions of ``page`` told from sentence ``number`` on; what no sentence says goes with the one before."""
    saying = sayers(desk, names_of(library), page, _as_data)
    sides: tuple[list[Value], list[Value]] = [], []
    is_later = False
    held = desk.data(page).get("actions")
    for action in held if isinstance(held, list) else []:
        told = saying(action)
        is_later = (min(told) >= number) if told and (min(told) >= number or max(told) < number) else is_later
        sides[is_later].append(action)
    desk.put(page, "actions", sides[False])
    desk.put(new, "actions", sides[True])


def _part_cautions(desk: Desk, page: str, new: str, moving: list[int]) -> None:
    """Have a caution that was told after the cut, before another step was begun, guard the new step."""
    steps = (one for one, said in enumerate(desk.told.sentences) if said.page.startswith("steps/") and one > moving[-1])
    end = next(steps, len(desk.told.sentences))
    named = desk.data(page).get("cautions")
    later = []
    for caution in sorted(desk.taken("cautions")):
        name, told = f"cautions/{caution}.md", desk.told.on(f"cautions/{caution}.md")
        if not told or not moving[0] < max(told) < end:
            continue
        later.append(caution)
        guards = desk.data(name).get("guards")
        if isinstance(guards, list) and page_id(page) in guards:
            goes = [page_id(new)] if min(told) > moving[0] else [page_id(page), page_id(new)]
            at = guards.index(page_id(page))
            desk.put(name, "guards", [*guards[:at], *goes, *guards[at + 1 :]])
    if isinstance(named, list):
        desk.put(page, "cautions", [one for one in named if one not in later])
        desk.put(new, "cautions", [one for one in named if one in later])


# ---- Where words are put ----


def _put_in_step(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    _put_words(desk, use)
    if use.role != DOES:
        return use.step, use.role
    for action in use.brought or ():
        desk.add(use.step, ("actions",), action)
    if use.brought is None:
        _propose(desk, library, use.step, _actions(desk, library, use.number, use.words))
    return use.step, use.role


def _put_words(desk: Desk, use: Use) -> None:
    if use.role in (*STEP_ROLES, *CAUTION_ROLES):
        held = desk.data(use.step).get(use.role)
        desk.put(use.step, use.role, f"{held} {use.words}" if _is_said(held) else use.words)
    else:
        _put_in_prose(desk, use.step, use)


def _put_in_caution(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    """Add to the caution that is meant, else to the last one of the step; where it has none, begin one."""
    if use.step.startswith("cautions/"):
        _put_words(desk, use)
        return use.step, use.role
    guarding = [id for id in sorted(desk.taken("cautions")) if _guards(desk, id, page_id(use.step))]
    told_last = {sentence.page: number for number, sentence in enumerate(desk.told.sentences)}
    guarding.sort(key=lambda id: told_last.get(f"cautions/{id}.md", -1))
    if not guarding:
        return _new_caution(desk, library, use)
    page = f"cautions/{guarding[-1]}.md"
    _put_words(desk, replace(use, step=page))
    return page, use.role


def _new_caution(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    avoids = says_what_to_avoid(use.words)
    role = use.role if use.role in CAUTION_ROLES else "avoid" if avoids else "hazard"
    said = {"hazard": NOT_SAID, "consequence": NOT_SAID, "avoid": NOT_SAID, role: use.words}
    mentions = names_of(library).mentions(use.words)
    caution = ProposedCaution(
        id=id_for(shortened_title(use.words), desk.taken("cautions"), "caution"),
        signal=signal_of(use.words),
        at=desk.told.sentences[use.number].at,
        heard_at=_heard(desk, use.number),
        guards=(page_id(use.step),) if use.step else (),
        at_risk=tuple(dict.fromkeys(mention.name for mention in mentions if mention.is_structure)),
        hazard=said["hazard"], consequence=said["consequence"], avoid=said["avoid"],
    )  # fmt: skip
    page = f"cautions/{caution.id}.md"
    desk.new(page, caution_page(caution))
    if role not in ("hazard", "consequence", "avoid"):
        desk.put(page, role, use.words)
    return page, role


def _new_aftercare(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    (item,) = aftercare_of([Sentence(use.words, "", _heard(desk, use.number))], names_of(library))
    item = replace(item, id=id_for(item.title, desk.taken("aftercare"), "aftercare"))
    page = f"aftercare/{item.id}.md"
    desk.new(page, aftercare_page(item))
    return page, PROSE if item.body else TITLE


def _before_you_start(desk: Desk, _: Library, use: Use) -> tuple[str, str]:
    desk.add(HEAD, ("before_you_start",), use.words)
    return HEAD, "before_you_start"


def _kit(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    """Lay out what the words name, with its number; what no catalogue has is asked about."""
    named, strange = kit_of([Sentence(use.words, "")], names_of(library))
    held = desk.data(HEAD).get("kit")
    kit: dict[str, Value] = dict(held) if isinstance(held, dict) else {}
    desk.put(HEAD, "kit", kit | {name: str(number) for name, number in named.items() if name not in kit})
    unknown = dict.fromkeys((*desk.told.unknown, *(name.words for name in strange)))
    desk.told = replace(desk.told, unknown=tuple(unknown))
    return HEAD, "kit"


def _why_and_when(desk: Desk, _: Library, use: Use) -> tuple[str, str]:
    _put_in_prose(desk, HEAD, use)
    return HEAD, PROSE


def _step_of_its_own(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    page = _new_step(desk, library, use.number, [use.words])
    put_beside(desk, page, use.step, behind=True)
    return _put_in_step(desk, library, replace(use, step=page, role=DOES))


def _an_option(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    page, role = _step_of_its_own(desk, library, use)
    only_sometimes(desk, page, "")
    return page, role


def _a_choice(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    page, role = _step_of_its_own(desk, library, use)
    one_or_other(desk, page, "")
    return page, role


def _an_action(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    actions = _actions(desk, library, use.number, use.words)
    if not actions:
        raise CannotEdit(f"“{_short(use.words)}” says nothing that is done", "Select a verb and what it is done to.")
    _propose(desk, library, use.step, actions)
    return use.step, DOES


def _a_name(desk: Desk, library: Library, use: Use) -> tuple[str, str]:
    if not use.kind:
        raise CannotEdit(f"it was not said what “{_short(use.words)}” is", "Choose what it is.")
    new_entry(desk, library, use.words, use.kind)
    return desk.told.sentences[use.number].page, desk.told.sentences[use.number].role


_USES: Mapping[str, Callable[[Desk, Library, Use], tuple[str, str]]] = {
    **dict.fromkeys((DOES, PROSE, *STEP_ROLES), _put_in_step),
    "caution": _new_caution,
    **dict.fromkeys(CAUTION_ROLES, _put_in_caution),
    "step": _step_of_its_own,
    "option": _an_option,
    "choice": _a_choice,
    "action": _an_action,
    "name": _a_name,
    "before": _before_you_start,
    "kit": _kit,
    "indication": _why_and_when,
    "aftercare": _new_aftercare,
}

# ---- Small parts ----


def _take_out(desk: Desk, library: Library, number: int) -> tuple[Value, ...] | None:
    """Take sentence ``number`` out of its page, and return the actions that it says there; None where it says none."""
    sentence = desk.told.sentences[number]
    page = sentence.page
    if not page or not desk.has(page):
        return None
    actions = desk.data(page).get("actions")
    held = actions if isinstance(actions, list) else []
    says_done = sentence.role == DOES
    saying = sayers(desk, names_of(library), page, _as_data) if says_done else None
    taken = tuple(action for action in held if saying and saying(action) == [number])
    if page != HEAD and desk.told.on(page) == (number,) and desk.data(page).get("proposed") == "true":
        for caution in sorted(desk.taken("cautions")) if page.startswith("steps/") else ():
            _guarded_by_neighbour(desk, caution, page)
        lift_out(desk, page)
        desk.remove(page)
        return tuple(held) if says_done else None
    pieces = held_on(desk, page).get(number, [])
    desk.put(page, "actions", [action for action in held if action not in taken])
    _take_words_out(desk, number, pieces)
    return taken if says_done else None


def _take_words_out(desk: Desk, number: int, pieces: list[str]) -> None:
    sentence = desk.told.sentences[number]
    if sentence.role in (DOES, PROSE):
        prose = desk.prose(sentence.page)
        for words in pieces:
            prose = re.sub(r"[ \t]{2,}", " ", prose.replace(words, "", 1))
        desk.set_prose(sentence.page, prose)
    elif sentence.role != TITLE:
        for words in pieces:
            _take_out_of_key(desk, sentence.page, sentence.role, words)


def _take_out_of_key(desk: Desk, page: str, key: str, text: str) -> None:
    held = desk.data(page).get(key)
    if isinstance(held, list):
        desk.put(page, key, [words for words in held if words != text])
    elif isinstance(held, str):
        rest = " ".join(held.replace(text, "", 1).split())
        desk.put(page, key, rest or (NOT_SAID if key in _KEPT else ""))


def _guarded_by_neighbour(desk: Desk, caution: str, page: str) -> None:
    """Have a caution that guards the step ``page``, which goes, guard the step before it."""
    before = step_before(desk, page)
    guards = desk.data(f"cautions/{caution}.md").get("guards")
    if before and isinstance(guards, list) and page_id(page) in guards and page_id(before) not in guards:
        desk.put(f"cautions/{caution}.md", "guards", [*guards, page_id(before)])


def _put_in_prose(desk: Desk, page: str, use: Use) -> None:
    """Put words into the prose of ``page`` where they were said: after what was said before them."""
    prose, words = desk.prose(page).strip(), as_written(use.words)
    said_before = [piece for one, pieces in sorted(held_on(desk, page).items()) if one < use.number for piece in pieces]
    at = next((prose.find(one) + len(one) for one in reversed(said_before) if one in prose), None)
    if at is None:
        is_first = bool(desk.told.on(page)) and use.number < min(desk.told.on(page))
        at = 0 if is_first else len(prose)
    desk.set_prose(page, " ".join(filter(None, (prose[:at].rstrip(" "), words, prose[at:].lstrip(" ")))))


def _new_step(desk: Desk, library: Library, number: int, texts: list[str]) -> str:
    """Begin a step with sentence ``number``; the first of its ``texts`` that orders something titles it."""
    ordered = (_ordered(TalkReader(names_of(library)).read(text), text) for text in texts[:MOST_READ])
    title = next(filter(None, ordered), "") or shortened_title(texts[0])
    step = ProposedStep(id_for(title, desk.taken("steps"), "step"), title, "", _heard(desk, number))
    desk.new(f"steps/{step.id}.md", step_page(step))
    return f"steps/{step.id}.md"


def _ordered(read: ReadSentence, text: str) -> str:
    """Return what a sentence orders, as an instruction: by a verb that it says, else in its own words; "" where none.

    What is only likely to be meant titles no step here: whoever begins a step knows what was said.
    """
    done = (instruction_of(one) for one in read.doings if one.made and not one.doing.mark)
    likely = step_title([read])
    is_said = likely.partition(" ")[0].casefold() in text.casefold()
    clauses = (instruction(clause) for clause in text.split(", "))
    return next(filter(None, (likely if is_said else "", *done, *clauses)), "")


def _actions(desk: Desk, library: Library, number: int, words: str) -> tuple[ProposedAction, ...]:
    """Return the actions that ``words`` of sentence ``number`` say, after all that was told before it."""
    return tuple(reader_before(desk.told, names_of(library), number).read(words).actions)


def _propose(desk: Desk, library: Library, page: str, actions: tuple[ProposedAction, ...]) -> None:
    held = desk.data(page).get("actions")
    known = held if isinstance(held, list) else []
    new = [_as_data(action) for action in actions if _as_data(action) not in known]
    for action in new:
        desk.add(page, ("actions",), action)
    for entry in proposed_entries(actions, library):
        _write_entry(desk, entry)


def _as_data(action: ProposedAction) -> dict[str, Value]:
    objects: Value = action.objects[0] if len(action.objects) == 1 else list(action.objects)
    more = {key: str(value).lower() if isinstance(value, bool | int) else value for key, value in action.more}
    return {action.verb: objects, **more, "proposed": "true"}


def new_entry(desk: Desk, library: Library, words: str, kind: str) -> None:
    """Put ``words`` into the catalogue as ``kind``: its catalogue and its kind, such as ``structures:vessel``."""
    if library.structures.find(words) or library.items.find(words):
        raise CannotEdit(f"“{_short(words)}” is in the catalogue already", "Nothing needs to be done.")
    group, _, name = kind.partition(":")
    _write_entry(desk, ProposedEntry(without_lead(words), name, group == "structures"))


def _write_entry(desk: Desk, entry: ProposedEntry) -> None:
    catalogue = "structures" if entry.is_structure else "items"
    value: Value = {"id": slug(entry.name), "name": entry.name, "kind": entry.kind}
    desk.add_to_catalogue(f"content/catalogue/{catalogue}-proposed-{desk.procedure}.yml", catalogue, value)


def _guards(desk: Desk, caution: str, step: str) -> bool:
    guards, named = desk.data(f"cautions/{caution}.md").get("guards"), desk.data(f"steps/{step}.md").get("cautions")
    return (isinstance(guards, list) and step in guards) or (isinstance(named, list) and caution in named)


def _heard(desk: Desk, number: int) -> str:
    at = desk.told.sentences[number].at
    return at if re.fullmatch(r"[\d:]+", at) else ""


def _is_said(held: Value) -> bool:
    return isinstance(held, str) and bool(held) and not is_not_said(held)


def _short(words: str) -> str:
    return words if len(words) <= 40 else f"{words[:39]}…"


def action_added(desk: Desk, library: Library, page: str, chosen: Mapping[str, str]) -> FormEdit:
    """Add an action that was put together from pickers to the step ``page``; a new name gets the ``kind`` chosen."""
    verb, thing = chosen.get("verb", ""), " ".join(chosen.get("object", "").split())
    if not verb or not thing:
        raise CannotEdit("an action needs a verb and what it is done to", "Choose both.")
    more = {key: " ".join(chosen[key].split()) for key in ("with", "in") if chosen.get(key, "").strip()}
    names = (thing, *more.values())
    named = (
        names if verb not in ("count", "tell") else tuple(more.values())
    )  # what is counted or told is in no catalogue
    unknown = [name for name in named if not (library.structures.find(name) or library.items.find(name))]
    new = unknown[0] if unknown else ""
    if len(unknown) > 1:
        raise CannotEdit(f"“{new}” and “{unknown[1]}” are both new", "Add the action with one of them first.")
    if new and not chosen.get("kind"):
        raise CannotEdit(f"“{new}” is in no catalogue", "Choose what it is, then press “Add it” again.")
    if new:
        new_entry(desk, library, new, chosen["kind"])
    value: dict[str, Value] = {verb: thing, **more}
    made = new if chosen.get("kind", "").startswith("items:") else ""
    item = library.items.find(thing)
    kind = item.kind if item else chosen.get("kind", "").removeprefix("items:") if thing == made else ""
    if verb == "place" and kind in MEANT_TO_STAY:
        value["stays"] = "true"
    desk.add(page, ("actions",), value)
    _put_on_kit(desk, library, [name for name in names if library.items.find(name) or name == made])
    return desk.done(f"{verb.capitalize()} {thing}: added", [page])


def _put_on_kit(desk: Desk, library: Library, items: list[str]) -> None:
    """Put each of ``items`` that is not on the kit list there, once: what is used is laid out."""
    held = desk.data(HEAD).get("kit")
    kit: dict[str, Value] = dict(held) if isinstance(held, dict) else {}
    laid_out = {_item_named(library, name) for name in kit}
    missing = [name for name in dict.fromkeys(items) if _item_named(library, name) not in laid_out]
    if missing:
        desk.put(HEAD, "kit", {**kit, **dict.fromkeys(missing, "1")})


def _item_named(library: Library, name: str) -> str:
    item = library.items.find(name)
    return str(item.id) if item else slug(name)


def action_dropped(desk: Desk, page: str, number: str) -> FormEdit:
    """Take action ``number`` out of the step ``page``."""
    actions = desk.data(page).get("actions")
    if not isinstance(actions, list) or not number.isdecimal() or int(number) >= len(actions):
        raise CannotEdit("this action is not there any more", "Load the page again.")
    rest = [action for at, action in enumerate(actions) if at != int(number)]
    desk.put(page, "actions", rest)
    return desk.done("An action taken out", [page])

"""Texts taken apart: headings and labels (``Equipment:``) say what is below them, numbers where steps begin."""

import re
from dataclasses import dataclass, field, replace

from builder.draft.sentence_roles import SaidRole, roles_of
from builder.draft.sentences import sentences_of
from builder.draft.source_parts import Role, Segment, SourceParts, role_of
from builder.draft.speech import begins_aftercare, instruction, is_step_alone
from builder.facts.imperatives import VERBS, stem, suggestion
from builder.load.told.draft_source import Passage, PassageKind
from builder.load.told.outline_lines import number_of

_LABEL = re.compile(r"(?P<label>[A-Z][\w /'-]{1,40}?)\s*[:–—]\s*(?P<rest>.*)", re.DOTALL)
_OF_ONE_STEP = tuple(
    (role, re.compile(pattern, re.IGNORECASE))
    for role, pattern in (
        (
            SaidRole.DANGER,
            r"(?:common )?(?:pitfall|danger|caution|warning|hazard|beware|trap|mistake|slip|watch out|risk)",
        ),
        (SaidRole.GO_ON, r"(?:go on when|done when|cue|check(?:point)?)"),
        (SaidRole.IF_NOT, r"(?:if not|otherwise|put it right)"),
        (SaidRole.ALTERNATIVE, r"(?:if|or|option|alternative)\b.*"),
        (SaidRole.WHY, r"(?:why|reason)"),
    )
)
"""What a label or heading says of the step above it."""
_LONGEST_LABEL_WORDS = 6


@dataclass(slots=True)
class _Section:
    """What is below one heading. ``index`` is the number of the heading's passage, -1 before the first."""

    heading: Passage | None
    role: Role
    content: list[tuple[int, Passage]] = field(default_factory=list)
    index: int = -1
    is_sibling: bool = False
    """Its heading is among headings that are steps, and none of them has a number."""


def lay_text(numbered: list[tuple[int, Passage]], layout: SourceParts) -> None:
    """Put each passage of a text, with its number, where it belongs."""
    sections = _sections(numbered)
    _take_title(sections, layout)
    _find_siblings(sections)
    regions = _steps_regions(sections) or _instructing(sections)
    for number, section in enumerate(sections):
        _lay_section(section, number in regions, bool(regions), sections, layout)


def _sections(numbered: list[tuple[int, Passage]]) -> list[_Section]:
    sections = [_Section(None, Role.OPEN)]
    for index, passage in numbered:
        if passage.kind is PassageKind.HEADING:
            is_counted = passage.is_numbered and re.match(r"\W*(?:step|stage)", passage.label, re.IGNORECASE)
            role = Role.OPEN if is_counted or is_step_alone(passage.text) else role_of(passage.text)
            sections.append(_Section(passage, role, index=index))
            continue
        label = _labelled(passage)
        if label:
            heading, rest, role = label
            below = sections[-1]
            sections.append(
                _Section(Passage(PassageKind.HEADING, heading, passage.at, _LABEL_LEVEL), role, index=index)
            )
            if rest:
                # A label with its words on the same line announces that line, not what is below it.
                sections[-1].content.append((index, Passage(passage.kind, rest, passage.at, passage.level)))
                role = below.role if below.role in (Role.OPEN, Role.STEPS) else Role.OPEN
                sections.append(_Section(None, role, index=index))
            continue
        sections[-1].content.append((index, passage))
    return [section for section in sections if section.heading or section.content]


def _take_title(sections: list[_Section], layout: SourceParts) -> None:
    """Take the title of the whole for what it is: the first heading, where no other is of its level and nothing is
    numbered in it, or where nothing is below it."""
    first = next((section for section in sections if section.heading), None)
    if first is None or first.heading is None or first.heading.is_numbered or first.role is not Role.OPEN:
        return
    headings = [section.heading for section in sections if section.heading and section is not first]
    others = [heading for heading in headings if heading.level != _LABEL_LEVEL]
    is_alone = all(heading.level > first.heading.level for heading in others)
    has_steps = any(passage.kind is PassageKind.ITEM and passage.is_numbered for _, passage in first.content)
    if is_alone or (others and not has_steps and first is sections[0] and not _is_step_heading(first.heading)):
        layout.headings.extend(sentences_of(first.heading))
        first.heading = None


_LABEL_LEVEL = 9


def _labelled(passage: Passage) -> tuple[str, str, Role] | None:
    """Return label, rest and role of a line such as ``Equipment: a blade, two swabs``."""
    if passage.is_numbered or passage.kind not in (PassageKind.TEXT, PassageKind.ITEM):
        return None
    match = _LABEL.fullmatch(passage.text)
    if not match or len(match["label"].split()) > _LONGEST_LABEL_WORDS:
        return None
    role = role_of(match["label"])
    if role in (Role.OPEN, Role.END) or (role is Role.STEPS and match["rest"]):
        return None
    if match["rest"] and role_in_step(match["label"]):
        return None  # a warning below a step belongs to the step
    return match["label"], match["rest"], role


def role_in_step(label: str) -> SaidRole | None:
    """Return the role that a label or heading gives to what it says of the step above it."""
    bare = label.strip(" .:–—-")
    return next((role for role, pattern in _OF_ONE_STEP if pattern.fullmatch(bare)), None)


def give_roles(layout: SourceParts) -> None:
    """Give each sentence of a step the role that its label says, else the likeliest in the telling."""
    sentences = [sentence for step in layout.steps for sentence in step.sentences]
    firsts = {id(step.sentences[0]) for step in layout.steps if step.sentences}
    begins = {at for at, sentence in enumerate(sentences) if id(sentence) in firsts}
    told = iter(roles_of([sentence.text for sentence in sentences], begins))
    for step in layout.steps:
        for at, sentence in enumerate(step.sentences):
            likeliest, label = next(told), _LABEL.match(sentence.text)
            role = sentence.role or (role_in_step(label["label"]) if label and at else None)
            step.sentences[at] = replace(sentence, role=role or likeliest)


def _steps_regions(sections: list[_Section]) -> set[int]:
    """Return the numbers of the sections that a heading such as ``Technique`` announces, with those below it."""
    regions: set[int] = set()
    level = 0
    for number, section in enumerate(sections):
        depth = section.heading.level if section.heading else 99
        if section.role is Role.STEPS and (section.content or _has_below(sections, number)):
            level = depth
            regions.add(number)
        elif level and depth > level and section.role is Role.OPEN:
            regions.add(number)
        elif level and (depth <= level or section.role is not Role.OPEN):
            level = 0 if depth <= level else level
    if not any(_numbered_items(sections[number]) or len(sections[number].content) > 1 for number in regions):
        return {number for number in regions if sections[number].role is not Role.STEPS} if len(regions) > 2 else set()
    return regions


_FEWEST_SIBLINGS = 3


def _find_siblings(sections: list[_Section]) -> None:
    """Mark the headings that are steps by the company they keep: ``Outer cut`` between ``Marking`` and ``Suturing``."""
    named = [section for section in sections if section.heading and section.role is Role.OPEN and section.content]
    steps = [section.heading for section in named if _is_step_heading(section.heading)]
    plain = [heading.level for heading in steps if heading and not heading.is_numbered]
    if len(plain) < _FEWEST_SIBLINGS or len(plain) * 2 <= len(steps):
        return
    for section in named:
        level = section.heading.level if section.heading else 0
        section.is_sibling = plain.count(level) >= _FEWEST_SIBLINGS


_MOSTLY, _FEWEST_ORDERS = 0.6, 3


def _instructing(sections: list[_Section]) -> set[int]:
    """Return the one section whose lines are orders, where nothing is numbered and no heading announces steps."""
    unknown = [section for section in sections if section.role is Role.OPEN]
    if any(_numbered_items(section) or _is_step_heading(section.heading) for section in unknown):
        return set()
    orders: dict[int, int] = {}
    for number, section in enumerate(sections):
        lines = [passage.text for _, passage in section.content if passage.kind is not PassageKind.ASIDE]
        told = sum(bool(instruction(line)) for line in lines)
        if section.role is Role.OPEN and told >= _FEWEST_ORDERS and told >= _MOSTLY * len(lines):
            orders[number] = told
    return {max(orders, key=lambda number: orders[number])} if orders else set()


def _has_below(sections: list[_Section], number: int) -> bool:
    here = sections[number].heading
    below = sections[number + 1].heading if number + 1 < len(sections) else None
    return bool(here and below and below.level > here.level)


def _numbered_items(section: _Section) -> list[int]:
    """Return the places of the numbered lines of the outermost level."""
    return _outermost([(at, item) for at, item in _items(section) if item.is_numbered])


def _items(section: _Section) -> list[tuple[int, Passage]]:
    return [(at, passage) for at, (_, passage) in enumerate(section.content) if passage.kind is PassageKind.ITEM]


def _outermost(items: list[tuple[int, Passage]]) -> list[int]:
    outer = min((item.level for _, item in items), default=0)
    return [at for at, item in items if item.level == outer]


def _is_step_heading(passage: Passage | None) -> bool:
    if passage is None:
        return False
    words = re.findall(r"[a-z]+", passage.text.lower())
    if not words:
        return False
    if passage.is_numbered or is_step_alone(passage.text):
        return True
    first = words[0]
    inflected = first.endswith("ing") and stem(first) is not None
    return first in VERBS or inflected or (len(words) <= 6 and suggestion(passage.text) is not None)


def _lay_section(
    section: _Section, is_steps: bool, any_steps: bool, sections: list[_Section], layout: SourceParts
) -> None:
    said = role_in_step(section.heading.text) if section.heading and layout.steps else None
    if said:
        _lay_on_step(section, said, layout)
        return
    starts: list[int] = []
    items = _numbered_items(section)
    heading_is_step = section.role is Role.OPEN and (_is_step_heading(section.heading) or section.is_sibling)
    if section.role in (Role.OPEN, Role.STEPS):
        if is_steps:
            starts = items or ([] if heading_is_step else _bullets_or_lines(section))
        elif heading_is_step:
            starts = items if _items_are_steps(section, items, sections, layout) else []
        elif not any_steps or (section.heading is None and items):
            starts = items if len(items) >= 2 or layout.steps else []
    if starts:
        _lay_items(section, starts, layout)
    elif heading_is_step and section.heading is not None:
        _lay_heading(section, layout)
    else:
        _lay_rest(section, layout)


def _items_are_steps(section: _Section, items: list[int], sections: list[_Section], layout: SourceParts) -> bool:
    """Tell whether the numbered lines below a heading that could be a step are the steps themselves.

    They are where their numbers go on from one heading to the next, or where most such headings have them and have no
    number themselves.
    """
    if not items or section.heading is None:
        return False
    first = number_of(section.content[items[0]][1])
    if first > 1 and layout.steps:
        return True
    if section.heading.is_numbered or len(items) < 2:
        return False
    alike = [other for other in sections if other.role is Role.OPEN and _is_step_heading(other.heading)]
    return sum(len(_numbered_items(other)) >= 2 for other in alike) * 2 > len(alike)


def _bullets_or_lines(section: _Section) -> list[int]:
    """Return where the steps of a section begin that numbers nothing: its bullets, else its lines."""
    bullets = _items(section)
    texts = [at for at, (_, passage) in enumerate(section.content) if passage.kind is PassageKind.TEXT]
    return _outermost(bullets) if len(bullets) >= 2 and len(bullets) >= len(texts) else texts


def _lay_items(section: _Section, starts: list[int], layout: SourceParts) -> None:
    if section.heading is not None:
        layout.headings.extend(sentences_of(section.heading))
    beginning = set(starts)
    for at, (index, passage) in enumerate(section.content):
        if at in beginning:
            whole = sentences_of(passage)
            if not whole:
                continue
            layout.steps.append(Segment(passage.text, passage.at, whole[0].heard_at, list(whole), {index}))
        elif at < starts[0] and not layout.steps:
            layout.put(Role.OPEN, sentences_of(passage))
        elif layout.steps:
            _add(layout, index, passage)
        else:
            layout.notes.extend(sentences_of(passage))


def _add(layout: SourceParts, index: int, passage: Passage) -> None:
    """Add a passage to the last step, or to aftercare where its words turn to that."""
    if passage.kind is PassageKind.ASIDE:
        layout.notes.extend(sentences_of(passage))
        return
    for sentence in sentences_of(passage):
        if begins_aftercare(sentence.text) and passage.kind is not PassageKind.ITEM:
            layout.parts[Role.AFTERCARE].append(sentence)
        else:
            layout.steps[-1].sentences.append(sentence)
            layout.steps[-1].passages.add(index)


def _lay_heading(section: _Section, layout: SourceParts) -> None:
    assert section.heading is not None
    head = sentences_of(section.heading)
    if is_step_alone(section.heading.text):
        layout.headings.extend(head)
        layout.steps.append(Segment("", section.heading.at, "", [], {section.index}))
    else:
        layout.steps.append(Segment(section.heading.text, section.heading.at, "", head, {section.index}))
    for index, passage in section.content:
        _add(layout, index, passage)


def _lay_on_step(section: _Section, role: SaidRole, layout: SourceParts) -> None:
    """Add what is below a heading such as ``Danger`` or ``If there is pus`` to the step above it."""
    assert section.heading is not None
    if role is SaidRole.ALTERNATIVE:
        layout.steps[-1].sentences.extend(replace(head, role=role) for head in sentences_of(section.heading))
    else:
        layout.headings.extend(sentences_of(section.heading))
    for index, passage in section.content:
        layout.steps[-1].sentences.extend(replace(sentence, role=role) for sentence in sentences_of(passage))
        layout.steps[-1].passages.add(index)


def _lay_rest(section: _Section, layout: SourceParts) -> None:
    role = section.role if section.role is not Role.STEPS else Role.OPEN
    if section.heading is not None:
        announces = section.role not in (Role.OPEN, Role.END)
        (layout.headings if announces else layout.notes).extend(sentences_of(section.heading))
    goes_on = role is Role.OPEN and section.heading is None and layout.steps
    for index, passage in section.content:
        if passage.kind is PassageKind.ASIDE or goes_on:
            _add(layout, index, passage)
        else:
            layout.put(role, sentences_of(passage))

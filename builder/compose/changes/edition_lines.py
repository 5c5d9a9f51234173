"""One edition as lines: each thing that a reader is told, with the part it stands in and the field it is."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from builder.compose.view.outline import outline, step_blocks
from builder.compose.view.words import DEEDS, MORE_OF_DEED, SAID_OF_DEED, labelled, series, uncapital
from builder.edit.forms.field_words import words_of
from builder.load.program_words import gettext, noted
from builder.model.edition import ToldPart, told_parts
from builder.model.library import Library
from builder.model.pages import Procedure

PartKey = tuple[str, str]
"""Kind and id of a part, as editions name it."""


class EditionLine(NamedTuple):
    """One thing that is told: in which part, as which ``field`` (in a reader's words), and its ``text``."""

    part: PartKey
    field: str
    text: str


class EditionText(NamedTuple):
    """What an edition tells: the heading of each part in order, and all lines."""

    headings: Mapping[PartKey, str]
    lines: tuple[EditionLine, ...]


_PARTS = {
    "about": noted("About this procedure"),
    "before": noted("Before you start"),
    "kit": noted("Kit"),
    "order": noted("Order of the steps"),
    "local": noted("Local policy"),
    "translation": noted("Translation for the patient"),
    "terms": noted("Words explained"),
    "call": noted("Whom to call"),
}
_WORDS_OF_KIND = {"caution": noted("Caution"), "aftercare": noted("Aftercare")}
_LINK = re.compile(r"\[([^\]\n]*)\]\([a-z]+:([^)\n]*)\)")
"""Words with a link: what they lead to is told in brackets."""
_SHORT_DIGEST = 8
_OWNERS = {"evidence": "Citation", "pointers": "Pointer", "bands": "Band", "when": "When", "only_if": "OnlyIf"}
_FORMS = {
    "about": "procedure", "inside": "in", "using": "with", "start": "from", "locator": "at", "spot": "at",
    "body": "prose",
}  # fmt: skip


def edition_text(library: Library, procedure: Procedure) -> EditionText:
    """Return all that ``procedure`` tells a reader, and its sources as they are referred to."""
    numbers = {str(block.step.id): block.number for block in step_blocks(outline(procedure))}
    return text_of_parts(told_parts(library, procedure), numbers)


def text_of_parts(parts: Iterable[ToldPart], numbers: Mapping[str, str]) -> EditionText:
    """Return all that ``parts`` tell; ``numbers`` are those of the steps, by id."""
    headings: dict[PartKey, str] = {}
    lines: list[EditionLine] = []
    for part in parts:
        key = (part.kind, part.id)
        headings[key] = _heading(part, numbers)
        lines.extend(EditionLine(key, field, _LINK.sub(r"\1 (\2)", text)) for field, text in _lines(part) if text)
    return EditionText(headings, tuple(lines))


def _heading(part: ToldPart, numbers: Mapping[str, str]) -> str:
    if part.kind == "step":
        return (
            gettext("Step %(number)s: %(title)s", number=numbers[part.id], title=part.title)
            if part.id in numbers
            else part.title
        )
    if part.kind in _WORDS_OF_KIND:
        return labelled(gettext(_WORDS_OF_KIND[part.kind]), part.title)
    return gettext(_PARTS[part.kind])


def _lines(part: ToldPart) -> Iterator[tuple[str, str]]:
    if part.kind == "order":
        yield from _order(part.says, ())
    elif isinstance(part.says, dict):
        for key, value in part.says.items():
            yield from _field(_FORMS.get(part.kind, part.kind), key, value)
    else:
        for value in part.says:
            yield gettext(_PARTS[part.kind]), _row(value)


def _row(value: Any) -> str:
    """Return one line of a list: words, or a name with what belongs to it."""
    return (
        str(value) if not isinstance(value, list) else ", ".join(str(cell) for cell in value if cell not in ("", False))
    )


def _field(owner: str, key: str, value: Any) -> Iterator[tuple[str, str]]:
    """Yield ``(field, text)`` of what stands in one key, however it is built: nothing of it is left out."""
    label = gettext(words_of(owner, _FORMS.get(key, key)).label)
    if key == "actions":
        yield from ((label, _action(action)) for action in value)
    elif key == "figure":
        for fields, id, digest in value:
            yield from (
                (gettext("Figure %(id)s: %(field)s", id=id, field=field), text)
                for field, text in _fields("Figure", fields)
            )
            yield (
                gettext("Figure %(id)s: picture", id=id),
                gettext("the picture with the digest %(digest)s", digest=digest[:_SHORT_DIGEST]),
            )
    elif key == "dose":
        for dose in value:
            named = {name: text for name, text in dose.items() if name != "drug"}
            yield from (
                (gettext("Dose of %(dose)s: %(field)s", dose=dose["drug"], field=field), text)
                for field, text in _fields("Dose", named)
            )
            yield label, dose["drug"]
    elif key == "body":
        yield from ((label, block) for block in value.split("\n\n"))
    else:
        yield from ((label, text) for text in _texts(_OWNERS.get(key, ""), value))


def _fields(owner: str, fields: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in fields.items():
        yield from _field(owner, key, value)


def _texts(owner: str, value: Any) -> Iterator[str]:
    if isinstance(value, list):
        for part in value:
            yield from _texts(owner, part) if isinstance(part, dict) else (_row(part),)
    elif isinstance(value, dict):
        named = sorted(value.items(), key=lambda pair: pair[0] != "source")  # a source comes before what is said of it
        told = [
            (name, uncapital(gettext(words_of(owner, _FORMS.get(str(name), str(name))).label)), _row(text))
            for name, text in named
        ]
        yield ", ".join(text if name == "source" else labelled(label, text) for name, label, text in told)
    else:
        yield gettext("yes") if value is True else str(value)


def _action(action: Mapping[str, Any]) -> str:
    """Return an action with all that is said of it: ``place 2 × small swab, in inguinal canal``."""
    number = f"{action['number']} × " if action.get("number", 1) != 1 else ""
    told = uncapital(gettext(DEEDS[action["verb"]], what=number + series(action["objects"])))
    for key, value in action.items():
        name = _FORMS.get(key, key)
        if name in SAID_OF_DEED:
            told += gettext(SAID_OF_DEED[name])
        elif name in MORE_OF_DEED and key != "number":
            told += gettext(MORE_OF_DEED[name], value=series(value) if isinstance(value, list) else value)
    return told


def _order(sequence: Any, way: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Yield a line for each place in the order: by which way it is reached, and which step it is."""
    for entry in sequence:
        if entry["kind"] == "step":
            yield gettext("Order"), " > ".join((*way, entry["step"]))
            continue
        name = str(entry.get("title") or entry.get("choice") or entry["kind"])
        yield gettext("Order"), " > ".join((*way, f"{name}: {entry.get('when', entry['kind'])}"))
        inner = [("taken", entry["steps"])] if "steps" in entry else entry.get("between") or entry.get("branches") or ()
        for branch, steps in inner:
            yield from _order(steps, (*way, name, str(branch)))

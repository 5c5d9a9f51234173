"""What a draft proposed and nobody has confirmed, and what its source did not say."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds, finds_over_all
from builder.facts.claims import resting
from builder.facts.walk import pages
from builder.findings.message_words import counted, quoted
from builder.model.fields import NOT_SAID, Node, Proposable, is_not_said
from builder.model.library import Library
from builder.model.pages import Caution, Person, Step, When
from builder.place import Place, Text

_LONGEST = len(NOT_SAID)
_WITHIN = (Person, When)
"""Blocks within a page that hold texts of their own."""


@finds("proposed-not-confirmed", piecewise=True)
def not_confirmed(library: Library) -> Iterator[Hit]:
    """Yield each file with something that a draft proposed."""
    for page in _proposable(library):
        number = sum(action.proposed for action in page.actions) if isinstance(page, Step) else 0
        if not page.proposed and not number:
            continue
        hint = "Read it, put right what is wrong, then remove `proposed: true`, or run `prescrub draft confirm`."
        yield Hit(_first(page), _message(page, number), hint)


def _message(page: Proposable, number: int) -> str:
    actions = counted(number, "action")
    if not page.proposed:
        return f"{quoted(_name(page))} has {actions} that a draft proposed and nobody has confirmed"
    also = f" with {actions}" if number else ""
    return f"{quoted(_name(page))}{also} was proposed by a draft and is not yet confirmed"


def _first(page: Proposable) -> Place:
    if page.proposed or not isinstance(page, Step):
        return page.where.key("proposed")
    return next(action.where.key("proposed") for action in page.actions if action.proposed)


def _name(page: Proposable) -> str:
    if isinstance(page, Caution):
        return str(page.avoid if is_not_said(page.hazard) else page.hazard)
    return str(getattr(page, "title", page.id))


@finds("not-answered-yet", piecewise=True)
def not_said(library: Library) -> Iterator[Hit]:
    """Yield each value that only holds the place of what the source of a draft did not say."""
    for page in _proposable(library):
        for key, value in unsaid(page):
            message = f"{quoted(value)} is still the answer to {quoted(key)}"
            yield Hit(value.at, message, "Write the answer as you would say it.")


@finds_over_all("not-answered-yet")
def sources_not_said(library: Library) -> Iterator[Hit]:
    """Yield each use of a source whose record is still to be written."""
    for key, source in library.sources.items():
        if is_not_said(source.fields.get("title", "")):
            for _, use in resting(library).get(key, ()):
                message = f"{quoted(key)} is a source of which only the number is known"
                yield Hit(use.source.at, message, "Add its record to the sources.")


def unsaid(node: Node) -> Iterator[tuple[str, Text]]:
    """Yield every single text of a page that is not said, with its key; those of its owner and its times too."""
    for name, value in node.__dict__.items():
        kind = type(value)
        if kind is Text:
            if len(value) <= _LONGEST and is_not_said(value):
                yield _written(node, name), value
        elif kind in _WITHIN:
            yield from ((f"{_written(node, name)}: {inner}", text) for inner, text in unsaid(value))


def _written(node: Node, name: str) -> str:
    return str(type(node).model_fields[name].alias or name)


def _proposable(library: Library) -> Iterator[Proposable]:
    return (page for _, page in pages(library) if isinstance(page, Proposable))

"""Aftercare: what is done after the operation, with the times that were said."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from builder.draft.heard_names import CatalogueNames
from builder.draft.numbers import NUMBER, number_of_word
from builder.draft.proposal import ProposedAftercare, ProposedStep
from builder.draft.sentences import Sentence
from builder.draft.speech import letters_of, shortened_title, without_lead
from builder.edit.ids import Ids
from builder.model.fields import NOT_SAID

_TIME = rf"(?P<number>{NUMBER})[\s-]+(?P<unit>hour|day|week|month|minute)s?\b"
_FOR = re.compile(rf"\b(?:for|until|within)\s+(?:about |around |the first |at least )?{_TIME}", re.IGNORECASE)
_AT = re.compile(rf"\b(?:at|after|in)\s+(?:about |around )?{_TIME}", re.IGNORECASE)
_UNTIL = re.compile(r"\buntil\s+(?P<event>[a-z][^,.;]{2,50})", re.IGNORECASE)
_OUT = re.compile(r"\b(?:out|off|removed?|removal)\b", re.IGNORECASE)
_STAYS = re.compile(r"\b(?:stays?|left|leave|remains?|keep|kept)\b", re.IGNORECASE)
_GOES_ON = re.compile(r"^\W*(?:it|they|that|this|if|otherwise|because|so)\b", re.IGNORECASE)
_STEMS = {"hour": "h"}


def aftercare_of(sentences: Iterable[Sentence], names: CatalogueNames) -> tuple[ProposedAftercare, ...]:
    """Return an item for each sentence that says something new; one that goes on joins the item before it."""
    proposed: list[ProposedAftercare] = []
    ids = Ids()
    for sentence in sentences:
        if proposed and _GOES_ON.match(sentence.text) and not sentence.begins:
            proposed[-1] = _joined(proposed[-1], sentence.text)
            continue
        start, until = _times(sentence.text)
        item = next((mention.name for mention in names.mentions(sentence.text) if not mention.is_structure), "")
        out = bool(_OUT.search(sentence.text)) and bool(item)
        if out and start and not until:
            start, until = NOT_SAID, start
        concerns = item if item and until and (out or _STAYS.search(sentence.text)) else ""
        title = shortened_title(without_lead(sentence.text))
        whole = letters_of(title) == letters_of(sentence.text)
        proposed.append(
            ProposedAftercare(
                ids.new(title),
                title,
                start or NOT_SAID,
                until,
                sentence.at,
                sentence.heard_at,
                concerns,
                () if whole else (sentence.text,),
            )
        )
    return tuple(proposed)


def _joined(item: ProposedAftercare, text: str) -> ProposedAftercare:
    body = (f"{item.body[-1]} {text}",) if item.body else (text,)
    return replace(item, body=body)


def _times(text: str) -> tuple[str, str]:
    """Return from when and until when, as the format writes them; "" where the sentence does not say."""
    until = _FOR.search(text)
    at = _AT.search(text)
    event = _UNTIL.search(text)
    return _time(at), _time(until) or (event["event"].strip() if event else "")


def _time(match: re.Match[str] | None) -> str:
    if match is None:
        return ""
    number = number_of_word(match["number"])
    unit = match["unit"].lower()
    return f"{number} {_STEMS.get(unit, unit if number == 1 else f'{unit}s')}"


def staying(steps: tuple[ProposedStep, ...], items: set[str]) -> tuple[ProposedStep, ...]:
    """Return ``steps`` in which the last placing of each item that aftercare takes out says that it stays."""
    last_first = []
    for step in reversed(steps):
        actions = list(step.actions)
        for number, action in enumerate(actions):
            if action.verb == "place" and len(action.objects) == 1 and action.objects[0] in items:
                items = items - {action.objects[0]}
                if ("stays", True) not in action.more:
                    actions[number] = replace(action, more=(*action.more, ("stays", True)))
        last_first.append(replace(step, actions=tuple(actions)))
    return tuple(reversed(last_first))

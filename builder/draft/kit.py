"""The kit: what a list of things needed names, and what the actions use."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from builder.draft.actions import NO_OBJECT
from builder.draft.heard_names import NO_PART, CatalogueNames, looks_like_a_name
from builder.draft.numbers import NUMBER, number_of_word
from builder.draft.proposal import NotUnderstood, ProposedAction
from builder.draft.sentences import Sentence

_COUNT = re.compile(rf"(?:(?P<number>{NUMBER})\s*(?:x|×)?\s+|(?P<small>a|an)\s+)(?:\w+\s+)?$", re.IGNORECASE)
_BEHIND = re.compile(r"\s*(?:x|×|\(|:|,)\s*(?P<number>\d{1,2})\b(?!\s*\w)")
_PARTS = re.compile(r"[,;]|\band\b|\.(?:\s|$)")


_ANNOUNCED = re.compile(r".*\b(?:need|tray|trolley|table)\b", re.IGNORECASE)
"""What comes before the first thing: ``on the tray you need a blade``."""


def kit_of(lines: Iterable[Sentence], names: CatalogueNames) -> tuple[dict[str, int], list[NotUnderstood]]:
    """Return the items that the lines name, with their numbers, and what they name that is in no catalogue."""
    kit: dict[str, int] = {}
    strange: list[NotUnderstood] = []
    for line in lines:
        mentions = names.mentions(line.text)
        for one in mentions:
            if not one.is_structure:
                kit.setdefault(one.name, _number(line.text[: one.start], line.text[one.end :]))
        start = 0
        ends = [match.span() for match in _PARTS.finditer(line.text)]
        for end, following in [*ends, (len(line.text), 0)]:
            part = _ANNOUNCED.sub("", line.text[start:end])
            taken = any(one.start < end and start < one.end for one in mentions if not one.is_structure)
            words = [word for word in re.findall(r"[^\W\d_][\w-]*", part) if word.casefold() not in NO_PART]
            if not taken and words and len(words) <= 4 and not NO_OBJECT.intersection(map(str.casefold, words)):
                strange.append(NotUnderstood(" ".join(words[-3:]), line.at, looks_like="item"))
            start = following
        strange.extend(
            NotUnderstood(words, line.at, looks_like=kind)
            for _, words, kind in looks_like_a_name(line.text, mentions)
            if kind == "item" and not any(words in one.words or one.words in words for one in strange)
        )
    return kit, strange


def _number(before: str, behind: str) -> int:
    match = _COUNT.search(before)
    after = _BEHIND.match(behind)
    if match and match["number"]:
        return max(1, number_of_word(match["number"]))
    return max(1, int(after["number"])) if after else 1


def used(kit: Mapping[str, int], actions: Iterable[ProposedAction]) -> dict[str, int]:
    """Return ``kit`` with what the actions use and it does not name."""
    found = dict(kit)
    for action in actions:
        more = dict(action.more)
        if action.verb in ("place", "inject", "irrigate"):
            number = more.get("number", 1)
            for name in action.objects:
                found[name] = max(found.get(name, 1), number if isinstance(number, int) else 1)
        with_what = more.get("with")
        if isinstance(with_what, str):
            found.setdefault(with_what, 1)
    return found

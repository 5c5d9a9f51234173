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
_COUNT_AFTER = re.compile(r"\s*(?:x|×|\(|:|,)\s*(?P<number>\d{1,2})\b(?!\s*\w)")
_PARTS = re.compile(r"[,;]|\band\b|\.(?:\s|$)")


_ANNOUNCED = re.compile(r".*\b(?:need|tray|trolley|table)\b", re.IGNORECASE)
"""What comes before the first thing: ``on the tray you need a blade``."""


def kit_of(lines: Iterable[Sentence], names: CatalogueNames) -> tuple[dict[str, int], list[NotUnderstood]]:
    """Return the items that the lines name, with their numbers, and what they name that is not in a catalogue."""
    kit: dict[str, int] = {}
    strange: list[NotUnderstood] = []
    for line in lines:
        mentions = names.mentions(line.text)
        items = [mention for mention in mentions if not mention.is_structure]
        for item in items:
            kit.setdefault(item.name, _number(line.text[: item.start], line.text[item.end :]))
        start = 0
        ends = [match.span() for match in _PARTS.finditer(line.text)]
        for end, following in [*ends, (len(line.text), 0)]:
            part = _ANNOUNCED.sub("", line.text[start:end])
            taken = any(item.start < end and start < item.end for item in items)
            words = [word for word in re.findall(r"[^\W\d_][\w-]*", part) if word.casefold() not in NO_PART]
            if not taken and words and len(words) <= 4 and not NO_OBJECT.intersection(map(str.casefold, words)):
                strange.append(NotUnderstood(" ".join(words[-3:]), line.at, looks_like="item"))
            start = following
        strange.extend(
            NotUnderstood(words, line.at, looks_like=kind)
            for _, words, kind in looks_like_a_name(line.text, mentions)
            if kind == "item" and not any(words in known.words or known.words in words for known in strange)
        )
    return kit, strange


def _number(before: str, after: str) -> int:
    count = _COUNT.search(before)
    if count and count["number"]:
        return max(1, number_of_word(count["number"]))
    count = _COUNT_AFTER.match(after)
    return max(1, int(count["number"])) if count else 1


def used(kit: Mapping[str, int], actions: Iterable[ProposedAction]) -> dict[str, int]:
    """Return ``kit`` with what the actions use and it does not name."""
    whole = dict(kit)
    for action in actions:
        more = dict(action.more)
        if action.verb in ("place", "inject", "irrigate"):
            number = more.get("number", 1)
            for name in action.objects:
                whole[name] = max(whole.get(name, 1), number if isinstance(number, int) else 1)
        with_what = more.get("with")
        if isinstance(with_what, str):
            whole.setdefault(with_what, 1)
    return whole

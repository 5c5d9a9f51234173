"""Aftercare, what is done after the operation, with the times that were said; and the kit, what is needed for it."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from builder.draft.heard_names import NO_PART, CatalogueNames, looks_like_a_name
from builder.draft.new_names import NO_OBJECT
from builder.draft.proposal import NotUnderstood, ProposedAction, ProposedAftercare, ProposedStep
from builder.draft.sentences import Sentence
from builder.draft.speech import shortened_title, without_lead
from builder.draft.verbs import NUMBER, number_of_word
from builder.edit.ids import Ids
from builder.facts.times import hours_of
from builder.grouping import bare_letters
from builder.model.fields import NOT_SAID

_UNIT = r"(?P<unit>hour|day|night|week|fortnight|month|year|minute)s?\b"
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
_ORDINAL = rf"(?:{'|'.join(_ORDINALS)})"
_TIMES = re.compile(
    r"(?<![\w-])(?<!half )"
    r"(?:(?P<before>for|until|till|within|over|by|at|after|from|in|on|every|twice|once|a|the first|the next)\s+)?"
    r"(?:about |around |roughly |at least |up to |another |the )*"
    rf"(?:(?P<number>{NUMBER}|an?)(?:(?:\s*,\s*{NUMBER})*,?\s*(?:to|or|and|-|–)\s*{NUMBER})?[\s-]+{_UNIT}"
    rf"|(?P<unit_of>day|week|month)\s+(?P<nth>{NUMBER})\b"
    rf"|(?P<ordinal>{_ORDINAL})(?:\s*(?:to|or|and)\s*(?:the )?{_ORDINAL})?\s+"
    r"(?P<unit_nth>day|night|morning|week|month)\b"
    r"|(?P<morrow>(?:next|following) (?:day|morning)|tomorrow|in the morning|morning after|day after)\b"
    r"|(?P<at_once>tonight|today|(?:this|that|same|first) (?:night|evening|afternoon|day|morning))\b)",
    re.IGNORECASE,
)
"""Times as they are said: ``for six weeks``, ``day two``, ``the second or third day``, ``tonight``."""
_LASTS = frozenset({"for", "until", "till", "within", "over", "the first", "the next", "by"})
_OFTEN = frozenset({"every", "twice", "once", "a"})
_COMES = re.compile(
    r"\b(?:out|off|down|away|remov\w+|review\w*|clinic|film|scan\w*|check\w*|chang\w+|see|seen|back|home|up|"
    r"starts?|histology|results?|letter|wound|x-ray|appointment|follow\W?up)\b",
    re.IGNORECASE,
)
"""What happens at a time; other things last so long."""
_UNTIL = re.compile(r"\b(?:until|till)\s+(?P<event>[a-z][^,.;]{2,50})", re.IGNORECASE)
_OUT = re.compile(r"\b(?:out|off|removed?|removal)\b", re.IGNORECASE)
_DAY_OUT = re.compile(
    rf"[^,;.]*\b(?:out|off|removed|changed)\s+(?:at|on|by|after)\s+(?:day\s+)?(?P<number>{NUMBER})\b(?=\s*(?:$|[.;]|,(?!\s*{NUMBER})))",
    re.IGNORECASE,
)
"""``Clips out at fourteen``: what comes out is told in days, whatever the next clause tells in weeks."""
_STAYS = re.compile(r"\b(?:stays?|left|leave|remains?|keep|kept)\b", re.IGNORECASE)
_GOES_ON = re.compile(r"^\W*(?:it|they|that|this|if|otherwise|because|so)\b", re.IGNORECASE)
_STEMS = {"hour": "h", "night": "day", "morning": "day"}


def aftercare_of(sentences: Iterable[Sentence], names: CatalogueNames) -> tuple[ProposedAftercare, ...]:
    """Return an item for each sentence that says something new; one that goes on joins the item before it."""
    proposed: list[ProposedAftercare] = []
    ids = Ids()
    for sentence in sentences:
        if proposed and _GOES_ON.match(sentence.text) and not sentence.begins:
            proposed[-1] = _joined(proposed[-1], sentence.text)
            continue
        start, until = times_said(sentence.text)
        item = next((mention.name for mention in names.mentions(sentence.text) if not mention.is_structure), "")
        out = bool(_OUT.search(sentence.text)) and bool(item)
        if out and start and not until:
            start, until = NOT_SAID, start
        concerns = item if item and until and (out or _STAYS.search(sentence.text)) else ""
        title = shortened_title(without_lead(sentence.text))
        whole = bare_letters(title) == bare_letters(sentence.text)
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


def times_said(text: str) -> tuple[str, str]:
    """Return from when and until when, as the format writes them; "" where the sentence does not say."""
    start = until = ""
    if days := _DAY_OUT.match(text):
        return f"{number_of_word(days['number'])} days", ""
    for match in _TIMES.finditer(text):
        before = (match["before"] or "").lower()
        if before in _OFTEN or re.search(r"\b(?:every|times|twice|once|per)\W+$", text[: match.start()], re.IGNORECASE):
            continue
        lasts = before in _LASTS or (not before and bool(match["number"]) and not _COMES.search(text))
        if lasts and not match["at_once"]:
            until = until or _time(match)
        else:
            start = start or _time(match)
    event = _UNTIL.search(text)
    ends, begins = hours_of(until), hours_of(start)
    if ends is not None and begins is not None and ends < begins:
        until = ""  # it lasts so long, or is done within it: not that it ends before it begins
    return start, until or (event["event"].strip() if event else "")


def _time(match: re.Match[str]) -> str:
    """Return a time as the format writes it."""
    if match["at_once"]:
        return "0 h"
    if match["morrow"]:
        return "1 day"
    ordinal = (match["ordinal"] or "").lower()
    number = _ORDINALS.index(ordinal) + 1 if ordinal else number_of_word(match["number"] or match["nth"]) or 1
    unit = (match["unit"] or match["unit_of"] or match["unit_nth"]).lower()
    if unit in ("fortnight", "year"):
        number, unit = (number * 2, "week") if unit == "fortnight" else (number * 12, "month")
    shown = _STEMS.get(unit, unit)
    return f"{number} {shown}" if shown == "h" or number == 1 else f"{number} {shown}s"


def staying(
    steps: tuple[ProposedStep, ...], items: set[str], for_good: Callable[[str], bool]
) -> tuple[ProposedStep, ...]:
    """Return ``steps`` in which the last placing of each item that aftercare takes out says that it stays, and each of
    what is ``for_good`` and no step takes out."""
    taken_out = {
        name for step in steps for action in step.actions if action.verb == "remove" for name in action.objects
    }
    last_first = []
    for step in reversed(steps):
        actions = list(step.actions)
        for number, action in enumerate(actions):
            if action.verb != "place" or len(action.objects) != 1:
                continue
            (name,) = action.objects
            if name in items or (for_good(name) and name not in taken_out):
                items = items - {name}
                if ("stays", True) not in action.more:
                    actions[number] = replace(action, more=(*action.more, ("stays", True)))
        last_first.append(replace(step, actions=tuple(actions)))
    return tuple(reversed(last_first))


_SIZE = r"(?:oh|o|nought|zero|french|fr|ch|gauge|mils?|ml|mm|cm|centimetres?|millimetres?|inch(?:es)?)\b"
"""What makes a size of a number: ``a five oh nylon`` is one, and so is a ten French drain."""
_COUNT = re.compile(rf"(?:(?P<number>{NUMBER})\s*(?:x|×)?\s+|(?P<small>a|an)\s+)(?:(?!{_SIZE})\w+\s+)?$", re.IGNORECASE)
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
                strange.append(NotUnderstood(" ".join(words[-3:]), line.at))
            start = following
        strange.extend(
            NotUnderstood(words, line.at)
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

"""Coverage as text: one line for each thing that checks looked at, or only for what they could not look at."""

from collections.abc import Iterator, Mapping
from typing import Any

from builder.commands.formats.terminal import one_line
from builder.findings.message_words import listed

MOST = 10
"""Procedures of which the gaps are told without being asked for."""


LOOKED_AT = {
    "step": "steps that say what is done",
    "described step": "steps with text beside their actions",
    "name": "names of steps, cautions, structures and items",
    "citation": "citations of sources",
    "statement": "statements looked at for a source",
    "caution": "cautions",
    "way through": "ways through the operation",
    "cut": "cuts, clamps, ties and seals",
    "divided vessel": "vessels divided",
    "placed item": "items put in",
    "opened layer": "layers opened",
    "count": "counts aloud",
    "item of the kit": "items on the kit list",
    "named side": "mentions of left or right",
    "dose": "doses",
    "aftercare item": "aftercare items",
    "critical step": "critical steps",
    "figure": "figures",
    "approval": "approvals",
    "issued code": "codes issued",
    "named person": "owner and approver named",
    "part of a draft": "parts that a draft proposed",
    "translated sentence": "sentences of patient's sheets in other languages",
    "text": "texts read for odd characters and names of patients",
    "title": "titles",
    "abbreviation": "abbreviations",
    "number": "numbers and units",
}
"""By the name of what is counted: what was looked at, in the words of a clinician."""


def whole(coverage: Mapping[str, Any]) -> str:
    """Return all that was looked at, by procedure."""
    return "".join(f"\n{one_line(id)}\n" + "".join(f"  {line}\n" for line in _all(of)) for id, of in coverage.items())


def _all(of: Mapping[str, Any]) -> Iterator[str]:
    everything = {name: counted for things in of["looked_at"].values() for name, counted in things.items()}
    for name, counted in everything.items():
        yield f"{LOOKED_AT[name]}: {_amount(name, counted, of['steps'])}"
    yield from of["told"]


def _amount(name: str, counted: Mapping[str, int], steps: int) -> str:
    number, within = counted["number"], counted["steps"]
    if not number:
        return "none, so nothing was checked"
    if name.endswith("step"):
        return f"{number} of {steps}"
    return f"{number}, in {within} of {steps} steps" if within else str(number)


def gaps(coverage: Mapping[str, Any]) -> str:
    """Return what could not be looked at, a line for each procedure; "" where everything could."""
    lines = [f"{one_line(id)}: {told}." for id, of in coverage.items() if (told := "; ".join(_gaps(of)))]
    if not lines:
        return ""
    if len(lines) > MOST:
        lines[MOST:] = [f"and {len(lines) - MOST} more procedures."]
    return "\nNot checked (all of it: prescrub check --coverage)\n" + "".join(f"  {line}\n" for line in lines)


def _gaps(of: Mapping[str, Any]) -> Iterator[str]:
    if of["steps_without_actions"]:
        yield str(of["told"][0])
    if of["nothing_to_look_at"]:
        yield "there is no " + listed(of["nothing_to_look_at"], "or")

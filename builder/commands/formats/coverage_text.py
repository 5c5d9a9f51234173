"""Coverage as text: one line for each thing that checks looked at, or only for what they could not look at."""

from collections.abc import Iterator, Mapping
from typing import Any

from builder.commands.formats.terminal import one_line
from builder.findings.message_words import listed

MOST = 10
"""Procedures of which the gaps are told without being asked for."""


def whole(coverage: Mapping[str, Any]) -> str:
    """Return all that was looked at, by procedure."""
    return "".join(f"\n{one_line(id)}\n" + "".join(f"  {line}\n" for line in _all(of)) for id, of in coverage.items())


def _all(of: Mapping[str, Any]) -> Iterator[str]:
    for family, things in of["looked_at"].items():
        for counted in things.values():
            yield f"{family}: {counted['words']}{'' if counted['number'] else ', so nothing was checked'}"
    yield from of["told"]


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

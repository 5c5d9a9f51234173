"""What a rule yields, and how it says which finding of the register it makes."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from typing import NamedTuple

from builder.findings.finding import Finding, SecondPlace, Severity
from builder.findings.message_words import quoted
from builder.findings.register import CHECKED, REGISTER
from builder.model.library import Library
from builder.place import NOWHERE, Place


class Hit(NamedTuple):
    """One thing a check found; ``severity`` only where it differs from that of the register."""

    at: Place
    message: str
    hint: str
    also: tuple[SecondPlace, ...] = ()
    path: tuple[str, ...] = ()
    severity: Severity | None = None


Rule = Callable[[Library], Iterator[Hit]]


@dataclass(frozen=True, slots=True)
class Check:
    """A rule and the name of what it finds.

    ``piecewise``: what ``rule`` finds in a Library is what it finds in each of its procedures alone, one after the
    other. What it would need to see several of them for is left to the rule ``over_all``.
    """

    name: str
    rule: Rule
    piecewise: bool
    over_all: Rule | None = None

    def run(self, library: Library) -> Iterator[Finding]:
        """Yield the findings of this check."""
        usual = REGISTER[self.name].severity
        for hit in chain(self.rule(library), self.over_all(library) if self.over_all else ()):
            # What only the common catalogue has stands nowhere in the department: there is nothing to go to.
            also = tuple(second for second in hit.also if second.at != NOWHERE)
            yield Finding(self.name, hit.severity or usual, hit.at, hit.message, hit.hint, also, hit.path)


RULED: dict[str, Check] = {}
"""The checks by name, filled while the modules of ``rules/`` are imported; ``table`` puts them in order."""


def finds(name: str, *, piecewise: bool = False) -> Callable[[Rule], Rule]:
    """Say that a rule makes the finding ``name``, which is in the register and has no other rule."""
    if name not in CHECKED:
        raise ValueError(f"{quoted(name)} is not a check in the register of findings")
    if name in RULED:
        raise ValueError(f"two rules find {quoted(name)}")

    def connect(rule: Rule) -> Rule:
        RULED[name] = Check(name, rule, piecewise)
        return rule

    return connect


def finds_over_all(name: str) -> Callable[[Rule], Rule]:
    """Say that a rule makes what a piecewise rule of ``name`` cannot: it sees the whole Library every time."""

    def connect(rule: Rule) -> Rule:
        if name not in RULED:
            raise ValueError(f"no rule finds {quoted(name)} in one procedure")
        RULED[name] = replace(RULED[name], over_all=rule)
        return rule

    return connect

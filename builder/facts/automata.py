"""Automata and what moves them.

An automaton has states 0, 1, 2 ... and starts in one of them. What is known of it is the set of states it can be in,
written as the bits of one whole number: bit 3 is set where state 3 is possible. A counter is an automaton whose state
is the number itself, so "1 or 4 swabs are in" is ``0b10010``.
"""

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, NamedTuple, TypeVar

from builder.model.action import Action
from builder.model.pages import Item, Step, Structure
from builder.place import Place, Text

T = TypeVar("T")

Facts = list[int]
"""What is known of every automaton of a procedure, by its number."""


class Code(IntEnum):
    """What an operation does to automaton ``key``."""

    CHECK = 0  # arg: the states that are wrong
    PUT = 1  # arg: the state it is in from here on
    ADD = 2  # arg: how many are added to a counter
    TAKE = 3  # arg: how many are taken off; a counter never falls below 0
    MOVE = 4  # arg: a Table
    COPY = 5  # arg: the automaton whose state it takes over


_PUT, _ADD, _TAKE, _MOVE = Code.PUT, Code.ADD, Code.TAKE, Code.MOVE


class Deed(NamedTuple):
    """One action on one thing in one step: what a finding about it names. ``name`` is the thing as it is written."""

    step: Step
    action: Action
    name: Text

    @property
    def at(self) -> Place:
        """The place where the thing is written."""
        return self.name.at


class Condition(NamedTuple):
    """What a check is about: the ``rule`` (its id), the thing, the side, and the deed at which it is made."""

    rule: str
    deed: Deed | None = None
    structure: Structure | None = None
    item: Item | None = None
    side: str = "M"
    what: str = ""
    at: Place | None = None
    step: Step | None = None
    number: int = 0
    limit: int = 0


class Op(NamedTuple):
    """One operation on one automaton. ``deed`` says which action does it, ``check`` what is wrong when it fails."""

    code: Code
    key: int
    arg: Any
    deed: Deed | None = None
    check: Condition | None = None


class Table:
    """How each state of an automaton moves: ``states[old]`` is the new one."""

    __slots__ = ("_sets", "states")

    def __init__(self, *states: int) -> None:
        self.states = states
        self._sets: dict[int, int] = {}

    def of_set(self, possible: int) -> int:
        """Return the states possible after the move where ``possible`` were before."""
        found = self._sets.get(possible)
        if found is None:
            found = 0
            for state, new in enumerate(self.states):
                if possible >> state & 1:
                    found |= 1 << new
            self._sets[possible] = found
        return found


@dataclass(slots=True)
class Keys:
    """The automata of one procedure, numbered as they are first asked for. Each starts in state 0."""

    numbers: dict[tuple[str, ...], int] = field(default_factory=dict)

    def __call__(self, *name: str) -> int:
        """Return the number of the automaton called ``name``."""
        return self.numbers.setdefault(name, len(self.numbers))

    def start(self) -> Facts:
        """Return the facts before the first step."""
        return [1] * len(self.numbers)


def known(value: T | None) -> T:
    """Return ``value``, which the check in question always carries."""
    assert value is not None
    return value


def more_than(number: int) -> int:
    """Return the set of all numbers above ``number``, as wrong states of a counter."""
    return -1 << max(0, number + 1)


def less_than(number: int) -> int:
    """Return the set of all numbers below ``number``."""
    return (1 << number) - 1


def move_set(op: Op, facts: Facts | dict[int, int]) -> None:
    """Apply an operation (no check) to what is known."""
    code, key, arg = op.code, op.key, op.arg
    if code is _MOVE:
        facts[key] = arg.of_set(facts[key])
    elif code is _PUT:
        facts[key] = 1 << arg
    elif code is _ADD:
        facts[key] <<= arg
    elif code is _TAKE:
        possible = facts[key]
        facts[key] = possible >> arg | (1 if possible & less_than(arg) else 0)
    else:
        facts[key] = facts[arg]

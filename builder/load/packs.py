"""The wording packs and pairing rules of the builder: data, each rule with its list, edition and date read."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from pydantic import TypeAdapter

_FOLDER = Path(__file__).parent.parent / "check" / "packs"


@dataclass(frozen=True, slots=True)
class WordingList:
    """A published list: ``short`` and full ``title``, ``edition``, the day it was ``read``, and ``how`` it was read."""

    short: str
    title: str
    edition: str
    read: str
    how: str


@dataclass(frozen=True, slots=True)
class WordingRule:
    """One way not to write. ``found`` are the writings, or ``form`` names one; ``write`` is what to write instead.

    ``one`` is ``write`` after the number 1. ``unless_per`` are units after a slash that make it a laboratory value.
    """

    pack: str
    check: str
    list: str
    why: str
    found: tuple[str, ...] = ()
    form: str = ""
    write: str = ""
    one: str = ""
    mend: bool = False
    unless_per: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Pack:
    """The wording rules of one country, by what they apply to; keys are the writings not to use, or names of forms."""

    name: str
    title: str
    languages: tuple[str, ...]
    lists: Mapping[str, WordingList]
    units: Mapping[str, WordingRule]
    after_dose: Mapping[str, WordingRule]
    words: Mapping[str, WordingRule]
    forms: Mapping[str, WordingRule]

    def source(self, rule: WordingRule) -> str:
        """Return the list that ``rule`` rests on, in short; the pack says which edition was read, when and how."""
        return self.lists[rule.list].short


@dataclass(frozen=True, slots=True)
class Pairing:
    """What goes with what: see ``goes_with.yml``."""

    id: str
    say: str
    write: str
    when: frozenset[str] = frozenset()
    needs: frozenset[str] = frozenset()
    kind: str = ""
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fence:
    """Between ``low`` and ``high`` (milligrams, or units) a single adult dose is plausible. It is not a limit."""

    low: str
    high: str
    unit: str


# The safe loader in C, where PyYAML was built with it: the lists are read on every run.
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@cache
def _read(name: str) -> Any:
    return yaml.load((_FOLDER / name).read_text(encoding="utf-8"), _LOADER)  # noqa: S506


@cache
def pack(name: str) -> Pack:
    """Return the wording pack ``name``, such as ``uk``."""
    data, read = _read(f"{name}.yml"), TypeAdapter(WordingRule)

    def rules(section: str) -> Mapping[str, WordingRule]:
        by_writing = {}
        for entry in data.get(section, ()):
            rule = read.validate_python(entry | {"pack": name})
            by_writing.update(dict.fromkeys(rule.found or (rule.form,), rule))
        return by_writing

    lists = {key: WordingList(**values | {"read": str(values["read"])}) for key, values in data["lists"].items()}
    sections = (rules("units"), rules("after_dose"), rules("words"), rules("forms"))
    return Pack(name, data["title"], tuple(data["languages"]), lists, *sections)


@cache
def pairings() -> tuple[Pairing, ...]:
    """Return the rules of what goes with what."""
    entries = [entry for entry in _read("goes_with.yml")["lists"] if "checked_by" not in entry]
    return TypeAdapter(tuple[Pairing, ...]).validate_python(entries)


@cache
def fences() -> Mapping[str, Fence]:
    """Return, by drug, the bounds between which a single adult dose is plausible."""
    by_drug = {}
    for entry in _read("fences.yml")["drugs"]:
        fence = Fence(str(entry["low"]), str(entry["high"]), entry.get("unit", "mg"))
        by_drug.update(dict.fromkeys(entry["names"], fence))
    return by_drug


@cache
@cache
def words(topic: str, name: str) -> frozenset[str]:
    """Return the word list ``name`` of ``topic`` in ``words.yml``."""
    return frozenset(_read("words.yml")[topic][name].split())

"""pydantic validates, and never speaks: what it says is turned into plain words at the place of the value.

It finds all defects of a file in one pass and generates the JSON Schema that editors use. Its messages would help no
surgeon. The verb of an action and the kind of a sequence entry are folded into one key before validation
(``model/action.py``, ``model/sequence.py``), so one schema is selected and no either/or error can appear.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from builder.findings.finding import Finding
from builder.findings.message_words import counted, listed, mend, near, quoted
from builder.findings.register import finding
from builder.model.action import VERBS, WRITTEN
from builder.model.json_schema import keys_at
from builder.place import WHERE_KEY, Place, Text, Where


def _about(key: str, name: str, at: Place, message: str, hint: str) -> Finding:
    return replace(finding(name, at, message, hint), key=key)


def findings_of(error: ValidationError, value: Any, start: Place, kind: str) -> list[Finding]:
    """Return a finding for each defect in ``error``, placed in ``value``, the tree that was validated.

    ``start`` is where the file begins; ``kind`` is the kind of file, for near misses of keys.
    """
    details = [(detail, _Spot(value, start).walk(detail["loc"])) for detail in error.errors(include_url=False)]
    unknown = [spot for detail, spot in details if detail["type"] == "extra_forbidden"]
    misspelt = {(tuple(spot.path[:-1]), near(spot.key, keys_at(kind, tuple(spot.path[:-1])))) for spot in unknown}
    findings: dict[tuple[Place, str], Finding] = {}
    for detail, spot in details:
        # A key that is missing because it was misspelt is one defect, not two.
        if detail["type"] == "missing" and (tuple(spot.path), spot.asked) in misspelt:
            continue
        defect = _finding(detail, spot, kind)
        findings.setdefault((defect.at, defect.name), defect)
    return list(findings.values())


def _finding(detail: ErrorDetails, spot: _Spot, file_kind: str) -> Finding:
    kind = detail["type"]
    if kind == "extra_forbidden":
        return _unknown_key(spot, file_kind)
    if kind == "nick":
        message = f"'nick' can only be used with 'open'; this action is {quoted(detail['ctx']['found'])}"
        return _about("nick", "action-unclear", spot.at, message, "Write `open` for the small cut, or remove `nick`.")
    if kind in ("missing", "verb"):
        return _verb(detail, spot) if kind == "verb" else _missing(detail, spot)
    if kind == "entry" or kind.startswith("union_tag"):
        return _entry(detail, spot)
    no_list = kind == "tuple_type" and detail["input"] == ""
    if kind == "blank" or no_list or detail["input"] is None:
        hint = f"Write the {'list (`[]` if there is nothing)' if no_list else 'value'}, or remove the key."
        return _about(spot.key, "value-empty", spot.at, f"{quoted(spot.key)} is empty", hint)
    expected, hint = _expected(detail)
    message = f"{_shown(detail['input'])} is not {expected} ({spot.key})"
    return _about(spot.key, "value-not-allowed", spot.at, message, hint)


def _missing(detail: ErrorDetails, spot: _Spot) -> Finding:
    if isinstance(detail["loc"][-1], int):  # of a list that has a fixed length, such as the two numbers of a place
        message = f"{_shown(detail['input'])} is too short ({spot.key})"
        return _about(spot.key, "value-not-allowed", spot.at, message, "Add the missing items.")
    message = f"{quoted(spot.asked)} is missing{spot.below}"
    return _about(spot.asked, "key-missing", spot.at, message, f"Add a line `{spot.asked}: ...`.")


class _Spot:
    """Follows a location of the validator through the tree that was written."""

    def __init__(self, value: Any, start: Place) -> None:
        self.value = value
        self.at = self.key_at = start
        self.key = ""
        self.asked = ""
        self.path: list[str | int] = []

    def walk(self, location: tuple[int | str, ...]) -> _Spot:
        for part in location:
            self._step(part)
        return self

    @property
    def below(self) -> str:
        return f" below {quoted(self.key)}" if self.key else ""

    def _step(self, part: int | str) -> None:
        if isinstance(part, int):
            self.path.append(part)
            if isinstance(self.value, list) and part < len(self.value):
                self.value = self.value[part]
                self.at = self._start(self.at)
            return
        self.asked = part
        key = self._written(part)
        if key is None:
            return
        where: Where = self.value[WHERE_KEY]
        self.key = key
        self.path.append(key)
        self.value = self.value[key]
        self.key_at = where.key(key)
        self.at = where.value(key) if self.value is not None else self.key_at

    def _written(self, part: str) -> str | None:
        """Return the key as written for the model's name ``part``; None for a part that was never written."""
        if not isinstance(self.value, dict) or WHERE_KEY not in self.value:
            return None
        back = {name: word for word, name in WRITTEN.items()} | {"locator": "at"}
        for name in (part.rstrip(), back.get(part, "")):
            if name in self.value:
                return name
        if part in ("objects", "verb"):
            return next((key for key in self.value if key in VERBS), None)
        return None

    def _start(self, fallback: Place) -> Place:
        if isinstance(self.value, Text):
            return self.value.at
        if isinstance(self.value, dict) and WHERE_KEY in self.value:
            return self.value[WHERE_KEY].start  # type: ignore[no-any-return]  # only Where is ever kept there
        return fallback


def _unknown_key(spot: _Spot, kind: str) -> Finding:
    known = keys_at(kind, tuple(spot.path[:-1]))
    hint = mend(spot.key, known, f"Remove it, or use one of: {', '.join(sorted(known))}.")
    return _about(spot.key, "key-unknown", spot.key_at, f"{quoted(spot.key)} is not a known key here", hint)


def _verb(detail: ErrorDetails, spot: _Spot) -> Finding:
    if verbs := detail["ctx"]["found"]:
        hint = "Write each verb as an action of its own, with its own dash."
        return finding("action-unclear", spot.at, f"this action has more than one verb: {verbs}", hint)
    keys = [str(key) for key in spot.value if key != WHERE_KEY]
    alike = next((verb for key in keys if (verb := near(key, VERBS))), None)
    hint = f"Write `{alike}`." if alike else f"Start the action with one of: {', '.join(VERBS)}."
    return finding("action-unclear", spot.at, f"{quoted(', '.join(keys) or 'this action')} is not an action verb", hint)


def _entry(detail: ErrorDetails, spot: _Spot) -> Finding:
    keys = detail.get("ctx", {}).get("found")
    written = quoted(keys) if keys else _shown(detail["input"])
    hint = "Write a step's id, or one of `choose:`, `option:`, `follow:` with its keys indented below it."
    return finding("sequence-entry-unclear", spot.at, f"{written} is not a sequence entry", hint)


_Describe = Callable[[ErrorDetails], tuple[str, str]]


def _choices(detail: ErrorDetails) -> tuple[str, str]:
    words = re.findall("'([^']+)'", str(detail["ctx"]["expected"]))
    return f"one of: {listed(map(quoted, words), 'or')}", mend(str(detail["input"]), words, "Write one of these words.")


def _bound(detail: ErrorDetails) -> tuple[str, str]:
    words = {"greater_than_equal": "{ge} or more", "less_than_equal": "{le} or less"}
    expected = words[detail["type"]].format(**detail["ctx"])
    return expected, f"Write a number that is {expected}."


def _length(detail: ErrorDetails) -> tuple[str, str]:
    least, most = detail["ctx"].get("min_length"), detail["ctx"].get("max_length")
    if least is None:
        return f"short enough: the limit is {most}", f"Write no more than {most}."
    hint = "Add what is missing, or remove the key." if least == 1 else "Add what is missing."
    return f"long enough: at least {least} {'is' if least == 1 else 'are'} needed", hint


_EXPECTED: dict[str, tuple[str, str] | _Describe] = {
    "enum": _choices,
    "literal_error": _choices,
    "greater_than_equal": _bound,
    "less_than_equal": _bound,
    "is_instance_of": ("text", "Write it as text on one line, in double quotes if it contains a colon."),
    **dict.fromkeys(("bool_parsing", "bool_type"), ("true or false", "Write `true` or `false`.")),
    **dict.fromkeys(("int_parsing", "int_type"), ("a whole number", "Write a whole number in digits.")),
    "int_parsing_size": ("a whole number of a sensible size", "Write a smaller number."),
    **dict.fromkeys(
        ("decimal_parsing", "decimal_type"), ("a number", "Write a number in digits, with a point before the decimals.")
    ),
    "finite_number": ("a number", "Write a number in digits."),
    "tuple_type": ("a list", "Write each item on a line of its own with a dash, or in [brackets]."),
    **dict.fromkeys(
        ("mapping_type", "dict_type", "model_type", "model_attributes_type"),
        ("a block of `key: value` lines", "Write `key: value` lines, indented below the key."),
    ),
    "too_short": _length,
    "too_long": _length,
}


def _expected(detail: ErrorDetails) -> tuple[str, str]:
    kind = detail["type"]
    if kind.startswith("date"):
        return "a calendar date", "Write year-month-day, for example 2028-05-31."
    expected = _EXPECTED.get(kind, ("a value that is allowed here", "Compare it with the manual's page on the format."))
    return expected(detail) if callable(expected) else expected


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        written = len([key for key in value if key != WHERE_KEY])
        return f"a block of {counted(written, '`key: value` line')}"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    return quoted(str(value)[:60])

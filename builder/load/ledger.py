"""The ledger, as it is read: ``ledger/issued.jsonl``, one line a code that was issued, and ``ledger/approved.jsonl``,
one line an approval; each line stands alone.

A line is a JSON object. It names everything the status page of its code needs for ever, even when the procedure is long
gone: procedure, title, edition, the day it was issued, its review date, the hash of its content, and a short digest of
each part with the number and title that stand on the printed card. ``seal`` is a digest of the rest of the line: it
shows a mistake of an editor or of a merge, not a forger. The order of lines means nothing, so git unites two branches
by keeping the lines of both, and a page can name what changed as the old card names it. What a code answers follows
from the ledger, not from the text being written: the edition issued last is current until another is issued or the
procedure is withdrawn. No source is recorded: a part whose digest is today's has the sources of today, any other is
named as one to look at.

A line of an approval names who gave it, in which role, and every part that was approved, with the signature where the
department has keys (``load/signature.py``). What is approved now follows from ``approval:`` in the procedure; these
lines are the record, so that a later approver can be told what changed.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.files import read_text
from builder.load.limits import MAX_SOURCES_BYTES
from builder.place import NOWHERE, Place

NAME, APPROVED_NAME = "ledger/issued.jsonl", "ledger/approved.jsonl"
FORM = 1
UNSIGNED = "unsigned"
_SEAL_LENGTH = 10
_TEXTS = {
    NAME: ("code", "procedure", "title", "edition", "issued", "content"),
    APPROVED_NAME: ("procedure", "title", "edition", "by", "role", "approved", "content", "signature"),
}
_DAYS = {NAME: "issued", APPROVED_NAME: "approved"}
_MAY_BE_NULL = "review_by"


class IssuedPart(NamedTuple):
    """A part of an issued edition: its ``kind`` (step, caution, kit ...) and ``id``, the ``number`` and ``title`` that
    stand on paper, and its short ``digest``."""

    kind: str
    id: str
    number: str
    title: str
    digest: str


@dataclass(frozen=True, slots=True)
class Issued:
    """One issued code. ``on`` is the day it was issued, ``review_by`` the day printed on it, ``content`` the hash that
    was approved; ``at`` is its place in the ledger (NOWHERE where it has not been written yet)."""

    code: str
    procedure: str
    title: str
    edition: str
    on: date
    review_by: date | None
    content: str
    parts: tuple[IssuedPart, ...]
    at: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class Approved:
    """One approval: ``by`` whom, in which ``role``, of which ``content`` and ``parts``, and its ``signature`` (UNSIGNED
    where the approver used no key)."""

    procedure: str
    title: str
    edition: str
    by: str
    role: str
    on: date
    content: str
    parts: tuple[IssuedPart, ...]
    signature: str = UNSIGNED
    at: Place = NOWHERE


@dataclass(frozen=True, slots=True)
class LedgerFault:
    """A line that cannot be used, or (``altered``) one that is not as it was written."""

    at: Place
    message: str
    altered: bool = False


@dataclass(frozen=True, slots=True)
class Ledger:
    """All issued codes and all approvals, in the order of their lines, and the lines that are faulty.

    A code that two branches issued is listed once, with the earlier day.
    """

    issued: tuple[Issued, ...] = ()
    faults: tuple[LedgerFault, ...] = ()
    approved: tuple[Approved, ...] = ()

    def find(self, code: str) -> Issued | None:
        """Return the line of ``code``, or None where it was never issued."""
        return next((issued for issued in self.issued if issued.code == code), None)

    def of(self, procedure: str) -> tuple[Issued, ...]:
        """Return what was issued for ``procedure``."""
        return tuple(issued for issued in self.issued if issued.procedure == procedure)

    def approvals_of(self, procedure: str) -> tuple[Approved, ...]:
        """Return the approvals of ``procedure``, by day."""
        return tuple(sorted((one for one in self.approved if one.procedure == procedure), key=lambda one: one.on))


def read_ledger(root: Path) -> Ledger:
    """Return the ledger of the department in ``root``; an empty one where nothing was written yet. Never raises."""
    issued, approved = (_read(root, name) for name in (NAME, APPROVED_NAME))
    return Ledger(issued.issued, (*issued.faults, *approved.faults), approved.approved)


def _read(root: Path, name: str) -> Ledger:
    if not (root / name).is_symlink() and not (root / name).exists():
        return Ledger()
    try:
        return ledger_of(read_text(root, name, MAX_SOURCES_BYTES), name)
    except Refused as refusal:
        return Ledger(faults=(LedgerFault(refusal.finding.at, refusal.finding.message),))


def ledger_of(text: str, name: str = NAME) -> Ledger:
    """Return the ledger that is written in ``text``, which stands in the file ``name``."""
    issued: dict[str, Issued] = {}
    approved: dict[tuple[str, str, str, date], Approved] = {}
    faults: list[LedgerFault] = []
    # Not splitlines(): a title may contain a line separator that JSON leaves as it is.
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        read = _read_line(line, Place(name, number))
        if isinstance(read, LedgerFault):
            faults.append(read)
        elif isinstance(read, Approved):
            approved.setdefault((read.procedure, read.by, read.content, read.on), read)
        elif read.code not in issued or read.on < issued[read.code].on:
            issued[read.code] = read
    return Ledger(tuple(issued.values()), tuple(faults), tuple(approved.values()))


def line_of(written: Issued | Approved) -> str:
    """Return the line of the ledger for ``written``, without its end."""
    values = _values_of(written)
    return _json({**values, "seal": _seal(values)})


def signed_text(approved: Approved) -> str:
    """Return what the signature of ``approved`` is made over: its line without signature and seal."""
    return _json({key: value for key, value in _values_of(approved).items() if key != "signature"}, sort_keys=True)


def _values_of(written: Issued | Approved) -> dict[str, Any]:
    day = _DAYS[APPROVED_NAME if isinstance(written, Approved) else NAME]
    named = {field.name: getattr(written, field.name) for field in fields(written) if field.name != "at"}
    return {"form": FORM} | {day if name == "on" else name: value for name, value in named.items()}


def _json(values: Any, sort_keys: bool = False) -> str:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"), sort_keys=sort_keys, default=str)


def _seal(values: Mapping[str, Any]) -> str:
    """Return the digest of a line; the order of its keys does not count."""
    text = _json(dict(values), sort_keys=True)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_SEAL_LENGTH]


def _read_line(line: str, at: Place) -> Issued | Approved | LedgerFault:
    try:
        values = json.loads(line)
    except (ValueError, RecursionError) as error:
        column = error.colno if isinstance(error, json.JSONDecodeError) else 1
        return LedgerFault(Place(at.file, at.line, column), f"{_short(line)} cannot be read")
    for problem in _problems(values, at.file):
        return LedgerFault(at, problem)
    sealed = {key: value for key, value in values.items() if key != "seal"}
    if values["seal"] != _seal(sealed):
        done, known_by = ("issue", "code") if at.file == NAME else ("approval", "content")
        return LedgerFault(at, f"{quoted(values[known_by])} is in a line that was changed after {done}", altered=True)
    if at.file != NAME:
        return Approved(**_common(values, APPROVED_NAME), at=at)
    review_by = date.fromisoformat(values[_MAY_BE_NULL]) if values[_MAY_BE_NULL] else None
    return Issued(**_common(values, NAME), review_by=review_by, at=at)


def _problems(values: Any, file: str) -> Iterator[str]:
    """Yield what keeps a line from being used, the plainest first."""
    if not isinstance(values, dict):
        yield f"{_short(_json(values))} is not a line of the ledger"
        return
    if isinstance(values.get("form"), int) and values["form"] > FORM:
        yield f"{quoted(values['form'])} is a line format that only a later version of prescrub can read"
    may_be_null = (_MAY_BE_NULL,) if file == NAME else ()
    missing = [key for key in ("form", *_TEXTS[file], *may_be_null, "parts", "seal") if key not in values]
    if missing:
        yield f"{quoted(missing[0])} is missing from this line"
        return
    for key in _TEXTS[file]:
        if not isinstance(values[key], str) or not values[key]:
            yield f"{_short(_json(values[key]))} cannot be the value of {quoted(key)}"
    for key in (_DAYS[file], *may_be_null):
        if not _is_day(values[key]) and not (key in may_be_null and values[key] is None):
            yield f"{_short(_json(values[key]))} is not a date"
    parts = values["parts"] if isinstance(values["parts"], list) else [None]
    is_part = (isinstance(part, list) and list(map(type, part)) == [str] * len(IssuedPart._fields) for part in parts)
    if not all(is_part):
        yield "'parts' is not a list of kind, id, number, title and digest"


def _is_day(value: Any) -> bool:
    try:
        return bool(date.fromisoformat(value).isoformat() == value)
    except (TypeError, ValueError):
        return False


def _common(values: Mapping[str, Any], file: str) -> dict[str, Any]:
    texts = {key: values[key] for key in _TEXTS[file] if key != _DAYS[file]}
    parts = tuple(IssuedPart(*part) for part in values["parts"])
    return {**texts, "on": date.fromisoformat(values[_DAYS[file]]), "parts": parts}


def _short(text: str) -> str:
    return quoted(text if len(text) <= 40 else f"{text[:40]}…")

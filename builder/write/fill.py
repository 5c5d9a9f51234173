"""Writes the answers of an interview sheet into the steps they belong to: all of them, or none."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from builder.check.gaps.filling import AlreadyAnswered, filled, names
from builder.check.gaps.interview_sheet import Answer, read_answers
from builder.findings.finding import Finding, Refused, Severity
from builder.findings.register import finding
from builder.load import limits
from builder.load.files import read_bytes
from builder.load.folder import load
from builder.model.build import build
from builder.model.library import Library

_STEP = re.compile(r"content/procedures/[^/]+/steps/[^/]+\.md")
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class FilledAnswer:
    """One answer that was put in: the ``file``, the ``key`` and the ``words``."""

    file: str
    key: str
    words: str


def fill(root: Path, text: str, sheet: str = "answers.md") -> tuple[list[FilledAnswer], list[Finding]]:
    """Put the answers in ``text``, a filled-in sheet called ``sheet``, into the steps of the department in ``root``.

    Returns what was changed and what was found. Where an answer cannot be used, nothing at all is written; an answer to
    a question that the step answers already is passed over with a warning. Files keep everything else byte for byte.
    """
    answers, findings = read_answers(text, sheet)
    library, _ = build(load(root))
    writer = _AnswerWriter(root, library, findings)
    for answer in answers:
        writer.put(answer)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return [], findings
    _write(root, writer.texts)
    return writer.changes, findings


class _AnswerWriter:
    def __init__(self, root: Path, library: Library, findings: list[Finding]) -> None:
        self.root = root
        self.library = library
        self.findings = findings
        self.texts: dict[str, bytes] = {}
        self.changes: list[FilledAnswer] = []

    def put(self, answer: Answer) -> None:
        """Put one answer into the text of its step, in memory."""
        if not _STEP.fullmatch(answer.file):
            self._refuse(answer, f"{answer.file!r} is no step", "Leave the line `File: ...` as it was printed.")
            return
        unknown = list(self._unknown(answer))
        if unknown:
            self._refuse(answer, f"{unknown[0]!r} is {self._expected(answer)}", "Correct the name, or add it there.")
            return
        try:
            raw = self.texts.get(answer.file) or read_bytes(self.root, answer.file, limits.MAX_TEXT_BYTES)
            self.texts[answer.file] = _filled(raw, answer)
            self.changes.append(FilledAnswer(answer.file, answer.key, answer.words))
        except Refused as refusal:
            self.findings.append(refusal.finding)
        except AlreadyAnswered:
            message = f"{answer.key!r} has an answer in {answer.file} already; it was left as it is"
            hint = "Change it in the step itself if the new answer is better."
            self.findings.append(finding("answered-already", answer.at, message, hint))
        except (StopIteration, ValueError, AttributeError, UnicodeDecodeError):
            self._refuse(answer, f"{answer.file} cannot be read", "Run `prescrub check` and mend the file first.")

    def _unknown(self, answer: Answer) -> Iterable[str]:
        if answer.key == "at_risk":
            yield from (name for name in names(answer.words) if self.library.structures.find(name) is None)
        elif answer.key == "evidence" and "common" not in answer.words.casefold():
            yield from (name for name in names(answer.words) if name not in self.library.sources)

    def _expected(self, answer: Answer) -> str:
        return "not in the catalogue of structures" if answer.key == "at_risk" else "no source in references/"

    def _refuse(self, answer: Answer, message: str, hint: str) -> None:
        self.findings.append(finding("answer-unclear", answer.at, message, hint))


def _filled(raw: bytes, answer: Answer) -> bytes:
    mark = _BOM if raw.startswith(_BOM) else b""
    text = raw[len(mark) :].decode("utf-8")
    return mark + filled(text, answer.key, answer.words).encode("utf-8")


def _write(root: Path, texts: dict[str, bytes]) -> None:
    """Write every file beside its target first, and move them into place only when all are whole."""
    ready: list[tuple[Path, Path]] = []
    try:
        for name, raw in texts.items():
            target = root / name
            beside = target.with_name(f".{target.name}.new")
            beside.write_bytes(raw)
            os.chmod(beside, target.stat().st_mode & 0o777)  # noqa: PTH101  # no follow of links, checked when read
            ready.append((beside, target))
        for beside, target in ready:
            beside.replace(target)
    finally:
        for beside, _ in ready:
            beside.unlink(missing_ok=True)

"""Writes the answers of an interview sheet into the steps they belong to: all of them, or none."""

import re
from collections.abc import Iterator
from pathlib import Path

from builder.edit.changes import CannotEdit, FileChange, Put, Value
from builder.edit.file_text import FileText
from builder.edit.interview_sheet import Answer, read_answers
from builder.edit.operations import edited
from builder.findings.finding import Finding, Refused, Severity
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.files import open_file
from builder.load.folder import kind_of, load
from builder.model.build import build
from builder.model.library import Library
from builder.write.writer import write_files

_LISTS = frozenset({"at_risk", "evidence"})
_COMMON_PRACTICE = re.compile(r"common[ _-]practice\.?", re.IGNORECASE)
_SEPARATOR = re.compile(r"\s*[,;\n]\s*|\s+and\s+")


def fill(root: Path, text: str, sheet: str = "answers.md") -> tuple[list[Answer], list[Finding]]:
    """Put the answers in ``text``, a filled-in sheet called ``sheet``, into the steps of the department in ``root``.

    Returns the answers that were put in, and what was found. Where one cannot be used, nothing at all is written; an
    answer to a question that the step answers already is passed over with a warning. Files keep everything else byte
    for byte.
    """
    answers, findings = read_answers(text, sheet)
    library, _ = build(load(root))
    writer = _AnswerWriter(root, library, findings)
    for answer in answers:
        writer.put(answer)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return [], findings
    write_files(root, writer.files, f"{sheet}: answers filled in")
    return writer.answered, findings


class _AnswerWriter:
    def __init__(self, root: Path, library: Library, findings: list[Finding]) -> None:
        self.root = root
        self.library = library
        self.findings = findings
        self.files: dict[str, FileChange] = {}
        self.answered: list[Answer] = []

    def put(self, answer: Answer) -> None:
        """Put one answer into the text of its step, in memory."""
        if kind_of(answer.file)[0] != "step":
            hint = "Leave the line `File: ...` as it was printed."
            self._refuse(answer, f"{quoted(answer.file)} is not a step", hint)
            return
        for unknown in self._unknown(answer):
            self._refuse(answer, unknown, "Correct the name, or add it there.")
            return
        try:
            self._put(answer)
        except Refused as refusal:
            self.findings.append(refusal.finding)
        except CannotEdit as reason:
            self._refuse(answer, f"{answer.file}: {reason.reason}", reason.hint)

    def _put(self, answer: Answer) -> None:
        change = self.files.get(answer.file)
        if change is None:
            opened = open_file(self.root, answer.file)
            change = FileChange(opened.text, opened.digest)
        text = str(change.text)
        key, value = entry(answer.key, answer.words)
        held = FileText.cut(text).data
        if isinstance(held, dict) and held.get(key) not in (None, ""):
            message = f"{quoted(answer.key)} already has an answer in {answer.file}, which was left as it is"
            hint = "Change it in the step itself if the new answer is better."
            self.findings.append(finding("answered-already", answer.at, message, hint))
            return
        self.files[answer.file] = FileChange(edited(text, "step", [Put((key,), value)]), change.seen)
        self.answered.append(answer)

    def _unknown(self, answer: Answer) -> Iterator[str]:
        key, value = entry(answer.key, answer.words)
        for name in value if isinstance(value, list) else ():
            if key == "at_risk" and self.library.structures.find(str(name)) is None:
                yield f"{quoted(str(name))} is not in the catalogue of structures"
            elif key == "evidence" and name not in self.library.sources:
                yield f"{quoted(str(name))} is not a source in references/"

    def _refuse(self, answer: Answer, message: str, hint: str) -> None:
        self.findings.append(finding("answer-unclear", answer.at, message, hint))


def entry(key: str, words: str) -> tuple[str, Value]:
    """Return the key and the value of an answer: text, or a list of names."""
    words = " ".join(words.split())
    if key == "evidence" and _COMMON_PRACTICE.fullmatch(words):
        return "common_practice", "true"
    # Names are listed with commas, semicolons, dashes or ``and``.
    names: list[Value] = [name for part in _SEPARATOR.split(words) if (name := part.strip(" .-*"))]
    return key, names if key in _LISTS else words

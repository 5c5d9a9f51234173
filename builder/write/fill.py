"""Writes the answers of an interview sheet into the steps they belong to: all of them, or none."""

import re
from collections.abc import Iterator
from pathlib import Path

from builder.edit.file_change import CannotEdit, FileChange, Put, Value, at, plain
from builder.edit.file_text import FileText
from builder.edit.interview_sheet import Answer, read_answers
from builder.edit.operations import edited, put_in
from builder.facts.counts import ALWAYS_COUNTED
from builder.facts.gap_questions import CONTROLS, COUNTS, DEEDS, IN_A_STEP, NOT_SAID_YET, SEES, WENT_IN
from builder.findings.finding import Finding, Refused, Severity
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.files import open_file
from builder.load.folder import kind_of, load
from builder.model.action import CONTROLS as CONTROLLING
from builder.model.build import build
from builder.model.catalogue import plain_name
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Step, StructureKind
from builder.write.writer import write_files

_LISTS = frozenset({"at_risk", "evidence"})
_BLANK = frozenset({"caution", "aftercare", "procedure"})
_STAYS = re.compile(r"(?:it )?stays?(?: in)?\.?", re.IGNORECASE)
_COMMON_PRACTICE = re.compile(r"common[ _-]practice\.?", re.IGNORECASE)
_SEPARATOR = re.compile(r"\s*[,;\n]\s*|\s+and\s+")


def fill(
    root: Path, text: str, sheet: str = "answers.md", library: Library | None = None
) -> tuple[list[Answer], list[Finding]]:
    """Put the answers in ``text``, a filled-in sheet called ``sheet``, into the steps of the department in ``root``.

    Returns the answers that were put in, and what was found. Where one cannot be used, nothing at all is written; an
    answer to a question that the step answers already is passed over with a warning. Files keep everything else byte
    for byte. ``library`` spares reading the folder, where it has just been read.
    """
    answers, findings = read_answers(text, sheet)
    writer = _AnswerWriter(root, library or build(load(root))[0], findings)
    for answer in sorted(answers, key=_turn):
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
        kind = kind_of(answer.file)[0]
        if kind != "step" and not (kind in _BLANK and answer.key in NOT_SAID_YET):
            hint = "Leave the line `File: ...` as it was printed."
            self._refuse(answer, f"{quoted(answer.file)} is not a step", hint)
            return
        try:
            for unknown in self._unknown(answer):
                self._refuse(answer, unknown, "Correct the name, or add it there.")
                return
            self._put(answer)
        except Refused as refusal:
            self.findings.append(refusal.finding)
        except CannotEdit as reason:
            self._refuse(answer, reason.reason, reason.hint)

    def _put(self, answer: Answer) -> None:
        name, _, number = answer.key.partition(".")
        if name in DEEDS:
            is_new = self._put_deed(answer, name, int(number) - 1)
        else:
            key, value = entry(answer.key, answer.words)
            is_new = self._put_value(answer.file, tuple(key.split(".")), value)
        if is_new:
            self.answered.append(answer)
            return
        message = f"{quoted(answer.key)} already has an answer in {answer.file}, which was left as it is"
        hint = "Change it in the step itself if the new answer is better."
        self.findings.append(finding("answered-already", answer.at, message, hint))

    def _text(self, file: str) -> FileChange:
        if file not in self.files:
            opened = open_file(self.root, file)
            return FileChange(opened.text, opened.digest)
        return self.files[file]

    def _held(self, file: str, path: tuple[str | int, ...]) -> Value:
        """Return what stands at ``path`` of ``file``, None where nothing does."""
        try:
            return at(plain(FileText.cut(str(self._text(file).text)).data), path)
        except LookupError:
            return None

    def _put_value(self, file: str, path: tuple[str | int, ...], value: Value) -> bool:
        """Put ``value`` where nothing stands, or nothing is said yet; tell whether that was so."""
        held = self._held(file, path)
        if held not in (None, "") and not (isinstance(held, str) and is_not_said(held)):
            return False
        change = self._text(file)
        self.files[file] = FileChange(edited(str(change.text), kind_of(file)[0], [Put(path, value)]), change.seen)
        return True

    def _put_deed(self, answer: Answer, name: str, number: int) -> bool:
        """Make an action of what is said about action ``number`` (from 0); tell whether it was not there already."""
        asked = self._held(answer.file, ("actions", number))
        if not isinstance(asked, dict) or (name in IN_A_STEP and IN_A_STEP[name][0] not in asked):
            raise CannotEdit("the step has no such action any more", "Ask again: `prescrub check --ask`.")
        if name in IN_A_STEP:
            return self._put_in_a_step(answer, name, number, asked)
        verb, names = {SEES: "identify", COUNTS: "count"}.get(name, ""), _names(answer.words)
        if not verb:
            verb, names = _control(answer.words)
        said: list[Value] = [str(counted).casefold() for counted in names] if name == COUNTS else names
        return self._put_action(answer.file, {verb: said if len(said) > 1 else said[0]}, number)

    def _put_in_a_step(self, answer: Answer, name: str, number: int, asked: dict[str, Value]) -> bool:
        """Let what action ``number`` began be ended in the step that is answered, or what it ends begin there."""
        before, verb = IN_A_STEP[name]
        if name != WENT_IN and _STAYS.fullmatch(answer.words.strip()):
            return self._put_value(answer.file, ("actions", number, "stays"), "true")
        if before == "place" and (care := self._care(answer)):
            self._put_value(answer.file, ("actions", number, "stays"), "true")
            return self._put_value(care, ("concerns",), asked[before])
        step = self._step(answer)
        is_here = step.file == answer.file
        ends = ("count", "close")[verb == "close" :]  # what is taken out is counted, and a layer closes before the skin
        if verb == "close" and self._is_skin(asked[before]):
            ends = ()
        actions = self._held(step.file, ("actions",))
        rows = actions if isinstance(actions, list) else []
        later = (at for at, row in enumerate(rows) if isinstance(row, dict) and any(key in row for key in ends))
        place = next(later, len(rows))
        if is_here:
            place = min(place, number) if name == WENT_IN else max(place, number + 1)
        if verb == "place":
            self._lay_out(answer, asked[before])
        same: dict[str, Value] = {key: asked[key] for key in ("side", "number") if key in asked}
        return self._put_action(step.file, {verb: asked[before], **same}, place)

    def _is_skin(self, things: Value) -> bool:
        found = (
            self.library.structures.find(str(thing)) for thing in (things if isinstance(things, list) else [things])
        )
        return any(one is not None and one.kind is StructureKind.SKIN for one in found)

    def _lay_out(self, answer: Answer, things: Value) -> None:
        """Put on the kit list what goes in and is not on it: what is used is laid out."""
        procedure = self.library.by_id[kind_of(answer.file)[1]]
        laid_out = {item.id for name in procedure.kit if (item := self.library.items.find(str(name)))}
        for thing in things if isinstance(things, list) else [things]:
            item = self.library.items.find(str(thing))
            if item is not None and item.id not in laid_out:
                self._put_value(str(procedure.file), ("kit", str(thing)), "1")

    def _put_action(self, file: str, action: dict[str, Value], number: int) -> bool:
        held = self._held(file, ("actions",))
        if isinstance(held, list) and action in held:
            return False
        change = self._text(file)
        self.files[file] = FileChange(put_in(str(change.text), "step", ("actions",), action, number), change.seen)
        return True

    def _care(self, answer: Answer) -> str:
        """Return the file of the aftercare that an answer names, by its title; "" where it names none."""
        procedure = self.library.by_id.get(kind_of(answer.file)[1])
        items = procedure.aftercare_items.values() if procedure else ()
        called = plain_name(answer.words.strip(" ."))
        return next((str(item.file) for item in items if plain_name(str(item.title).strip(" .")) == called), "")

    def _step(self, answer: Answer) -> Step:
        """Return the step that an answer names. Raises CannotEdit where none has such a title."""
        procedure = self.library.by_id.get(kind_of(answer.file)[1])
        steps = procedure.steps.values() if procedure else ()
        called = [step for step in steps if plain_name(step.title) == plain_name(answer.words.strip(" ."))]
        if not called:
            hint = "Write the title of a step or of an aftercare item as it is, or: stays."
            raise CannotEdit(f"{quoted(answer.words)} is not the title of a step or of an aftercare item", hint)
        return called[0]

    def _unknown(self, answer: Answer) -> Iterator[str]:
        key, value = entry(answer.key, answer.words)
        if key.startswith((f"{SEES}.", f"{CONTROLS}.")):
            key, value = "at_risk", _names(answer.words) if key.startswith(SEES) else _control(answer.words)[1]
        if key.startswith(f"{COUNTS}."):
            unknown = (str(name) for name in _names(answer.words) if str(name).casefold() not in ALWAYS_COUNTED)
            yield from (f"{quoted(name)} is not among the things that are counted" for name in unknown)
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
    return key, _names(words) if key in _LISTS else words


def _names(words: str) -> list[Value]:
    """Return names that are listed with commas, semicolons, dashes or ``and``."""
    return [name for part in _SEPARATOR.split(words) if (name := part.strip(" .-*"))]


def _control(words: str) -> tuple[str, list[Value]]:
    """Return the verb and the names of ``tie cystic duct``. Raises CannotEdit where it begins with another verb."""
    verb, _, names = words.strip().partition(" ")
    if verb.casefold() not in _CONTROLS:
        raise CannotEdit(f"{quoted(verb)} closes nothing off", f"Begin with one of: {', '.join(sorted(_CONTROLS))}.")
    return verb.casefold(), _names(names)


_CONTROLS = frozenset(verb.value for verb in CONTROLLING)


def _turn(answer: Answer) -> tuple[int, int]:
    """Sort answers so that none moves an action before another has found it by its number."""
    name, _, number = answer.key.partition(".")
    if name not in DEEDS:
        return 2, 0
    in_a_step = 0 if _STAYS.fullmatch(answer.words.strip()) else 3
    return in_a_step if name in IN_A_STEP else 1, -int(number)

"""A draft beside what was told: every sentence at the part it went to, and what that part says now."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase

from builder.compose.view.outline import StepBlock, cautions_met, outline, step_blocks
from builder.compose.view.words import SIGNAL_WORDS, sentence, when_words
from builder.draft.heard_names import names_of
from builder.draft.new_names import kind_of
from builder.draft.told_desk import HEAD
from builder.draft.told_file import CAUTION_ROLES, DOES, PROSE, STEP_ROLES, TITLE, Told
from builder.draft.told_words import guessed
from builder.edit.forms.field_words import words_of
from builder.facts.coverage import steps_of
from builder.findings.message_words import counted, listed
from builder.model.catalogue import plain_name
from builder.model.common_catalogue import may_be
from builder.model.fields import is_not_said
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, ItemKind, Procedure, Step, StructureKind

_OF_STEPS = {"cue": "✓", "if_not": "✗", "why": "?", "error": "~", "recovery": "↺"}
_IN_CAUTION = ("consequence", "avoid", "sign", "if_it_happens")
ROLES: dict[str, tuple[str, str]] = {
    DOES: ("▸", "Done"),
    PROSE: ("¶", "Told"),
    TITLE: ("¶", "Told"),
    **{key: (sign, words_of("step", key).label) for key, sign in _OF_STEPS.items()},
    "hazard": ("!", "Caution"),
    **{key: ("!", words_of("caution", key).label) for key in _IN_CAUTION},
    "before_you_start": ("○", "Before"),
    "kit": ("○", "Kit"),
    "": ("–", "Left out"),
}
"""The sign and the words of what a sentence is taken for."""
_IN_STEP = (DOES, PROSE, *_OF_STEPS)
_USES = (
    ("In this step", tuple((role, ROLES[role][1]) for role in _IN_STEP)),
    ("As a caution", (("caution", "A caution"), *((role, ROLES[role][1]) for role in _IN_CAUTION))),
    ("As a part of its own", (
        ("step", "A step"), ("option", "Only sometimes"), ("choice", "Or instead"), ("aftercare", "Aftercare"),
        ("before", "Before you start"), ("kit", "Kit"), ("indication", "Why and when"), ("", "Leave it out"),
    )),
)  # fmt: skip
_LETTERS = iter(ascii_lowercase)
USES = tuple((heading, tuple((*use, next(_LETTERS)) for use in uses)) for heading, uses in _USES)
"""What can become of words, in groups: the role, its words, and the letter that chooses it."""
KINDS = (
    ("Structure", tuple((f"structures:{kind.value}", kind.value) for kind in StructureKind)),
    ("Item", tuple((f"items:{kind.value}", kind.value) for kind in ItemKind)),
)
"""What a new name can be: groups of a catalogue and a kind, and the word for it."""

_LIKELY = (
    *(f"structures:{kind}" for kind in ("vessel", "nerve", "muscle", "fascia", "viscus", "bone")),
    *(f"items:{kind}" for kind in ("instrument", "suture", "dressing")),
)
_Page = Step | Caution | Aftercare


@dataclass(frozen=True, slots=True)
class AskedInPlace:
    """What is asked in place: words that may have been ``misheard`` for ``name``, or else a name that is new.

    ``meanings``: what theatres call so, where that is more than one thing.
    """

    words: str
    name: str
    meanings: tuple[str, ...] = ()

    @property
    def kinds(self) -> list[tuple[str, str]]:
        """Return what a new name most likely is, for one key each: what its last word tells, then what is common."""
        told = kind_of(self.words.rpartition(" ")[2])
        first = [f"{'structures' if told[0] else 'items'}:{told[1]}"] if told else []
        return [(value, value.partition(":")[2]) for value in list(dict.fromkeys([*first, *_LIKELY]))[:9]]


def meanings_of(library: Library, words: str) -> tuple[str, ...]:
    """Return what theatres call so, of the sort as which the module uses it: a tube that is laid out is no organ."""
    named = tuple(map(str, may_be().get(plain_name(words), ())))
    for used in (library.items, library.structures):
        if used.find(words):
            return tuple(name for name in named if used.find(name))
    return named


@dataclass(frozen=True, slots=True)
class SaidLine:
    """A sentence of the talk: when it was said, and what it was taken for. ``is_gone``: it was read, and hardly a word
    of it stands in the module now."""

    number: int
    at: str
    text: str
    role: str
    sign: str
    words: str
    is_read: bool
    questions: tuple[AskedInPlace, ...]
    is_gone: bool = False


@dataclass(frozen=True, slots=True)
class ModuleLine:
    """One thing that the module says: its label, its words, and the page and the field that it stands in.

    ``signals``: the other signal words that a caution may get, where the one that it has was given by a draft.
    ``is_guess``: no sentence names what an action is done to; it may be one of ``others``.
    ``fills``: what was told beside a line that is open, and may be what it asks for: number and words of each sentence.
    """

    label: str
    text: str
    page: str
    field: str
    is_open: bool = False
    signals: tuple[tuple[str, str], ...] = ()
    is_guess: bool = False
    others: tuple[str, ...] = ()
    fills: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ReadPart:
    """A part of the module beside the sentences that went there. ``pages`` are accepted together; ``page`` is that of
    a step, "" else."""

    anchor: str
    number: str
    title: str
    page: str
    pages: tuple[str, ...]
    is_read: bool
    said: tuple[SaidLine, ...]
    lines: tuple[ModuleLine, ...]
    pictures: int = 0

    @property
    def state(self) -> str:
        """That it was read, and what is open all the same; "" where it was not read."""
        unsaid = sum(line.is_open for line in self.lines)
        asked = sum(len(said.questions) for said in self.said)
        guesses = sum(line.is_guess for line in self.lines)
        still = [counted(guesses, "guessed action")] * bool(guesses)
        still += [counted(unsaid, "line") + " not said yet"] * bool(unsaid)
        still += [counted(asked, "question") + " open"] * bool(asked)
        return f"✓ read{', but ' * bool(still)}{listed(still)}" * self.is_read


@dataclass(frozen=True, slots=True)
class TalkBeside:
    """The whole screen. ``next`` is the anchor of the first part that is not read; ``unknown`` names stand nowhere."""

    parts: tuple[ReadPart, ...]
    read: int
    steps: int
    next: str
    unknown: tuple[AskedInPlace, ...]
    choices: tuple[tuple[str, str], ...]

    @property
    def progress(self) -> str:
        """How far the reader is, in words."""
        gone = sum(said.is_gone for part in self.parts for said in part.said)
        missing = f"; the words of {counted(gone, 'sentence')} that you read stand nowhere in the module" * bool(gone)
        return f"{self.read} of {counted(self.steps, 'step')} read{missing}"


def reading_of(library: Library, procedure: Procedure, told: Told) -> TalkBeside:
    """Return the draft of ``procedure`` beside what was ``told``."""
    parts = _looked_for(tuple(_BesideReader(library, procedure, told).parts()), told)
    steps = [part for part in parts if part.page]
    waiting = next((part.anchor for part in parts if not part.is_read), "")
    placed = {question.words for part in parts for said in part.said for question in said.questions}
    unknown = tuple(
        AskedInPlace(words, "", meanings_of(library, words)) for words in told.unknown if words not in placed
    )
    choices = tuple((part.page, f"{part.number}. {part.title}") for part in steps)
    return TalkBeside(parts, sum(part.is_read for part in steps), len(steps), waiting, unknown, choices)


def _looked_for(parts: tuple[ReadPart, ...], told: Told) -> tuple[ReadPart, ...]:
    """Return ``parts`` with every sentence marked that was read and stands in none of them any more."""
    held = [_words_in(" ".join([part.title, *(line.text for line in part.lines)])) for part in parts]

    def is_gone(said: SaidLine) -> bool:
        words = _words_in(told.as_meant(said.text))
        is_placed = said.is_read and told.sentences[said.number].page != ""
        return is_placed and all(len(words & other) < _STILL_THERE * len(words) for other in held)

    return tuple(replace(part, said=tuple(replace(one, is_gone=is_gone(one)) for one in part.said)) for part in parts)


def _words_in(text: str) -> set[str]:
    """Return the words of ``text`` that tell it from others: the longer ones."""
    words = set(re.findall(r"\w+", text.casefold()))
    return {word for word in words if len(word) > _SHORT} or words


_SHORT = 3
_STILL_THERE = 0.3


def steps_read(procedure: Procedure) -> tuple[int, int]:
    """Return how many steps of a draft have been accepted, and how many there are."""
    steps = steps_of(procedure)
    return sum(not step.proposed for step in steps), len(steps)


class _BesideReader:
    """Puts parts and sentences beside each other; one instance a screen."""

    def __init__(self, library: Library, procedure: Procedure, told: Told) -> None:
        self.library, self.procedure, self.told = library, procedure, told
        self.home = f"content/procedures/{procedure.id}/"
        self.shown: set[int] = set()
        self.asked: set[str] = set()
        pages: list[_Page] = [*procedure.steps.values(), *procedure.cautions.values()]
        pages += procedure.aftercare_items.values()
        self.proposed = {self._page(page) for page in pages if page.proposed}
        self.proposed |= {HEAD} if procedure.proposed else set()

    def parts(self) -> Iterator[ReadPart]:
        """Yield the parts in the order in which the module is read."""
        blocks = outline(self.procedure)
        yield self._part("before", "Before you start", [HEAD], list(self._head()))
        seen: set[str] = set()
        for block in step_blocks(blocks):
            if block.turn == 1:
                yield self._step(block, seen)
        loose = [caution for caution in cautions_met(self.procedure, blocks) if self._is_own(caution, seen)]
        if loose:
            lines = [line for caution in loose for line in self._caution(caution)]
            pages = [self._page(caution) for caution in loose]
            yield self._part("cautions", "Cautions", pages, lines)
        after = sorted(self.procedure.aftercare_items.values(), key=self._first_told)
        if after:
            lines = [line for item in after for line in self._aftercare(item)]
            pages = [self._page(item) for item in after]
            yield self._part("afterwards", "Afterwards", pages, lines)
        yield from self._rest()

    def _first_told(self, page: _Page) -> int:
        """Return the number of the first sentence that went to ``page``; what nobody told comes last."""
        told = self.told.sentences
        return next((number for number, one in enumerate(told) if one.page == self._page(page)), len(told))

    def _rest(self) -> Iterator[ReadPart]:
        """Yield the part of what went nowhere, or to a page that is gone."""
        rest = [number for number in range(len(self.told.sentences)) if number not in self.shown]
        if rest:
            is_read = all(self.told.sentences[number].is_read for number in rest)
            said = tuple(self._said(number) for number in rest)
            yield ReadPart("left-out", "", "Left out", "", ("",), is_read, said, ())

    def _step(self, block: StepBlock, seen: set[str]) -> ReadPart:
        step = block.step
        cautions = [caution for caution in (*block.cautions, *block.reminders) if self._is_own(caution, seen)]
        seen.update(str(caution.file) for caution in cautions)
        lines = [*self._done(step), *(line for caution in cautions for line in self._caution(caution))]
        page = self._page(step)
        part = self._part(block.anchor, str(step.title), [page, *map(self._page, cautions)], lines)
        return replace(part, number=block.number, page=page, pictures=len(step.figure))

    def _part(self, anchor: str, title: str, pages: Sequence[str], lines: Sequence[ModuleLine]) -> ReadPart:
        """Return a part that is read when none of its ``pages`` is marked as proposed."""
        numbers = sorted(number for one in pages for number in self.told.on(one))
        self.shown.update(numbers)
        said = tuple(self._said(one) for one in numbers)
        shown = tuple(replace(line, fills=self._fills(line, said)) if line.is_open else line for line in lines)
        return ReadPart(anchor, "", title, "", tuple(pages), not self.proposed & set(pages), said, shown)

    def _fills(self, line: ModuleLine, said: Sequence[SaidLine]) -> tuple[tuple[int, str], ...]:
        """Return the sentences that may answer an open ``line``: not those that say what is done, nor its own."""
        others = [one for one in said if one.role != DOES and self.told.sentences[one.number].page != line.page]
        is_asked = line.field in (*STEP_ROLES, *CAUTION_ROLES)
        return tuple((one.number, one.text) for one in others) if is_asked else ()

    def _said(self, number: int) -> SaidLine:
        told = self.told.sentences[number]
        sign, words = ROLES.get(told.role if told.page else "", ROLES[PROSE])
        return SaidLine(
            number,
            told.at,
            self.told.as_meant(told.text),
            told.role,
            sign,
            words,
            told.is_read,
            tuple(self._questions(told.text)),
        )

    def _questions(self, text: str) -> Iterator[AskedInPlace]:
        """Yield what is to be asked of a sentence, each only where it is said first."""
        asked = [(words, name) for words, name in self.told.misheard.items()] + [
            (words, "") for words in self.told.unknown
        ]
        for words, name in asked:
            if words not in self.asked and re.search(rf"(?<!\w){re.escape(words)}(?!\w)", text, re.IGNORECASE):
                self.asked.add(words)
                yield AskedInPlace(words, name, meanings_of(self.library, words))

    def _head(self) -> Iterator[ModuleLine]:
        for check in self.procedure.before_you_start:
            yield ModuleLine("Before you start", str(check), HEAD, "before_you_start")
        if self.procedure.kit:
            kit = listed([f"{number} x {name}" for name, number in self.procedure.kit.items()])
            yield ModuleLine("Kit", kit, HEAD, "kit")
        if self.procedure.body.source.strip():
            yield ModuleLine("Why and when", self.procedure.body.source.strip(), HEAD, "prose")

    def _done(self, step: Step) -> Iterator[ModuleLine]:
        page = self._page(step)
        guesses = guessed(self.told, names_of(self.library), page, step.actions)
        for number, action in enumerate(step.actions):
            line = ModuleLine("Do", sentence(self.library, action), page, f"actions.{number}")
            yield replace(line, is_guess=number in guesses, others=guesses.get(number, ()))
        if step.no_actions:
            yield ModuleLine("No action", str(step.no_actions), page, "no_actions")
        yield from self._text("step", step)
        for key in ("cue", "if_not", "why", "error", "recovery"):
            if words := getattr(step, key):
                yield ModuleLine(ROLES[key][1], str(words), page, key, is_not_said(words))
        if step.at_risk:
            yield ModuleLine("At risk", ", ".join(map(str, step.at_risk)), page, "at_risk")

    def _caution(self, caution: Caution) -> Iterator[ModuleLine]:
        page = self._page(caution)
        for key in ("hazard", "consequence", "avoid", "sign", "if_it_happens"):
            if words := getattr(caution, key):
                line = ModuleLine(ROLES[key][1], str(words), page, key, is_not_said(words))
                yield self._graded(caution, line) if key == "hazard" else line
        yield from self._text("caution", caution)

    def _graded(self, caution: Caution, line: ModuleLine) -> ModuleLine:
        """Return the first line of a caution under its signal word, which a draft has only proposed."""
        word = SIGNAL_WORDS[caution.signal]
        if not caution.proposed:
            return replace(line, label=word)
        others = tuple((value, other) for value, other in SIGNAL_WORDS.items() if value != caution.signal)
        return replace(line, label=f"{word}, proposed", signals=others)

    def _aftercare(self, item: Aftercare) -> Iterator[ModuleLine]:
        start = item.when.start
        when = "" if is_not_said(start) else when_words(item.when)
        yield ModuleLine(when or "When?", str(item.title), self._page(item), "when", not when)
        yield from self._text("aftercare", item)

    def _text(self, kind: str, page: _Page) -> Iterator[ModuleLine]:
        """Yield whom a page calls and what stands below its fields, named as in its form."""
        if call := getattr(page, "call", None):
            yield ModuleLine(words_of(kind, "call").label, str(call), self._page(page), "call")
        if words := " ".join(page.body.shown.split()):
            yield ModuleLine(words_of(kind, "prose").label, words, self._page(page), "prose")

    def _is_own(self, page: Caution, seen: set[str]) -> bool:
        return str(page.file).startswith(self.home) and page.file not in seen

    def _page(self, page: _Page) -> str:
        return str(page.file).removeprefix(self.home)

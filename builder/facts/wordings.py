"""What is written otherwise than the wording packs of the department's country want, and how it would be written.

The packs are data (``check/packs``), each with its list, edition and date read. All texts are read once; the checks and
``check --mend`` share what was found.
"""

import re
from typing import NamedTuple

from builder.facts.notation import FORMS, KNOWN, Notation, mended
from builder.facts.quantities import quantities
from builder.facts.remembered import once_per_library
from builder.facts.texts import Corpus, corpus
from builder.load.packs import Pack, WordingRule
from builder.load.packs import pack as pack_of
from builder.model.library import Library

_AFTER_DOSE = 50
"""How far after a dose, in characters, its directions are looked for."""

_WORD = re.compile(r"(?:[A-Za-z]\.){2,}|[A-Za-z]+[0-9]*[A-Za-z]*")
_CAPITALS = re.compile(r"[A-Z][a-z]?[A-Z0-9][A-Za-z0-9]*|[A-Z]/[A-Z]\b")
_DOTTED = re.compile(r"\.[A-Za-z]\.(?:[A-Za-z]\.)*")
_SMALL_Q = re.compile(r"q[a-z]{1,2}(?![A-Za-z.])")
_SENTENCE_END = re.compile(r"\.\s+[A-Z]|\n\n|\x1f|;")


class Worded(NamedTuple):
    """One thing written as it should not be: ``rule``, where it stands, what was ``found``, what to ``write``.

    ``edit`` is what may be written between ``start`` and ``end`` without changing any meaning; None where nobody but
    the writer can tell.
    """

    rule: WordingRule
    start: int
    end: int
    found: str
    write: str
    edit: str | None


@once_per_library
def wordings(library: Library) -> tuple[Worded, ...]:
    """Return everything in the texts that the packs of the department do not want, in order."""
    reader = _PackReader(corpus(library), packs_of(library))
    for written in quantities(library):
        reader.number(Notation(reader.whole, written))
    reader.anywhere()
    return tuple(sorted(reader.found, key=lambda worded: (worded.start, worded.rule.check)))


def packs_of(library: Library) -> list[Pack]:
    """Return the packs that the department names."""
    return [pack_of(name.value) for name in dict.fromkeys(library.department.wording)]


class _PackReader:
    """Holds the texts against the packs; one instance a Library."""

    def __init__(self, texts: Corpus, packs: list[Pack]) -> None:
        self.texts = texts
        self.whole = texts.whole
        self.packs = packs
        self.found: list[Worded] = []
        self.taken: set[tuple[int, str]] = set()
        self.units = {word for pack in packs for word in pack.units}

    def number(self, notation: Notation) -> None:
        """Look at one number: its unit, how it is written, and the directions after it."""
        written = notation.written
        if not (
            written.first in KNOWN or written.unit in self.units or self.whole[written.end : written.end + 1] == "/"
        ):
            return
        for pack in self.packs:
            for unit in (written.first, *written.per) if written.unit else ():
                rule = pack.units.get(unit)
                if rule is not None and not notation.is_laboratory(rule.unless_per):
                    edit = mended(notation, pack) if rule.mend else None
                    self._add(rule, (written.start, written.end), rule.write, edit)
            for form, applies in FORMS.items():
                rule = pack.forms.get(form)
                if rule is not None and (write := applies(notation)) is not None:
                    end = notation.end_of(form)
                    edit = mended(notation, pack) if rule.mend else None
                    self._add(rule, (written.start, end), write, edit)
        if notation.is_dose:
            self._directions(written.end)

    def _directions(self, start: int) -> None:
        end = min(start + _AFTER_DOSE, len(self.whole))
        stop = _SENTENCE_END.search(self.whole, start, end)
        for match in _WORD.finditer(self.whole, start, stop.start() if stop else end):
            before = self.whole[match.start() - 1]
            for pack in self.packs:
                rule = pack.after_dose.get(match.group()) or pack.after_dose.get(match.group().rstrip("."))
                if rule is not None and not before.isalnum() and before not in "-/":
                    self._word(rule, match.start(), match.end())

    def anywhere(self) -> None:
        """Look for the words that are not wanted in any place."""
        for match in _CAPITALS.finditer(self.whole):
            self._look_up(match.start(), match.end())
        for match in _SMALL_Q.finditer(self.whole):
            self._look_up(match.start(), match.end())
        for match in _DOTTED.finditer(self.whole):
            if self.whole[match.start() - 1].isalpha() and not self.whole[match.start() - 2].isalnum():
                self._look_up(match.start() - 1, match.end())

    def _look_up(self, start: int, end: int) -> None:
        word = self.whole[start:end]
        for pack in self.packs:
            rule = pack.words.get(word)
            if rule is not None and not self.whole[start - 1].isalnum() and self.whole[start - 1] not in "-/_":
                self._word(rule, start, end)

    def _word(self, rule: WordingRule, start: int, end: int) -> None:
        self._add(rule, (start, end), rule.write, rule.write if rule.mend else None)

    def _add(self, rule: WordingRule, span: tuple[int, int], write: str, edit: str | None) -> None:
        start, end = span
        if (start, rule.check + rule.form) not in self.taken:
            self.taken.add((start, rule.check + rule.form))
            self.found.append(Worded(rule, start, end, self.whole[start:end], write, edit))

"""Checks of the patient's words in other languages: all of them, no others, as they stand, with the same numbers."""

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.translations import TranslationState, compared, other_numbers
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.program_words import language_of, sheet_languages
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.model.translation import Translation

_SENTENCE, _BEFORE = 160, 60


def _translations(library: Library) -> Iterator[tuple[Procedure, Translation, TranslationState]]:
    for procedure in library.procedures:
        for translation in procedure.translations.values():
            yield procedure, translation, compared(procedure, translation)


def _parting(one: str, other: str) -> int:
    """Return where two sentences part."""
    both = enumerate(zip(one, other, strict=False))
    return next((at for at, (sign, now) in both if sign != now), min(len(one), len(other)))


def _short(text: str, looked_at: int = 0) -> str:
    """Return what is shown of a sentence: of a long one what stands around ``looked_at``."""
    if len(text) <= _SENTENCE:
        return quoted(text)
    start = max(0, min(looked_at - _BEFORE, len(text) - _SENTENCE))
    end = start + _SENTENCE
    return quoted(f"{'…' * (start > 0)}{text[start:end]}{'…' * (end < len(text))}")


@finds("translation-out-of-date", piecewise=True)
def out_of_date(library: Library) -> Iterator[Hit]:
    """A sentence whose original was changed after it was translated; the sheet in its language is withheld."""
    for _, translation, state in _translations(library):
        for pair, now in state.changed:
            start = _parting(pair.original, now.text)
            yield Hit(
                pair.original.at,
                f"the original was {_short(pair.original, start)} when it was translated into "
                f"{quoted(translation.id)}, and now is {_short(now.text, start)}, "
                "so there is no sheet in this language",
                "Write the new original behind the `>`, and have the translation below it put right.",
                (SecondPlace(now.text.at, "the original as it is now"),),
            )


@finds("translation-incomplete", piecewise=True)
def incomplete(library: Library) -> Iterator[Hit]:
    """A sentence that is not translated; the sheet in this language is withheld."""
    for procedure, translation, state in _translations(library):
        if state.missing:
            now, pair = state.missing[0]
            others = len(state.missing) - 1
            are = f" and {others} more are" if others else " is"
            yield Hit(
                pair.original.at if pair else translation.id.at,
                f"{_short(now.text)}{are} not translated into {quoted(translation.id)}, so there is no sheet in it",
                "Write each translation below its original; "
                f"`prescrub draft translation {procedure.id} {translation.id}` adds the originals that are not there.",
                (SecondPlace(now.text.at, "the original"),),
            )


@finds("translation-of-nothing", piecewise=True)
def of_nothing(library: Library) -> Iterator[Hit]:
    """A text in a translation that translates nothing the sheet says."""
    for _, translation, state in _translations(library):
        for pair in state.extra:
            said = pair.original or pair.text
            yield Hit(
                said.at,
                f"{_short(said)} stands in the translation into {quoted(translation.id)} for nothing the sheet says",
                "Remove it, or quote above it with `>` the sentence that it translates.",
            )


@finds("translation-number-differs", piecewise=True)
def number_differs(library: Library) -> Iterator[Hit]:
    """A translation with another number than its original."""
    for _, translation, state in _translations(library):
        for pair in state.told.values():
            if differs := other_numbers(translation, pair, language_of(library.department.language)):
                yield Hit(
                    pair.text.at,
                    f"{_short(pair.text)} does not have the numbers of {_short(pair.original)}: {differs}",
                    "Write each number, with its unit, as it stands in the original.",
                )


@finds("translation-check-lapsed", piecewise=True)
def check_lapsed(library: Library) -> Iterator[Hit]:
    """A translation that was changed after a translator had checked it."""
    for _, translation, _ in _translations(library):
        if translation.checked is not None and not translation.is_checked:
            yield Hit(
                translation.checked.where.key("content"),
                f"this text was changed after {translation.checked.by} had checked it, so its sheet is a draft again",
                f"Have it checked again, then write `content: {translation.content}` and the day.",
            )


@finds("translation-language-unknown")
def language_unknown(library: Library) -> Iterator[Hit]:
    """A translation into a language for whose sheet the program has no words."""
    known = [language for language in sheet_languages() if language != language_of(str(library.department.language))]
    for procedure in library.procedures:
        for id, translation in procedure.translations.items():
            if id not in known:
                yield Hit(
                    translation.id.at,
                    f"the program has no words for a sheet in {quoted(id)}, so there is none",
                    f"Name the file after one of {', '.join(known)}.",
                )

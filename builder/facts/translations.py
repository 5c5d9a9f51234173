"""What of a procedure the patient's sheet says in the author's own words, and how a translation stands to it.

A sheet in another language is made of whole translations only. An old sentence may say what is no longer right, and one
in the original language, however marked, is the one that its reader cannot read, on paper that looks complete.
Without the sheet whoever hands it out notices, takes the original and asks an interpreter.
"""

from collections.abc import Iterator, Mapping
from itertools import zip_longest
from typing import NamedTuple

from builder.facts.for_patients import bound, told_sentences
from builder.facts.number_words import differing
from builder.grouping import grouped
from builder.load.program_words import language_of, sheet_languages
from builder.model.pages import Procedure
from builder.model.translation import TranslatedSentence, Translation
from builder.place import Text

TITLE = "Title"
"""The heading of the title of the procedure. The other headings are ids of aftercare, which have no capitals."""

Wording = Mapping[tuple[str, str], str]
"""Translations by item and original."""


class Original(NamedTuple):
    """A sentence of the patient's sheet as its author wrote it, and the item it belongs to."""

    item: str
    text: Text


class TranslationState(NamedTuple):
    """How a translation stands to its originals: what is ``told`` by item and original, what was ``changed`` since,
    what is ``missing`` (with its pair, where the original is quoted), and what translates nothing still said."""

    told: Mapping[tuple[str, str], TranslatedSentence]
    changed: tuple[tuple[TranslatedSentence, Original], ...]
    missing: tuple[tuple[Original, TranslatedSentence | None], ...]
    extra: tuple[TranslatedSentence, ...]

    @property
    def is_whole(self) -> bool:
        """Tell whether everything is translated as it stands."""
        return not self.changed and not self.missing


def originals(procedure: Procedure) -> Iterator[Original]:
    """Yield what has to be translated, in the order of the file."""
    yield Original(TITLE, procedure.title)
    for item in procedure.aftercare_items.values():
        if item.patient_text is None:
            continue
        if item.when.words:
            yield Original(str(item.id), item.when.words)
        for sentence in dict.fromkeys(told_sentences(item)):
            yield Original(str(item.id), Text(_spaced(bound(item, sentence)), item.patient_text.at))


def compared(procedure: Procedure, translation: Translation) -> TranslationState:
    """Return how ``translation`` stands to ``procedure``. What no longer fits is paired within its item, in order."""
    wanted = {(item, _spaced(text)): Original(item, text) for item, text in originals(procedure)}
    told = {(pair.item, str(pair.original)): pair for pair in reversed(translation.sentences) if pair.original}
    unknown = [pair for pair in translation.sentences if _key(pair) not in wanted]
    loose = grouped((pair.item, pair) for pair in unknown if pair.original)
    changed = list[tuple[TranslatedSentence, Original]]()
    missing = list[tuple[Original, TranslatedSentence | None]]()
    extra = list[TranslatedSentence]()
    for item, open_ones in grouped((key[0], one) for key, one in wanted.items() if key not in told).items():
        for pair, now in zip_longest(loose.pop(item, []), open_ones):
            if now is None:
                extra.append(pair)
            elif pair is None:
                missing.append((now, None))
            else:
                changed.append((pair, now))
    extra += [pair for pairs in loose.values() for pair in pairs]
    extra += [pair for pair in unknown if not pair.original]
    missing += [(one, told[key]) for key, one in wanted.items() if key in told and not told[key].text]
    told = {key: pair for key, pair in told.items() if key in wanted and pair.text}
    return TranslationState(told, tuple(changed), tuple(missing), tuple(extra))


def _key(pair: TranslatedSentence) -> tuple[str, str]:
    return pair.item, str(pair.original)


def _spaced(text: str) -> str:
    return " ".join(text.split())


def other_numbers(translation: Translation, pair: TranslatedSentence, written_in: str) -> str:
    """Return which numbers of ``pair`` differ, in words, where the original is ``written_in`` a language; "" where none
    does."""
    lacking, added = differing(pair.original, written_in, pair.text, language_of(translation.id))
    told = [f"{', '.join(lacking)} is not in the translation"] * bool(lacking)
    told += [f"{', '.join(added)} is not in the original"] * bool(added)
    return " and ".join(told)


def withheld(procedure: Procedure) -> Iterator[tuple[str, str]]:
    """Yield each language in which there is a translation and no sheet, and why."""
    for language, translation in procedure.translations.items():
        state = compared(procedure, translation)
        if language not in sheet_languages():
            yield language, "the program has no words in this language"
        elif state.changed:
            yield language, f"sentences whose original has changed since: {len(state.changed)}"
        elif state.missing:
            yield language, f"sentences that are not translated: {len(state.missing)}"


def sheet_languages_of(procedure: Procedure) -> tuple[str, ...]:
    """Return the languages in which there is a sheet of ``procedure``."""
    without = dict(withheld(procedure))
    return tuple(language for language in procedure.translations if language not in without)

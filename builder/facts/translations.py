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
from builder.model.pages import Procedure
from builder.model.translation import TranslatedSentence, Translation
from builder.place import Text

TITLE = "Title"
"""The heading of the title of the procedure. The other headings are ids of aftercare, which have no capitals."""


class Original(NamedTuple):
    """A sentence of the patient's sheet as its author wrote it, and the item it belongs to."""

    item: str
    text: Text


class TranslationState(NamedTuple):
    """How a translation stands to its originals: what is ``told`` by item and original, what was ``changed`` since, what
    is ``missing`` (with its pair, where the original is quoted), and what translates nothing that is still said."""

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
    loose = grouped((pair.item, pair) for pair in translation.sentences if _key(pair) not in wanted)
    changed, missing, extra = [], [], list[TranslatedSentence]()
    for item, open_ones in grouped((key[0], one) for key, one in wanted.items() if key not in told).items():
        old = [pair for pair in loose.pop(item, []) if pair.original or extra.append(pair)]
        for pair, now in zip_longest(old, open_ones):
            if now is None:
                extra.append(pair)
            elif pair is None:
                missing.append((now, None))
            else:
                changed.append((pair, now))
    extra += [pair for pairs in loose.values() for pair in pairs]
    missing += [(one, told[key]) for key, one in wanted.items() if key in told and not told[key].text]
    told = {key: pair for key, pair in told.items() if key in wanted and pair.text}
    return TranslationState(told, tuple(changed), tuple(missing), tuple(extra))


def _key(pair: TranslatedSentence) -> tuple[str, str]:
    return pair.item, str(pair.original)


def _spaced(text: str) -> str:
    return " ".join(text.split())


def other_numbers(translation: Translation, pair: TranslatedSentence) -> str:
    """Return which numbers of ``pair`` differ, in words; "" where none does."""
    lacking, added = differing(pair.original, pair.text, str(translation.id).partition("-")[0])
    told = [f"{', '.join(lacking)} is not in the translation"] * bool(lacking)
    told += [f"{', '.join(added)} is not in the original"] * bool(added)
    return " and ".join(told)


def withheld_because(procedure: Procedure, translation: Translation) -> str:
    """Return why there is no sheet of ``translation``; "" where there is one."""
    state = compared(procedure, translation)
    if state.changed:
        return f"{len(state.changed)} of its originals have changed since it was translated"
    if state.missing:
        return f"{len(state.missing)} of its sentences are not translated"
    return ""

"""The program's own words on page and paper, in the language of the department: one catalogue, one file a language.

English stands in code and templates, as the message that is looked up; ``languages/*.po`` hold what translators write,
``*.mo`` the same compiled (``make words``), which the gettext of Python reads. A message is a whole sentence with named
places, ``%(day)s``. What authors write is never looked up, and doses, numbers and ranges go through unchanged.
Findings and what a terminal shows are English.

Which language is spoken is a context variable, because words are born in views far from the Library. It is set where a
publish begins and where an output is composed; a job is carried out in the language in which it was ordered.
"""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from pathlib import Path

FOLDER = Path(str(files("builder") / "load" / "languages"))
ENGLISH = "en"
_PATIENTS = "patients"
"""The folder of languages in which there are words for patients' sheets alone."""
_language: ContextVar[str] = ContextVar("language", default=ENGLISH)


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that the program speaks: ``de``, ``en`` and so on."""
    return tuple(sorted((ENGLISH, *(path.stem for path in FOLDER.glob("*.mo")))))


@cache
def sheet_languages() -> tuple[str, ...]:
    """Return the languages in which there are words for a patient's sheet."""
    return tuple(sorted((*languages(), *(path.stem for path in (FOLDER / _PATIENTS).glob("*.mo")))))


def language_of(tag: str) -> str:
    """Return the language of a tag such as ``de-AT``: ``de``."""
    return tag.replace("_", "-").partition("-")[0].lower()


@cache
def _words_of(language: str) -> NullTranslations:
    if language not in sheet_languages() or language == ENGLISH:
        return NullTranslations()
    folder = FOLDER if language in languages() else FOLDER / _PATIENTS
    with (folder / f"{language}.mo").open("rb") as file:
        return GNUTranslations(file)


@contextmanager
def speaking(tag: str) -> Iterator[None]:
    """Speak the language of ``tag`` meanwhile; English where there are no words for it."""
    before = _language.set(language_of(str(tag)))
    try:
        yield
    finally:
        _language.reset(before)


def spoken() -> str:
    """Return the language that is spoken."""
    return _language.get()


def message(english: str) -> str:
    """Return what ``english`` is called in the language that is spoken, with its places empty: for templates."""
    return _words_of(_language.get()).gettext(english)


def messages(one: str, many: str, number: int) -> str:
    """Return the form for ``number``, with its places empty: for templates."""
    return _words_of(_language.get()).ngettext(one, many, number)


def message_in(context: str, english: str) -> str:
    """Return what ``english`` is called where it means what ``context`` says, with its places empty: for templates."""
    return _words_of(_language.get()).pgettext(context, english)


def gettext(english: str, /, **values: object) -> str:
    """Return a message with its ``values`` in their places."""
    return message(english) % values


def ngettext(one: str, many: str, number: int, /, **values: object) -> str:
    """Return the form of a message for ``number``, which is the value ``num``."""
    return messages(one, many, number) % {"num": number, **values}


def pgettext(context: str, english: str, /, **values: object) -> str:
    """Return a message where it means what ``context`` says."""
    return message_in(context, english) % values


_IN_SCRIPT = re.compile(r'_\("((?:[^"\\]|\\.)*)"\)')


def script_words(script: str) -> Iterator[str]:
    """Yield each message of a script, which says ``_("…")``."""
    return (json.loads(f'"{match[1]}"') for match in _IN_SCRIPT.finditer(script))


def spoken_script(script: str) -> str:
    """Return ``script`` with its messages in the language that is spoken, their places empty."""
    return _IN_SCRIPT.sub(lambda match: json.dumps(message(json.loads(f'"{match[1]}"')), ensure_ascii=False), script)


def noted(english: str) -> str:
    """Return ``english`` as it is: it is for the catalogue, and looked up where it is shown."""
    return english

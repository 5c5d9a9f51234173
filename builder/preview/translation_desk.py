"""The patient's sheet in another language, in the browser: written sentence by sentence, renewed, confirmed."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Any, NamedTuple

from werkzeug.exceptions import NotFound
from werkzeug.utils import redirect
from werkzeug.wrappers import Response

from builder.edit.file_change import CannotEdit
from builder.facts.directions import is_right_to_left
from builder.facts.translations import TITLE, compared, originals, other_numbers, withheld
from builder.findings.finding import Refused
from builder.load.program_words import language_of, pgettext, sheet_languages, speaking
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.preview.answer import Request, as_plain_form, get, post, rendered
from builder.preview.procedure_pages import library_of, tabs_of
from builder.preview.workshop import Workshop
from builder.write.lock import NotWritten
from builder.write.translation_file import confirm_translation, save_translation

_SEEN = "The text was changed meanwhile, so nothing was written. What you typed is still here: look again, then save."


class SentenceField(NamedTuple):
    """A sentence to translate: its ``name`` in the form, the ``part`` it stands in, the ``original``, its ``text`` so
    far, what was translated where the original has changed (``was`` and ``said``), and which numbers ``differ``."""

    name: str
    part: str
    original: str
    text: str
    was: str
    said: str
    differ: str


def called(language: str) -> str:
    """Return what ``language`` is called by those who speak it."""
    with speaking(language):
        return pgettext("name of this language", "English")


def choose_language(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``languages/<id>``: in which languages there is a sheet, and how each stands."""
    library = library_of(workshop.state, id)
    procedure = library.by_id[id]
    why = dict(withheld(procedure))
    rows = [
        (language, called(language), _standing(procedure, language, why.get(language, "")))
        for language in sheet_languages()
        if language != language_of(library.department.language)
    ]
    shown: dict[str, Any] = {"procedure": id, "title": str(procedure.title), "tabs": tabs_of(workshop, id, "done")}
    return rendered(workshop, "languages.html.j2", workshop.state, **shown, rows=rows)


def _standing(procedure: Procedure, language: str, why: str) -> str:
    translation = procedure.translations.get(language)
    if translation is None:
        return "not begun"
    return why or ("checked" if translation.is_checked else "translated, and not checked by a translator")


def show_translation(workshop: Workshop, _: Request, id: str, language: str) -> Response:
    """Answer ``translation/<id>/<language>``: every sentence with its translation."""
    return _shown(workshop, id, language)


def _shown(
    workshop: Workshop, id: str, language: str, said: str = "", typed: Mapping[str, str] | None = None
) -> Response:
    library, procedure = _of(workshop, id, language)
    before = _fields(library, procedure, language)
    fields = [field._replace(text=(typed or {}).get(field.name, field.text)) for field in before]
    translation = procedure.translations.get(language)
    shown: dict[str, Any] = {
        "procedure": id, "title": str(procedure.title), "tabs": tabs_of(workshop, id, "done"), "fields": fields,
        "language": language, "called": called(language), "direction": "rtl" if is_right_to_left(language) else "ltr",
        "written_in": str(library.department.language), "said_wrong": said, "seen": _seen(library, procedure, language),
        "is_whole": translation is not None and compared(procedure, translation).is_whole,
        "check": translation.checked if translation is not None and translation.is_checked else None,
    }  # fmt: skip
    return as_plain_form(rendered(workshop, "translation.html.j2", workshop.state, 409 if said else 200, **shown))


def _of(workshop: Workshop, id: str, language: str) -> tuple[Library, Procedure]:
    library = library_of(workshop.state, id)
    if language not in sheet_languages():
        raise NotFound
    return library, library.by_id[id]


def _fields(library: Library, procedure: Procedure, language: str) -> list[SentenceField]:
    translation = procedure.translations.get(language)
    state = compared(procedure, translation) if translation is not None else None
    told = state.told if state else {}
    changed = {(now.item, " ".join(now.text.split())): pair for pair, now in state.changed} if state else {}
    written_in = language_of(library.department.language)
    found = []
    for name, key in _names(procedure).items():
        item, pair, old = key[0], told.get(key), changed.get(key)
        differ = other_numbers(translation, pair, written_in) if translation and pair else ""
        part = "Title" if item == TITLE else str(procedure.aftercare_items[item].title)
        was = (str(old.original), str(old.text)) if old else ("", "")
        found.append(SentenceField(name, part, key[1], str(pair.text) if pair else "", *was, differ))
    return found


def _names(procedure: Procedure) -> Mapping[str, tuple[str, str]]:
    """Return every original with its item, by the name of its field: it stays while the original is the same."""
    keys = ((item, " ".join(text.split())) for item, text in originals(procedure))
    return {f"t{sha256('|'.join(key).encode()).hexdigest()[:16]}": key for key in keys}


def _seen(library: Library, procedure: Procedure, language: str) -> str:
    """Return a digest of the originals and of the file, as they are shown."""
    file = library.texts.get(f"content/procedures/{procedure.id}/translations/{language}.md", "")
    told = [file, *(f"{item}\0{text}" for item, text in originals(procedure))]
    return sha256("\n".join(told).encode()).hexdigest()


def write(workshop: Workshop, request: Request, id: str, language: str) -> Response:
    """Answer the POST ``translation/<id>/<language>``: what was written, or that somebody has checked it."""
    library, procedure = _of(workshop, id, language)
    typed = {name: " ".join(str(text).split()) for name, text in request.fields.items()}
    if typed.get("seen") != _seen(library, procedure, language):
        return _shown(workshop, id, language, _SEEN, typed)
    try:
        if typed.get("do") == "confirm":
            translation = procedure.translations.get(language)
            if translation is None:
                raise NotFound
            confirm_translation(library, id, translation, typed.get("by", ""), typed.get("role", ""))
        else:
            told = {key: typed[name] for name, key in _names(procedure).items() if name in typed}
            save_translation(library.root, library, id, language, told)
    except CannotEdit as error:
        return _shown(workshop, id, language, f"Nothing was written: {error.reason}. {error.hint}", typed)
    except (Refused, NotWritten) as error:
        return _shown(workshop, id, language, f"Nothing was written. {error}", typed)
    workshop.saved()
    return redirect(f"{workshop.home}/translation/{id}/{language}", 303)


ROUTES = (
    get("/languages/<id>", choose_language),
    get("/translation/<id>/<language>", show_translation),
    post("/translation/<id>/<language>", write),
)

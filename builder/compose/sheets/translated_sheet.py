"""The patient's sheet in another language: the same sheet, with a translator's words for the author's.

A translation that no translator has checked is a draft, whatever the procedure is: it says so in its own language and
in English, so that whoever hands it out knows too. What an old or partial translation would make is not made.
"""

from dataclasses import replace

from builder.compose.document import Document, Renderer
from builder.compose.sheets.patient_sheet import musts_of, patient_view
from builder.compose.view.head import head_of
from builder.facts.readability import ease_in
from builder.facts.translations import TITLE, compared
from builder.load.program_words import ENGLISH, gettext, pgettext, speaking
from builder.model.library import Library
from builder.model.pages import Procedure, Status

_TEMPLATE = "sheets/patient_sheet.html.j2"


def compose(
    library: Library, procedure: Procedure, renderer: Renderer, language: str, *, large: bool = False
) -> Document:
    """Return the sheet of ``procedure`` in ``language``, of which there is a whole translation; ``large``: in large
    print."""
    translation = procedure.translations[language]
    told = {key: str(pair.text) for key, pair in compared(procedure, translation).told.items()}
    shown = procedure if translation.is_checked else procedure.model_copy(update={"status": Status.DRAFT})
    with speaking(ENGLISH):
        english_mark = _mark(library, shown, renderer, is_checked=translation.is_checked)
    with speaking(language):
        view = replace(
            patient_view(library, procedure, large=large, worded=told),
            written_in=str(library.department.language),
            english_mark=english_mark,
        )
        head = replace(
            head_of(library, shown),
            title=told[TITLE, " ".join(procedure.title.split())],
            language=language,
            mark=_mark(library, shown, renderer, is_checked=translation.is_checked),
        )
        ease = ease_in(language, told.values())
        return Document.about(
            procedure,
            "patient-sheet",
            f"patient-sheet-{'large-' * large}{language}.pdf",
            renderer.render(_TEMPLATE, view=view, head=head),
            edition=procedure.edition if translation.is_checked else "",
            musts=(*head.musts, *musts_of(view)),
            explained={
                "language": language,
                "called": pgettext("name of this language", "English"),
                "checked": translation.is_checked,
                "reading": {ease.name: round(ease.value, 1)} if ease else "no formula for this language",
            },
        )


def _mark(library: Library, procedure: Procedure, renderer: Renderer, *, is_checked: bool) -> str:
    marks = (
        head_of(library, procedure, renderer.look.paper_mark(procedure, _TEMPLATE)).mark,
        "" if is_checked else gettext("Not checked by a translator"),
    )
    return ". ".join(filter(None, marks))

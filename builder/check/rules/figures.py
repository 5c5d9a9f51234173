"""Figures exist, say what they show and whose they are, and every figure file is used."""

from collections import defaultdict
from collections.abc import Iterator
from pathlib import PurePosixPath

from builder.check.hit import Hit, finds
from builder.facts.walk import figures, procedures_with_broken
from builder.findings.message_words import mend, quoted
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.place import Place


@finds("figure-without-alt", piecewise=True)
def without_alt(library: Library) -> Iterator[Hit]:
    """Yield each figure that says nothing to a reader who cannot see it."""
    hint = "Add `alt:` with one sentence that says what the figure shows."
    return _lacking(library, "alt", "no text for readers who cannot see it", hint)


@finds("figure-without-credit", piecewise=True)
def without_credit(library: Library) -> Iterator[Hit]:
    """Yield each figure that does not say who made it."""
    return _lacking(
        library, "credit", "no credit", "Add `credit:` with the name of who made it, for instance `own drawing`."
    )


@finds("figure-without-consent", piecewise=True)
def without_consent(library: Library) -> Iterator[Hit]:
    """Yield each figure that does not say on what consent it is shown."""
    hint = "Add `consent:` with the number of the patient's consent, or `none needed` for a drawing."
    return _lacking(library, "consent", "no consent", hint)


def _lacking(library: Library, key: str, what: str, hint: str) -> Iterator[Hit]:
    for _, figure in figures(library):
        if getattr(figure, key) is None:
            yield Hit(figure.file.at, f"{quoted(figure.file)} has {what}", hint)


@finds("figure-file-missing", piecewise=True)
def missing_files(library: Library) -> Iterator[Hit]:
    """Yield each figure whose file is not in the procedure's folder ``figures/``."""
    there: dict[str, list[str]] = {}
    for procedure, figure in figures(library):
        path = _path(procedure, figure)
        if path not in library.figures and not library.is_broken("figure", figure.file, procedure.id):
            there = there or _by_folder(library)
            folder = f"content/procedures/{procedure.id}/figures/"
            hint = mend(figure.file, there.get(folder, ()), f"Add the file to {folder}, or name one that is there.")
            yield Hit(figure.file.at, f"{quoted(figure.file)} is not in the folder figures/ of this procedure", hint)


def _by_folder(library: Library) -> dict[str, list[str]]:
    """Return the names of the figure files of each folder."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted(library.figures):
        folder, _, name = path.rpartition("/")
        found[f"{folder}/"].append(name)
    return found


def _path(procedure: Procedure, figure: Figure) -> str:
    return f"content/procedures/{procedure.id}/figures/{figure.file}"


@finds("figure-file-not-used")
def unused_files(library: Library) -> Iterator[Hit]:
    """Yield each figure file that no file of its procedure describes."""
    doubtful = procedures_with_broken(library, ("step", "procedure"))
    used = {_path(procedure, figure) for procedure, figure in figures(library)}
    known = {str(procedure.id) for procedure in library.procedures}
    for path in sorted(library.figures - used):
        parts = PurePosixPath(path).parts
        if parts[2] in known and parts[2] not in doubtful:
            hint = "Describe it with `figure:` in the step that shows it, or remove the file."
            yield Hit(Place(path), f"{quoted(parts[-1])} is a figure that no page shows", hint)

"""Nothing that names a patient stands in any file; every picture of a patient rests on a consent."""

import re
from collections.abc import Callable, Iterator
from pathlib import PurePosixPath

from builder.check.hit import Hit, finds
from builder.facts.identities import (
    BIRTH,
    CONTACT,
    HOSPITAL,
    NAME,
    NHS,
    NONE_NEEDED,
    Identity,
    identities,
    masked,
    telling_id,
    telling_name,
)
from builder.facts.remembered import once_per_library
from builder.facts.staff import is_of_staff, staff
from builder.facts.texts import SEPARATOR
from builder.facts.walk import figures
from builder.facts.written import Part, written
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.packs import words as word_list
from builder.model.library import Library
from builder.place import Place

_REMOVE = "Remove it."
_WORDS = {
    NHS: ("is an NHS number", _REMOVE),
    BIRTH: ("is a date of birth", "Remove it; write an age, or an age group, where it matters."),
    HOSPITAL: ("looks like the number of a patient", _REMOVE),
    NAME: ("is a person's name", "Remove it, or write the role where a colleague is meant."),
    CONTACT: ("looks like a way to reach a person", "Remove it, or write the number or address of the ward."),
}


@once_per_library
def _found(library: Library) -> tuple[Identity, ...]:
    """Return what names a patient in every file; in a source only in the notes on it, because authors are named."""
    words = written(library)
    people = staff(library)
    return tuple(
        one
        for one in (*identities(words.whole), *_by_given_name(words.whole))
        if words.piece(one.start).part is not Part.SOURCE
        and not (one.kind == NAME and is_of_staff(words.whole[one.start : one.end], people))
    )


# What comes after the first word is only looked at, so that it may be the first of the next pair.
_PAIR = re.compile(r"[A-Z](?<![\w'’-].)[a-z]+(?P<comma>,?)(?= (?P<second>[A-Z][a-z]+(?:[-'’][A-Za-z]+)?))")
_INITIALS = re.compile(r"[Pp]atient (?:(?:[A-Z]\. ?){2,3}|[A-Z]{2}(?=,? (?:ward|bed|aged)))")
_NOT_A_FAMILY_LIST = """
hospital infirmary ward university college centre center street road house unit clinic foundation trust institute
"""
_NOT_A_FAMILY = frozenset(_NOT_A_FAMILY_LIST.split())
_EPONYMS = re.compile(r" (?:bandage|clamp|forceps|retractor|scissors|knife|sign|test|position|catheter|tube|needle)\b")


def _by_given_name(whole: str) -> Iterator[Identity]:
    """Yield a given name with a family name, in either order, and a patient with initials: told by capitals alone."""
    for match in _INITIALS.finditer(whole):
        yield Identity(NAME, match.start(), match.end())
    given = word_list("people", "given")
    for match in _PAIR.finditer(whole):
        first, second, end = match.group().rstrip(","), match["second"], match.end("second")
        name, family = (second, first) if match["comma"] else (first, second)
        of_person = name.casefold() in given and family.casefold() not in _NOT_A_FAMILY
        if of_person and not _EPONYMS.match(whole, end):
            yield Identity(NAME, match.start(), end)


def _of_kind(kind: str) -> Callable[[Library], Iterator[Hit]]:
    def rule(library: Library) -> Iterator[Hit]:
        words = written(library)
        what, hint = _WORDS[kind]
        for one in _found(library):
            if one.kind == kind:
                shown = " ".join(words.whole[one.start : one.end].split())
                test = " of the range for tests (999)" if one.is_test else ""
                advice = (
                    "Remove it, or accept this finding with the reason that it is invented." if one.is_test else hint
                )
                yield Hit(words.place(one.start), f"{quoted(masked(shown))} {what}{test}", advice)

    return rule


finds("nhs-number", piecewise=True)(_of_kind(NHS))
finds("date-of-birth", piecewise=True)(_of_kind(BIRTH))
finds("hospital-number", piecewise=True)(_of_kind(HOSPITAL))
finds("name-of-person", piecewise=True)(_of_kind(NAME))
finds("contact-details", piecewise=True)(_of_kind(CONTACT))


@finds("file-name-identifies")
def telling_file_names(library: Library) -> Iterator[Hit]:
    """Yield each file whose name may name a patient: a name, a date or a long number; and ids of shapes with a day."""
    for path, text in library.texts.items():
        for match in _SHAPE_OF_A_DAY.finditer(text) if path.endswith(".svg") else ():
            line, column = text.count("\n", 0, match.start()) + 1, match.start() - text.rfind("\n", 0, match.start())
            message = f"{quoted(masked(match[1]))} in the id of a shape may name a patient or a day"
            yield Hit(Place(path, line, column), message, "Name the shape after what it shows, or take the id out.")
    paths = {*library.figures, *library.texts}
    of_figures = SEPARATOR.join(map(_stem, library.figures))
    of_others = SEPARATOR.join(
        path.split("/")[-2] if path.endswith("/procedure.md") else _stem(path) for path in paths - library.figures
    )
    if not telling_name(of_figures) and not telling_id(of_others):
        return  # as nearly always, and all names are read in one pass
    for path in sorted(paths):
        is_figure = path in library.figures
        name = PurePosixPath(path)
        found = (telling_name if is_figure else telling_id)(name.stem)
        if found:
            hint = "Name the file after what it shows, for instance `open-canal.png`."
            yield (
                _telling(path, found, "figure file", hint) if is_figure else _telling(path, found, "file", _BY_CONTENT)
            )
        elif name.name == "procedure.md" and (found := telling_id(name.parent.name)):
            yield _telling(path, found, "folder", _BY_CONTENT)


def _stem(path: str) -> str:
    """Return the name of the file at ``path`` without its last ending."""
    name = path.rpartition("/")[2]
    return name.rpartition(".")[0] or name


# A name and a day, as a person writes them; the numbers that an editor gives to shapes have no strokes.
_SHAPE_OF_A_DAY = re.compile(
    r"""\bid\s*=\s*["']([^"'<>]*[A-Za-z]{2}[-_](?:19|20)[0-9]{2}[-_][01][0-9][-_][0-3][0-9])"""
)
_BY_CONTENT = "Name it after what it says, for instance `open-canal`."


def _telling(path: str, found: str, what: str, hint: str) -> Hit:
    return Hit(Place(path), f"{quoted(masked(found))} in the name of a {what} may name a patient or a day", hint)


@finds("consent-unknown")
def consents_unknown(library: Library) -> Iterator[Hit]:
    """Yield each consent that a figure names and the register does not list, where the department keeps a register."""
    if not library.consents or library.is_broken("consents", "consents"):
        return
    known = {str(one.id) for one in library.consents}
    for _, figure in figures(library):
        if (
            figure.consent is not None
            and str(figure.consent).casefold() not in NONE_NEEDED
            and figure.consent not in known
        ):
            hint = "Add it to content/catalogue/consents.yml, or write `none needed` for a drawing."
            yield Hit(figure.consent.at, f"{quoted(figure.consent)} is not a consent in the register", hint)


@finds("consent-withdrawn")
def consents_withdrawn(library: Library) -> Iterator[Hit]:
    """Yield each figure whose consent was withdrawn: it is in no output from now on."""
    withdrawn = {str(one.id): one for one in library.consents if one.withdrawn is not None}
    for _, figure in figures(library):
        consent = withdrawn.get(str(figure.consent))
        if consent is not None:
            shown = quoted(str(figure.consent))
            message = f"{shown} was withdrawn on {consent.withdrawn}: no output shows {figure.file} from now on"
            also = (SecondPlace(consent.id.at, "withdrawn here"),)
            yield Hit(figure.file.at, message, "Remove the figure and its file, and show a drawing instead.", also)

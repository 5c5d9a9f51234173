"""Nothing that names a patient stands in the sources; every picture of a patient rests on a consent."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import PurePosixPath

from builder.check.hit import Hit, finds
from builder.facts.identities import BIRTH, HOSPITAL, NAME, NHS, NONE_NEEDED, Identity, identities, masked, telling_name
from builder.facts.remembered import once_per_library
from builder.facts.texts import corpus
from builder.facts.walk import figures
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.place import Place

_WORDS = {
    NHS: ("is an NHS number", "Remove it."),
    BIRTH: ("is a date of birth", "Remove it; write an age, or an age group, where it matters."),
    HOSPITAL: ("looks like a patient's number in the hospital", "Remove it."),
    NAME: ("is a person's name", "Remove it, or write the role where a colleague is meant."),
}


@once_per_library
def _found(library: Library) -> tuple[Identity, ...]:
    return tuple(identities(corpus(library).whole))


def _of_kind(kind: str) -> Callable[[Library], Iterator[Hit]]:
    def rule(library: Library) -> Iterator[Hit]:
        texts = corpus(library)
        what, hint = _WORDS[kind]
        for one in _found(library):
            if one.kind == kind:
                shown = texts.whole[one.start : one.end]
                test = " of the range for tests (999)" if one.is_test else ""
                advice = (
                    "Remove it, or accept this finding with the reason that it is invented." if one.is_test else hint
                )
                yield Hit(texts.place(one.start), f"{quoted(masked(shown))} {what}{test}", advice)
        for notes in library.notes.values():
            for one in identities(notes.source):
                if one.kind == kind:
                    shown = masked(notes.source[one.start : one.end])
                    yield Hit(notes.place(one.start), f"{quoted(shown)} {what}", hint)

    return rule


finds("nhs-number")(_of_kind(NHS))
finds("date-of-birth")(_of_kind(BIRTH))
finds("hospital-number")(_of_kind(HOSPITAL))
finds("name-of-person")(_of_kind(NAME))


@finds("file-name-identifies")
def telling_file_names(library: Library) -> Iterator[Hit]:
    """Yield each figure file whose name may name a patient: a name, a date or a long number."""
    for path in sorted(library.figures):
        found = telling_name(PurePosixPath(path).stem)
        if found:
            message = f"{quoted(masked(found))} in the name of a figure file may name a patient or a day"
            yield Hit(Place(path), message, "Name the file after what it shows, for instance `open-canal.png`.")


@finds("consent-unknown")
def consents_unknown(library: Library) -> Iterator[Hit]:
    """Yield each consent that a figure names and the register does not hold, where the department keeps a register."""
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
            yield Hit(figure.consent.at, f"{quoted(figure.consent)} is no consent of the register", hint)


@finds("consent-withdrawn")
def consents_withdrawn(library: Library) -> Iterator[Hit]:
    """Yield each figure whose consent was withdrawn: it is in no output from now on."""
    withdrawn = {str(one.id): one for one in library.consents if one.withdrawn is not None}
    for _, figure in figures(library):
        consent = withdrawn.get(str(figure.consent))
        if consent is not None:
            shown = quoted(str(figure.consent))
            message = f"{shown} was withdrawn on {consent.withdrawn}: no output shows {figure.file} any more"
            also = (SecondPlace(consent.id.at, "withdrawn here"),)
            yield Hit(figure.file.at, message, "Remove the figure and its file, and show a drawing instead.", also)

"""What an edition is: the parts of a procedure that a reader sees, the hash that is approved, the code of its issue.

What counts is what a reader is told to do, use, see or fear, with the names the catalogues give. What does not count
cannot void an approval: where a line of the source is broken, who owns the procedure, when it is to be reviewed, the
numbers to call (they change the code), what only the analysis reads. Empty values are passed over, so that a field
which a later version adds changes no hash. A procedure that was changed after its approval is made a draft here, in the
model itself, so that no output can forget to say so.

A code follows from the text; issuing is adding a line. The code is worked out of procedure, edition and the digests of
all parts that a reader sees, so two publishes give the same paper. Only ``publish --issue`` adds lines to the ledger
(``load/ledger.py``), for approved procedures alone, when all is made and proved and before the site is put in place: a
card without a line must not exist, a line without a card does no harm. A code without a line is printed as not issued.
A publish is refused where it would no longer answer for a code it answered for.
"""

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, NamedTuple

from stdnum.iso7064 import mod_37_36

from builder.grouping import word_set
from builder.load.prose import Prose
from builder.model.action import Action, Verb
from builder.model.fields import Node, Page
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Approval, Procedure, Status
from builder.model.sequence import StepEntry
from builder.place import Text

CALL = "call"
ALPHABET = "23456789CDFHJKMNPRTWXY"
"""Characters of a code: none is taken for another in print or by hand (no 0 O Q, 1 I L, 5 S, 8 B, 2 Z, 6 G, U V), and
they make no words. Their number is even, and one less than a prime, as the hybrid systems of ISO/IEC 7064 want it. They
are capitals, as is the address of a code: a QR symbol of capitals and digits alone is smaller."""
_SIGNS = 8
_GROUP = 3
_SHORT = 10
_HASH_FORM = "v1-"
_HASH_LENGTH = 24

# What a reader never sees, or sees and does not act on.
_UNSEEN = word_set("""
where id accept needs gives credit consent file proposed heard_at said_by no_actions may_be_removed
""")
_ABOUT = ("title", "specialty", "summary", "setting", "side", "figure", "evidence", "common_practice", "body")
_NAMES = frozenset({"objects", "inside", "on", "using", "through", "at_risk", "structure", "drug", "concerns"})
# A line that begins with a letter goes on with the paragraph, unless the line above begins a block of its own.
_OWN_BLOCK = ("#", "|", "```", "~~~", "<", "    ", "\t", "---", "===", "***", "___")


@dataclass(frozen=True, slots=True)
class EditionPart:
    """A part that a reader sees: ``kind`` is about, before, kit, order, step, caution, aftercare, local, translation,
    terms or call; ``id`` names it within its kind; ``digest`` is the SHA-256 of what it says, in hexadecimal."""

    kind: str
    id: str
    title: str
    digest: str

    @property
    def short(self) -> str:
        """The digest as the ledger keeps it: 40 bits, enough to tell one state of one part from the next."""
        return self.digest[:_SHORT]


class ToldPart(NamedTuple):
    """What one part says, as lists, texts and numbers by their keys; ``kind`` and ``id`` as in EditionPart."""

    kind: str
    id: str
    title: str
    says: Any


@dataclass(frozen=True, slots=True)
class Edition:
    """The state of a procedure: its ``parts`` in order, the hash ``content`` that is approved, and its ``code``."""

    parts: tuple[EditionPart, ...]
    content: str
    code: str


def edition_of(library: Library, procedure: Procedure) -> Edition:
    """Return the edition of ``procedure`` as it stands. Equal content gives equal hash and code, on any machine."""
    if kept := library.editions.get(str(procedure.id)):
        return kept
    parts = tuple(
        EditionPart(part.kind, part.id, part.title, hashlib.sha256(_as_json(part.says)).hexdigest())
        for part in told_parts(library, procedure)
    )
    # The numbers to call are the department's, not the approver's: they change the code, and leave the approval.
    approved = "".join(f"{part.kind}\0{part.id}\0{part.digest}\n" for part in parts if part.kind != CALL)
    content = _HASH_FORM + hashlib.sha256(approved.encode()).hexdigest()[:_HASH_LENGTH]
    return Edition(parts, content, code_of(procedure.id, procedure.edition, parts_of(parts)))


def parts_of(parts: Iterable[EditionPart]) -> Iterator[tuple[str, str, str]]:
    """Yield kind, id and short digest of each part, as ``code_of`` takes them."""
    return ((part.kind, part.id, part.short) for part in parts)


def code_of(procedure: str, edition: str, parts: Iterable[tuple[str, str, str]]) -> str:
    """Return the code of an edition, such as ``7K3-M9P-XT4``; it follows from what a line of the ledger holds.

    Eight characters of ALPHABET and a check character by the hybrid system of ISO/IEC 7064 with M = 22 (the algorithm
    of MOD 11,10 and MOD 37,36).
    """
    text = "\n".join(("code", procedure, " ".join(edition.split()), *("\t".join(part) for part in parts)))
    number = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
    signs = ""
    for _ in range(_SIGNS):
        number, place = divmod(number, len(ALPHABET))
        signs += ALPHABET[place]
    signs += str(mod_37_36.calc_check_digit(signs, ALPHABET))
    return "-".join(signs[at : at + _GROUP] for at in range(0, len(signs), _GROUP))


def edition_key(edition: str) -> tuple[int, ...]:
    """Return the numbers in ``edition``, by which editions are ordered: 1.10 follows 1.9."""
    return tuple(int(number) for number in re.findall(r"\d+", edition))


def settled(library: Library) -> Library:
    """Return ``library`` with each procedure that was changed after its approval as the draft it is again.

    Their ids are in ``lapsed``. Nothing is judged while a file cannot be used: its part of the content is not there.
    """
    if not is_whole(library):
        return library
    lapsed = frozenset(str(procedure.id) for procedure in library.procedures if not _stands(library, procedure))
    if not lapsed:
        return library
    procedures = tuple(
        procedure.model_copy(update={"status": Status.DRAFT}) if procedure.id in lapsed else procedure
        for procedure in library.procedures
    )
    return replace(library, procedures=procedures, lapsed=lapsed)


def is_whole(library: Library) -> bool:
    """Tell whether every text could be used. A picture of another kind stops nothing else, so it may not stop this."""
    return all(kind == "figure" for kind, _, _ in library.broken)


def _stands(library: Library, procedure: Procedure) -> bool:
    """Tell whether every approval that ``procedure`` claims was given for this content."""
    if procedure.status is not Status.APPROVED or not procedure.approval:
        return True
    return approvals_of(procedure, edition_of(library, procedure).content) == procedure.approval


def approvals_of(procedure: Procedure, content: str) -> tuple[Approval, ...]:
    """Return the approvals that were given for ``content``."""
    return tuple(one for one in procedure.approval if one.content.strip().casefold() == content)


def _as_json(says: Any) -> bytes:
    return json.dumps(says, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")


def told_parts(library: Library, procedure: Procedure) -> Iterator[ToldPart]:
    """Yield every part of ``procedure`` that a reader sees, with all that it says: what its digest is made of."""
    reader = _ProcedureReader(library, procedure)
    about = {name: getattr(procedure, name) for name in _ABOUT}
    yield reader.part("about", "about", procedure.title, reader.fields(about))
    yield reader.part("before", "before", "", reader.plain(procedure.before_you_start))
    kit = [[reader.named(name), number, reader.is_counted(name)] for name, number in procedure.kit.items()]
    yield reader.part("kit", "kit", "", kit)
    yield reader.part("order", "order", "", reader.plain(procedure.sequence))
    entries = procedure.entries
    steps = dict.fromkeys(str(entry.step) for entry in entries if isinstance(entry, StepEntry))
    for id in steps:
        if id in procedure.steps:
            yield reader.page("step", procedure.steps[id], procedure.steps[id].title)
    for caution in sorted(procedure.cautions.values(), key=lambda page: page.id):
        yield reader.page("caution", caution, caution.hazard)
    for item in procedure.aftercare_items.values():
        yield reader.page("aftercare", item, item.title)
    if local := library.local_of(procedure):
        reasons = [[_spaced(f"{one.target} {one.key}"), one.because, one.document, str(one.on)] for one in local]
        yield reader.part("local", "local", "", [list(map(_spaced, reason)) for reason in reasons])
    for language, translation in procedure.translations.items():
        if translation.is_checked:  # any other is a draft, marked as one, and no part of what is approved
            yield reader.part("translation", language, language, [list(told) for told in translation.sentences])
    yield reader.part("terms", "terms", "", list(reader.terms()))
    yield reader.part(CALL, CALL, "", list(reader.call()))


class _ProcedureReader:
    """Reads a procedure as plain lists and texts; remembers all that it said."""

    def __init__(self, library: Library, procedure: Procedure) -> None:
        self.library = library
        self.procedure = procedure
        self.said: list[str] = []

    def part(self, kind: str, id: str, title: str, value: Any) -> ToldPart:
        self.said.append(_as_json(value).decode("utf-8", "surrogatepass"))
        return ToldPart(kind, id, _spaced(title), value)

    def page(self, kind: str, page: Page, title: str) -> ToldPart:
        return self.part(kind, str(page.id), title, self.plain(page))

    def plain(self, value: Any) -> Any:  # noqa: PLR0911  # one line for each kind of value the model holds
        """Return ``value`` as JSON can hold it, without what is unseen."""
        if isinstance(value, Text):
            return _spaced(value)
        if isinstance(value, Figure):
            picture = f"content/procedures/{self.procedure.id}/figures/{value.file}"
            return [self.fields(_fields_of(value)), value.id, self.library.pictures.get(picture, "")]
        if isinstance(value, Node):
            # What is counted or who is told is said in the writer's own words, not in those of a catalogue.
            is_own = isinstance(value, Action) and value.verb in (Verb.COUNT, Verb.TELL)
            return self.fields(_fields_of(value), names=frozenset() if is_own else _NAMES)
        if isinstance(value, Prose):
            return reflowed(value.source)
        if isinstance(value, tuple | list):
            return [self.plain(part) for part in value]
        if isinstance(value, Enum):
            return value.value
        if isinstance(value, bool | int):
            return value
        if isinstance(value, Mapping):
            return [[_spaced(key), self.plain(part)] for key, part in value.items()]
        return str(value) if isinstance(value, Decimal | date) else _spaced(str(value))

    def fields(self, values: Mapping[str, Any], names: frozenset[str] = frozenset()) -> dict[str, Any]:
        """Return what is not empty of ``values``; those in ``names`` with the names the catalogues give."""
        filled = {}
        for key in sorted(values):
            value = values[key]
            if key in names and value:
                value = [self.named(word) for word in value] if isinstance(value, tuple) else self.named(value)
            if plain := self.plain(value) if value else None:
                filled[key] = plain
        return filled

    def named(self, words: str) -> str:
        entry = self.library.structures.find(words) or self.library.items.find(words)
        return _spaced(entry.name if entry else words)

    def is_counted(self, words: str) -> bool:
        item = self.library.items.find(words)
        return bool(item and item.counted)

    def terms(self) -> Iterator[list[str]]:
        """Yield each abbreviation that the parts so far use, with what it is spelt out as."""
        text = "\n".join(self.said)
        for term in sorted(self.library.terms, key=lambda term: term.short):
            if term.short in text and re.search(rf"(?<!\w){re.escape(term.short)}(?!\w)", text):
                yield [_spaced(term.short), _spaced(term.long), _spaced(term.plain or "")]

    def call(self) -> Iterator[list[str]]:
        """Yield the numbers of the roles that this procedure calls."""
        called = [step.call for step in self.procedure.steps.values()]
        called += [caution.call for caution in self.procedure.cautions.values()]
        roles = {_spaced(role).casefold() for role in called if role}
        for call in self.library.department.call:
            if _spaced(call.role).casefold() in roles:
                yield [_spaced(call.role), _spaced(call.number)]


@cache
def _seen_of(kind: type[Node]) -> tuple[str, ...]:
    return tuple(name for name in kind.model_fields if name not in _UNSEEN)


def _fields_of(node: Node) -> dict[str, Any]:
    """Return what a reader may see of ``node``; only what was written, for most of a step is empty."""
    held = node.__dict__
    return {name: held[name] for name in _seen_of(type(node)) if held[name]}


def _spaced(text: str) -> str:
    return " ".join((text if text.isascii() else unicodedata.normalize("NFC", text)).split())


def reflowed(source: str) -> str:
    """Return Markdown so that breaking a paragraph's lines elsewhere does not change it; blocks stay apart."""
    lines: list[str] = []
    for line in map(str.rstrip, unicodedata.normalize("NFC", source).split("\n")):
        above = lines[-1] if lines else ""
        goes_on = line[:1].isalpha() and above and not above.startswith(_OWN_BLOCK)
        if goes_on:
            lines[-1] = f"{above} {line}"
        elif line or above:
            lines.append(line)
    return "\n".join(lines).strip("\n")

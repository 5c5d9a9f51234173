"""Reads a finished .pptx back and proves it against the deck as composed. A new proof is a row here."""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from pptx import Presentation
from pptx.exc import PackageNotFoundError

from builder.compose.document import Document
from builder.compose.slides.slides import deck_from
from builder.findings.message_words import quoted
from builder.readback.slides import slides_proofs as proofs
from builder.readback.slides.slides_proofs import ReadDeck
from builder.readback.slides.slides_read import EMU, A, Member, slides_in

Prove = Callable[[ReadDeck], Iterator[str]]
_PNG = b"\x89PNG\r\n\x1a\n"
_PLAIN_PARTS = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS"})
_NEUTRAL = ("image", "drawing")
_MAP = {"bg1": "lt1", "tx1": "dk1", "bg2": "lt2", "tx2": "dk2"}
_MOMENT = (1980, 1, 1, 0, 0, 0)


def carried(read: ReadDeck) -> Iterator[str]:
    """Prove that the file carries no more than the slides: plain pictures, own properties, no links, no programs."""
    for member in read.members:
        name = member.name.rpartition("/")[2]
        if member.name.startswith("ppt/media/"):
            if not name.startswith(_NEUTRAL) or not name.endswith((".png", ".svg")):
                yield f"{member.name} in it tells a name or is no picture that it may carry"
            if name.endswith(".png"):
                yield from (f"{member.name} in it {what}" for what in _telling(member.content))
            if name.endswith(".svg") and b"<script" in member.content:
                yield f"{member.name} in it holds a program"
        if member.name.endswith(".rels") and b'TargetMode="External"' in member.content:
            yield f"{member.name} in it leads out of the file"
        if name.lower().startswith(("vbaproject", "thumbnail", "printersettings", "oleobject")):
            yield f"{member.name} in it is none of our making"


def _telling(png: bytes) -> Iterator[str]:
    if not png.startswith(_PNG):
        yield "is no PNG picture"
        return
    at = len(_PNG)
    while at + 8 <= len(png):
        size, kind = struct.unpack(">I4s", png[at : at + 8])
        if kind not in _PLAIN_PARTS:
            yield f"carries a part `{kind.decode('latin-1')}` beside what is shown"
        at += size + 12


_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("all slides are there, 16:9, each with a title of its own", proofs.slides),
    ("every caution, critical step, count and reference is there, in order", proofs.musts),
    ("the words of each slide are those composed, in reading order", proofs.words),
    ("all text is inside its box and the slide, and nothing lies over it", proofs.places),
    ("no type is below 24 pt, and all of it says its language", proofs.sizes),
    ("all text can be read at a contrast of 4.5 to 1 or more in colour and in grey", proofs.inks),
    ("every picture is described as composed, never by the name of a file", proofs.alts),
    ("the notes of every slide are those composed", proofs.notes),
    ("the file carries plain pictures and nothing else: no links, no programs, no properties but ours", carried),
)
NAMES = tuple(name for name, _ in _PROOFS)


@dataclass(frozen=True, slots=True)
class SlidesRead:
    """What was found: number of slides, the smallest type in pt, and what is wrong."""

    pages: int
    smallest_type_pt: float
    problems: tuple[str, ...]


def read_back(document: Document, path: Path) -> SlidesRead:
    """Return what is wrong with the .pptx at ``path`` that was made of ``document``, whose text is its Deck."""
    try:
        presentation: Any = Presentation(str(path))
        with zipfile.ZipFile(path) as package:
            members = tuple(Member(one.filename, package.read(one)) for one in package.infolist())
            dated = [one.filename for one in package.infolist() if one.date_time != _MOMENT]
    except (PackageNotFoundError, zipfile.BadZipFile, KeyError, ET.ParseError, ValueError) as error:
        return SlidesRead(0, 0.0, (f"it cannot be opened: {error}",))
    size = (presentation.slide_width / EMU, presentation.slide_height / EMU)
    found = slides_in(presentation)
    read = ReadDeck(document, deck_from(document.text), found, size, members, _colours(members))
    problems = [problem for _, prove in _PROOFS for problem in prove(read)]
    problems.extend(_properties(read, presentation.core_properties))
    problems.extend(f"{name} in it tells the time of day" for name in dated)
    return SlidesRead(len(found), round(proofs.smallest(found), 2), tuple(dict.fromkeys(problems)))


def _colours(members: tuple[Member, ...]) -> dict[str, tuple[int, int, int]]:
    """Return the colours of the theme by the names that shapes use."""
    theme = next((one.content for one in members if one.name == "ppt/theme/theme1.xml"), b"<none/>")
    scheme = ET.fromstring(theme).find(f".//{A}clrScheme")  # noqa: S314  # our own file
    found = {}
    for one in scheme if scheme is not None else ():
        value = one[0].get("val") or one[0].get("lastClr") or "000000"
        found[one.tag.removeprefix(A)] = (int(value[:2], 16), int(value[2:4], 16), int(value[4:], 16))
    return {**found, **{name: found[of] for name, of in _MAP.items() if of in found}}


def _properties(read: ReadDeck, told: Any) -> Iterator[str]:
    deck = read.deck
    wanted = {
        "title": f"{deck.title}: slides, edition {deck.edition}", "author": deck.department,
        "last_modified_by": deck.department, "language": deck.language, "comments": "", "keywords": "",
        "category": "",
    }  # fmt: skip
    for name, value in wanted.items():
        if getattr(told, name) != value:
            yield f"its property {name.replace('_', ' ')} is {quoted(getattr(told, name))}, not {quoted(value)}"
    for name in ("created", "modified"):
        moment = getattr(told, name)
        if (
            moment is None
            or moment.date().isoformat() != deck.day
            or (moment.hour, moment.minute, moment.second) != (0, 0, 0)
        ):
            yield f"it says that it was {name} on {moment}, not on {deck.day}"

"""Reads a finished .pptx back and proves it against the deck as composed. A new proof is a row here."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from pptx import Presentation
from pptx.exc import PackageNotFoundError

from builder.compose.document import Document
from builder.compose.slides.slides import deck_from
from builder.findings.message_words import quoted
from builder.readback.comparison import FileRead
from builder.readback.identity import PNG, png_parts
from builder.readback.slides import slides_proofs as proofs
from builder.readback.slides.slides_proofs import ReadDeck
from builder.readback.slides.slides_read import EMU, A, Member, slides_in

Prove = Callable[[ReadDeck], Iterator[str]]
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
    if not png.startswith(PNG):
        yield "is no PNG picture"
        return
    for kind, _ in png_parts(png):
        if kind not in _PLAIN_PARTS:
            yield f"carries a part `{kind.decode('latin-1')}` beside what is shown"


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


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the .pptx at ``path`` that was made of ``document``, whose text is its Deck."""
    try:
        presentation: Any = Presentation(str(path))
        with zipfile.ZipFile(path) as package:
            members = tuple(Member(file.filename, package.read(file)) for file in package.infolist())
            dated = [file.filename for file in package.infolist() if file.date_time != _MOMENT]
    except (PackageNotFoundError, zipfile.BadZipFile, KeyError, ET.ParseError, ValueError) as error:
        return FileRead((f"it cannot be opened: {error}",), 0, 0.0)
    size = (presentation.slide_width / EMU, presentation.slide_height / EMU)
    seen = slides_in(presentation)
    read = ReadDeck(document, deck_from(document.text), seen, size, members, _colours(members))
    problems = [problem for _, prove in _PROOFS for problem in prove(read)]
    problems.extend(_properties(read, presentation.core_properties))
    problems.extend(f"{name} in it tells the time of day" for name in dated)
    return FileRead(tuple(dict.fromkeys(problems)), len(seen), round(proofs.smallest(seen), 2))


def _colours(members: tuple[Member, ...]) -> dict[str, tuple[int, int, int]]:
    """Return the colours of the theme by the names that shapes use."""
    theme = next((member.content for member in members if member.name == "ppt/theme/theme1.xml"), b"<none/>")
    scheme = ET.fromstring(theme).find(f".//{A}clrScheme")  # noqa: S314  # our own file
    colours = {}
    for colour in scheme if scheme is not None else ():
        value = colour[0].get("val") or colour[0].get("lastClr") or "000000"
        colours[colour.tag.removeprefix(A)] = (int(value[:2], 16), int(value[2:4], 16), int(value[4:], 16))
    return {**colours, **{name: colours[of] for name, of in _MAP.items() if of in colours}}


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
        if moment is None or moment.replace(tzinfo=None).isoformat() != f"{deck.day}T00:00:00":
            yield f"it says that it was {name} on {moment}, not on {deck.day}"

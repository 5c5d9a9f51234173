"""Reads a finished .pptx back and proves it against the deck as composed. A new proof is a row here."""

import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from pptx import Presentation
from pptx.exc import PackageNotFoundError

from builder.compose.document import Document
from builder.compose.slides.slide import HEIGHT, WIDTH, Deck, Slide
from builder.compose.slides.slide_text import LEAST_PT, lines_of
from builder.compose.slides.slides import deck_from
from builder.findings.message_words import quoted
from builder.load.program_words import gettext
from builder.publish.build_report import FileRead
from builder.readback.comparison import bare, missing, named, parting
from builder.readback.identity import PNG, png_parts
from builder.readback.paper.finished_pdf import Rectangle
from builder.readback.paper.ink import LEAST_CONTRAST, contrast, grey
from builder.readback.slides.slides_read import EMU, A, Paragraph, Seen, SlideShape, slides_in

_ROOM = Rectangle(0.0, -HEIGHT, WIDTH, 0.0)
_SLACK = 0.6
_SHOWN = 60
_OVERLAP = 0.02  # of the smaller box, above which one lies on the other
_FILE_NAME = re.compile(
    r"\.(?:png|jpe?g|svg|gif|tiff?|bmp|emf|wmf)\b|^(?:image|picture|img|grafik)[ _-]?\d*$", re.IGNORECASE
)
_SINGLE = 1.17  # line height of stock type, as a multiple of its size


@dataclass(frozen=True, slots=True)
class ReadDeck:
    """A file that was read: the deck as composed, its slides as found, size in pt, members, colours of its theme."""

    document: Document
    deck: Deck
    slides: tuple[Seen, ...]
    size: tuple[float, float]
    members: dict[str, bytes]
    colours: dict[str, tuple[int, int, int]]

    def pairs(self) -> Iterator[tuple[Slide, Seen]]:
        """Yield each slide as composed with the slide as found."""
        return zip(self.deck.slides, self.slides, strict=False)


def slides(read: ReadDeck) -> Iterator[str]:
    """Prove that all slides are there, 16:9, shown, with their layout and a title of their own."""
    if len(read.slides) != len(read.deck.slides):
        yield f"it has {len(read.slides)} slides; {len(read.deck.slides)} were composed"
    if read.size != (WIDTH, HEIGHT):
        yield f"its slides measure {read.size[0]:g} by {read.size[1]:g} pt, not {WIDTH:g} by {HEIGHT:g}"
    titles: Counter[str] = Counter()
    for wanted, seen in read.pairs():
        shown = [shape.text for shape in seen.shapes if shape.holds == "title"]
        if len(shown) != 1 or not shown[0]:
            yield f"slide {seen.number} has {len(shown) if not shown or shown[0] else 'an empty'} title, not one"
        elif bare(shown[0]) != bare(wanted.title):
            yield f"slide {seen.number} is titled “{shown[0][:_SHOWN]}”, not “{wanted.title[:_SHOWN]}”"
        titles.update(shown)
        if not seen.shown:
            yield f"slide {seen.number} is hidden"
    yield from (
        f"{count} slides are titled “{title[:_SHOWN]}”" for title, count in titles.items() if count > 1 and title
    )


def musts(read: ReadDeck) -> Iterator[str]:
    """Prove that all that was promised is there, once, in order."""
    alts = [shape.alt for seen in read.slides for shape in seen.shapes if shape.kind == "pic"]
    rest = []
    for must in read.document.musts:
        if must.kind == "running":
            for seen in read.slides:
                if bare(must.text) not in bare(" ".join(shape.text for shape in seen.texts() if _runs_along(shape))):
                    yield f"slide {seen.number} does not bear the mark “{must.text}”"
        elif must.kind != "figure":
            rest.append(must)
        elif alts.count(must.text) != 1:
            yield f"{named(must)} stands there {alts.count(must.text)} times, not once"
    shown = (bare(shape.text) for seen in read.slides for shape in seen.texts() if not _runs_along(shape))
    yield from missing(rest, "".join(shown))


def words(read: ReadDeck) -> Iterator[str]:
    """Prove that each slide says what was composed, in reading order, and nothing else."""
    for wanted, seen in read.pairs():
        pointers = [spot.number for spot in wanted.picture.spots] if wanted.picture else []
        told = bare(wanted.shown)
        texts = [shape for shape in seen.texts() if not _runs_along(shape)]
        shown = bare(" ".join(shape.text for shape in texts if shape.inside != "Pointers"))
        if shown != told:
            yield f"slide {seen.number}: its words are not those that were composed: {parting(told, shown)}"
        numbers = [shape.text for shape in texts if shape.inside == "Pointers"]
        if numbers != [str(number) for number in pointers]:
            yield f"slide {seen.number}: the numbers on its figure are {', '.join(numbers) or 'none'}"


def places(read: ReadDeck) -> Iterator[str]:
    """Prove that all text is inside the slide and its box, that no box covers another, and nothing is hidden."""
    for seen in read.slides:
        texts = list(seen.texts())
        for shape in seen.shapes:
            if shape.hidden:
                yield f"slide {seen.number}: {_named(shape)} is hidden"
            if not shape.box.inside(_ROOM, _SLACK):
                yield f"slide {seen.number}: {_named(shape)} reaches off the slide"
        for shape in texts:
            over = _height(shape) - (shape.box.top - shape.box.bottom)
            if over > _SLACK:
                yield f"slide {seen.number}: {_named(shape)} is {over:.0f} pt too long for its box"
        for at, shape in enumerate(texts):
            for other in texts[at + 1 :]:
                if not (shape.inside or other.inside) and shape.box.shared(other.box) > _OVERLAP:
                    yield f"slide {seen.number}: {_named(shape)} and {_named(other)} lie on each other"
        yield from _covered(seen)


def _covered(seen: Seen) -> Iterator[str]:
    for at, shape in enumerate(seen.shapes):
        if not shape.text or shape.inside:
            continue
        for other in seen.shapes[at + 1 :]:
            covers = (other.fill and not other.text) or other.kind == "pic"
            own = shape.name == "Signal word" and other.inside == "Safety alert symbol"
            if covers and not own and shape.box.shared(other.box) > _OVERLAP:
                yield f"slide {seen.number}: {_named(other)} covers {_named(shape)}"


def sizes(read: ReadDeck) -> Iterator[str]:
    """Prove that no type on a slide is below the least, and that each run says its language."""
    for seen in read.slides:
        for run in (run for shape in seen.texts() for run in shape.runs):
            shown = f"slide {seen.number}: “{run.text[:_SHOWN]}”"
            if run.pt < LEAST_PT:
                yield f"{shown} is set at {run.pt:g} pt; the smallest allowed is {LEAST_PT:g} pt"
            if run.language != read.deck.language:
                yield f"{shown} does not say that it is {read.deck.language}"


def smallest(slides: Sequence[Seen]) -> float:
    """Return the smallest type on any slide in pt."""
    return min((run.pt for seen in slides for shape in seen.texts() for run in shape.runs), default=0.0)


def inks(read: ReadDeck) -> Iterator[str]:
    """Prove that all text can be read on its ground, in colour and in grey."""
    white = read.colours.get("bg1", (255, 255, 255))
    for seen in read.slides:
        under = list(seen.ground)
        for shape in seen.shapes:
            grounds = (other.fill for other in reversed(under) if other.fill and shape.box.inside(other.box, 1.0))
            ground = read.colours.get(shape.fill or next(grounds, ""), white)
            for run in shape.runs:
                ink = read.colours.get(run.colour, (0, 0, 0))
                ratio = min(contrast(ink, ground), contrast(grey(ink), grey(ground)))
                if ratio < LEAST_CONTRAST:
                    shown = f"slide {seen.number}: “{run.text[:_SHOWN]}”"
                    yield f"{shown} has a contrast of {ratio:.1f} to 1; {LEAST_CONTRAST} is the least"
            under.append(shape)


def alts(read: ReadDeck) -> Iterator[str]:
    """Prove that every picture and every group of shapes is described as composed, never by the name of a file."""
    for wanted, seen in read.pairs():
        pictures = [shape for shape in seen.shapes if shape.kind == "pic"]
        if len(pictures) != bool(wanted.picture):
            yield f"slide {seen.number} shows {len(pictures)} pictures; {int(bool(wanted.picture))} was composed"
        for shape in pictures:
            told = f"slide {seen.number}: its figure is described"
            if _FILE_NAME.search(shape.alt):
                yield f"{told} by the name of a file, “{shape.alt[:_SHOWN]}”"
            elif not (wanted.picture and shape.alt and shape.alt == wanted.picture.alt):
                yield f"{told} as “{shape.alt[:_SHOWN]}”, not as composed"
        for shape in seen.shapes:
            if shape.kind == "grpSp" and not shape.alt:
                yield f"slide {seen.number}: {_named(shape)} has no description"
            is_silent = not (shape.text or shape.decorative or shape.holds or shape.inside)
            if is_silent and shape.kind in ("sp", "cxnSp"):
                yield f"slide {seen.number}: {_named(shape)} has no words and is not marked as decoration"


def notes(read: ReadDeck) -> Iterator[str]:
    """Prove that the notes of every slide say what was composed."""
    for wanted, seen in read.pairs():
        told = bare(" ".join(f"{note.label}: {note.text}" for note in wanted.notes))
        if not seen.notes.strip():
            yield f"slide {seen.number} has no notes"
        elif bare(seen.notes) != told:
            yield f"the notes of slide {seen.number} are not those that were composed"


def _runs_along(shape: SlideShape) -> bool:
    return shape.holds in ("ftr", "sldNum", "dt")


def _named(shape: SlideShape) -> str:
    return f"“{shape.text[:_SHOWN]}”" if shape.text else f"the shape {quoted(shape.name)}"


def _height(shape: SlideShape) -> float:
    """Return how much room the words of ``shape`` take from top to bottom, measured anew."""
    left, top, right, bottom = shape.insets
    width = shape.box.right - shape.box.left - left - right
    if shape.inside or shape.kind != "sp":
        return 0.0
    told = enumerate(shape.paragraphs)
    return top + bottom + sum(_tall(paragraph, width, at) for at, paragraph in told if paragraph.text)


def _tall(paragraph: Paragraph, width: float, at: int) -> float:
    pt = max((run.pt for run in paragraph.words), default=0.0)
    bold = any(run.bold for run in paragraph.words if len(run.text) > 3)  # a number before a line hardly widens it
    text = paragraph.text.partition("\t")[2] or paragraph.text
    lines = lines_of(text, pt, max(width - paragraph.indent, 1.0), bold=bold)
    return lines * (paragraph.leading or pt * _SINGLE) + (paragraph.before if at else 0.0)


Prove = Callable[[ReadDeck], Iterator[str]]
_PLAIN_PARTS = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS"})
_NEUTRAL = ("image", "drawing")
_MAP = {"bg1": "lt1", "tx1": "dk1", "bg2": "lt2", "tx2": "dk2"}
_MOMENT = (1980, 1, 1, 0, 0, 0)


def carried(read: ReadDeck) -> Iterator[str]:
    """Prove that the file carries no more than the slides: plain pictures, own properties, no links, no programs."""
    for path, content in read.members.items():
        name = path.rpartition("/")[2]
        if path.startswith("ppt/media/"):
            if not name.startswith(_NEUTRAL) or not name.endswith((".png", ".svg")):
                yield f"{path} in it tells a name or is no picture that it may carry"
            if name.endswith(".png"):
                yield from (f"{path} in it {what}" for what in _telling(content))
            if name.endswith(".svg") and b"<script" in content:
                yield f"{path} in it holds a program"
        if path.endswith(".rels") and b'TargetMode="External"' in content:
            yield f"{path} in it leads out of the file"
        if name.lower().startswith(("vbaproject", "thumbnail", "printersettings", "oleobject")):
            yield f"{path} in it is none of our making"


def _telling(png: bytes) -> Iterator[str]:
    if not png.startswith(PNG):
        yield "is no PNG picture"
        return
    for kind, _ in png_parts(png):
        if kind not in _PLAIN_PARTS:
            yield f"carries a part `{kind.decode('latin-1')}` beside what is shown"


_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("all slides are there, 16:9, each with a title of its own", slides),
    ("every caution, critical step, count and reference is there, in order", musts),
    ("the words of each slide are those composed, in reading order", words),
    ("all text is inside its box and the slide, and nothing lies over it", places),
    ("no type is below 24 pt, and all of it says its language", sizes),
    ("all text can be read at a contrast of 4.5 to 1 or more in colour and in grey", inks),
    ("every picture is described as composed, never by the name of a file", alts),
    ("the notes of every slide are those composed", notes),
    ("the file carries plain pictures and nothing else: no links, no programs, no properties but ours", carried),
)
NAMES = tuple(name for name, _ in _PROOFS)


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the .pptx at ``path`` that was made of ``document``, whose text is its Deck."""
    try:
        presentation: Any = Presentation(str(path))
        with zipfile.ZipFile(path) as package:
            members = {file.filename: package.read(file) for file in package.infolist()}
            dated = [file.filename for file in package.infolist() if file.date_time != _MOMENT]
    except (PackageNotFoundError, zipfile.BadZipFile, KeyError, ET.ParseError, ValueError) as error:
        return FileRead((f"it cannot be opened: {error}",), 0, 0.0)
    size = (presentation.slide_width / EMU, presentation.slide_height / EMU)
    seen = slides_in(presentation)
    read = ReadDeck(document, deck_from(document.text), seen, size, members, _colours(members))
    problems = [problem for _, prove in _PROOFS for problem in prove(read)]
    problems.extend(_properties(read, presentation.core_properties))
    problems.extend(f"{name} in it tells the time of day" for name in dated)
    return FileRead(tuple(dict.fromkeys(problems)), len(seen), round(smallest(seen), 2))


def _colours(members: dict[str, bytes]) -> dict[str, tuple[int, int, int]]:
    """Return the colours of the theme by the names that shapes use."""
    scheme = ET.fromstring(members.get("ppt/theme/theme1.xml", b"<none/>")).find(f".//{A}clrScheme")  # noqa: S314  # our own file
    colours = {}
    for colour in scheme if scheme is not None else ():
        value = colour[0].get("val") or colour[0].get("lastClr") or "000000"
        colours[colour.tag.removeprefix(A)] = (int(value[:2], 16), int(value[2:4], 16), int(value[4:], 16))
    return {**colours, **{name: colours[of] for name, of in _MAP.items() if of in colours}}


def _properties(read: ReadDeck, told: Any) -> Iterator[str]:
    deck = read.deck
    wanted = {
        "title": gettext("%(title)s: slides, edition %(edition)s", title=deck.title, edition=deck.edition),
        "author": deck.department,
        "last_modified_by": deck.department, "language": deck.language, "comments": "", "keywords": "",
        "category": "",
    }  # fmt: skip
    for name, value in wanted.items():
        if getattr(told, name) != value:
            yield f"its property {name.replace('_', ' ')} is {quoted(getattr(told, name))}, not {quoted(value)}"
    for name in ("created", "modified"):
        moment = getattr(told, name)
        if (f"{moment:%Y-%m-%dT%H:%M:%S}" if moment else "") != (f"{deck.day}T00:00:00" if deck.day else ""):
            yield f"it says that it was {name} on {moment}, not on {deck.day or 'no day'}"

"""Reads a finished .pptx back and proves it against the deck as composed. A new proof is a row here."""

import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lxml import etree
from pptx import Presentation
from pptx.exc import PackageNotFoundError

from builder.compose.document import Document
from builder.compose.slides.slide import HEIGHT, WIDTH, Deck, Slide
from builder.compose.slides.slide_text import LEAST_PT
from builder.compose.slides.slides import deck_from
from builder.findings.message_words import quoted
from builder.load.program_words import gettext
from builder.publish.build_report import FileRead
from builder.readback.comparison import bare, missing, named, parting
from builder.readback.identity import PNG, png_parts
from builder.readback.paper.finished_pdf import Rectangle
from builder.readback.paper.ink import LEAST_CONTRAST, Colour, contrast, grey
from builder.readback.slides.slides_read import Seen, SlideShape, slides_in

_ROOM = Rectangle(0.0, -HEIGHT, WIDTH, 0.0)
_SLACK = 0.6
_OVERLAP = 0.02  # of the smaller box, above which one lies on the other
_FILE_NAME = re.compile(
    r"\.(?:png|jpe?g|svg|gif|tiff?|bmp|emf|wmf)\b|^(?:image|picture|img|grafik)[ _-]?\d*$", re.IGNORECASE
)
_PLAIN_PARTS = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS"})
_PICTURE = re.compile(r"ppt/media/(?:image|drawing)[^/]*\.(?:png|svg)")
_FOREIGN = ("vbaproject", "thumbnail", "printersettings", "oleobject")
_MOMENT = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class ReadDeck:
    """A file that was read: the deck as composed, the ``presentation`` and its slides as found, members by names."""

    document: Document
    deck: Deck
    presentation: Any
    slides: tuple[Seen, ...]
    members: dict[str, bytes]


Prove = Callable[[ReadDeck], Iterator[str]]


def of_each_slide(prove: Callable[[Deck, Slide, Seen], Iterator[str]]) -> Prove:
    """Return the proof of a deck that looks at each slide, as composed and as found."""

    def proved(read: ReadDeck) -> Iterator[str]:
        for wanted, seen in zip(read.deck.slides, read.slides, strict=False):
            yield from (f"slide {seen.number}: {what}" for what in prove(read.deck, wanted, seen))

    return proved


def _slides(read: ReadDeck) -> Iterator[str]:
    if len(read.slides) != len(read.deck.slides):
        yield f"it has {len(read.slides)} slides; {len(read.deck.slides)} were composed"
    width, height = read.presentation.slide_width.pt, read.presentation.slide_height.pt
    if (width, height) != (WIDTH, HEIGHT):
        yield f"its slides measure {width:g} by {height:g} pt, not {WIDTH:g} by {HEIGHT:g}"
    titles = Counter(title for seen in read.slides for title in seen.titles() if title)
    yield from (f"{count} slides are titled {_short(title)}" for title, count in titles.items() if count > 1)
    yield from _titled(read)


@of_each_slide
def _titled(_: Deck, wanted: Slide, seen: Seen) -> Iterator[str]:
    shown = seen.titles()
    if len(shown) != 1 or not shown[0]:
        yield f"it has {'an empty' if shown == [''] else len(shown)} title, not one"
    elif bare(shown[0]) != bare(wanted.title):
        yield f"it is titled {_short(shown[0])}, not {_short(wanted.title)}"
    if not seen.shown:
        yield "it is hidden"


def _musts(read: ReadDeck) -> Iterator[str]:
    alts = [shape.alt for seen in read.slides for shape in seen.shapes if shape.kind == "pic"]
    rest = []
    for must in read.document.musts:
        if must.kind == "running":
            without = [seen for seen in read.slides if bare(must.text) not in bare(seen.words(runs_along=True))]
            yield from (f"slide {seen.number} does not bear the mark “{must.text}”" for seen in without)
        elif must.kind != "figure":
            rest.append(must)
        elif alts.count(must.text) != 1:
            yield f"{named(must)} stands there {alts.count(must.text)} times, not once"
    yield from missing(rest, "".join(bare(seen.words(runs_along=False)) for seen in read.slides))


@of_each_slide
def _words(_: Deck, wanted: Slide, seen: Seen) -> Iterator[str]:
    pointers = [shape.text for shape in seen.texts() if shape.inside == "Pointers"]
    told, shown = bare(wanted.shown), bare(seen.words(runs_along=False, but="Pointers"))
    if shown != told:
        yield f"its words are not those that were composed: {parting(told, shown)}"
    if pointers != [str(spot.number) for spot in (wanted.picture.spots if wanted.picture else ())]:
        yield f"the numbers on its figure are {', '.join(pointers) or 'none'}"


@of_each_slide
def _places(_: Deck, __: Slide, seen: Seen) -> Iterator[str]:
    for at, shape in enumerate(seen.shapes):
        own, over = _named(shape), shape.needs - (shape.box.top - shape.box.bottom)
        yield from (f"{own} {fault}" for fault in shape.faults)
        if not shape.box.inside(_ROOM, _SLACK):
            yield f"{own} reaches off the slide"
        if shape.inside or not shape.text:
            continue
        if over > _SLACK:
            yield f"{own} is {over:.0f} pt too long for its box"
        for other in (other for other in seen.shapes[at + 1 :] if shape.box.shared(other.box) > _OVERLAP):
            if other.text and not other.inside:
                yield f"{own} and {_named(other)} lie on each other"
            # The symbol stands in the block of its word.
            is_symbol = shape.name == "Signal word" and other.inside == "Safety alert symbol"
            if (other.kind == "pic" or (other.fill and not other.text)) and not is_symbol:
                yield f"{_named(other)} covers {own}"


@of_each_slide
def _sizes(deck: Deck, _: Slide, seen: Seen) -> Iterator[str]:
    for run in seen.runs():
        if run.pt < LEAST_PT:
            yield f"{_short(run.text)} is set at {run.pt:g} pt; the smallest allowed is {LEAST_PT:g} pt"
        if run.language != deck.language:
            yield f"{_short(run.text)} does not say that it is {deck.language}"


def _inks(read: ReadDeck) -> Iterator[str]:
    colours = _colours(read)
    for seen in read.slides:
        under = [shape for shape in seen.ground if shape.fill]
        for shape in seen.shapes:
            under += [shape] * bool(shape.fill)
            grounds = (other.fill for other in reversed(under) if shape.box.inside(other.box, 1.0))
            ground = colours.get(next(grounds, "bg1"), (255, 255, 255))
            for run in shape.runs:
                ink = colours.get(run.colour, (0, 0, 0))
                ratio = min(contrast(ink, ground), contrast(grey(ink), grey(ground)))
                if ratio < LEAST_CONTRAST:
                    shown = f"slide {seen.number}: {_short(run.text)}"
                    yield f"{shown} has a contrast of {ratio:.1f} to 1; {LEAST_CONTRAST} is the least"


@of_each_slide
def _alts(_: Deck, wanted: Slide, seen: Seen) -> Iterator[str]:
    pictures = [shape.alt for shape in seen.shapes if shape.kind == "pic"]
    if len(pictures) != bool(wanted.picture):
        yield f"it shows {len(pictures)} pictures; {int(bool(wanted.picture))} was composed"
    for alt in pictures:
        if _FILE_NAME.search(alt):
            yield f"its figure is described by the name of a file, {_short(alt)}"
        elif not (wanted.picture and alt and alt == wanted.picture.alt):
            yield f"its figure is described as {_short(alt)}, not as composed"
    for shape in seen.shapes:
        if shape.kind == "grpSp" and not shape.alt:
            yield f"{_named(shape)} has no description"
        is_silent = not (shape.text or shape.decorative or shape.holds or shape.inside)
        if is_silent and shape.kind in ("sp", "cxnSp"):
            yield f"{_named(shape)} has no words and is not marked as decoration"


@of_each_slide
def _notes(_: Deck, wanted: Slide, seen: Seen) -> Iterator[str]:
    if not seen.notes.strip():
        yield "it has no notes"
    elif bare(seen.notes) != bare(" ".join(f"{note.role}: {note.text}" for note in wanted.notes)):
        yield "its notes are not those that were composed"


def _carried(read: ReadDeck) -> Iterator[str]:
    for path, content in read.members.items():
        if path.startswith("ppt/media/"):
            yield from (f"{path} in it {what}" for what in _telling(path, content))
        if path.endswith(".rels") and b'TargetMode="External"' in content:
            yield f"{path} in it leads out of the file"
        if path.rpartition("/")[2].lower().startswith(_FOREIGN):
            yield f"{path} in it is none of our making"
    yield from _properties(read)


def _telling(path: str, content: bytes) -> Iterator[str]:
    if not _PICTURE.fullmatch(path):
        yield "tells a name or is no picture that it may carry"
    if path.endswith(".svg") and b"<script" in content:
        yield "holds a program"
    if path.endswith(".png") and not content.startswith(PNG):
        yield "is no PNG picture"
    elif path.endswith(".png"):
        more = [kind.decode("latin-1") for kind, _ in png_parts(content) if kind not in _PLAIN_PARTS]
        yield from (f"carries a part `{kind}` beside what is shown" for kind in more)


def _properties(read: ReadDeck) -> Iterator[str]:
    deck, told = read.deck, read.presentation.core_properties
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


def _short(text: str) -> str:
    return f"“{text[:60]}”"


def _named(shape: SlideShape) -> str:
    return _short(shape.text) if shape.text else f"the shape {quoted(shape.name)}"


_PROOFS: tuple[tuple[str, Prove], ...] = (
    ("all slides are there, 16:9, each with a title of its own", _slides),
    ("every caution, critical step, count and reference is there, in order", _musts),
    ("the words of each slide are those composed, in reading order", _words),
    ("all text is inside its box and the slide, and nothing lies over it", _places),
    ("no type is below 24 pt, and all of it says its language", _sizes),
    ("all text can be read at a contrast of 4.5 to 1 or more in colour and in grey", _inks),
    ("every picture is described as composed, never by the name of a file", _alts),
    ("the notes of every slide are those composed", _notes),
    ("the file carries plain pictures and nothing else: no links, no programs, no properties but ours", _carried),
)
NAMES = tuple(name for name, _ in _PROOFS)


def read_back(document: Document, path: Path) -> FileRead:
    """Return what is wrong with the .pptx at ``path`` that was made of ``document``, whose text is its Deck."""
    try:
        presentation: Any = Presentation(str(path))
        with zipfile.ZipFile(path) as package:
            members = {file.filename: package.read(file) for file in package.infolist()}
            dated = [file.filename for file in package.infolist() if file.date_time != _MOMENT]
    except (PackageNotFoundError, zipfile.BadZipFile, KeyError, etree.XMLSyntaxError, ValueError) as error:
        return FileRead((f"it cannot be opened: {error}",), 0, 0.0)
    seen = slides_in(presentation)
    read = ReadDeck(document, deck_from(document.text), presentation, seen, members)
    problems = dict.fromkeys(problem for _, prove in _PROOFS for problem in prove(read))
    smallest = min((run.pt for slide in seen for run in slide.runs()), default=0.0)
    return FileRead((*problems, *(f"{name} in it tells the time of day" for name in dated)), len(seen), smallest)


def _colours(read: ReadDeck) -> dict[str, Colour]:
    """Return the colours of the theme by the names that shapes use."""
    theme = etree.fromstring(read.members.get("ppt/theme/theme1.xml", b"<none/>"))
    colours = {}
    for colour in theme.findall(".//{*}clrScheme/*"):
        red, green, blue = bytes.fromhex(colour[0].get("val") or colour[0].get("lastClr") or "000000")
        colours[etree.QName(colour).localname] = (red, green, blue)
    maps = read.presentation.slide_master.element.iterfind("{*}clrMap")
    return colours | {name: colours[of] for used in maps for name, of in used.items() if of in colours}

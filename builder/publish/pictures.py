"""Photographs as they may be shown: decoded, cropped for real, encoded again, under a name that tells nothing.

A picture from a camera carries a name, a place, a time, a small copy of itself and whatever was cropped from view. None
of it is removed here: a new picture is made from the points that are shown, and nothing else is taken over. A drawing
keeps its shapes and loses whatever could act or fetch.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import TypeVar
from xml.etree import ElementTree as ET
from xml.parsers import expat

from PIL import Image, ImageOps, UnidentifiedImageError

from builder.compose.consents import fresh, with_figures, without_withdrawn
from builder.facts.drawings import ELEMENTS, SVG, faults_of, fetches
from builder.facts.identities import NONE_NEEDED
from builder.grouping import grouped
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.load.prose import Prose, read_prose
from builder.load.templates import FOLDER, extras_in
from builder.model.fields import Page
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import Procedure
from builder.place import Text
from builder.publish.publish_error import PublishError

MOST_POINTS = 50_000_000
"""Larger pictures are refused: far above any camera, far below what fills the memory."""

LONGEST_SIDE = 2400
"""Points: 200 mm at 300 points to the inch. A larger picture is made smaller."""

_FORMATS = ("PNG", "JPEG")
_NAME_LENGTH = 12
_LETTERS = str.maketrans("0123456789abcdef", "abcdefghijklmnop")  # a run of digits is taken for a hospital number
Crop = tuple[float, float, float, float]
P = TypeVar("P", bound=Page)
_XLINK = "{http://www.w3.org/1999/xlink}href"
_XML = "{http://www.w3.org/XML/1998/namespace}"
_PNG = b"\x89PNG\r\n\x1a\n"
_OUR_TYPE = "Prescrub Sans"
_TYPE_OF_ITS_OWN = re.compile(r"(?<![-\w])font(-family)?\s*:[^;}]*;?", re.IGNORECASE)
_TEXTS = frozenset({"text", "tspan", "textPath"})


def clean_photograph(name: str, content: bytes, crop: Crop | None = None) -> bytes:
    """Return a new PNG of the points that are shown; ``crop`` is left, top, right, bottom in per cent.

    Equal input gives equal bytes. Raises PublishError, in plain words, where ``content`` is no picture or too large, or
    where nothing of it would be shown.
    """
    picture = _decoded(name, content)
    if crop is not None:
        picture = picture.crop(_box(name, picture.size, crop))
    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    # A new picture from bare points: no text, no colour profile, no time, no second frame can come along.
    shown = Image.frombytes(picture.mode, picture.size, picture.tobytes())
    target = BytesIO()
    shown.save(target, "PNG")
    return target.getvalue()


def _decoded(name: str, content: bytes) -> Image.Image:
    try:
        with Image.open(BytesIO(content), formats=_FORMATS) as opened:
            if opened.width * opened.height > MOST_POINTS:
                message = f"{name} has {opened.width} by {opened.height} points. Make it smaller and save it again."
                raise PublishError(message, is_content=True)
            opened.load()
            upright = ImageOps.exif_transpose(opened)
            has_alpha = "A" in upright.getbands() or "transparency" in upright.info
            grey = upright.mode in ("1", "L", "I;16", "I")
            return upright.convert("RGBA" if has_alpha else "L" if grey else "RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        # What the library says of a file that is no picture is the address of a buffer.
        why = "" if isinstance(error, UnidentifiedImageError) else f" ({error})"
        message = f"{name} cannot be read as a picture{why}. Open it in a picture program and save it again as PNG."
        raise PublishError(message, is_content=True) from None


def _box(name: str, size: tuple[int, int], crop: Crop) -> tuple[int, int, int, int]:
    left, top, right, bottom = crop
    width, height = size
    # Inwards: a point that is only partly inside is not shown.
    box = (
        -int(-width * left // 100),
        -int(-height * top // 100),
        int(width * right // 100),
        int(height * bottom // 100),
    )
    if box[0] >= box[2] or box[1] >= box[3]:
        message = f"{name}: `crop` leaves nothing to show. Write left, top, right and bottom in per cent."
        raise PublishError(message, is_content=True)
    return box


def prepared(library: Library, folder: Path) -> Library:
    """Return ``library`` as it may be published, its pictures made anew below ``folder``.

    Figures whose consent was withdrawn are gone. Photographs, and drawings that rest on a consent, are made anew under
    neutral names, and the links of the prose follow; pictures of a parent come to the others. Where nothing of that is
    needed the same Library is returned.
    """
    kept = without_withdrawn(library)
    figures = {
        (str(procedure.id), str(figure.file)): figure for procedure in kept.procedures for figure in procedure.figures
    }
    if not (any(map(_is_telling, figures.values())) or kept.lent):
        return kept
    root = folder / "department"
    names: dict[tuple[str, str], str] = {}
    for (id, file), figure in figures.items():
        path = f"content/procedures/{id}/figures/{file}"
        if path in kept.figures:
            content = read_bytes(*kept.whereabouts(path), MAX_FIGURE_BYTES)
            if _is_telling(figure):
                content, ending = made_anew(path, content, figure)
                digest = hashlib.sha256(content).hexdigest().translate(_LETTERS)
                names[id, file] = f"picture-{digest[:_NAME_LENGTH]}{ending}"
            put_file(root / "content" / "procedures" / id / "figures" / names.get((id, file), file), content)
    for name in extras_in(kept.root / FOLDER):
        put_file(root / FOLDER / name, read_bytes(kept.root / FOLDER, name, MAX_FIGURE_BYTES))
    return _renamed(kept, root, names)


def _is_telling(figure: Figure) -> bool:
    is_drawing = figure.file.endswith(".svg")
    return not is_drawing or (figure.consent is not None and str(figure.consent).casefold() not in NONE_NEEDED)


def made_anew(path: str, content: bytes, figure: Figure) -> tuple[bytes, str]:
    """Return the picture of ``figure`` as it may be shown, and the ending of its name. Raises PublishError."""
    if path.endswith(".svg"):
        return safe_drawing(path, content), ".svg"
    crop = tuple(map(float, figure.crop)) if figure.crop else None
    return clean_photograph(path, content, crop), ".png"  # type: ignore[arg-type]  # four numbers, says the model


def put_file(path: Path, content: bytes) -> None:
    """Write ``content`` to ``path``, whose folder is made where it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _renamed(library: Library, root: Path, names: Mapping[tuple[str, str], str]) -> Library:
    def chosen(procedure: Procedure, figure: Figure) -> Figure:
        name = names.get((str(procedure.id), str(figure.file)))
        return figure if name is None else figure.model_copy(update={"file": Text(name, figure.file.at), "crop": None})

    renamed = with_figures(library, chosen)
    ids = grouped((id, (PurePosixPath(file).stem, PurePosixPath(name).stem)) for (id, file), name in names.items())
    procedures = tuple(_relinked(procedure, dict(ids.get(str(procedure.id), ()))) for procedure in renamed.procedures)
    figures = frozenset(path.relative_to(root).as_posix() for path in (root / "content").rglob("*") if path.is_file())
    return replace(renamed, root=root, lent={}, procedures=procedures, figures=figures)


def _relinked(procedure: Procedure, ids: Mapping[str, str]) -> Procedure:
    if not ids:
        return procedure
    parts = procedure.parts
    relinked = replace(
        parts,
        steps={id: _page(step, ids) for id, step in parts.steps.items()},
        cautions={id: _page(caution, ids) for id, caution in parts.cautions.items()},
        aftercare={id: _page(item, ids) for id, item in parts.aftercare.items()},
    )
    return fresh(_page(procedure, ids).model_copy(update={"parts": relinked}))


def _page(page: P, ids: Mapping[str, str]) -> P:
    body = _prose(page.body, ids)
    return page if body is page.body else page.model_copy(update={"body": body})


def _prose(prose: Prose, ids: Mapping[str, str]) -> Prose:
    """Return ``prose`` with its links to figures under their new ids."""
    if "(figure:" not in prose.source:
        return prose

    def new(match: re.Match[str]) -> str:
        targets = (ids.get(id.strip(), id.strip()) for id in match[1].split(","))
        return f"(figure:{','.join(targets)})"

    source = re.sub(r"\(\s*figure:([^)\n]*)\)", new, prose.source)
    return read_prose(source, prose.at.file, prose.at.line)


def safe_picture(name: str, content: bytes) -> bytes:
    """Return the bytes of a picture that may be shown. Raises PublishError where it is none."""
    if name.endswith(".png"):
        if not content.startswith(_PNG):
            raise PublishError(f"{name} is no PNG picture. Save it again as PNG.", is_content=True)
        return content
    return safe_drawing(name, content)


def safe_drawing(name: str, content: bytes) -> bytes:
    """Return an SVG drawing with only its shapes, text and paint, the text in our type.

    Raises PublishError where it cannot be drawn. A style of the page does not reach into a drawing, so the type is
    written into it.
    """
    faults = faults_of(content.decode("utf-8", "replace"))
    if fault := next((fault for fault in faults if fault.is_whole), None):
        raise PublishError(f"{name}:{fault.line}:{fault.column}: {fault.what}. {fault.hint}", is_content=True)
    root = _parsed(content)
    _clean_element(root)
    ET.register_namespace("", SVG)
    return ET.tostring(root, encoding="unicode").encode("utf-8")


def frame_of(drawing: bytes) -> tuple[float, float, float, float]:
    """Return left, top, width and height of a ``drawing`` in its own units."""
    root = _parsed(drawing)
    view = root.get("viewBox") or f"0 0 {root.get('width', '100')} {root.get('height', '100')}"
    left, top, width, height = (float(part.removesuffix("px")) for part in view.replace(",", " ").split())
    return left, top, width, height


def _parsed(content: bytes) -> ET.Element:
    """Return the tree of an XML text that declares no entities: they can grow without bound or name other files."""
    builder = ET.TreeBuilder()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.buffer_text = True

    def name(text: str) -> str:
        return "{" + text if "}" in text else text

    def refuse(*_: object) -> None:
        raise ValueError("it declares entities")

    parser.StartElementHandler = lambda tag, attributes: builder.start(
        name(tag), {name(key): value for key, value in attributes.items()}
    )
    parser.EndElementHandler = lambda tag: builder.end(name(tag))
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = refuse
    parser.Parse(content, True)
    return builder.close()


def _clean_element(element: ET.Element) -> None:
    for child in list(element):
        name = _local(child.tag)
        if name not in ELEMENTS or (name == "style" and fetches(child.text or "")):
            element.remove(child)
        else:
            _clean_element(child)
    for key, value in list(element.attrib.items()):
        if not _is_kept(key, value):
            del element.attrib[key]
        elif key == "style":
            element.set(key, _TYPE_OF_ITS_OWN.sub("", value))
    if _local(element.tag) == "style":
        element.text = _TYPE_OF_ITS_OWN.sub("", element.text or "")
    elif _local(element.tag) in _TEXTS:
        element.set("font-family", _OUR_TYPE)


def _local(tag: str) -> str:
    """Return the name of an SVG element, or "" for one of another language."""
    space, _, local = tag.rpartition("}")
    return local if space == f"{{{SVG}" else ""


def _is_kept(key: str, value: str) -> bool:
    if key in ("href", _XLINK):
        return value.startswith("#")
    if key.startswith("{"):
        return key.startswith(_XML)
    return key not in ("font", "font-family") and not key.lower().startswith("on") and not fetches(value)

"""What word-processor and slide files have in common: a zip of XML parts that may come from anywhere.

Looked at before any library opens it: how much it unpacks to, and that no part declares entities. Nothing is fetched.
"""

import re
import zipfile
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from docx.oxml import parse_xml

from builder.findings.register import refuse
from builder.place import Place

MOST_PARTS = 5_000
MOST_UNPACKED = 256 * 1024 * 1024
MOST_XML = 32 * 1024 * 1024
_MOST_RATIO = 200
_RATIO_FROM = 8 * 1024 * 1024
_DECLARES = (b"<!DOCTYPE", b"<!ENTITY", "<!DOCTYPE".encode("utf-16-le"), "<!DOCTYPE".encode("utf-16-be"))

A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
R = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
_FILE_NAME = re.compile(
    r"(?:[\w ()-]{1,80}\.(?:png|jpe?g|gif|tiff?|bmp|emf|wmf|svg|heic)|picture \d+|image ?\d+)", re.IGNORECASE
)
_MACHINE_MADE = re.compile(r"automatically generated|\bai-generated\b", re.IGNORECASE)


def looked_over(name: str, content: bytes) -> None:
    """Refuse a zip that is broken, locked, too large when unpacked, or that declares entities in its XML."""
    at = Place(name)
    try:
        with zipfile.ZipFile(BytesIO(content)) as packed:
            parts = packed.infolist()
            _refuse_size(name, parts)
            for part in parts:
                if part.flag_bits & 1:
                    hint = "Open it, take the password off, and save it again."
                    raise refuse("source-unreadable", at, f"{name} is locked with a password", hint)
                if part.filename.lower().endswith((".xml", ".rels", ".vml")):
                    _refuse_entities(name, part.filename, packed.read(part))
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, OSError, EOFError, ValueError):
        raise broken(name) from None
    except Exception as error:
        # zlib has an error class of its own, and a broken stream can raise it in the middle of a part.
        if type(error).__module__ == "zlib":
            raise broken(name) from None
        raise


def _refuse_size(name: str, parts: list[zipfile.ZipInfo]) -> None:
    unpacked = sum(part.file_size for part in parts)
    packed = sum(part.compress_size for part in parts) or 1
    largest = max((part.file_size for part in parts if part.filename.endswith((".xml", ".rels"))), default=0)
    bomb = unpacked > _RATIO_FROM and unpacked / packed > _MOST_RATIO
    if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED or largest > MOST_XML or bomb:
        message = f"{name} unpacks to {unpacked / 2**20:,.0f} MiB in {len(parts)} parts, more than the limit"
        hint = "Take out pictures, films and anything that belongs to another procedure."
        raise refuse("source-too-large", Place(name), message, hint)


def _refuse_entities(name: str, part: str, text: bytes) -> None:
    if len(text) > MOST_XML:
        hint = "Keep only the part about one procedure."
        raise refuse("source-too-large", Place(name), f"{name}: {part} is too large", hint)
    if any(sign in text for sign in _DECLARES):
        message = f"{name}: {part} declares entities, which no word processor writes"
        raise refuse("source-unreadable", Place(name), message, "Copy its text into a new file, and draft from that.")


def broken(name: str) -> Exception:
    """Make the refusal of a file that cannot be opened; what a library says of it would help nobody."""
    message = f"{name} cannot be opened: it is damaged, or not the kind of file its ending says"
    hint = "Open it in its program, save it under a new name, and try the new file."
    return refuse("source-unreadable", Place(name), message, hint)


def parsed(content: bytes) -> Any:
    """Return the tree of one XML part; nothing is fetched, no entity is resolved."""
    return parse_xml(content)


def local_name(element: Any) -> str:
    """Return the name of an element without its namespace; "" for a comment."""
    return str(element.tag).rpartition("}")[2] if isinstance(element.tag, str) else ""


def alt_of(element: Any) -> str:
    """Return the description of a picture where a person wrote one; file names and machine guesses do not count."""
    for properties in element.iter():
        if local_name(properties) in ("cNvPr", "docPr"):
            alt = (properties.get("descr") or "").strip()
            if alt and not _FILE_NAME.fullmatch(alt) and not _MACHINE_MADE.search(alt):
                return " ".join(alt.split())
    return ""


def blips(element: Any) -> Iterator[tuple[str, tuple[float, float, float, float] | None]]:
    """Yield each picture below ``element``: its relationship id, and the part of it that is shown in per cent."""
    for fill in element.iter():
        if local_name(fill) != "blipFill":
            continue
        blip = fill.find(f"{A}blip")
        id = blip.get(f"{R}embed") if blip is not None else None
        if id:
            yield id, _crop(fill.find(f"{A}srcRect"))


def _crop(rect: Any) -> tuple[float, float, float, float] | None:
    if rect is None or not rect.attrib:
        return None
    try:
        left, top, right, bottom = (max(0.0, int(rect.get(side, "0")) / 1000) for side in "ltrb")
    except ValueError:
        return None
    shown = (left, top, 100 - right, 100 - bottom)
    return shown if any((left, top, right, bottom)) else None

"""Sweeps everything that is about to be published for what names a patient.

Every file is opened as what it is: pictures for what cameras write into them, PDFs for text, properties, attached
files and pictures, slides and archives member by member, everything else as text. What the sources say is the business
of the checks; what is found here came in by another way, or was let through.
"""

import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pikepdf

from builder.facts.identities import NAME, identities, masked, telling_name
from builder.facts.texts import SEPARATOR
from builder.facts.written import written
from builder.model.library import Library
from builder.publish.build_report import NAME as REPORT
from builder.publish.build_report import sha256
from builder.publish.cache import Cache, digest_of_value, programs
from builder.publish.jobs import Job, Workers

NAMES = ("nothing that names a patient is in any file: text, properties, names of files, pictures and what they carry",)

_PICTURES = (".png", ".jpg", ".jpeg", ".gif", ".webp", ".tif", ".tiff")
_TYPE = (".woff2", ".woff", ".ttf", ".ico")
"""No text of a department is in them."""

_DESCRIBING = ("/Alt", "/ActualText", "/E", "/T", "/TU", "/Title", "/Contents", "/URI", "/F", "/UF")
_ARCHIVES = (".pptx", ".zip", ".docx", ".xlsx")
PNG = b"\x89PNG\r\n\x1a\n"
# What a PNG needs to be shown; every other part is text, time, place, colour profile or a second picture.
_PLAIN_PARTS = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"sRGB", b"gAMA", b"cHRM", b"pHYs", b"bKGD", b"sBIT"}
)
_CARRIERS = (
    (b"Exif\x00\x00", "camera data (EXIF)"),
    (b"http://ns.adobe.com/xap/1.0/", "properties (XMP)"),
    (b"<x:xmpmeta", "properties (XMP)"),
    (b"Photoshop 3.0\x008BIM", "a caption record (IPTC)"),
)
# The hashes of build-report.json: among thousands some begin like an NHS number.
_HASH = re.compile(r'"[0-9a-f]{64}"')
_TAGS = re.compile(r"<[^>]+>", re.DOTALL)
# Attributes that people read or hear, or that lead somewhere; an address of the kind data: is a picture.
_ATTRIBUTE = re.compile(
    r"""\s(?:alt|title|label|name|content|value|placeholder|summary|descr|href|Target|aria-[a-z]+|data-[\w-]+)\s*=\s*"""
    r"""(?P<mark>["'])(?!\s*data:)(?P<value>[^<]*?)(?P=mark)""",
    re.IGNORECASE,
)
_PACKED = re.compile(r"data:[\w/+.-]+;base64,[\w+/=]+")
_POLICY = re.compile(r"'sha256-[^']*'")
# Tags within a sentence; all others end it, so that a heading is not read on into what stands below it.
_WITHIN = re.compile(r"</?(?:a|abbr|b|code|em|i|mark|q|small|span|strong|sub|sup|u)\b[^<>]*>", re.IGNORECASE)
_SPACES = re.compile(r"  +")
_ANEW = "Publish it through prescrub, which makes it anew."
_DEEPEST = 3
_FEW, _TOGETHER = 500, 8
_MOST_BYTES = 64 * 1024 * 1024


def _swept(_: object, folder: Path, paths: list[Path], allowed: frozenset[str]) -> list[str]:
    named = [(path.relative_to(folder).as_posix(), path.read_bytes()) for path in paths]
    return [f"{name}: {problem}" for name, content in named for problem in problems_of(name, content, allowed)]


def sweep(
    library: Library, folder: Path, workers: Workers[Any] | None = None, cache: Cache | None = None
) -> tuple[str, ...]:
    """Return what names a patient in the files below ``folder``, one line each: file, what, and what to do.

    With a ``cache`` a file that was looked through before, and named nobody, is not looked through again while it is
    the same byte for byte, and so are its name and the words that are allowed in it.
    """
    allowed = frozenset(kept for kept, _ in _named_in(written(library).whole))
    every = {path: _digest_of_file(path, folder) for path in sorted(folder.rglob("*")) if path.is_file()}
    key = digest_of_value([programs(), library.department.name, allowed])
    clean = frozenset(cache.noted(key).split()) if cache else frozenset()
    paths = [path for path, digest in every.items() if digest not in clean]
    executor = (workers or Workers(None)).for_tasks(len(paths), _FEW)
    jobs = [
        Job(f"look through {paths[at].name} and others", _swept, (folder, paths[at : at + _TOGETHER], allowed))
        for at in range(0, len(paths), _TOGETHER)
    ]
    found = tuple(line for lines in executor.results(jobs) for line in lines)
    if cache and not found:
        cache.note(key, "\n".join(sorted(every.values())))
    return found


def _digest_of_file(path: Path, folder: Path) -> str:
    return digest_of_value([path.relative_to(folder).as_posix(), sha256(path)])


def _named_in(text: str) -> Iterator[tuple[str, str]]:
    """Yield what names somebody, as it is compared and as it is written.

    Of a name title and first word are compared: what follows a name on a page is not what follows it in a file.
    """
    for found in identities(text):
        words = text[found.start : found.end].split()
        compared = words[:2] if found.kind == NAME else words
        yield " ".join(compared).casefold().replace("’", "'"), " ".join(words)


def problems_of(name: str, content: bytes, allowed: frozenset[str] = frozenset(), depth: int = 0) -> Iterator[str]:
    """Yield what names a patient in one file; ``allowed`` are the words that the sources hold and the checks saw."""
    low = name.casefold()
    if low.endswith(_TYPE):
        return
    if low.endswith((*_PICTURES, ".svg")) and telling_name(Path(name).stem):
        yield f"its name ({masked(Path(name).stem)}) may name a patient. Rename the picture after what it shows."
    if content.startswith(PNG):
        yield from _png(content)
    elif low.endswith(_PICTURES):
        yield from _carriers(content)
    elif content.startswith(b"%PDF"):
        yield from _pdf(content, allowed)
    elif low.endswith(_ARCHIVES) or content.startswith(b"PK\x03\x04"):
        yield from _archive(content, allowed, depth)
    else:
        yield from _text(_words(content.decode("utf-8", "replace"), low), allowed)


def _words(text: str, name: str) -> str:
    if name == REPORT:
        return _HASH.sub('""', text)
    text = _PACKED.sub("", text).replace("<!--", "\n").replace("-->", "\n")
    if not name.endswith((".html", ".xml", ".svg", ".atom", ".rels")):
        return text
    said = (_POLICY.sub("", attribute["value"]) for attribute in _ATTRIBUTE.finditer(text))
    read = _SPACES.sub(" ", _TAGS.sub("\n", _WITHIN.sub(" ", text)))
    return unescape(SEPARATOR.join((read, *map(unquote, said))))


def _text(text: str, allowed: frozenset[str], where: str = "") -> Iterator[str]:
    for compared, name in dict.fromkeys(_named_in(text)):
        if not any(compared.startswith(known) or known.startswith(compared) for known in allowed):
            yield f"{masked(name)} names a patient{where}. Find where it comes from and remove it."


def _png(content: bytes) -> Iterator[str]:
    parts = list(png_parts(content))
    for kind, _ in parts:
        if kind not in _PLAIN_PARTS:
            yield f"the picture carries a part `{kind.decode('latin-1')}` beside what is shown. {_ANEW}"
    if not parts or parts[-1][1] != len(content):
        yield "bytes stand behind the end of the picture, where cropped points can survive. Save it again."


def png_parts(content: bytes) -> Iterator[tuple[bytes, int]]:
    """Yield the kind of each part of a PNG up to its last, and where it ends."""
    end, kind = len(PNG), b""
    while end + 8 <= len(content) and kind != b"IEND":
        size, kind = struct.unpack(">I4s", content[end : end + 8])
        end += size + 12
        yield kind, end


def _carriers(content: bytes) -> Iterator[str]:
    for mark, what in dict(_CARRIERS).items():
        if mark in content:
            yield f"the picture carries {what}. Save it again without it."


def _pdf(content: bytes, allowed: frozenset[str]) -> Iterator[str]:
    with pikepdf.open(BytesIO(content)) as pdf:
        properties = " ".join(str(value) for value in pdf.docinfo.values())
        yield from _text(properties, allowed, " in the properties")
        if "/Names" in pdf.Root and "/EmbeddedFiles" in pdf.Root.Names:
            yield "a file is attached. Nothing may be attached to what is published."
        for item in pdf.objects:
            if isinstance(item, pikepdf.Stream):
                yield from _stream(item, allowed)
        described = SEPARATOR.join(words for item in pdf.objects for words in _described(item))
        yield from _text(described, allowed, " in what is said of a part of it, or in a link")
    yield from _text(_painted(content), allowed)


def _described(item: Any) -> Iterator[str]:
    """Yield what an object of a PDF says that is not painted: descriptions, bookmarks, remarks and addresses."""
    for part in (item, item.get("/A")) if isinstance(item, pikepdf.Dictionary) else ():
        if isinstance(part, pikepdf.Dictionary):
            yield from (unquote(str(part[key])) for key in _DESCRIBING if isinstance(part.get(key), pikepdf.String))


def _stream(item: pikepdf.Stream, allowed: frozenset[str]) -> Iterator[str]:
    kind = str(item.get("/Type", "")) + str(item.get("/Subtype", ""))
    if "/Metadata" in item and "Image" in kind:
        yield f"a picture in it carries properties of its own. {_ANEW}"
    raw = item.read_raw_bytes()
    yield from _carriers(raw)
    if "Metadata" in kind or "XML" in kind:
        try:
            words = item.read_bytes().decode("utf-8", "replace")
        except (pikepdf.PdfError, zlib.error):
            return
        yield from _text(_TAGS.sub(" ", words), allowed, " in the properties")


def _painted(content: bytes) -> str:
    # Imported here because only a publish needs the reader of painted pages.
    import pypdfium2  # noqa: PLC0415

    with closing(pypdfium2.PdfDocument(content)) as document:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def _archive(content: bytes, allowed: frozenset[str], depth: int) -> Iterator[str]:
    if depth >= _DEEPEST:
        yield "archives are packed into one another too deeply to be looked into."
        return
    with zipfile.ZipFile(BytesIO(content)) as archive:
        for member in archive.infolist():
            if member.file_size > _MOST_BYTES:
                yield f"{member.filename} in it is too large to be looked into."
                continue
            for problem in problems_of(member.filename, archive.read(member), allowed, depth + 1):
                yield f"{member.filename} in it: {problem}"

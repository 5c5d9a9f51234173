"""Files that nobody should be able to hurt the tool with: each with a word of the refusal it must get."""

from __future__ import annotations

import random
import zipfile
from io import BytesIO
from pathlib import Path

import docx

SOURCES = Path(__file__).parent / "sources"
DOCX = (SOURCES / "appendicectomy.docx").read_bytes()
PPTX = (SOURCES / "hydrocele.pptx").read_bytes()
ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]><x>&c;</x>"""
OUTSIDE = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>'


def repacked(content: bytes, changed: dict[str, bytes | None]) -> bytes:
    """A zip with some parts exchanged, added or (None) gone."""
    old, new = zipfile.ZipFile(BytesIO(content)), BytesIO()
    with zipfile.ZipFile(new, "w", zipfile.ZIP_DEFLATED) as packed:
        for part in old.namelist():
            if part not in changed:
                packed.writestr(part, old.read(part))
        for name, text in changed.items():
            if text is not None:
                packed.writestr(name, text)
    return new.getvalue()


def zipped(parts: dict[str, bytes]) -> bytes:
    target = BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in parts.items():
            packed.writestr(name, text)
    return target.getvalue()


def nested(depth: int) -> bytes:
    table = b"<w:p><w:r><w:t>in</w:t></w:r></w:p>"
    for _ in range(depth):
        table = b"<w:tbl><w:tr><w:tc>" + table + b"</w:tc></w:tr></w:tbl>"
    head = b'<w:document xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"><w:body>'
    return head + table + b"</w:body></w:document>"


def locked(content: bytes) -> bytes:
    """Set the bit that says that a part is locked with a password, in every head of the zip."""
    raw = bytearray(content)
    for sign, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = raw.find(sign)
        while at >= 0:
            raw[at + offset] |= 1
            at = raw.find(sign, at + 1)
    return bytes(raw)


def damaged(content: bytes) -> bytes:
    return bytes(byte ^ 0x55 if 300 < at < 900 else byte for at, byte in enumerate(content))


def without_words() -> bytes:
    document, target = docx.Document(), BytesIO()
    document.add_paragraph("1 2 3 ...")
    document.save(target)
    return target.getvalue()


def noise(size: int) -> bytes:
    return random.Random(7).randbytes(size)


def files() -> dict[str, tuple[bytes, str]]:
    """Name to content, and a word of the message."""
    step = b"1. Open the skin.\n2. Close the skin.\n"
    cut = DOCX[: len(DOCX) // 2]
    return {
        "empty.md": (b"", "empty"),
        "blank.txt": (b"\n \t\r\n", "empty"),
        "only-mark.txt": (b"\xef\xbb\xbf", "empty"),
        "zeros.md": (b"\x00" * 400, "empty"),
        "no-ending": (step, "cannot be used"),
        "wrong.html": (step, "cannot be used"),
        "old.doc": (b"\xd0\xcf\x11\xe0" + noise(900), "cannot be used"),
        "old.docx": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + noise(900), "password"),
        "paper.docx": (b"%PDF-1.7\n" + noise(900), "PDF"),
        "paper.md": (b"%PDF-1.7\n" + noise(900), "PDF"),
        "rich.docx": (b"{\\rtf1\\ansi 1. Open}", "rich text"),
        "picture.pptx": (b"\x89PNG\r\n\x1a\n" + noise(400), "picture"),
        "photo.md": (b"\xff\xd8\xff\xe0" + noise(400), "picture"),
        "film.srt": (b"\x00\x00\x00\x18ftypmp42" + noise(400), "recording"),
        "packed.md": (zipped({"a.md": step}), "compressed file"),
        "packed.vtt.gz.txt": (b"\x1f\x8b\x08" + noise(200), "compressed file"),
        "text.docx": (step, "not a .docx"),
        "latin.txt": ("1. Öffnen der Haut".encode("latin-1"), "UTF-8"),
        "half.md": (step + b"\xff\xfe\xfd", "UTF-8"),
        "nul.md": (b"1. Open\n2. Cl\x00ose\n", "NUL"),
        "odd-utf16.txt": (b"\xff\xfe1\x00.\x00 ", "UTF-8"),
        "binary.txt": (noise(5000), "UTF-8"),
        "signs.md": (b"*** --- ### 123 !!! \n" * 50, "no words"),
        "huge.txt": (b"1. Open the skin with care.\n" * 170_000, "MiB"),
        "long.txt": (b"1. Open the skin with care.\n" * 13_000, "characters"),
        "many.md": (b"".join(b"%d. Open\n" % (n % 99 + 1) for n in range(900)), "steps"),
        "prose.txt": (b"The liver is a large organ. It is brown.", "no step"),
        "no-times.srt": (b"hello\nworld\n", "no words with times"),
        "no-cues.vtt": (b"WEBVTT\n\nNOTE nothing was said\n", "no words with times"),
        "broken-times.vtt": (b"WEBVTT\n\n99:99:99 --> xx\nfirst we open\n", "no words with times"),
        "cut.docx": (cut, "cannot be opened"),
        "cut.pptx": (PPTX[:-200], "cannot be opened"),
        "noise.docx": (b"PK\x03\x04" + noise(4000), "cannot be opened"),
        "damaged.docx": (damaged(DOCX), "cannot be opened"),
        "empty-zip.docx": (zipped({}), "cannot be opened"),
        "no-document.docx": (repacked(DOCX, {"word/document.xml": None}), "cannot be opened"),
        "slides-as.docx": (PPTX, "cannot be opened"),
        "document-as.pptx": (DOCX, "cannot be opened"),
        "no-xml.docx": (repacked(DOCX, {"word/document.xml": b"<w:document"}), "cannot be opened"),
        "entities.docx": (repacked(DOCX, {"word/document.xml": ENTITIES}), "entities"),
        "outside.docx": (repacked(DOCX, {"word/document.xml": OUTSIDE}), "entities"),
        "outside-notes.docx": (repacked(DOCX, {"word/footnotes.xml": OUTSIDE}), "entities"),
        "entities.pptx": (repacked(PPTX, {"ppt/slides/slide1.xml": ENTITIES}), "entities"),
        "bomb.docx": (repacked(DOCX, {"word/media/a.bin": b"\0" * 9_000_000}), "unpacks to"),
        "large-part.docx": (repacked(DOCX, {"word/document.xml": b"<x>" + b" " * 33_600_000}), "unpacks to"),
        "many-parts.pptx": (repacked(PPTX, {f"x/{n}.bin": b"" for n in range(6000)}), "unpacks to"),
        "locked.docx": (locked(DOCX), "password"),
        "nested.docx": (repacked(DOCX, {"word/document.xml": nested(90)}), ""),
        "no-words.docx": (without_words(), "no words"),
    }  # fmt: skip

"""Makes the sources that are no plain text: ``python -m tests.drafts.make_sources``. What it makes is committed.

The files are as people make them: numbering half typed and half automatic, headings that are only bold, line breaks
inside a paragraph, a table, a text box, comments, a cropped picture, a name among the properties. What they say stands
in ``made/``, a line for each paragraph, with a sign for what it is.
"""

from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import docx
import pptx
from docx.oxml import parse_xml
from PIL import Image, ImageDraw
from pptx.util import Inches, Pt

HERE = Path(__file__).parent
MADE = HERE / "made"
SOURCES = HERE / "sources"
AUTHOR = "Wilhelmina Featherstonehaugh"
"""Stands in the properties of every packed file, and in the talk, and may come out in no draft."""

_WORDS_A_SECOND = 2.4
MISHEARD = {
    "internal jugular vein": "internal jugular vain",
    "carotid artery": "karotid artery",
    "lidocaine": "lidocane",
    "introducer needle": "introducer kneedle",
    "guidewire": "guide wire",
    "dilator": "dilater",
    "central venous catheter": "central venus catheter",
    "lumens": "lumans",
    "antiseptic": "anti septic",
}
"""What the recogniser made of some names, in every place."""


def misheard(text: str) -> str:
    for said, written in MISHEARD.items():
        text = text.replace(said, written)
    return text


def cues(text: str, most: int) -> list[tuple[float, float, str]]:
    """Cut ``text`` into cues of at most ``most`` signs, with the times of an even speaker who pauses between lines."""
    found, now = [], 1.0
    for line in text.strip().split("\n"):
        words, held = line.split(), ""
        for word in [*words, ""]:
            if word and len(held) + len(word) < most:
                held = f"{held} {word}".strip()
                continue
            length = len(held.split()) / _WORDS_A_SECOND
            found.append((now, now + length, held))
            now += length
            held = word
        now += 0.4
    return found


def stamp(seconds: float, sign: str) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{int(minutes) // 60:02}:{int(minutes) % 60:02}:{rest:06.3f}".replace(".", sign)


def make_vtt(path: Path) -> None:
    rows = ["WEBVTT", "", "NOTE recorded in the seminar room", ""]
    for number, (start, end, words) in enumerate(cues(path.read_text(encoding="utf-8"), 40), start=1):
        rows += [f"cue-{number}", f"{stamp(start, '.')} --> {stamp(end, '.')} line:90%"]
        rows += [f"<v {AUTHOR}>{words}</v>", ""]
    path.with_suffix(".vtt").write_text("\n".join(rows), encoding="utf-8")


def make_srt(path: Path) -> None:
    rows = []
    for number, (start, end, words) in enumerate(cues(misheard(path.read_text(encoding="utf-8")), 44), start=1):
        rows += [str(number), f"{stamp(start, ',')} --> {stamp(end, ',')}", words, ""]
    path.with_suffix(".srt").write_text("\n".join(rows), encoding="utf-8")


def photograph(width: int = 640, height: int = 480) -> bytes:
    """A drawing that stands for a photograph: green in its right third, which is cropped away, and EXIF data."""
    picture = Image.new("RGB", (width, height), (222, 205, 190))
    draw = ImageDraw.Draw(picture)
    draw.ellipse((120, 90, 380, 360), outline=(120, 40, 40), width=6)
    draw.rectangle((width * 2 // 3, 0, width, height), fill=(10, 120, 10))
    exif = Image.Exif()
    exif[0x013B] = AUTHOR
    exif[0x0132] = "2024:03:07 11:12:13"
    target = BytesIO()
    picture.save(target, "JPEG", exif=exif, quality=80)
    return target.getvalue()


# Word-processor files: `T` title, `B` bold, `#` numbered by the program, `-` bullet, `|` row of a table, `C` comment on
# the paragraph above, `X` text box, `F` footer, `N` footnote; else a plain paragraph. A backslash is a line break.

BOX = """<w:r xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"
 xmlns:v="urn:schemas-microsoft-com:vml"><w:pict><v:shape id="box" style="width:200pt;height:60pt"><v:textbox>
 <w:txbxContent><w:p><w:r><w:t>{text}</w:t></w:r></w:p></w:txbxContent></v:textbox></v:shape></w:pict></w:r>"""
_STYLES = {"T": "Title", "#": "List Number", "-": "List Bullet", "H": "Heading 1"}


def make_docx(name: str, target: Path) -> None:
    document = docx.Document()
    document.core_properties.author = document.core_properties.last_modified_by = AUTHOR
    document.core_properties.comments = f"typed by {AUTHOR}"
    note, table = "", None
    for line in (MADE / f"{name}.txt").read_text(encoding="utf-8").splitlines():
        sign, _, text = line.partition(" ") if line[1:2] == " " else ("", "", line)
        if sign == "N":
            note = text
        elif sign == "|":
            cells = text.split(" | ")
            table = table or document.add_table(rows=0, cols=len(cells))
            for cell, words in zip(table.add_row().cells, cells, strict=True):
                cell.text = words.strip()
        else:
            table = None
            _paragraph(document, sign, text)
    raw = BytesIO()
    document.save(raw)
    target.write_bytes(with_footnote(raw.getvalue(), note) if note else raw.getvalue())


def _paragraph(document: Any, sign: str, text: str) -> None:
    if sign == "C":
        above = document.paragraphs[-1]
        document.add_comment(above.runs, text=text, author=AUTHOR, initials="WF")
    elif sign == "X":
        document.add_paragraph()._p.append(parse_xml(BOX.format(text=text)))
    elif sign == "F":
        document.sections[0].footer.paragraphs[0].text = text
    elif sign == "B":
        document.add_paragraph().add_run(text).bold = True
    else:
        first, *rest = text.split("\\")
        paragraph = document.add_paragraph(first, style=_STYLES.get(sign))
        for more in rest:
            paragraph.add_run().add_break()
            paragraph.add_run(more)


_W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
_TYPE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/footnotes"
_CONTENT = "application/vnd.openxmlformats-officedocument.wordprocessingml.footnotes+xml"


def with_footnote(content: bytes, note: str) -> bytes:
    """Add a footnote, which python-docx cannot write, where a paragraph says `(note)`."""
    changes = {
        "word/_rels/document.xml.rels": (
            b"</Relationships>",
            f'<Relationship Id="rIdF" Type="{_TYPE}" Target="footnotes.xml"/></Relationships>',
        ),
        "[Content_Types].xml": (
            b"</Types>", f'<Override PartName="/word/footnotes.xml" ContentType="{_CONTENT}"/></Types>',
        ),
        "word/document.xml": (
            b" (note)",
            '</w:t></w:r><w:r><w:footnoteReference w:id="2"/></w:r><w:r><w:t xml:space="preserve">',
        ),
    }  # fmt: skip
    old, new = zipfile.ZipFile(BytesIO(content)), BytesIO()
    with zipfile.ZipFile(new, "w", zipfile.ZIP_DEFLATED) as packed:
        for part in old.namelist():
            found, put = changes.get(part, (b"\0", ""))
            packed.writestr(part, old.read(part).replace(found, put.encode()))
        text = f'<w:footnote w:id="2"><w:p><w:r><w:t>{note}</w:t></w:r></w:p></w:footnote>'
        packed.writestr("word/footnotes.xml", f'<w:footnotes xmlns:w="{_W}">{text}</w:footnotes>')
    return new.getvalue()


# Slides: `#` title, `-` bullet, `--` bullet below it, `>` notes, `P` picture, `X` paragraph of a text box, `|` row.


def make_pptx(name: str, target: Path) -> None:
    deck = pptx.Presentation()
    deck.core_properties.author = deck.core_properties.last_modified_by = AUTHOR
    text = (MADE / f"{name}.txt").read_text(encoding="utf-8")
    for number, part in enumerate(text.split("# ")[1:]):
        title, *lines = part.strip().split("\n")
        bullets = any(line.startswith("-") for line in lines)
        slide = deck.slides.add_slide(deck.slide_layouts[0 if not number else 1 if bullets else 5])
        slide.shapes.title.text = title
        _Slide(slide).fill(lines)
    raw = BytesIO()
    deck.save(raw)
    target.write_bytes(raw.getvalue())


class _Slide:
    def __init__(self, slide: Any) -> None:
        self.slide = slide
        self.box: Any = None
        self.rows: list[list[str]] = []
        self.is_first = True

    def fill(self, lines: list[str]) -> None:
        for line in lines:
            sign, _, text = line.partition(" ")
            put = {"-": self.bullet, "--": self.bullet, "P": self.picture, "X": self.boxed}.get(sign)
            if sign == ">":
                self.slide.notes_slide.notes_text_frame.text = text
            elif sign == "|":
                self.rows.append([cell.strip() for cell in text.split(" | ")])
            elif put:
                put(text, len(sign) - 1)
        if self.rows:
            size = (Inches(1), Inches(2), Inches(7), Inches(1))
            table = self.slide.shapes.add_table(len(self.rows), len(self.rows[0]), *size).table
            for row, cells in enumerate(self.rows):
                for column, text in enumerate(cells):
                    table.cell(row, column).text = text

    def bullet(self, text: str, level: int) -> None:
        frame = self.slide.placeholders[1].text_frame
        paragraph = frame.paragraphs[0] if self.is_first else frame.add_paragraph()
        paragraph.text, paragraph.level = text, level
        self.is_first = False

    def picture(self, text: str, _: int) -> None:
        picture = self.slide.shapes.add_picture(BytesIO(photograph()), Inches(6), Inches(2), Inches(3))
        picture.crop_right = 1 / 3
        picture._element.nvPicPr.cNvPr.set("descr", text)

    def boxed(self, text: str, _: int) -> None:
        if self.box is None:
            size = (Inches(1), Inches(2), Inches(7), Inches(3))
            self.box = self.slide.shapes.add_textbox(*size).text_frame
            paragraph = self.box.paragraphs[0]
        else:
            paragraph = self.box.add_paragraph()
        paragraph.text = text.replace("\\", "\v")
        paragraph.runs[0].font.size = Pt(20)


if __name__ == "__main__":
    make_vtt(SOURCES / "tracheostomy.txt")
    make_srt(SOURCES / "central-line.txt")
    make_docx("appendicectomy", SOURCES / "appendicectomy.docx")
    make_pptx("hydrocele", SOURCES / "hydrocele.pptx")
    make_docx("ingrown-toenail", HERE / "held_out" / "ingrown-toenail.docx")
    make_pptx("gland-biopsy", HERE / "held_out" / "gland-biopsy.pptx")

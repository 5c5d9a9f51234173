"""Makes the sources that are no plain text: ``python tests/drafts/make_sources.py``. What it makes is committed.

The files are as people make them: numbering half typed and half automatic, headings that are only bold, line breaks
inside a paragraph, a table, a text box, comments, a cropped picture, a name among the properties.
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
SOURCES = HERE / "sources"
HELD_OUT = HERE / "held_out"
AUTHOR = "Wilhelmina Featherstonehaugh"
"""Stands in the properties of every packed file and may come out in no draft."""

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


def make_vtt() -> None:
    text = (SOURCES / "tracheostomy.txt").read_text(encoding="utf-8")
    rows = ["WEBVTT", "", "NOTE recorded in the seminar room", ""]
    for number, (start, end, words) in enumerate(cues(text, 40), start=1):
        rows += [f"cue-{number}", f"{stamp(start, '.')} --> {stamp(end, '.')} line:90%"]
        rows += [f"<v {AUTHOR}>{words}</v>", ""]
    (SOURCES / "tracheostomy.vtt").write_text("\n".join(rows), encoding="utf-8")


def make_srt() -> None:
    text = misheard((SOURCES / "central-line.txt").read_text(encoding="utf-8"))
    rows = []
    for number, (start, end, words) in enumerate(cues(text, 44), start=1):
        rows += [str(number), f"{stamp(start, ',')} --> {stamp(end, ',')}", words, ""]
    (SOURCES / "central-line.srt").write_text("\n".join(rows), encoding="utf-8")


def photograph(width: int = 640, height: int = 480) -> bytes:
    """A drawing that stands for a photograph: a name in its right third, which is cropped away, and EXIF data."""
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


# Word-processor file


def numbered(document: Any, text: str, style: str = "List Number") -> Any:
    return document.add_paragraph(text, style=style)


def bold(document: Any, text: str) -> None:
    document.add_paragraph().add_run(text).bold = True


BOX = """<w:r xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"
 xmlns:v="urn:schemas-microsoft-com:vml"><w:pict><v:shape id="box" style="width:200pt;height:60pt"><v:textbox>
 <w:txbxContent><w:p><w:r><w:t>{text}</w:t></w:r></w:p></w:txbxContent></v:textbox></v:shape></w:pict></w:r>"""


def make_docx() -> None:
    document = docx.Document()
    document.core_properties.author = AUTHOR
    document.core_properties.last_modified_by = AUTHOR
    document.core_properties.comments = f"typed by {AUTHOR}"
    document.add_paragraph("Taking out an appendix, the open way", style="Title")
    bold(document, "Indications")
    document.add_paragraph("Acute appendicitis when keyhole surgery is not to be had, or has failed.")
    bold(document, "Instruments")
    table = document.add_table(rows=1, cols=2)
    table.rows[0].cells[0].text, table.rows[0].cells[1].text = "What", "How many"
    for what, many in (("Scalpel", "1"), ("Tissue forceps", "2"), ("Artery forceps", "4"), ("Radio-opaque swab", "5"),
                       ("Polyglactin suture", "3"), ("Polyglactin tie", "2")):  # fmt: skip
        cells = table.add_row().cells
        cells[0].text, cells[1].text = what, many
    bold(document, "Technique")
    numbered(document, "Lie the patient flat under general anaesthesia and feel the abdomen again.")
    numbered(document, "Open the abdominal skin with the scalpel over the point of most pain, in a skin crease.")
    paragraph = numbered(document, "Split the muscles one by one")
    paragraph.add_run().add_break()
    paragraph.add_run("Open the external oblique aponeurosis in the line of its fibres.")
    paragraph.add_run().add_break()
    paragraph.add_run("Then spread the internal oblique and the transversus abdominis with closed scissors.")
    numbered(document, "Pick up the peritoneum between two artery forceps, feel that no bowel is caught, and open the "
             "peritoneum.")  # fmt: skip
    document.add_paragraph("Take a swab of any fluid. Beware of the bowel, it lies against the peritoneum.")
    # Here somebody pasted from a mail: numbers typed by hand, in another way.
    document.add_paragraph("5) Find the caecum and follow its bands down to the appendix. If you cannot find the "
                           "appendix, make the wound longer.")  # fmt: skip
    comment_on = document.add_paragraph("6) Deliver the appendix into the wound with tissue forceps.")
    document.add_comment(
        comment_on.runs, text="Never squeeze it with the tips, it bursts.", author=AUTHOR, initials="WF"
    )
    document.add_paragraph("7.Clamp the mesoappendix with artery forceps, divide the mesoappendix, and tie the "
                           "mesoappendix with a polyglactin tie. The danger is the appendicular artery, which slips "
                           "back and bleeds behind the bowel.")  # fmt: skip
    box = document.add_paragraph()
    box._p.append(parse_xml(BOX.format(text="Watch out for the ureter if the appendix lies behind.")))
    document.add_paragraph("Step 8 - Crush the base, tie the appendix with a polyglactin tie and divide the appendix above "
                           "the tie.")  # fmt: skip
    document.add_paragraph("9. Wash the peritoneal cavity with saline if there is pus, and look at the terminal ileum.")
    numbered(document, "Count the swabs, needles and instruments")
    numbered(document, "Close the peritoneum with a polyglactin suture, then the external oblique aponeurosis with a "
             "second one.")  # fmt: skip
    numbered(document, "Close the abdominal skin, or leave it open if it was full of pus.")
    bold(document, "After the operation")
    document.add_paragraph("Drink as soon as awake, eat as soon as hungry.", style="List Bullet")
    document.add_paragraph("Stop the antibiotic after one dose if the appendix was not burst.", style="List Bullet")
    document.add_paragraph("Look at the wound on day three.", style="List Bullet")
    document.sections[0].footer.paragraphs[0].text = "Draft for the juniors, please correct"
    target = BytesIO()
    document.save(target)
    (SOURCES / "appendicectomy.docx").write_bytes(with_footnote(target.getvalue()))


_W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"


def with_footnote(content: bytes) -> bytes:
    """Add a footnote, which python-docx cannot write, to the paragraph that names the caecum."""
    note = (
        f'<w:footnotes xmlns:w="{_W}"><w:footnote w:id="2"><w:p><w:r><w:t>The bands are the taeniae; all three meet at '
    )
    note += "the base.</w:t></w:r></w:p></w:footnote></w:footnotes>"
    old, new = zipfile.ZipFile(BytesIO(content)), BytesIO()
    with zipfile.ZipFile(new, "w", zipfile.ZIP_DEFLATED) as packed:
        for part in old.infolist():
            text = old.read(part)
            if part.filename == "word/_rels/document.xml.rels":
                text = text.replace(b"</Relationships>", b'<Relationship Id="rIdF" Type="http://schemas.openxmlformats.org/'
                                    b'officeDocument/2006/relationships/footnotes" Target="footnotes.xml"/></Relationships>')  # fmt: skip
            elif part.filename == "[Content_Types].xml":
                text = text.replace(b"</Types>", b'<Override PartName="/word/footnotes.xml" ContentType="application/vnd.'
                                    b'openxmlformats-officedocument.wordprocessingml.footnotes+xml"/></Types>')  # fmt: skip
            elif part.filename == "word/document.xml":
                text = text.replace(b"follow its bands down", b'follow its bands</w:t></w:r><w:r><w:footnoteReference '
                                    b'w:id="2"/></w:r><w:r><w:t xml:space="preserve"> down')  # fmt: skip
            packed.writestr(zipfile.ZipInfo(part.filename), text, zipfile.ZIP_DEFLATED)
        packed.writestr(zipfile.ZipInfo("word/footnotes.xml"), note)
    return new.getvalue()


TOENAIL = (
    ("1", "Confirm toe and side with the patient. Write it on the skin.", ""),
    (
        "2",
        "Inject lidocaine into the skin on both sides of the toe. Plain, ten millilitres at most.",
        "No adrenaline from an old habit: check the label",
    ),
    ("3", "Put the finger tourniquet on the toe and write down the time.", "Forgotten tourniquet - the toe dies"),
    ("4", "Lift the outer quarter of the nail off its bed with closed scissors. Protect the nail bed.", ""),
    ("5", "Cut the nail from tip to root, straight", "Do not go into the middle of the nail"),
    ("6", "Remove the strip in one piece and look at its corner.", ""),
    ("7", "Kill the root. Apply phenol on a cotton bud for three minutes, dry between.", ""),
    ("8", "Take the finger tourniquet off. The toe must turn pink.", ""),
    ("9", "Dress the toe: apply a non-stick dressing and a loose bandage.", ""),
)


def make_table_docx() -> None:
    document = docx.Document()
    document.core_properties.author = AUTHOR
    document.add_heading("Ingrown toenail, wedge with phenol", 1)
    document.add_paragraph("Who: toes that are sore all the time, after good nail care has failed.")
    table = document.add_table(rows=1, cols=3)
    for cell, text in zip(table.rows[0].cells, ("No.", "What to do", "Pitfall"), strict=True):
        cell.text = text
    for row in TOENAIL:
        for cell, text in zip(table.add_row().cells, row, strict=True):
            cell.text = text
    document.add_heading("Going home", 2)
    document.add_paragraph("Foot up for one day.", style="List Bullet")
    document.add_paragraph("First change of the dressing after two days at the practice.", style="List Bullet")
    target = BytesIO()
    document.save(target)
    (HELD_OUT / "ingrown-toenail.docx").write_bytes(target.getvalue())


# Slides


def slide(deck: Any, title: str, lines: list[tuple[int, str]], notes: str = "") -> Any:
    one = deck.slides.add_slide(deck.slide_layouts[1 if lines else 5])
    one.shapes.title.text = title
    if lines:
        frame = one.placeholders[1].text_frame
        frame.text = lines[0][1]
        for level, text in lines[1:]:
            paragraph = frame.add_paragraph()
            paragraph.text, paragraph.level = text, level
    if notes:
        one.notes_slide.notes_text_frame.text = notes
    return one


def make_pptx() -> None:
    deck = pptx.Presentation()
    deck.core_properties.author = deck.core_properties.last_modified_by = AUTHOR
    first = deck.slides.add_slide(deck.slide_layouts[0])
    first.shapes.title.text = "Adult hydrocele: turning the sac inside out"
    first.placeholders[1].text = "Teaching for the new starters"
    slide(deck, "When", [(0, "Large, heavy, in the way"), (0, "Ultrasound first: is the testis normal?")])
    slide(deck, "Kit", [(0, "Scalpel, dissecting scissors, 4 artery forceps"), (0, "Polyglactin suture x 2"),
                        (0, "Scrotal support"), (0, "Corrugated drain")])  # fmt: skip
    slide(
        deck,
        "1. Position and prepare",
        [(0, "On the back, legs a little apart"), (0, "Check the side with the consent form")],
    )
    slide(deck, "2. Open the scrotal skin", [(0, "Stretch the skin over the swelling with one hand"),
                                             (0, "Open the scrotal skin with the scalpel between the veins you can see")],
          "I go across, not up and down. Watch out for the small veins, they make the bruise.")  # fmt: skip
    slide(
        deck,
        "3) Go through the dartos",
        [(0, "Open the dartos muscle with the scissors"), (0, "Keep outside the bluish sac")],
    )
    shown = slide(deck, "4. Free the sac", [(0, "Push the tissue off the tunica vaginalis with a swab"),
                                            (1, "stay close to the sac"), (1, "stop where it joins the cord")])  # fmt: skip
    picture = shown.shapes.add_picture(BytesIO(photograph()), Inches(6), Inches(2), Inches(3))
    picture.crop_right = 1 / 3
    picture._element.nvPicPr.cNvPr.set("descr", "The sac held up between two fingers")
    slide(deck, "Opening the sac", [(0, "Open the tunica vaginalis at the front, away from the testis"),
                                    (0, "Suck out the fluid"), (0, "Danger: the epididymis is stretched over the back and looks like sac")])  # fmt: skip
    slide(
        deck,
        "Step 6: Look at the testis",
        [(0, "Inspect the testis and the epididymis"), (0, "If it is hard or lumpy, stop and call the urologist")],
    )
    boxed = slide(deck, "7 Trim and turn", [])
    frame = boxed.shapes.add_textbox(Inches(1), Inches(2), Inches(7), Inches(3)).text_frame
    frame.text = "Excise the spare tunica vaginalis\vleave two centimetres of edge"
    frame.add_paragraph().text = (
        "Suture the edges of the tunica vaginalis behind the spermatic cord with a polyglactin suture"
    )
    frame.add_paragraph().text = "Not too tight: the cord must not be strangled"
    frame.paragraphs[0].runs[0].font.size = Pt(20)
    table_slide = slide(deck, "8. Stop every bleeding point", [])
    table = table_slide.shapes.add_table(2, 2, Inches(1), Inches(2), Inches(7), Inches(1)).table
    for (row, column), text in {
        (0, 0): "Where",
        (0, 1): "How",
        (1, 0): "Cut edge of the sac",
        (1, 1): "Seal it point by point, take your time",
    }.items():
        table.cell(row, column).text = text
    slide(deck, "9. Put the testis back", [(0, "The right way round, cord not twisted"), (0, "Place a corrugated drain only if it oozes")],
          "Twisted cord is the mistake nobody forgets.")  # fmt: skip
    slide(deck, "10. Close", [(0, "Count the swabs, needles and instruments"), (0, "Close the dartos muscle and the scrotal skin with polyglactin suture"),
                              (0, "Put on the scrotal support")])  # fmt: skip
    slide(
        deck,
        "Post-op",
        [(0, "Scrotal support for two weeks"), (0, "Drain out after one day"), (0, "No heavy lifting for two weeks")],
    )
    slide(deck, "Thank you - any questions?", [])
    target = BytesIO()
    deck.save(target)
    (SOURCES / "hydrocele.pptx").write_bytes(target.getvalue())


if __name__ == "__main__":
    make_vtt()
    make_srt()
    make_docx()
    make_pptx()
    make_table_docx()

"""Ways to spoil a finished .pptx: each takes its members (name to bytes) and changes them as a bad program would."""

from __future__ import annotations

# ruff: noqa: E501  # one case a line reads as a table
import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass

from decks import deck, pptx
from lxml import etree
from PIL import Image

Members = dict[str, bytes]
NS = {
    "a": "http://schemas.openxmlformats.org/drawingml/2006/main",
    "p": "http://schemas.openxmlformats.org/presentationml/2006/main",
}
A = f"{{{NS['a']}}}"


@dataclass(frozen=True)
class Case:
    """A case: its ``name``, how the file is spoilt, and words that a problem must ``say``."""

    name: str
    spoil: Callable[[Members], None]
    say: str


def opened(data: bytes) -> Members:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def packed(members: Members, moment: tuple[int, int, int, int, int, int] = (1980, 1, 1, 0, 0, 0)) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as package:
        for name, content in members.items():
            package.writestr(zipfile.ZipInfo(name, moment), content)
    return target.getvalue()


def spoilt(case: Case) -> bytes:
    members = opened(pptx())
    before = dict(members)
    case.spoil(members)
    assert members != before, case.name
    return packed(members)


def number_of(kind: str) -> int:
    """The number of the first slide of ``kind``, or of the slide with that id."""
    return next(at for at, slide in enumerate(deck().slides, start=1) if kind in (slide.kind, slide.id))


def on(kind: str, change: Callable[[etree._Element], None]) -> Callable[[Members], None]:
    """Change the XML of the first slide of ``kind``."""
    return in_part(f"ppt/slides/slide{number_of(kind)}.xml", change)


def in_part(name: str, change: Callable[[etree._Element], None]) -> Callable[[Members], None]:
    def spoil(members: Members) -> None:
        root = etree.fromstring(members[name])
        change(root)
        members[name] = etree.tostring(root)

    return spoil


def shape(root: etree._Element, name: str) -> etree._Element:
    """The first shape called ``name``."""
    return next(one.getparent().getparent() for one in root.iter(f"{{{NS['p']}}}cNvPr") if one.get("name") == name)


def moved(name: str, x: int = 0, y: int = 0) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        off = shape(root, name).find(f".//{A}off")
        off.set("x", str(int(off.get("x")) + x))
        off.set("y", str(int(off.get("y")) + y))

    return change


def flattened(name: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        shape(root, name).find(f".//{A}ext[@cy]").set("cy", "300000")

    return change


def removed(name: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        one = shape(root, name)
        one.getparent().remove(one)

    return change


def emptied(name: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        for text in shape(root, name).iter(f"{A}t"):
            text.text = ""

    return change


def swapped(one: str, other: str) -> Callable[[etree._Element], None]:
    """Put the shape ``other`` before ``one``: what is seen stays, the reading order changes."""

    def change(root: etree._Element) -> None:
        shape(root, one).addprevious(shape(root, other))

    return change


def described(name: str, words: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        told = next(one for one in root.iter(f"{{{NS['p']}}}cNvPr") if one.get("name") == name)
        told.set("descr", words)

    return change


def sized(name: str, hundredths: int) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        for run in shape(root, name).iter(f"{A}rPr"):
            run.set("sz", str(hundredths))

    return change


def coloured(name: str, colour: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        for run in shape(root, name).iter(f"{A}rPr"):
            run.insert(
                0, etree.fromstring(f'<a:solidFill xmlns:a="{NS["a"]}"><a:schemeClr val="{colour}"/></a:solidFill>')
            )

    return change


def lengthened(name: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        text = list(shape(root, name).iter(f"{A}t"))[-1]
        text.text = f"{text.text} {'and this and that ' * 30}"

    return change


def covered(name: str) -> Callable[[etree._Element], None]:
    """Lay a white rectangle over a shape."""

    def change(root: etree._Element) -> None:
        one = shape(root, name)
        place = etree.tostring(one.find(f".//{A}xfrm")).decode()
        one.getparent().append(etree.fromstring(
            f'<p:sp xmlns:p="{NS["p"]}" xmlns:a="{NS["a"]}"><p:nvSpPr><p:cNvPr id="99" name="Sheet"/><p:cNvSpPr/><p:nvPr/></p:nvSpPr>'
            f'<p:spPr>{place}<a:prstGeom prst="rect"><a:avLst/></a:prstGeom><a:solidFill><a:schemeClr val="bg1"/></a:solidFill></p:spPr></p:sp>'
        ))  # fmt: skip

    return change


def attribute(path: str, name: str, value: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        for one in root.iterfind(path, NS):
            one.set(name, value)

    return change


def hidden(name: str) -> Callable[[etree._Element], None]:
    def change(root: etree._Element) -> None:
        next(one for one in root.iter(f"{{{NS['p']}}}cNvPr") if one.get("name") == name).set("hidden", "1")

    return change


def lose_slide(members: Members) -> None:
    root = etree.fromstring(members["ppt/presentation.xml"])
    listed = root.find("p:sldIdLst", NS)
    listed.remove(listed[number_of("step-inject-local") - 1])
    members["ppt/presentation.xml"] = etree.tostring(root)


def swap_slides(members: Members) -> None:
    """Show a caution behind the step that it guards."""
    root = etree.fromstring(members["ppt/presentation.xml"])
    listed = root.find("p:sldIdLst", NS)
    at = number_of("step-inject-local") - 1
    listed.insert(at, listed[at + 1])
    members["ppt/presentation.xml"] = etree.tostring(root)


def lose_notes(members: Members) -> None:
    name = f"ppt/slides/_rels/slide{number_of('step-inject-local')}.xml.rels"
    members[name] = re.sub(rb"<Relationship [^>]*notesSlide[^>]*/>", b"", members[name])


def empty_notes(members: Members) -> None:
    name = next(name for name in members if name.startswith("ppt/notesSlides/notesSlide3."))
    members[name] = re.sub(rb"<a:t>[^<]*</a:t>", b"<a:t></a:t>", members[name])


def with_exif(members: Members) -> None:
    name = next(name for name in members if name.endswith(".png"))
    exif = Image.Exif()
    exif[0x013B] = "Someone"
    target = io.BytesIO()
    with Image.open(io.BytesIO(members[name])) as picture:
        picture.save(target, "PNG", exif=exif)
    members[name] = target.getvalue()


def named_after_a_patient(members: Members) -> None:
    old = next(name for name in members if name.endswith(".png"))
    new = "ppt/media/mr-quimby.png"
    members[new] = members.pop(old)
    for name in [name for name in members if name.endswith(".rels")]:
        members[name] = members[name].replace(b"image1.png", b"mr-quimby.png")


def authored(members: Members) -> None:
    members["docProps/core.xml"] = re.sub(
        rb"<dc:creator>[^<]*", b"<dc:creator>Steve Someone", members["docProps/core.xml"]
    )


def dated(members: Members) -> None:
    moment = b'<dcterms:created xsi:type="dcterms:W3CDTF">2026-11-25T17:31:08Z</dcterms:created></cp:coreProperties>'
    members["docProps/core.xml"] = members["docProps/core.xml"].replace(b"</cp:coreProperties>", moment)


def linked(members: Members) -> None:
    name = f"ppt/slides/_rels/slide{number_of('step')}.xml.rels"
    link = b'<Relationship Id="rId77" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/hyperlink" Target="http://example.org/" TargetMode="External"/></Relationships>'
    members[name] = members[name].replace(b"</Relationships>", link)


FOUR_BY_THREE = attribute("p:sldSz", "cx", "9144000")
CASES = (
    Case("caution off the slide", on("step-inject-local", moved("Caution", y=5_500_000)), "reaches off the slide"),
    Case("caution off at the right", on("step-inject-local", moved("Caution", x=6_000_000)), "reaches off the slide"),
    Case("text of a caution removed", on("step-inject-local", emptied("Caution")), "is not there"),
    Case("box of a caution removed", on("step-inject-local", removed("Caution")), "is not there"),
    Case("signal word removed", on("step-inject-local", removed("Signal word")), "words are not those that were composed"),
    Case("order of shapes swapped", on("step-inject-local", swapped("Caution", "Title")), "words are not those that were composed"),
    Case("slide of a caution lost", lose_slide, "slides; "),
    Case("caution behind its step", swap_slides, "is titled"),
    Case("title removed", on("step", removed("Title")), "not one"),
    Case("title empty", on("step", emptied("Title")), "an empty title"),
    Case("title shared", on("choice", lambda root: next(shape(root, "Title").iter(f"{A}t")).__setattr__("text", deck().slides[1].title)), "slides are titled"),
    Case("number of a step lost", on("step", removed("Number")), "words are not those that were composed"),
    Case("cue lost", on("step-open-canal", removed("Go on when")), "is not there"),
    Case("alt text lost", on("step-figure", described("Figure", "")), "described as"),
    Case("file name as alt text", on("step-figure", described("Figure", "canal.svg")), "name of a file"),
    Case("counted file name as alt text", on("step-figure", described("Figure", "image1")), "name of a file"),
    Case("description of pointers lost", on("step-figure", described("Pointers", "")), "has no description"),
    Case("pointer lost", on("step-figure", removed("Pointer 1")), "numbers on its figure"),
    Case("numbers drawn to another measure", on("step-figure", lambda root: shape(root, "Pointers").find(f".//{A}chExt").set("cx", "1000000")), "drawn to another measure"),
    Case("figure lost", on("step-figure", removed("Figure")), "shows 0 pictures"),
    Case("type under 24 pt", on("step-inject-local", sized("Caution", 2000)), "20 pt"),
    Case("type under 24 pt in the layout", in_part("ppt/slideLayouts/slideLayout8.xml", lambda root: [one.set("sz", "1800") for one in root.iter(f"{A}defRPr")] and None), "18 pt"),
    Case("text longer than its box", on("step-inject-local", lengthened("Caution")), "too long for its box"),
    Case("box flattened", on("step-inject-local", flattened("Caution")), "too long for its box"),
    Case("two boxes on each other", on("step-inject-local", moved("Title", y=-1_000_000)), "lie on each other"),
    Case("white sheet over a caution", on("step-inject-local", covered("Caution")), "covers"),
    Case("white on white", on("step-inject-local", coloured("Caution", "bg1")), "contrast"),
    Case("pale on white", on("step-inject-local", coloured("Caution", "accent6")), "contrast"),
    Case("yellow theme", in_part("ppt/theme/theme1.xml", lambda root: root.find(".//a:dk1/a:srgbClr", NS).set("val", "FFE800")), "contrast"),
    Case("slide hidden", on("step-inject-local", lambda root: root.set("show", "0")), "is hidden"),
    Case("shape hidden", on("step-inject-local", hidden("Caution")), "is hidden"),
    Case("notes lost", lose_notes, "has no notes"),
    Case("notes emptied", empty_notes, "has no notes"),
    Case("mark of a draft lost", on("step-inject-local", removed("Standing")), "does not bear the mark"),
    Case("language lost", on("step-inject-local", lambda root: [one.attrib.pop("lang") for one in root.iter(f"{A}rPr")] and None), "does not say that it is en-GB"),
    Case("4:3", in_part("ppt/presentation.xml", FOUR_BY_THREE), "slides measure"),
    Case("picture with EXIF", with_exif, "carries a part `eXIf`"),
    Case("picture named after a patient", named_after_a_patient, "tells a name"),
    Case("author of another", authored, "property author"),
    Case("time of day", dated, "it says that it was created"),
    Case("a link to elsewhere", linked, "leads out of the file"),
)  # fmt: skip

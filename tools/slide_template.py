"""Writes builder/publish/slides/template.pptx, which every .pptx starts from: theme, master, layouts, notes master.

Nothing of a stock template is in it. A layout has a placeholder for each role of its kind of slide, so that whoever
edits the slides edits titles, cues and cautions, and a change of a layout changes every slide of that kind. Looks and
places are those of the builder, so run it anew when they change:

    python tools/slide_template.py
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from lxml import etree
from lxml.builder import ElementMaker

from builder.compose.slides.slide import HEIGHT, WIDTH, RoleStyle, SlideFrame
from builder.compose.slides.slide_layout import (
    BELOW_GROUND,
    BESIDE_SIGNAL,
    FOOT,
    LEFT,
    RAIL,
    RIGHT,
    STYLES,
    TITLES_AT,
    TOP,
    USUALLY_AT,
)
from builder.publish.output import packed
from builder.publish.slides.slide_look import COLOURS, LAYOUTS, LOOKS, PICTURE, THEME, TYPE, Look
from builder.publish.slides.slide_xml import (
    SPACES,
    A,
    P,
    body_holder,
    decoration,
    emu,
    fill,
    finished,
    foot_shapes,
    form,
    frame,
    hundredths,
    line,
    named,
    points,
    run,
    shape,
)

LANGUAGE = "en-GB"
"""Of the words in placeholders; the language of a deck takes its place."""
TARGET = Path(__file__).resolve().parent.parent / "builder" / "publish" / "slides" / "template.pptx"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_MAIN = "application/vnd.openxmlformats-officedocument.presentationml"
_ID = f"{{{SPACES['r']}}}id"
_COLOUR_MAP = {"bg1": "lt1", "tx1": "dk1", "bg2": "lt2", "tx2": "dk2"} | {
    name: name for name in ("accent1", "accent2", "accent3", "accent4", "accent5", "accent6", "hlink", "folHlink")
}
_NOTES = (595.0, 842.0)  # A4
_MANY = {"reminder": 6, "branch": 6}  # how many boxes of a role a slide may hold
_MASTER, _NOTES_MASTER, _THEME = "slideMasters/slideMaster1.xml", "notesMasters/notesMaster1.xml", "theme/theme{}.xml"
_CAUTIONS = ("Danger", "Caution")
# Without these parts a common program offers to repair the file.
_PROPERTIES = {
    "presProps": P.presentationPr(),
    "viewProps": P.viewPr(),
    "tableStyles": A.tblStyleLst({"def": "{5C22544A-7EE6-4342-B048-85BDC9FD1C3A}"}),
}
_TITLE, _SMALL = RoleStyle(44, 51, bold=True), RoleStyle(24, 30)


def template() -> bytes:
    """Return the presentation without slides."""
    return packed(
        (name, etree.tostring(part, xml_declaration=True, encoding="UTF-8", standalone=True)) for name, part in _parts()
    )


def _parts() -> Iterator[tuple[str, Any]]:
    layouts = {f"slideLayouts/slideLayout{at}.xml": name for at, name in enumerate(LAYOUTS, start=1)}
    yield "[Content_Types].xml", _content_types(layouts)
    yield "_rels/.rels", _relations(("officeDocument", "ppt/presentation.xml"))
    yield "ppt/presentation.xml", _presentation()
    top = (("slideMaster", _MASTER), ("notesMaster", _NOTES_MASTER), ("theme", _THEME.format(1)))
    yield from ((f"ppt/{name}.xml", part) for name, part in _PROPERTIES.items())
    yield "ppt/_rels/presentation.xml.rels", _relations(*top, *((name, f"{name}.xml") for name in _PROPERTIES))
    yield from ((f"ppt/{_THEME.format(number)}", _theme()) for number in (1, 2))
    yield f"ppt/{_MASTER}", _master(len(layouts))
    used = (*(("slideLayout", f"../{path}") for path in layouts), ("theme", f"../{_THEME.format(1)}"))
    yield "ppt/slideMasters/_rels/slideMaster1.xml.rels", _relations(*used)
    for path, name in layouts.items():
        yield f"ppt/{path}", _layout(name)
        rels = path.replace("slideLayouts/", "slideLayouts/_rels/")
        yield f"ppt/{rels}.rels", _relations(("slideMaster", f"../{_MASTER}"))
    yield f"ppt/{_NOTES_MASTER}", _notes_master()
    yield "ppt/notesMasters/_rels/notesMaster1.xml.rels", _relations(("theme", f"../{_THEME.format(2)}"))


def _content_types(layouts: Iterable[str]) -> Any:
    parts = {
        "presentation.xml": f"{_MAIN}.presentation.main+xml",
        _MASTER: f"{_MAIN}.slideMaster+xml",
        **{f"{name}.xml": f"{_MAIN}.{name}+xml" for name in _PROPERTIES},
        _NOTES_MASTER: f"{_MAIN}.notesMaster+xml",
        **dict.fromkeys(layouts, f"{_MAIN}.slideLayout+xml"),
        **{_THEME.format(at): "application/vnd.openxmlformats-officedocument.theme+xml" for at in (1, 2)},
    }
    make = ElementMaker(namespace=f"{_PACKAGE}/content-types", nsmap={None: f"{_PACKAGE}/content-types"})
    return make.Types(
        make.Default(Extension="rels", ContentType="application/vnd.openxmlformats-package.relationships+xml"),
        make.Default(Extension="xml", ContentType="application/xml"),
        *(make.Override(PartName=f"/ppt/{name}", ContentType=kind) for name, kind in parts.items()),
    )


def _relations(*targets: tuple[str, str]) -> Any:
    make = ElementMaker(namespace=f"{_PACKAGE}/relationships", nsmap={None: f"{_PACKAGE}/relationships"})
    return make.Relationships(
        *(
            make.Relationship(Id=f"rId{at}", Type=f"{SPACES['r']}/{kind}", Target=target)
            for at, (kind, target) in enumerate(targets, start=1)
        )
    )


def _presentation() -> Any:
    return P.presentation(
        P.sldMasterIdLst(P.sldMasterId({_ID: "rId1"}, id="2147483648")),
        P.notesMasterIdLst(P.notesMasterId({_ID: "rId2"})),
        P.sldIdLst(),
        P.sldSz(cx=emu(WIDTH), cy=emu(HEIGHT)),
        P.notesSz(cx=emu(_NOTES[0]), cy=emu(_NOTES[1])),
        saveSubsetFonts="1",
    )


def _theme() -> Any:
    def face() -> Iterator[Any]:
        return (A(name, typeface=type_) for name, type_ in (("latin", TYPE), ("ea", ""), ("cs", "")))

    return A.theme(
        A.themeElements(
            A.clrScheme(*(A(name, A.srgbClr(val=value)) for name, value in COLOURS.items()), name=THEME),
            A.fontScheme(A.majorFont(*face()), A.minorFont(*face()), name=THEME),
            A.fmtScheme(
                A.fillStyleLst(*(fill("phClr") for _ in range(3))),
                A.lnStyleLst(*(A.ln(fill("phClr"), w="19050") for _ in range(3))),
                A.effectStyleLst(*(A.effectStyle(A.effectLst()) for _ in range(3))),
                A.bgFillStyleLst(*(fill("phClr") for _ in range(3))),
                name=THEME,
            ),
        ),
        name=THEME,
    )


def _level(style: RoleStyle, colour: str = "tx1", name: str = "lvl1pPr") -> Any:
    """Return how lines of one level are set."""
    look = A.defRPr(
        fill(colour), A.latin(typeface="+mn-lt"),
        sz=hundredths(style.pt), b=str(int(style.bold)), kern="1200",
    )  # fmt: skip
    apart = A.lnSpc(points(style.leading)), A.spcBef(points(0))
    return A(name, *apart, A.buNone(), look, marL=emu(style.indent), indent=emu(-style.indent), algn="l", rtl="0")


def _levels(style: RoleStyle) -> Iterator[Any]:
    return (_level(style, name=f"lvl{at}pPr") for at in range(1, 10))


def _page(*shapes: Any, ground: bool = False, **told: str) -> Any:
    """Return the ground and the shapes of a master or a layout."""
    nowhere = A.xfrm(A.off(x="0", y="0"), A.ext(cx="0", cy="0"), A.chOff(x="0", y="0"), A.chExt(cx="0", cy="0"))
    head = P.nvGrpSpPr(P.cNvPr(id="1", name=""), P.cNvGrpSpPr(), P.nvPr())
    white = [P.bg(P.bgPr(fill("bg1"), A.effectLst()))] if ground else []
    return finished(P.cSld(*white, P.spTree(head, P.grpSpPr(nowhere), *shapes), **told), LANGUAGE)


def _master(layouts: int) -> Any:
    at = SlideFrame(RAIL, 130.0, RIGHT - RAIL, FOOT - 130.0)
    body = _placeholder({"type": "body", "idx": "1"}, at, STYLES["lead"], Look(1, "Text"))
    title = _title("Statement")
    ids = (P.sldLayoutId({_ID: f"rId{at}"}, id=str(2147483648 + at)) for at in range(1, layouts + 1))
    return P.sldMaster(
        _page(title, body, *foot_shapes("Standing", ""), ground=True),
        P.clrMap(_COLOUR_MAP),
        P.sldLayoutIdLst(*ids),
        P.txStyles(
            P.titleStyle(_level(_TITLE)),
            P.bodyStyle(*_levels(STYLES["lead"])),
            P.otherStyle(*_levels(STYLES["lead"])),
        ),
    )


def _layout(name: str) -> Any:
    top = {"Title": BELOW_GROUND, "Danger": 190.0, "Caution": 190.0}.get(name, 150.0)
    drawn = [*_decoration(name)]
    rooms = [room for role in LAYOUTS[name] for room in _room(name, role, top)]
    used = {"type": "title"} if name == "Title" else {}
    page = _page(*drawn, *rooms, *foot_shapes("Standing", ""), name=name)
    return P.sldLayout(page, P.clrMapOvr(A.masterClrMapping()), used, preserve="1", userDrawn="1")


def _decoration(name: str) -> Iterator[Any]:
    if name == "Title":
        yield decoration(SlideFrame(0, 0, WIDTH, 290.0), "tx1")
    elif name in _CAUTIONS:
        around = SlideFrame(LEFT, TOP, RIGHT - LEFT, FOOT - TOP)
        yield decoration(around, "", "tx1", 4.5 if name == "Danger" else 1.5)
        yield decoration(SlideFrame(LEFT, TOP + 64.0 - 0.75, RIGHT - LEFT, 1.5), "tx1")
    elif name in ("Statement", "Map", "List", "Checklist", "Sources", "Choice"):
        yield decoration(SlideFrame(LEFT, TOP + 12.0, 72.0, 6.0), "tx1")


def _room(layout: str, role: str, top: float) -> Iterator[Any]:
    """Yield the placeholders of a layout for ``role``."""
    left, _, right = _title_at(layout)
    width = right - left
    if role == "title":
        yield _title(layout)
    elif role == "picture":
        at, look = SlideFrame(LEFT, 140.0, 440.0, 330.0), Look(PICTURE, "Figure", colour="tx2")
        yield _placeholder({"type": "pic", "idx": str(PICTURE)}, at, _SMALL, look)
    elif role == "eyebrow":
        look = Look(10, "Line above the title", colour="bg1" if layout == "Title" else "tx2")
        at = SlideFrame(*(BESIDE_SIGNAL if layout in _CAUTIONS else (left, TOP, width, 30.0)))
        yield _placeholder(body_holder(10), at, _SMALL, look)
    else:
        for turn in range(_MANY.get(role, 1)):
            at = SlideFrame(left, min(top + 60.0 * turn, FOOT - 60.0), width, 60.0)
            yield _placeholder(body_holder(LOOKS[role].idx + turn), at, STYLES[role], LOOKS[role])


def _title_at(layout: str) -> tuple[float, float, float]:
    """Return left, top and right of the title."""
    return TITLES_AT.get("caution" if layout in _CAUTIONS else layout.lower(), USUALLY_AT)


def _title(layout: str) -> Any:
    left, top, right = _title_at(layout)
    look = Look(0, "Title", colour="bg1" if layout == "Title" else "tx1")
    at = SlideFrame(left, top, right - left, 102.0)
    return _placeholder({"type": "title"}, at, _TITLE, look)


def _placeholder(holder: dict[str, str], at: SlideFrame, style: RoleStyle, look: Look) -> Any:
    """Return a placeholder, with the name of its role in it until something is written there."""
    left, top, right, bottom = map(emu, style.pad)
    body = A.bodyPr(A.noAutofit(), wrap="square", lIns=left, tIns=top, rIns=right, bIns=bottom, anchor="t")
    text = body, A.lstStyle(_level(style, look.colour)), A.p(run(look.name))
    painted = [frame(at), form("rect"), fill(look.fill), line(look.line)]
    return shape(named(look.name), painted, *text, holder=holder)


def _notes_master() -> Any:
    width, height = _NOTES[0] - 112.0, _NOTES[1]
    style = RoleStyle(12, 16)
    above = SlideFrame(56.0, 42.0, width, width * HEIGHT / WIDTH)
    shown = P.sp(
        P.nvSpPr(
            named("Slide"),
            P.cNvSpPr(A.spLocks(noGrp="1", noRot="1", noChangeAspect="1")),
            P.nvPr(P.ph(type="sldImg", idx="2")),
        ),
        P.spPr(frame(above), form("rect"), fill(""), line("tx1", 0.75)),
    )
    at = SlideFrame(56.0, 330.0, width, height - 386.0)
    body = _placeholder(body_holder(1), at, style, Look(1, "Notes"))
    master = P.notesMaster(_page(shown, body, ground=True), P.clrMap(_COLOUR_MAP), P.notesStyle(*_levels(style)))
    for face in master.iter(f"{{{SPACES['a']}}}latin"):
        face.set("typeface", TYPE)  # notes pages do not take their type from the theme in every program
    return master


if __name__ == "__main__":
    TARGET.write_bytes(template())

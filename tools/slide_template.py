"""Writes builder/publish/slides/template.pptx, which every .pptx starts from: theme, master, layouts, notes master.

Nothing of a stock template is in it. A layout has a placeholder for each role of its kind of slide, so that whoever
edits the slides edits titles, cues and cautions, and a change of a layout changes every slide of that kind. Looks and
places are those of the builder, so run it anew when they change:

    python tools/slide_template.py
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from builder.compose.slides.slide import HEIGHT, WIDTH, PictureFrame, RoleStyle
from builder.compose.slides.slide_layout import FOOT, LEFT, RAIL, RIGHT, STYLES, TOP
from builder.publish.output import packed
from builder.publish.slides.slide_look import COLOURS, LAYOUTS, LOOKS, PICTURE, THEME, TYPE, Look
from builder.publish.slides.slide_xml import EMU

LANGUAGE = "en-GB"
"""Of the words in placeholders; the language of a deck takes its place."""
TARGET = Path(__file__).resolve().parent.parent / "builder" / "publish" / "slides" / "template.pptx"
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_MAIN = "application/vnd.openxmlformats-officedocument.presentationml"
_MAP = (
    '<p:clrMap bg1="lt1" tx1="dk1" bg2="lt2" tx2="dk2" accent1="accent1" accent2="accent2" accent3="accent3" '
    'accent4="accent4" accent5="accent5" accent6="accent6" hlink="hlink" folHlink="folHlink"/>'
)
_TREE = (
    '<p:nvGrpSpPr><p:cNvPr id="1" name=""/><p:cNvGrpSpPr/><p:nvPr/></p:nvGrpSpPr>'
    '<p:grpSpPr><a:xfrm><a:off x="0" y="0"/>'
    '<a:ext cx="0" cy="0"/><a:chOff x="0" y="0"/><a:chExt cx="0" cy="0"/></a:xfrm></p:grpSpPr>'
)
_NOTES = (595.0, 842.0)  # A4
_MANY = {"reminder": 6, "branch": 6}  # how many boxes of a role a slide may hold
_MASTER, _THEME = "slideMasters/slideMaster1.xml", "theme/theme{}.xml"
_CAUTIONS = ("Danger", "Caution")
# Without these parts a common program offers to repair the file.
_PROPERTIES = (
    ("presProps", "p:presentationPr", ""),
    ("viewProps", "p:viewPr", ""),
    ("tableStyles", "a:tblStyleLst", ' def="{5C22544A-7EE6-4342-B048-85BDC9FD1C3A}"'),
)


SPACES = (
    'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships" '
    'xmlns:p="http://schemas.openxmlformats.org/presentationml/2006/main"'
)
_NO_LINE = "<a:ln><a:noFill/></a:ln>"


def emu(pt: float) -> int:
    """Return points in the units of the format."""
    return round(pt * EMU)


def spot_xml(x: float, y: float, name: str = "off") -> str:
    """Return a place in points."""
    return f'<a:{name} x="{emu(x)}" y="{emu(y)}"/>'


def size_xml(width: float, height: float, name: str = "ext") -> str:
    """Return a size in points."""
    return f'<a:{name} cx="{emu(width)}" cy="{emu(height)}"/>'


def frame_xml(at: PictureFrame) -> str:
    """Return where a shape stands."""
    return f"<a:xfrm>{spot_xml(at.left, at.top)}{size_xml(at.width, at.height)}</a:xfrm>"


def form_xml(name: str, adjusted: str = "") -> str:
    """Return a form that every program knows by its ``name``."""
    return f'<a:prstGeom prst="{name}"><a:avLst>{adjusted}</a:avLst></a:prstGeom>'


RECT = form_xml("rect")


def fill_xml(colour: str) -> str:
    """Return a fill in a colour of the theme ("" = none)."""
    return f'<a:solidFill><a:schemeClr val="{colour}"/></a:solidFill>' if colour else "<a:noFill/>"


def line_xml(colour: str, pt: float = 1.5) -> str:
    """Return an outline in a colour of the theme ("" = none)."""
    return f'<a:ln w="{emu(pt)}">{fill_xml(colour)}<a:miter lim="800000"/></a:ln>' if colour else _NO_LINE


def body_xml(pad: tuple[float, float, float, float] = (0, 0, 0, 0), anchor: str = "t", wrap: str = "square") -> str:
    """Return how text stands in its shape: ``pad`` is left, top, right, bottom; its size never changes by itself."""
    left, top, right, bottom = map(emu, pad)
    return (
        f'<a:bodyPr wrap="{wrap}" lIns="{left}" tIns="{top}" rIns="{right}" bIns="{bottom}" anchor="{anchor}">'
        "<a:noAutofit/></a:bodyPr>"
    )


def shape_xml(named: str, look: str, text: str = "", *, holder: str = "", drawn: bool = False) -> str:
    """Return a shape: its ``look`` is place, form and colours, ``holder`` the placeholder that it is ("" = none).

    ``drawn`` says that it only decorates.
    """
    locks = '<p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>' if holder else "<p:cNvSpPr/>"
    use = f"<p:nvPr>{holder}</p:nvPr>" if holder else '<p:nvPr userDrawn="1"/>' if drawn else "<p:nvPr/>"
    words = f"<p:txBody>{text}</p:txBody>" if text else ""
    return f"<p:sp><p:nvSpPr>{named}{locks}{use}</p:nvSpPr><p:spPr>{look}</p:spPr>{words}</p:sp>"


def decoration_xml(named: str, at: PictureFrame, fill: str, line: str = "", pt: float = 1.5) -> str:
    """Return a rectangle that only decorates."""
    return shape_xml(named, f"{frame_xml(at)}{RECT}{fill_xml(fill)}{line_xml(line, pt)}", drawn=True)


def template() -> bytes:
    """Return the presentation without slides."""
    # Notes pages do not take their type from the theme in every program.
    written = (
        (name, text.replace("+mn-lt", TYPE) if "notesMaster1.xml" in name else text) for name, text in _parts(LANGUAGE)
    )
    return packed((name, f"{_HEAD}{text}".encode()) for name, text in written)


def _parts(language: str) -> Iterator[tuple[str, str]]:
    layouts = {f"slideLayouts/slideLayout{at}.xml": name for at, name in enumerate(LAYOUTS, start=1)}
    notes = "notesMasters/notesMaster1.xml"
    yield "[Content_Types].xml", _content_types(layouts)
    yield "_rels/.rels", _relations(("officeDocument", "ppt/presentation.xml"))
    yield "ppt/presentation.xml", _presentation()
    top = (("slideMaster", _MASTER), ("notesMaster", notes), ("theme", _THEME.format(1)))
    yield from ((f"ppt/{name}.xml", f"<{tag} {SPACES}{more}/>") for name, tag, more in _PROPERTIES)
    yield "ppt/_rels/presentation.xml.rels", _relations(*top, *((name, f"{name}.xml") for name, _, _ in _PROPERTIES))
    for number in (1, 2):
        yield f"ppt/{_THEME.format(number)}", _theme()
    yield f"ppt/{_MASTER}", _master(language, len(layouts))
    used = (*(("slideLayout", f"../{path}") for path in layouts), ("theme", f"../{_THEME.format(1)}"))
    yield "ppt/slideMasters/_rels/slideMaster1.xml.rels", _relations(*used)
    for path, name in layouts.items():
        yield f"ppt/{path}", _layout(name, language)
        rels = path.replace("slideLayouts/", "slideLayouts/_rels/")
        yield f"ppt/{rels}.rels", _relations(("slideMaster", f"../{_MASTER}"))
    yield f"ppt/{notes}", _notes_master(language)
    yield "ppt/notesMasters/_rels/notesMaster1.xml.rels", _relations(("theme", f"../{_THEME.format(2)}"))


def _content_types(layouts: Iterable[str]) -> str:
    parts = (
        ("presentation.xml", f"{_MAIN}.presentation.main+xml"),
        (_MASTER, f"{_MAIN}.slideMaster+xml"),
        *((f"{name}.xml", f"{_MAIN}.{name}+xml") for name, _, _ in _PROPERTIES),
        ("notesMasters/notesMaster1.xml", f"{_MAIN}.notesMaster+xml"),
        *((path, f"{_MAIN}.slideLayout+xml") for path in layouts),
        *((_THEME.format(at), "application/vnd.openxmlformats-officedocument.theme+xml") for at in (1, 2)),
    )
    rows = "".join(f'<Override PartName="/ppt/{name}" ContentType="{kind}"/>' for name, kind in parts)
    return (
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Default Extension="xml" ContentType="application/xml"/>{rows}</Types>'
    )


def _relations(*targets: tuple[str, str]) -> str:
    rows = "".join(
        f'<Relationship Id="rId{at}" Type="{_OFFICE}/{kind}" Target="{target}"/>'
        for at, (kind, target) in enumerate(targets, start=1)
    )
    return f'<Relationships xmlns="{_PACKAGE}/relationships">{rows}</Relationships>'


def _presentation() -> str:
    return (
        f'<p:presentation {SPACES} saveSubsetFonts="1">'
        '<p:sldMasterIdLst><p:sldMasterId id="2147483648" r:id="rId1"/></p:sldMasterIdLst>'
        '<p:notesMasterIdLst><p:notesMasterId r:id="rId2"/></p:notesMasterIdLst><p:sldIdLst/>'
        f'<p:sldSz cx="{emu(WIDTH)}" cy="{emu(HEIGHT)}"/><p:notesSz cx="{emu(_NOTES[0])}" cy="{emu(_NOTES[1])}"/>'
        "</p:presentation>"
    )


def _theme() -> str:
    colours = "".join(f'<a:{name}><a:srgbClr val="{value}"/></a:{name}>' for name, value in COLOURS.items())
    face = f'<a:latin typeface="{TYPE}"/><a:ea typeface=""/><a:cs typeface=""/>'
    fill = fill_xml("phClr")
    line = f'<a:ln w="19050">{fill}</a:ln>'
    effect = "<a:effectStyle><a:effectLst/></a:effectStyle>"
    return (
        f'<a:theme xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" name="{THEME}"><a:themeElements>'
        f'<a:clrScheme name="{THEME}">{colours}</a:clrScheme>'
        f'<a:fontScheme name="{THEME}"><a:majorFont>{face}</a:majorFont>'
        f"<a:minorFont>{face}</a:minorFont></a:fontScheme>"
        f'<a:fmtScheme name="{THEME}"><a:fillStyleLst>{fill * 3}</a:fillStyleLst>'
        f"<a:lnStyleLst>{line * 3}</a:lnStyleLst>"
        f"<a:effectStyleLst>{effect * 3}</a:effectStyleLst>"
        f"<a:bgFillStyleLst>{fill * 3}</a:bgFillStyleLst></a:fmtScheme>"
        "</a:themeElements></a:theme>"
    )


def _level(style: RoleStyle, colour: str = "tx1", *, name: str = "lvl1") -> str:
    """Return how lines of one level are set."""
    return (
        f'<a:{name}pPr marL="{emu(style.indent)}" indent="{-emu(style.indent)}" algn="l" rtl="0">'
        f'<a:lnSpc><a:spcPts val="{round(style.leading * 100)}"/></a:lnSpc>'
        '<a:spcBef><a:spcPts val="0"/></a:spcBef><a:buNone/>'
        f'<a:defRPr sz="{round(style.pt * 100)}" b="{int(style.bold)}" kern="1200">{fill_xml(colour)}'
        '<a:latin typeface="+mn-lt"/></a:defRPr>'
        f"</a:{name}pPr>"
    )


def _levels(style: RoleStyle) -> str:
    return "".join(_level(style, name=f"lvl{at}") for at in range(1, 10))


def _master(language: str, layouts: int) -> str:
    ids = "".join(f'<p:sldLayoutId id="{2147483648 + at}" r:id="rId{at}"/>' for at in range(1, layouts + 1))
    levels, at = _levels(STYLES["lead"]), PictureFrame(RAIL, 130.0, RIGHT - RAIL, FOOT - 130.0)
    body = _placeholder(2, '<p:ph type="body" idx="1"/>', at, STYLES["lead"], Look(1, "Text"), language)
    return (
        f"<p:sldMaster {SPACES}><p:cSld>{_GROUND}"
        f"<p:spTree>{_TREE}{_title(language, 'Statement')}{body}{_foot(language, 50)}</p:spTree></p:cSld>{_MAP}"
        f"<p:sldLayoutIdLst>{ids}</p:sldLayoutIdLst>"
        f"<p:txStyles><p:titleStyle>{_level(_TITLE)}</p:titleStyle><p:bodyStyle>{levels}</p:bodyStyle>"
        f"<p:otherStyle>{levels}</p:otherStyle></p:txStyles></p:sldMaster>"
    )


_GROUND = f"<p:bg><p:bgPr>{fill_xml('bg1')}<a:effectLst/></p:bgPr></p:bg>"
_TITLE, _SMALL = RoleStyle(44, 51, bold=True), RoleStyle(24, 30)


def _layout(name: str, language: str) -> str:
    shapes = [*_decoration(name)]
    top = {"Title": 316.0, "Danger": 190.0, "Caution": 190.0}.get(name, 150.0)
    for at, role in enumerate(LAYOUTS[name], start=1):
        shapes.extend(_room(name, role, 10 * at, top, language))
    used = ' type="title"' if name == "Title" else ""
    return (
        f'<p:sldLayout {SPACES}{used} preserve="1" userDrawn="1"><p:cSld name="{name}"><p:spTree>{_TREE}'
        f"{''.join(shapes)}{_foot(language, 900)}</p:spTree></p:cSld><p:clrMapOvr><a:masterClrMapping/></p:clrMapOvr>"
        "</p:sldLayout>"
    )


def _decoration(name: str) -> Iterator[str]:
    if name == "Title":
        yield decoration_xml(_named(5, "Decoration 5"), PictureFrame(0, 0, WIDTH, 290.0), "tx1")
    elif name in _CAUTIONS:
        around = PictureFrame(LEFT, TOP, RIGHT - LEFT, FOOT - TOP)
        yield decoration_xml(_named(5, "Decoration 5"), around, "", "tx1", 4.5 if name == "Danger" else 1.5)
        below = PictureFrame(LEFT, TOP + 64.0 - 0.75, RIGHT - LEFT, 1.5)
        yield decoration_xml(_named(6, "Decoration 6"), below, "tx1")
    elif name in ("Statement", "Map", "List", "Checklist", "Sources", "Choice"):
        yield decoration_xml(_named(5, "Decoration 5"), PictureFrame(LEFT, TOP + 12.0, 72.0, 6.0), "tx1")


def _named(id: int, name: str) -> str:
    return f'<p:cNvPr id="{id}" name="{name}"/>'


def _room(layout: str, role: str, id: int, top: float, language: str) -> Iterator[str]:
    """Yield the placeholders of a layout for ``role``."""
    is_caution = layout in _CAUTIONS
    left = LEFT + 30.0 if is_caution else LEFT if layout == "Title" else RAIL
    width = RIGHT - 30.0 * is_caution - left
    if role == "title":
        yield _title(language, layout)
    elif role == "picture":
        look = f"{frame_xml(PictureFrame(LEFT, 140.0, 440.0, 330.0))}{RECT}"
        text = _text((0, 0, 0, 0), _level(_SMALL, "tx2"), "Figure", language)
        yield shape_xml(_named(id, "Figure"), look, text, holder=f'<p:ph type="pic" idx="{PICTURE}"/>')
    elif role == "eyebrow":
        beside = PictureFrame(LEFT + 262.0, TOP + 17.0, RIGHT - LEFT - 290.0, 30.0)
        line = Look(10, "Line above the title", colour="bg1" if layout == "Title" else "tx2")
        at = beside if is_caution else PictureFrame(left, TOP, width, 30.0)
        yield _placeholder(id, _ph(10), at, _SMALL, line, language)
    else:
        for turn in range(_MANY.get(role, 1)):
            at = PictureFrame(left, min(top + 60.0 * turn, FOOT - 60.0), width, 60.0)
            yield _placeholder(id + turn, _ph(LOOKS[role].idx + turn), at, STYLES[role], LOOKS[role], language)


def _run(text: str, language: str) -> str:
    return f"<a:r><a:rPr lang={quoteattr(language)}/><a:t>{escape(text)}</a:t></a:r>"


def _ph(idx: int) -> str:
    return f'<p:ph type="body" sz="quarter" idx="{idx}"/>'


def _title(language: str, layout: str) -> str:
    left = {"Title": LEFT, "Danger": LEFT + 30.0, "Caution": LEFT + 30.0}.get(layout, RAIL)
    top = {"Title": TOP + 54.0, "Danger": TOP + 84.0, "Caution": TOP + 84.0}.get(layout, TOP + 34.0)
    look = Look(0, "Title", colour="bg1" if layout == "Title" else "tx1")
    at = PictureFrame(left, top, RIGHT - left - 30.0 * (layout in _CAUTIONS), 102.0)
    return _placeholder(4, '<p:ph type="title"/>', at, _TITLE, look, language)


def _placeholder(  # noqa: PLR0913, PLR0917  # a placeholder is all of these
    id: int, ph: str, at: PictureFrame, style: RoleStyle, look: Look, language: str
) -> str:
    text = _text(style.pad, _level(style, look.colour), look.name, language)
    painted = f"{frame_xml(at)}{RECT}{fill_xml(look.fill)}{line_xml(look.line)}"
    return shape_xml(_named(id, look.name), painted, text, holder=ph)


def _text(pad: tuple[float, float, float, float], level: str, text: str, language: str) -> str:
    """Return what stands in a placeholder until something is written there."""
    return f"{body_xml(pad)}<a:lstStyle>{level}</a:lstStyle><a:p>{_run(text, language)}</a:p>"


def _foot(language: str, id: int) -> str:
    shapes = (_standing(id, language, ""), _number(id + 1, language, ""))
    return "".join(shape.replace("<p:sp>", f"<p:sp {SPACES}>", 1) for shape in shapes)


def _standing(id: int, language: str, text: str) -> str:
    words = _run(text, language) if text else f"<a:endParaRPr lang={quoteattr(language)}/>"
    level, at = _level(RoleStyle(24, 30, bold=True)), PictureFrame(LEFT, 492.0, 600.0, 32.0)
    return _running(_named(id, "Standing"), at, level, words, '<p:ph type="ftr" sz="quarter" idx="3"/>')


def _number(id: int, language: str, before: str) -> str:
    words = (
        f"{_run(before, language) if before else ''}"
        '<a:fld id="{B6F15528-21DE-4FAA-801E-634DDDAF4B2B}" type="slidenum">'
        f"<a:rPr lang={quoteattr(language)}/><a:t>‹#›</a:t></a:fld>"
    )
    level = _level(_SMALL, "tx2").replace('algn="l"', 'algn="r"')
    named, at = _named(id, "Edition and number of the slide"), PictureFrame(660.0, 492.0, RIGHT - 660.0, 32.0)
    return _running(named, at, level, words, '<p:ph type="sldNum" sz="quarter" idx="4"/>')


def _running(named: str, at: PictureFrame, level: str, words: str, ph: str) -> str:
    text = f"{body_xml()}<a:lstStyle>{level}</a:lstStyle><a:p>{words}</a:p>"
    return shape_xml(named, f"{frame_xml(at)}{RECT}", text, holder=ph)


def _notes_master(language: str) -> str:
    width, height = _NOTES[0] - 112.0, _NOTES[1]
    style = RoleStyle(12, 16)
    at = PictureFrame(56.0, 330.0, width, height - 386.0)
    body = _placeholder(3, _ph(1), at, style, Look(1, "Notes"), language)
    shown = frame_xml(PictureFrame(56.0, 42.0, width, width * HEIGHT / WIDTH))
    return (
        f"<p:notesMaster {SPACES}><p:cSld>{_GROUND}<p:spTree>{_TREE}"
        '<p:sp><p:nvSpPr><p:cNvPr id="2" name="Slide"/><p:cNvSpPr><a:spLocks noGrp="1" noRot="1" noChangeAspect="1"/>'
        '</p:cNvSpPr><p:nvPr><p:ph type="sldImg" idx="2"/></p:nvPr></p:nvSpPr>'
        f'<p:spPr>{shown}{RECT}<a:noFill/><a:ln w="9525">{fill_xml("tx1")}</a:ln></p:spPr></p:sp>'
        f"{body}</p:spTree></p:cSld>{_MAP}<p:notesStyle>{_levels(style)}</p:notesStyle></p:notesMaster>"
    )


if __name__ == "__main__":
    TARGET.write_bytes(template())

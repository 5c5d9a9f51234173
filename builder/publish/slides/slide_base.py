"""The presentation that every .pptx starts from: theme, master, layouts and notes master, made by code.

Nothing of a stock template is in it. A layout has a placeholder for each role of its kind of slide, so that whoever
edits the slides edits titles, cues and cautions, and a change of a layout changes every slide of that kind.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from io import BytesIO
from xml.sax.saxutils import escape, quoteattr

from builder.compose.slides.slide import HEIGHT, WIDTH
from builder.compose.slides.slide_layout import FOOT, LEFT, RAIL, RIGHT, STYLES, TOP, RoleStyle
from builder.publish.slides.slide_look import COLOURS, LAYOUTS, LOOKS, PICTURE, THEME, TYPE, Look
from builder.publish.slides.slide_xml import RECT, SPACES, body_xml, emu, fill_xml, frame_xml, line_xml

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


def base_presentation(language: str) -> BytesIO:
    """Return the presentation without slides, its text in ``language``."""
    target = BytesIO()
    with zipfile.ZipFile(target, "w") as package:
        for name, text in _parts(language):
            # Notes pages do not take their type from the theme in every program.
            written = text.replace("+mn-lt", TYPE) if "notesMaster1.xml" in name else text
            package.writestr(name, f"{_HEAD}{written}")
    target.seek(0)
    return target


def _parts(language: str) -> Iterator[tuple[str, str]]:
    count = len(LAYOUTS)
    yield "[Content_Types].xml", _content_types(count)
    yield "_rels/.rels", _relations((("officeDocument", "ppt/presentation.xml"),))
    yield "ppt/presentation.xml", _presentation()
    yield (
        "ppt/_rels/presentation.xml.rels",
        _relations(
            (
                ("slideMaster", "slideMasters/slideMaster1.xml"),
                ("notesMaster", "notesMasters/notesMaster1.xml"),
                ("theme", "theme/theme1.xml"),
            )
        ),
    )
    for number in (1, 2):
        yield f"ppt/theme/theme{number}.xml", _theme()
    yield "ppt/slideMasters/slideMaster1.xml", _master(language, count)
    yield (
        "ppt/slideMasters/_rels/slideMaster1.xml.rels",
        _relations(
            (
                *(("slideLayout", f"../slideLayouts/slideLayout{at}.xml") for at in range(1, count + 1)),
                ("theme", "../theme/theme1.xml"),
            )
        ),
    )
    for at, name in enumerate(LAYOUTS, start=1):
        yield f"ppt/slideLayouts/slideLayout{at}.xml", _layout(name, language)
        yield (
            f"ppt/slideLayouts/_rels/slideLayout{at}.xml.rels",
            _relations((("slideMaster", "../slideMasters/slideMaster1.xml"),)),
        )
    yield "ppt/notesMasters/notesMaster1.xml", _notes_master(language)
    yield "ppt/notesMasters/_rels/notesMaster1.xml.rels", _relations((("theme", "../theme/theme2.xml"),))


def _content_types(layouts: int) -> str:
    parts = (
        ("/ppt/presentation.xml", f"{_MAIN}.presentation.main+xml"),
        ("/ppt/slideMasters/slideMaster1.xml", f"{_MAIN}.slideMaster+xml"),
        ("/ppt/notesMasters/notesMaster1.xml", f"{_MAIN}.notesMaster+xml"),
        *((f"/ppt/slideLayouts/slideLayout{at}.xml", f"{_MAIN}.slideLayout+xml") for at in range(1, layouts + 1)),
        *((f"/ppt/theme/theme{at}.xml", "application/vnd.openxmlformats-officedocument.theme+xml") for at in (1, 2)),
    )
    rows = "".join(f'<Override PartName="{name}" ContentType="{kind}"/>' for name, kind in parts)
    return (
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Default Extension="xml" ContentType="application/xml"/>{rows}</Types>'
    )


def _relations(targets: tuple[tuple[str, str], ...]) -> str:
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
    fill = '<a:solidFill><a:schemeClr val="phClr"/></a:solidFill>'
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


def _level(  # noqa: PLR0913  # a level is all of these
    pt: float, leading: float, colour: str, *, bold: bool = False, indent: float = 0.0, name: str = "lvl1"
) -> str:
    weight = ' b="1"' if bold else ' b="0"'
    return (
        f'<a:{name}pPr marL="{emu(indent)}" indent="{-emu(indent)}" algn="l" rtl="0">'
        f'<a:lnSpc><a:spcPts val="{round(leading * 100)}"/></a:lnSpc>'
        '<a:spcBef><a:spcPts val="0"/></a:spcBef><a:buNone/>'
        f'<a:defRPr sz="{round(pt * 100)}"{weight} kern="1200">{fill_xml(colour)}'
        '<a:latin typeface="+mn-lt"/></a:defRPr>'
        f"</a:{name}pPr>"
    )


def _master(language: str, layouts: int) -> str:
    ids = "".join(f'<p:sldLayoutId id="{2147483648 + at}" r:id="rId{at}"/>' for at in range(1, layouts + 1))
    levels = "".join(_level(28, 36, "tx1", name=f"lvl{at}") for at in range(1, 10))
    title = _level(44, 51, "tx1", bold=True)
    body = _placeholder(
        2, "Text", '<p:ph type="body" idx="1"/>', (RAIL, 130.0, RIGHT - RAIL, FOOT - 130.0), STYLES["lead"],
        Look(1, "Text"), language,
    )  # fmt: skip
    return (
        f"<p:sldMaster {SPACES}><p:cSld><p:bg><p:bgPr>{fill_xml('bg1')}<a:effectLst/></p:bgPr></p:bg>"
        f"<p:spTree>{_TREE}{_title(language, 'Statement')}{body}{_foot(language, 50)}</p:spTree></p:cSld>{_MAP}"
        f"<p:sldLayoutIdLst>{ids}</p:sldLayoutIdLst>"
        f"<p:txStyles><p:titleStyle>{title}</p:titleStyle><p:bodyStyle>{levels}</p:bodyStyle>"
        f"<p:otherStyle>{levels}</p:otherStyle></p:txStyles></p:sldMaster>"
    )


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
        yield _rectangle(5, (0, 0, WIDTH, 290.0), "tx1")
    elif name in ("Danger", "Caution"):
        thick = 4.5 if name == "Danger" else 1.5
        yield _rectangle(5, (LEFT, TOP, RIGHT - LEFT, FOOT - TOP), "", "tx1", thick)
        yield _rectangle(6, (LEFT, TOP + 64.0 - 0.75, RIGHT - LEFT, 1.5), "tx1")
    elif name in ("Statement", "List", "Checklist", "Sources", "Choice"):
        yield _rectangle(5, (LEFT, TOP + 12.0, 72.0, 6.0), "tx1")


def _rectangle(id: int, at: tuple[float, float, float, float], fill: str, line: str = "", pt: float = 1.5) -> str:
    return (
        f'<p:sp><p:nvSpPr><p:cNvPr id="{id}" name="Decoration {id}"/><p:cNvSpPr/><p:nvPr userDrawn="1"/></p:nvSpPr>'
        f"<p:spPr>{frame_xml(*at)}{RECT}{fill_xml(fill)}{line_xml(line, pt)}"
        "</p:spPr></p:sp>"
    )


def _room(layout: str, role: str, id: int, top: float, language: str) -> Iterator[str]:
    """Yield the placeholders of a layout for ``role``."""
    is_caution = layout in ("Danger", "Caution")
    left = LEFT + 30.0 if is_caution else LEFT if layout == "Title" else RAIL
    width = RIGHT - 30.0 * is_caution - left
    if role == "title":
        yield _title(language, layout)
    elif role == "picture":
        yield _picture(id, language)
    elif role == "eyebrow":
        at = (LEFT + 262.0, TOP + 17.0, RIGHT - LEFT - 290.0, 30.0) if is_caution else (left, TOP, width, 30.0)
        look = Look(10, "Line above the title", colour="bg1" if layout == "Title" else "tx2")
        yield _placeholder(id, look.name, _ph(10), at, RoleStyle(24, 30), look, language)
    else:
        for turn in range(_MANY.get(role, 1)):
            at = (left, min(top + 60.0 * turn, FOOT - 60.0), width, 60.0)
            look = LOOKS[role]
            yield _placeholder(id + turn, look.name, _ph(look.idx + turn), at, STYLES[role], look, language)


def _run(text: str, language: str) -> str:
    return f"<a:r><a:rPr lang={quoteattr(language)}/><a:t>{escape(text)}</a:t></a:r>"


def _ph(idx: int) -> str:
    return f'<p:ph type="body" sz="quarter" idx="{idx}"/>'


def _title(language: str, layout: str) -> str:
    left = {"Title": LEFT, "Danger": LEFT + 30.0, "Caution": LEFT + 30.0}.get(layout, RAIL)
    top = {"Title": TOP + 54.0, "Danger": TOP + 84.0, "Caution": TOP + 84.0}.get(layout, TOP + 34.0)
    look = Look(0, "Title", colour="bg1" if layout == "Title" else "tx1")
    at = (left, top, RIGHT - left - 30.0 * (layout in ("Danger", "Caution")), 102.0)
    return _placeholder(4, "Title", '<p:ph type="title"/>', at, RoleStyle(44, 51, bold=True), look, language)


def _placeholder(  # noqa: PLR0913, PLR0917  # a placeholder is all of these
    id: int, name: str, ph: str, at: tuple[float, float, float, float], style: RoleStyle, look: Look, language: str
) -> str:
    level = _level(style.pt, style.leading, look.colour, bold=style.bold, indent=style.indent)
    return (
        f'<p:sp><p:nvSpPr><p:cNvPr id="{id}" name="{name}"/><p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        f"<p:nvPr>{ph}</p:nvPr></p:nvSpPr><p:spPr>{frame_xml(*at)}"
        f"{RECT}{fill_xml(look.fill)}{line_xml(look.line)}</p:spPr>"
        f"<p:txBody>{body_xml(style.pad)}<a:lstStyle>{level}</a:lstStyle><a:p>"
        f"{_run(name, language)}</a:p></p:txBody></p:sp>"
    )


def _picture(id: int, language: str) -> str:
    return (
        f'<p:sp><p:nvSpPr><p:cNvPr id="{id}" name="Figure"/><p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        f'<p:nvPr><p:ph type="pic" idx="{PICTURE}"/></p:nvPr></p:nvSpPr><p:spPr>{frame_xml(LEFT, 140.0, 440.0, 330.0)}'
        f"{RECT}</p:spPr><p:txBody>{body_xml((0, 0, 0, 0))}<a:lstStyle>"
        f"{_level(24, 30, 'tx2')}</a:lstStyle><a:p>{_run('Figure', language)}</a:p></p:txBody></p:sp>"
    )


def foot_shapes(language: str, mark: str, running: str, ids: tuple[int, int]) -> Iterator[str]:
    """Yield what runs along at the foot of a slide: the mark of what is not approved, then edition and number."""
    if mark:
        yield _footer(ids[0], language, mark)
    yield _number(ids[1], language, f"{running} · " if running else "")


def _foot(language: str, id: int) -> str:
    return _footer(id, language, "") + _number(id + 1, language, "")


def _footer(id: int, language: str, text: str) -> str:
    run = _run(text, language) if text else f"<a:endParaRPr lang={quoteattr(language)}/>"
    level = _level(24, 30, "tx1", bold=True)
    return (
        f'<p:sp {SPACES}><p:nvSpPr><p:cNvPr id="{id}" name="Standing"/><p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        '<p:nvPr><p:ph type="ftr" sz="quarter" idx="3"/></p:nvPr></p:nvSpPr>'
        f"<p:spPr>{frame_xml(LEFT, 492.0, 600.0, 32.0)}{RECT}</p:spPr>"
        f"<p:txBody>{body_xml((0, 0, 0, 0))}<a:lstStyle>{level}</a:lstStyle><a:p>{run}</a:p></p:txBody></p:sp>"
    )


def _number(id: int, language: str, before: str) -> str:
    run = _run(before, language) if before else ""
    level = _level(24, 30, "tx2").replace('algn="l"', 'algn="r"')
    return (
        f'<p:sp {SPACES}><p:nvSpPr><p:cNvPr id="{id}" name="Edition and number of the slide"/><p:cNvSpPr>'
        '<a:spLocks noGrp="1"/></p:cNvSpPr><p:nvPr><p:ph type="sldNum" sz="quarter" idx="4"/></p:nvPr></p:nvSpPr>'
        f"<p:spPr>{frame_xml(660.0, 492.0, RIGHT - 660.0, 32.0)}{RECT}</p:spPr>"
        f"<p:txBody>{body_xml((0, 0, 0, 0))}<a:lstStyle>{level}</a:lstStyle><a:p>{run}"
        '<a:fld id="{B6F15528-21DE-4FAA-801E-634DDDAF4B2B}" type="slidenum">'
        f"<a:rPr lang={quoteattr(language)}/><a:t>‹#›</a:t></a:fld></a:p></p:txBody></p:sp>"
    )


def _notes_master(language: str) -> str:
    width, height = _NOTES
    notes = Look(1, "Notes")
    body = _placeholder(
        3, "Notes", '<p:ph type="body" sz="quarter" idx="1"/>', (56.0, 330.0, width - 112.0, height - 386.0),
        RoleStyle(12, 16), notes, language,
    )  # fmt: skip
    levels = "".join(_level(12, 16, "tx1", name=f"lvl{at}") for at in range(1, 10))
    return (
        f"<p:notesMaster {SPACES}><p:cSld><p:bg><p:bgPr>{fill_xml('bg1')}<a:effectLst/></p:bgPr></p:bg>"
        f"<p:spTree>{_TREE}"
        '<p:sp><p:nvSpPr><p:cNvPr id="2" name="Slide"/><p:cNvSpPr><a:spLocks noGrp="1" noRot="1" noChangeAspect="1"/>'
        '</p:cNvSpPr><p:nvPr><p:ph type="sldImg" idx="2"/></p:nvPr></p:nvSpPr>'
        f"<p:spPr>{frame_xml(56.0, 42.0, width - 112.0, (width - 112.0) * HEIGHT / WIDTH)}"
        f'{RECT}<a:noFill/><a:ln w="9525"><a:solidFill><a:schemeClr val="tx1"/>'
        f"</a:solidFill></a:ln></p:spPr></p:sp>{body}</p:spTree></p:cSld>{_MAP}<p:notesStyle>{levels}</p:notesStyle>"
        "</p:notesMaster>"
    )

"""Five hundred hostile drawings by class, and what a drawing must not do; ``python tests/attack`` prints the table.

A drawing is *held* where something of it is told at its line, or where nothing is left of what could act, fetch or
lead elsewhere and every shape and word is still there. Elements and properties are those of SVG 1.1 and 2, SMIL and
CSS (https://www.w3.org/TR/SVG11/eltindex.html, https://www.w3.org/TR/SVG2/propidx.html).
"""

from __future__ import annotations

# ruff: noqa: E501  # one case a line reads as a table
import re
from collections.abc import Iterator
from itertools import product

from lxml import etree

from builder.facts.drawings import ELEMENTS, SVG, faults_of
from builder.publish.pictures import safe_drawing
from builder.publish.publish_error import PublishError

SHAPE = '<path d="M0 0L9 9" stroke="#000"/>'
HEAD = f'<svg xmlns="{SVG}" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">'
AROUND = {
    "at the top": "{}",
    "in a group": "<g>{}</g>",
    "in groups": "<g><g id='a'><g>{}</g></g></g>",
    "in what is used": "<defs><g id='b'>{}</g></defs><use href='#b'/>",
}
FOREIGN = [
    "a", "switch", "foreignObject", "image", "script", "animate", "animateMotion", "animateTransform", "set",
    "discard", "mpath", "filter", "feImage", "feFlood", "view", "cursor", "font", "glyph", "missing-glyph", "tref",
    "altGlyph", "hkern", "color-profile", "flowRoot", "flowRegion", "solidColor", "mesh", "hatch", "video", "audio",
    "iframe", "canvas", "object", "embed", "unknown", "handler",
]  # fmt: skip
OUTSIDE = (
    "https://example.org/x.svg#a", "//example.org/x", "http:x", "file:///etc/passwd", "other.svg#a", "../x.svg",
    "data:image/svg+xml,x", "javascript:alert(1)", "JaVaScRiPt:alert(1)", "java&#10;script:alert(1)", "ftp://x/y", "\\\\x\\y",
)  # fmt: skip
PAINTED = ("fill", "stroke", "filter", "mask", "clip-path", "marker-end", "cursor", "style")
STYLES = (
    "@import 'x.css';", "@import url(x.css);", "@font-face { font-family: x; src: url(x.woff) }", "* { fill: url(x.svg#a) }",
    "* { fill: u\\72l(x) }", "* { background: url( 'x' ) }", "* { width: expression(alert(1)) }", "@media print { * { fill: #000 } }",
    "@supports (fill: red) { * { fill: red } }", "@keyframes k { to { fill: red } }", "* { animation: k 1s }",
    "* { transition: fill 9s }", "* { transform: scaleX(-1) }", "* { translate: 9px }", "* { rotate: 9deg }", "* { scale: -1 1 }",
    "* { d: path('M0 0') }", "* { cx: 9px }", "* { r: 0 }", "* { x: 9px }", "* { filter: blur(9px) }", "* { zoom: 2 }",
    "* { offset-path: none }", "* { display: none }", "* { visibility: hidden }", "* { visibility: collapse }",
    "* { opacity: 0 }", "* { opacity: .01 }", "* { opacity: 0% }", "*:hover { fill: red }", "*:target { fill: red }",
    "*:active { fill: red }", "* { content: 'x' }", "* { position: fixed }", "* { inset: 0 }",
)  # fmt: skip
HIDDEN = (
    'display="none"', 'visibility="hidden"', 'visibility="collapse"', 'opacity="0"', 'opacity="0.0"', 'opacity=".04"',
    'opacity="0%"', 'style="display:none"', 'style="display : none"', 'style="visibility:hidden"', 'style="opacity:0"',
    'style="opacity:0.00!important"', 'style="transform:scaleX(-1)"', 'style="translate:5px"', 'style="d:path(\'M0 0\')"',
    'style="filter:blur(5px)"', 'style="animation:k 1s"', 'style="DISPLAY:NONE"',
)  # fmt: skip
EVENTS = [
    "load", "click", "mouseover", "focusin", "activate", "begin", "end", "repeat", "error", "abort", "zoom", "resize",
    "scroll", "unload", "keydown",
]  # fmt: skip
BROKEN = (
    "", " ", "no drawing", "<svg/>", HEAD, f"{HEAD}<g>", f"{HEAD}</g></svg>", f"{HEAD}<g a=1/></svg>", f"{HEAD}&x;</svg>",
    f'<!DOCTYPE svg [<!ENTITY a "b">]>{HEAD}&a;</svg>', f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>{HEAD}</svg>',
    f'<!DOCTYPE svg [<!ENTITY % a SYSTEM "x">%a;]>{HEAD}</svg>', "<html xmlns='http://www.w3.org/1999/xhtml'/>",
    f"{HEAD}\x00</svg>", f"{HEAD}\x01</svg>", f"{HEAD}</svg>{HEAD}</svg>", f"{HEAD}<g b='<'/></svg>",
    f"\ufeff\ufeff{HEAD}</svg>", "%PDF-1.7", "PK\x03\x04", "\x89PNG", f"{HEAD}<path d='M0 0'></svg>", f"{HEAD}<g x:y='1'/></svg>",
)  # fmt: skip


def _doubled(depth: int, times: int) -> str:
    uses = (f'<g id="a{n + 1}">' + f'<use href="#a{n}"/>' * times + "</g>" for n in range(depth))
    return f'<g id="a0">{SHAPE}</g>{"".join(uses)}'


def _chain(length: int) -> str:
    return "".join(f'<g id="a{n}"><use href="#a{n + 1}"/></g>' for n in range(length))


def drawings() -> dict[str, list[str]]:
    """Return the drawings by class."""
    made: dict[str, list[str]] = {
        "element that is not drawn": [
            around.format(f"<{tag}>{SHAPE}<text>5 mg</text></{tag}>") for tag, around in product(FOREIGN, AROUND.values())
        ],
        "link to elsewhere": [
            around.format(f"<{tag} {key}='{to}'/>")
            for tag, key, to, around in product(("use", "textPath"), ("href", "xlink:href"), OUTSIDE, [*AROUND.values()][:2])
        ],
        "paint from elsewhere": [
            around.format(f"<path d='M0 0L9 9' {key}='{'fill:' if key == 'style' else ''}url({to})'/>")
            for key, to, around in product(PAINTED, OUTSIDE[:6], [*AROUND.values()][:2])
        ],
        "style sheet": [around.format(f"<style>{style}</style>{SHAPE}") for style, around in product(STYLES, [*AROUND.values()][:2])],
        "hidden part": [
            around.format(f"<{tag} {told}>{SHAPE}</{tag}>")
            for told, tag, around in product(HIDDEN, ("g",), [*AROUND.values()][:3])
        ],
        "handler of an event": [
            f"<g {key}='alert(1)'>{SHAPE}</g>" for event in EVENTS for key in (f"on{event}", f"ON{event}", f"On{event.title()}")
        ],
        "bomb": [
            *(_doubled(depth, times) for depth, times in ((60, 2), (20, 3), (300, 2), (15, 10), (8, 50), (199, 4))),
            *("<g>" * many + "</g>" * many for many in (201, 400, 1200, 20_000)),
            *(_chain(many) for many in (300, 1000, 5000)),
            "<g id='a'><use href='#a'/></g>",
            "<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g>",
            "<g id='a'><use href='#b'/></g><g id='b'><use href='#c'/></g><g id='c'><use href='#a'/></g>",
            SHAPE * 21_000,
        ],
    }  # fmt: skip
    return {kind: [f"{HEAD}\n{one}</svg>" for one in ones] for kind, ones in made.items()} | {
        "broken file": list(BROKEN)
    }


def _shown(root: etree._Element) -> tuple[int, str]:
    """Return how many shapes there are and what is written, without what nobody was ever to see."""
    for unseen in root.xpath("//*[local-name()='script' or local-name()='handler' or local-name()='metadata']"):
        unseen.getparent().remove(unseen)
    return len(root.xpath("//*[local-name()='path']")), "".join(root.itertext()).strip()


def acts(made: bytes) -> Iterator[str]:
    """Yield what in a cleaned drawing could act, fetch or lead elsewhere."""
    for element in etree.fromstring(made).iter():
        name = etree.QName(element).localname
        if name not in ELEMENTS:
            yield f"<{name}>"
        for key, value in element.attrib.items():
            plain = "".join(value.lower().split())
            outside = "href" in key and not value.startswith("#")
            if (
                outside
                or key.lower().startswith("on")
                or re.search(r"url\((?!['\"]?#)|javascript:|expression|\\", plain)
            ):
                yield f"{key}={value}"
        if name == "style" and re.search(r"url\((?!['\"]?#)|@import|expression|\\", "".join(element.itertext())):
            yield "style"


def fails(drawing: str) -> str:
    """Return how a hostile ``drawing`` is not held, "" where it is."""
    faults = faults_of(drawing)
    try:
        made = safe_drawing("a.svg", drawing.encode("utf-8", "replace"))
    except PublishError:
        return "" if faults else "refused, and not told before"
    if left := next(acts(made), ""):
        return f"{left} is left"
    if not faults and _shown(etree.fromstring(drawing.encode())) != _shown(etree.fromstring(made)):
        return "something is lost and not told"
    return ""

"""Pictures as they may be shown: a drawing keeps its shapes and loses whatever could act or fetch."""

from __future__ import annotations

from xml.etree import ElementTree as ET
from xml.parsers import expat

from builder.publish.publish_error import PublishError

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "{http://www.w3.org/1999/xlink}href"
_XML = "{http://www.w3.org/XML/1998/namespace}"
_PNG = b"\x89PNG\r\n\x1a\n"
# Static shapes, text and paint of SVG 1.1. No script, no animation, no foreign content, no pictures inside pictures.
_ELEMENTS = frozenset({
    "svg", "g", "defs", "symbol", "use", "title", "desc", "path", "rect", "circle", "ellipse", "line", "polyline",
    "polygon", "text", "tspan", "textPath", "marker", "linearGradient", "radialGradient", "stop", "pattern", "clipPath",
    "mask", "style",
})  # fmt: skip
_REMOTE = ("url(", "@import", "expression", "javascript:", "\\")


def safe_picture(name: str, content: bytes) -> bytes:
    """Return the bytes of a picture that may be shown. Raises PublishError where it is none."""
    if name.endswith(".png"):
        if not content.startswith(_PNG):
            raise PublishError(f"{name} is no PNG picture. Save it again as PNG.", is_content=True)
        return content
    return safe_drawing(name, content)


def safe_drawing(name: str, content: bytes) -> bytes:
    """Return an SVG drawing with only its shapes, text and paint. Raises PublishError where it cannot be read."""
    try:
        root = _parsed(content)
    except (expat.ExpatError, ET.ParseError, ValueError, LookupError) as error:
        message = f"{name} cannot be read as an SVG drawing ({error}). Save it again as plain SVG."
        raise PublishError(message, is_content=True) from None
    if root.tag != f"{{{_SVG}}}svg":
        raise PublishError(f"{name} is no SVG drawing. Save it again as plain SVG.", is_content=True)
    _clean(root)
    ET.register_namespace("", _SVG)
    return ET.tostring(root, encoding="unicode").encode("utf-8")


def _parsed(content: bytes) -> ET.Element:
    """Return the tree of an XML text that declares no entities: they can grow without bound or name other files."""
    builder = ET.TreeBuilder()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.buffer_text = True

    def name(text: str) -> str:
        return "{" + text if "}" in text else text

    def refuse(*_: object) -> None:
        raise ValueError("it declares entities")

    parser.StartElementHandler = lambda tag, attributes: builder.start(
        name(tag), {name(key): value for key, value in attributes.items()}
    )
    parser.EndElementHandler = lambda tag: builder.end(name(tag))
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = refuse
    parser.Parse(content, True)
    return builder.close()


def _clean(element: ET.Element) -> None:
    for child in list(element):
        name = _local(child.tag)
        if name not in _ELEMENTS or (name == "style" and _fetches(child.text or "")):
            element.remove(child)
        else:
            _clean(child)
    for key, value in list(element.attrib.items()):
        if not _is_kept(key, value):
            del element.attrib[key]


def _local(tag: str) -> str:
    """Return the name of an SVG element, or "" for one of another language."""
    space, _, local = tag.rpartition("}")
    return local if space == f"{{{_SVG}" else ""


def _is_kept(key: str, value: str) -> bool:
    if key in ("href", _XLINK):
        return value.startswith("#")
    if key.startswith("{"):
        return key.startswith(_XML)
    return not key.lower().startswith("on") and not _fetches(value)


def _fetches(text: str) -> bool:
    """Tell whether a style or attribute could name something outside the drawing; ``url(#id)`` stays inside it."""
    low = "".join(text.lower().split()).replace("url(#", "").replace("url('#", "").replace('url("#', "")
    return any(word in low for word in _REMOTE)

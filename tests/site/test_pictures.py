"""A drawing keeps its shapes and loses whatever could act or fetch."""

from __future__ import annotations

import pytest

from builder.publish.pictures import safe_drawing, safe_picture
from builder.publish.publish_error import PublishError

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
# How an SVG drawing can act or fetch: the chapters on scripting, linking, animation and extensibility of SVG 1.1.
HOSTILE = (
    "<script>alert(1)</script>",
    '<script xlink:href="//evil.example/x.js"/>',
    '<rect onclick="alert(1)" width="1" height="1"/>',
    '<foreignObject><body xmlns="http://www.w3.org/1999/xhtml"><script>alert(1)</script></body></foreignObject>',
    '<image href="//evil.example/x.png"/>',
    '<image xlink:href="file:///etc/passwd"/>',
    '<use xlink:href="//evil.example/x.svg#a"/>',
    '<use href="data:image/svg+xml;base64,PHN2Zz4="/>',
    '<a xlink:href="javascript:alert(1)"><rect width="1" height="1"/></a>',
    '<set attributeName="onload" to="alert(1)"/>',
    '<animate attributeName="href" to="javascript:alert(1)"/>',
    '<style>@import url("//evil.example/x.css");</style>',
    "<style>rect { fill: url(//evil.example/x.svg#a) }</style>",
    "<style>rect { fill: u\\72l(//evil.example) }</style>",
    '<rect style="fill: url(//evil.example/x)" width="1" height="1"/>',
    '<rect fill="url(//evil.example/x)" width="1" height="1"/>',
    '<filter><feImage xlink:href="//evil.example/x"/></filter>',
    '<iframe xmlns="http://www.w3.org/1999/xhtml" src="//evil.example"/>',
    '<handler xmlns="http://www.w3.org/2001/xml-events">alert(1)</handler>',
)
WORDS = (b"evil", b"alert", b"passwd", b"javascript", b"base64", b"script")


@pytest.mark.parametrize("inner", HOSTILE)
def test_what_could_act_or_fetch_is_taken_out(inner: str) -> None:
    drawing = f'<svg {NS} viewBox="0 0 9 9"><path d="M0 0h9"/>{inner}<circle r="2"/></svg>'.encode()
    kept = safe_drawing("x.svg", drawing)
    assert not [word for word in WORDS if word in kept]
    assert b"<path" in kept
    assert b"<circle" in kept


def test_a_plain_drawing_keeps_its_shapes_text_and_paint() -> None:
    inner = (
        '<defs><linearGradient id="g"><stop offset="0" stop-color="#fff"/></linearGradient></defs><title>A</title>'
        '<g transform="scale(2)" style="stroke: #000"><use href="#p"/><path id="p" d="M0 0h1" fill="url(#g)"/></g>'
        '<text x="1" y="2" font-size="3">mm²</text>'
    )
    kept = safe_drawing("x.svg", f'<svg {NS} viewBox="0 0 9 9">{inner}</svg>'.encode()).decode()
    for part in ('fill="url(#g)"', 'href="#p"', "mm²", "<title>A</title>", 'style="stroke: #000"', 'viewBox="0 0 9 9"'):
        assert part in kept


@pytest.mark.parametrize(
    "content",
    [
        b"<!DOCTYPE svg [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><svg xmlns='http://www.w3.org/2000/svg'>&a;</svg>",
        b"<!DOCTYPE svg [<!ENTITY a 'a'><!ENTITY b '&a;&a;'>]><svg xmlns='http://www.w3.org/2000/svg'>&b;</svg>",
        b"<svg xmlns='http://www.w3.org/2000/svg'>",
        b"<html><body/></html>",
        b"",
        b"\xff\xfe\x00",
        b"<svg xmlns='http://www.w3.org/2000/svg'>" + b"<g>" * 200_000,
    ],
)
def test_what_is_no_drawing_is_refused_by_name(content: bytes) -> None:
    with pytest.raises(PublishError, match=r"a/b\.svg") as caught:
        safe_drawing("a/b.svg", content)
    assert caught.value.is_content


def test_a_png_must_be_one() -> None:
    assert safe_picture("a.png", b"\x89PNG\r\n\x1a\nrest").startswith(b"\x89PNG")
    with pytest.raises(PublishError, match=r"a\.png is no PNG picture"):
        safe_picture("a.png", b"<svg/>")

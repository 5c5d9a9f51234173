"""Drawings lose nothing silently, never fetch, never keep a machine busy, and speak in our type."""

from __future__ import annotations

import pytest
from growth import steps

from builder.facts.drawings import SVG, faults_of
from builder.publish.pictures import safe_drawing
from builder.publish.publish_error import PublishError

HEAD = f'<svg xmlns="{SVG}" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">'
SHAPE = '<path d="M0 0L9 9"/>'


def drawing(inside: str) -> str:
    return f"{HEAD}\n{inside}</svg>"


@pytest.mark.parametrize(
    ("inside", "what"),
    [
        (f'<a href="#x">{SHAPE}</a>', "<a>"),
        (f"<switch>{SHAPE}</switch>", "<switch>"),
        ("<foreignObject><p xmlns='http://www.w3.org/1999/xhtml'>5 mg</p></foreignObject>", "<foreignObject>"),
        ("<flowRoot><flowPara>5 mg</flowPara></flowRoot>", "<flowRoot>"),
        ('<image href="data:image/png;base64,AAAA"/>', "<image>"),
        ("<style>path { fill: url(https://example.org/x.svg#a) }</style>", "a style that names"),
        ("<style>@import 'x.css';</style>", "a style that names"),
        ('<path d="M0 0" fill="url(https://example.org/x.svg#a)"/>', "fill="),
        ('<use href="other.svg#nerve"/>', "what 'other.svg#nerve' names"),
        ('<use xlink:href="other.svg#nerve"/>', "what 'other.svg#nerve' names"),
        (f'<g><animate attributeName="x"/>{SHAPE}</g>', "<animate>"),
        ("<filter id='f'><feFlood/></filter>", "<filter>"),
    ],
)
def test_what_would_not_be_shown_is_told_at_its_line(inside: str, what: str) -> None:
    [fault] = faults_of(drawing(inside))
    assert fault.what.startswith(what)
    assert fault.line == 2
    assert not fault.is_whole


@pytest.mark.parametrize(
    "inside",
    [
        SHAPE,
        f'<g id="a">{SHAPE}</g><use href="#a"/><use xlink:href="#a"/>',
        '<sodipodi:namedview xmlns:sodipodi="http://example.org/editor" pagecolor="#fff"/>',
        "<metadata><x xmlns='http://example.org/rdf'/></metadata>",
        '<linearGradient id="g"/><rect fill="url(#g)" width="1" height="1" onclick="x()"/>',
        "<style>path { fill: url(#g); stroke: #000 }</style>",
    ],
)
def test_what_is_shown_or_never_was_is_not_told(inside: str) -> None:
    assert faults_of(drawing(inside)) == ()


DOUBLED = "".join(f'<g id="a{n + 1}"><use href="#a{n}"/><use href="#a{n}"/></g>' for n in range(60))
BOMBS = {
    "nested uses": f'<g id="a0">{SHAPE}</g>{DOUBLED}',
    "a use of itself": '<g id="a"><use href="#a"/></g>',
    "two uses of each other": '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
    "1,200 groups": "<g>" * 1200 + "</g>" * 1200,
    "a chain of 5,000 uses": "".join(f'<g id="a{n}"><use href="#a{n + 1}"/></g>' for n in range(5000)),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_and_nothing_is_drawn(name: str) -> None:
    faults = [fault for fault in faults_of(drawing(BOMBS[name])) if fault.is_whole]
    assert len(faults) == 1
    with pytest.raises(PublishError):
        safe_drawing("a.svg", drawing(BOMBS[name]).encode())


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_told_in_a_few_steps_for_each_letter(name: str) -> None:
    """A machine of today does some ten million steps a second, and a file may have at most a few million letters."""
    text = drawing(BOMBS[name])
    assert steps(lambda: faults_of.__wrapped__(text)) < 8 * len(text) + 2_000


@pytest.mark.parametrize(
    "text",
    ["", "no drawing", "<svg/>", HEAD, drawing("<g>"), '<!DOCTYPE svg [<!ENTITY a "b">]>' + drawing("&a;")],
)
def test_what_is_no_drawing_is_told_once(text: str) -> None:
    assert [fault.is_whole for fault in faults_of(text)] == [True]


def test_text_is_set_in_our_type_whatever_the_drawing_asks_for() -> None:
    asked = (
        "<style>text { font-family: Comic; fill: red } tspan { font: bold 3px Comic }</style>"
        '<text font-family="Comic" style="font-family:Comic;fill:#000">5 '
        '<tspan style="font: 3px Comic">mg</tspan></text>'
    )
    made = safe_drawing("a.svg", drawing(asked).encode()).decode()
    assert "Comic" not in made
    assert made.count('font-family="Prescrub Sans"') == 2
    assert "fill: red" in made
    assert "fill:#000" in made

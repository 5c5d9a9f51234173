"""A pointer to where a drawing has nothing is found; what is not certain is no finding. Hidden parts are told."""

from __future__ import annotations

# ruff: noqa: E501  # one case a line reads as a table
from io import BytesIO

import pytest
from PIL import Image

from builder.facts.drawings import SVG, faults_of
from builder.facts.drawn_ground import ground_of
from builder.load.files import picture_fault

HEAD = f'<svg xmlns="{SVG}" viewBox="0 0 100 50">'


@pytest.mark.parametrize(
    ("inside", "across", "down", "has"),
    [
        ('<rect x="10" y="10" width="20" height="20"/>', 20, 40, True),
        ('<rect x="10" y="10" width="20" height="20"/>', 60, 40, False),
        ('<rect x="10" y="10" width="20" height="20" transform="translate(40)"/>', 60, 40, True),
        ('<g transform="translate(40 0)"><rect x="10" y="10" width="20" height="20"/></g>', 20, 40, False),
        ('<g transform="scale(2)"><circle cx="40" cy="20" r="4"/></g>', 80, 80, True),
        ('<g transform="rotate(90 50 25)"><rect x="25" y="20" width="10" height="10"/></g>', 50, 10, True),
        ('<path d="m10 10q7 -8 14 0" stroke-width="8"/>', 17, 30, True),
        ('<path d="M80 10L90 20"/>', 17, 30, False),
        ('<defs><rect x="0" y="0" width="100" height="50"/></defs><path d="M80 10L90 20"/>', 17, 30, False),
        ('<polygon points="0,0 30,0 30,50"/><line x1="80" y1="2" x2="80" y2="48"/>', 80, 50, True),
    ],
)
def test_where_a_drawing_has_anything(inside: str, across: float, down: float, has: bool) -> None:
    ground = ground_of(f"{HEAD}{inside}</svg>")
    assert ground is not None
    assert ground.has_at(across, down) is has


@pytest.mark.parametrize(
    "drawing",
    [
        "",
        "no drawing",
        f'{HEAD}<path id="a" d="M0 0L9 9"/><use href="#a" x="50"/></svg>',
        f'{HEAD}<text x="50" y="20">5 mg</text></svg>',
        f'{HEAD}<rect width="50%" height="9"/></svg>',
        f'{HEAD}<path d="M0 0L9 9" transform="perspective(2)"/></svg>',
        f'<svg xmlns="{SVG}"><path d="M0 0L9 9"/></svg>',
    ],
)
def test_what_is_not_certain_is_not_said(drawing: str) -> None:
    assert ground_of(drawing) is None


@pytest.mark.parametrize(
    "inside",
    [
        '<g opacity="0"><path d="M0 0"/></g>',
        '<g opacity="0.0"><path d="M0 0"/></g>',
        '<g opacity="0.05"><path d="M0 0"/></g>',
        '<path display="none" d="M0 0"/>',
        '<path style="fill:#000;visibility:hidden" d="M0 0"/>',
        '<path style="d: path(\'M0 0\')" d="M0 0"/>',
        "<style>@media (prefers-color-scheme: dark) { circle { fill: #000 } }</style>",
        "<style>path { d: path('M1 1') }</style>",
        "<style>.a { transform: scaleX(-1) }</style>",
        "<style>.a { display: none }</style>",
        "<style>.a:hover { fill: red }</style>",
        '<path d="M0 0" stroke="#000" stroke-dasharray="0.1 9999"/>',
        '<path d="M0 0" style="stroke:#000;stroke-dasharray:0,400;stroke-width:6"/>',
        '<linearGradient id="g"><stop stop-opacity="0"/><stop style="stop-opacity:.01"/></linearGradient><path fill="url(#g)" d="M0 0"/>',
    ],
)
def test_what_hides_or_moves_a_part_is_told_at_its_line(inside: str) -> None:
    [fault] = faults_of(f"{HEAD}\n{inside}</svg>")
    assert fault.line == 2
    assert not fault.is_whole


@pytest.mark.parametrize(
    "inside",
    [
        '<g opacity="0.4"><path d="M0 0"/></g>',
        '<g opacity="0.1" fill-opacity="0"><path d="M0 0" stroke="#000"/></g>',
        '<path style="display:inline;opacity:1;stroke-width:2;fill-opacity:0" d="M0 0"/>',
        '<linearGradient id="g"><stop offset="0" style="stop-opacity:0"/></linearGradient>',
        '<path d="M0 0" stroke="#000" stroke-width="4" stroke-linecap="round" stroke-dasharray="0 9"/>',
        '<path d="M0 0" stroke="#000" stroke-dasharray="none"/><path stroke-dasharray="4"/><path stroke-dasharray="2 9"/>',
        '<linearGradient id="g"><stop stop-opacity="0"/><stop stop-opacity="1"/></linearGradient><path fill="url(#g)" d="M0 0"/>',
        "<style>.cls-1{fill:#fff;stroke-width:2px;stroke-dasharray:4 2;font-size:12px}</style>",
    ],
)
def test_paint_is_not_told(inside: str) -> None:
    assert faults_of(f"{HEAD}\n{inside}</svg>") == ()


def test_a_shape_outside_the_frame_is_told_at_its_line_and_one_that_reaches_in_is_not() -> None:
    ground = ground_of(
        f'{HEAD}\n<path d="M10 52H40"/>\n<path d="M10 52H40" stroke-width="6"/>\n<path d="M-9 -9L5 5"/></svg>'
    )
    assert ground is not None
    assert ground.outside == ((2, 1),)


def png(colours: tuple[int, int]) -> bytes:
    picture = Image.new("L", (400, 300), colours[0])
    picture.putpixel((200, 100), colours[1])
    target = BytesIO()
    picture.save(target, "PNG")
    return target.getvalue()


def test_a_picture_that_shows_nothing_or_is_cut_off_is_told() -> None:
    assert picture_fault(png((255, 0))) == ""
    assert picture_fault(png((255, 255))) == "shows nothing: all its points have one colour"
    for spoilt in (b"", b"no picture", png((255, 0))[:-30], png((255, 0)).replace(b"IDAT", b"IDAX")):
        assert picture_fault(spoilt) == "cannot be read as a PNG picture"

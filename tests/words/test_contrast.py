"""Contrast is measured as WCAG 2 defines it: ratios worked out from the formula of the W3C, and never rounded up."""

from __future__ import annotations

import random

import pytest
from PIL import Image

from builder.readback.paper.ink import Colour, _apart, _ground, commonest_shade, contrast

# Relative luminance and contrast ratio of WCAG 2.x; each value agrees with the package wcag-contrast-ratio 0.9.
RATIOS = [
    ("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.4781), ("#767676", "#ffffff", 4.5422),
    ("#757575", "#ffffff", 4.6075), ("#949494", "#ffffff", 3.0335), ("#959595", "#ffffff", 2.9953),
    ("#595959", "#ffffff", 7.0047), ("#5a5a5a", "#ffffff", 6.8969), ("#ff0000", "#ffffff", 3.9985),
    ("#0000ff", "#ffffff", 8.5925), ("#008000", "#ffffff", 5.1374), ("#ffff00", "#ffffff", 1.0738),
    ("#ffff00", "#000000", 19.556), ("#ff0000", "#000000", 5.252), ("#ff0000", "#0000ff", 2.1489),
    # ISO 3864-4 and ANSI Z535.1 colours in their usual screen approximations.
    ("#9B2423", "#FFFFFF", 7.8642), ("#D05D29", "#000000", 5.2797), ("#F9A800", "#000000", 10.629),
    ("#005387", "#FFFFFF", 8.117), ("#FF8200", "#FFFFFF", 2.4867), ("#FFD100", "#FFFFFF", 1.4612),
]  # fmt: skip


def rgb(colour: str) -> tuple[int, int, int]:
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


@pytest.mark.parametrize(("one", "other", "expected"), RATIOS)
def test_ratio(one: str, other: str, expected: float) -> None:
    assert contrast(rgb(one), rgb(other)) == pytest.approx(expected, abs=0.001)
    assert contrast(rgb(other), rgb(one)) == pytest.approx(expected, abs=0.001)


def test_a_ratio_just_below_the_limit_is_not_rounded_up_to_it() -> None:
    assert contrast(rgb("#777777"), rgb("#ffffff")) < 4.5 < contrast(rgb("#767676"), rgb("#ffffff"))


def test_the_ground_of_a_small_shield_is_not_the_blur_at_its_edge() -> None:
    """17 by 10 pixels, as one number on a card was rendered: one grey of the edge is commoner than the black itself."""
    told = [((200, 201, 202), 9), ((36, 40, 43), 7), ((20, 24, 27), 7), ((21, 25, 28), 4), ((76, 79, 81), 4)]
    shades = [colour for colour, many in told for _ in range(many)]
    picture = Image.new("RGB", (17, 10), (255, 255, 255))
    picture.putdata([*shades, *[(255, 255, 255)] * (170 - len(shades))])
    assert contrast((255, 255, 255), _ground(picture, (255, 255, 255))) > 10
    picture.putdata([(200, 201, 202)] * 60 + [(255, 255, 255)] * 110)
    assert contrast((255, 255, 255), _ground(picture, (255, 255, 255))) < 2


def plainly_commonest(colours: list[tuple[int, Colour]]) -> Colour:
    """Compare each colour with each other one."""
    return max((sum(many for many, other in colours if _apart(other, one) <= 16), one) for _, one in colours)[1]


@pytest.mark.parametrize("seed", range(40))
def test_the_commonest_shade_is_that_of_comparing_each_colour_with_each(seed: int) -> None:
    chance = random.Random(seed)  # the same colours on every machine
    ramp = [(level, level, level + seed % 3) for level in (chance.randint(0, 250) for _ in range(60))]
    spread = [(chance.randint(0, 255), chance.randint(200, 255), chance.randint(0, 255)) for _ in range(60)]
    colours = [(chance.choice((1, 1, 2, 30)), colour) for colour in dict.fromkeys(ramp + spread)]
    assert commonest_shade(colours) == plainly_commonest(colours)

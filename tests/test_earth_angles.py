"""Directions as they are spoken."""

import pytest

from analyser.earth.angles import whole_direction
from analyser.grading.wording import Number
from analyser.pages.words import direction


@pytest.mark.parametrize(
    ("degrees", "spoken"),
    [
        (0.0, 360),
        (360.0, 360),
        (359.4, 359),
        (359.5, 360),
        (0.4, 360),
        (-0.6, 359),
        (719.7, 360),
        (272.5, 273),
        (273.5, 274),
        (273.49, 274),
        (273.47, 273),
        (1e-13, 360),
        (-1e-13, 360),
    ],
)
def test_north_is_360_and_halves_go_up(degrees, spoken):
    assert whole_direction(degrees) == spoken


def test_a_course_given_to_half_a_degree_is_the_same_everywhere():
    """Variation taken away and put back loses a last digit, and rounding in a file up to a hundredth."""
    for variation in (-10.4679, 3.3, 0.1, 12.7182):
        true = 273.5 + variation
        said = {
            direction(true, variation)[0],
            direction(round(true, 2), round(variation, 2))[0],
            Number(true, "°", "true").said(variation),
        }
        assert said == {"274°M"}

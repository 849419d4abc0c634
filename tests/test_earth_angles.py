"""Directions as they are spoken."""

import numpy as np
import pytest

from analyser.earth.angles import whole_direction, wrap180, wrap360
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


@pytest.mark.parametrize(
    ("angle", "short", "whole"),
    [
        (190.0, -170.0, 190.0),
        (-190.0, 170.0, 170.0),
        (180.0, -180.0, 180.0),
        (360.0, 0.0, 0.0),
        (725.0, 5.0, 5.0),
    ],
)
def test_an_angle_is_folded_the_short_way_and_a_direction_into_the_circle(angle, short, whole):
    assert (wrap180(angle), wrap360(angle)) == (short, whole)
    assert (*wrap180(np.array([angle])), *wrap360(np.array([angle]))) == (short, whole)


def test_a_tiny_angle_left_of_north_is_north():
    assert wrap360(-1e-15) == 0.0 and wrap360(np.array([-1e-15]))[0] == 0.0

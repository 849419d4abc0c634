"""Entry sectors against published arithmetic and a worked example."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.holds.entries import sectors, sectors_allowed


# ATPL air-law question bank (quoted): inbound 010°, right hand; 120–190 offset, 190–300 parallel.
@pytest.mark.parametrize(
    ("heading", "entry"),
    [
        (130, "offset"),
        (155, "offset"),
        (184, "offset"),
        (196, "parallel"),
        (250, "parallel"),
        (294, "parallel"),
        (306, "direct"),
        (360, "direct"),
        (10, "direct"),
        (114, "direct"),
    ],
)
def test_bands_for_inbound_010_right_hand(heading, entry):
    assert sectors_allowed(heading, 10, "right") == (entry,)


# Within 5° of a boundary either neighbour is right (ICAO Doc 8168; FAA AIM 5-3-8 j.8(d)).
@pytest.mark.parametrize(
    ("heading", "entries"),
    [
        (115, {"offset", "direct"}),
        (120, {"offset", "direct"}),
        (125, {"offset", "direct"}),
        (185, {"offset", "parallel"}),
        (190, {"offset", "parallel"}),
        (195, {"offset", "parallel"}),
        (295, {"parallel", "direct"}),
        (300, {"parallel", "direct"}),
        (305, {"parallel", "direct"}),
    ],
)
def test_zone_of_flexibility(heading, entries):
    assert set(sectors_allowed(heading, 10, "right")) == entries


def test_the_own_sector_comes_first_and_the_zone_can_be_shut():
    assert sectors_allowed(124, 10, "right")[0] == "offset"
    assert sectors_allowed(116, 10, "right")[0] == "direct"
    assert sectors_allowed(190, 10, "right", tolerance_deg=0.0) == ("offset", "parallel")
    assert sectors_allowed(189, 10, "right", tolerance_deg=0.0) == ("offset",)


def navy_p821(heading, inbound, left):
    """US Navy P-821, figure 3-8, written out as a pilot would work it on the fingers of a compass rose."""
    outbound = (inbound + 180) % 360
    d = (outbound - heading) % 360
    d = d - 360 if d >= 180 else d
    d = -d if left else d
    if 0 <= d <= 70:
        return "offset"
    return "parallel" if -110 <= d < 0 else "direct"


@given(st.integers(0, 359), st.integers(0, 359), st.booleans())
def test_agrees_with_the_navy_arithmetic(heading, inbound, left):
    turns = "left" if left else "right"
    assert navy_p821(heading, inbound, left) in sectors_allowed(heading, inbound, turns)


@given(st.integers(0, 359), st.integers(0, 359), st.integers(0, 359))
def test_turning_the_hold_and_the_heading_together_changes_nothing(heading, inbound, by):
    turned = sectors_allowed(heading + by, inbound + by, "left")
    assert sectors_allowed(heading, inbound, "left") == turned


@given(st.integers(0, 359), st.integers(0, 359))
def test_left_is_the_mirror_of_right(heading, inbound):
    assert set(sectors_allowed(heading, inbound, "right")) == set(
        sectors_allowed(360 - heading, 360 - inbound, "left")
    )


@pytest.mark.parametrize("turns", ["right", "left"])
def test_ranges_cover_the_circle_and_agree_with_the_answer(turns):
    laid = sectors(263, turns)
    widths = {one.entry: (one.to_heading_deg - one.from_heading_deg) % 360 for one in laid}
    assert widths == {"offset": 70, "parallel": 110, "direct": 180}
    for one in laid:
        middle = one.from_heading_deg + widths[one.entry] / 2
        assert sectors_allowed(middle, 263, turns) == (one.entry,)

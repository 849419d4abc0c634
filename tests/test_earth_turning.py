"""Bank, rate and radius against the designers' formulas and handbook values."""

import pytest

from analyser.earth.turning import turn_bank_deg, turn_radius_nm, turn_rate_dps


# Derived from rate = g tan(bank) / V with g = 9.80665.
@pytest.mark.parametrize(
    ("tas_kt", "bank_deg", "radius_nm"),
    [
        (80, 12.39, 0.424),
        (100, 15.36, 0.531),
        (120, 18.24, 0.637),
        (150, 22.39, 0.796),
        (180, 26.31, 0.955),
        (200, 28.78, 1.061),
    ],
)
def test_rate_one(tas_kt, bank_deg, radius_nm):
    assert turn_bank_deg(3.0, tas_kt) == pytest.approx(bank_deg, abs=0.006)
    assert turn_radius_nm(3.0, tas_kt) == pytest.approx(radius_nm, abs=0.0006)


@pytest.mark.parametrize(("tas_kt", "bank_deg"), [(169.8, 25.0), (210.2, 30.0)])
def test_where_rate_one_meets_the_limits(tas_kt, bank_deg):
    assert turn_rate_dps(bank_deg, tas_kt) == pytest.approx(3.0, abs=0.002)


def test_designers_rate_at_25_degrees():
    # ICAO Doc 8168 Vol II, Table I-4-3-App C-1: V 157.23 kt gives R 3.24 °/s at 25° of bank;
    # at 3 °/s r is 0.83 NM.
    assert turn_rate_dps(25.0, 157.23) == pytest.approx(3.24, abs=0.006)
    assert turn_radius_nm(3.0, 157.23) == pytest.approx(0.83, abs=0.006)


def test_left_is_negative():
    assert turn_rate_dps(-20.0, 120.0) == pytest.approx(-turn_rate_dps(20.0, 120.0))
    assert turn_radius_nm(-3.0, 120.0) == turn_radius_nm(3.0, 120.0)

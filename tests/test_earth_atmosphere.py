"""The standard atmosphere and airspeeds against tabulated values and the procedure designers' formula."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.earth.atmosphere import (
    cas_to_tas,
    doc8168_tas_kt,
    isa_pressure_hpa,
    isa_temperature_c,
    tas_to_cas,
)


# ICAO standard atmosphere, tabulated by geopotential altitude (Doc 7488).
@pytest.mark.parametrize(
    ("altitude_ft", "pressure_hpa", "temperature_c"),
    [(0, 1013.25, 15.0), (5000, 843.07, 5.094), (10000, 696.82, -4.812), (20000, 465.63, -24.624)],
)
def test_isa_table(altitude_ft, pressure_hpa, temperature_c):
    assert isa_pressure_hpa(altitude_ft) == pytest.approx(pressure_hpa, abs=0.006)
    assert isa_temperature_c(altitude_ft) == pytest.approx(temperature_c, abs=0.001)


def test_tropopause_and_above():
    # Doc 7488, from memory: 226.32 hPa and −56.5 °C at 11 km; 54.75 hPa at 20 km.
    assert isa_pressure_hpa(11000 / 0.3048) == pytest.approx(226.32, abs=0.01)
    assert isa_pressure_hpa(20000 / 0.3048) == pytest.approx(54.75, abs=0.01)
    assert isa_temperature_c(60000.0) == pytest.approx(-56.5)


# Compressible CAS to TAS in the standard atmosphere (derived by hand from the isentropic relations).
@pytest.mark.parametrize(
    ("cas_kt", "altitude_ft", "tas_kt"),
    [
        (100, 5000, 107.67),
        (110, 6000, 120.21),
        (170, 14000, 209.67),
        (220, 10000, 254.48),
        (230, 14000, 282.43),
    ],
)
def test_cas_to_tas_in_the_standard_atmosphere(cas_kt, altitude_ft, tas_kt):
    assert cas_to_tas(cas_kt, altitude_ft) == pytest.approx(tas_kt, abs=0.006)


def test_base_turn_sheet_speed():
    # ICAO Doc 8168 Vol II, Table I-4-3-App C-1: 140 kt IAS, 6,000 ft, ISA + 15 gives K 1.1231, V 157.23 kt.
    assert doc8168_tas_kt(140, 6000, 15) == pytest.approx(157.23, abs=0.006)
    assert doc8168_tas_kt(140, 6000, 15) / 140 == pytest.approx(1.1231, abs=5e-5)


def test_designers_formula_leaves_out_compressibility_only():
    # At 140 kt compressibility is worth a few tenths of a knot; the two must agree to that.
    assert cas_to_tas(140, 6000, 15) == pytest.approx(157.23, abs=0.5)
    assert cas_to_tas(140, 6000, 15) < doc8168_tas_kt(140, 6000, 15)


def test_sea_level_standard_day_cas_is_tas():
    assert cas_to_tas(180, 0) == pytest.approx(180, abs=1e-9)


def test_arrays_and_floats():
    tas = cas_to_tas(np.array([100.0, 170.0]), np.array([5000.0, 14000.0]))
    assert tas == pytest.approx([107.67, 209.67], abs=0.006)
    assert isinstance(cas_to_tas(100, 5000), float)
    assert np.isnan(cas_to_tas(np.array([np.nan]), np.array([5000.0]))).all()


@given(st.floats(0, 350), st.floats(-1000, 45000), st.floats(-40, 40))
def test_the_inverse_returns_the_speed(cas_kt, altitude_ft, deviation_c):
    tas_kt = cas_to_tas(cas_kt, altitude_ft, deviation_c)
    assert tas_to_cas(tas_kt, altitude_ft, deviation_c) == pytest.approx(cas_kt, abs=1e-5)

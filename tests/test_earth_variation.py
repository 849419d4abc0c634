"""Magnetic variation against NOAA/NCEI's published test values for WMM2025 (WMM2025_TestValues)."""

from datetime import UTC, date, datetime

import pytest

from analyser.earth.variation import decimal_year, magnetic_variation, variation_deg

# year, height km, latitude, longitude, declination (east positive, rounded to 0.01°)
WMM2025_TEST_VALUES = [
    (2025.0, 0, 80, 0, 1.28),
    (2025.0, 0, 0, 120, -0.16),
    (2025.0, 0, -80, 240, 68.78),
    (2025.0, 28, 89, -121, -99.77),
    (2025.0, 65, 43, 93, 0.50),
    (2025.5, 6, -36, -137, 20.28),
    (2025.5, 8, -66, 17, -33.14),
    (2027.5, 0, 80, 0, 2.59),
    (2027.5, 0, 0, 120, -0.24),
    (2027.5, 100, -80, 240, 67.93),
    (2026.0, 74, -57, 3, -22.51),
    (2026.5, 14, 0, 80, -3.10),
    (2027.0, 67, -47, -32, -13.52),
    (2027.5, 73, -72, 95, -102.64),
]


@pytest.mark.parametrize(("year", "height_km", "lat", "lon", "declination"), WMM2025_TEST_VALUES)
def test_published_values(year, height_km, lat, lon, declination):
    found = variation_deg(lat, lon, height_km * 1000 / 0.3048, year)
    assert found == pytest.approx(declination, abs=0.0051)


@pytest.mark.parametrize(
    ("when", "model"),
    [(2026.2, "WMM-2025"), (2024.9, "WMM-2020"), (2017.0, "WMM-2015v2"), (2012.0, "WMM-2010")],
)
def test_the_model_in_force_on_the_day(when, model):
    found = magnetic_variation(48, 11, 4000, when)
    assert found.model == model
    assert found.within_validity


@pytest.mark.parametrize(("when", "model"), [(2031.5, "WMM-2025"), (2004.0, "WMM-2010")])
def test_outside_all_models_the_nearest_is_used_and_said(when, model):
    found = magnetic_variation(48, 11, 4000, when)
    assert found.model == model
    assert not found.within_validity
    assert "outside the model's years" in found.said()


def test_said_names_side_model_and_date():
    assert magnetic_variation(-36, -137, 6000 / 0.3048, 2025.5).said() == "20.3° E (WMM-2025, 2025.5)"
    assert magnetic_variation(-66, 17, 8000 / 0.3048, 2025.5).said().startswith("33.1° W")


def test_longitude_conventions_agree():
    assert variation_deg(-80, 240, 0, 2025.0) == pytest.approx(variation_deg(-80, -120, 0, 2025.0))


def test_decimal_year():
    assert decimal_year(date(2025, 1, 1)) == 2025.0
    assert decimal_year(datetime(2025, 7, 2, 12, tzinfo=UTC)) == pytest.approx(2025.5)
    assert decimal_year(datetime(2024, 7, 2)) == pytest.approx(2024.5)
    assert decimal_year(2026.25) == 2026.25

"""Channels by their plain names, for messages, and which of them are directions."""

from __future__ import annotations

#: Channels that count round the circle.
DIRECTIONS = ("track_true_deg", "heading_true_deg", "heading_magnetic_deg", "wind_from_true_deg")
#: What is said of an altitude that a barometer gives.
PRESSURE_DATUM = (
    "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
)
#: What a pilot calls each channel.
WORDS = {
    "altitude_ft": "altitude",
    "ground_speed_kt": "ground speed",
    "track_true_deg": "track",
    "heading_true_deg": "true heading",
    "heading_magnetic_deg": "magnetic heading",
    "bank_deg": "bank",
    "pitch_deg": "pitch",
    "ias_kt": "indicated airspeed",
    "tas_kt": "true airspeed",
    "wind_from_true_deg": "wind direction",
    "wind_speed_kt": "wind speed",
    "outside_air_temperature_c": "outside air temperature",
    "vertical_speed_fpm": "vertical speed",
}

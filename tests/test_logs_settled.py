"""Units and references that a file leaves open, settled by the flight: each rule just inside and just outside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.logs.clean import _named
from analyser.logs.movement import Movement
from analyser.logs.raw import RawFlight, Undecided
from analyser.logs.settle import settle_references, settle_units
from analyser.logs.table import _in_one_unit
from analyser.logs.time_text import _minutes_clock
from analyser.logs.track import Source
from analyser.logs.units import unit_of
from tests.drawn_flights import drawn, straight
from tests.test_logs_agreement import ROUND, blown, moving

AT_S = np.arange(1200.0)
NOISE = np.random.default_rng(21).normal(0.0, 1.0, 1200)
#: Where the World Magnetic Model of 2025 gives 20.28° east (its published test values, 2025.5, 6 km), and about none.
EAST_20 = (-36.0, -137.0)


def flight(at: tuple[float, float] = (48.0, 11.0), **channels: np.ndarray) -> RawFlight:
    return RawFlight(
        AT_S, at[0] + 1e-5 * AT_S, at[1] + np.zeros(1200), dated=False, channels=channels,
        sources=tuple(Source(name, name, "", "recognised") for name in channels),
    )  # fmt: skip


def settled(
    name: str, kind: str, channel: str, values: np.ndarray, moved: Movement = ROUND, **others: np.ndarray
) -> str | None:
    """Say in which unit a column is read; None where the flight does not settle it."""
    column = Undecided(name, kind, channel, name)
    found = settle_units(replace(flight(**others), undecided={column: values}), moved)
    (notice,) = found.notices
    assert not found.undecided
    if channel not in found.channels:
        assert notice.code == "unit-unknown" and f"--units {name}=" in notice.message
        assert found.sources[-1].standing == "ignored"
        return None
    assert notice.code == "unit-assumed" and found.sources[-1].standing == "assumed"
    return str(notice.message.split("read in ")[1].split(":")[0])


def altitude(values: np.ndarray, moved: Movement = ROUND, **others: np.ndarray) -> str | None:
    return settled("alt", "length", "altitude_ft", values, moved, **others)


def test_a_height_is_in_feet_where_in_metres_no_aircraft_flies_there_or_climbs_so() -> None:
    # 20,000 m is FL656.
    level = 100.0 * np.sin(AT_S / 400.0)
    assert altitude(20_050.0 + 0.4 * level) == "ft" and altitude(19_800.0 + 0.4 * level) is None
    # Four steps of the 25 or 100 ft of an encoding altimeter.
    steps = 25.0 * np.round(AT_S / 300.0)
    assert altitude(5000.0 + steps) == "ft" and altitude(5003.0 + steps) is None
    assert altitude(5000.0 + np.minimum(steps, 50.0)) is None
    # At 110 kt 27 hundredths of slope are 50 ft in a second.
    for metres_per_s, unit in ((14.6, None), (16.0, "ft")):
        swing = metres_per_s * 100.0 * np.abs((AT_S / 100.0) % 2.0 - 1.0)
        assert altitude(5000.0 + swing) == unit
    # At taxiing speed it says nothing.
    assert altitude(5000.0 + 16.0 * 100.0 * np.abs((AT_S / 100.0) % 2.0 - 1.0), moving(speed_kt=45.0)) is None


@pytest.mark.parametrize(
    ("share", "unit"),
    [
        (1.0, "ft"),
        (0.8, "ft"),
        (1.2, "ft"),
        (0.72, None),
        (3.28084, "m"),
        (2.6, "m"),
        (2.2, None),
        (100.0, "FL"),
    ],
)
def test_a_height_climbs_as_the_vertical_speed_says(share: float, unit: str | None) -> None:
    """To a quarter of it."""
    climb = 800.0 / 90.0 * np.cos(AT_S / 90.0) * 60.0
    height = (5000.0 + 800.0 * np.sin(AT_S / 90.0)) / share
    assert altitude(height, vertical_speed_fpm=climb) == unit


@pytest.mark.parametrize(
    ("share", "unit"),
    [(1.0, "fpm"), (1.3, None), (0.78, "fpm"), (0.00508, "m/s"), (0.0061, "m/s"), (0.0065, None)],
)
def test_a_vertical_speed_agrees_with_the_altitude(share: float, unit: str | None) -> None:
    height = 5000.0 + 800.0 * np.sin(AT_S / 90.0)
    climb = 800.0 / 90.0 * np.cos(AT_S / 90.0) * 60.0 * share
    assert settled("vs", "climb", "vertical_speed_fpm", climb, altitude_ft=height) == unit
    assert settled("vs", "climb", "vertical_speed_fpm", climb) is None


@pytest.mark.parametrize(
    ("share", "scatter", "unit"),
    [
        (1.0, 0.0, "kt"),
        (1.035, 0.0, "kt"),
        (1.045, 0.0, None),
        (1.852, 0.0, "km/h"),
        (1.151, 0.0, "mph"),
        (0.5144, 0.0, "m/s"),
        (1.0, 0.09, "kt"),
        (1.0, 0.12, None),
    ],
)
@pytest.mark.parametrize("name", ["gs", "speed"])
def test_a_speed_is_in_the_unit_in_which_it_is_the_speed_over_the_ground(
    name: str, share: float, scatter: float, unit: str | None
) -> None:
    values = share * ROUND.speed_kt * (1.0 + scatter * NOISE)
    assert settled(name, "speed", "ground_speed_kt", values) == unit


@pytest.mark.parametrize(
    ("name", "share", "unit"),
    [
        ("tas", 1.0, "kt"),
        ("tas", 1.055, "kt"),
        ("tas", 1.075, None),
        ("tas", 1.852, "km/h"),
        # At 10,000 ft indicated is 0.86 of true.
        ("ias", 0.86, "kt"),
        ("ias", 0.86 * 1.852, "km/h"),
        ("ias", 1.0, "mph"),
    ],
)
def test_an_airspeed_is_what_the_ground_speeds_in_all_directions_ask_for(
    name: str, share: float, unit: str | None
) -> None:
    values = 100.0 * share + NOISE
    channel = f"{name}_kt"
    assert settled(name, "speed", channel, values, blown(15.0), altitude_ft=np.full(1200, 10_000.0)) == unit
    # An indicated one needs the height; neither is told by a flight in one direction.
    assert (settled(name, "speed", channel, values, blown(15.0)) is None) == (name == "ias" or unit is None)
    assert settled(name, "speed", channel, values, moving(0.0), altitude_ft=np.full(1200, 10_000.0)) is None


@pytest.mark.parametrize(("off_deg", "unit"), [(5.0, "deg"), (33.0, "deg"), (37.0, None)])
def test_a_direction_is_in_the_unit_in_which_it_lies_near_the_track(off_deg: float, unit: str | None) -> None:
    degrees = (ROUND.track_deg + off_deg) % 360.0
    assert settled("track", "angle", "track_true_deg", degrees) == unit
    radians = settled("heading_true", "angle", "heading_true_deg", np.radians(degrees) + 1e-9)
    assert radians == (None if unit is None else "rad")


@pytest.mark.parametrize(
    ("scale", "noise", "unit"),
    [(1.0, 0.0, "deg"), (-1.9, 0.0, "deg"), (2.1, 0.0, None), (0.55, 0.0, "deg"), (np.pi / 180.0, 0.0, "rad"),
     (0.45, 0.0, None), (1.0, 12.0, "deg"), (1.0, 18.0, None)],
)  # fmt: skip
def test_a_bank_is_in_the_unit_in_which_it_goes_with_the_turns(
    scale: float, noise: float, unit: str | None
) -> None:
    moved = moving(3.0)
    values = scale * moved.expected_bank_deg + noise * NOISE
    assert settled("bank", "angle", "bank_deg", values, moved) == unit
    assert settled("bank", "angle", "bank_deg", values, moving(0.0)) is None


@pytest.mark.parametrize(
    ("values", "altitude_ft", "unit"),
    # Standard at 5,000 ft is 5.1 °C, 41 °F; above 36,089 ft -56.5 °C.
    [(29.0, 5000.0, None), (-18.0, 5000.0, "C"), (41.0, 5000.0, "F"), (80.0, 5000.0, "F"), (280.0, 5000.0, "K"),
     (-60.0, 45_000.0, None), (-79.0, 45_000.0, None), (95.0, 5000.0, None)],
)  # fmt: skip
def test_a_temperature_lies_near_the_standard_atmosphere_in_one_unit_only(
    values: float, altitude_ft: float, unit: str | None
) -> None:
    found = settled(
        "oat", "temperature", "outside_air_temperature_c", values + 0.1 * NOISE,
        altitude_ft=np.full(1200, altitude_ft),
    )  # fmt: skip
    in_c = abs(values - (15.0 - 0.0019812 * min(altitude_ft, 36_089.0))) < 25.0
    in_f = abs((values - 32.0) / 1.8 - (15.0 - 0.0019812 * min(altitude_ft, 36_089.0))) < 25.0
    in_k = abs(values - 273.15 - (15.0 - 0.0019812 * min(altitude_ft, 36_089.0))) < 25.0
    fits = [name for name, fit in (("C", in_c), ("F", in_f), ("K", in_k)) if fit]
    expected = fits[0] if len(fits) == 1 else None
    assert found in (expected, {"C": "°C", "F": "°F"}.get(expected or "", expected))
    assert unit is None or expected == unit
    assert settled("oat", "temperature", "outside_air_temperature_c", np.full(1200, values)) is None


def reference(
    moved: Movement = ROUND, at: tuple[float, float] = (48.0, 11.0), **channels: np.ndarray
) -> RawFlight:
    return settle_references(flight(at, **channels), moved)


@pytest.mark.parametrize(("offset_deg", "becomes"), [(0.0, "true"), (2.3, "true"), (2.7, None), (-20.3, "magnetic"),
                                                     (-18.0, "magnetic"), (-17.0, None), (-10.0, None)])  # fmt: skip
def test_an_unmarked_heading_is_true_or_magnetic_by_what_is_left_of_it_over_all_directions(
    offset_deg: float, becomes: str | None
) -> None:
    heading = (ROUND.track_deg + offset_deg) % 360.0
    found = reference(at=EAST_20, heading_unmarked_deg=heading)
    names = [name for name in found.channels if name.startswith("heading")]
    assert names == ([f"heading_{becomes}_deg"] if becomes else [])
    code = "heading-reference-assumed" if becomes else "heading-unmarked"
    assert [notice.code for notice in found.notices] == [code]
    assert found.sources[0].standing == ("assumed" if becomes else "ignored")
    # One that says so is there already; one direction tells nothing.
    beside = reference(at=EAST_20, heading_unmarked_deg=heading, heading_true_deg=heading)
    assert "heading_unmarked_deg" not in beside.channels and beside.notices[0].code == "heading-unmarked"
    assert not reference(moving(0.0), EAST_20, heading_unmarked_deg=np.full(1200, 10.0)).channels


@pytest.mark.parametrize(
    ("offset_deg", "becomes"), [(0.0, "true"), (-1.8, None), (-2.4, None), (-4.2, "magnetic")]
)
def test_halfway_between_true_and_magnetic_a_heading_is_neither(
    offset_deg: float, becomes: str | None
) -> None:
    """The World Magnetic Model of 2025 gives about 4° east over Munich."""
    found = reference(heading_unmarked_deg=(ROUND.track_deg + offset_deg) % 360.0)
    assert list(found.channels) == ([f"heading_{becomes}_deg"] if becomes else [])


def test_unmarked_speeds_and_magnetic_tracks_go_where_they_belong() -> None:
    over, other = ROUND.speed_kt + NOISE, 0.9 * ROUND.speed_kt
    found = reference(speed_unmarked_kt=over)
    assert list(found.channels) == ["ground_speed_kt"] and found.notices[0].code == "speed-assumed"
    assert not reference(speed_unmarked_kt=other).channels
    both = reference(speed_unmarked_kt=over, ground_speed_kt=over)
    assert list(both.channels) == ["ground_speed_kt"] and not both.notices
    assert list(reference(airspeed_unmarked_kt=other, tas_kt=over).channels) == ["tas_kt", "ias_kt"]
    assert list(reference(airspeed_unmarked_kt=other, ias_kt=over).channels) == ["ias_kt"]
    assert not reference(airspeed_unmarked_kt=other).channels
    assert not reference(track_magnetic_deg=ROUND.track_deg).channels


# What one cell, one row or one label tells beside the others


def test_minutes_and_seconds_begin_again_at_each_hour() -> None:
    clock = _minutes_clock(["59:58.5", "59:59,5", "", "00:00.5", "30:00", "29:59", "00:01"])
    assert clock.time_s == pytest.approx(
        [3598.5, 3599.5, np.nan, 3600.5, 5400.0, 5399.0, 3601.0], nan_ok=True
    )
    assert not clock.dated


@pytest.mark.parametrize(
    ("cells", "stated", "expected"),
    [
        # Each cell's own unit counts, in that of the column, or the first that is met.
        ((("1000", "ft"), ("305", "m")), None, ("ft", [1000.0, 305.0 / 0.3048])),
        ((("305", "m"), ("1000", "ft")), None, ("m", [305.0, 304.8])),
        ((("305", "m"), ("1000", "")), "ft", ("ft", [305.0 / 0.3048, 1000.0])),
        # A bare cell shares the unit of all others, but is no flight level.
        ((("305", "m"), ("1000", "")), None, ("m", [305.0, 1000.0])),
        ((("150", "FL"), ("4500", "")), None, ("FL", [150.0, np.nan])),
        ((("305", "m"), ("1000", "ft"), ("7", "")), None, ("m", [305.0, 304.8, np.nan])),
        ((("7", ""), ("8", "")), "ft", ("ft", [7.0, 8.0])),
    ],
)
def test_cells_with_units_of_their_own_are_brought_to_one(
    cells: tuple[tuple[str, str], ...], stated: str | None, expected: tuple[str, list[float]]
) -> None:
    values = np.array([float(number) for number, _ in cells])
    written = {row: unit for row, (_, unit) in enumerate(cells) if unit}
    found, unit = _in_one_unit(values, written, unit_of(stated, "length") if stated else None, "length")
    assert unit == unit_of(expected[0], "length")
    assert found == pytest.approx(expected[1], nan_ok=True)


def test_flights_of_one_file_are_told_apart_by_label_or_number() -> None:
    track = drawn(straight(30), straight(30))
    named = [one.name for one in _named([track] * 4, ["D-EABC", "", "D-EABC", "D-EFGH"])]
    assert [one.removeprefix(track.name) for one in named] == [
        " (D-EABC, 1)", " (flight 2)", " (D-EABC, 2)", " (D-EFGH)"
    ]  # fmt: skip
    assert _named([track], ["D-EABC"]) == [track]

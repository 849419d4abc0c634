"""Which channel is used, mended or left out: each rule alone, just inside and just outside (closed forms)."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.channels import carry_values, hold_against_track, within_range
from analyser.logs.movement import Movement
from analyser.logs.raw import Content, RawFlight, Undecided
from analyser.logs.samples import Field, flight_of
from analyser.logs.table import _are_thousands
from analyser.logs.units import unit_of
from tests.test_logs_agreement import ROUND, blown, moving

NOISE = np.random.default_rng(11).normal(0.0, 1.0, 1200)


def verdict(moved: Movement = ROUND, **channels: np.ndarray) -> RawFlight:
    """Hold channels against a movement."""
    lat = 47.0 + 1e-4 * np.arange(moved.time_s.size)
    return hold_against_track(RawFlight(moved.time_s, lat, lat - 39.0, channels=channels), moved)


def codes(flight: RawFlight) -> list[str]:
    return [notice.code for notice in flight.notices]


@pytest.mark.parametrize(
    ("name", "share", "used"),
    [
        ("ground_speed_kt", 0.93, True),
        ("ground_speed_kt", 0.91, False),
        ("ground_speed_kt", 1.07, True),
        ("ground_speed_kt", 1.09, False),
        ("ias_kt", 0.46, True),
        ("ias_kt", 0.44, False),
        ("ias_kt", 1.58, True),
        ("ias_kt", 1.62, False),
        ("tas_kt", 0.66, True),
        ("tas_kt", 0.64, False),
        ("tas_kt", 1.62, False),
    ],
)
def test_a_speed_is_one_within_what_height_and_wind_make_of_the_ground_speed(
    name: str, share: float, used: bool
) -> None:
    found = verdict(**{name: share * ROUND.speed_kt + NOISE})
    assert (name in found.channels) == used
    assert codes(found) == ([] if used else ["channel-disagrees"])
    assert used or f"{share:.2f} times" in found.notices[0].message


@pytest.mark.parametrize(("off_deg", "used"), [(5.8, True), (-5.8, True), (6.2, False)])
def test_a_track_is_used_within_six_degrees_of_that_by_positions(off_deg: float, used: bool) -> None:
    assert ("track_true_deg" in verdict(track_true_deg=(ROUND.track_deg + off_deg) % 360.0).channels) == used


@pytest.mark.parametrize(("lag_s", "used"), [(2.2, True), (2.8, False), (-4.0, True)])
def test_a_heading_that_runs_more_than_two_and_a_half_seconds_behind_is_not_used(
    lag_s: float, used: bool
) -> None:
    late = (ROUND.track_deg - lag_s * ROUND.turn_dps + NOISE) % 360.0
    found = verdict(heading_true_deg=late)
    assert ("heading_true_deg" in found.channels) == used
    assert codes(found) == ([] if used else ["channel-lagging"])


@pytest.mark.parametrize(
    ("wind_kt", "drift_share", "used"),
    [(20.0, 0.4, True), (20.0, 0.3, False), (6.5, 0.0, True), (8.0, 0.0, False), (20.0, 1.0, True)],
)
def test_a_heading_without_the_drift_that_the_ground_speeds_ask_for_is_the_track(
    wind_kt: float, drift_share: float, used: bool
) -> None:
    """Of more than four degrees of drift a heading shows a third at least; W / V is the drift's amplitude."""
    moved = blown(wind_kt)
    drift = np.degrees(wind_kt / 100.0) * drift_share * np.sin(np.radians(moved.track_deg - 30.0))
    found = verdict(moved, heading_true_deg=(moved.track_deg + drift + NOISE) % 360.0)
    assert ("heading_true_deg" in found.channels) == used


@pytest.mark.parametrize(("scatter_deg", "used"), [(22.0, True), (29.0, False)])
def test_a_heading_that_scatters_by_more_than_25_degrees_does_not_follow_the_track(
    scatter_deg: float, used: bool
) -> None:
    found = verdict(heading_magnetic_deg=(ROUND.track_deg + scatter_deg * np.clip(NOISE, -2.5, 2.5)) % 360.0)
    assert ("heading_magnetic_deg" in found.channels) == used


@pytest.mark.parametrize(
    ("scale", "noise_deg", "lag_s", "code"),
    [
        (0.45, 0.0, 0.0, None),
        (0.35, 0.0, 0.0, "channel-disagrees"),
        (2.1, 0.0, 0.0, None),
        (2.3, 0.0, 0.0, "channel-disagrees"),
        # Its correlation with the turns is 1 / √(1 + (σ / 8.8°)²): 0.4 and 0.3, half to one side of the other sign.
        (1.0, 20.0, 0.0, None),
        (1.0, 30.0, 0.0, "channel-disagrees"),
        (-1.0, 10.0, 0.0, "bank-sign"),
        (-1.0, 40.0, 0.0, "channel-disagrees"),
        (1.0, 0.0, 3.0, None),
        (1.0, 0.0, 4.0, "channel-lagging"),
    ],
)
def test_a_bank_goes_with_the_turns_in_size_and_sign_and_time(
    scale: float, noise_deg: float, lag_s: float, code: str | None
) -> None:
    moved = moving(3.0)
    logged = scale * np.interp(moved.time_s - lag_s, moved.time_s, moved.expected_bank_deg)
    found = verdict(moved, bank_deg=logged + noise_deg * NOISE)
    assert codes(found) == ([code] if code else [])
    assert ("bank_deg" in found.channels) == (code in (None, "bank-sign"))
    if code == "bank-sign":
        assert found.channels["bank_deg"] == pytest.approx(-(logged + noise_deg * NOISE))


@pytest.mark.parametrize(
    ("factor", "used"), [(1.0, True), (3.28084, False), (0.3048, False), (2.8, True), (0.36, True)]
)
def test_a_climb_that_is_a_unit_off_the_height_makes_the_height_none(factor: float, used: bool) -> None:
    at_s = ROUND.time_s
    height = 5000.0 + 800.0 * np.sin(at_s / 90.0)
    climb = factor * 60.0 * 800.0 / 90.0 * np.cos(at_s / 90.0)
    found = verdict(altitude_ft=height, vertical_speed_fpm=climb)
    assert ("altitude_ft" in found.channels) == used


@pytest.mark.parametrize(
    ("jump_ft", "rows", "left_out"), [(690.0, 3, 0), (710.0, 3, 3), (5000.0, 5, 5), (5000.0, 6, 0)]
)
def test_heights_that_jump_away_and_back_within_five_rows_are_left_out(
    jump_ft: float, rows: int, left_out: int
) -> None:
    """Faster than any aircraft: by more than 400 ft and 300 ft in a second."""
    height = np.full(1200, 5000.0) + np.sin(ROUND.time_s)
    height[300 : 300 + rows] = 5000.0 + jump_ft + np.sin(ROUND.time_s[299])
    found = verdict(altitude_ft=height)
    assert int(np.isnan(found.channels["altitude_ft"]).sum()) == left_out
    assert "altitude_ft" not in verdict(altitude_ft=np.zeros(1200)).channels


@pytest.mark.parametrize(("share", "kept"), [(0.45, True), (0.55, False)])
def test_a_channel_of_mostly_impossible_values_is_in_another_unit(share: float, kept: bool) -> None:
    """-2,000 to 70,000 ft: of some that are none the others count."""
    height = 5000.0 + np.arange(1000.0)
    height[: round(1000 * share)] += 100_000.0
    lat = np.linspace(47.0, 48.0, 1000)
    found = within_range(RawFlight(np.arange(1000.0), lat, lat, channels={"altitude_ft": height}))
    assert ("altitude_ft" in found.channels) == kept
    assert codes(found) == ["value-impossible"]
    if kept:
        assert int(np.isnan(found.channels["altitude_ft"]).sum()) == round(1000 * share)


@pytest.mark.parametrize(
    ("name", "possible", "marks"),
    [
        # The shore of the Dead Sea, and what Concorde flew at.
        ("altitude_ft", (-1_400.0, 60_000.0), (-9_999.0, 99_999.0)),
        ("ground_speed_kt", (0.0, 1_150.0), (-1.0, 1_300.0, 65_535.0)),
        *((one, (-180.0, 0.0, 360.0, 540.0), (-999.0, 999.0)) for one in (
            "track_true_deg", "heading_true_deg", "heading_magnetic_deg", "wind_from_true_deg")),
        ("bank_deg", (-179.0, 179.0, 359.0), (-999.0, 400.0)),
        ("pitch_deg", (-89.0, 89.0), (-99.0, 99.0)),
        ("ias_kt", (0.0, 650.0), (-1.0, 999.0)),
        ("tas_kt", (0.0, 950.0), (-1.0, 1_100.0)),
        ("wind_speed_kt", (0.0, 250.0), (-1.0, 999.0)),
        # The coldest and the warmest air that was ever measured near the ground, and a byte's two ends.
        ("outside_air_temperature_c", (-89.2, 56.7), (-128.0, 127.0)),
        # Sixteen bits end at 32,767.
        ("vertical_speed_fpm", (-25_000.0, 25_000.0), (-32_768.0, 32_767.0)),
    ],
)  # fmt: skip
def test_what_no_aircraft_and_no_air_has_is_a_recorders_mark_for_none(
    name: str, possible: tuple[float, ...], marks: tuple[float, ...]
) -> None:
    values = np.repeat([*possible, *marks], [40] * len(possible) + [3] * len(marks)).astype(float)
    lat = np.linspace(47.0, 48.0, values.size)
    found = within_range(RawFlight(np.arange(float(values.size)), lat, lat, channels={name: values}))
    left = found.channels[name]
    assert np.isfinite(left[: 40 * len(possible)]).all() and np.isnan(left[40 * len(possible) :]).all()
    assert codes(found) == ["value-impossible"]


def test_of_two_fields_of_one_channel_the_first_with_values_counts_and_the_other_is_listed() -> None:
    columns = {
        "time": np.arange(4.0), "lat": np.full(4, 47.0), "lon": np.full(4, 8.0), "empty": np.full(4, np.nan),
        "feet": np.full(4, 5000.0), "metres": np.full(4, 1600.0),
    }  # fmt: skip
    fields = [
        Field("empty", "altitude_ft", "ft"),
        Field("metres", "altitude_ft", "m", 1.0 / 0.3048),
        Field("feet", "altitude_ft", "ft"),
    ]
    made = flight_of(columns, fields, Content("a.csv", b""))
    assert made.channels["altitude_ft"] == pytest.approx(1600.0 / 0.3048)
    assert [(one.column, one.standing) for one in made.sources[2:]] == [
        ("metres", "recognised"),
        ("feet", "ignored"),
    ]


def test_directions_are_folded_into_the_circle_and_banks_the_short_way() -> None:
    lat = np.linspace(47.0, 48.0, 4)
    channels = {
        "heading_true_deg": np.array([-10.0, 0.0, 359.0, 360.0]),
        "bank_deg": np.array([350.0, 10.0, -170.0, 180.0]),
    }
    found = within_range(RawFlight(np.arange(4.0), lat, lat, channels=channels)).channels
    assert found["heading_true_deg"].tolist() == [350.0, 0.0, 359.0, 0.0]
    assert found["bank_deg"].tolist() == [-10.0, 10.0, -170.0, -180.0]


_HELD = Undecided("alt", "length", "altitude_ft", "alt")


def carried(at_s: list[float], **values: dict[float, float]) -> RawFlight:
    """Give positions at some times and values in rows between that have none."""
    rows = sorted({*at_s, *(t for column in values.values() for t in column)})
    lat = np.array([47.0 + 1e-4 * t if t in at_s else np.nan for t in rows])
    channels = {name: np.array([column.get(t, np.nan) for t in rows]) for name, column in values.items()}
    held = {_HELD: channels.pop("undecided", np.full(len(rows), np.nan))}
    found = carry_values(RawFlight(np.array(rows), lat, lat, channels=channels, undecided=held))
    there = np.isfinite(found.lat_deg)
    return found.take(there)


def test_values_of_rows_between_are_brought_to_the_positions_beside_them() -> None:
    """Filled across two intervals of the positions at most; of values too far apart the one that is near counts."""
    at_s = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0]
    found = carried(at_s, ias_kt={1.0: 100.0, 3.0: 110.0, 7.0: 120.0, 11.9: 130.0})
    assert found.channels["ias_kt"] == pytest.approx(
        [100.0, 105.0, 112.5, 117.5, 120.0, np.nan, 130.0], nan_ok=True
    )
    assert codes(found) == ["values-carried"] and "4 rows carry values" in found.notices[0].message
    # A direction goes the short way round; a column whose unit is not known yet is not averaged.
    turning = carried(at_s, heading_true_deg={1.0: 350.0, 3.0: 20.0}, undecided={1.0: 1000.0, 3.9: 2000.0})
    assert turning.channels["heading_true_deg"][1] == pytest.approx(5.0)
    assert turning.undecided[_HELD][:3].tolist() == [1000.0, 1000.0, 2000.0]
    slow = [0.0, 30.0, 60.0]
    assert np.isnan(carried(slow, ias_kt={25.0: 100.0, 36.0: 110.0}).channels["ias_kt"]).all()
    assert carried(slow, ias_kt={25.5: 100.0, 35.0: 110.0}).channels["ias_kt"][1] == pytest.approx(
        104.737, abs=0.01
    )


def test_positions_whose_track_is_the_mirror_image_of_a_logged_one_are_swapped() -> None:
    """At the diagonal: 90° less the direction."""
    mirrored = {"track_true_deg": (90.0 - ROUND.track_deg + 5.0 * NOISE) % 360.0}
    with pytest.raises(
        LogError, match="latitude and longitude are swapped: the logged track is the mirror image"
    ):
        verdict(**mirrored)
    straight = moving(0.0)
    assert "track_true_deg" not in verdict(straight, track_true_deg=np.full(1200, 90.0)).channels


@pytest.mark.parametrize(("until_s", "blank_from_s"), [(197, None), (205, 185)])
def test_a_heading_that_stands_still_is_frozen_from_where_the_track_has_left_it(
    until_s: int, blank_from_s: int | None
) -> None:
    """On the leg it may have been true; frozen it is where the track turned by 45° meanwhile, from a quarter of it on.

    The turn begins at 180 s, 2.17° a second: a quarter of 45° is turned in the sixth of its seconds.
    """
    heading = ROUND.track_deg + 0.2 * NOISE
    heading[140 : until_s + 1] = ROUND.track_deg[150]
    found = verdict(heading_true_deg=heading % 360.0)
    blank = np.flatnonzero(np.isnan(found.channels["heading_true_deg"]))
    assert bool(codes(found)) == (blank_from_s is not None)
    if blank_from_s is not None:
        assert codes(found) == ["channel-frozen"]
        assert (blank[0], blank[-1], blank.size) == (blank_from_s, until_s, until_s - blank_from_s + 1)
        assert f"stands still for {until_s - blank_from_s} s" in found.notices[0].message
    # A channel that stands still for most of the flight is none.
    still = verdict(heading_true_deg=np.where(ROUND.time_s < 700.0, 0.0, heading) % 360.0)
    assert "heading_true_deg" not in still.channels


@pytest.mark.parametrize(
    ("name", "seconds", "change_kt", "frozen"),
    [("ground_speed_kt", 130, 44.0, True), ("ground_speed_kt", 130, 36.0, False), ("ground_speed_kt", 110, 60.0, False),
     ("ias_kt", 130, 60.0, True)],
)  # fmt: skip
def test_a_speed_that_stands_still_for_two_minutes_while_the_ground_speed_changes_by_forty_knots_is_frozen(
    name: str, seconds: int, change_kt: float, frozen: bool
) -> None:
    at_s = np.arange(1200.0)
    speed = 120.0 + change_kt * np.clip((at_s - 320.0) / 40.0, 0.0, 1.0)
    moved = Movement(np.arange(1200), at_s, speed, np.full(1200, 10.0), np.zeros(1200))
    logged = speed + 0.3 * NOISE
    logged[300 : 301 + seconds] = logged[300]
    found = verdict(moved, **{name: logged})
    assert ("channel-frozen" in codes(found)) == frozen


@pytest.mark.parametrize(("turns_dps", "told"), [(1.4, False), (1.6, True)])
def test_a_lag_is_told_by_turns_of_more_than_one_and_a_half_degrees_a_second(
    turns_dps: float, told: bool
) -> None:
    moved = moving(turns_dps)
    late = (moved.track_deg - 5.0 * moved.turn_dps + 0.1 * NOISE) % 360.0
    assert ("heading_true_deg" not in verdict(moved, heading_true_deg=late).channels) == told


@pytest.mark.parametrize(
    ("values", "unit", "thousands"),
    [
        ([4.0, 4.01, 4.025], "ft", True),
        ([1.0, 1.2, 1.25], "m", True),
        # Heights of 100 ft and less are none that a hold is flown at; levels are hundreds already.
        ([0.101, 0.15, 0.2], "ft", True),
        ([0.099, 0.15, 0.2], "ft", False),
        ([4.0, 4.01, 4.02], "FL", False),
        # As thousands they would jump; whole thousands alone part nothing; four decimals are decimals.
        ([4.0, 9.0, 4.01], "ft", False),
        ([4.0, 5.0, 6.0], "ft", False),
        ([4.0001, 4.01, 4.02], "ft", False),
        ([104.0, 104.01, 104.02], "ft", False),
        ([4.0, 4.01], "ft", False),
    ],
)
def test_a_point_parts_the_thousands_of_heights_that_make_sense_so(
    values: list[float], unit: str, thousands: bool
) -> None:
    assert _are_thousands(np.array(values), unit_of(unit, "length")) == thousands
    assert not _are_thousands(np.array(values), None)

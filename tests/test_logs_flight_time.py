"""Time that was not flown is taken out, time that ran faster is stretched, and single wrong times are mended."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.logs.flight_time import even_out_rate, put_in_lost_time, take_out_pauses
from analyser.logs.raw import RawFlight
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import invented_flight
from tests.logs_reading import codes, numbers, table

FLIGHT = invented_flight(samples=1200)
EPOCH = FLIGHT.start.timestamp()


def _read(folder: Path, time_s: np.ndarray, rows: np.ndarray | None = None) -> Track:
    """Read the flight with other times, or with rows repeated or left out."""
    rows = np.arange(FLIGHT.lat.size) if rows is None else rows
    text = table(
        ["time", "lat", "lon", "alt_ft"],
        numbers(EPOCH + time_s, 3),
        numbers(FLIGHT.lat[rows], 7),
        numbers(FLIGHT.lon[rows], 7),
        numbers(FLIGHT.altitude_ft[rows], 1),
    )
    path = folder / "log.csv"
    path.write_text(text if isinstance(text, str) else text.decode(), encoding="utf-8")
    (track,) = read_log(path)
    return track


@pytest.mark.parametrize("lasted_s", [20.0, 60.0, 600.0])
@pytest.mark.parametrize("with_rows", [True, False])
def test_a_pause_in_flight_is_taken_out(tmp_path: Path, lasted_s: float, *, with_rows: bool) -> None:
    extra = np.arange(1.0, lasted_s) if with_rows else np.empty(0)
    rows = np.concatenate([np.arange(501), np.full(extra.size, 500), np.arange(501, 1200)])
    time_s = np.concatenate([FLIGHT.time_s[:501], FLIGHT.time_s[500] + extra, FLIGHT.time_s[501:] + lasted_s])
    track = _read(tmp_path, time_s, rows)
    assert track.samples == 1200
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s - FLIGHT.time_s[0], atol=0.6)
    (seam,) = track.seams
    assert seam.time_s == pytest.approx(500.0, abs=0.6)
    assert seam.removed_s == pytest.approx(lasted_s, abs=0.6)
    (said,) = [notice.message for notice in track.notices if notice.code == "time-paused"]
    assert "sample 501" in said


@pytest.mark.parametrize("row", [300, 500, 640, 777])
def test_a_pause_shows_between_places_rounded_to_a_hundred_metres(row: int) -> None:
    """At 1 Hz the aircraft stands in each such place for a second or two anyway, and no single step has a direction."""
    rows = np.concatenate([np.arange(row + 1), np.full(30, row), np.arange(row + 1, 1200)])
    lat, lon = np.round(FLIGHT.lat[rows], 3), np.round(FLIGHT.lon[rows], 3)
    flight = RawFlight(time_s=np.arange(1230.0), lat_deg=lat, lon_deg=lon, dated=False, channels={})
    flown = take_out_pauses(flight)
    (seam,) = flown.seams
    assert seam.removed_s == pytest.approx(30.0, abs=2.5)
    assert seam.time_s == pytest.approx(row, abs=3.0)
    # The same places without a pause have none, nor do they lose time.
    whole = flight.take(np.append(np.arange(row + 1), np.arange(row + 31, 1230)))
    whole = replace(whole, time_s=np.arange(1200.0))
    assert take_out_pauses(whole).seams == put_in_lost_time(whole).seams == even_out_rate(whole).seams == ()


@pytest.mark.parametrize("row", range(480, 720, 20))
@pytest.mark.parametrize("every", [1, 5])
def test_a_pause_within_a_turn_in_the_wind_is_one(row: int, every: int) -> None:
    """In 27 kt of wind the ground speed from five seconds before to five after changes by what the turn makes of it."""
    flown = invented_flight(1200, wind_east_kt=27.0, wind_north_kt=0.0)
    before, after = np.arange(0, row + 1, every), np.arange(row + every, 1200, every)
    rows = np.append(before, after)
    time_s = np.append(before, after + 80.0)
    flight = RawFlight(time_s, flown.lat[rows], flown.lon[rows], dated=False)
    (seam,) = take_out_pauses(flight).seams
    assert seam.removed_s == pytest.approx(80.0, abs=1.0 * every)


def test_a_pause_in_which_the_last_digits_go_on_changing_is_one() -> None:
    """It began between two rows, too, so the step before it is short."""
    rng = np.random.default_rng(4)
    true_s = np.concatenate([np.arange(501.0), np.full(40, 500.4), np.arange(501.0, 1199.0)])
    lat, lon = (
        np.interp(true_s, FLIGHT.time_s - FLIGHT.time_s[0], values) + rng.normal(0.0, 3e-7, true_s.size)
        for values in (FLIGHT.lat, FLIGHT.lon)
    )
    time_s = np.arange(float(true_s.size))
    flown = take_out_pauses(RawFlight(time_s=time_s, lat_deg=lat, lon_deg=lon, dated=False))
    (seam,) = flown.seams
    assert seam.removed_s == pytest.approx(40.0, abs=1.0)
    assert flown.time_s[-1] == pytest.approx(1198.0, abs=1.5)


def test_a_hole_that_was_flown_through_is_no_pause(tmp_path: Path) -> None:
    rows = np.concatenate([np.arange(501), np.arange(560, 1200)])
    track = _read(tmp_path, FLIGHT.time_s[rows], rows)
    assert track.seams == ()
    assert track.duration_s == pytest.approx(FLIGHT.time_s[-1] - FLIGHT.time_s[0])


def test_positions_that_froze_while_the_aircraft_flew_on_are_no_pause(tmp_path: Path) -> None:
    rows = np.arange(1200)
    rows[501:531] = 500
    track = _read(tmp_path, FLIGHT.time_s, rows)
    assert track.seams == ()
    assert "position-frozen" in codes(track)


def _clock_at(rates: dict[int, float]) -> np.ndarray:
    """Let time run at other rates from given samples on, and read the recorder's clock."""
    rate = np.ones(1199)
    for sample, one in rates.items():
        rate[sample:] = one
    return FLIGHT.time_s[0] + np.concatenate([[0.0], np.cumsum(np.diff(FLIGHT.time_s) / rate)])


@pytest.mark.parametrize(
    ("rates", "said"),
    [
        ({400: 2.0, 640: 1.0}, "2 times"),
        ({400: 3.0, 640: 1.0}, "3 times"),
        ({400: 4.0, 640: 1.0}, "4 times"),
        ({400: 8.0, 640: 1.0}, "8 times"),
        ({400: 0.5, 640: 1.0}, "0.5 times"),
        ({400: 2.0, 420: 4.0, 640: 2.0, 660: 1.0}, "2 times as fast from sample 401 to sample 421"),
        # Whoever goes on faster to the end, or begins so, and who flies at their own rate what is slowest.
        ({700: 4.0}, "4 times as fast from sample 701 to sample 1200"),
        ({0: 4.0, 700: 1.0}, "4 times as fast from sample 1 to sample 701"),
    ],
)
def test_time_that_ran_at_another_rate_is_brought_back(
    tmp_path: Path, rates: dict[int, float], said: str
) -> None:
    track = _read(tmp_path, _clock_at(rates))
    (message,) = [notice.message for notice in track.notices if notice.code == "time-accelerated"]
    assert said in message
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s - FLIGHT.time_s[0], atol=0.3)
    assert len(track.seams) == len(rates.keys() - {0})
    # Nobody stood still, and what was put in is told.
    put_in_s = max(float(FLIGHT.time_s[-1] - FLIGHT.time_s[0] - np.ptp(_clock_at(rates))), 0.0)
    assert all(seam.removed_s <= 0.0 for seam in track.seams)
    assert -sum(seam.removed_s for seam in track.seams) == pytest.approx(put_in_s, abs=0.5)


@pytest.mark.parametrize(("every", "digits"), [(5, 6), (1, 3)])
def test_a_rate_shows_between_rows_that_are_far_apart_or_rounded(every: int, digits: int) -> None:
    """Every five seconds an aeroplane has time to change its speed, but not twofold from one even speed to another."""
    clock = _clock_at({400: 4.0, 900: 1.0}) - FLIGHT.time_s[0]
    at_s = np.arange(0.0, clock[-1], every)
    lat, lon, kt = (
        np.interp(at_s, clock, values) for values in (FLIGHT.lat, FLIGHT.lon, FLIGHT.ground_speed_kt)
    )
    channels = {"ground_speed_kt": kt} if every > 1 else {}
    flight = RawFlight(
        time_s=at_s,
        lat_deg=np.round(lat, digits),
        lon_deg=np.round(lon, digits),
        dated=False,
        channels=channels,
    )
    mended = even_out_rate(flight)
    assert "4 times as fast" in mended.notices[0].message
    assert mended.time_s[-1] == pytest.approx(1199.0, abs=8.0)


@pytest.mark.parametrize("rate", [2.0, 4.0])
@pytest.mark.parametrize(("digits", "clock_digits"), [(7, 1), (3, 1), (3, 0)])
def test_a_rate_is_undone_where_clock_or_places_are_rounded(
    tmp_path: Path, rate: float, digits: int, clock_digits: int
) -> None:
    """A clock of tenths counts few in a quarter of a second; places of 100 m hide where, on a leg, the rate changed."""
    flown_s = FLIGHT.time_s - FLIGHT.time_s[0]

    def read(clock_s: np.ndarray) -> Track:
        places = (numbers(FLIGHT.lat, digits), numbers(FLIGHT.lon, digits))
        text = table(["time", "lat", "lon"], numbers(EPOCH + clock_s, clock_digits), *places)
        (tmp_path / "log.csv").write_text(text, encoding="utf-8")
        (track,) = read_log(tmp_path / "log.csv")
        return track

    track = read(_clock_at({450: rate, 690: 1.0}) - FLIGHT.time_s[0])
    (message,) = [notice.message for notice in track.notices if notice.code == "time-accelerated"]
    assert f"{rate:g} times as fast" in message
    assert track.time_s[-1] == pytest.approx(flown_s[-1], abs=6.0)
    assert [seam.time_s for seam in track.seams] == pytest.approx([450.0, 690.0], abs=6.0)
    assert "time-accelerated" not in codes(read(flown_s))


@pytest.mark.parametrize("wind_mps", [18.0, 22.0])
def test_who_turns_steeply_in_a_gale_flies_no_accelerated_time(wind_mps: float) -> None:
    """Against the wind 33 m/s over the ground, 69 with it, and between them 22 s at eight degrees a second."""
    fine_s = np.arange(0.0, 600.0, 0.5)
    heading = np.radians(8.0 * np.cumsum(np.where(np.mod(fine_s, 100.0) < 22.5, 0.5, 0.0)))
    east, north = (
        np.cumsum(0.5 * 51.0 * np.sin(heading)),
        np.cumsum(0.5 * (51.0 * np.cos(heading) + wind_mps)),
    )
    for every, phase in itertools.product((2, 10), (0, 1)):
        pick = slice(phase, None, every)
        lat, lon = north[pick] / 111_195.0, east[pick] / 111_195.0
        flight = RawFlight(time_s=fine_s[pick], lat_deg=lat, lon_deg=lon, dated=False)
        assert even_out_rate(flight).notices == ()


@pytest.mark.parametrize(("every_s", "rate"), [(5.0, 2.0), (5.0, 4.0), (10.0, 2.0)])
def test_a_reported_speed_shows_the_rate_whatever_the_wind(every_s: float, rate: float) -> None:
    """In 30 kt of wind, begun and ended in turns, the way between rows 5 s or 10 s apart alone does not show it."""
    flown = invented_flight(2400, wind_east_kt=30.0, wind_north_kt=0.0)
    clock_s = np.arange(0.0, 1190.0 + 800.0 / rate, every_s)
    at_s = np.interp(
        clock_s, [0.0, 520.0, 520.0 + 800.0 / rate, 1e4], [0.0, 520.0, 1320.0, 1e4 + 800.0 - 800.0 / rate]
    )
    lat, lon, kt = (np.interp(at_s, flown.time_s, v) for v in (flown.lat, flown.lon, flown.ground_speed_kt))
    flight = RawFlight(clock_s, lat, lon, dated=False, channels={"ground_speed_kt": kt})
    evened = even_out_rate(flight)
    assert [notice.code for notice in evened.notices] == ["time-accelerated"]
    np.testing.assert_allclose(evened.time_s, at_s, atol=every_s)


@pytest.mark.parametrize("begun_s", range(560, 660, 10))
def test_a_turn_in_the_wind_hides_one_end_of_faster_time_but_not_both(begun_s: int) -> None:
    """In 45 kt of wind a turn from downwind to upwind undoes a doubled speed over the ground."""
    flown = invented_flight(2400, wind_east_kt=45.0, wind_north_kt=0.0)
    clock_s, lasted_s = np.arange(0.0, 1190.0, 5.0), 270.0
    known_s = [0.0, begun_s, begun_s + 0.5 * lasted_s, 1e4]
    at_s = np.interp(clock_s, known_s, [0.0, begun_s, begun_s + lasted_s, 1e4 + 0.5 * lasted_s])
    lat, lon, kt = (np.interp(at_s, flown.time_s, v) for v in (flown.lat, flown.lon, flown.ground_speed_kt))
    evened = even_out_rate(RawFlight(clock_s, lat, lon, dated=False, channels={"ground_speed_kt": kt}))
    assert [notice.code for notice in evened.notices] == ["time-accelerated"]
    np.testing.assert_allclose(evened.time_s, at_s, atol=5.0)


def test_a_reported_speed_that_alone_changes_is_no_rate() -> None:
    """As where a log goes on in another unit: 1.852 is nearly twice."""
    at_s = np.arange(0.0, 1199.0, 5.0)
    lat, lon, kt = (
        np.interp(at_s, FLIGHT.time_s - FLIGHT.time_s[0], v)
        for v in (FLIGHT.lat, FLIGHT.lon, FLIGHT.ground_speed_kt)
    )
    kt[80:160] /= 1.852
    flight = RawFlight(time_s=at_s, lat_deg=lat, lon_deg=lon, dated=False, channels={"ground_speed_kt": kt})
    assert even_out_rate(flight).notices == ()


def test_places_rounded_to_more_than_was_flown_show_no_rate() -> None:
    """In 40 s at 60 m/s two places a kilometre apart: nothing is left to read a speed from."""
    at_s = np.arange(40.0)
    lat = np.round(48.004 + 60.0 * at_s / 111_195.0, 2)
    flight = RawFlight(at_s, lat, np.full(40, 11.0), channels={"ground_speed_kt": np.full(40, 117.0)})
    assert even_out_rate(flight).notices == ()


def test_a_clock_that_wanders_is_no_rate(tmp_path: Path) -> None:
    """Rows a second apart, their places taken up to seconds early or late: speeds swing by more than any rate."""
    rng = np.random.default_rng(8)
    rows = np.clip(np.arange(1200) + np.round(rng.normal(0.0, 3.0, 1200)).astype(int), 0, 1199)
    track = _read(tmp_path, FLIGHT.time_s, rows)
    assert not codes(track) & {"time-accelerated", "time-paused", "time-lost"}


def test_a_speed_that_changes_as_an_aircraft_can_is_no_accelerated_time(tmp_path: Path) -> None:
    # Twice as fast in the end, but over two minutes.
    steps = np.interp(np.arange(1199), [400, 520], [1.0, 0.5]) * np.diff(FLIGHT.time_s)
    clock = FLIGHT.time_s[0] + np.concatenate([[0.0], np.cumsum(steps)])
    track = _read(tmp_path, clock)
    assert track.seams == ()
    assert "time-accelerated" not in codes(track)


def test_who_turns_round_in_the_wind_behind_a_hole_flies_no_accelerated_time() -> None:
    """107 kt against 35 kt of wind, then 50 s unseen with a turn in them, then with the wind: twice as fast."""
    rows = np.arange(240)
    speed_mps = np.where(rows < 120, 72.0, 142.0) * 0.5144
    for hole_s, said in ((0.0, ["time-accelerated"]), (50.0, [])):
        time_s = rows + np.where(rows < 120, 0.0, hole_s)
        lon = np.cumsum(np.where(rows < 120, speed_mps, -speed_mps)) / 111_194.9
        flight = RawFlight(time_s=time_s, lat_deg=np.zeros(240), lon_deg=lon, dated=False, channels={})
        assert [notice.code for notice in even_out_rate(flight).notices] == said


@pytest.mark.parametrize("off_s", [60.0, 600.0, -60.0, -3600.0])
def test_one_wrong_time_is_mended_and_named(tmp_path: Path, off_s: float) -> None:
    clock = FLIGHT.time_s.copy()
    clock[700] += off_s
    track = _read(tmp_path, clock)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s - FLIGHT.time_s[0], atol=1e-3)
    (said,) = [notice.message for notice in track.notices if notice.code == "time-spike"]
    assert "sample 701" in said
    assert not codes(track) & {"time-set-back", "time-backward", "time-leap"}


def test_a_clock_set_back_for_good_is_no_spike_and_its_samples_are_named(tmp_path: Path) -> None:
    clock = FLIGHT.time_s - np.where(np.arange(1200) >= 700, 60.0, 0.0)
    track = _read(tmp_path, clock)
    assert "time-spike" not in codes(track)
    (said,) = [notice.message for notice in track.notices if notice.code == "time-set-back"]
    assert "sample 701" in said


def test_samples_early_along_the_track_are_left_out_and_make_no_second_flight(tmp_path: Path) -> None:
    """A feed whose clock slipped writes places that the aircraft reached seconds later, then waits for it there."""
    rows = np.arange(1200)
    for place in range(100, 1100, 60):
        rows[place : place + 6] = place + 6
    track = _read(tmp_path, FLIGHT.time_s, rows)
    assert track.samples > 1080
    speed = np.hypot(np.diff(track.lat_deg) * 111_195.0, np.diff(track.lon_deg) * 75_000.0) / np.diff(
        track.time_s
    )
    assert speed.max() < 2.0 * np.median(speed)


def test_every_second_row_seconds_late_makes_no_second_aircraft(tmp_path: Path) -> None:
    """As where two sources of one aircraft, one of them slower, are written into one log."""
    rows = np.arange(1200)
    late = np.where((rows % 2 == 0) & (rows >= 300) & (rows < 900), 14.0, 0.0)
    places = [np.interp(FLIGHT.time_s - late, FLIGHT.time_s, v) for v in (FLIGHT.lat, FLIGHT.lon)]
    text = table(["time", "lat", "lon"], numbers(EPOCH + FLIGHT.time_s, 3), *(numbers(v, 7) for v in places))
    (tmp_path / "two.csv").write_text(text, encoding="utf-8")
    (track,) = read_log(tmp_path / "two.csv")
    assert track.samples > 900 and "position-spike" in codes(track)


@pytest.mark.parametrize("every_s", [30, 60])
def test_a_feed_that_lags_and_catches_up_tells_one_flight(tmp_path: Path, every_s: int) -> None:
    """It falls behind by a tenth and leaps on along its own track, kilometres an hour no aircraft flies."""
    lag = np.arange(1200) % every_s / 10.0
    places = [np.interp(FLIGHT.time_s - lag, FLIGHT.time_s, v) for v in (FLIGHT.lat, FLIGHT.lon)]
    text = table(["time", "lat", "lon"], numbers(EPOCH + FLIGHT.time_s, 3), *(numbers(v, 7) for v in places))
    path = tmp_path / "lagging.csv"
    path.write_text(text if isinstance(text, str) else text.decode(), encoding="utf-8")
    (track,) = read_log(path)
    assert track.samples == 1200
    assert "position-jump" not in codes(track)
    assert track.errors.time_jitter_s > 0.5


@pytest.mark.parametrize("lost_s", [1.0, 18.0])
def test_time_that_the_clock_did_not_count_is_put_in(tmp_path: Path, lost_s: float) -> None:
    """A leap second written twice, or GPS time turned into UTC in flight by a recorder that drops what repeats."""
    keep = (FLIGHT.time_s <= 500.0) | (FLIGHT.time_s > 500.0 + lost_s)
    rows = np.flatnonzero(keep)
    clock_s = FLIGHT.time_s - np.where(FLIGHT.time_s > 500.0, lost_s, 0.0)
    track = _read(tmp_path, clock_s[rows], rows)
    np.testing.assert_allclose(np.diff(track.time_s).sum(), np.ptp(FLIGHT.time_s), atol=0.3)
    (seam,) = track.seams
    assert seam.time_s == pytest.approx(500.0 + 0.5 * lost_s, abs=1.0)
    assert seam.removed_s == pytest.approx(-lost_s, abs=0.3)
    (said,) = [notice.message for notice in track.notices if notice.code == "time-lost"]
    assert "sample 501" in said


def test_a_receiver_that_steps_again_and_again_lost_no_time(tmp_path: Path) -> None:
    rows = np.arange(1200)
    lost = np.zeros(1200)
    for at in range(200, 1200, 200):
        lost[at:] += 1.0
    track = _read(tmp_path, FLIGHT.time_s - lost, rows)
    assert "time-lost" not in codes(track)


def test_a_flight_that_gets_nowhere_loses_no_time() -> None:
    """There and back between two coarse places in four steps: no way, and so no direction to go on in."""
    lat = 48.0 + np.cumsum(np.tile([0.001, -0.001, 0.001, -0.001, 0.002], 40))
    flight = RawFlight(
        time_s=np.arange(200.0), lat_deg=lat, lon_deg=np.full(200, 8.0), dated=False, channels={}
    )
    assert put_in_lost_time(flight).notices == ()


def test_a_flight_that_goes_on_somewhere_else_is_another_flight_and_that_is_said(tmp_path: Path) -> None:
    rows = np.concatenate([np.arange(700), np.arange(300, 1200)])
    time_s = np.arange(rows.size) * 1.0
    text = table(
        ["time", "lat", "lon"],
        numbers(EPOCH + time_s, 3),
        *(numbers(v[rows], 7) for v in (FLIGHT.lat, FLIGHT.lon)),
    )
    path = tmp_path / "moved.csv"
    path.write_text(text if isinstance(text, str) else text.decode(), encoding="utf-8")
    first, second = read_log(path)
    assert (first.samples, second.samples) == (700, 900)
    for track in (first, second):
        (said,) = [notice.message for notice in track.notices if notice.code == "position-jump"]
        assert "After 700 samples" in said

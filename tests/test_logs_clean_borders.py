"""Just inside and just outside, of the cleaner: clocks, pauses, positions and flights, each rule by its own numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.logs.channels import carry_values
from analyser.logs.clock_faults import doubtful_date, drop_duplicates, order_clock
from analyser.logs.flight_time import even_out_rate, put_in_lost_time, take_out_pauses
from analyser.logs.flights import apart_at_one_time, concatenated, joined, parted_by_holes
from analyser.logs.positions import are_swapped, drop_held, drop_impossible, parted
from analyser.logs.raw import RawFlight
from analyser.logs.times import offset_seconds

#: A degree of latitude at 48° north is about 111,190 m (WGS84).
METRE_DEG = 1.0 / 111_190.0


def straight(
    samples: int = 200, speed_mps: float = 60.0, start_s: float = 0.0, lat: float = 48.0
) -> RawFlight:
    """Fly north at a steady speed, a sample a second."""
    time_s = start_s + np.arange(float(samples))
    place = lat + np.arange(samples) * speed_mps * METRE_DEG
    return RawFlight(time_s, place, np.full(samples, 11.0))


def codes(flight: RawFlight) -> list[str]:
    return [notice.code for notice in flight.notices]


def moved(flight: RawFlight, rows: slice, north_m: float = 0.0, east_m: float = 0.0) -> RawFlight:
    """Put some samples elsewhere."""
    lat, lon = flight.lat_deg.copy(), flight.lon_deg.copy()
    lat[rows] += north_m * METRE_DEG
    lon[rows] += east_m * METRE_DEG / np.cos(np.radians(48.0))
    return replace(flight, lat_deg=lat, lon_deg=lon)


@pytest.mark.parametrize("count", [1, 5])
def test_a_few_wrong_times_are_put_between_their_neighbours(count: int) -> None:
    flight = straight()
    time_s = flight.time_s.copy()
    time_s[80 : 80 + count] += 700.0
    mended = order_clock(replace(flight, time_s=time_s))
    np.testing.assert_allclose(mended.time_s, flight.time_s)
    assert codes(mended) == ["time-spike"] and "by up to 700 s" in mended.notices[0].message
    where = "sample 81" if count == 1 else "samples 81 to 85"
    assert f"({where})" in mended.notices[0].message


def test_samples_written_late_are_sorted() -> None:
    flight = straight()
    order = np.arange(200)
    order[50:53] = [52, 50, 51]
    sorted_ = order_clock(flight.take(order))
    np.testing.assert_array_equal(sorted_.time_s, flight.time_s)
    np.testing.assert_array_equal(sorted_.lat_deg, flight.lat_deg)
    assert codes(sorted_) == ["time-backward"]


@pytest.mark.parametrize("back_s", [100.0, 3600.0])
def test_a_clock_set_back_in_flight_is_rebased(back_s: float) -> None:
    flight = straight()
    set_back = replace(flight, time_s=flight.time_s - back_s * (np.arange(200) >= 120))
    mended = order_clock(set_back)
    np.testing.assert_allclose(np.diff(mended.time_s), 1.0, atol=0.05)
    assert mended.time_s[-1] == pytest.approx(flight.time_s[-1] - back_s)
    assert codes(mended) == ["time-set-back"] and "set back once" in mended.notices[0].message


@pytest.mark.parametrize(
    ("lost_s", "speed_mps", "east_m", "joined"),
    [(20, 60.0, 0.0, True), (80, 60.0, 0.0, True), (100, 60.0, 0.0, False), (20, 60.0, 1000.0, True),
     (20, 60.0, 3000.0, False), (40, 14.0, 0.0, True), (40, 12.0, 0.0, False)],
)  # fmt: skip
def test_a_recorder_that_was_started_anew_finds_its_aircraft_ahead(
    lost_s: int, speed_mps: float, east_m: float, joined: bool
) -> None:
    """Its clock begins again: one flight with a hole, which lasts as long as the way across takes, and is not timed."""
    flight = straight(300, speed_mps=speed_mps)
    rows = np.r_[0:100, 100 + lost_s : 300]
    restarted = moved(flight, slice(100 + lost_s, None), east_m=east_m).take(rows)
    restarted.time_s[100:] -= restarted.time_s[100] - restarted.time_s[0]
    mended = order_clock(restarted)
    assert (codes(mended) == ["time-set-back"]) == joined
    assert codes(mended) == ["time-set-back"] or codes(mended) == ["time-backward"]
    if joined:
        across_s = np.hypot(speed_mps * (lost_s + 1), east_m) / speed_mps
        assert np.diff(mended.time_s)[99] == pytest.approx(across_s, abs=0.2)
        (seam,) = mended.seams
        assert seam.time_s == mended.time_s[100] and seam.removed_s < 0.0


def test_a_recorder_that_falls_back_to_its_first_day_keeps_the_date_it_had() -> None:
    flight = straight(start_s=1_700_000_000.0)
    restarted = replace(flight, time_s=flight.time_s - 1_700_000_000.0 * (np.arange(200) >= 120))
    mended = order_clock(restarted)
    assert codes(mended) == ["time-set-back"]
    assert mended.time_s[0] == flight.time_s[0]
    np.testing.assert_allclose(np.diff(mended.time_s), 1.0, atol=0.05)


def test_an_hour_too_much_is_taken_out_of_places_that_are_rounded_to_more_than_a_step() -> None:
    flight = straight()
    flight = replace(flight, lat_deg=np.round(flight.lat_deg, 3), lon_deg=np.round(flight.lon_deg, 3))
    stood = int(np.flatnonzero(flight.moved_m[100:150] == 0.0)[0]) + 101
    leapt = order_clock(replace(flight, time_s=flight.time_s + 3600.0 * (np.arange(200) >= stood)))
    assert codes(leapt) == ["time-leap"] and leapt.time_s[-1] - leapt.time_s[0] < 250.0


@pytest.mark.parametrize(("leap_s", "taken"), [(1100.0, False), (1300.0, True), (1024 * 604_800.0, True)])
def test_leaps_of_the_clock(leap_s: float, taken: bool) -> None:
    flight = straight()
    leapt = order_clock(replace(flight, time_s=flight.time_s + leap_s * (np.arange(200) >= 120)))
    assert (codes(leapt) == ["time-leap"]) == taken
    assert (leapt.time_s[-1] - leapt.time_s[0] < 250.0) == taken
    assert ("1,024 weeks" in "".join(n.message for n in leapt.notices)) == (leap_s > 1e6)


def test_equal_times_keep_the_first() -> None:
    flight = straight()
    doubled = flight.take(np.sort(np.concatenate([np.arange(200), [20, 20, 90]])))
    kept = drop_duplicates(doubled)
    np.testing.assert_array_equal(kept.time_s, flight.time_s)
    assert kept.notices[0].message == "3 samples repeat a time already there; the first of each was kept."
    coarse = drop_duplicates(replace(flight, time_s=np.floor(flight.time_s / 4.0) * 4.0))
    assert coarse.samples == 50 and codes(coarse) == ["time-coarse"]
    assert "150 samples repeat the time before them" in coarse.notices[0].message


def test_dates_that_are_doubted() -> None:
    now, day = 1_780_000_000.0, 86_400.0
    week = 1024 * 7 * day
    doubts = {
        631_151_999.0: "date-impossible",  # 1989-12-31T23:59:59Z
        631_152_001.0: None,
        now + 2 * day - 60.0: None,
        now + 2 * day + 60.0: "date-impossible",
        now - week - 10 * day: "date-old",
        now - week - 3 * 365 * day - day: None,
        now - week + 2 * day: None,
    }
    for start, code in doubts.items():
        found = doubtful_date(start, now)
        assert (found.code if found else None) == code, start


def _stopped(pause_s: float, rows: bool, onward_m: float = 60.0) -> RawFlight:
    """Stand still in the middle of a flight, with a row a second or without any."""
    one, two = straight(100), straight(100, start_s=100.0 + pause_s)
    two = replace(two, lat_deg=two.lat_deg + one.lat_deg[-1] - 48.0 + onward_m * METRE_DEG)
    still = np.arange(1.0, pause_s) if rows else np.empty(0)
    between = RawFlight(99.0 + still, np.full(still.size, one.lat_deg[-1]), np.full(still.size, 11.0))
    return concatenated([one, between, two])


@pytest.mark.parametrize("rows", [True, False])
@pytest.mark.parametrize(("pause_s", "taken"), [(2.0, False), (6.0, True), (400.0, True)])
def test_pauses_are_taken_out(rows: bool, pause_s: float, taken: bool) -> None:
    flown = take_out_pauses(_stopped(pause_s, rows))
    assert (codes(flown) == ["time-paused"]) == taken
    if taken:
        assert flown.samples == 200
        np.testing.assert_allclose(np.diff(flown.time_s), 1.0, atol=0.1)
        (seam,) = flown.seams
        assert (seam.time_s, seam.removed_s) == (99.0, pytest.approx(pause_s, abs=0.1))


def test_who_flies_on_elsewhere_did_not_pause() -> None:
    """After 60 s the aircraft is where it could have flown to: nothing was recorded, and time went on."""
    assert codes(take_out_pauses(_stopped(60.0, False, onward_m=61 * 60.0))) == []
    slow = _stopped(60.0, True)
    # 20 m/s is 39 kt: slower than any aeroplane holds, so it may well have stopped.
    assert codes(take_out_pauses(replace(slow, lat_deg=48.0 + (slow.lat_deg - 48.0) / 3.0))) == []


@pytest.mark.parametrize(("noise_m", "put_in"), [(2.0, True), (6.0, False)])
def test_a_long_step_among_places_that_jump_as_far_is_no_lost_time(noise_m: float, put_in: bool) -> None:
    """48 m more than the 60 m of a step: 17 sigmas of one between places 2 m off, less than 6 at 6 m."""
    rng = np.random.default_rng(4)
    noise = rng.normal(0.0, noise_m, (2, 400))
    # Even where the step is: it is told by the flight's noise, and not by luck.
    noise[:, 190:211] = 0.0
    north_m = np.where(np.arange(400) >= 200, 48.0, 0.0) + noise[0]
    noisy = moved(straight(400), slice(None), north_m=north_m, east_m=noise[1])
    assert (codes(put_in_lost_time(noisy)) == ["time-lost"]) == put_in


@pytest.mark.parametrize(("lost_s", "put_in"), [(0.4, False), (1.0, True), (2.0, True)])
def test_time_that_a_clock_did_not_count(lost_s: float, put_in: bool) -> None:
    flight = straight(200)
    late = moved(flight, slice(100, None), north_m=lost_s * 60.0)
    mended = put_in_lost_time(late)
    assert (codes(mended) == ["time-lost"]) == put_in
    if put_in:
        assert mended.time_s[-1] == pytest.approx(199.0 + lost_s, abs=0.05)
        assert mended.seams[0].removed_s == pytest.approx(-lost_s, abs=0.05)


@pytest.mark.parametrize(("rate", "stretched"), [(1.3, False), (2.0, True), (4.0, True)])
def test_time_that_ran_faster(rate: float, stretched: bool) -> None:
    steps = np.where((np.arange(400) >= 150) & (np.arange(400) < 250), rate, 1.0) * 60.0
    flight = replace(straight(400), lat_deg=48.0 + np.cumsum(steps) * METRE_DEG)
    even = even_out_rate(flight)
    assert (codes(even) == ["time-accelerated"]) == stretched
    if stretched:
        assert even.time_s[-1] == pytest.approx(399.0 + 100.0 * (rate - 1.0), abs=2.0 * rate)
        assert f"{rate:g} times as fast" in even.notices[0].message
        assert sum(seam.removed_s for seam in even.seams) == pytest.approx(
            -100.0 * (rate - 1.0), abs=2.0 * rate
        )


@pytest.mark.parametrize(("off_m", "gone"), [(50.0, 0), (400.0, 1)])
def test_a_sample_beside_the_path(off_m: float, gone: int) -> None:
    (flight,) = parted(moved(straight(), slice(100, 101), east_m=off_m), "a.csv")
    assert flight.samples == 200 - gone
    assert codes(flight) == ["position-spike"] * bool(gone)


@pytest.mark.parametrize(("rows", "flights"), [(15, 1), (60, 2)])
def test_stretches_elsewhere_are_faults_or_flights(rows: int, flights: int) -> None:
    """Shorter than half a minute and 20 samples it is the receiver; longer it is another flight."""
    found = parted(moved(straight(300), slice(100, 100 + rows), east_m=60_000.0), "a.csv")
    assert len(found) == flights
    assert sum(flight.samples for flight in found) == 300 - (rows if flights == 1 else 0)


def test_a_reposition_begins_another_flight() -> None:
    one, two = parted(moved(straight(300), slice(150, None), north_m=40_000.0), "a.csv")
    assert (one.samples, two.samples) == (150, 150)
    assert codes(one) == codes(two) == ["position-jump"]
    assert "After 150 samples the position jumps by 21.6 NM within 1 s" in one.notices[0].message


def test_where_one_of_many_held_positions_may_be_rounded_each_keeps_its_own_time() -> None:
    """Places to four decimals are 11 m apart: at 60 m/s no rounding holds one for five rows, at a crawl for two."""
    flight = straight()
    rows = np.arange(200)
    held = np.round(flight.lat_deg[np.where(rows < 150, rows // 5 * 5, rows)], 4)
    held[190] = held[189]
    kept = drop_held(replace(flight, lat_deg=held))
    assert codes(kept) == ["position-frozen"]
    assert set(kept.time_s.tolist()) <= set(flight.time_s.tolist())


@pytest.mark.parametrize(("every", "code"), [(2, "position-held"), (5, "position-frozen")])
def test_positions_that_are_held(every: int, code: str) -> None:
    flight = straight()
    held = replace(flight, lat_deg=flight.lat_deg[(np.arange(200) // every) * every])
    kept = drop_held(held)
    assert kept.samples == 200 // every and codes(kept) == [code]
    np.testing.assert_array_equal(kept.time_s, flight.time_s[::every])
    taxiing = replace(held, lat_deg=48.0 + (held.lat_deg - 48.0) / 6.0)
    assert drop_held(taxiing).samples == 200, "10 m/s is no flight"


def test_positions_that_are_none() -> None:
    flight = straight(100)
    lat, lon, time_s = flight.lat_deg.copy(), flight.lon_deg.copy(), flight.time_s.copy()
    lat[3], lon[4], lon[5] = 90.5, 361.0, -361.0
    lat[[10, 11]] = lon[[10, 11]] = 0.009
    lat[12] = lon[12] = 0.011
    time_s[20] = np.nan
    lon[30] = np.nan
    left = drop_impossible(replace(flight, lat_deg=lat, lon_deg=lon, time_s=time_s), "a.csv")
    assert left.samples == 100 - 7
    said = {notice.code: notice.message.split(" ")[0] for notice in left.notices}
    assert said == {"time-missing": "1", "position-out-of-range": "3", "position-zero": "2"}
    lat[30:34] = np.nan
    left = drop_impossible(replace(flight, lat_deg=lat, lon_deg=lon, time_s=time_s), "a.csv")
    assert "4 samples have no position" in "".join(notice.message for notice in left.notices)
    for counted_on in (350.0, -10.0):
        far = drop_impossible(replace(flight, lon_deg=np.full(100, counted_on)), "a.csv")
        np.testing.assert_allclose(far.lon_deg, -10.0)
    far = drop_impossible(replace(flight, lon_deg=np.full(100, -350.0)), "a.csv")
    np.testing.assert_allclose(far.lon_deg, 10.0)


def test_what_is_swapped() -> None:
    flight = straight(50)
    assert are_swapped(np.full(50, 110.0), flight.lat_deg)
    for lat, lon in ((48.0, 110.0), (89.0, 11.0), (181.0, 11.0), (110.0, 91.0), (110.0, 0.0)):
        assert not are_swapped(np.full(50, lat), np.full(50, lon))
    assert not are_swapped(np.linspace(100.0, 130.0, 50), flight.lon_deg), "no flight is so long"


@pytest.mark.parametrize(("gap_s", "flights"), [(590.0, 1), (610.0, 2)])
def test_pauses_of_a_recorder_are_joined(gap_s: float, flights: int) -> None:
    first = straight(100)
    later = straight(100, start_s=99.0 + gap_s, lat=float(first.lat_deg[-1]))
    assert len(joined([later, first])) == flights
    assert len(joined([first, replace(later, aircraft="another")])) == 2


@pytest.mark.parametrize(("metres", "flights"), [(3_400.0, 1), (3_700.0, 2)])
def test_pauses_are_joined_within_reach(metres: float, flights: int) -> None:
    """300 m/s for 10 s and 500 m."""
    first = straight(100)
    later = straight(100, start_s=109.0, lat=float(first.lat_deg[-1]) + metres * METRE_DEG)
    assert len(joined([first, later])) == flights


@pytest.mark.parametrize(
    ("rows", "metres", "flights"), [(25, 2_500.0, 2), (25, 1_500.0, 1), (15, 2_500.0, 1)]
)
def test_two_aircraft_at_one_time(rows: int, metres: float, flights: int) -> None:
    flight = straight(200)
    twice = flight.take(np.sort(np.concatenate([np.arange(200), np.arange(rows)])))
    again = np.flatnonzero(np.diff(twice.time_s) == 0.0) + 1
    lon = twice.lon_deg.copy()
    lon[again] += metres * METRE_DEG / np.cos(np.radians(48.0))
    assert len(apart_at_one_time(replace(twice, lon_deg=lon))) == flights


@pytest.mark.parametrize(("gap_s", "flights"), [(1799.0, 1), (1801.0, 2)])
def test_holes_of_half_an_hour(gap_s: float, flights: int) -> None:
    assert len(parted_by_holes(concatenated([straight(50), straight(50, start_s=49.0 + gap_s)]))) == flights


@pytest.mark.parametrize(
    ("metres", "samples", "flights"), [(20.0, 200, 1), (40.0, 200, 2), (0.0, 8, 1), (0.0, 12, 1)]
)
def test_one_flight_told_twice(metres: float, samples: int, flights: int) -> None:
    flight = straight(200)
    again = replace(flight.take(np.arange(samples)), label="again")
    again = replace(again, lat_deg=again.lat_deg + metres * METRE_DEG)
    kept = joined([flight, again])
    assert len(kept) == flights
    if flights == 1:
        assert kept[0].samples == 200 and f"'again' ({samples} samples)" in kept[0].notices[0].message


def test_of_two_heights_the_pressure_altitude_is_kept() -> None:
    gnss, pressure = (
        replace(straight(), label="GNSS altitude"),
        replace(straight(), label="Pressure altitude"),
    )
    assert [flight.label for flight in joined([gnss, pressure])] == ["Pressure altitude"]


@pytest.mark.parametrize(("every", "filled"), [(2, True), (5, False)])
def test_values_between_positions_are_brought_to_them(every: int, filled: bool) -> None:
    """Up to two intervals of the positions; beyond, a value goes to the nearest position only."""
    rows = np.arange(400)
    is_place, is_value = rows % 2 == 0, rows % (2 * every) == 1
    lat = np.where(is_place, 48.0 + rows * 30.0 * METRE_DEG, np.nan)
    heading = np.where(is_value, (rows * 2.0) % 360.0, np.nan)
    flight = RawFlight(
        rows * 0.5, lat, np.where(is_place, 11.0, np.nan), channels={"heading_true_deg": heading}
    )
    carried = carry_values(flight)
    got = carried.channels["heading_true_deg"][is_place][2:-6]
    assert np.isfinite(got).all() == filled
    if filled:
        away = (got - rows[is_place][2:-6] * 2.0 + 180.0) % 360.0 - 180.0
        assert np.abs(away).max() < 1e-9
    assert "true heading was brought" in carried.notices[0].message


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        *(("+02:00", 2.0), ("-0800", -8.0), ("UTC+2", 2.0), ("GMT-3:30", -3.5), ("CEST", 2.0), ("PST", -8.0)),
        *(
            ("EST", -5.0),
            ("EDT", -4.0),
            ("CDT", -5.0),
            ("CST", -6.0),
            ("MST", -7.0),
            ("MDT", -6.0),
            ("PDT", -7.0),
        ),
        *(("WEST", 1.0), ("EET", 2.0), ("EEST", 3.0), ("MESZ", 2.0), ("MEZ", 1.0), ("Z", 0.0), ("5.5", 5.5)),
        *(("120", 2.0), ("7200", 2.0), ("0530", 5.5), ("-5", -5.0), ("+14:00", 14.0), ("Asia/Kolkata", 5.5)),
    ],
)
def test_offsets_from_utc(text: str, hours: float) -> None:
    """RFC 5322 (4.3) for the names of North America; India is 5 h 30 min ahead."""
    import pandas as pd

    found = offset_seconds(pd.Series([text, text], dtype=object), None, np.array([1.77e9, 1.77e9]))
    np.testing.assert_array_equal(found, hours * 3600.0)


@pytest.mark.parametrize("text", ["+15:00", "somewhere", "", "7"])
def test_what_is_no_offset(text: str) -> None:
    import pandas as pd

    found = offset_seconds(pd.Series([text], dtype=object), None, np.array([1.77e9]))
    assert np.isnan(found[0]) == (text != "7")


@pytest.mark.parametrize(("moved", "code"), [(0.4, "time-duplicate"), (0.6, "time-coarse")])
def test_a_clock_is_coarse_where_most_samples_repeat_a_time(moved: float, code: str) -> None:
    flight = straight()
    repeats = np.zeros(200, bool)
    repeats[1 : 1 + round(moved * 200)] = True
    assert codes(drop_duplicates(replace(flight, time_s=np.where(repeats, 0.0, flight.time_s)))) == [code]

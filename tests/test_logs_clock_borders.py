"""Time that was not flown, clocks that leap, and how a track errs: each limit, just inside it and just outside.

Along the equator at 60 m/s, a row a second, unless the test asks for something else; one thing is wrong at a time.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.logs.clean import holes_of
from analyser.logs.clock_faults import doubtful_date, drop_duplicates, order_clock
from analyser.logs.flight_time import even_out_rate, put_in_lost_time, take_out_pauses
from analyser.logs.movement import usual_sideways
from analyser.logs.positions import drop_coasted, parted
from analyser.logs.raw import RawFlight
from analyser.logs.track import Seam
from analyser.logs.track_errors import decimal_step, robust_sigma, rounded_to_m

#: A degree of longitude on the equator, metres: the circle of WGS84's equatorial radius.
DEGREE_M = 6_378_137.0 * np.pi / 180.0
SPEED = 60.0


def flight(time_s: np.ndarray, steps_m: np.ndarray, *, dated: bool = False) -> RawFlight:
    """Lay a flight along the equator: so many metres, east as real and north as imaginary part, from row to row."""
    place = np.concatenate([[0.0], np.cumsum(steps_m)])
    # A degree of latitude there is shorter by the square of the eccentricity.
    lat = place.imag / (DEGREE_M * (1.0 - 6.694379990141e-3))
    # No round latitude: nothing is rounded here.
    return RawFlight(np.asarray(time_s, float), 0.123456789 + lat, place.real / DEGREE_M, dated=dated)


def paused(
    lasted_s: float, flown_s: float = 1.0, *, step_s: float = 1.0, turned_deg: float = 0.0, faster: float = 1.0,
    beside_m: float = 0.0, speed: float = SPEED,
) -> RawFlight:  # fmt: skip
    """Fly thirty steps, nothing for so long, and thirty more; the long step covers so many seconds' way."""
    steps = np.full(61, speed * step_s, dtype=complex)
    steps[30] = speed * flown_s + 1j * beside_m
    steps[31:] *= faster * np.exp(1j * np.radians(turned_deg))
    took = np.full(61, step_s)
    took[30] = lasted_s
    return flight(np.concatenate([[0.0], np.cumsum(took)]), steps)


@pytest.mark.parametrize(
    ("raw", "out"),
    [
        # A stutter is shorter than four seconds, or than three and a half usual intervals.
        (paused(4.3, 1.0), True),
        (paused(3.8, 1.0), False),
        (paused(7.3, 2.0, step_s=2.0), True),
        (paused(6.8, 2.0, step_s=2.0), False),
        # After half an hour it is another flight.
        (paused(1790.0), True),
        (paused(1810.0), False),
        # Less than three tenths of the way, and no more than four intervals', was covered.
        (paused(10.0, 2.9), True),
        (paused(10.0, 3.1), False),
        (paused(60.0, 3.9), True),
        (paused(60.0, 4.1), False),
        (paused(60.0, -0.4), True),
        (paused(60.0, -0.6), False),
        # It flies on in the same direction, or turned on for two intervals at four degrees a second.
        (paused(30.0, turned_deg=19.5), True),
        (paused(30.0, turned_deg=-19.5), True),
        (paused(30.0, turned_deg=20.5), False),
        (paused(30.0, step_s=5.0, turned_deg=51.0), True),
        (paused(30.0, step_s=5.0, turned_deg=53.0), False),
        # … at the same speed, to 15 %.
        (paused(30.0, faster=1.14), True),
        (paused(30.0, faster=1.16), False),
        (paused(30.0, faster=0.84), False),
        # … from its own track: 30 m, a tenth of what it covered, and what a turn takes it aside in an interval.
        (paused(30.0, beside_m=38.0), True),
        (paused(30.0, beside_m=40.0), False),
        # And it flew: fifty knots are 25.7 m/s.
        (paused(30.0, speed=26.5), True),
        (paused(30.0, speed=25.0), False),
    ],
)  # fmt: skip
def test_a_pause_is_what_no_aircraft_flies(raw: RawFlight, out: bool) -> None:
    flown = take_out_pauses(raw)
    assert bool(flown.seams) == out
    if out:
        # What is left is what the way over the long step takes, half an interval at least.
        covered_s = max(float(raw.moved_m[30]) / float(np.median(raw.speed_mps)), 0.5 * raw.usual_step_s)
        lost_s = float(raw.steps_s[30]) - covered_s
        assert flown.seams[0].removed_s == pytest.approx(lost_s, rel=0.1, abs=0.15)
        assert flown.seams[0].time_s == raw.time_s[30]
        assert flown.time_s[-1] == pytest.approx(raw.time_s[-1] - flown.seams[0].removed_s)


@pytest.mark.parametrize(("creeps", "out"), [(0.025, True), (0.035, False)])
def test_rows_that_creep_on_by_less_than_a_thirtieth_of_a_step_stand(creeps: float, out: bool) -> None:
    steps = np.full(80, SPEED, dtype=complex)
    steps[30:50] *= creeps
    flown = take_out_pauses(flight(np.arange(81.0), steps))
    assert bool(flown.seams) == out
    assert flown.samples == (61 if out else 81)


def test_a_pause_is_one_where_the_row_before_it_was_put_back_to_the_very_place_of_another() -> None:
    """Two rows that creep on stand; between the two that are left lies no way, and so no direction."""
    steps, took = np.full(80, SPEED, dtype=complex), np.ones(80)
    steps[30:33] = 1.5, 1.5, -3.0
    took[33] = 31.0
    (seam,) = take_out_pauses(flight(np.concatenate([[0.0], np.cumsum(took)]), steps)).seams
    assert seam.removed_s == pytest.approx(30.0, abs=1.0)


def test_two_pauses_are_two_seams_each_on_the_clock_of_what_was_flown() -> None:
    took = np.ones(100)
    took[[30, 60]] = 21.0, 41.0
    flown = take_out_pauses(flight(np.concatenate([[0.0], np.cumsum(took)]), np.full(100, SPEED + 0j)))
    assert [seam.time_s for seam in flown.seams] == pytest.approx([30.0, 60.0], abs=0.5)
    assert [seam.removed_s for seam in flown.seams] == pytest.approx([20.0, 40.0], abs=0.5)
    assert flown.time_s[-1] == pytest.approx(100.0, abs=1.0)
    assert "2 pauses of 60 s in all, after sample 31 (20 s), sample 61 (40 s)" in flown.notices[0].message


def jumping(
    times: float = 1.0, *, aside_deg: float = 0.0, uneven: float = 0.0, often: int = 1, noise_m: float = 0.0,
    took_s: float = 1.0,
) -> RawFlight:  # fmt: skip
    """Fly evenly, but for steps that cover so many times the usual way in their time."""
    steps = np.full(120, SPEED, dtype=complex) * (1.0 + uneven * np.where(np.arange(120) % 2, 1.0, -1.0))
    at = 40 + 15 * np.arange(often)
    took = np.ones(120)
    took[at] = took_s
    steps[at] = SPEED * took_s * times * np.exp(1j * np.radians(aside_deg))
    steps = steps + np.diff(np.random.default_rng(2).normal(0.0, noise_m, (2, 121)), axis=1).T @ np.array(
        [1.0, 1.0j]
    )
    return flight(np.concatenate([[0.0], np.cumsum(took)]), steps)


@pytest.mark.parametrize("taxied_mps", [8.0, 25.0, 40.0])
def test_time_that_was_lost_in_flight_is_put_in_however_fast_the_log_begins(taxied_mps: float) -> None:
    """A minute of taxiing, or of a slow climb; then 60 m/s, and one step that covers two seconds' way."""
    steps = np.full(240, SPEED, dtype=complex)
    steps[:60] = taxied_mps
    steps[60:100] = np.linspace(taxied_mps, SPEED, 40)
    steps[170] = 2.0 * SPEED
    found = put_in_lost_time(flight(np.arange(241.0), steps))
    assert found.time_s[-1] == pytest.approx(241.0, abs=0.05) and len(found.seams) == 1


@pytest.mark.parametrize(
    ("raw", "put_in_s"),
    [
        (jumping(1.65), 0.65),
        (jumping(1.55), None),
        (jumping(4.0), 3.0),
        # On an even path, alike to 12 % from the slowest step to the quickest, and straight on to 8°.
        (jumping(2.0, uneven=0.055), 1.0),
        (jumping(2.0, uneven=0.065), None),
        (jumping(2.0, aside_deg=7.5), 1.0),
        (jumping(2.0, aside_deg=-7.5), 1.0),
        (jumping(2.0, aside_deg=8.5), None),
        # In the usual time.
        (jumping(2.0, took_s=1.1), 1.1),
        (jumping(2.0, took_s=1.14), None),
        # A receiver that steps again and again lost no time.
        (jumping(2.0, often=3), 1.0),
        (jumping(2.0, often=4), None),
        # Places that scatter by four metres make a step of six times its scatter no wonder.
        (jumping(2.0, noise_m=0.5), 1.0),
        (jumping(1.65, noise_m=3.0), None),
    ],
)
def test_time_that_a_clock_did_not_count_is_what_a_step_covers_too_much(
    raw: RawFlight, put_in_s: float | None
) -> None:
    flown = put_in_lost_time(raw)
    assert bool(flown.seams) == (put_in_s is not None)
    if put_in_s is not None:
        assert [-one.removed_s for one in flown.seams] == pytest.approx(
            [put_in_s] * len(flown.seams), abs=0.1
        )
        assert flown.time_s[-1] - raw.time_s[-1] == pytest.approx(put_in_s * len(flown.seams), abs=0.3)


def faster(
    factor: float, *, rows: int = 40, every_s: float = 1.0, swings: float = 0.0, speed: float = SPEED,
    ends: bool = True, turned_deg: float = 0.0,
) -> RawFlight:  # fmt: skip
    """Fly evenly, for so many rows so many times as fast, and on as before, or not."""
    steps = np.full(160, speed * every_s, dtype=complex)
    steps[60 : 60 + rows if ends else None] *= factor
    steps *= 1.0 + swings * np.random.default_rng(5).choice([-1.0, 1.0], 160)
    steps[60:] *= np.exp(1j * np.radians(turned_deg))
    return flight(np.arange(161.0) * every_s, steps)


@pytest.mark.parametrize(
    ("raw", "rate"),
    [
        # A smaller factor may be a tailwind or a throttle.
        (faster(1.78), 2.0),
        (faster(1.66), None),
        # Within 15 % of a rate that simulators offer.
        (faster(2.28), 2.0),
        (faster(2.35), None),
        (faster(3.4), 3.0),
        (faster(16.0), 16.0),
        # Quicker than any throttle, or from one even speed to another on a straight way.
        (faster(2.0, every_s=9.0), 2.0),
        (faster(2.0, every_s=11.0), None),
        (faster(2.0, every_s=5.0, ends=False, turned_deg=40.0), 2.0),
        (faster(2.0, every_s=5.0, ends=False, turned_deg=60.0), None),
        # Speeds that swing from step to step tell none.
        (faster(3.0, swings=0.05), 3.0),
        (faster(3.0, swings=0.2), None),
        # Fewer than five rows tell none.
        (faster(3.0, rows=7), 3.0),
        (faster(3.0, rows=2), None),
        # Nor do aircraft slower than fifty knots.
        (faster(3.0, speed=27.0), 3.0),
        (faster(3.0, speed=12.0), None),
        # Whoever goes on faster to the end did so, wind allowed for.
        (faster(3.0, ends=False), 3.0),
    ],
)
def test_time_ran_faster_where_a_speed_changes_by_a_simulators_rate_and_as_no_aeroplanes(
    raw: RawFlight, rate: float | None
) -> None:
    mended = even_out_rate(raw)
    assert bool(mended.notices) == (rate is not None)
    if rate is not None:
        assert f"{rate:g} times as fast" in mended.notices[0].message
        fast = int((raw.speed_mps > 1.4 * np.median(raw.speed_mps[:30])).sum())
        put_in_s = fast * (rate - 1.0) * raw.usual_step_s
        assert mended.time_s[-1] - raw.time_s[-1] == pytest.approx(put_in_s, rel=0.1)
        assert -sum(seam.removed_s for seam in mended.seams) == pytest.approx(put_in_s, rel=0.1)


# Clocks that leap, are set back, or stand still


@pytest.mark.parametrize(
    ("leapt_s", "flown_s", "speed", "out"),
    [
        (1210.0, 1.0, SPEED, True),
        (1190.0, 1.0, SPEED, False),
        # Over no more way than four intervals, nor less than three tenths of one.
        (3600.0, 3.8, SPEED, True),
        (3600.0, 4.2, SPEED, False),
        (3600.0, 0.35, SPEED, True),
        (3600.0, 0.25, SPEED, False),
        # It was flying: 25 kt are 12.9 m/s.
        (3600.0, 1.0, 13.5, True),
        (3600.0, 1.0, 12.3, False),
    ],
)
def test_a_clock_leaps_over_twenty_minutes_and_hardly_any_way(
    leapt_s: float, flown_s: float, speed: float, out: bool
) -> None:
    ordered = order_clock(paused(leapt_s, flown_s, speed=speed))
    assert [notice.code for notice in ordered.notices] == (["time-leap"] if out else [])
    if out:
        # The end is taken for right; what the way over the leap takes is left of it.
        left_s = flown_s if flown_s > 2.0 else 1.0
        assert np.ptp(ordered.time_s) == pytest.approx(60.0 + left_s, abs=0.01)
        assert f"{leapt_s:,.0f} s" in ordered.notices[0].message


@pytest.mark.parametrize(("behind_s", "weeks"), [(0.0, True), (80_000.0, True), (90_000.0, False)])
def test_a_leap_of_1024_weeks_is_named(behind_s: float, weeks: bool) -> None:
    (notice,) = order_clock(paused(1024 * 7 * 86_400.0 + behind_s)).notices
    assert ("1,024 weeks" in notice.message) == weeks


@pytest.mark.parametrize(("wrong", "mended"), [(1, True), (5, True), (6, False)])
def test_up_to_five_wrong_times_in_a_row_are_put_between_their_neighbours(wrong: int, mended: bool) -> None:
    raw = flight(np.arange(161.0), np.full(160, SPEED + 0j))
    time_s = raw.time_s.copy()
    time_s[80 : 80 + wrong] += 300.0
    ordered = order_clock(replace(raw, time_s=time_s))
    spikes = [notice.message for notice in ordered.notices if notice.code == "time-spike"]
    assert bool(spikes) == mended
    if mended:
        assert ordered.time_s == pytest.approx(raw.time_s)
        assert "by up to 300 s" in spikes[0]
        named = "sample 81" if wrong == 1 else f"samples 81 to {80 + wrong}"
        assert named in spikes[0]


@pytest.mark.parametrize("early_s", [-1.4, 1.1, 1.9, 2.5])
def test_a_time_that_is_hardly_wrong_sets_no_clock_back_and_a_clock_set_back_lacks_that_time(
    early_s: float,
) -> None:
    true_s = np.arange(161.0)
    raw = flight(true_s, np.full(160, SPEED + 0j))
    wrong = replace(raw, time_s=np.where(true_s == 80.0, true_s - early_s, true_s))
    ordered = order_clock(wrong)
    assert [notice.code for notice in ordered.notices] == ["time-spike"]
    assert ordered.time_s == pytest.approx(true_s)
    set_back = order_clock(replace(raw, time_s=np.where(true_s >= 80.0, true_s - abs(early_s), true_s)))
    assert [notice.code for notice in set_back.notices] == ["time-set-back"]
    assert np.diff(set_back.time_s) == pytest.approx(1.0)


def test_two_neighbours_late_and_early_by_half_an_interval_set_no_clock_back() -> None:
    true_s = np.arange(0.0, 800.0, 5.0)
    shaken = true_s.copy()
    shaken[80:82] += 2.6, -2.6
    ordered = order_clock(flight(shaken, np.full(159, 5.0 * SPEED + 0j)))
    assert [notice.code for notice in ordered.notices] == ["time-spike"]
    assert ordered.time_s[:80] == pytest.approx(true_s[:80]) and ordered.time_s[82:] == pytest.approx(
        true_s[82:]
    )
    assert np.abs(ordered.time_s - true_s).max() < 5.0


@pytest.mark.parametrize(("every", "code"), [(9, "time-shaken"), (11, "time-spike")])
def test_a_clock_that_steps_back_at_more_than_a_tenth_of_the_samples_shakes(every: int, code: str) -> None:
    true_s = np.arange(450.0)
    shaken = np.where(true_s % every == 4.0, true_s - 1.5, true_s)
    ordered = order_clock(flight(shaken, np.full(449, SPEED + 0j)))
    assert [notice.code for notice in ordered.notices] == [code]
    assert code == "time-spike" or "its times shake by about 1.5 s" in ordered.notices[0].message
    # A time here and there that is off is not averaged in.
    assert ordered.time_s == pytest.approx(true_s, abs=1e-6)


def test_times_that_shake_are_averaged_over_half_a_minute_of_samples_to_either_side() -> None:
    """Each other time late, and the others as early: of sixty-one of them one more is of the one kind."""
    swing = 0.8 * (-1.0) ** np.arange(400)
    ordered = order_clock(flight(np.arange(400.0) + swing, np.full(399, SPEED + 0j)))
    assert ordered.time_s[40:-40] == pytest.approx(np.arange(40.0, 360.0) + swing[40:-40] / 61.0, abs=1e-6)
    assert "runs back at 200 samples" in ordered.notices[0].message
    assert "shake by about 1.2 s" in ordered.notices[0].message  # 0.8 s is the median of a normal of 1.2 s
    assert "averaged over 61" in ordered.notices[0].message


@pytest.mark.parametrize(("moved", "code"), [(39, "time-duplicate"), (41, "time-coarse")])
def test_a_clock_that_repeats_most_of_its_times_is_coarser_than_the_sampling(moved: int, code: str) -> None:
    step_s = np.ones(80)
    step_s[:moved] = 0.0
    raw = flight(np.concatenate([[0.0], np.cumsum(step_s)]), np.full(80, SPEED + 0j))
    kept = drop_duplicates(raw)
    assert [notice.code for notice in kept.notices] == [code]
    assert kept.samples == 81 - moved and (np.diff(kept.time_s) > 0.0).all()


DAY = 86_400.0
#: 2026-11-30 at noon, and 1990-01-01, as POSIX seconds by the calendar.
NOW, FIRST = 1_796_040_000.0, 631_152_000.0


@pytest.mark.parametrize(
    ("start_s", "code"),
    [
        (FIRST - 1.0, "date-impossible"),
        (FIRST + 1.0, None),
        (NOW + 1.9 * DAY, None),
        (NOW + 2.1 * DAY, "date-impossible"),
        # Within the three years that end now, less 1,024 weeks of seven days.
        (NOW - 1024 * 7 * DAY, "date-old"),
        (NOW - 1024 * 7 * DAY - 3 * 364.0 * DAY, "date-old"),
        (NOW - 1024 * 7 * DAY - 3 * 366.0 * DAY, None),
        (NOW - 1024 * 7 * DAY + 0.9 * DAY, "date-old"),
        (NOW - 1024 * 7 * DAY + 1.1 * DAY, None),
    ],
)
def test_a_date_that_no_satellite_log_has_is_impossible_and_one_1024_weeks_ago_old(
    start_s: float, code: str | None
) -> None:
    found = doubtful_date(start_s, NOW)
    assert (found.code if found else None) == code


def test_a_recorder_started_anew_with_another_clock_found_its_aircraft_ahead() -> None:
    """Set back by an hour, 60 s farther on: ninety seconds' flight at most, and within 60° of straight on."""

    def restarted(flown_s: float, aside_deg: float = 0.0, times: int = 1) -> RawFlight:
        steps = np.full(160, SPEED, dtype=complex)
        time_s = np.arange(161.0)
        for k in range(times):
            at = 30 + 30 * k
            steps[at] = SPEED * flown_s * np.exp(1j * np.radians(aside_deg))
            time_s[at + 1 :] -= 3600.0
        return order_clock(flight(time_s, steps))

    def code(one: RawFlight) -> list[str]:
        return [notice.code for notice in one.notices]

    assert (
        code(restarted(85.0))
        == code(restarted(85.0, 50.0))
        == code(restarted(85.0, times=3))
        == ["time-set-back"]
    )
    assert (
        code(restarted(95.0))
        == code(restarted(85.0, 70.0))
        == code(restarted(85.0, times=4))
        == ["time-backward"]
    )
    back = restarted(85.0)
    # The time across it is what its way takes at the speed before, and that is a seam.
    assert np.ptp(back.time_s) == pytest.approx(159.0 + 85.0, abs=0.1)
    (seam,) = back.seams
    assert isinstance(seam, Seam) and seam.removed_s == pytest.approx(-3599.0 - 85.0, abs=0.1)


# How fast, and how sharply


@pytest.mark.parametrize("rate_dps", [1.5, 3.0])
def test_what_a_turn_asks_to_the_side_is_speed_times_rate_of_turn(rate_dps: float) -> None:
    """At 60 m/s; half of all turning is done so, whatever slower turning there is besides."""

    def sideways(*turns: tuple[float, float]) -> float:
        rates = np.concatenate([np.full(round(abs(deg / dps)), dps) for deg, dps in turns])
        raw = flight(np.arange(rates.size + 1.0), SPEED * np.exp(-1j * np.radians(np.cumsum(rates))))
        return usual_sideways(raw.time_s, raw.lat_deg, raw.lon_deg)

    # The chord of so much turning is shorter than its arc.
    asked = SPEED * np.radians(rate_dps)
    assert sideways((540.0, rate_dps)) == pytest.approx(asked, rel=0.02)
    assert sideways((540.0, -rate_dps)) == pytest.approx(asked, rel=0.02)
    assert sideways((400.0, rate_dps), (200.0, 0.5 * rate_dps)) == pytest.approx(asked, rel=0.02)
    assert sideways((200.0, rate_dps), (400.0, 0.5 * rate_dps)) == pytest.approx(0.5 * asked, rel=0.02)
    # Less than a circle in all.
    assert sideways((340.0, rate_dps)) == 0.0


# How a track errs


@pytest.mark.parametrize(("digits", "step"), [(0, 1.0), (2, 0.01), (5, 1e-5), (7, 1e-7)])
def test_what_values_are_rounded_to_is_seen(digits: int, step: float) -> None:
    values = np.round(np.random.default_rng(1).uniform(0.0, 90.0, 500), digits)
    assert decimal_step(values, 8) == pytest.approx(step)
    assert rounded_to_m(values) == pytest.approx(step * 60.0 * 1852.0)
    # A few values that are not, one in two hundred, change nothing; one in fifty do.
    for every, found in ((200, step), (50, 0.0)):
        few = values.copy()
        few[::every] += 0.37e-9 + 1e-12
        few[::every] += 0.123456789
        assert decimal_step(few, 8) == pytest.approx(found)


def test_a_robust_sigma_hears_most_values_and_heavy_tails_but_no_wild_few() -> None:
    """Of a normal distribution the median of sizes is 0.6745 sigma, nine tenths lie within 1.645 (tables of it)."""
    values = np.random.default_rng(3).normal(0.0, 2.0, 20_000)
    assert robust_sigma(values) == pytest.approx(2.0, rel=0.03)
    wild = values.copy()
    wild[:400] = 1e6
    assert robust_sigma(wild) == pytest.approx(2.0, rel=0.12)
    heavy = np.concatenate([np.full(850, 1.0), np.full(150, 16.45)])
    assert robust_sigma(heavy) == pytest.approx(10.0)


def test_holes_of_a_log_are_longer_than_half_again_its_longest_usual_steps() -> None:
    """Where one row in twenty is twelve seconds late, nine steps of twelve seconds are none."""
    steps = np.ones(200)
    steps[::15] = 12.0
    for longest, hole in ((17.0, False), (19.0, True)):
        steps[100] = longest
        assert bool(holes_of(np.concatenate([[0.0], np.cumsum(steps)]))) == hole


# Places that a feed made up, or wrote early


def coasting(
    rows: int = 4,
    *,
    every_s: float = 8.0,
    aside_m: float = 600.0,
    speed: float = SPEED,
    swerve_deg: float = 0.3,
) -> RawFlight:
    """Wander a little from step to step; for so many rows go straight on to the last digit, then jump back aside."""
    rng = np.random.default_rng(7)
    steps = speed * every_s * np.exp(1j * np.radians(np.cumsum(rng.normal(0.0, swerve_deg, 80))))
    steps[30 : 32 + rows] = steps[30]
    steps[32 + rows] += 1j * aside_m
    return flight(np.arange(81.0) * every_s, steps)


@pytest.mark.parametrize(
    ("raw", "left_out"),
    [
        (coasting(), 6),
        (coasting(2), 4),
        (coasting(1), 0),
        # For no longer than a minute: in a simulator one is put somewhere else.
        (coasting(5), 7),
        (coasting(6), 0),
        # Faster than it taxies; back aside by more than 20° of the way before and after, and by more than 60 m.
        (coasting(speed=14.0, aside_m=100.0, swerve_deg=1.5), 6),
        (coasting(speed=11.0, aside_m=100.0, swerve_deg=1.5), 0),
        (coasting(aside_m=185.0), 6),
        (coasting(aside_m=160.0), 0),
        (coasting(every_s=2.0, aside_m=70.0, swerve_deg=1.5), 6),
        (coasting(every_s=2.0, aside_m=55.0, swerve_deg=1.5), 0),
        # No farther than half a circle at rate one leads away in what was flown since: 1.19 times as far.
        (coasting(aside_m=3400.0), 6),
        (coasting(aside_m=3800.0), 0),
        # Where most of a track is even a simulator's autopilot flew it.
        (coasting(swerve_deg=0.0), 0),
    ],
)
def test_a_feed_that_goes_straight_on_and_jumps_back_made_those_places_up(
    raw: RawFlight, left_out: int
) -> None:
    kept = drop_coasted(raw)
    assert raw.samples - kept.samples == left_out
    assert [notice.code for notice in kept.notices] == (["position-coasted"] if left_out else [])


@pytest.mark.parametrize(("times_as_fast", "left_out"), [(3.0, 6), (1.5, 0)])
def test_who_was_lost_in_a_turn_is_met_where_the_path_goes_on(times_as_fast: float, left_out: int) -> None:
    # After half a turn the jump leads as the steps after it do: only its speed tells it from a path's own corner.
    rng = np.random.default_rng(7)
    steps = SPEED * 4.0 * np.exp(1j * np.radians(np.cumsum(rng.normal(0.0, 0.5, 80))))
    steps[30:36] = steps[30]
    steps[36:] *= np.exp(1j * np.radians(115.0))
    steps[36] *= times_as_fast
    raw = flight(np.arange(81.0) * 4.0, steps)
    assert raw.samples - drop_coasted(raw).samples == left_out


@pytest.mark.parametrize(
    ("ahead_s", "samples"), [(4.1, [301]), (4.3, [298]), (9.0, [295]), (12.0, [150, 151])]
)
def test_a_few_places_written_early_are_left_out_where_the_path_goes_on_beyond_them(
    ahead_s: float, samples: list[int]
) -> None:
    """A feed writes a place that is reached seconds later, and waits there.

    A step may be twice as fast as round about, 40 m/s more, and 150 m: 310 m here. Of more than eight such rows in a
    row nobody can say whose they are.
    """
    at_s = np.arange(301.0)
    at_s[150 : 150 + round(ahead_s)] = 150.0 + ahead_s
    found = parted(flight(np.arange(301.0), np.diff(np.maximum.accumulate(at_s)) * SPEED + 0j), "a.csv")
    assert [one.samples for one in found] == samples
    codes = {notice.code for one in found for notice in one.notices}
    assert codes == (
        {"position-jump"} if len(samples) > 1 else {"position-spike"} if samples[0] < 301 else set()
    )

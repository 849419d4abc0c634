"""How much the instrument believes, and from where on: each figure of the room's guide by a case on each side of it."""

from __future__ import annotations

import re
import subprocess
import sys

import numpy as np
import pytest

from analyser.logs.track import Track
from analyser.motion.airdata import logged, prove_bank
from analyser.motion.circle import wild_speeds
from analyser.motion.layout import has_impossible_corners, with_logged
from analyser.motion.path import Velocities, untidy_spline
from analyser.motion.speeds import reported_velocities, smoother_velocity
from analyser.motion.spline import fit_spline
from analyser.motion.survey import survey_flight, thin
from analyser.motion.windfit import fit_wind
from analyser.motion.windlikelihood import wind_prior
from tests.test_logs_track_errors import SPEED_MPS
from tests.test_motion_parts import errors_of, smoothed_turns
from tests.test_motion_speeds import TIMES, logging, motion
from tests.test_motion_thresholds import about, racetrack, reported
from tests.test_motion_untidy import PLANE, measured, track_of
from tests.test_motion_wind import wandering

# A logged bank, and other channels


def banked(time_s: np.ndarray) -> np.ndarray:
    """Roll within five seconds into a minute of 20° to the right, fly a minute level, and so on."""
    return np.where((time_s % 120.0) < 60.0, 20.0, 0.0) * np.clip((time_s % 60.0) / 5.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("lag_s", "told_s"), [(5.5, 5.5), (-5.5, -5.5), (-2.5, -2.5), (7.0, 6.0), (-7.0, -6.0)]
)
def test_a_logged_bank_is_put_forward_or_back_by_six_seconds_at_most(lag_s: float, told_s: float) -> None:
    time_s = np.arange(0.0, 600.0)
    late, flown = (20.0 * np.sin(2.0 * np.pi * at_s / 60.0) for at_s in (time_s - lag_s, time_s))
    proved, notice = prove_bank(late, flown, np.zeros(600, dtype=bool))
    assert proved is not None and notice is not None
    assert f"lags the track by {told_s:.1f} s and reads +0.0°" in notice.message


@pytest.mark.parametrize(("bias_deg", "told"), [(1.4, False), (-1.4, False), (1.6, True), (-1.6, True)])
def test_a_bias_of_a_logged_bank_is_told_from_a_degree_and_a_half(bias_deg: float, told: bool) -> None:
    proved, notice = prove_bank(banked(TIMES) + bias_deg, banked(TIMES), banked(TIMES) < 4.0)
    assert proved is not None and (notice is not None) == told
    assert proved.values == pytest.approx(banked(TIMES), abs=1e-9), "taken out all the same"


@pytest.mark.parametrize(("scatter_deg", "used"), [(4.0, True), (7.0, False)])
def test_a_logged_bank_that_scatters_more_than_turns_show_is_not_used(scatter_deg: float, used: bool) -> None:
    """Read between the seconds, as it is here, a scatter is less by the root of two."""
    scatter = np.random.default_rng(1).normal(0.0, scatter_deg, TIMES.size)
    proved, notice = prove_bank(banked(TIMES) + scatter, banked(TIMES), banked(TIMES) < 4.0)
    assert (proved is not None, notice is None) == (used, used)


def test_a_logged_bank_is_known_to_a_degree_at_worst_and_a_seventh_at_best() -> None:
    level = banked(TIMES) < 4.0
    exact, scaled = (prove_bank(slope * banked(TIMES), banked(TIMES), level)[0] for slope in (1.0, 1.2))
    assert exact is not None and scaled is not None
    # A fifth too much of 20° is off by four degrees in the middle of a turn, by nothing on a leg.
    assert (exact.sd, scaled.sd) == (0.15, 1.0)


def test_of_a_logged_bank_counts_what_is_off_over_a_minute() -> None:
    """A swing with a period of a minute averages out in it, one of three minutes does not."""
    time_s = np.arange(0.0, 1800.0)
    sds = []
    for period_s in (60.0, 180.0):
        off = 3.0 * np.sin(2.0 * np.pi * time_s / period_s + 1.0)
        proved, _ = prove_bank(banked(time_s) + off, banked(time_s), np.zeros(1800, dtype=bool))
        assert proved is not None
        sds.append(proved.sd)
    assert sds == [0.15, 1.0]


@pytest.mark.parametrize(("every_s", "used"), [(12.0, True), (15.0, True), (18.0, False)])
def test_a_channel_reaches_six_seconds_about_each_reading(every_s: float, used: bool) -> None:
    """Eight tenths of the time are to be filled: 13 of 15 seconds are, 13 of 18 are not."""
    time_s = np.arange(0.0, 1200.0)
    seen = np.where(time_s % every_s == 0.0, np.sin(time_s), np.nan)
    track = Track("t", "table", "", time_s, 47.0 + 1e-4 * time_s, np.full(1200, 8.0), {"bank_deg": seen})
    assert (logged(track, "bank_deg", time_s) is not None) == used


def test_a_channel_beyond_its_first_and_last_reading_is_not_known() -> None:
    seen = np.where((TIMES >= 50.0) & (TIMES <= 230.0), np.sin(TIMES), np.nan)
    assert logged(logging(bank_deg=seen), "bank_deg", np.arange(35.0, 245.0)) is not None
    assert logged(logging(bank_deg=seen), "bank_deg", np.arange(0.0, 290.0)) is None


@pytest.mark.parametrize(
    ("turning_deg", "steep", "said"), [(11.0, 49, False), (9.0, 49, True), (11.0, 52, True)]
)
def test_from_ten_degrees_on_a_bank_is_a_turn_that_may_be_flown(
    turning_deg: float, steep: int, said: bool
) -> None:
    """More than half of the turning at more than 45° makes the clock doubtful; the rest here is a gentle turn."""
    bank = np.full(100, turning_deg)
    bank[:steep] = 46.0
    flown = motion(np.full(100, 110.0), bank_deg=bank, obtained={"bank": "derived", "ias": "derived"})
    found = with_logged(logging(), flown, chorded=False)
    assert ("time-doubtful" in [notice.code for notice in found.notices]) == said


@pytest.mark.parametrize(("lasts_s", "corners"), [(5, True), (6, False), (7, False)])
def test_a_corner_of_chords_is_over_within_six_seconds(lasts_s: int, corners: bool) -> None:
    bank, rate = np.zeros(200), np.zeros(200)
    bank[50 : 51 + lasts_s], rate[50 : 51 + lasts_s] = 60.0, 20.0
    assert has_impossible_corners(motion(np.full(200, 110.0), bank_deg=bank, turn_rate_dps=rate)) == corners


# Reported speeds


def stepping(sd_kt: float, seed: int) -> np.ndarray:
    """Return what, second by second, jumps by so much about nothing, rms; no drift."""
    noise = np.random.default_rng(seed).normal(0.0, 1.0, 301)
    return np.asarray(noise[1:] / np.std(np.diff(noise)) * sd_kt)


@pytest.mark.parametrize(
    ("logged_kt", "path_kt", "taken"),
    [(0.05, 0.7, False), (0.05, 0.95, True), (2.0, 4.4, False), (2.0, 5.1, True)],
)
def test_a_logged_speed_stands_in_where_the_paths_jumps_twice_as_much_and_seven_tenths_of_a_knot(
    logged_kt: float, path_kt: float, taken: bool
) -> None:
    velocity = np.column_stack([100.0 + stepping(path_kt, 4), np.zeros(300)])
    speed = 100.0 + stepping(logged_kt, 5)
    found = smoother_velocity(logging(ground_speed_kt=speed), TIMES, velocity)
    assert (found is not velocity) == taken


@pytest.mark.parametrize(("seen_s", "used"), [(270, False), (330, True)])
def test_a_reported_track_is_used_where_half_of_the_speeds_have_one(seen_s: int, used: bool) -> None:
    velocity = racetrack(600)[1].at(np.arange(600.0), 1)
    track_deg = np.degrees(np.arctan2(velocity[:, 0], velocity[:, 1])) % 360.0
    found = reported(600, about(1.0), np.where(np.arange(600) < seen_s, track_deg, np.nan))
    assert found is not None
    assert np.isfinite(found.across_sd_mps).sum() == (seen_s if used else 0)
    if used:
        # To a degree at best; ten seconds of readings share their error.
        known = np.radians(1.0) * SPEED_MPS * np.sqrt(10.0)
        assert found.across_sd_mps[:seen_s] == pytest.approx(np.full(seen_s, known), rel=0.01)


@pytest.mark.parametrize(("late_s", "found_s"), [(19.0, 19.0), (-19.0, -19.0), (12.5, 12.5), (23.0, 20.0)])
def test_a_reported_speed_that_is_late_is_put_where_it_was_flown(late_s: float, found_s: float) -> None:
    """In a wind the speed over the ground swings with every turn; its readings may be twenty seconds late or early."""
    found = in_wind(late_s, 0.0)
    assert found is not None
    moved = found.time_s[100:-100] - np.arange(900.0)[100:-100]
    assert moved == pytest.approx(np.full(700, -found_s), abs=0.01)


def in_wind(late_s: float, scatter_kt: float) -> Velocities | None:
    """Fly racetracks at 110 kt in 20 kt of wind, and report the speed over the ground so late."""
    fine = np.arange(-60.0, 960.0)
    heading = np.radians(np.cumsum(np.where(fine % 120.0 < 60.0, 3.0, 0.0)))
    velocity = np.column_stack([110.0 * np.sin(heading) + 20.0, 110.0 * np.cos(heading)])
    places = np.cumsum(velocity - 0.5 * np.diff(velocity, axis=0, prepend=velocity[:1]), axis=0) / 3600.0
    time_s = np.arange(900.0)
    flown = np.interp(time_s - late_s, fine, np.hypot(*velocity.T))
    east, north = places[60:960].T
    lat, lon = PLANE.to_earth(east, north)
    told = flown + np.random.default_rng(2).normal(0.0, scatter_kt, 900)
    track = Track("t", "table", "", time_s, lat, lon, {"ground_speed_kt": told})
    return reported_velocities(track, fit_spline(time_s, np.column_stack([east, north]) * 1852.0))


# The path


def pulled_m(aside_m: float, noise_m: float) -> float:
    """Return how far one sample that stands aside pulls a straight path at its own time."""
    time_s = np.arange(0.0, 300.0, 2.0)
    fixes = np.column_stack([np.zeros(150), 55.0 * time_s])
    fixes[75, 0] = aside_m
    spline = untidy_spline(time_s, fixes, errors_of(time_s, noise_m=noise_m))
    return float(spline.at(np.array([150.0]))[0, 0])


@pytest.mark.parametrize("noise_m", [3.0, 8.0])
def test_a_wild_sample_pulls_as_if_it_stood_two_and_a_half_sigmas_off_the_path(noise_m: float) -> None:
    """Huber: within that its pull grows with what it is off the path, beyond it stays."""
    pull = pulled_m(0.1, noise_m)
    for_each_metre_off_the_path = pull / (0.1 - pull)
    most_m = 2.5 * noise_m * for_each_metre_off_the_path
    assert pulled_m(50.0 * noise_m, noise_m) == pytest.approx(most_m, rel=0.04)
    assert pulled_m(2.0 * noise_m, noise_m) == pytest.approx(20.0 * noise_m * pull, rel=0.01)


def test_a_log_is_averaged_to_two_fixes_a_second_where_it_has_clearly_more() -> None:
    for interval_s, thinned in ((0.2, True), (0.3, True), (0.4, False), (0.5, False)):
        time_s = np.arange(0.0, 60.0, interval_s)
        assert (thin(time_s, time_s[:, None])[0].size < time_s.size) == thinned
    few = np.array([0.0, 0.1])
    assert thin(few, few[:, None])[0] is few


@pytest.mark.parametrize(("speed_kt", "turns"), [(19.0, False), (21.0, True)])
def test_what_goes_slower_than_twenty_knots_does_not_fly_and_turns_nowhere(
    speed_kt: float, turns: bool
) -> None:
    time_s = np.arange(0.0, 600.0)
    way = np.radians(3.0 * time_s)
    lat, lon = PLANE.to_earth(*(np.cumsum([np.sin(way), np.cos(way)], axis=1) * speed_kt / 3600.0))
    (survey,) = survey_flight(Track("t", "table", "", time_s, lat, lon))
    inner = survey.turn_rate_dps[20:-20]
    assert inner == pytest.approx(np.full(inner.size, 3.0 if turns else 0.0), abs=0.1)


def test_solving_a_path_loads_no_more_of_scipy_than_it_needs() -> None:
    code = "import sys; import analyser.motion.linear_solvers; print(*[m for m in sys.modules if 'scipy.linalg' in m])"
    told = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert re.split(r"\s+", told.stdout.strip()) == ["scipy.linalg._flapack"]


# The wind


def turning(tas_kt: np.ndarray, seconds: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    time_s = np.arange(0.0, float(seconds), 2.0)
    heading = np.radians(30.0 + np.cumsum(np.where(time_s % 120.0 < 60.0, 6.0, 0.0)))
    return time_s, tas_kt * np.sin(heading) + 18.0, tas_kt * np.cos(heading) - 7.0


@pytest.mark.parametrize(("memory_s", "told_s"), [(3.0, 11.07), (200.0, 60.0)])
def test_an_airspeed_wanders_for_a_minute_at_most_and_for_eleven_seconds_at_least(
    memory_s: float, told_s: float
) -> None:
    """At least: a hand of 16 s, and gusts of three times its variance forgotten within 1,750 ft, 9.4 s at 110 kt."""
    time_s = np.arange(0.0, 1440.0, 2.0)
    told = []
    for seed in range(3):
        wander = wandering(np.random.default_rng(seed), time_s, 3.0, memory_s)
        told.append(fit_wind(*turning(110.0 + wander, 1440)).speed_noise.memory_s)
    assert told == pytest.approx([told_s] * 3, abs=0.1)


@pytest.mark.parametrize(("tas_kt", "gust_s"), [(70.0, 14.8), (110.0, 9.42), (220.0, 4.71)])
def test_a_quick_fit_takes_a_hand_of_half_a_minute_and_three_tenths_of_gusts(
    tas_kt: float, gust_s: float
) -> None:
    """Tens of seconds, common practice; gusts of 1,750 ft (MIL-F-8785C, from memory), flown through in so long."""
    fit = fit_wind(*turning(np.full(480, tas_kt), 960), quick=True)
    assert fit.speed_noise.memory_s == pytest.approx((30.0 + 0.3 * gust_s) / 1.3, rel=0.01)


@pytest.mark.parametrize(("off_kt", "wild"), [(26.0, False), (40.0, True)])
def test_an_airspeed_is_wild_four_times_what_the_others_wander_by(off_kt: float, wild: bool) -> None:
    """A hand that wanders by 8 kt: 32 kt."""
    time_s = np.arange(0.0, 480.0, 2.0)
    heading, tas = np.radians(3.0 * time_s), 110.0 + np.random.default_rng(9).normal(0.0, 8.0, 240)
    tas[60] = 110.0 + off_kt
    tas = np.where(np.arange(240) == 60, tas, np.clip(tas, 90.0, 130.0))
    off = wild_speeds(time_s, tas * np.sin(heading), tas * np.cos(heading), np.zeros(240), 1.0)
    assert bool(off.any()) == wild


def test_weather_makes_twenty_five_knots_of_wind_and_two_and_a_half_of_shear_usual() -> None:
    """One sigma of each costs half a unit (common practice); a speed held beforehand is another by twenty knots."""
    prior = wind_prior(3, 0.8, 1)
    for parameters in (
        [25.0] * 3 + [0.0] * 7,
        [0.0] * 3 + [25.0] * 3 + [0.0] * 4,
        [0.0] * 6 + [2.5, 0.0, 0.0, 0.0],
        [0.0] * 7 + [2.5, 0.0, 0.0],
        [0.0] * 9 + [20.0],
    ):
        assert 0.5 * np.array(parameters) @ prior @ np.array(parameters) == pytest.approx(0.5)
    airspeed = np.zeros(10)
    airspeed[8] = 110.0
    assert airspeed @ prior @ airspeed < 0.05, "nobody knows beforehand at what speed a hold is flown"


def test_of_a_pilot_who_keeps_changing_his_speed_three_changes_are_told() -> None:
    time_s = np.arange(0.0, 1920.0, 2.0)
    tas = 110.0 + wandering(np.random.default_rng(1), time_s, 0.5, 30.0)
    for begun_s, by_kt in ((200.0, 25.0), (600.0, -30.0), (1000.0, 25.0), (1400.0, -30.0), (1700.0, 30.0)):
        tas = tas + by_kt * np.clip((time_s - begun_s) / 60.0, 0.0, 1.0)
    fit = fit_wind(*turning(tas, 1920))
    assert fit.parameters.size == 2 * fit.knots_s.size + 3 + 3
    # A feed smooths its speeds, so that their changes are its own.
    fed = fit_wind(*turning(tas, 1920), fed=True)
    assert fed.parameters.size == 2 * fed.knots_s.size + 3


@pytest.mark.parametrize(("smoothed_s", "doubted"), [(18, False), (20, True)])
def test_a_wind_is_doubted_where_two_ways_of_fitting_part_by_more_than_chance(
    smoothed_s: int, doubted: bool
) -> None:
    assert (fit_wind(*smoothed_turns(smoothed_s)).doubt_kt > 0.0) == doubted


@pytest.mark.parametrize(("past_s", "lost_s"), [(0.7, [602, 608]), (0.3, [602, 608]), (0.0, [602, 607])])
def test_more_than_a_second_beside_a_sample_a_hole_begins(past_s: float, lost_s: list[int]) -> None:
    """A sample every second but for eight: the first and the last second that lie farther from either side."""
    time_s = np.arange(0.0, 1200.0) + past_s
    seen = time_s[(time_s < 601.0) | (time_s >= 609.0)]
    found = measured(track_of(seen, seen)).motion
    assert found.time_s[found.in_hole][[0, -1]].tolist() == lost_s

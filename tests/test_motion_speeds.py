"""What counts as a speed flown, what a log's own channels are worth, and the parts of the wind fit: each by hand."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest

from analyser.earth.plane import LocalPlane
from analyser.grading.keeping import speed_plan
from analyser.logs.track import Track
from analyser.motion.airdata import logged, prove_bank
from analyser.motion.layout import has_impossible_corners
from analyser.motion.motion import Motion, running_mean
from analyser.motion.motion_thresholds import LIKELIHOOD
from analyser.motion.path import Velocities
from analyser.motion.speeds import both, smoother_velocity
from analyser.motion.windlikelihood import hats, wind_prior


def motion(ias_kt: np.ndarray, **other: object) -> Motion:
    """Lay out a stretch, a point a second, of which only what is asked about matters."""
    count = ias_kt.size
    made: dict[str, object] = {}
    for one in fields(Motion):
        if one.name.endswith("mean_east_kt") or "_mean_" in one.name or one.name == "tas_wander_kt":
            made[one.name] = 0.0
        elif one.name.endswith(("_kt", "_nm", "_ft", "_deg", "_dps", "_s")) and one.name not in (
            "sample_s",
            "seams_s",
        ):
            made[one.name] = np.zeros(count)
    made |= {
        "plane": LocalPlane(47.0, 8.0), "time_s": np.arange(float(count)), "ias_kt": ias_kt,
        "tas_kt": ias_kt, "in_hole": np.zeros(count, dtype=bool), "obtained": {"ias": "logged"},
    }  # fmt: skip
    return Motion(**{**made, **other})  # type: ignore[arg-type]


WHOLE = slice(0, 200)


def fast(seconds: int, kt: float = 240.0) -> np.ndarray:
    """Hold 200 kt, and another speed for so long in the middle."""
    ias = np.full(200, 200.0)
    ias[100 : 100 + seconds] = kt
    return ias


@pytest.mark.parametrize(("seconds", "over_s"), [(9, 0.0), (11, 29.0), (40, 60.0)])
def test_a_speed_is_flown_when_most_of_twenty_seconds_had_it(seconds: int, over_s: float) -> None:
    """The windows that hold more than half of it, and every second of each."""
    found = motion(fast(seconds)).over_ias(WHOLE, 230.0)
    assert found.over_s == pytest.approx(over_s, abs=2.0)
    assert found.most_kt == (240.0 if over_s else 200.0)


def test_between_sparse_samples_a_speed_has_to_be_held_over_four_of_them() -> None:
    assert motion(fast(15)).over_ias(WHOLE, 230.0).over_s > 0.0
    assert motion(fast(15), sample_s=10.0).over_ias(WHOLE, 230.0).over_s == 0.0
    assert motion(fast(25), sample_s=10.0).over_ias(WHOLE, 230.0).over_s > 0.0


@pytest.mark.parametrize(("sd_kt", "sure"), [(4.9, True), (5.1, False)])
def test_a_speed_is_surely_over_by_more_than_two_sigma(sd_kt: float, sure: bool) -> None:
    flown = motion(fast(40), ias_sd_kt=np.full(200, sd_kt))
    assert flown.surely_over_ias(WHOLE, 230.0).any() == sure
    assert flown.over_ias(WHOLE, 230.0).most_sd_kt == sd_kt


def test_a_derived_speed_stands_on_standard_air_and_a_logged_one_does_not() -> None:
    """8 °C off standard is 1.4 % of the speed: 3.4 kt of 240."""
    even = np.full(200, 240.0)
    derived = motion(even, obtained={"ias": "derived"})
    assert derived.over_ias(WHOLE, 230.0).most_sd_kt == pytest.approx(3.36, abs=0.05)
    assert derived.over_ias(WHOLE, 234.0).over_s == 0.0
    assert motion(even).over_ias(WHOLE, 234.0).over_s > 0.0


def test_what_was_not_recorded_was_not_flown() -> None:
    hole = np.zeros(200, dtype=bool)
    hole[100:140] = True
    assert motion(fast(40), in_hole=hole).over_ias(WHOLE, 230.0).over_s == 0.0
    assert motion(fast(40)).over_ias(slice(0, 15), 230.0).most_kt is None


def test_gusts_are_how_a_derived_speed_scatters_about_a_minutes_mean() -> None:
    rng = np.random.default_rng(3)
    gusty = 200.0 + rng.normal(0.0, 3.0, 600) + np.linspace(0.0, 40.0, 600)
    flown = motion(gusty, obtained={"ias": "derived"})
    assert flown.gust_sd_kt("ias_kt", slice(0, 600)) == pytest.approx(3.0, rel=0.15)
    assert motion(gusty).gust_sd_kt("ias_kt", slice(0, 600)) == 0.0


def test_what_a_path_guesses_in_a_hole_is_neither_a_gust_nor_a_speed_held() -> None:
    """A path hung across a turn is 60 kt too slow there: no mean over a minute beside it may hear of that."""
    rng = np.random.default_rng(3)
    speed, hole = 200.0 + rng.normal(0.0, 3.0, 600), np.zeros(600, dtype=bool)
    hole[200:300] = True
    speed[hole] -= 60.0
    flown = motion(speed, obtained={"ias": "derived"}, in_hole=hole)
    assert flown.gust_sd_kt("ias_kt", slice(0, 600)) == pytest.approx(3.0, rel=0.15)
    hold = SimpleNamespace(motion=flown, start_s=0.0, end_s=599.0, hold=SimpleNamespace(speed_kias=None))
    plan = speed_plan(hold, 5.0)  # type: ignore[arg-type]
    assert plan.over_a_minute
    assert np.nanmin(plan.flown_kt) > 197.0


def test_a_running_mean_leaves_out_what_is_unknown() -> None:
    series = np.array([1.0, 2.0, np.nan, 4.0, 5.0])
    assert running_mean(series, 3) == pytest.approx([1.5, 1.5, np.nan, 4.5, 4.5], nan_ok=True)


def test_a_seam_lies_within_what_it_touches() -> None:
    flown = motion(fast(1), seams_s=(50.0,))
    assert flown.has_seam(50.0, 60.0) and flown.has_seam(40.0, 50.0)
    assert not flown.has_seam(50.5, 60.0)


@pytest.mark.parametrize(
    ("bank_deg", "seconds", "corners"), [(47.0, 4, False), (60.0, 4, True), (60.0, 10, False)]
)
def test_turning_that_no_wing_could_fly_is_a_corner(bank_deg: float, seconds: int, corners: bool) -> None:
    """A steep bank that is held is a turn: a recorder's corner is over at once."""
    bank, rate = np.zeros(200), np.zeros(200)
    bank[50 : 50 + seconds], rate[50 : 50 + seconds] = bank_deg, 3.0
    rate[100:120] = 1.0
    assert has_impossible_corners(motion(fast(1), bank_deg=bank, turn_rate_dps=rate)) == corners


TIMES = np.arange(0.0, 300.0)


def logging(**channels: np.ndarray) -> Track:
    return Track("t", "table", "", TIMES, 47.0 + TIMES * 1e-4, np.full(300, 8.0), channels)


def test_a_channel_counts_where_most_of_the_stretch_has_it() -> None:
    full = 100.0 + np.sin(TIMES / 20.0)
    for missing_s, used in ((50, True), (80, False)):
        some = full.copy()
        some[:missing_s] = np.nan
        assert (logged(logging(tas_kt=some), "tas_kt", TIMES) is not None) == used
    assert logged(logging(tas_kt=np.full(300, 100.0)), "tas_kt", TIMES) is None
    assert logged(logging(), "tas_kt", TIMES) is None


def test_a_heading_is_read_the_short_way_round() -> None:
    heading = (350.0 + 20.0 * (TIMES > 150.0)) % 360.0
    found = logged(logging(heading_true_deg=heading), "heading_true_deg", TIMES + 0.5)
    assert found is not None
    assert found[150] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    ("slope", "lag_s", "bias_deg", "used", "told"),
    [
        (1.0, 0.0, 0.0, True, False),
        (1.0, 2.0, 0.0, True, True),
        (1.0, 0.0, 2.0, True, True),
        (1.2, 0.0, 0.0, True, False),
        (1.3, 0.0, 0.0, False, True),
        (0.75, 0.0, 0.0, False, True),
    ],
)
def test_a_logged_bank_has_to_follow_the_track(
    slope: float, lag_s: float, bias_deg: float, used: bool, told: bool
) -> None:
    def flown(time_s: np.ndarray) -> np.ndarray:
        return np.where((time_s % 120.0) < 60.0, 20.0, 0.0) * np.clip((time_s % 60.0) / 5.0, 0.0, 1.0)

    derived = flown(TIMES)
    proved, notice = prove_bank(slope * flown(TIMES - lag_s) + bias_deg, derived, np.abs(derived) < 4.0)
    assert (proved is not None) == used
    assert (notice is not None) == told
    if proved is not None and slope == 1.0:
        assert np.median(np.abs(proved.values - derived)) < 0.3
        assert 0.0 < proved.sd < 0.3
    if proved is not None and slope == 1.2:
        assert proved.sd >= 1.0, "it is off by 4° in every turn"


def test_a_bank_that_wanders_slowly_is_known_the_less_and_a_quick_jitter_averages_out() -> None:
    derived = np.where((TIMES % 120.0) < 60.0, 20.0, 0.0)
    slow, quick = np.sin(TIMES / 40.0), np.sin(TIMES * 2.0)
    sds = []
    for off in (quick, slow, 2.0 * slow):
        proved, _ = prove_bank(derived + 0.5 * off, derived, derived < 4.0)
        assert proved is not None
        sds.append(proved.sd)
    assert 2.0 * sds[0] <= sds[1] and sds[2] == pytest.approx(2.0 * sds[1], rel=0.1)


@pytest.mark.parametrize(("scale", "taken"), [(1.0, True), (1.04, True), (1.06, False)])
def test_a_smooth_logged_speed_stands_in_for_rough_positions(scale: float, taken: bool) -> None:
    rng = np.random.default_rng(4)
    rough = np.column_stack([rng.normal(100.0, 5.0, 300), np.zeros(300)])
    speed = scale * (100.0 + np.sin(TIMES / 30.0))
    found = smoother_velocity(logging(ground_speed_kt=speed), TIMES, rough)
    assert (np.hypot(*found.T) == pytest.approx(speed)) == taken
    smooth = np.column_stack([100.0 + np.sin(TIMES / 30.0), np.zeros(300)])
    assert smoother_velocity(logging(ground_speed_kt=speed), TIMES, smooth) is smooth


@pytest.mark.parametrize("late_s", [-4.0, 0.0, 4.0])
def test_a_logged_speed_that_is_late_stands_in_at_the_time_it_was_flown(late_s: float) -> None:
    """In wind the speed swings with each turn: taken as it stands, a late one turns the wind."""
    rng = np.random.default_rng(4)

    def flown(time_s: np.ndarray) -> np.ndarray:
        return 100.0 + 20.0 * np.sin(time_s / 19.0)

    rough = np.column_stack([flown(TIMES) + rng.normal(0.0, 4.0, 300), np.zeros(300)])
    found = smoother_velocity(logging(ground_speed_kt=flown(TIMES - late_s)), TIMES, rough)
    assert np.hypot(*found.T)[10:-10] == pytest.approx(flown(TIMES)[10:-10], abs=1.1)


def test_measurements_of_the_velocity_are_put_together() -> None:
    one = Velocities(*(np.ones((2, 2) if n in (1, 2) else 2) for n in range(5)))
    two = Velocities(*(np.zeros((3, 2) if n in (1, 2) else 3) for n in range(5)))
    assert both(None, one) is one and both(one, None) is one and both(None, None) is None
    joined = both(one, two)
    assert joined is not None
    assert joined.time_s.tolist() == joined.across_sd_mps.tolist() == [1.0, 1.0, 0.0, 0.0, 0.0]
    assert joined.vectors_mps.shape == joined.direction.shape == (5, 2)


def test_a_chain_of_straight_pieces_reads_between_its_knots_and_holds_beyond() -> None:
    knots = np.array([0.0, 100.0, 200.0])
    values = np.array([1.0, 3.0, 2.0])
    asked = np.array([-50.0, 0.0, 50.0, 150.0, 200.0, 300.0])
    assert hats(asked, knots) @ values == pytest.approx(np.interp(asked, knots, values))
    assert hats(asked, knots[:1]).tolist() == [[1.0]] * 6


def test_the_wind_is_thought_to_be_a_walk_about_what_weather_does() -> None:
    """A wind that stays costs what weather makes unlikely; one that changes by a sigma at a knot half a unit more."""
    prior = wind_prior(4, 0.8)

    def cost(east_kt: list[float], shear: float = 0.0) -> float:
        parameters = np.array([*east_kt, 0.0, 0.0, 0.0, 0.0, shear, 0.0, 0.0])
        return float(0.5 * parameters @ prior @ parameters)

    assert cost([LIKELIHOOD.wind_prior_kt] * 4) == pytest.approx(0.5)
    assert cost([10.0, 10.0, 10.8, 10.8]) - cost([10.4] * 4) == pytest.approx(0.5)
    assert cost([0.0] * 4, LIKELIHOOD.shear_kt_per_kft) == pytest.approx(0.5)

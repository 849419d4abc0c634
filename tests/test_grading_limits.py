"""Just inside and just outside: levels and speeds kept, moves between levels, and what turns a fault into a danger.

Heights and speeds are laid over an invented flight by hand, so that each differs from one beyond reproach in one thing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.flown import FlownHold
from analyser.grading.finding import Finding
from analyser.grading.findings import _is_unsafe_level
from analyser.grading.judge import judge_hold
from analyser.grading.keeping import (
    Keeping,
    altitude_sd_ft,
    excursions,
    keeping,
    level_plan,
    read,
    speed_plan,
)
from analyser.logs.track import FloatArray
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly

ICAO, FAA = load_regime("icao"), load_regime("faa")
#: ±100 ft and ±5 kt; ±100 ft and ±10 kt.
FCL, ACS = load_standard("part-fcl-instrument"), load_standard("acs-instrument")
LEVELS = load_scoring().levels


@cache
def four() -> FlownHold:
    """Four circuits of nothing wrong at 4,000 ft and 110 kt, a row a second."""
    return fly(Plan(faults=(Faults(),) * 4))


def at_heights(height: Callable[[FloatArray], FloatArray], given_ft: float | None = None) -> FlownHold:
    """Fly a height over the time since the hold began."""
    hold = four()
    flown_ft = height(hold.motion.time_s - hold.start_s)
    return replace(
        hold, hold=replace(hold.hold, altitude_ft=given_ft), motion=replace(hold.motion, altitude_ft=flown_ft)
    )


def ramp(*knots: tuple[float, float]) -> Callable[[FloatArray], FloatArray]:
    return lambda since_s: np.interp(since_s, [at for at, _ in knots], [ft for _, ft in knots])


def said(hold: FlownHold, kind: str, regime=ICAO, standard=FCL, **how) -> Finding | None:  # type: ignore[no-untyped-def]
    judged = judge_hold(hold, regime, standard, **how)
    return next((one for one in judged.findings if one.kind == kind), None)


@pytest.mark.parametrize(
    ("steps", "moved"),
    [
        # A move changes the level by 400 ft at 200 ft a minute or more.
        (ramp((200.0, 4000.0), (248.0, 4420.0)), True),
        (ramp((200.0, 4000.0), (245.0, 4370.0)), False),
        (ramp((200.0, 4000.0), (330.0, 4520.0)), True),
        (ramp((200.0, 4000.0), (375.0, 4520.0)), False),
        # Down as up; and what comes back is no move.
        (ramp((200.0, 4000.0), (248.0, 3580.0)), True),
        (ramp((200.0, 4000.0), (240.0, 4400.0), (280.0, 4000.0)), False),
        # Two halves with less than half a minute level between them are one move, with more two small ones.
        (ramp((200.0, 4000.0), (230.0, 4300.0), (265.0, 4300.0), (295.0, 4600.0)), True),
        (ramp((200.0, 4000.0), (230.0, 4300.0), (290.0, 4300.0), (320.0, 4600.0)), False),
    ],
)
def test_a_move_between_levels_that_nobody_gave(
    steps: Callable[[FloatArray], FloatArray], moved: bool
) -> None:
    plan = level_plan(at_heights(steps), LEVELS)
    assert (plan.known, plan.given, plan.moved) == (True, False, moved)
    hold = four()
    inside = (hold.motion.time_s >= hold.start_s - 2.0) & (hold.motion.time_s <= hold.end_s + 2.0)
    level = (hold.motion.time_s >= hold.start_s + 2.0) & (hold.motion.time_s <= hold.end_s - 2.0)
    # On the way there is no level to hold; outside the hold there never is.
    assert bool(np.isnan(plan.reference_ft[level]).any()) == moved
    assert np.isnan(plan.reference_ft[~inside]).all()
    if moved:
        first_ft = plan.level_ft(hold.start_s, hold.start_s + 100.0, hold.motion.time_s)
        assert first_ft == pytest.approx(4000.0)


def test_a_move_leaves_out_its_way_alone_and_both_levels_are_held() -> None:
    hold = at_heights(ramp((200.0, 4000.0), (260.0, 5000.0)))
    plan, since_s = level_plan(hold, LEVELS), hold.motion.time_s - hold.start_s
    on_the_way = np.isnan(plan.reference_ft[(since_s > 0.0) & (since_s < 500.0)])
    # Read over twenty seconds, 1,000 ft a minute are 200 and more where four of the twenty lie in the climb.
    assert on_the_way.sum() == pytest.approx(60.0 + 2.0 * (10.0 - 4.0), abs=2.0)
    assert plan.reference_ft[np.searchsorted(since_s, 150.0)] == 4000.0
    assert plan.reference_ft[np.searchsorted(since_s, 300.0)] == 5000.0


def test_a_move_that_goes_on_after_the_hold_is_seen_as_one() -> None:
    hold = four()
    last_s = hold.end_s - hold.start_s
    # Of 1,000 ft only the first 200 are flown in the hold.
    leaving = at_heights(ramp((last_s - 20.0, 4000.0), (last_s + 80.0, 5000.0)))
    assert level_plan(leaving, LEVELS).moved
    after = at_heights(ramp((last_s + 20.0, 4000.0), (last_s + 80.0, 5000.0)))
    assert not level_plan(after, LEVELS).moved


def kept(error: FloatArray, *, given: bool = True, tolerance: float = 100.0) -> Keeping:
    """Follow an error over the whole hold, laid in even shares from its first sample to its last."""
    hold = four()
    inside = hold.motion.span(hold.start_s, hold.end_s)
    value = np.full(hold.motion.time_s.size, 4000.0)
    value[inside] += np.interp(
        np.linspace(0.0, 1.0, inside.stop - inside.start), np.linspace(0.0, 1.0, error.size), error
    )
    reference = np.full(value.size, 4000.0)
    found = keeping(hold, value, reference, tolerance=tolerance, sd=5.0, given=given)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("error", "steady_off"),
    [
        (np.full(9, 130.0), 130.0),
        (np.full(9, -130.0), -130.0),
        (np.full(9, 90.0), None),  # within the tolerance
        (
            np.array([130.0] * 4 + [245.0] + [130.0] * 4),
            None,
        ),  # once farther than the tolerance from its middle
        (np.array([130.0] * 4 + [215.0] + [130.0] * 4), 130.0),
        (
            np.linspace(130.0, 200.0, 9),
            165.0,
        ),  # it grew by less than half of the tolerance from third to third
        (np.linspace(130.0, 220.0, 9), None),  # and by more
    ],
)
def test_what_is_off_by_the_same_amount_all_along(error: FloatArray, steady_off: float | None) -> None:
    found = kept(error)
    assert found.steady_off == (None if steady_off is None else pytest.approx(steady_off, abs=1.0))
    if found.excursions:
        assert found.farthest == pytest.approx(
            steady_off if steady_off is not None else found.worst.worst, abs=1.0
        )
        assert abs(found.worst.worst) == pytest.approx(np.abs(error).max(), abs=3.0)
    assert found.lowest == pytest.approx(4000.0 + error.min(), abs=3.0)
    assert found.highest == pytest.approx(4000.0 + error.max(), abs=3.0)


@pytest.mark.parametrize(
    ("error", "drift"),
    [
        (np.linspace(-150.0, 150.0, 9), 300.0),
        (np.linspace(150.0, -150.0, 9), -300.0),
        # Beside the line by less than a quarter of its rise: half a sine leaves its mean by 0.64 of its height.
        (np.linspace(-150.0, 150.0, 101) + 105.0 * np.sin(np.linspace(0.0, np.pi, 101)), 300.0),
        (np.linspace(-150.0, 150.0, 101) + 130.0 * np.sin(np.linspace(0.0, np.pi, 101)), 0.0),
        # A step leaves its line by a third of that line's rise.
        (np.where(np.arange(101) < 50, -150.0, 150.0), 0.0),
    ],
)
def test_what_climbs_or_sinks_all_the_time(error: FloatArray, drift: float) -> None:
    found = kept(error, given=False)
    assert found.drift == pytest.approx(drift, rel=0.02) if drift else found.drift == 0.0
    assert found.drifted == (abs(drift) > 100.0)
    assert not kept(error, given=True).drifted
    assert not kept(0.3 * error, given=False).drifted


@pytest.mark.parametrize(("share", "held"), [(0.45, True), (0.55, False)])
def test_what_was_kept_for_less_than_half_of_the_hold_was_not_held(share: float, held: bool) -> None:
    error = np.where(np.linspace(0.0, 1.0, 2001) < share, 160.0, 0.0)
    found = kept(error, given=False)
    assert found.held_share == pytest.approx(1.0 - share, abs=0.01)
    assert found.nothing_held == (not held)
    assert not kept(error, given=True).nothing_held


def test_each_time_outside_has_its_begin_end_worst_and_circuits() -> None:
    hold = four()
    time_s = np.arange(hold.start_s, hold.end_s, 1.0)
    first, second = hold.circuits[0], hold.circuits[1]
    error = np.zeros(time_s.size)
    # Twenty seconds to either side of the second passage of the fix, worst at −180 just after it.
    around = np.abs(time_s - first.end_s) <= 20.0
    error[around] = -120.0
    at = int(np.searchsorted(time_s, first.end_s + 5.0))
    error[at] = -180.0
    # And to the very end.
    error[-15:] = 150.0
    held = np.full(time_s.size, 4000.0)
    one, last = excursions(hold.circuits, time_s, error, held, 100.0)
    assert (
        one.start_s == time_s[np.flatnonzero(around)[0]]
        and one.end_s == time_s[np.flatnonzero(around)[-1] + 1]
    )
    assert (one.worst, one.worst_s, one.reference, one.came_back) == (-180.0, time_s[at], 4000.0, True)
    assert one.circuits == (first.number, second.number) and one.duration_s == pytest.approx(41.0, abs=1.0)
    assert (last.worst, last.came_back, last.circuits) == (150.0, False, (4,))
    assert one.errors_in_tolerances == pytest.approx(np.abs(error[around]) / 100.0)
    assert (one.step_s, one.far_s(1.5), one.far_s(1.0), one.far_s(1.9)) == (1.0, 1.0, one.duration_s, 0.0)
    # What touches a circuit for three of its forty seconds was not flown on that one.
    error = np.where((time_s >= first.end_s - 37.0) & (time_s < first.end_s + 3.0), 120.0, 0.0)
    (mostly,) = excursions(hold.circuits, time_s, error, held, 100.0)
    assert mostly.circuits == (first.number,)
    assert excursions(hold.circuits, time_s, np.full(time_s.size, 100.0), held, 100.0) == ()


def test_a_needle_is_read_over_five_samples() -> None:
    series = np.zeros(21)
    series[10] = 100.0
    assert read(series)[8:13] == pytest.approx([20.0] * 5) and read(series)[[7, 13]] == pytest.approx(
        [0.0, 0.0]
    )


def test_an_altitude_is_as_sure_as_its_scatter_from_row_to_row() -> None:
    """White scatter of 20 ft, read over five rows: 20 / √5. A slope is no scatter."""
    rng = np.random.default_rng(4)
    rows = rng.normal(0.0, 20.0, 4000)
    assert altitude_sd_ft(rows) == pytest.approx(20.0 / np.sqrt(5.0), rel=0.06)
    assert altitude_sd_ft(rows + 8.0 * np.arange(4000.0)) == pytest.approx(altitude_sd_ft(rows))
    assert altitude_sd_ft(np.array([0.0, 50.0] * 4)) == 0.0


def test_the_speed_to_hold_is_the_one_given_else_the_one_flown() -> None:
    hold = four()
    tas = float(np.median(hold.motion.tas_kt))
    ias = np.full(hold.motion.time_s.size, 104.0)
    known = replace(hold, motion=replace(hold.motion, ias_kt=ias))
    own = speed_plan(known, 5.0)
    assert (own.name, own.given, own.reference_kt, own.over_a_minute) == ("ias_kt", False, 104.0, False)
    asked = speed_plan(replace(known, hold=replace(known.hold, speed_kias=110.0)), 5.0)
    assert (asked.given, asked.reference_kt) == (True, 110.0)
    # A given speed is an indicated one: the true one that stands in for it is held against itself.
    unknown = replace(hold, motion=replace(hold.motion, ias_kt=np.full(ias.size, np.nan)))
    true = speed_plan(replace(unknown, hold=replace(unknown.hold, speed_kias=110.0)), 5.0)
    assert (true.name, true.given) == ("tas_kt", False) and true.reference_kt == pytest.approx(tas)
    assert own.sd_kt(np.array([1.0, 3.0, np.nan, 2.0])) == 2.0 and own.sd_kt(np.array([np.nan])) == np.inf
    gusty = replace(own, gust_sd_kt=1.5)
    assert gusty.sd_kt(np.array([2.0])) == pytest.approx(2.5)


def bust(off_ft: float, seconds: float) -> FlownHold:
    """Leave the given 4,000 ft once, on the second circuit, climbing and sinking at 100 ft/s."""
    begins = four().circuits[1].start_s - four().start_s + 30.0
    edge = abs(off_ft) / 100.0
    knots = ((begins, 4000.0), (begins + edge, 4000.0 + off_ft), (begins + edge + seconds, 4000.0 + off_ft))
    return at_heights(ramp(*knots, (begins + 2.0 * edge + seconds, 4000.0)), 4000.0)


@pytest.mark.parametrize(
    ("off_ft", "seconds", "severity"),
    [
        (90.0, 60.0, None),
        (120.0, 5.0, "improve"),  # put right within ten seconds
        (130.0, 20.0, "below standard"),  # and not
        (-130.0, 20.0, "below standard"),
        (190.0, 5.0, "improve"),
        (230.0, 5.0, "improve"),
        (230.0, 10.0, "below standard"),
        (270.0, 20.0, "below standard"),
        (270.0, 45.0, "unsafe"),  # beyond twice the tolerance for half a minute
        (-290.0, 6.0, "improve"),
        (-290.0, 9.0, "below standard"),
        (330.0, 6.0, "unsafe"),  # 300 ft: ICAO Doc 4444, 8.5.5
        (-330.0, 6.0, "unsafe"),
    ],
)
def test_how_bad_it_is_to_leave_a_level_once(off_ft: float, seconds: float, severity: str | None) -> None:
    one = said(bust(off_ft, seconds), "level")
    assert (one and one.severity) == severity
    if one is not None and one.value is not None:
        assert one.value == pytest.approx(4000.0 + off_ft, abs=6.0) and one.target == 4000.0
        assert ("above" in one.sentence) == (off_ft > 0.0) and ("below" in one.sentence) == (off_ft < 0.0)
        assert one.circuits == (2,)


def test_each_circuit_has_its_own_seconds_outside_and_the_longest_time_to_come_back() -> None:
    """From 20 s before the end of the second circuit to 30 s after it, and once more for ten."""
    hold = four()
    end_s = hold.circuits[1].end_s - hold.start_s
    again_s = end_s + 60.0
    off = ((end_s - 20.0, end_s + 30.0), (again_s, again_s + 10.0))

    def height(since_s: FloatArray) -> FloatArray:
        left = sum(((since_s >= start) & (since_s <= end)) for start, end in off)
        return np.where(left > 0, 4200.0, 4000.0)

    circuits = judge_hold(at_heights(height, 4000.0), ICAO, FCL).circuits
    scores = [one.scores["altitude"] for one in circuits]
    # The needle is read over five samples: a step shows where most of them are beyond it.
    assert [one.outside_s for one in scores] == pytest.approx([0.0, 20.0, 40.0, 0.0], abs=4.0)
    assert [one.back_s for one in scores] == pytest.approx([0.0, 50.0, 50.0, 0.0], abs=4.0)


@pytest.mark.parametrize(
    ("level_ft", "off_ft", "severity"),
    [
        (4000.0, 80.0, None),
        # Off by the same amount all along it may be the altimeter's setting or a warm day's: up to a twentieth of the
        # level it is spoken of; 300 ft are never the log's.
        (4000.0, 150.0, "improve"),
        (4000.0, -190.0, "improve"),
        (4000.0, 230.0, "below standard"),
        (4000.0, -290.0, "below standard"),
        (4000.0, 310.0, "unsafe"),
        (4000.0, -310.0, "unsafe"),
        (9000.0, 310.0, "improve"),
        (9000.0, -440.0, "improve"),
        (9000.0, 460.0, "unsafe"),
    ],
)
def test_how_bad_it_is_to_be_off_the_level_all_along(
    level_ft: float, off_ft: float, severity: str | None
) -> None:
    one = said(at_heights(lambda since_s: np.full(since_s.size, level_ft + off_ft), level_ft), "level")
    assert (one and one.severity) == severity
    if one is not None:
        way = "above" if off_ft > 0.0 else "below"
        assert (
            f"{abs(off_ft):.0f} ft {way} the {level_ft:,.0f} ft of the hold file throughout" in one.sentence
        )
        assert ("not what the altimeter showed" in one.sentence) == (severity != "unsafe")
        assert one.brief == f"{abs(off_ft):.0f} ft {'high' if off_ft > 0.0 else 'low'} throughout"
        assert (one.value, one.target, one.tolerance) == (level_ft + off_ft, level_ft, 100.0)


@pytest.mark.parametrize("sd_ft", [0.0, 20.0, 60.0])
@pytest.mark.parametrize("factor", [0.98, 1.02])
def test_what_may_be_the_logs_doubt_makes_no_level_unsafe(sd_ft: float, factor: float) -> None:
    """Beyond 300 ft by two sigma."""
    judged = judge_hold(at_heights(lambda since_s: np.full(since_s.size, 4310.0), 4000.0), ICAO, FCL)
    kept = judged.altitude_kept
    assert kept is not None
    off_ft = factor * (300.0 + 2.0 * sd_ft)
    assert _is_unsafe_level(judged, replace(kept, steady_off=off_ft, sd=sd_ft)) == (factor > 1.0)
    assert _is_unsafe_level(judged, replace(kept, steady_off=-off_ft, sd=sd_ft)) == (factor > 1.0)
    once = replace(kept.excursions[0], worst=off_ft, errors_in_tolerances=())
    left = replace(kept, steady_off=None, sd=sd_ft, excursions=(once,))
    assert _is_unsafe_level(judged, left) == (factor > 1.0)


@pytest.mark.parametrize("sd_ft", [0.0, 20.0])
@pytest.mark.parametrize(
    ("tolerances", "seconds", "unsafe"), [(2.1, 29.0, False), (2.1, 31.0, True), (1.9, 90.0, False)]
)
def test_a_level_left_by_twice_its_tolerance_for_half_a_minute_is_unsafe(
    sd_ft: float, tolerances: float, seconds: float, unsafe: bool
) -> None:
    """Beyond doubt: two sigma more than twice the tolerance."""
    judged = judge_hold(at_heights(lambda since_s: np.full(since_s.size, 4310.0), 4000.0), ICAO, FCL)
    kept = judged.altitude_kept
    assert kept is not None
    for doubt_ft, still in ((2.0 * sd_ft + 1.0, True), (2.0 * sd_ft - 12.0, False)):
        once = replace(
            kept.excursions[0],
            worst=100.0 * tolerances + doubt_ft,
            errors_in_tolerances=(tolerances,) * int(seconds),
            step_s=1.0,
        )
        found = _is_unsafe_level(judged, replace(kept, steady_off=None, sd=sd_ft, excursions=(once,)))
        assert found == (unsafe and still)


def at_speed(off_kt: float, seconds: float, *, given_kt: float = 104.0, sd_kt: float = 0.5) -> FlownHold:
    """Hold an indicated airspeed, but for so long on the second circuit."""
    hold = four()
    since_s = hold.motion.time_s - hold.circuits[1].start_s - 30.0
    ias = np.where((since_s > 0.0) & (since_s < seconds), given_kt + off_kt, given_kt)
    motion = replace(
        hold.motion,
        ias_kt=ias,
        ias_sd_kt=np.full(ias.size, sd_kt),
        obtained={**hold.motion.obtained, "ias": "logged"},
    )
    return replace(hold, hold=replace(hold.hold, speed_kias=given_kt), motion=motion)


@pytest.mark.parametrize(
    ("off_kt", "seconds", "standard", "severity"),
    [
        (4.0, 60.0, FCL, None),
        (7.0, 7.0, FCL, "improve"),
        (-7.0, 40.0, FCL, "below standard"),
        (8.0, 40.0, ACS, None),  # ±10 kt
        (13.0, 40.0, ACS, "below standard"),
        (13.0, 7.0, FCL, "improve"),
        (13.0, 12.0, FCL, "below standard"),
        (13.0, 7.0, ACS, "improve"),
        (-28.0, 20.0, FCL, "below standard"),
        (
            -36.0,
            20.0,
            FCL,
            "unsafe",
        ),  # slower than seven tenths of the speed given, which 1.3 times the stall allows
    ],
)
def test_how_bad_it_is_to_leave_a_speed_once(off_kt, seconds, standard, severity) -> None:  # type: ignore[no-untyped-def]
    one = said(at_speed(off_kt, seconds), "speed", standard=standard)
    assert (one and one.severity) == severity
    if one is not None:
        assert one.value == pytest.approx(104.0 + off_kt, abs=0.5) and one.target == 104.0
        assert ("faster" in one.sentence) == (off_kt > 0.0) and one.circuits == (2,)


@pytest.mark.parametrize(("seconds", "beyond"), [(7.0, False), (15.0, True)])
def test_the_maximum_holding_speed_may_be_passed_by_a_gust(seconds: float, beyond: bool) -> None:
    """230 kt indicated up to 14,000 ft (Doc 8168, Table I-6-1-1); surely: by two sigma of half a knot."""
    one = said(at_speed(20.0, seconds, given_kt=220.0), "speed limit")
    assert (one is not None) == beyond
    if one is not None:
        assert (one.severity, one.value, one.target) == ("unsafe", pytest.approx(240.0), 230.0)
    # Beyond the limit is what is wrong with that speed: nothing is said of the one asked for beside it.
    assert (said(at_speed(20.0, seconds, given_kt=220.0), "speed") is None) == beyond
    assert said(at_speed(10.5, 60.0, given_kt=220.0), "speed limit") is None
    assert said(at_speed(11.5, 60.0, given_kt=220.0), "speed limit") is not None


def test_beyond_the_limit_is_told_by_an_indicated_speed_at_a_known_level_alone() -> None:
    """By two sigma of half a knot above 230 kt, for a minute."""
    fast = at_speed(20.0, 60.0, given_kt=220.0)

    def over(hold: FlownHold) -> list[tuple[float, float | None]]:
        return [(one.over_limit_s, one.most_kias) for one in judge_hold(hold, ICAO, FCL).circuits]

    told = over(fast)
    assert (
        told[1] == (pytest.approx(60.0, abs=20.0), pytest.approx(240.0)) and told[0][0] == told[2][0] == 0.0
    )
    unknown = np.full(fast.motion.time_s.size, np.nan)
    true_alone = replace(fast, motion=replace(fast.motion, ias_kt=unknown, tas_kt=fast.motion.tas_kt + 200.0))
    nowhere = replace(
        fast, hold=replace(fast.hold, altitude_ft=None), motion=replace(fast.motion, altitude_ft=unknown)
    )
    assert over(true_alone) == over(nowhere) == [(0.0, None)] * 4


@pytest.mark.parametrize(("late_s", "severity"), [(57.0, None), (75.0, "unsafe")])
def test_where_the_wind_leaves_hardly_any_outbound_leg_twice_hardly_any_is_no_danger(
    late_s: float, severity: str | None
) -> None:
    """Inbound into 35 kt a minute is 1.25 NM: 31 s outbound, of 17 here. Areas allow for the minute and 21 s."""
    hold = fly(
        Plan(wind_from_deg=30.0, wind_kt=35.0, still_air=False, faults=(Faults(outbound_time_s=late_s),) * 3)
    )
    one = said(hold, "long outbound leg", FAA, ACS)
    assert (one and one.severity) == severity


@pytest.mark.parametrize(("factor", "unsafe"), [(1.9, False), (2.4, True)])
def test_an_outbound_leg_of_twice_its_time_is_unsafe(factor: float, unsafe: bool) -> None:
    hold = fly(Plan(wind_kt=0.0, faults=(Faults(outbound_time_s=(factor - 1.0) * 60.0),) * 2))
    assert (said(hold, "long outbound leg") is not None) == unsafe


@pytest.mark.parametrize(
    ("off_kt", "severity"), [(4.5, None), (5.5, "improve"), (-5.5, "improve"), (6.5, "below standard")]
)
def test_what_lies_outside_by_less_than_its_doubt_is_said_and_not_held_against_the_pilot(
    off_kt: float, severity: str | None
) -> None:
    """±5 kt are allowed, and the log knows the speed to ±1 kt."""
    one = said(at_speed(off_kt, 40.0), "speed")
    assert (one and one.severity) == severity
    if one is not None:
        assert ("by a log that knows it to ±1.0 kt only" in one.sentence) == (severity == "improve")
        assert one.outside == (severity == "below standard")


def rough(peak_kt: float) -> Finding | None:
    """Fly 9 kt fast for a minute with a peak of six seconds, by a log that knows the speed to ±8 kt."""
    hold = at_speed(9.0, 60.0, sd_kt=4.0)
    since_s = hold.motion.time_s - hold.circuits[1].start_s - 50.0
    ias = np.where((since_s > 0.0) & (since_s < 7.0), 104.0 + peak_kt, hold.motion.ias_kt)
    return said(replace(hold, motion=replace(hold.motion, ias_kt=ias)), "speed")


def test_what_a_rough_log_makes_of_a_steady_hand_is_taken_off() -> None:
    """Surely outside is beyond 5 + 8 kt; outside for long is beyond 13 kt for ten seconds."""
    assert rough(12.0) is None
    one = rough(22.0)
    assert one is not None and one.severity == "improve"
    assert "by a log that knows it to ±8.0 kt only" in one.sentence and "outside ±" not in one.sentence
    long = said(at_speed(22.0, 40.0, sd_kt=4.0), "speed")
    assert long is not None and long.severity == "below standard"
    fine = said(at_speed(22.0, 40.0), "speed")
    assert fine is not None and "outside ±5 kt for " in fine.sentence and "knows it" not in fine.sentence


@pytest.mark.parametrize(
    ("fix_sd_nm", "late", "circuits"),
    [
        (None, (0, 1, 2), (1, 2, 3)),
        # The first turn after the arrival may be the one that was right, where the fix was inferred from the turns.
        (0.01, (0, 1, 2), (2, 3)),
        (0.01, (1, 2), (2, 3)),
        (0.01, (0,), ()),
        # √2 · 0.15 NM along the course are 7 s at 110 kt: two sigma of that leave nothing of 16 s beyond the allowance.
        (0.15, (0, 1, 2), ()),
    ],
)
def test_a_turn_is_late_by_a_fix_that_is_known_well_enough(
    fix_sd_nm: float | None, late: tuple[int, ...], circuits: tuple[int, ...]
) -> None:
    hold = fly(
        Plan(wind_kt=0.0, faults=tuple(Faults(late_turn_s=16.0 if k in late else 0.0) for k in range(3)))
    )
    if fix_sd_nm is not None:
        hold = replace(
            hold, inferred=hold.hold, fix_sd_nm=fix_sd_nm, course_sd_deg=0.5, inferred_sd=(fix_sd_nm, 0.5)
        )
    one = said(hold, "late turn")
    assert (() if one is None else one.circuits) == circuits
    if one is not None:
        assert one.value == pytest.approx(16.0, abs=0.5) and one.target == 0.0

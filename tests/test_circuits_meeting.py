"""The course told by how it was met: legs drawn by hand, with other laws than the program's own pilot."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.circuits.course_estimation import LegEnd, OutboundFlown, course_met
from analyser.earth.angles import wrap180

#: The legs' line: course 070 over a point of the map.
COURSE_DEG, FIX_NM = 70.0, np.array([3.0, -2.0])
SPEED_NM_S = 110.0 / 3600.0


def leg(off_deg: list[float], over_nm: float = 0.0, *, straight_s: int = 16, sd_deg: float = 6.0) -> LegEnd:
    """Draw a leg that ends over the fix, ``over_nm`` right of it, from its track off the course second by second."""
    track = COURSE_DEG + np.array(off_deg)
    toward = np.radians(track)
    steps = SPEED_NM_S * np.column_stack([np.sin(toward), np.cos(toward)])
    beside = over_nm * np.array([np.cos(np.radians(COURSE_DEG)), -np.sin(np.radians(COURSE_DEG))])
    points = FIX_NM + beside - np.cumsum(steps[::-1], axis=0)[::-1]
    return LegEnd(
        points[:, 0], points[:, 1], track, float(track[-straight_s:].mean()), sd_deg, float(track[0])
    )


def off(found_deg: float) -> float:
    return float(wrap180(found_deg - COURSE_DEG))


def ramp(*stages: tuple[float, int]) -> list[float]:
    """Hold each angle for its seconds, turning at 3° a second between: a pilot who flies headings, not a law."""
    flown = [stages[0][0]]
    for aim, seconds in stages:
        while abs(flown[-1] - aim) > 3.0:
            flown.append(flown[-1] + 3.0 * np.sign(aim - flown[-1]))
        flown.extend([aim] * seconds)
    return flown


def test_settled_legs_tell_it_closely() -> None:
    legs = [leg([0.4] * 60, 0.01, sd_deg=0.8), leg([-0.3] * 60, -0.02, sd_deg=0.8)]
    met = course_met(legs, COURSE_DEG + 12.0)
    assert off(met.course_deg) == pytest.approx(0.0, abs=0.8)
    assert met.sd_deg < 1.5


@pytest.mark.parametrize("side", [1, -1])
def test_met_in_the_last_seconds_only(side: int) -> None:
    """Every leg is an intercept of 30° that ends in a turn onto the course just before the fix."""
    legs = [leg(ramp((side * 30.0, 20), (0.0, seconds)), sd_deg=12.0) for seconds in (3, 4, 5)]
    mean = float(np.mean([wrap180(g.straight_deg - COURSE_DEG) for g in legs]))
    assert abs(mean) > 8.0, "their last parts alone mislead"
    met = course_met(legs, COURSE_DEG + side * 15.0)
    assert abs(off(met.course_deg)) < 4.0
    assert abs(off(met.course_deg)) < 2.0 * met.sd_deg


@pytest.mark.parametrize("side", [1, -1])
def test_one_leg_never_met_it(side: int) -> None:
    """An intercept flown straight through the fix looks as settled as the others, which turned onto the course."""
    legs = [leg(ramp((side * 30.0, 15), (0.0, 25)), sd_deg=3.5) for _ in range(2)]
    legs.append(leg([side * 30.0] * 50, sd_deg=1.0))
    met = course_met(legs, COURSE_DEG + side * 10.0)
    assert off(met.course_deg) == pytest.approx(0.0, abs=2.0)


def met_smoothly(noise_deg: float, seed: int) -> LegEnd:
    """Turn onto the course from 24° off it by and by, the heading wandering by so much from one step to the next."""
    rng = np.random.default_rng(seed)
    steps = np.arange(0.0, 80.0, 4.0)
    wander = np.interp(np.arange(77), steps, rng.normal(0.0, noise_deg, steps.size))
    return leg(list(24.0 * np.exp(-np.arange(77) / 18.0) + wander), sd_deg=12.0)


def test_a_steady_hand_tells_it_more_closely_than_a_restless_one() -> None:
    """Of how much a heading wanders the turning itself tells; no straight end helps."""
    flown = [
        [course_met([met_smoothly(noise, 3 * k + n) for n in range(3)], COURSE_DEG + 10.0) for k in range(3)]
        for noise in (0.2, 3.0)
    ]
    steady, restless = (float(np.median([met.sd_deg for met in one])) for one in flown)
    assert steady < 0.8 * restless
    for one in flown:
        assert np.mean([abs(off(met.course_deg)) <= 2.0 * met.sd_deg for met in one]) > 0.8


def test_where_nobody_can_tell_it_says_so() -> None:
    settled = course_met([leg([0.0] * 60, sd_deg=0.8)] * 3, COURSE_DEG)
    apart = course_met([leg([0.0] * 50, sd_deg=2.0), leg([30.0] * 50, sd_deg=2.0)], COURSE_DEG + 15.0)
    assert apart.sd_deg > 5.0 > settled.sd_deg


@pytest.mark.parametrize("true_off", [0.0, 30.0])
def test_the_outbound_legs_decide_between_two(true_off: float) -> None:
    """In light wind nobody flies outbound 30° off the reciprocal."""
    legs = [leg([0.0] * 50, sd_deg=2.0), leg([30.0] * 50, sd_deg=2.0)]
    light = OutboundFlown(np.array([COURSE_DEG + true_off + 182.0] * 2), 5.0, 0.0, 110.0)
    met = course_met(legs, COURSE_DEG + 15.0, light)
    assert off(met.course_deg) == pytest.approx(true_off, abs=3.0)
    assert met.sd_deg < course_met(legs, COURSE_DEG + 15.0).sd_deg


def test_drift_corrections_are_into_the_wind() -> None:
    """AIM 5-3-8: 8° of drift is corrected into the wind; 15 kt straight across at 107.8 kt are 8.0°."""
    from_west = OutboundFlown(np.array([0.0]), 15.0, 0.0, 15.0 / np.sin(np.radians(8.0)))
    assert from_west.drift_correction_deg(np.array([0.0, 180.0])) == pytest.approx([-8.0, 8.0])


def homed(from_deg: float, wind: tuple[float, float], *, nose_off_deg: float = 0.0) -> LegEnd:
    """Fly to the fix from 1.6 NM away on this bearing from it, nose on it all the way or that much beside it."""
    place = 1.6 * np.array([np.sin(np.radians(from_deg)), np.cos(np.radians(from_deg))])
    places, tracks, headings = [], [], []
    while np.hypot(*place) > 0.04 and len(places) < 200:
        bearing = float(np.degrees(np.arctan2(-place[0], -place[1])))
        headings.append(bearing + nose_off_deg)
        nose = np.radians(headings[-1])
        over = 110.0 * np.array([np.sin(nose), np.cos(nose)]) + wind
        places.append(place.copy())
        tracks.append(float(np.degrees(np.arctan2(*over))))
        place += over / 3600.0
    east, north = np.array(places).T + FIX_NM[:, None]
    track = np.unwrap(tracks, period=360.0)
    bend = abs(track[-1] - track[-16])
    return LegEnd(east, north, track, float(track[-16:].mean()), 1.0 + 0.8 * bend, headings[0])


def test_who_keeps_the_nose_on_the_fix_is_not_taken_to_track_the_line_that_he_ends_on() -> None:
    """A wind across sets him on a bend that ends into the wind, on the same line each lap, far off the course."""
    across = (30.0 * np.cos(np.radians(COURSE_DEG)), -30.0 * np.sin(np.radians(COURSE_DEG)))
    air = OutboundFlown(np.array([COURSE_DEG + 180.0] * 3), *across, 110.0)
    homes = course_met([homed(COURSE_DEG + 180.0 + d, across) for d in (-6.0, 0.0, 7.0)], COURSE_DEG, air)
    assert homes.sd_deg > 5.0
    assert abs(off(homes.course_deg)) < 2.0 * homes.sd_deg
    correction = float(air.drift_correction_deg(np.array([COURSE_DEG]))[0])
    tracks = [homed(COURSE_DEG + 180.0, across, nose_off_deg=correction) for _ in range(3)]
    met = course_met(tracks, COURSE_DEG, air)
    assert met.sd_deg < 3.0
    assert off(met.course_deg) == pytest.approx(0.0, abs=1.0)
    # The wind, 16° across, sets the one who homes off the line, and hardly the one who keeps to it.
    assert homes.sd_deg > 8.0


def held(heading_deg: float, wind: tuple[float, float], seconds: int) -> LegEnd:
    """Hold what was rolled out on, to beside the fix."""
    nose = np.radians(heading_deg)
    over = (110.0 * np.array([np.sin(nose), np.cos(nose)]) + wind) / 3600.0
    east, north = FIX_NM[:, None] - over[:, None] * np.arange(seconds)[::-1]
    track = float(np.degrees(np.arctan2(*over)))
    return LegEnd(east, north, np.full(seconds, track), track, 1.0, heading_deg)


def test_who_holds_what_he_rolled_out_on_passes_beside_the_fix_and_who_homes_over_it() -> None:
    across = (30.0 * np.cos(np.radians(COURSE_DEG)), -30.0 * np.sin(np.radians(COURSE_DEG)))
    air = OutboundFlown(np.array([COURSE_DEG + 180.0] * 3), *across, 110.0)
    holds = course_met([held(COURSE_DEG + d, across, 40) for d in (-9.0, 2.0, 8.0)], COURSE_DEG, air)
    homes = course_met([homed(COURSE_DEG + 180.0 + d, across) for d in (-6.0, 0.0, 7.0)], COURSE_DEG, air)
    assert homes.passed_aside_deg < 0.5 * holds.passed_aside_deg
    assert holds.passed_aside_deg > 8.0


@pytest.mark.parametrize(
    ("apart_nm", "least_sd_nm", "most_sd_nm"),
    [((0.0, 0.0, 0.0, 0.0), 0.005, 0.015), ((0.0, 0.1, -0.1, 0.05), 0.03, 0.06)],
)
def test_how_closely_the_fix_was_passed_shows_in_how_unlike_the_laps_pass(
    apart_nm: tuple[float, ...], least_sd_nm: float, most_sd_nm: float
) -> None:
    legs = [leg([0.0] * 60, nm, sd_deg=0.8) for nm in apart_nm]
    met = course_met(legs, COURSE_DEG)
    assert least_sd_nm < met.cross_sd_nm < most_sd_nm


def test_the_line_lies_where_the_legs_ended() -> None:
    legs = [leg([0.0] * 60, 0.05, sd_deg=0.8) for _ in range(3)]
    met = course_met(legs, COURSE_DEG)
    toward = np.radians(COURSE_DEG)
    fix_cross = float(FIX_NM[0] * np.cos(toward) - FIX_NM[1] * np.sin(toward))
    assert met.cross_nm - fix_cross == pytest.approx(0.05, abs=0.03)
    assert met.cross_sd_nm < 0.08


def test_turned_with_the_map() -> None:
    """The course turns with the flight, and nothing else changes."""
    legs = [leg(ramp((25.0, 15), (-6.0, 5), (0.0, s)), 0.02, sd_deg=4.0) for s in (6, 12)]
    one = course_met(legs, COURSE_DEG)
    turn = np.radians(200.0)
    turned = [
        LegEnd(
            g.east_nm * np.cos(turn) + g.north_nm * np.sin(turn),
            g.north_nm * np.cos(turn) - g.east_nm * np.sin(turn),
            (g.track_deg + 200.0) % 360.0,
            g.straight_deg + 200.0,
            g.straight_sd_deg,
            g.rollout_heading_deg + 200.0,
        )
        for g in legs
    ]
    other = course_met(turned, COURSE_DEG + 200.0)
    assert wrap180(other.course_deg - one.course_deg - 200.0) == pytest.approx(0.0, abs=1e-6)
    assert other.sd_deg == pytest.approx(one.sd_deg, abs=1e-6)

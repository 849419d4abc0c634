"""Why a racetrack may be no hold after all."""

from __future__ import annotations

import numpy as np

from analyser.circuits.lone import why_not_alone
from analyser.circuits.racetrack import M_PER_NM, Racetrack, distance_nm
from analyser.circuits.shape import is_blind, is_fine, pauses, span, swing_deg
from analyser.circuits.turning import smooth
from analyser.logs.track import FloatArray
from analyser.motion.circle import circle_fit
from analyser.motion.survey import Survey

#: A hold is level, or goes one way (down a stack, up a shuttle). Down this much and up again is a circuit round
#: an aerodrome or an approach flown over.
SAWTOOTH_FT = 420.0
#: Longer legs than these, averaged over a lap, belong to a journey or a survey, seconds: with the height known
#: to be held, and without.
LONGEST_MEAN_LEG_S, LONGEST_MEAN_LEG_BLIND_S = 330.0, 200.0
#: … unless they are no longer than this over the ground: against a gale a minute's leg takes many.
SLOW_LEG_NM = 5.0
#: From this share of the airspeed up, a wind can leave a leg no time at all.
STRONG_WIND_SHARE = 0.22
#: Both legs of a lap together, seconds: less, and it is an orbit; one lap alone has to show more of them. The
#: shortest legs that are taught are half a minute each, and smoothing takes some seconds off either end.
SHORTEST_LEGS_S, SHORTEST_LONE_LEGS_S = 22.0, 40.0
#: The way along a leg swings through less than this, correction and late meeting of the course included, degrees; so
#: close to its ends it may still be turning, seconds.
LEG_SWING_DEG, LEG_END_S = 75.0, 4
#: Steeper turning than this is airwork.
STEEPEST_BANK_DEG = 50.0
#: Laps whose fixes march on by more than this each time, all one way, are lines of a survey.
MARCH_NM = 0.07
#: Two laps do where the legs are longer than the second of these, seconds, for then they are no timed hold's; one
#: lap more is needed below each.
SURVEY_LEGS_S = (110.0, 150.0)
#: Laps whose fixes march on by so much each time, every step like the mean one within this share of it, have no fix at
#: all, whichever way they march; of one step it takes the second.
NO_FIX_NM, NO_FIX_ONE_STEP_NM, NO_FIX_ALIKE = 0.5, 0.8, 0.5
#: Speed over the laps, quickest to slowest, wind allowed for: a hold is flown at one speed.
SPEED_RATIO = 1.75
#: Without heights: so much change of ground speed along a straight leg is a landing's.
LEG_SPEED_SHARE_BLIND = 0.27
#: The height is looked at this long before and after the laps too, for a landing may lie just there.
AROUND_S = 45


def why_not(survey: Survey, racetrack: Racetrack, *, expected: bool = False) -> str:
    """Say why a racetrack is no hold, in words for the pilot; empty where nothing speaks against it.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack
    expected : bool
        Whether a hold was to be flown just here: then one lap, however badly flown, is not there by chance.

    Returns
    -------
    str
    """
    by_chance = () if expected else (why_not_alone, _fixless)
    checks = (_sawtooth, _circles, _legs, _swinging, *by_chance, _paused, _steep, _marching, _speed)
    return next((said for check in checks if (said := check(survey, racetrack))), "")


def _sawtooth(survey: Survey, racetrack: Racetrack) -> str:
    if is_blind(survey, racetrack):
        return ""
    around = slice(max(racetrack.start - AROUND_S, 0), racetrack.end + AROUND_S)
    height = smooth(survey.altitude_ft[around], 5.0)[::5]
    deepest, times = _teeth(height)
    if times >= max(len(racetrack.laps) - 1, 1):
        return f"it goes down and up again by {deepest:.0f} ft: laps of an aerodrome or of an approach"
    return ""


def _teeth(height: FloatArray) -> tuple[float, int]:
    """Return the deepest tooth of a height's saw, and how often it turned after going more than a tooth's depth."""
    turns = [float(height[0])]
    reach, way = float(height[0]), 0
    for value in height[1:].tolist():
        onward = (value - reach) * way if way else abs(value - turns[0])
        if way == 0 and onward > SAWTOOTH_FT:
            reach, way = value, 1 if value > turns[0] else -1
        elif way and onward > 0.0:
            reach = value
        elif way and -onward > SAWTOOTH_FT:
            turns.append(reach)
            reach, way = value, -way
    turns.append(reach)
    sides = np.abs(np.diff(turns))
    return float(np.minimum(sides[:-1], sides[1:]).max(initial=0.0)), len(turns) - 2


def _circles(survey: Survey, racetrack: Racetrack) -> str:
    """Believe that two turns were flown as one circle only where a strong wind asks for it, again and again."""
    if not racetrack.has_halves:
        return ""
    inside = span(racetrack)
    wind_east, wind_north, speed = circle_fit(survey.east_mps[inside][::2], survey.north_mps[inside][::2])
    if len(racetrack.laps) < 2 or np.hypot(wind_east, wind_north) < STRONG_WIND_SHARE * speed:
        return "it is made of whole circles: orbits"
    return ""


def _legs(survey: Survey, racetrack: Racetrack) -> str:
    legs = np.array([[b - a for a, b in lap.legs] for lap in racetrack.laps], float)
    mean = float(np.median(legs.mean(axis=1)))
    blind = is_blind(survey, racetrack)
    length = float(np.median([distance_nm(survey, *lap.legs[0]) for lap in racetrack.laps]))
    if mean > (LONGEST_MEAN_LEG_BLIND_S if blind else LONGEST_MEAN_LEG_S) and length > SLOW_LEG_NM:
        return f"its legs last {mean:.0f} s on average: too long for a hold"
    shortest = SHORTEST_LEGS_S if len(racetrack.laps) > 1 else SHORTEST_LONE_LEGS_S
    if float(np.median(legs.sum(axis=1))) < shortest:
        return "it has hardly any legs: an orbit"
    return ""


def _swinging(survey: Survey, racetrack: Racetrack) -> str:
    """Tell legs from the turning between other turns; laps without legs say nothing of them."""
    # Between sparse fixes a turn is smeared over as long as they take to show it.
    swings, end_s = [], max(LEG_END_S, round(racetrack.scale_s))
    for lap in racetrack.laps:
        if sum(b - a for a, b in lap.legs) >= SHORTEST_LEGS_S:
            swings.append(max(swing_deg(survey, a + end_s, b - end_s) for a, b in lap.legs))
    usual_deg = float(np.median(swings)) if swings else 0.0
    return f"its legs swing through {usual_deg:.0f}°: airwork" if usual_deg > LEG_SWING_DEG else ""


def _paused(survey: Survey, racetrack: Racetrack) -> str:
    """Without heights, tell an aerodrome circuit by its turns: each is two, with a short leg between."""
    if not is_blind(survey, racetrack) or not is_fine(racetrack):
        return ""
    turns = [turn for lap in racetrack.laps for turn in (lap.outbound, lap.inbound)]
    paused = float(np.mean([pauses(survey, turn) for turn in turns]))
    return "its turns pause half way, as round an aerodrome" if paused >= 0.5 else ""


def _steep(survey: Survey, racetrack: Racetrack) -> str:
    banks = []
    for lap in racetrack.laps:
        for turn in (lap.outbound, lap.inbound):
            seconds = max(turn.end - turn.start, 1)
            speed = float(np.median(survey.ground_speed_kt[turn.start : turn.end])) / 1.944
            banks.append(np.degrees(np.arctan(speed * np.radians(abs(turn.change_deg) / seconds) / 9.80665)))
    steepest = float(np.median(banks))
    return f"its turns take {steepest:.0f}° of bank: airwork" if steepest > STEEPEST_BANK_DEG else ""


def _marching(survey: Survey, racetrack: Racetrack) -> str:
    fixes = np.array([lap.fix_m for lap in racetrack.laps]) / M_PER_NM
    away = [lap.inbound.start - lap.outbound.end for lap in racetrack.laps]
    if len(fixes) < sum(np.median(away) < leg_s for leg_s in SURVEY_LEGS_S) + 2:
        return ""
    toward = np.radians(racetrack.course_deg)
    steps = np.diff(fixes @ np.array([np.cos(toward), -np.sin(toward)]))
    # The way back must lie beside the lap's beginning, too: a sloppy pilot meets the fix from various sides,
    # but meets it, while a surveyor never comes back over a line.
    missed = min(lap.miss_nm for lap in racetrack.laps[: max(len(fixes) - 1, 2)]) > 0.85 * float(
        np.abs(steps.mean())
    )
    one_way = abs(np.sign(steps).sum()) == steps.size and np.std(steps) < 0.5 * abs(steps.mean())
    if missed and one_way and np.abs(steps).min() > MARCH_NM:
        return f"each lap lies {abs(steps.mean()):.2f} NM beside the last: lines of a survey"
    return ""


def _fixless(_survey: Survey, racetrack: Racetrack) -> str:
    # Where the first lap began is not known so well: its turn may be one with the way to the fix.
    fixes = np.array([lap.fix_m for lap in racetrack.laps[1:]]) / M_PER_NM
    if len(fixes) < 2:
        return ""
    steps = np.diff(fixes, axis=0)
    step = steps.mean(axis=0)
    step_nm = float(np.hypot(*step))
    alike = float(np.hypot(*(steps - step).T).max()) <= NO_FIX_ALIKE * step_nm
    if alike and step_nm > (NO_FIX_NM if len(steps) > 1 else NO_FIX_ONE_STEP_NM):
        return f"each lap begins {step_nm:.1f} NM farther on: it goes round no fix"
    return ""


def _leg_speed_range(survey: Survey, racetrack: Racetrack) -> float:
    """Return how much the ground speed changes along the worse leg of the usual lap, as a share of the mean speed."""
    # Smoothed with so much beside it that its ends feel nothing of the cut.
    first = max(racetrack.start - 30, 0)
    speed = smooth(survey.ground_speed_kt[first : racetrack.end + 30], 1.5)
    worst = []
    for lap in racetrack.laps:
        legs = ((a + 5 - first, b - 5 - first) for a, b in lap.legs)
        worst.append(max((float(np.ptp(speed[a:b])) for a, b in legs if b - a >= 10), default=0.0))
    return float(np.median(worst) / speed[racetrack.start - first : racetrack.end + 1 - first].mean())


def _speed(survey: Survey, racetrack: Racetrack) -> str:
    blind = is_blind(survey, racetrack)
    if blind and _leg_speed_range(survey, racetrack) > LEG_SPEED_SHARE_BLIND:
        return "its speed falls and rises along a leg, as over a runway"
    inside = span(racetrack)
    east, north = (smooth(v[inside], 6.0) for v in (survey.east_mps, survey.north_mps))
    # Half the sum of opposite ground velocities is the wind, roughly; enough to tell a landing from a hold.
    wind_east, wind_north = (0.5 * (np.percentile(v, 98) + np.percentile(v, 2)) for v in (east, north))
    speed = np.hypot(east - wind_east, north - wind_north)
    ratio = float(np.percentile(speed, 97) / max(np.percentile(speed, 3), 1.0))
    return (
        f"its speed changes by a factor of {ratio:.1f}: not flown at one speed" if ratio > SPEED_RATIO else ""
    )

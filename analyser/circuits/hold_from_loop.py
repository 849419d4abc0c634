"""A hold inferred from a loop: hypotheses of fix and course are tried, each cut as a given hold is.

Where turns run into each other or positions are joined by chords no racetrack is seen. But a hypothesis of the fix,
taken from where the flight came round to, cuts such a flight as a hold file would; the hypothesis is taken for which
most speaks, and the flight itself then tells fix and course.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.circuits.candidate_selection import place_on_earth
from analyser.circuits.flown import FlownHold
from analyser.circuits.given_cutting import inferred_hold
from analyser.circuits.given_fit import stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.loops import Loop
from analyser.circuits.racetrack import distance_nm
from analyser.circuits.survey_turns import smooth
from analyser.circuits.thresholds import GROUPING, LOOPS, RACETRACK
from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.motion.survey import Survey


def stay_at_loop(track: Track, survey: Survey, loop: Loop) -> GivenReading | None:
    """Read a loop as a stay at a hold of its own; None where it does not show one plainly.

    Parameters
    ----------
    track : Track
    survey : Survey
    loop : Loop
    """
    if loop.laps < 2 or loop.is_circling:
        return None
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    holds = _hypotheses(track, survey, loop.index, int(loop.lap_s), loop.side)
    tried = [stay for hold in holds if (stay := _stay(track, hold, start, end))]
    best = max(tried, key=lambda stay: stay.evidence, default=None)
    if best is None or not _is_plain(best):
        return None
    settled = _stay(track, inferred_hold(track, best), start, end)
    return settled if settled is not None and _is_plain(settled) else None


def stay_with_more_laps(track: Track, survey: Survey, flown: FlownHold) -> GivenReading | None:
    """Read an inferred hold anew as a given one is read; None where that shows no whole lap more.

    A racetrack ends where a lap does not look like one: cut short to leave, or its legs lost between chords. Once a
    hold is known from the others, such laps need only come round to its fix.

    Parameters
    ----------
    track : Track
    survey : Survey
    flown : FlownHold
        As cut by its racetrack.
    """
    begun_s = flown.circuits[0].start_s
    lap_s = (flown.end_s - begun_s) / len(flown.circuits)
    index = int(np.searchsorted(survey.time_s, begun_s))
    holds = [
        hold
        for hold in _hypotheses(track, survey, index, int(lap_s), flown.hold.side)
        if _is_like(hold, flown)
    ]
    stays = [_stay(track, hold, begun_s, flown.end_s) for hold in (flown.hold, *holds)]
    whole = sum(circuit.complete for circuit in flown.circuits)
    more = [s for s in stays if s and len(s.laps) > whole and _is_of_one_hold(s)]
    best = max(more, key=lambda stay: stay.evidence, default=None)
    if best is None:
        return None
    settled = _stay(track, inferred_hold(track, best), begun_s, flown.end_s)
    kept = settled is not None and len(settled.laps) >= len(best.laps) and _is_of_one_hold(settled)
    # Between chords, a lap begun over an inferred fix and broken off looks like a way out of the hold: it is not told.
    return replace(settled if kept and settled is not None else best, broken=None)


def _is_like(hold: Hold, flown: FlownHold) -> bool:
    """Tell whether a hypothesis may be the hold that was cut, read better."""
    turned = abs(wrap180(hold.inbound_course_true_deg - flown.hold.inbound_course_true_deg))
    east, north, _ = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg).to_plane(
        np.array([flown.hold.fix_lat_deg]), np.array([flown.hold.fix_lon_deg])
    )
    turn, motion = flown.circuits[0].outbound_turn, flown.motion
    if turn is None:
        return False
    ends = [
        np.array([motion.at("east_nm", at), motion.at("north_nm", at)]) for at in (turn.start_s, turn.end_s)
    ]
    near_nm = _near_nm(float(np.hypot(*(ends[1] - ends[0]))))
    return turned <= GROUPING.late_met_deg and float(np.hypot(east[0], north[0])) <= near_nm


def _near_nm(turn_width_nm: float) -> float:
    """Return how near to each other laps of one hold pass, by the width of its turns."""
    return max(RACETRACK.closing_nm, RACETRACK.closing_share * turn_width_nm)


def _is_of_one_hold(stay: GivenReading) -> bool:
    """Tell whether all laps of a stay are laps of its hold: of its hand, back near its fix and course, alike."""
    view = stay.view
    one_hand = all(lap.outbound.side == lap.inbound.side == stay.side for lap in stay.laps)
    met = [abs(float(view.off_deg[max(p.index - 5, 0)])) for p in stay.passages[1:]]
    lasts = np.array([lap.end - lap.start for lap in stay.laps], dtype=float)
    alike = float(lasts.max() / max(lasts.min(), 1.0)) <= LOOPS.plain_lap_ratio
    near = all(
        p.miss_nm <= _near_nm(distance_nm(view.survey, lap.outbound.start, lap.outbound.end))
        for p, lap in zip(stay.passages[1:], stay.laps, strict=True)
    )
    level = all(not _climbs_back(view.survey, lap.start, lap.end) for lap in stay.laps)
    return one_hand and max(met) <= GROUPING.course_apart_deg and alike and near and level


def _hypotheses(track: Track, survey: Survey, index: int, lap_s: int, side: int) -> list[Hold]:
    """Return a hold for every place of the first lap where a straight way ends."""
    east, north = smooth(survey.east_mps, 4.0), smooth(survey.north_mps, 4.0)
    direction = np.degrees(np.unwrap(np.arctan2(east, north)))
    before, after = LOOPS.straight_before_s, LOOPS.turn_within_s
    holds = []
    first, last = max(index - lap_s, before), index + lap_s
    for at in range(first, min(last, direction.size - after), LOOPS.hypothesis_step_s):
        straight = np.ptp(direction[at - before : at + 1]) < LOOPS.straight_deg
        turns = side * (direction[at + after] - direction[at]) > LOOPS.turn_deg
        if straight and turns:
            lat, lon = place_on_earth(track, float(survey.time_s[at]))
            course = float(direction[at - before : at + 1].mean() % 360.0)
            holds.append(Hold(lat, lon, course, "right" if side > 0 else "left"))
    return holds


def _stay(track: Track, hold: Hold, start_s: float, end_s: float) -> GivenReading | None:
    """Return the stay at a hypothesis that this stretch is part of."""
    stays = [s for s in stays_at(track, hold) if s.start_s < end_s and start_s < s.end_s]
    return max(stays, key=lambda stay: stay.evidence, default=None)


def _is_plain(stay: GivenReading) -> bool:
    """Tell a stay that is plainly a hold: laps alike, one hand, legs, near the fix every time, at one speed."""
    if len(stay.laps) < 2 or stay.usual_miss_nm > LOOPS.plain_miss_nm:
        return False
    view = stay.view
    one_hand = all(lap.outbound.side == lap.inbound.side == stay.side for lap in stay.laps)
    legs = [sum(max(b - a, 0) for a, b in lap.legs) for lap in stay.laps]
    met = [abs(float(view.off_deg[max(p.index - 5, 0)])) for p in stay.passages[1:]]
    lasts = np.array([lap.end - lap.start for lap in stay.laps], dtype=float)
    alike = float(lasts.max() / max(lasts.min(), 1.0)) <= LOOPS.plain_lap_ratio
    speed = smooth(view.survey.ground_speed_kt, 6.0)[stay.start : stay.end + 1]
    steady = float(np.percentile(speed, 97) / max(np.percentile(speed, 3), 1.0)) <= LOOPS.plain_speed_ratio
    level = all(not _climbs_back(view.survey, lap.start, lap.end) for lap in stay.laps)
    return (
        one_hand
        and min(legs) >= LOOPS.plain_legs_s
        and float(np.median(met)) <= LOOPS.plain_course_deg
        and alike
        and steady
        and level
    )


def _climbs_back(survey: Survey, start: int, end: int) -> bool:
    """Tell a lap that goes down and up again."""
    height = survey.altitude_ft[start : end + 1]
    if not np.isfinite(height).all():
        return False
    low, high = float(height.min()), float(min(height[0], height[-1]))
    return high - low > LOOPS.plain_dip_ft

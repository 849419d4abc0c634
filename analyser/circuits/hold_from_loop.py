"""A hold inferred from a loop: hypotheses of fix and course are tried, each cut as a given hold is.

Where turns run into each other or positions are joined by chords no racetrack is seen. But a hypothesis of the fix,
taken from where the flight came round to, cuts such a flight as a hold file would; the hypothesis is taken for which
most speaks, and the flight itself then tells fix and course.
"""

from __future__ import annotations

import numpy as np

from analyser.circuits.candidate_selection import place_on_earth
from analyser.circuits.given_cutting import inferred_hold
from analyser.circuits.given_fit import stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.loops import Loop
from analyser.circuits.survey_turns import smooth
from analyser.circuits.thresholds import LOOPS
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
    tried = [stay for hold in _hypotheses(track, survey, loop) if (stay := _stay(track, hold, loop, survey))]
    best = max(tried, key=lambda stay: stay.evidence, default=None)
    if best is None or not _is_plain(best):
        return None
    own = inferred_hold(track, best)
    settled = _stay(track, own, loop, survey)
    return settled if settled is not None and _is_plain(settled) else None


def _hypotheses(track: Track, survey: Survey, loop: Loop) -> list[Hold]:
    """Return a hold for every place of the first lap where a straight way ends."""
    east, north = smooth(survey.east_mps, 4.0), smooth(survey.north_mps, 4.0)
    direction = np.degrees(np.unwrap(np.arctan2(east, north)))
    before, after = LOOPS.straight_before_s, LOOPS.turn_within_s
    holds = []
    first, last = max(loop.index - int(loop.lap_s), before), loop.index + int(loop.lap_s)
    for at in range(first, min(last, direction.size - after), LOOPS.hypothesis_step_s):
        straight = np.ptp(direction[at - before : at + 1]) < LOOPS.straight_deg
        turns = loop.side * (direction[at + after] - direction[at]) > LOOPS.turn_deg
        if straight and turns:
            lat, lon = place_on_earth(track, float(survey.time_s[at]))
            course = float(direction[at - before : at + 1].mean() % 360.0)
            holds.append(Hold(lat, lon, course, "right" if loop.side > 0 else "left"))
    return holds


def _stay(track: Track, hold: Hold, loop: Loop, survey: Survey) -> GivenReading | None:
    """Return the stay at a hypothesis that the loop is part of."""
    start, end = float(survey.time_s[loop.index]), float(survey.time_s[loop.last])
    stays = [s for s in stays_at(track, hold) if s.start_s < end and start < s.end_s]
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

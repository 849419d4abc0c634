"""What speaks for a racetrack, and what against its being a hold.

For: how it closes, how it was joined and left, by which two readings of one chain of turns are told from each other.
Against: one rule each, with its code and a sentence for the pilot. A racetrack
against which nothing speaks is a hold. One against which a doubt speaks may be one: it is shown, and not scored. One
that is certainly something else (laps that go down to the ground) is said to be that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analyser.circuits.flown import Objection
from analyser.circuits.racetrack import (
    Racetrack,
    RacetrackLap,
    Reasons,
    TurnRun,
    chains,
    circles_halved,
    closing_nm,
    distance_nm,
    distances_nm,
    ending_within,
    is_chorded,
    point_m,
    readings_of,
    smooth,
    turn_runs,
    without_overlap,
)
from analyser.circuits.thresholds import RACETRACK, REJECTION, SCORING
from analyser.earth.angles import wrap180
from analyser.earth.constants import KT_PER_MPS, METRES_PER_NM
from analyser.logs.track import FloatArray
from analyser.motion.circle import circle_fit
from analyser.motion.motion_thresholds import ESTIMATE
from analyser.motion.survey import Survey


def reasons_for(survey: Survey, racetrack: Racetrack) -> Reasons:
    """Weigh what speaks for the first turn of each lap being the one that begins over the fix.

    Of the racetrack ``turned_back`` is known, the score not yet.
    """
    tolerance = max(closing_nm(survey, lap) for lap in racetrack.laps)
    # Leaving over the fix with one more turn gives the wrong reading a lap that only just comes back, while the
    # right one comes back over its fix every time. But a lap badly met is a lap: it must not count against the rest.
    misses = np.array([lap.miss_nm for lap in racetrack.laps])
    close = 1.0 / (1.0 + (misses / (SCORING.half_miss_share * tolerance)) ** 2)
    laps = SCORING.lap_points * float((1.0 - SCORING.close_share + SCORING.close_share * close).sum())
    points = [lap.fix_m for lap in racetrack.laps]
    after = racetrack.after
    if (
        after
        and np.hypot(*(point_m(survey, after.start) - racetrack.fix_m)) / METRES_PER_NM
        < SCORING.begun_again_share * tolerance
    ):
        points.append(point_m(survey, after.start))
    scatter = _scatter_nm(points) if len(points) > 1 else 0.0
    return Reasons(
        laps=laps,
        scatter=-SCORING.scatter_points * min(scatter / tolerance, 1.0),
        misses=-SCORING.miss_points * min(float(misses.mean()) / tolerance, SCORING.most_miss_share),
        arrival=_arrival(survey, racetrack),
        departure=SCORING.departure_points[after is not None],
    )


def _scatter_nm(points_m: list[FloatArray]) -> float:
    """Return the root mean square distance of points from their middle."""
    away = np.array(points_m) - np.median(points_m, axis=0)
    return float(np.sqrt((away**2).sum(axis=1).mean())) / METRES_PER_NM


def turned_back(racetrack: Racetrack, runs: list[TurnRun]) -> TurnRun | None:
    """Return the last great turn of the other hand before the first lap, or before the turn before it; of all turns."""
    until = (racetrack.before.start if racetrack.before else racetrack.start) + SCORING.back_ends_s
    great = [
        run
        for run in ending_within(runs, until - SCORING.parallel_back_s, until)
        if run.side != racetrack.side and abs(run.change_deg) >= RACETRACK.least_turn_deg
    ]
    return great[-1] if great else None


def fits_entry(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether the way to the first lap fits an entry: the direct sector with a good margin, or a turn before."""
    if (
        racetrack.before is not None
        or racetrack.start < SCORING.log_begins_s
        or _fits_parallel(survey, racetrack)
    ):
        return True
    off = racetrack.side * wrap180(
        _heading_at(survey, racetrack.start - SCORING.arriving_s) - racetrack.course_deg
    )
    return SCORING.direct_from_deg <= off <= SCORING.direct_to_deg


def _fits_parallel(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether the fix was passed, a leg flown outbound and the turn back made with the other hand."""
    back = racetrack.turned_back
    if back is None or racetrack.before is not None:
        return False
    passed, miss_nm = _passed(survey, racetrack, back.start)
    if miss_nm >= SCORING.offset_met_nm:
        return False
    out = _way_out_deg(survey, passed, back.start)
    return abs(wrap180(out - racetrack.course_deg - 180.0)) <= SCORING.parallel_within_deg


def _passed(survey: Survey, racetrack: Racetrack, until: int) -> tuple[int, float]:
    """Return where the way to an entry's turn came nearest to the fix, and how near: infinity where there is none."""
    early = slice(max(0, until - SCORING.parallel_leg_s), max(0, until - SCORING.shortest_way_out_s))
    away_nm = distances_nm(survey, early, racetrack.fix_m)
    return (early.start + int(np.argmin(away_nm)), float(away_nm.min())) if away_nm.size else (0, np.inf)


def _way_out_deg(survey: Survey, passed: int, back: int) -> float:
    """Return where an entry's way out led: by its second half, for the first may still be the turn over the fix."""
    leg = point_m(survey, back) - point_m(survey, (passed + back) // 2)
    return float(np.degrees(np.arctan2(leg[0], leg[1])))


def _arrival(survey: Survey, racetrack: Racetrack) -> float:
    if racetrack.before is not None:
        return _offset_arrival(survey, racetrack, racetrack.before)
    if racetrack.start < SCORING.log_begins_s:
        return 0.0
    if _fits_parallel(survey, racetrack):
        return SCORING.entry_points
    # Direct sector, and a good margin: an arrival from outside it joins otherwise.
    return SCORING.direct_points[not fits_entry(survey, racetrack)]


def _offset_arrival(survey: Survey, racetrack: Racetrack, before: TurnRun) -> float:
    """Weigh a turn of the same hand before the first lap: an offset entry's, if the way to it led over the fix."""
    passed, miss_nm = _passed(survey, racetrack, before.start)
    if not np.isfinite(miss_nm):
        return 0.0
    out = _way_out_deg(survey, passed, before.start)
    off = racetrack.side * wrap180(out - racetrack.course_deg - 180.0)
    straight = racetrack.turned_back is None or racetrack.turned_back.end <= passed
    lean_deg, from_deg = SCORING.offset_lean_deg, SCORING.offset_from_deg
    if straight and miss_nm < SCORING.offset_met_nm and lean_deg[0] <= off <= lean_deg[1]:
        arrival = racetrack.side * wrap180(
            _heading_at(survey, passed - SCORING.passing_s) - racetrack.course_deg - 180.0
        )
        # Over the fix, but from no sector for an offset entry, says little.
        return SCORING.entry_points if from_deg[0] <= arrival <= from_deg[1] else SCORING.no_sector_points
    # A turn before the first lap that is no entry.
    return SCORING.no_entry_points


def _heading_at(survey: Survey, index: int) -> float:
    i = min(max(index, 0), survey.time_s.size - 1)
    return float(np.degrees(np.arctan2(survey.east_mps[i], survey.north_mps[i])) % 360.0)


class Rule(NamedTuple):
    """One thing that may speak against a racetrack: its check says what, or nothing.

    It is ``certain`` where it tells something else, not only perhaps no hold; ``lone`` where it is asked of lone laps.
    """

    code: str
    check: Callable[[Survey, Racetrack], str]
    certain: bool = False
    lone: bool = False


def objections(survey: Survey, racetrack: Racetrack) -> Iterator[Objection]:
    """Yield everything that speaks against a racetrack, in the order of the rules."""
    for rule in RULES:
        if rule.lone and len(racetrack.laps) > 1:
            continue
        said = rule.check(survey, racetrack)
        if said:
            yield Objection(rule.code, f"it is one lap only, and {said}" if rule.lone else said, rule.certain)


def is_other(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether a racetrack is certainly no hold, or by its height perhaps none, whatever shape it has."""
    return any(rule.check(survey, racetrack) for rule in RULES if rule.code in OTHER_CODES)


def _span(racetrack: Racetrack) -> slice:
    """Return the samples from the first turn to the last passage."""
    return slice(racetrack.start, racetrack.end + 1)


def _is_blind(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether its heights are not all known."""
    return not bool(np.isfinite(survey.altitude_ft[_span(racetrack)]).all())


def _is_fine(racetrack: Racetrack) -> bool:
    """Tell whether it was read finely enough to see a turn pause, and where it began."""
    return racetrack.scale_s <= REJECTION.fine_scale_s


def _swing_deg(survey: Survey, first: int, last: int) -> float:
    """Return through how much the way over the ground swings; 0 where it is too short, or too slow, to tell."""
    leg = slice(first, max(last, first))
    east, north = survey.east_mps[leg], survey.north_mps[leg]
    moving = survey.ground_speed_kt[leg] > REJECTION.slow_kt
    if int(moving.sum()) < REJECTION.shortest_swing_s:
        return 0.0
    way_deg = np.degrees(np.unwrap(np.arctan2(east[moving], north[moving])))
    return float(np.ptp(smooth(way_deg, 2.0)))


def _pauses(survey: Survey, turn: TurnRun) -> bool:
    """Tell whether a turn pauses half way."""
    rate = np.abs(smooth(survey.turn_rate_dps[turn.start : turn.end], REJECTION.rate_smoothed_s))
    quarter = rate.size // 4
    inner = rate[quarter : rate.size - quarter]
    usual = float(np.percentile(rate, REJECTION.usual_rate_percent))
    return int((inner < REJECTION.pause_share * usual).sum()) >= REJECTION.pause_s


def _sawtooth(survey: Survey, racetrack: Racetrack) -> str:
    deepest, _ = _saw(survey, racetrack)
    if deepest >= REJECTION.wander_ft:
        return f"it goes down and up again by {deepest:.0f} ft: laps of an aerodrome or of an approach"
    return ""


def _wandering(survey: Survey, racetrack: Racetrack) -> str:
    # A pilot who cannot hold his height wanders from one low to another; an aerodrome's laps have one low, the ground.
    deepest, alike = _saw(survey, racetrack)
    return f"it goes down and up again by {deepest:.0f} ft, to one height" if alike else ""


def _saw(survey: Survey, racetrack: Racetrack) -> tuple[float, bool]:
    """Return how deep its height goes down and up again on every lap, and whether to one low; 0 where it does not."""
    if _is_blind(survey, racetrack):
        return 0.0, False
    around = slice(max(racetrack.start - REJECTION.around_s, 0), racetrack.end + REJECTION.around_s)
    height = smooth(survey.altitude_ft[around], REJECTION.height_smoothed_s)[:: REJECTION.height_step_s]
    deepest, times, lows = _teeth(height)
    if times < max(len(racetrack.laps) - 1, 1):
        return 0.0, False
    # Holes hide how low some of them are.
    hidden = len(lows) // REJECTION.lows_unlike if survey.hole_s[around].any() else 0
    lowest = sorted(lows)[: len(lows) - hidden]
    return deepest, len(lows) > 1 and lowest[-1] - lowest[0] <= REJECTION.lows_alike_ft


def _teeth(height: FloatArray) -> tuple[float, int, list[float]]:
    """Return the deepest tooth of a height's saw, how often it turned after more than a tooth's depth, and its lows."""
    turns = [float(height[0])]
    reach, way = float(height[0]), 0
    lows: list[float] = []
    for value in height[1:].tolist():
        onward = (value - reach) * way if way else abs(value - turns[0])
        if way == 0 and onward > REJECTION.sawtooth_ft:
            reach, way = value, 1 if value > turns[0] else -1
        elif way and onward > 0.0:
            reach = value
        elif way and -onward > REJECTION.sawtooth_ft:
            turns.append(reach)
            lows += [reach] if way < 0 else []
            reach, way = value, -way
    turns.append(reach)
    sides = np.abs(np.diff(turns))
    return float(np.minimum(sides[:-1], sides[1:]).max(initial=0.0)), len(turns) - 2, lows


def _circles(survey: Survey, racetrack: Racetrack) -> str:
    """Believe that two turns were flown as one circle only where a strong wind asks for it, again and again."""
    if not racetrack.has_halves:
        return ""
    if len(racetrack.laps) > 1 and survey.sample_s > ESTIMATE.chorded_s:
        # A leg in which no two true samples lie is not seen; another leg that is seen tells such a lap from an orbit.
        longest_s = [max(end - begin for begin, end in lap.legs) for lap in racetrack.laps]
        if min(longest_s) > survey.sample_s:
            return ""
    inside = _span(racetrack)
    wind_east, wind_north, speed = circle_fit(survey.east_mps[inside][::2], survey.north_mps[inside][::2])
    if len(racetrack.laps) < 2 or np.hypot(wind_east, wind_north) < REJECTION.strong_wind_share * speed:
        return "it is made of whole circles: orbits"
    return ""


def _legs_too_long(survey: Survey, racetrack: Racetrack) -> str:
    legs = np.array([[b - a for a, b in lap.legs] for lap in racetrack.laps], float)
    mean = float(np.median(legs.mean(axis=1)))
    blind = _is_blind(survey, racetrack)
    length = float(np.median([distance_nm(survey, *lap.legs[0]) for lap in racetrack.laps]))
    longest = REJECTION.longest_leg_blind_s if blind else REJECTION.longest_leg_s
    if mean > longest and length > REJECTION.slow_leg_nm:
        return f"its legs last {mean:.0f} s on average: too long for a hold"
    return ""


def _legs_long_unlike(survey: Survey, racetrack: Racetrack) -> str:
    """Believe long legs only where they are a distance leg's, flown alike every time."""
    legs = np.array([[b - a for a, b in lap.legs] for lap in racetrack.laps], float)
    if len(legs) == 1 and legs[0, 0] > REJECTION.timed_leg_s:
        return "its outbound leg is longer than a timed hold's, and there is no second lap to compare"
    inbound = np.array([distance_nm(survey, *lap.legs[1]) for lap in racetrack.laps])
    if (
        float(np.median(legs.mean(axis=1))) <= REJECTION.timed_leg_s
        or inbound.mean() <= REJECTION.slow_leg_nm
    ):
        return ""
    if inbound.size > 1 and float(np.std(inbound)) <= REJECTION.unlike_legs_share * float(inbound.mean()):
        return ""
    return "its legs are longer than a timed hold's, and no two of them are alike"


def _legs_too_short(_survey: Survey, racetrack: Racetrack) -> str:
    legs = np.array([sum(b - a for a, b in lap.legs) for lap in racetrack.laps], float)
    shortest = REJECTION.shortest_legs_s if len(racetrack.laps) > 1 else REJECTION.shortest_lone_legs_s
    return "it has hardly any legs: an orbit" if float(np.median(legs)) < shortest else ""


def _swinging(survey: Survey, racetrack: Racetrack) -> str:
    """Tell legs from the turning between other turns; laps without legs say nothing of them."""
    # Between sparse fixes a turn is smeared over as long as they take to show it.
    swings, end_s = [], max(REJECTION.leg_end_s, round(racetrack.scale_s))
    for lap in racetrack.laps:
        if sum(b - a for a, b in lap.legs) >= REJECTION.shortest_legs_s:
            swings.append(max(_swing_deg(survey, a + end_s, b - end_s) for a, b in lap.legs))
    # Of two laps the steadier: one may have been circled in.
    usual_deg = sorted(swings)[(len(swings) - 1) // 2] if swings else 0.0
    return f"its legs swing through {usual_deg:.0f}°: airwork" if usual_deg > REJECTION.leg_swing_deg else ""


def _paused(survey: Survey, racetrack: Racetrack) -> str:
    """Without heights, tell an aerodrome circuit by its turns: each is two, with a short leg between."""
    if not _is_blind(survey, racetrack) or not _is_fine(racetrack):
        return ""
    turns = [turn for lap in racetrack.laps for turn in (lap.outbound, lap.inbound)]
    paused = float(np.mean([_pauses(survey, turn) for turn in turns]))
    return "its turns pause half way, as round an aerodrome" if paused >= 0.5 else ""


def _reversals(_survey: Survey, racetrack: Racetrack) -> str:
    """Tell turns that come back on the line they came from, after a turn away: a hold's legs lie side by side."""
    turns = [abs(t.change_deg) for lap in racetrack.laps for t in (lap.outbound, lap.inbound)]
    least = float(np.median(np.array(turns).reshape(-1, 2).min(axis=1)))
    return (
        f"both its turns go through {least:.0f}° and more: course reversals"
        if least > REJECTION.reversal_deg
        else ""
    )


def _marching(_survey: Survey, racetrack: Racetrack) -> str:
    fixes = np.array([lap.fix_m for lap in racetrack.laps]) / METRES_PER_NM
    away = [lap.inbound.start - lap.outbound.end for lap in racetrack.laps]
    if len(fixes) < sum(np.median(away) < leg_s for leg_s in REJECTION.survey_legs_s) + 2:
        return ""
    toward = np.radians(racetrack.course_deg)
    steps = np.diff(fixes @ np.array([np.cos(toward), -np.sin(toward)]))
    # The way back must lie beside the lap's beginning, too: a sloppy pilot meets the fix from various sides,
    # but meets it, while a surveyor never comes back over a line.
    step_nm = float(np.abs(steps.mean()))
    nearest_nm = min(lap.miss_nm for lap in racetrack.laps[: max(len(fixes) - 1, 2)])
    missed = nearest_nm > REJECTION.march_missed_share * step_nm
    one_way = abs(np.sign(steps).sum()) == steps.size
    alike = np.std(steps) < REJECTION.march_unlike_share * step_nm
    if missed and one_way and alike and np.abs(steps).min() > REJECTION.march_nm:
        return f"each lap lies {step_nm:.2f} NM beside the last: lines of a survey"
    return ""


def _fixless(survey: Survey, racetrack: Racetrack) -> str:
    # Where the first lap began is not known so well: its turn may be one with the way to the fix.
    fixes = np.array([lap.fix_m for lap in racetrack.laps[1:]]) / METRES_PER_NM
    if len(fixes) < 2:
        return ""
    steps = np.diff(fixes, axis=0)
    step = steps.mean(axis=0)
    step_nm = float(np.hypot(*step))
    alike = float(np.hypot(*(steps - step).T).max()) <= REJECTION.no_fix_alike * step_nm
    # A turn begins somewhere between two samples, or in a hole: a step between two beginnings is unknown by so much
    # (one sigma).
    hidden_s = max(survey.hole_s[[lap.outbound.start for lap in racetrack.laps[1:]]].max(), survey.sample_s)
    unseen_nm = hidden_s * float(np.median(survey.ground_speed_kt[_span(racetrack)])) / 3600.0 / np.sqrt(6.0)
    least_nm = REJECTION.no_fix_nm if len(steps) > 1 else REJECTION.no_fix_one_step_nm
    if alike and step_nm > np.hypot(least_nm, 2.0 * unseen_nm):
        return f"each lap begins {step_nm:.1f} NM farther on: it goes round no fix"
    return ""


def _leg_speed_range(survey: Survey, racetrack: Racetrack) -> float:
    """Return how much the ground speed changes along the worse leg of the usual lap, as a share of the mean speed."""
    # Smoothed with so much beside it that its ends feel nothing of the cut.
    beside, inside = REJECTION.leg_beside_s, REJECTION.leg_inside_s
    first = max(racetrack.start - beside, 0)
    speed = smooth(survey.ground_speed_kt[first : racetrack.end + beside], REJECTION.rate_smoothed_s)
    worst = []
    for lap in racetrack.laps:
        legs = ((a + inside - first, b - inside - first) for a, b in lap.legs)
        worst.append(
            max((float(np.ptp(speed[a:b])) for a, b in legs if b - a >= REJECTION.leg_told_s), default=0.0)
        )
    return float(np.median(worst) / speed[racetrack.start - first : racetrack.end + 1 - first].mean())


def _landing_speed(survey: Survey, racetrack: Racetrack) -> str:
    """Without heights, tell a landing by the speed along the worse leg."""
    if _is_blind(survey, racetrack) and _leg_speed_range(survey, racetrack) > REJECTION.leg_speed_share_blind:
        return "its speed falls and rises along a leg, as over a runway"
    return ""


def _too_slow(survey: Survey, racetrack: Racetrack) -> str:
    inside = _span(racetrack)
    speed_kt = circle_fit(survey.east_mps[inside], survey.north_mps[inside])[2] * KT_PER_MPS
    return f"its airspeed is {speed_kt:.0f} kt: no aeroplane's" if speed_kt < REJECTION.least_speed_kt else ""


def _speed(survey: Survey, racetrack: Racetrack) -> str:
    inside = _span(racetrack)
    # Across a hole the path is cut short, and with it the speed.
    seen = survey.hole_s[inside] == 0.0
    if not seen.any():
        return ""
    east, north = survey.east_mps[inside], survey.north_mps[inside]
    # Half the sum of opposite ground velocities is the wind, roughly; enough to tell a landing from a hold.
    wind_east, wind_north = (
        0.5 * np.percentile(v[seen], REJECTION.opposite_percent).sum() for v in (east, north)
    )
    # Velocities smoothed together would lose speed in a steep turn.
    speed = smooth(np.hypot(east - wind_east, north - wind_north), REJECTION.speed_smoothed_s)[seen]
    ratio = speed_ratio(speed)
    if ratio > REJECTION.speed_ratio:
        return f"its speed changes by a factor of {ratio:.1f}: not flown at one speed"
    return ""


def speed_ratio(speed: FloatArray) -> float:
    """Return how many times as quick the quickest part of a way is as the slowest."""
    slow, quick = np.percentile(speed, REJECTION.quickest_percent)
    return float(quick / max(slow, 1.0))


def _misses(survey: Survey, racetrack: Racetrack) -> str:
    lap = racetrack.laps[0]
    exact = _half_circle(lap) and _is_fine(racetrack)
    miss_nm = _miss_nm(survey, lap)
    width_nm = distance_nm(survey, lap.outbound.start, lap.outbound.end)
    if miss_nm > max(
        REJECTION.miss_nm if exact else REJECTION.rough_miss_nm, REJECTION.miss_share * width_nm
    ):
        return f"comes back {miss_nm:.1f} NM beside its beginning"
    return ""


def _merged(survey: Survey, racetrack: Racetrack) -> str:
    """Ask more of a lap whose first turn is one with the way to the fix, or no turn of a hold."""
    lap = racetrack.laps[0]
    if _half_circle(lap):
        return ""
    # Between sparse fixes every turn is straight for a while.
    if _is_fine(racetrack) and all(_pauses(survey, turn) for turn in (lap.outbound, lap.inbound)):
        return "its turns pause half way: a rectangle"
    height = survey.altitude_ft[_span(racetrack)]
    level = bool(np.isfinite(height).all()) and float(np.ptp(height)) <= REJECTION.lone_height_ft
    exact = _is_blind(survey, racetrack) and _miss_nm(survey, lap) <= REJECTION.blind_miss_nm
    if (level or exact) and all(
        REJECTION.lone_leg_s[0] <= b - a <= REJECTION.lone_leg_s[1] for a, b in lap.legs
    ):
        return ""
    return "its first turn is no half circle"


def _hasty(_survey: Survey, racetrack: Racetrack) -> str:
    lap = racetrack.laps[0]
    rates = [abs(turn.change_deg) / max(turn.end - turn.start, 1) for turn in (lap.outbound, lap.inbound)]
    hasty = max(rates) > REJECTION.most_rate_dps or max(rates) > REJECTION.most_rate_ratio * min(rates)
    return "its turns are not those of a hold" if hasty else ""


def _half_circle(lap: RacetrackLap) -> bool:
    return abs(lap.outbound.change_deg) >= RACETRACK.least_turn_deg


def _miss_nm(survey: Survey, lap: RacetrackLap) -> float:
    """Return by how much a lap misses its beginning, which lies within the turn where the course was met late."""
    if abs(lap.outbound.change_deg) <= RACETRACK.merged_turn_deg:
        return lap.miss_nm
    begun = slice(lap.outbound.start, lap.outbound.start + (lap.outbound.end - lap.outbound.start) // 3)
    back = slice(lap.inbound.end, lap.passage + REJECTION.met_late_s)
    east = survey.east_m[begun, None] - survey.east_m[None, back]
    north = survey.north_m[begun, None] - survey.north_m[None, back]
    apart = np.hypot(east, north) / METRES_PER_NM
    return float(apart.min()) if apart.size else lap.miss_nm


#: In the order in which they are said.
RULES = (
    Rule("goes-down-and-up", _sawtooth, certain=True),
    Rule("height-swings", _wandering),
    Rule("whole-circles", _circles),
    Rule("legs-too-long", _legs_too_long),
    Rule("legs-long-unlike", _legs_long_unlike),
    Rule("legs-too-short", _legs_too_short),
    Rule("legs-swing", _swinging),
    Rule("lone-lap-misses", _misses, lone=True),
    Rule("lone-lap-merged", _merged, lone=True),
    Rule("lone-lap-hasty", _hasty, lone=True),
    Rule("no-fix", _fixless),
    Rule("turns-pause", _paused, certain=True),
    Rule("course-reversals", _reversals),
    Rule("marching", _marching),
    Rule("speed-changes-along-leg", _landing_speed, certain=True),
    Rule("speed-changes", _speed),
    Rule("too-slow", _too_slow),
)
#: Of what is certainly no hold.
CERTAIN_CODES = frozenset(rule.code for rule in RULES if rule.certain)
#: Of what speaks against a hold whatever its shape, also where its turns were not seen.
OTHER_CODES = CERTAIN_CODES | {"height-swings"}
#: Of what is asked once more of the laps as a hold cuts them: there may be more, or only one of them.
AS_CUT_CODES = frozenset({"goes-down-and-up", "height-swings", "legs-swing", "legs-long-unlike"})
#: Of what speaks against the shape that was seen, which turns that run into each other may hide.
SHAPE_CODES = frozenset({"whole-circles", "legs-too-short", "legs-swing"})


def racetracks(survey: Survey, chain: list[TurnRun], scale_s: float, runs: list[TurnRun]) -> list[Racetrack]:
    """Read a chain of turns as laps of one hold, in both ways; all turning of the flight tells what came before it.

    The best reading of every stretch of the chain comes first; readings without a closing lap are absent.
    """
    found = []
    for one in readings_of(survey, chain, scale_s):
        reading = replace(one, turned_back=turned_back(one, runs))
        reasons = reasons_for(survey, reading)
        arrives = fits_entry(survey, reading)
        found.append(replace(reading, score=sum(reasons), reasons=reasons, arrives=arrives))
    return sorted(found, key=lambda r: -r.score)


def best_readings(survey: Survey) -> tuple[list[Racetrack], list[Racetrack]]:
    """Read a stretch of flight as racetracks.

    Returns
    -------
    holding, others : list of Racetrack
        The best reading of every stretch that is a hold; and those that something speaks against, best first.
    """
    readings = _all_readings(survey)
    apart = _without_parallel_entries(readings)
    holding = _without_overlap(apart)
    # Laps without a fix at one end may have it at the other.
    others = _without_overlap([r for r in apart if not (r.objection and r.objection.code == "no-fix")])
    holding += [r for r in others if not any(r.start < one.end and one.start < r.end for one in holding)]
    return holding, [r for r in readings if r.objection]


def _all_readings(survey: Survey) -> list[Racetrack]:
    """Read the flight at every scale that suits it; best readings first."""
    scales = RACETRACK.scales_s + (RACETRACK.chord_scales_s if is_chorded(survey) else ())
    found = [
        reading
        for scale in scales
        for runs in _with_and_without_circles(survey, turn_runs(survey, scale))
        for chain in chains(runs)
        for reading in racetracks(survey, chain, scale, runs)
    ]
    weighed = [replace(reading, objection=next(objections(survey, reading), None)) for reading in found]
    # A reading with circles taken apart that does not hold water must not stand in the way of one without.
    sound = [r for r in weighed if not (r.objection and r.has_halves)]
    return sorted(sound, key=lambda r: SCORING.coarse_points * r.scale_s - r.score)


def _with_and_without_circles(survey: Survey, runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Read whole circles both ways: flown to lose time, or as two turns with no leg between."""
    halved = circles_halved(survey, runs)
    return [runs, halved] if len(halved) != len(runs) else [runs]


def _without_parallel_entries(readings: list[Racetrack]) -> list[Racetrack]:
    """Drop what looks like a lap of the other hand but is the parallel entry to the hold that follows.

    A parallel entry is a short turn, a minute outbound and a long turn back over the fix: a lap, but one whose
    second turn is much the longer, and with a hold of the other hand beginning where it ends.
    """
    starts = np.array([other.start for other in readings])
    # Only what begins near a reading's end can follow it: a day's flight has thousands of readings.
    following = [np.flatnonzero(np.abs(starts - r.end) < RACETRACK.parallel_follows_s) for r in readings]
    return [
        reading
        for reading, near in zip(readings, following, strict=True)
        if not any(_is_parallel_entry(reading, readings[i]) for i in near)
    ]


def _is_parallel_entry(reading: Racetrack, other: Racetrack) -> bool:
    if len(reading.laps) != 1 or other.side == reading.side:
        return False
    lap = reading.laps[0]
    lopsided = abs(lap.inbound.change_deg) - abs(lap.outbound.change_deg) > RACETRACK.parallel_lopsided_deg
    follows = reading.start < other.start and abs(other.start - reading.end) < RACETRACK.parallel_follows_s
    near = float(np.hypot(*(other.fix_m - reading.fix_m))) / METRES_PER_NM < RACETRACK.parallel_near_nm
    return lopsided and follows and near


def _without_overlap(readings: list[Racetrack]) -> list[Racetrack]:
    """Keep the best reading of every stretch; one that is no hold after all also ends its lesser likes."""
    kept = [readings[i] for i in without_overlap([(one.start, one.end) for one in readings])]
    return [one for one in kept if one.objection is None]

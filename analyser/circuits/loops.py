"""Loops: where a flight came back over one point on one course, whatever it flew between.

Turns that run into each other, positions joined by chords and legs that swing hide a racetrack from whoever looks for
two turns with a leg between. They do not hide that the flight came round to the same place again. Each such place is
a hypothesis of a hold: its fix where the ways round come nearest to each other, its course the way that leads over it.
It cuts such a flight as a hold file would; the hypothesis is taken for which most speaks, and the flight itself then
tells fix and course.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.circuit_cutting import inferred_hold
from analyser.circuits.evidence import is_other, objections, racetracks, reasons_for, speed_ratio
from analyser.circuits.flown import FlownHold
from analyser.circuits.frame import apart_nm
from analyser.circuits.given_fit import stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.racetrack import (
    Racetrack,
    RacetrackLap,
    circular_mean_deg,
    distance_nm,
    distances_nm,
    is_half_circle,
    place_on_earth,
    point_m,
    reading_fix,
    smooth,
    turn_runs,
    without_overlap,
)
from analyser.circuits.thresholds import ENDS, GIVEN, LOOPS, RACETRACK, REJECTION
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass
from analyser.holds.definition import Hold, turns_of
from analyser.logs.track import FloatArray, Track
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class Loop:
    """One hypothesis of a hold.

    Its fix was passed first and last at the grid points ``start`` and ``end``, on the ground track ``course_deg``,
    [0, 360); the way round is +1 right, -1 left. ``miss_nm`` says how near the ways round usually come to the fix,
    ``straight_share`` how much of them is no turning, ``rate_dps`` how fast they usually turn.
    """

    start: int
    end: int
    course_deg: float
    side: int
    laps: int
    miss_nm: float
    straight_share: float
    rate_dps: float

    @property
    def lap_s(self) -> float:
        """How long once round takes."""
        return (self.end - self.start) / self.laps

    @property
    def is_circling(self) -> bool:
        """Whether it is nothing but turning, or too quick a way round to have legs."""
        quick = self.lap_s < LOOPS.circling_s and self.straight_share < LOOPS.circling_share
        return quick or self.straight_share < LOOPS.least_straight_share

    @property
    def is_steep(self) -> bool:
        """Whether it is round once, too fast and too quickly for a hold: a thermal, or airwork."""
        quick = self.rate_dps > REJECTION.most_rate_dps and self.lap_s < LOOPS.circling_s
        return self.laps == 1 and quick

    @property
    def is_circle(self) -> bool:
        """Whether it shows no legs, or has no time for them."""
        return self.is_steep or self.is_circling

    @property
    def is_thermal(self) -> bool:
        """Whether its rate of turn leads round more than once in the time: circles one within another."""
        return self.is_steep and self.rate_dps * self.lap_s > LOOPS.round_deg[1]


def loops(survey: Survey, *, scale_s: float) -> list[Loop]:
    """Find where a stretch of flight came round to the same place, best first; none overlaps another in time.

    The direction over the ground is smoothed over ``scale_s``.
    """
    step = LOOPS.step_s
    east, north = smooth(survey.east_mps, scale_s)[::step], smooth(survey.north_mps, scale_s)[::step]
    turned = np.degrees(np.unwrap(np.arctan2(east, north)))
    place = np.column_stack([survey.east_m, survey.north_m])[::step] / METRES_PER_NM
    # In a hole of the log nobody saw where it came.
    seen = (survey.ground_speed_kt > LOOPS.slowest_kt) & (survey.hole_s == 0.0)
    later, miss = _next_round(place, turned, seen[::step])
    found = [_followed(k, later, miss, turned) for k in np.flatnonzero(later > 0).tolist()]
    best = sorted(found, key=lambda p: (-min(len(p[0]), LOOPS.alike_places), p[1]))
    return [_loop(best[i], turned, step) for i in without_overlap([(p[0], p[-1]) for p, _ in best])]


def _next_round(
    place: FloatArray, turned: FloatArray, seen: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return, for every point, the later point that comes nearest to it once round, and how near; 0 where none does."""
    count = turned.size
    later, miss = np.zeros(count, dtype=np.int64), np.full(count, np.inf)
    first, last = LOOPS.shortest_s // LOOPS.step_s, LOOPS.longest_s // LOOPS.step_s
    reach = np.zeros(count)
    for lag in range(1, min(last, count - 1) + 1):
        apart = np.hypot(*(place[lag:] - place[:-lag]).T)
        reach[: count - lag] = np.maximum(reach[: count - lag], apart)
        if lag < first:
            continue
        round_deg = np.abs(turned[lag:] - turned[:-lag])
        once = (round_deg >= LOOPS.round_deg[0]) & (round_deg <= LOOPS.round_deg[1])
        near = apart <= np.minimum(LOOPS.near_nm, LOOPS.near_share * reach[: count - lag])
        good = once & near & seen[:-lag] & seen[lag:] & (apart < miss[: count - lag])
        miss[: count - lag][good] = apart[good]
        later[: count - lag][good] = lag + np.flatnonzero(good)
    return later, miss


def _followed(
    first: int, later: NDArray[np.int64], miss: FloatArray, turned: FloatArray
) -> tuple[list[int], float]:
    """Follow a point round and round; return the points met, and the mean of how near."""
    points, misses, at = [first], [], first
    side = np.sign(turned[later[first]] - turned[first])
    while later[at] > 0 and np.sign(turned[later[at]] - turned[at]) == side:
        misses.append(float(miss[at]))
        at = int(later[at])
        points.append(at)
    return points, float(np.mean(misses))


def _loop(found: tuple[list[int], float], turned: FloatArray, step: int) -> Loop:
    points, miss = found
    course = circular_mean_deg(turned[points]) % 360.0
    side = 1 if turned[points[1]] > turned[points[0]] else -1
    rate = np.abs(np.gradient(turned[points[0] : points[-1] + 1]))
    usual = float(np.percentile(rate, LOOPS.usual_rate_percent))
    straight = float(np.mean(rate < LOOPS.straight_rate_share * usual))
    return Loop(
        points[0] * step, points[-1] * step, course, side, len(points) - 1, miss, straight, usual / step
    )


@dataclass(frozen=True)
class TurnBack:
    """A way that one turn led back over a place: passed at the grid points ``start`` and ``end``, so near.

    ``course_deg`` is the ground track the second time, [0, 360); ``turn_deg`` what was turned, positive right.
    """

    start: int
    end: int
    course_deg: float
    turn_deg: float
    miss_nm: float


def turns_back(survey: Survey) -> list[TurnBack]:
    """Find where one turn led back over a place passed shortly before it, level: in time order."""
    place = np.column_stack([survey.east_m, survey.north_m]) / METRES_PER_NM
    angle = np.degrees(np.unwrap(np.arctan2(survey.east_mps, survey.north_mps)))
    seen = survey.hole_s == 0.0
    found = []
    for run in turn_runs(survey, GIVEN.fine_scale_s):
        if not is_half_circle(run):
            continue
        before = np.arange(max(run.start - LOOPS.back_leg_s[1], 0), run.start - LOOPS.back_leg_s[0])
        after = np.arange(run.end + LOOPS.back_leg_s[0], min(run.end + LOOPS.back_leg_s[1], seen.size))
        before, after = before[seen[before]], after[seen[after]]
        if not (before.size and after.size):
            continue
        apart = np.hypot(*(place[before, None] - place[None, after]).transpose(2, 0, 1))
        apart[np.abs(wrap180(angle[before, None] - angle[None, after])) < 180.0 - LOOPS.back_within_deg] = (
            np.inf
        )
        i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
        start, end, miss = int(before[i]), int(after[j]), float(apart[i, j])
        height = survey.altitude_ft[start : end + 1]
        level = not np.isfinite(height).all() or float(np.ptp(height)) <= LOOPS.dip_ft
        if miss <= LOOPS.back_near_nm and level:
            found.append(TurnBack(start, end, float(angle[end] % 360.0), run.change_deg, miss))
    return found


def stay_at_loop(track: Track, survey: Survey, loop: Loop) -> tuple[GivenReading, float] | None:
    """Read a loop as a stay at a hold of its own, None where it does not show one plainly.

    And tell how likely it is that the fix lies at the other end.
    """
    if loop.laps < 2 or loop.is_circling:
        return None
    start, end = float(survey.time_s[loop.start]), float(survey.time_s[loop.end])
    holds = _hypotheses(track, survey, loop.start, int(loop.lap_s), loop.side)
    tried = [stay for hold in holds if (stay := stay_around(track, hold, start, end))]
    best = max(tried, key=lambda stay: stay.evidence, default=None)
    if best is None or best.usual_miss_nm > LOOPS.plain_miss_nm or not _is_plain(best):
        return None
    # The fix that is now inferred may lie beside all laps alike, by where the arrival came over it.
    settled = settled_stay(track, best, start, end)
    if settled is None or not _is_plain(settled):
        return None
    read = likelier_end(track, settled, start, end)
    return read if _is_plain(read[0]) else None


def likelier_end(
    track: Track, stay: GivenReading, start_s: float, end_s: float, *, unseen: float = 0.0
) -> tuple[GivenReading, float]:
    """Return a stay at an inferred hold, or the same laps read end for end where that is the likelier.

    And how likely the fix is at the other end after all: ``unseen`` where its turns make no laps from there.
    """
    ends = _both_ends(stay)
    if ends is None:
        return stay, unseen
    odds = _end_log_odds(stay.view.survey, *ends)
    if odds < 0.0:
        other, hand = ends[1], stay.view.hold.turns
        place = reading_fix(track, stay.view.survey, other)
        rough = stay_around(track, Hold(*place, other.course_deg, hand), start_s, end_s)
        turned = settled_stay(track, rough, start_s, end_s) if rough else None
        turned_ends = _both_ends(turned) if turned else None
        if turned and turned_ends:
            turned_odds = _end_log_odds(turned.view.survey, *turned_ends)
            stay, odds = (turned, turned_odds) if turned_odds > 0.0 else (stay, odds)
    return stay, float(1.0 / (1.0 + np.exp(max(odds, 0.0))))


def _end_log_odds(survey: Survey, one: Racetrack, other: Racetrack) -> float:
    """Weigh two readings of the same laps end for end; return the log odds of the first.

    Turns begin over the fix wherever along the course it lies, while the outbound end lies wherever clock and wind put
    it; the way to it is flown by a needle, corrected again and again, the way out on a heading and by the clock; the
    arrival led over it, and so did the departure. None of that is certain, and a doubt is left where it disagrees.
    """
    apart = np.array(_end_evidence(survey, one)) - np.array(_end_evidence(survey, other))
    evidence = np.append(apart, _led_over(survey, one, other))
    most = np.array(ENDS.most)
    return float(np.clip(evidence, -most, most) @ np.array(ENDS.weights))


def _end_evidence(survey: Survey, racetrack: Racetrack) -> tuple[float, ...]:
    """Return what tells which end is the fix, in the order of the weights."""
    starts = [lap.outbound.start for lap in racetrack.laps] + [t.start for t in (racetrack.after,) if t]
    others = [lap.inbound.start for lap in racetrack.laps] + [t.start for t in (racetrack.before,) if t]
    gathered, fewest = 0.0, min(len(starts), len(others))
    if fewest > 1:
        near, far = (_scatter_along_nm(survey, racetrack.course_deg, end) for end in (starts, others))
        # Two turns at each end lie near to each other by chance as often as not.
        tells = min((fewest - 1.0) / ENDS.scatter_tells, 1.0)
        gathered = tells * float(np.log((far**2 + ENDS.scatter_nm**2) / (near**2 + ENDS.scatter_nm**2)))
    out, back = (_wander_dps(survey, [lap.legs[way] for lap in racetrack.laps]) for way in (0, 1))
    corrected = 0.0 if out is None or back is None else float(np.log((back + ENDS.dps) / (out + ENDS.dps)))
    out_off, back_off = (_off_the_minute([lap.legs[way] for lap in racetrack.laps]) for way in (0, 1))
    why = racetrack.reasons
    return why.laps, why.arrival, why.departure, gathered, corrected, back_off - out_off


def _scatter_along_nm(survey: Survey, course_deg: float, begun: list[int]) -> float:
    """Return how far along the course turns begin from their middle, root mean square."""
    toward = np.radians(course_deg)
    along = np.array([point_m(survey, i) for i in begun]) @ np.array([np.sin(toward), np.cos(toward)])
    return float(np.sqrt(((along - np.median(along)) ** 2).mean())) / METRES_PER_NM


def _led_over(survey: Survey, one: Racetrack, other: Racetrack) -> float:
    """Return how much nearer the arrival led to the fix of one reading than to the other's, as a logarithm.

    Whoever joins a hold passes its fix first; an entry then leads to the other end as well.
    """
    begun = min(one.start, other.start)
    if begun < ENDS.least_arrival_s:
        return 0.0
    way = slice(max(begun - ENDS.arrival_s, 0), begun + ENDS.arrival_ends_s)
    away = np.array([distances_nm(survey, way, r.fix_m) for r in (one, other)])
    met = np.flatnonzero(away.min(axis=0) < ENDS.arrival_met_nm)
    until = met[0] + ENDS.arrival_passes_s if met.size else away.shape[1]
    near, far = away[:, :until].min(axis=1)
    return float(np.log((far**2 + ENDS.arrival_nm**2) / (near**2 + ENDS.arrival_nm**2)))


def _off_the_minute(legs: list[tuple[int, int]]) -> float:
    """Return how far the usual leg is from a minute, as a logarithm; from some way off all are alike."""
    usual_s = float(np.median([max(end - start, 1) for start, end in legs]))
    return min(abs(float(np.log(usual_s / 60.0))), ENDS.most_off_the_minute)


def _wander_dps(survey: Survey, legs: list[tuple[int, int]]) -> float | None:
    """Return how much the usual leg turns hither and thither, its ends left out; None where legs are too short."""
    found = []
    for start, end in legs:
        rate = survey.turn_rate_dps[start + ENDS.leg_ends_s[0] : max(end - ENDS.leg_ends_s[1], 0)]
        if rate.size >= ENDS.shortest_leg_s:
            slow = np.convolve(rate, np.full(ENDS.smoothed_s, 1.0 / ENDS.smoothed_s), "valid")
            found.append(float(np.sqrt(np.mean(slow**2))))
    return float(np.median(found)) if found else None


def _both_ends(stay: GivenReading) -> tuple[Racetrack, Racetrack] | None:
    """Read the turns of a stay as its laps, and as laps that begin at the other end; None where they make none."""
    runs = [turn for lap in stay.laps for turn in (lap.outbound, lap.inbound)]
    runs = [*([stay.entry.phases.inbound] if stay.entry else []), *runs]
    runs = [*runs, *([stay.broken.outbound] if stay.broken else [])]
    chain = [run for run in runs if run.end > run.start and run.side == stay.side]
    begun = [lap.outbound.start for lap in stay.laps]
    own: Racetrack | None = None
    other: Racetrack | None = None
    for reading in racetracks(stay.view.survey, chain, 0.0, runs) if len(chain) > 1 else []:
        if any(lap.outbound.start in begun for lap in reading.laps):
            own = max(own or reading, reading, key=lambda r: len(r.laps))
        else:
            other = max(other or reading, reading, key=lambda r: len(r.laps))
    return (own, other) if own and other else None


def has_turns(stay: GivenReading) -> bool:
    """Tell whether both turns of every lap were seen."""
    return all(turn.end > turn.start for lap in stay.laps for turn in (lap.outbound, lap.inbound))


def as_racetrack(stay: GivenReading) -> Racetrack:
    """Return the laps of a stay, each with both its turns, as a racetrack, so that the same is asked of them."""
    survey, course_deg = stay.view.survey, stay.view.hold.inbound_course_true_deg
    laps = tuple(
        RacetrackLap(
            lap.outbound,
            lap.inbound,
            point_m(survey, passed.index),
            course_deg,
            met.miss_nm,
            lap.end,
        )
        for passed, met, lap in zip(stay.passages, stay.passages[1:], stay.laps, strict=False)
    )
    fix = np.mean([lap.fix_m for lap in laps], axis=0)
    back = stay.entry.phases.inbound if stay.entry else None
    before = back if back is not None and back.side == stay.side else None
    turned = back if before is None else None
    one = Racetrack(stay.side, laps, fix, course_deg, before, None, 0.0, 0.0, turned_back=turned)
    return replace(one, reasons=reasons_for(survey, one))


def stay_with_more_laps(track: Track, survey: Survey, flown: FlownHold) -> GivenReading | None:
    """Read an inferred hold anew as a given one is read; None where that shows no whole lap more.

    A racetrack ends where a lap does not look like one: cut short to leave, or its legs lost between chords. Once a
    hold is known from the others, as its racetrack cut it, such laps need only come round to its fix.
    """
    begun_s = flown.circuits[0].start_s
    lap_s = (flown.end_s - begun_s) / len(flown.circuits)
    index = int(np.searchsorted(survey.time_s, begun_s))
    holds = [
        hold
        for hold in _hypotheses(track, survey, index, int(lap_s), flown.hold.side)
        if _is_like(hold, flown)
    ]
    stays = [stay_around(track, hold, begun_s, flown.end_s) for hold in (flown.hold, *holds)]
    whole = sum(circuit.complete for circuit in flown.circuits)
    more = [s for s in stays if s and len(s.laps) > whole and _is_of_one_hold(s)]
    best = max(more, key=lambda stay: stay.evidence, default=None)
    if best is None:
        return None
    settled = settled_stay(track, best, begun_s, flown.end_s)
    kept = settled is not None and len(settled.laps) >= len(best.laps) and _is_of_one_hold(settled)
    # Between chords, a lap begun over an inferred fix and broken off looks like a way out of the hold: it is not told.
    return replace(settled if kept and settled is not None else best, broken=None)


def _is_like(hold: Hold, flown: FlownHold) -> bool:
    """Tell whether a hypothesis may be the hold that was cut, read better."""
    turned = abs(wrap180(hold.inbound_course_true_deg - flown.hold.inbound_course_true_deg))
    turn, motion = flown.circuits[0].outbound_turn, flown.motion
    if turn is None:
        return False
    ends = [
        np.array([motion.at("east_nm", at), motion.at("north_nm", at)]) for at in (turn.start_s, turn.end_s)
    ]
    near_nm = _near_nm(float(np.hypot(*(ends[1] - ends[0]))))
    return turned <= RACETRACK.late_met_deg and apart_nm(hold, flown.hold) <= near_nm


def _near_nm(turn_width_nm: float) -> float:
    """Return how near to each other laps of one hold pass, by the width of its turns."""
    return max(RACETRACK.closing_nm, RACETRACK.closing_share * turn_width_nm)


def _is_of_one_hold(stay: GivenReading) -> bool:
    """Tell whether all laps of a stay are laps of its hold: of its hand, back near its fix and course, alike."""
    near = all(
        p.miss_nm <= _near_nm(distance_nm(stay.view.survey, lap.outbound.start, lap.outbound.end))
        for p, lap in zip(stay.passages[1:], stay.laps, strict=True)
    )
    return has_turns(stay) and near and max(_met_deg(stay)) <= RACETRACK.course_apart_deg and _is_alike(stay)


def _met_deg(stay: GivenReading) -> list[float]:
    """Return how far off the course each lap met the fix."""
    return [stay.view.met_deg(p.index) for p in stay.passages[1:]]


def _is_alike(stay: GivenReading) -> bool:
    """Tell whether laps with both turns are of one hand, as long as each other, and not surely something else."""
    one_hand = all(lap.outbound.side == lap.inbound.side == stay.side for lap in stay.laps)
    lasts = np.array([lap.end - lap.start for lap in stay.laps], dtype=float)
    alike = float(lasts.max() / max(lasts.min(), 1.0)) <= LOOPS.plain_lap_ratio
    return one_hand and alike and not is_other(stay.view.survey, as_racetrack(stay))


def _hypotheses(track: Track, survey: Survey, index: int, lap_s: int, side: int) -> list[Hold]:
    """Return a hold for every place of the first lap where a straight way ends."""
    east, north = smooth(survey.east_mps, LOOPS.smoothed_s), smooth(survey.north_mps, LOOPS.smoothed_s)
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
            holds.append(Hold(lat, lon, course, turns_of(side)))
    return holds


def stay_around(
    track: Track, hold: Hold, start_s: float, end_s: float, *, course_sd_deg: float = 0.0
) -> GivenReading | None:
    """Return the stay at an inferred hold that a stretch is part of; None where it cuts no lap there."""
    stays = [
        s
        for s in stays_at(track, hold, course_sd_deg=course_sd_deg, given=False)
        if s.laps and s.start_s < end_s and start_s < s.end_s
    ]
    return max(stays, key=lambda stay: stay.evidence, default=None)


def settled_stay(track: Track, rough: GivenReading, start_s: float, end_s: float) -> GivenReading | None:
    """Read a stay at a hypothesis anew by the hold that its own laps show; None where that cuts no lap after all.

    Where that lies far from the hypothesis, its laps are asked once more: they may be others, and show another.
    """
    hold, (_, course_sd_deg) = inferred_hold(track, rough)
    stay = stay_around(track, hold, start_s, end_s, course_sd_deg=course_sd_deg)
    if stay is None or apart_nm(hold, rough.view.hold) <= LOOPS.settled_nm:
        return stay
    another, (fix_sd_nm, course_sd_deg) = inferred_hold(track, stay)
    if apart_nm(another, hold) <= fix_sd_nm:
        return stay
    return stay_around(track, another, start_s, end_s, course_sd_deg=course_sd_deg) or stay


def _is_plain(stay: GivenReading) -> bool:
    """Tell a stay that is plainly a hold, where it passes its fix: laps alike, one hand, legs, at one speed."""
    if len(stay.laps) < 2 or not has_turns(stay):
        return False
    if any(one.code == "legs-swing" for one in objections(stay.view.survey, as_racetrack(stay))):
        return False
    turned = np.median(
        [[abs(t.change_deg) for t in (lap.outbound, lap.inbound)] for lap in stay.laps], axis=0
    )
    legs = [sum(max(b - a, 0) for a, b in lap.legs) for lap in stay.laps]
    speed = smooth(stay.view.survey.ground_speed_kt, REJECTION.speed_smoothed_s)[stay.start : stay.end + 1]
    steady = speed_ratio(speed) <= LOOPS.plain_speed_ratio
    return (
        float(turned.min()) >= RACETRACK.least_turn_deg
        and min(legs) >= LOOPS.plain_legs_s
        and float(np.median(_met_deg(stay))) <= LOOPS.plain_course_deg
        and steady
        and _is_alike(stay)
    )

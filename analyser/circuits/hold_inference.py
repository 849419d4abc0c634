"""An unknown hold, read from all circuits together.

The course is the line that the inbound legs met (:mod:`analyser.circuits.course_estimation`); the fix lies on that
line where the outbound turns begin; the leg is what the inbound legs have in common. Whether it all lies the other way
round is weighed before (:mod:`analyser.circuits.evidence`), and the doubt is carried here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.circuits.course_estimation import (
    CourseMet,
    LegEnd,
    OutboundFlown,
    course_met,
    middle_and_sd,
    normal_density,
)
from analyser.circuits.flown import Circuit, FlownHold, OtherEnd, Turn
from analyser.circuits.frame import along_cross
from analyser.circuits.thresholds import ENDS, INFERENCE, RACETRACK
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import whole_direction, wrap180, wrap360
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.holds.definition import LegLimit
from analyser.logs.track import FloatArray, Notice
from analyser.motion.motion import Motion
from analyser.motion.motion_thresholds import ESTIMATE


@dataclass(frozen=True)
class Inferred:
    """What the flight says of the hold: the fix on the motion's map, its sigma per axis, the course and its sigma."""

    east_nm: float
    north_nm: float
    fix_sd_nm: float
    course_deg: float
    course_sd_deg: float


def infer_hold(
    motion: Motion,
    laps: list[tuple[Turn, Turn]],
    turned_back: Turn | None,
    ended_s: float,
    course_deg: float,
) -> Inferred:
    """Infer fix and course from the laps that were flown whole.

    Parameters
    ----------
    motion : Motion
        Its map has its origin on the fix as first seen.
    turned_back : Turn or None
        The entry's turn back towards the fix; None for a direct entry.
    ended_s : float
        When the fix was passed last.
    course_deg : float
        As first seen.

    Returns
    -------
    Inferred
        What was first seen, and hardly known, where no lap is whole.
    """
    if not laps:
        return Inferred(0.0, 0.0, INFERENCE.forgotten_nm, course_deg, INFERENCE.unsettled_sd_deg)
    begun = [outbound for outbound, _ in laps]
    ways_in = _ways_in(motion, laps, turned_back, ended_s, course_deg)
    flown = _outbound_flown(motion, [(outbound.end_s, inbound.start_s) for outbound, inbound in laps])
    legs = [_leg_end(motion, *way_in) for way_in in ways_in]
    met = course_met(legs, course_deg, flown)
    way_in_s = float(np.median([end_s - start_s for start_s, end_s in ways_in]))
    place, covariance, seen_nm, speed_nm_s = _by_laps(motion, begun, legs, met, way_in_s)
    way = _arrival_way(motion, turned_back.start_s if turned_back else begun[0].start_s, met, place)
    aside_chance, aside_by_nm, doubted_nm = 0.0, 0.0, 0.0
    if way is not None:
        before = covariance[1, 1]
        shift, covariance, aside_chance = with_arrival(*way, covariance, seen_nm)
        place, aside_by_nm = place + shift, way[0] * way[1][1]
        doubted_nm = float(np.sqrt(max(covariance[1, 1] - before, 0.0)))
    # Who was set aside by so much on his way in flew it by that angle off the course, and the wind by no more than its
    # drift.
    drift_deg = 0.0 if flown is None else flown.greatest_drift_deg
    led_deg = float(
        np.clip(np.degrees(np.arctan2(aside_by_nm, way_in_s * speed_nm_s)), -drift_deg, drift_deg)
    )
    open_deg = np.sqrt(aside_chance * (1.0 - aside_chance)) * led_deg
    # By what the arrival leaves open across the course beyond that, the wind may have led him off it as well.
    doubted_deg = min(float(np.degrees(np.arctan2(doubted_nm, way_in_s * speed_nm_s))), drift_deg)
    open_deg = max(abs(open_deg), doubted_deg)
    toward = np.radians(met.course_deg)
    return Inferred(
        east_nm=place[0] * np.sin(toward) + place[1] * np.cos(toward),
        north_nm=place[0] * np.cos(toward) - place[1] * np.sin(toward),
        fix_sd_nm=max(INFERENCE.least_fix_sd_nm, float(np.sqrt(0.5 * np.trace(covariance)))),
        course_deg=float(wrap360(met.course_deg - aside_chance * led_deg)),
        course_sd_deg=float(np.hypot(max(INFERENCE.least_course_sd_deg, met.sd_deg), open_deg)),
    )


def _ways_in(
    motion: Motion, laps: list[tuple[Turn, Turn]], turned_back: Turn | None, ended_s: float, course_deg: float
) -> list[tuple[float, float]]:
    """Return when each way in to the fix began and ended, seconds: of the laps, and of the entry where it agrees."""
    until_s = [outbound.start_s for outbound, _ in laps[1:]]
    ways_in = [
        (inbound.end_s, end_s)
        for (_, inbound), end_s in zip(laps, until_s, strict=False)
        if end_s - inbound.end_s >= INFERENCE.least_leg_s
    ]
    # The last always counts: a lap without any leg tells its course by what was flown just after it.
    ways_in.append((laps[-1][1].end_s, max(ended_s, laps[-1][1].end_s + INFERENCE.least_leg_s)))
    if turned_back is not None and laps[0][0].start_s - turned_back.end_s > INFERENCE.least_way_in_s:
        way_in = turned_back.end_s, laps[0][0].start_s
        if abs(wrap180(_second_half_deg(motion, *way_in) - course_deg)) < INFERENCE.like_deg:
            ways_in.append(way_in)
    return ways_in


def _by_laps(
    motion: Motion, begun: list[Turn], legs: list[LegEnd], met: CourseMet, way_in_s: float
) -> tuple[FloatArray, FloatArray, float, float]:
    """Return the fix that the laps tell, along and across the course, NM, and its covariance.

    And how well places are seen, NM, and the speed over the ground, NM/s.
    """
    speed_nm_s = float(np.mean([motion.at("ground_speed_kt", turn.start_s) for turn in begun])) / 3600.0
    after_s, along_sd_s = fix_along(
        _along(motion, begun, met.course_deg) / speed_nm_s,
        np.array([_begun_sd_s(turn, motion) for turn in begun]),
    )
    # Of turns seen by their chords no number of laps tells better where they begin.
    seen_s = INFERENCE.chords_share * motion.sample_s if motion.sample_s > ESTIMATE.chorded_s else 0.0
    along_nm, along_sd_nm = after_s * speed_nm_s, float(np.hypot(along_sd_s, seen_s)) * speed_nm_s
    # Who came to the fix off the course was so far beside it by the time he turned.
    ends = np.array([[leg.east_nm[-1], leg.north_nm[-1]] for leg in legs])
    ended_nm, beside_nm = along_cross(ends[:, 0], ends[:, 1], met.course_deg)
    off_deg = float(np.median([wrap180(leg.track_deg[-1] - met.course_deg) for leg in legs]))
    aslant = float(np.tan(np.radians(np.clip(off_deg, -60.0, 60.0))))
    cross_nm = met.cross_nm - (float(np.median(ended_nm)) - along_nm) * aslant
    # Who held what he rolled out on passed the fix beside it by what the wind set him aside on the way.
    aside_nm = np.sin(np.radians(met.passed_aside_deg)) * way_in_s * speed_nm_s
    scatter_nm = np.std(beside_nm, ddof=1) / np.sqrt(beside_nm.size) if beside_nm.size > 1 else 0.0
    lean = np.array([1.0, aslant])
    across = np.diag([0.0, met.cross_sd_nm**2 + aside_nm**2 + scatter_nm**2])
    covariance = along_sd_nm**2 * np.outer(lean, lean) + across
    return np.array([along_nm, cross_nm]), covariance, seen_s * speed_nm_s, speed_nm_s


def _arrival_way(
    motion: Motion, before_s: float, met: CourseMet, place_nm: FloatArray
) -> tuple[float, FloatArray] | None:
    """Return how far beside a place, along and across the course, the flight arrived, and the direction to its way.

    None where a hole hides it.
    """
    span = motion.span(before_s - INFERENCE.arriving_s, before_s + INFERENCE.early_s)
    along, cross = along_cross(motion.east_nm[span], motion.north_nm[span], met.course_deg)
    to_way = np.column_stack([along, cross]) - place_nm
    apart_nm = np.hypot(to_way[:, 0], to_way[:, 1])
    if apart_nm.size == 0:
        return None
    nearest = int(np.argmin(apart_nm))
    if motion.in_hole[span][nearest]:
        return None
    if apart_nm[nearest] > INFERENCE.seconds_apart_nm:
        return float(apart_nm[nearest]), to_way[nearest] / apart_nm[nearest]
    # So near, the nearest second lies along the way as much as across it.
    led = np.radians(motion.track_deg[span][nearest] - met.course_deg)
    right = np.array([-np.sin(led), np.cos(led)])
    return float(to_way[nearest] @ right), right


def with_arrival(
    apart_nm: float, direction: FloatArray, covariance: FloatArray, seen_nm: float = 0.0
) -> tuple[FloatArray, FloatArray, float]:
    """Hold a fix that the laps tell against the way by which the flight arrived: most come over the fix.

    Who lets the wind set him aside, or is late by habit, passes the fix alike on every lap, and nothing in his laps
    tells it; but he came by a needle that led him to it.

    Parameters
    ----------
    apart_nm : float
        From the laps' fix to the way of the arrival, in ``direction``, a unit vector across that way.
    covariance : ndarray of shape (2, 2)
        Of the laps' fix, NM².
    seen_nm : float
        How well the way is seen.

    Returns
    -------
    ndarray of shape (2,), ndarray of shape (2, 2), float
        How far the fix is to be moved; its covariance; the chance that the laps were set aside.
    """
    doubt = float(direction @ covariance @ direction)
    by, aside = INFERENCE.arrival_sd_nm**2 + seen_nm**2, INFERENCE.aside_sd_nm**2
    over, beside = INFERENCE.over_chance, INFERENCE.aside_chance
    chances = np.array(
        [
            over * (1.0 - beside) * normal_density(apart_nm, np.sqrt(doubt + by)),
            over * beside * normal_density(apart_nm, np.sqrt(doubt + aside + by)),
            (1.0 - over) * normal_density(apart_nm, INFERENCE.elsewhere_nm),
        ]
    )
    chances /= chances.sum()
    gain = covariance @ direction / (doubt + by)
    known = covariance - (doubt + by) * np.outer(gain, gain)
    moved = apart_nm * np.array([gain, direction * (1.0 - by / (doubt + aside + by)), np.zeros(2)])
    shift = chances @ moved
    off = moved - shift
    # Two measurements that differ tell their own variance, half of the square, where that is more than either is known
    # to.
    beyond = 0.5 * max(0.0, float(apart_nm**2 - doubt - by))
    spread = off.T @ (chances[:, None] * off) + beyond * np.outer(direction, direction)
    return shift, chances[:2].sum() * known + chances[2] * covariance + spread, float(chances[1])


def _second_half_deg(motion: Motion, start_s: float, end_s: float) -> float:
    """Return the direction made good in the second half of a way in."""
    middle = 0.5 * (start_s + end_s)
    east = motion.at("east_nm", end_s) - motion.at("east_nm", middle)
    north = motion.at("north_nm", end_s) - motion.at("north_nm", middle)
    return float(np.degrees(np.arctan2(east, north)))


def _leg_end(motion: Motion, start_s: float, end_s: float) -> LegEnd:
    """Lay out one inbound leg, and find the longest last part of it that is straight.

    Where none is, its very end counts, doubted for its bend.
    """
    whole = motion.span(start_s, end_s - 1.0)
    east, north, track = motion.east_nm[whole], motion.north_nm[whole], motion.track_deg[whole]
    if track.size == 0:
        east, north, track = (
            np.array([motion.at(name, end_s)]) for name in ("east_nm", "north_nm", "track_deg")
        )
    straight, sd = float(track[-1]), INFERENCE.unsettled_sd_deg
    length = end_s - start_s
    for window, straight_sd in (
        (w, sd)
        for w, sd in INFERENCE.settled
        if w <= max(INFERENCE.settled_share * length, INFERENCE.settled[-1][0])
    ):
        span = motion.span(end_s - window, end_s - 1.0)
        points = np.column_stack([motion.east_nm[span], motion.north_nm[span]])
        if len(points) < 2 * INFERENCE.chord_points + 1:
            break
        first, last = (
            _direction(points[: INFERENCE.chord_points]),
            _direction(points[-INFERENCE.chord_points :]),
        )
        bend = abs(float(wrap180(last - first)))
        straight, sd = _direction(points), float(np.hypot(straight_sd, INFERENCE.bend_doubt * bend))
        if bend <= INFERENCE.straight_bend_deg:
            break
    rollout = float(motion.at("heading_deg", min(start_s + INFERENCE.roll_s, end_s)))
    return LegEnd(east, north, track, straight, sd, rollout)


def _outbound_flown(motion: Motion, legs: list[tuple[float, float]]) -> OutboundFlown | None:
    """Return the headings of the outbound legs that are long enough to have one; None where no leg is."""
    spans = [
        motion.span(start + INFERENCE.roll_s, end - INFERENCE.roll_s)
        for start, end in legs
        if end - start > 3.0 * INFERENCE.roll_s
    ]
    headings = [mean_direction(motion.heading_deg[span]) for span in spans]
    if not headings or not np.isfinite(motion.tas_mean_kt):
        return None
    return OutboundFlown(
        np.array(headings), motion.wind_mean_east_kt, motion.wind_mean_north_kt, motion.tas_mean_kt
    )


def _along(motion: Motion, outbound_turns: list[Turn], course_deg: float) -> FloatArray:
    """Return where along the course each turn began."""
    east, north = (
        np.array([motion.at(axis, turn.start_s) for turn in outbound_turns])
        for axis in ("east_nm", "north_nm")
    )
    return along_cross(east, north, course_deg)[0]


def _begun_sd_s(turn: Turn, motion: Motion) -> float:
    """Return how well a turn's beginning tells when its pilot saw the fix pass, seconds, his lateness apart."""
    merged_s = INFERENCE.merged_sd_s if abs(turn.heading_change_deg) > RACETRACK.merged_turn_deg else 0.0
    # What chords hide of their turns they hide of all alike.
    seen_s = turn.start_sd_s if motion.sample_s <= ESTIMATE.chorded_s else 0.0
    return float(np.linalg.norm([INFERENCE.needle_sd_s, seen_s, merged_s]))


def fix_along(begun_s: FloatArray, sd_s: FloatArray) -> tuple[float, float]:
    """Tell where along the course the fix lies from where the outbound turns began, all in seconds of flight.

    A pilot turns when he has seen the fix pass, and so never much before it. How late he is, and whether he is late by
    habit or now and then, is his own: the likelihood is summed over kinds of pilot. A turn may be begun anywhere for
    another reason.
    """
    late_s = np.arange(INFERENCE.step_s, INFERENCE.latest_s, 2.0 * INFERENCE.step_s)
    kinds = [(mean_s, shape) for mean_s in INFERENCE.lateness_s for shape in INFERENCE.lateness_shapes]
    density = np.stack([late_s ** (k - 1.0) * np.exp(-late_s * k / mean_s) for mean_s, k in kinds], axis=1)
    density /= density.sum(axis=0)
    usual = np.log([mean_s / INFERENCE.usual_lateness_s for mean_s, _ in kinds])
    prior = -0.5 * (usual / np.log(INFERENCE.lateness_factor)) ** 2
    first = float(np.sort(begun_s)[(begun_s.size - 1) // 2])
    near = np.clip(begun_s, first - INFERENCE.latest_s, first + INFERENCE.latest_s)
    fix_s = np.arange(near.min() - INFERENCE.latest_s, near.max() + INFERENCE.early_s, INFERENCE.step_s)
    log = np.zeros((fix_s.size, len(kinds))) + prior
    for at_s, one_sd_s in zip(begun_s, sd_s, strict=True):
        off_s = at_s - fix_s
        seen = normal_density(off_s[:, None] - late_s, one_sd_s) @ density
        other = np.where(off_s > 0.0, INFERENCE.begun_late, INFERENCE.begun_early) / INFERENCE.other_s
        log += np.log(seen + other[:, None])
    return middle_and_sd(fix_s, np.exp(log - log.max()).sum(axis=1))


def _direction(points: FloatArray) -> float:
    step = points[-1] - points[0]
    return float(np.degrees(np.arctan2(step[0], step[1])))


def infer_leg(length_nm: FloatArray, tas_kt: float) -> LegLimit | None:
    """Tell what the inbound legs have in common, where it is not the usual time: over the ground, wings level to fix.

    None where the usual time by altitude, from the rules, explains the legs: what a leg of that time is long in still
    air. A longer leg is a distance leg if the laps repeat it closely in whole or half miles, else a leg of as many half
    minutes.
    """
    if length_nm.size == 0:
        return None
    length = float(np.median(length_nm))
    minutes = length / tas_kt * 60.0
    if minutes < INFERENCE.longest_usual_minutes:
        return None
    repeated = length_nm.size >= 2 and np.std(length_nm) < INFERENCE.repeated_share * length
    if repeated and length >= INFERENCE.shortest_distance_leg_nm:
        return LegLimit(distance_nm=round(length * 2.0) / 2.0)
    return LegLimit(minutes=round(minutes * 2.0) / 2.0)


def inbound_lengths_nm(motion: Motion, circuits: list[Circuit]) -> FloatArray:
    """Return how long the inbound legs of whole circuits are over the ground: (n,) NM."""
    legs = [c.inbound_leg for c in circuits if c.complete and c.inbound_leg is not None]
    ends = [[(motion.at("east_nm", t), motion.at("north_nm", t)) for t in (g.start_s, g.end_s)] for g in legs]
    return np.array([np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in ends], dtype=np.float64)


def in_doubt_of_its_end(flown: FlownHold, chance: float) -> FlownHold:
    """Return an inferred hold with the doubt of its end, where there is one: the chance that the other is the fix.

    Two sigmas of fix and course then reach the other end, so that nothing is judged by either.
    """
    turns = [circuit.inbound_turn for circuit in flown.circuits if circuit.inbound_turn is not None]
    if chance < ENDS.open_chance or not turns:
        return flown
    begun = [[flown.motion.at(name, turn.start_s) for name in ("east_nm", "north_nm")] for turn in turns]
    east, north = np.median(begun, axis=0)
    legs = [c.outbound_leg.track_deg for c in flown.circuits if c.outbound_leg is not None]
    course = mean_direction(np.array(legs))
    if not np.isfinite(course):
        course = flown.hold.inbound_course_true_deg + 180.0
    plane = LocalPlane(flown.hold.fix_lat_deg, flown.hold.fix_lon_deg)
    lat, lon = plane.to_earth(np.array([east]), np.array([north]))
    other = OtherEnd(float(lat[0]), float(lon[0]), wrap360(course), chance)
    said = (
        "which end of the racetrack is the fix cannot be told: it may also lie where the inbound turns are taken to "
        f"begin, {np.hypot(east, north):.1f} NM away, with about {whole_direction(course):03d}° true inbound; "
        "a hold file settles it"
    )
    return replace(
        flown,
        other_end=other,
        fix_sd_nm=max(flown.fix_sd_nm or 0.0, 0.5 * float(np.hypot(east, north))),
        course_sd_deg=max(flown.course_sd_deg or 0.0, 90.0),
        notices=(*flown.notices, Notice("other-end", said)),
    )

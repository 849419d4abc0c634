"""An unknown hold, read from all circuits together.

The course is the line that the inbound legs met (:mod:`analyser.circuits.course_estimation`); the fix lies on that
line where the outbound turns begin; the leg is what the inbound legs have in common. Whether it all lies the other way
round is weighed before (:mod:`analyser.circuits.evidence`), and the doubt is carried here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.circuits.course_estimation import CourseMet, LegEnd, OutboundFlown, course_met
from analyser.circuits.flown import Circuit, FlownHold, OtherEnd, Turn
from analyser.circuits.thresholds import ENDS, INFERENCE, RACETRACK
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180, wrap360
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.holds.definition import LegLimit
from analyser.logs.track import FloatArray, Notice
from analyser.motion.estimate import CHORDED_S
from analyser.motion.motion import Motion


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
    until_s = [turn.start_s for turn in begun[1:]]
    ways_in = [
        (inbound.end_s, end_s)
        for (_, inbound), end_s in zip(laps, until_s, strict=False)
        if end_s - inbound.end_s >= INFERENCE.least_leg_s
    ]
    # The last always counts: a lap without any leg tells its course by what was flown just after it.
    ways_in.append((laps[-1][1].end_s, max(ended_s, laps[-1][1].end_s + INFERENCE.least_leg_s)))
    if turned_back is not None and begun[0].start_s - turned_back.end_s > INFERENCE.least_way_in_s:
        way_in = turned_back.end_s, begun[0].start_s
        if abs(wrap180(_second_half_deg(motion, *way_in) - course_deg)) < INFERENCE.like_deg:
            ways_in.append(way_in)
    flown = _outbound_flown(motion, [(outbound.end_s, inbound.start_s) for outbound, inbound in laps])
    met = course_met([_leg_end(motion, *way_in) for way_in in ways_in], course_deg, flown)
    arrived_s = turned_back.start_s if turned_back else begun[0].start_s
    along = _along(motion, begun, met.course_deg)
    speed_kt = float(np.mean([motion.at("ground_speed_kt", turn.start_s) for turn in begun]))
    clean = np.array([abs(turn.heading_change_deg) <= RACETRACK.merged_turn_deg for turn in begun])
    # A turn that began in a hole began somewhere in it.
    hidden_nm = np.array([turn.start_sd_s for turn in begun]) * speed_kt / 3600.0
    hidden_nm *= (hidden_nm > INFERENCE.hidden_s * speed_kt / 3600.0) & (motion.sample_s <= CHORDED_S)
    telling = clean & (hidden_nm == 0.0)
    late = _lateness(along[telling] if telling.any() else along, speed_kt)
    weight = np.where(clean, 1.0, INFERENCE.merged_weight) / (1.0 + (hidden_nm / late.lap_sd_nm) ** 2)
    hidden_sd_nm = float(np.linalg.norm(weight * hidden_nm) / weight.sum())
    places, weight = _with_arrival(motion, along - late.mean_nm, weight, met, arrived_s)
    crossed = float(places[-1]) if places.size > along.size else np.inf
    near = np.abs(places - _earlier_median(places, weight)) < INFERENCE.forgotten_nm
    # Turns forgotten on every second lap say nothing of the fix; one turn against all others does not make them so.
    if 2 * near.sum() >= places.size:
        places, weight = places[near], weight[near]
    middle = _weighted_median(places, weight)
    # Nor does any number of laps tell where turns begin that were seen by their chords: somewhere between two samples.
    seen_s = motion.sample_s / np.sqrt(12.0) if motion.sample_s > CHORDED_S else 0.0
    seen_nm = seen_s * speed_kt / 3600.0
    # An arrival that crossed the course well before the turns may have crossed it at the fix: then all were late alike.
    late_nm = max(middle - crossed - 2.0 * late.mean_sd_nm, 0.0)
    alike_nm = INFERENCE.late_alike * late_nm if late_nm < INFERENCE.forgotten_nm else 0.0
    # Who did not keep to the course passed the fix beside it by what the wind set him aside on the way.
    way_in_s = float(np.median([end_s - start_s for start_s, end_s in ways_in]))
    aside_nm = np.sin(np.radians(met.set_aside_deg)) * way_in_s * speed_kt / 3600.0
    spread = np.linalg.norm(
        [
            late.mean_sd_nm,
            late.lap_sd_nm / np.sqrt(along.size),
            seen_nm,
            hidden_sd_nm,
            alike_nm,
            met.cross_sd_nm,
            aside_nm,
        ]
    )
    toward = np.radians(met.course_deg)
    return Inferred(
        east_nm=middle * np.sin(toward) + met.cross_nm * np.cos(toward),
        north_nm=middle * np.cos(toward) - met.cross_nm * np.sin(toward),
        fix_sd_nm=max(INFERENCE.least_fix_sd_nm, float(spread / np.sqrt(2.0))),
        course_deg=met.course_deg,
        course_sd_deg=max(INFERENCE.least_course_sd_deg, met.sd_deg),
    )


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
        (w, sd) for w, sd in INFERENCE.settled if w <= max(0.8 * length, INFERENCE.settled[-1][0])
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
    starts = [[motion.at("east_nm", t.start_s), motion.at("north_nm", t.start_s)] for t in outbound_turns]
    return _axes(np.array(starts), course_deg)[0]


@dataclass(frozen=True)
class _Lateness:
    """How late past the fix a pilot begins his turns: usually, how well that is known, and from lap to lap (NM)."""

    mean_nm: float
    mean_sd_nm: float
    lap_sd_nm: float


def _lateness(begun_nm: FloatArray, speed_kt: float) -> _Lateness:
    """Tell how late a pilot begins his turns by how unlike they begin.

    No lap shows by how much the fix lies before the turns. But nobody is late by the same three seconds every time, and
    nobody begins before the fix that he has not seen pass: what is never negative is on average about as large as it
    varies. That variation is read off the laps, beside what is usual, for they are few.
    """
    usual_nm = INFERENCE.lateness_s * speed_kt / 3600.0
    # A lap whose turn was forgotten for long tells nothing of the others.
    off = begun_nm - _earlier_median(begun_nm, np.ones(begun_nm.size))
    near = begun_nm[np.abs(off) < max(INFERENCE.forgotten_nm, 2.0 * float(np.median(np.abs(off))))]
    off = near - near.mean()
    weight = INFERENCE.lateness_laps
    lap_nm = float(np.sqrt((weight * usual_nm**2 + off @ off) / (weight + off.size - 1)))
    return _Lateness(INFERENCE.lateness_mean * lap_nm, INFERENCE.lateness_mean_sd * lap_nm, lap_nm)


def _with_arrival(
    motion: Motion, along: FloatArray, weight: FloatArray, met: CourseMet, arrival_until_s: float
) -> tuple[FloatArray, FloatArray]:
    """Add the arrival's crossing of the course to where the fix may lie along it, and to how much each counts."""
    crossed = _arrival_crossing(motion, arrival_until_s, met.course_deg, met.cross_nm)
    if crossed is None or abs(crossed[0] - _weighted_median(along, weight)) > INFERENCE.crossing_nm:
        return along, weight
    return np.append(along, crossed[0]), np.append(weight, INFERENCE.crossing_weight * crossed[1])


def _arrival_crossing(
    motion: Motion, before_s: float, course_deg: float, cross_nm: float
) -> tuple[float, float] | None:
    """Return where the arrival first crosses the course line, and the sine of the angle at which it does."""
    span = motion.span(before_s - INFERENCE.crossing_s, before_s + 5.0)
    along, cross = _axes(np.column_stack([motion.east_nm[span], motion.north_nm[span]]), course_deg)
    off = np.abs(wrap180(motion.track_deg[span] - course_deg))
    off = np.minimum(off, 180.0 - off)
    side = cross - cross_nm
    crossed = np.flatnonzero((np.sign(side[:-1]) != np.sign(side[1:])) & (off[:-1] >= INFERENCE.crossing_deg))
    if crossed.size == 0:
        return None
    i = int(crossed[0])
    share = side[i] / (side[i] - side[i + 1])
    return float(along[i] + share * (along[i + 1] - along[i])), float(np.sin(np.radians(off[i])))


def _earlier_median(values: FloatArray, weight: FloatArray) -> float:
    """Return the earliest value that half the weight lies at or before: turns are forgotten, and not begun too soon."""
    order = np.argsort(values)
    half = np.searchsorted(np.cumsum(weight[order]), 0.5 * weight.sum() - 1e-9)
    return float(values[order][half])


def _weighted_median(values: FloatArray, weight: FloatArray) -> float:
    """Return the middle of weighted values, interpolated between the two that straddle it."""
    order = np.argsort(values)
    heaped = np.cumsum(weight[order]) - 0.5 * weight[order]
    return float(np.interp(0.5 * weight.sum(), heaped, values[order]))


def _axes(points: FloatArray, course_deg: float) -> tuple[FloatArray, FloatArray]:
    toward = np.radians(course_deg)
    return (
        points[:, 0] * np.sin(toward) + points[:, 1] * np.cos(toward),
        points[:, 0] * np.cos(toward) - points[:, 1] * np.sin(toward),
    )


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
    repeated = length_nm.size >= 2 and np.std(length_nm) < 0.05 * length
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
        f"begin, {np.hypot(east, north):.1f} NM away, with about {round(course) % 360 or 360:03d}° true inbound; "
        "a hold file settles it"
    )
    return replace(
        flown,
        other_end=other,
        fix_sd_nm=max(flown.fix_sd_nm or 0.0, 0.5 * float(np.hypot(east, north))),
        course_sd_deg=max(flown.course_sd_deg or 0.0, 90.0),
        notices=(*flown.notices, Notice("other-end", said)),
    )

"""The time that the aircraft flew: what a recorder's clock counted while it stood still, or at another rate, taken out.

An aircraft cannot stand still at flying speed. Where a simulator is paused its recorder writes the same position again
and again, or nothing, and then the flight goes on from where it was, on the same track and at the same speed: that time
was not flown. Nor can an aircraft fly at four times its speed from one second to the next: there the simulator's time
ran so many times as fast as the recorder's clock.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import MPS_PER_KT
from analyser.frozen import dataclass
from analyser.logs.movement import displacements
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted, listed
from analyser.logs.track import Seam


@dataclass(frozen=True)
class FlightTimeThresholds:
    """What decides that time was not flown; each with what it stands for."""

    flying_kt: float = 50.0
    """No aeroplane that flies a hold flies slower, nor stops from this speed within a few seconds."""
    least_pause_s: float = 4.0
    """A shorter pause is a stutter of the recorder."""
    least_intervals: float = 3.5
    """Nor is one shorter than so many usual intervals told from a lost row."""
    longest_pause_s: float = 1800.0
    """After a longer one a flight is another flight."""
    covered: float = 0.3
    """The aircraft covered less than this share of the way that the time was long enough for …"""
    onward_intervals: float = 4.0
    """… and no more than it flies in so many usual intervals."""
    same_track_deg: float = 12.0
    """It flies on in the direction it flew before …"""
    turning_dps: float = 4.0
    """… or has turned on meanwhile as in a turn of a little more than rate one, for two usual intervals …"""
    turning_mps2: float = 4.0
    """(which takes it off a straight line by this acceleration) …"""
    same_speed: float = 0.15
    """… and at the same speed, to this share."""
    beside_m: float = 30.0
    """It goes on from its own track, to so many metres beside it and a tenth of the way covered."""
    around: int = 4
    """Speed and track before and after are read over so many steps."""
    least_rate: float = 1.7
    """Time that ran less than so many times as fast may be a tailwind or a throttle."""
    rate_off: float = 0.15
    """How far a simulator's rate, a power of two, may be off the one measured."""
    steady: float = 0.12
    """Within accelerated time speeds change from step to step by no more than this share, rms."""
    least_rows: int = 5
    """Fewer rows tell no rate."""
    least_step_s: float = 0.5
    """Speeds are read over steps of at least about this."""
    jumped: float = 1.6
    """A step of so many times the usual way, on an even path, lost time …"""
    even: float = 0.12
    """… where the steps around it are alike to this share …"""
    ahead_deg: float = 8.0
    """… and it goes straight on, to so many degrees beside the turn …"""
    most_jumps: int = 3
    """… and does so no more often: what jumps again and again is a receiver that filters or repeats positions."""
    impossible_mps2: float = 12.0
    """A change of speed from step to step that no aeroplane makes along its track."""


THRESHOLDS = FlightTimeThresholds()


def take_out_pauses(flight: RawFlight) -> RawFlight:
    """Take the time out in which the aircraft cannot have flown; times increase.

    Rows written during a pause are left out; what lies after it is earlier by the time it lasted.
    """
    if flight.samples < 3 * THRESHOLDS.around:
        return flight
    distinct = np.concatenate([[True], ~flight.repeats])
    rows = np.flatnonzero(distinct)
    time_s = flight.time_s[rows]
    dt = np.diff(time_s)
    usual = float(np.median(dt)) if dt.size else 0.0
    least = max(THRESHOLDS.least_pause_s, THRESHOLDS.least_intervals * usual)
    long = np.flatnonzero((dt > least) & (dt < THRESHOLDS.longest_pause_s))
    if not long.size or rows.size < 3 * THRESHOLDS.around:
        return flight
    east, north = displacements(flight.lat_deg[rows], flight.lon_deg[rows])
    pauses = [
        (int(step), lost) for step in long if (lost := _lost_s(dt, east, north, int(step), usual)) > 0.0
    ]
    if not pauses:
        return flight
    return _without(flight, rows, pauses)


def _lost_s(dt: FloatArray, east: FloatArray, north: FloatArray, step: int, usual_s: float) -> float:
    """Return for how long a long step was not flown; 0 where it may have been."""
    limits = THRESHOLDS
    before = _velocity(dt, east, north, slice(max(0, step - limits.around), step))
    after = _velocity(dt, east, north, slice(step + 1, step + 1 + limits.around))
    if before is None or after is None:
        return 0.0
    speed = 0.5 * (abs(before) + abs(after))
    if min(abs(before), abs(after)) < limits.flying_kt * MPS_PER_KT:
        return 0.0
    moved = complex(east[step], north[step])
    last, first = complex(east[step - 1], north[step - 1]), complex(east[step + 1], north[step + 1])
    turned = float(np.degrees(np.angle(first * np.conj(last))))
    onward = moved * np.conj(last) / max(abs(last), 1e-9)
    beside_m = limits.beside_m + 0.1 * abs(moved) + 0.5 * limits.turning_mps2 * usual_s**2
    flown_m = min(limits.onward_intervals * usual_s * speed, limits.covered * dt[step] * speed)
    goes_on = -0.5 * usual_s * speed <= onward.real <= flown_m
    most_deg = limits.same_track_deg + 2.0 * limits.turning_dps * usual_s
    same = abs(turned) < most_deg and abs(abs(after) / abs(before) - 1.0) < limits.same_speed
    if not (same and goes_on and abs(onward.imag) < beside_m):
        return 0.0
    return float(dt[step] - max(abs(moved) / speed, 0.5 * usual_s))


def _velocity(dt: FloatArray, east: FloatArray, north: FloatArray, part: slice) -> complex | None:
    """Return the mean velocity over some steps, as east and north in one number; None where there are too few."""
    if dt[part].size < THRESHOLDS.around or float(dt[part].max()) > 4.0 * float(np.median(dt[part])):
        return None
    return complex(east[part].sum(), north[part].sum()) / float(dt[part].sum())


def _without(flight: RawFlight, rows: NDArray[np.intp], pauses: list[tuple[int, float]]) -> RawFlight:
    keep = np.ones(flight.samples, dtype=bool)
    shift = np.zeros(flight.samples)
    seams = []
    taken = 0.0
    for step, lost in pauses:
        last, following = int(rows[step]), int(rows[step + 1])
        keep[last + 1 : following] = False
        shift[following:] += lost
        seams.append(Seam(float(flight.time_s[last]) - taken, lost))
        taken += lost
    many = counted(len(pauses), "pause", "pauses")
    where = listed([f"sample {int(rows[step]) + 1} ({lost:.0f} s)" for step, lost in pauses])
    message = (
        f"The recording stood still in flight: {many} of {taken:.0f} s in all, after {where}. "
        "That time was taken out; what lies across a pause is not timed."
    )
    moved = replace(flight, time_s=flight.time_s - shift).take(keep)
    return moved.saying("time-paused", message, seams=(*flight.seams, *seams))


def put_in_lost_time(flight: RawFlight) -> RawFlight:
    """Put the time in that a clock did not count: a second written twice, or one that was lost; times increase.

    An aircraft cannot cover two seconds' way in one and go on as it was; a clock that is set back by one, or a recorder
    that drops a row and counts on, writes that. What lies after such a step is later by the time that was lost.
    """
    limits = THRESHOLDS
    dt = flight.steps_s
    if flight.samples < 4 * limits.around:
        return flight
    east, north = flight.steps_m
    speed, usual = np.hypot(east, north) / dt, float(np.median(dt))
    sudden = (speed[1:] > 0.9 * limits.jumped * speed[:-1]) & (speed[:-1] > limits.flying_kt * MPS_PER_KT)
    steps = (np.flatnonzero(sudden) + 1).tolist()
    lost = [(step, gone) for step in steps if (gone := _not_counted_s(dt, east, north, step, usual)) > 0.0]
    if not lost or len(lost) > limits.most_jumps:
        return flight
    shift = np.zeros(flight.samples)
    seams = []
    for step, gone in lost:
        seams.append(Seam(float(flight.time_s[step] + shift[step]) + 0.5 * (dt[step] + gone), -gone))
        shift[step + 1 :] += gone
    where = ", ".join(f"sample {step + 1} ({gone:.1f} s)" for step, gone in lost)
    message = (
        f"The clock did not count all of the time: the aircraft covers more than a step's way after {where} and flies "
        "on as before. That time was put in; what lies across it is not timed."
    )
    return flight.saying("time-lost", message, time_s=flight.time_s + shift, seams=(*flight.seams, *seams))


def _not_counted_s(dt: FloatArray, east: FloatArray, north: FloatArray, step: int, usual_s: float) -> float:
    """Return how much time a step left out; 0 where it may have been flown as it is written."""
    limits = THRESHOLDS
    near = [slice(max(0, step - limits.around), step), slice(step + 1, step + 1 + limits.around)]
    if any(dt[part].size < limits.around for part in near) or abs(dt[step] / usual_s - 1.0) > limits.even:
        return 0.0
    moves = [east[part] + 1j * north[part] for part in near]
    speeds = np.concatenate([np.abs(move) / dt[part] for move, part in zip(moves, near, strict=True)])
    speed = float(speeds.mean())
    moved = complex(east[step], north[step])
    between = moves[0].sum() / abs(moves[0].sum()) + moves[1].sum() / abs(moves[1].sum())
    aside_deg = abs(float(np.degrees(np.angle(moved * np.conj(between)))))
    if float(np.ptp(speeds)) > limits.even * speed or aside_deg > limits.ahead_deg:
        return 0.0
    gone_s = abs(moved) / speed - float(dt[step])
    return gone_s if abs(moved) > limits.jumped * speed * float(dt[step]) else 0.0


def even_out_rate(flight: RawFlight) -> RawFlight:
    """Stretch time where a simulator's ran faster than the recorder's clock; times increase."""
    dt = flight.steps_s
    if flight.samples < 4 * THRESHOLDS.least_rows:
        return flight
    # Faster than about twice a second, a receiver's noise alone makes speeds jump.
    every = max(1, round(THRESHOLDS.least_step_s / max(float(np.median(dt)), 1e-3)))
    thinned = flight if every == 1 else flight.take(np.arange(0, flight.samples, every))
    steps = thinned.steps_s
    speed = thinned.moved_m / steps
    stretches = [(a * every, b * every, rate) for a, b, rate in _fast_stretches(steps, speed)]
    if not stretches:
        return flight
    stretched, seams = dt.copy(), []
    for first, last, rate in stretches:
        stretched[first:last] *= rate
    time_s = flight.time_s[0] + np.concatenate([[0.0], np.cumsum(stretched)])
    for first, last, rate in stretches:
        added = float(dt[first:last].sum() * (rate - 1.0))
        seams += [Seam(float(time_s[first]), -0.5 * added), Seam(float(time_s[last]), -0.5 * added)]
    said = "; ".join(
        f"{rate:g} times as fast from sample {first + 1} to sample {last + 1}"
        for first, last, rate in stretches[:4]
    )
    message = (
        f"Time ran faster than the recorder's clock: {said}. It was stretched again; what lies across its ends is "
        "not timed."
    )
    return flight.saying("time-accelerated", message, time_s=time_s, seams=(*flight.seams, *seams))


def _fast_stretches(dt: FloatArray, speed: FloatArray) -> list[tuple[int, int, float]]:
    """Find stretches flown at a power of two of the speed both before and after: (first step, one past, rate)."""
    limits = THRESHOLDS
    edges = _sudden(dt, speed)
    found: list[tuple[int, int, float]] = []
    for first, last in pairwise(edges):
        if last - first < limits.least_rows or (found and found[-1][1] == first):
            continue
        inside = speed[first + 1 : last - 1]
        ends = _around(speed, first)[0], _around(speed, last)[1]
        usual = float(np.median(inside)) if inside.size else 0.0
        if min(*ends, usual) < limits.flying_kt * MPS_PER_KT:
            continue
        rates = _around(speed, first)[1] / ends[0], _around(speed, last)[0] / ends[1]
        rate = 2.0 ** round(0.5 * float(np.log2(max(rates[0] * rates[1], 1.0))))
        alike = all(abs(one / rate - 1.0) < limits.rate_off for one in rates)
        scatter = float(np.std(np.diff(inside))) / usual
        if rate >= limits.least_rate and alike and scatter < limits.steady:
            found.append((first, last, rate))
    return found


def _around(speed: FloatArray, step: int) -> tuple[float, float]:
    """Return the speeds before and after an edge, the steps at it left out: they may lie on both sides."""
    rows = THRESHOLDS.least_rows
    before, after = speed[max(0, step - 1 - rows) : max(1, step - 1)], speed[step + 1 : step + 1 + rows]
    return float(np.median(before)), float(np.median(after)) if after.size else float(np.median(before))


def _medians_of_five(values: FloatArray) -> FloatArray:
    """Return the median of each five neighbours: by comparisons, eight times as fast as by sorting."""
    a, b, c, d, e = (values[first : values.size - 4 + first] for first in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.asarray(np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), e)))


def _sudden(dt: FloatArray, speed: FloatArray) -> list[int]:
    """Find the steps at which the speed changes for good, by a factor and faster than any aeroplane's."""
    rows = 5
    if speed.size < 2 * rows + 1:
        return []
    medians = _medians_of_five(speed)
    before, after = medians[:-rows], medians[rows:]
    took = np.maximum(2.0 * dt[rows : rows + before.size], 0.5)
    ratio = np.abs(np.log2(np.maximum(after, 0.1) / np.maximum(before, 0.1)))
    fast = np.abs(after - before) > THRESHOLDS.impossible_mps2 * took
    sudden = fast & (ratio > np.log2(THRESHOLDS.least_rate))
    bounds = np.flatnonzero(np.diff(np.concatenate([[False], sudden, [False]]).astype(int))).tolist()
    return [int(a + np.argmax(ratio[a:b])) + rows for a, b in zip(bounds[::2], bounds[1::2], strict=True)]

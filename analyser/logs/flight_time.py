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
from analyser.logs.track import Seam, runs


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
    rates: tuple[float, ...] = (0.25, 0.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 16.0, 32.0, 64.0)
    """Rates that simulators offer (common practice) …"""
    least_rate: float = 1.7
    """… for a change of speed by a smaller factor may be a tailwind or a throttle …"""
    rate_off: float = 0.15
    """… and how far the rate may be off the one measured at either end."""
    steady: float = 0.12
    """Within accelerated time and beside it speeds change from step to step by no more than this share, rms: where a
    clock or positions make them swing, a swing is no rate."""
    wind_share: float = 0.6
    """Where a log ends at another rate than it began at, its speeds differ by that factor, and this share for wind."""
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
    if not flight.repeats.any() and float(flight.steps_s.max()) <= THRESHOLDS.least_pause_s:
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
    if flight.samples < 4 * limits.around:
        return flight
    dt, speed = flight.steps_s, flight.speed_mps
    sudden = (speed[1:] > 0.9 * limits.jumped * speed[:-1]) & (speed[:-1] > limits.flying_kt * MPS_PER_KT)
    steps = (np.flatnonzero(sudden) + 1).tolist()
    lost = [(step, gone) for step in steps if (gone := _not_counted_s(flight, step)) > 0.0]
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


def _not_counted_s(flight: RawFlight, step: int) -> float:
    """Return how much time a step left out; 0 where it may have been flown as it is written."""
    limits, dt, (east, north) = THRESHOLDS, flight.steps_s, flight.steps_m
    near = [slice(max(0, step - limits.around), step), slice(step + 1, step + 1 + limits.around)]
    if (
        any(dt[part].size < limits.around for part in near)
        or abs(dt[step] / flight.usual_step_s - 1.0) > limits.even
    ):
        return 0.0
    moves = [east[part] + 1j * north[part] for part in near]
    speeds = np.concatenate([np.abs(move) / dt[part] for move, part in zip(moves, near, strict=True)])
    speed = float(speeds.mean())
    moved = complex(east[step], north[step])
    ways = [complex(move.sum()) for move in moves]
    if not all(abs(way) > 0.0 for way in ways):
        return 0.0
    between = sum(way / abs(way) for way in ways)
    aside_deg = abs(float(np.degrees(np.angle(moved * np.conj(between)))))
    if float(np.ptp(speeds)) > limits.even * speed or aside_deg > limits.ahead_deg:
        return 0.0
    gone_s = abs(moved) / speed - float(dt[step])
    return gone_s if abs(moved) > limits.jumped * speed * float(dt[step]) else 0.0


def even_out_rate(flight: RawFlight) -> RawFlight:
    """Stretch time where a simulator's ran faster than the recorder's clock, press it where slower; times increase."""
    dt = flight.steps_s
    if flight.samples < 4 * THRESHOLDS.least_rows:
        return flight
    # Faster than about twice a second, a receiver's noise alone makes speeds jump.
    every = max(1, round(THRESHOLDS.least_step_s / max(flight.usual_step_s, 1e-3)))
    thinned = flight if every == 1 else flight.take(np.arange(0, flight.samples, every))
    steps, speed = thinned.steps_s, thinned.speed_mps
    edges, rates = _rates(steps, speed)
    if not edges:
        return flight
    rate = np.repeat(rates, np.diff([0, *edges, steps.size]))
    for edge, before, after in zip(edges, rates[:-1], rates[1:], strict=True):
        # The steps at an edge took the time that their way asks for: part of each was flown at either rate.
        at = slice(max(edge - 1, 0), edge + 2)
        alone = _before(speed, edge) / before
        rate[at] = np.clip(speed[at] / alone, min(before, after), max(before, after))
    stretched = dt * np.append(np.repeat(rate, every), np.full(every, rates[-1]))[: dt.size]
    time_s = flight.time_s[0] + np.concatenate([[0.0], np.cumsum(stretched)])
    at_rows = [min(edge * every, dt.size) for edge in edges]
    ends = [0, *at_rows, dt.size]
    said = listed(
        [
            f"{one:g} times as fast from sample {first + 1} to sample {last + 1}"
            for (first, last), one in zip(pairwise(ends), rates, strict=True)
            if one != 1.0
        ]
    )
    message = (
        f"Time ran at another rate than the recorder's clock: {said}. That was undone; what lies across its ends is "
        "not timed."
    )
    # What was put in is told half at either end; nobody stood still where time is pressed.
    put_in = [max(float((stretched - dt)[first:last].sum()), 0.0) for first, last in pairwise(ends)]
    halves = [one / ((number > 0) + (number < len(edges))) for number, one in enumerate(put_in)]
    seams = tuple(
        Seam(float(time_s[row]), -before - after)
        for row, before, after in zip(at_rows, halves[:-1], halves[1:], strict=True)
    )
    return flight.saying("time-accelerated", message, time_s=time_s, seams=(*flight.seams, *seams))


def _rates(dt: FloatArray, speed: FloatArray) -> tuple[list[int], list[float]]:
    """Find the steps at which time changed its rate, and the rates before, between and after them."""
    edges: list[int] = []
    rates = [1.0]
    for edge in _sudden(dt, speed):
        rate = _rate_after(speed, edge, rates[-1])
        if rate is not None and edge - (edges[-1] if edges else 0) >= THRESHOLDS.least_rows:
            edges.append(edge)
            rates.append(rate)
    # Who begins and ends at one rate flew that as it was; else the slowest is the aircraft's own.
    usual = 1.0 if rates[-1] == 1.0 else min(rates)
    if rates[-1] != 1.0:
        begun, ended = float(np.median(speed[: edges[0]])), float(np.median(speed[edges[-1] :]))
        if abs(np.log(ended / max(begun, 1e-6) / rates[-1])) > np.log(1.0 + THRESHOLDS.wind_share):
            return [], [1.0]
    return edges, [rate / usual for rate in rates]


def _before(speed: FloatArray, edge: int) -> float:
    return float(np.median(speed[max(0, edge - 1 - THRESHOLDS.least_rows) : max(1, edge - 1)]))


def _rate_after(speed: FloatArray, edge: int, rate: float) -> float | None:
    """Return the rate after an edge at which the speed changes, from that before it; None where that was no rate."""
    limits, rows = THRESHOLDS, THRESHOLDS.least_rows
    # The steps at the edge may lie on both sides.
    beside = speed[max(0, edge - 1 - rows) : max(1, edge - 1)], speed[edge + 2 : edge + 2 + rows]
    if min(part.size for part in beside) < 3:
        return None
    before, after = (float(np.median(part)) for part in beside)
    found = min((1.0, *limits.rates), key=lambda one: abs(np.log(one / rate * before / max(after, 1e-6))))
    if found == rate or abs(after / before * rate / found - 1.0) > limits.rate_off:
        return None
    slowest = min(before, after) * (2.0 if min(rate, found) < 1.0 else 1.0)
    # A place that jumped, or a clock that did, makes one step faster than what lies on either side.
    jumped = float(speed[max(edge - 1, 0) : edge + 2].max()) > limits.jumped * max(before, after)
    steady = max(_swing(part) for part in beside) < limits.steady
    return found if slowest >= limits.flying_kt * MPS_PER_KT and steady and not jumped else None


def _swing(speed: FloatArray) -> float:
    """Return by how much speeds change from step to step, rms, as a share."""
    return float(np.std(np.diff(speed))) / max(float(np.median(speed)), 1e-6)


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
    fast = np.abs(after - before) > THRESHOLDS.impossible_mps2 * took
    if not fast.any():
        return []
    # In a hole there is time to turn round in the wind: it counts wherever it lies between the speeds compared.
    longest = np.lib.stride_tricks.sliding_window_view(dt, 2 * rows).max(axis=1)
    fast &= np.abs(after - before) > THRESHOLDS.impossible_mps2 * longest
    ratio = np.abs(np.log2(np.maximum(after, 0.1) / np.maximum(before, 0.1)))
    sudden = fast & (ratio > np.log2(THRESHOLDS.least_rate))
    # Medians tell an edge from a spike, single steps where it lies.
    changes = np.abs(np.diff(np.log(np.maximum(speed, 0.1))))
    found = []
    for a, b in runs(sudden):
        first = a + rows - 3
        found.append(first + 1 + int(np.argmax(changes[first : b + rows + 2])))
    return found

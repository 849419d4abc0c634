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
from analyser.logs.limits import some_of
from analyser.logs.log_thresholds import PACE
from analyser.logs.raw import FloatArray, RawFlight, beside
from analyser.logs.text import counted, listed
from analyser.logs.track import Seam, runs
from analyser.logs.track_errors import decimal_step, rounded_to_m


def take_out_pauses(flight: RawFlight) -> RawFlight:
    """Take the time out in which the aircraft cannot have flown; times increase.

    Rows written during a pause are left out; what lies after it is earlier by the time it lasted.
    """
    if flight.samples < 3 * PACE.around_steps:
        return flight
    stands = flight.repeats | (flight.moved_m < PACE.standing_share * float(np.median(flight.moved_m)))
    if not stands.any() and float(flight.steps_s.max()) <= PACE.least_pause_s:
        return flight
    distinct = np.append(True, ~stands)
    moving = flight.take(distinct)
    if moving.samples < 3 * PACE.around_steps:
        return flight
    dt = moving.steps_s
    least = max(PACE.least_pause_s, PACE.least_intervals * moving.usual_step_s)
    long = np.flatnonzero((dt > least) & (dt < PACE.longest_pause_s)).tolist()
    rounded_m = _rounded_to_m(moving) if long else 0.0
    pauses = [(step, lost) for step in long if (lost := _lost_s(moving, step, rounded_m)) > 0.0]
    if not pauses:
        return flight
    rows = np.flatnonzero(distinct)
    keep = np.ones(flight.samples, dtype=bool)
    shift = np.zeros(flight.samples)
    seams = []
    for step, lost in pauses:
        last, following = rows[step], rows[step + 1]
        keep[last + 1 : following] = False
        seams.append(Seam(float(flight.time_s[last] - shift[last]), lost))
        shift[following:] += lost
    many = counted(len(pauses), "pause", "pauses")
    where = listed([f"sample {rows[step] + 1} ({lost:.0f} s)" for step, lost in pauses])
    message = (
        f"The recording stood still in flight: {many} of {shift[-1]:.0f} s in all, after {where}. "
        "That time was taken out; what lies across a pause is not timed."
    )
    flown = replace(flight, time_s=flight.time_s - shift).take(keep)
    return flown.saying("time-paused", message, seams=(*flight.seams, *seams))


def _rounded_to_m(flight: RawFlight) -> float:
    """Return what positions are rounded to, metres, where that is more than satellite navigation errs; else 0."""
    few = some_of(flight.samples)
    return min(rounded_to_m(flight.lat_deg[few], 4), rounded_to_m(flight.lon_deg[few], 4))


def _lost_s(flight: RawFlight, step: int, rounded_m: float) -> float:
    """Return for how long a long step was not flown; 0 where it may have been."""
    dt, way = flight.steps_s, flight.steps_m
    usual_s = flight.usual_step_s
    count = max(
        PACE.around_steps, int(np.ceil(PACE.rounded_way_steps * rounded_m / float(np.median(flight.moved_m))))
    )
    velocities = []
    for part in beside(step, count):
        if dt[part].size < count or float(dt[part].max()) > PACE.hole_ratio * float(np.median(dt[part])):
            return 0.0
        velocities.append(complex(way[part].sum()) / float(dt[part].sum()))
    before, after = (abs(velocity) for velocity in velocities)
    if not rounded_m:
        # A pause that begins between two rows makes the step to the last one short.
        before = max(before, float(np.median(flight.speed_mps[beside(step, count)[0]])))
    if min(before, after) < PACE.flying_kt * MPS_PER_KT:
        return 0.0
    speed = 0.5 * (before + after)
    last, moved, first = (complex(way[at]) for at in (step - 1, step, step + 1))
    beside_m = PACE.beside_m + PACE.beside_share * abs(moved) + 0.5 * PACE.turning_mps2 * usual_s**2
    flown_m = min(PACE.onward_intervals * usual_s * speed, PACE.covered_share * dt[step] * speed)
    most_deg = PACE.same_track_deg + 2.0 * PACE.turning_dps * usual_s
    same_speed = PACE.same_speed_share
    if rounded_m:
        # A single step has hardly a direction: that of many is read, and they may have turned on the way in the wind.
        last, first = velocities
        same_speed *= 2.0
        beside_m += 2.0 * rounded_m
        most_deg += PACE.turning_dps * count * usual_s
    turned = float(np.degrees(np.angle(first * np.conj(last))))
    # Rows that crept on a little and were put back leave a step of no length.
    onward = moved * np.conj(last) / max(abs(last), 1e-9)
    goes_on = -0.5 * usual_s * speed - rounded_m <= onward.real <= flown_m
    same_speed += PACE.turned_in_wind_share * np.sin(0.5 * np.radians(abs(turned)))
    same = abs(turned) < most_deg and abs(after / before - 1.0) < same_speed
    if not (same and goes_on and abs(onward.imag) < beside_m):
        return 0.0
    return float(dt[step] - max(abs(moved) / speed, 0.5 * usual_s))


def put_in_lost_time(flight: RawFlight) -> RawFlight:
    """Put the time in that a clock did not count: a second written twice, or one that was lost; times increase.

    An aircraft cannot cover two seconds' way in one and go on as it was; a clock that is set back by one, or a recorder
    that drops a row and counts on, writes that. What lies after such a step is later by the time that was lost.
    """
    if flight.samples < 4 * PACE.around_steps:
        return flight
    dt, speed = flight.steps_s, flight.speed_mps
    least = (1.0 - PACE.even_share) * PACE.jumped_ratio * speed[:-1]
    sudden = (speed[1:] > least) & (speed[:-1] > PACE.flying_kt * MPS_PER_KT)
    steps = (np.flatnonzero(sudden) + 1).tolist()
    # Two roundings of the root of a twelfth make a step uneven by itself.
    if not steps or np.sqrt(1.0 / 6.0) * _rounded_to_m(flight) > PACE.even_share * np.median(flight.moved_m):
        return flight
    # Two neighbouring steps differ by six times the variance of a place, and a step has twice; the median length of a
    # plane vector is the root of 2 ln 2 of its sigma per axis.
    noise_m = float(np.median(np.abs(np.diff(flight.steps_m)))) / np.sqrt(6.0 * np.log(2.0))
    least_m = PACE.beyond_noise_sigmas * noise_m
    lost = [(step, gone) for step in steps if (gone := _not_counted_s(flight, step, least_m)) > 0.0]
    if not lost or len(lost) > PACE.most_jumps:
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


def _not_counted_s(flight: RawFlight, step: int, least_m: float) -> float:
    """Return how much time a step left out; 0 where it may have been flown as it is written, or be noise."""
    moved_m, took = float(flight.moved_m[step]), float(flight.steps_s[step])
    speeds = np.concatenate([flight.speed_mps[part] for part in beside(step, PACE.around_steps)])
    speed = float(speeds.mean())
    usual_m = speed * took
    even = max(abs(took / flight.usual_step_s - 1.0), np.ptp(speeds) / speed) <= PACE.even_share
    onward = flight.aside_deg(step, PACE.around_steps) <= PACE.ahead_deg
    jumped = moved_m > max(PACE.jumped_ratio * usual_m, usual_m + least_m)
    whole = speeds.size == 2 * PACE.around_steps
    return moved_m / speed - took if even and onward and jumped and whole else 0.0


def even_out_rate(flight: RawFlight) -> RawFlight:
    """Stretch time where a simulator's ran faster than the recorder's clock, press it where slower; times increase."""
    dt = flight.steps_s
    if flight.samples < 4 * PACE.least_rows:
        return flight
    rounded_m = _rounded_to_m(flight)
    picks = _for_speeds(flight, rounded_m)
    thinned = flight if picks.size == flight.samples else flight.take(picks)
    if thinned.samples < 2 * PACE.least_rows:
        return flight
    # Three roundings, each of a step's root of a twelfth, lie between one speed and the next.
    rough = float(np.sqrt(0.5)) / PACE.speed_way_steps if rounded_m else 0.0
    # The way over the speed that a log reports shows the rate whatever the wind, but where that was made of the way.
    for speed, unlikely_mps2 in ((_by_reported(thinned), 0.0), (thinned.speed_mps, PACE.unlikely_mps2)):
        edges, rates = _rates(_sudden(thinned, speed, unlikely_mps2, rough), speed, rough)
        if edges and _shows(thinned.speed_mps, edges, rates):
            break
    else:
        return flight
    at_rows = picks[edges].tolist()
    rate = np.repeat(rates, np.diff([0, *edges, speed.size]))
    for edge, before, after in zip(edges, rates[:-1], rates[1:], strict=True):
        # The steps at an edge took the time that their way asks for: part of each was flown at either rate.
        at = slice(edge - 1, edge + 2)
        alone = _medians(speed, edge)[0] / before
        rate[at] = np.clip(speed[at] / alone, min(before, after), max(before, after))
    stretched = dt * np.append(np.repeat(rate, np.diff(picks)), np.full(dt.size - picks[-1], rates[-1]))
    time_s = flight.time_s[0] + np.concatenate([[0.0], np.cumsum(stretched)])
    spans = list(pairwise([0, *at_rows, dt.size]))
    said = [
        f"{one:g} times as fast from sample {first + 1} to sample {last + 1}"
        for (first, last), one in zip(spans, rates, strict=True)
        if one != 1.0
    ]
    message = (
        f"Time ran at another rate than the recorder's clock: {listed(said)}. That was undone; what lies across its "
        "ends is not timed."
    )
    # What was put in is told half at either end; nobody stood still where time is pressed.
    put_in = [max(float((stretched - dt)[first:last].sum()), 0.0) for first, last in spans]
    halves = [one / ((number > 0) + (number < len(edges))) for number, one in enumerate(put_in)]
    seams = tuple(
        Seam(float(time_s[row]), -before - after)
        for row, (before, after) in zip(at_rows, pairwise(halves), strict=True)
    )
    return flight.saying("time-accelerated", message, time_s=time_s, seams=(*flight.seams, *seams))


def _shows(speed: FloatArray, edges: list[int], rates: list[float]) -> bool:
    """Tell whether the way from sample to sample changes where time does, by half of it at least: the wind hides less.

    It may hide all of one change, of who turns there, but not of them together. A reported speed that jumps alone was
    written in another unit, or not written for a while.
    """
    changes = [
        np.log(after / max(before, 1e-6)) for before, after in (_medians(speed, edge) for edge in edges)
    ]
    asked = np.diff(np.log(rates))
    return 2.0 * float(np.sign(asked) @ changes) > float(np.abs(asked).sum())


def _for_speeds(flight: RawFlight, rounded_m: float) -> NDArray[np.intp]:
    """Pick rows far enough apart that speeds between them are known."""
    if rounded_m:
        covered = np.floor(np.cumsum(flight.moved_m) / (PACE.speed_way_steps * rounded_m))
        return np.append(0, np.flatnonzero(np.diff(covered, prepend=0.0)) + 1)
    clock_s = PACE.clock_steps * decimal_step(flight.time_s, 3)
    if float(flight.steps_s.min()) < clock_s - 1e-6 < flight.usual_step_s:
        # Where time ran faster a clock that counts tenths counts hardly any from row to row.
        counted_s = np.floor(np.cumsum(flight.steps_s) / clock_s + 1e-6)
        return np.append(0, np.flatnonzero(np.diff(counted_s, prepend=0.0)) + 1)
    # Faster than about twice a second, a receiver's noise alone makes speeds jump.
    every = max(1, round(PACE.least_step_s / max(flight.usual_step_s, 1e-3)))
    return np.arange(0, flight.samples, every)


def _by_reported(flight: RawFlight) -> FloatArray:
    """Return the speeds from sample to sample, over the ground speed that the log reports; none where it has none."""
    reported = flight.channels.get("ground_speed_kt", flight.channels.get("speed_unmarked_kt", np.empty(0)))
    if not reported.size or not float(np.min(reported)) > 0.0:
        return np.empty(0)
    over = 0.5 * (reported[1:] + reported[:-1])
    return flight.speed_mps * float(np.median(over)) / over


def _rates(sudden: list[int], speed: FloatArray, rough: float) -> tuple[list[int], list[float]]:
    """Find the steps at which time changed its rate, and the rates before, between and after them."""
    edges: list[int] = []
    rates = [1.0]
    for edge in sudden:
        rate = _rate_after(speed, edge, rates[-1], rough)
        if rate is not None and edge - (edges[-1] if edges else 0) >= PACE.least_rows:
            edges.append(edge)
            rates.append(rate)
    closed = _there_and_back(speed, sudden, rough)
    if len(closed[0]) > len(edges):
        return closed
    if rates[-1] == 1.0:
        # Who begins and ends at one rate flew that as it was …
        return edges, rates
    begun, ended = float(np.median(speed[: edges[0]])), float(np.median(speed[edges[-1] :]))
    if abs(np.log(ended / max(begun, 1e-6) / rates[-1])) > np.log(1.0 + PACE.wind_share):
        return closed
    # … else the slowest is the aircraft's own.
    return edges, [rate / min(rates) for rate in rates]


def _there_and_back(speed: FloatArray, sudden: list[int], rough: float) -> tuple[list[int], list[float]]:
    """Find faster time by both its ends together: who turned in the wind near one of them changed speed there too."""
    edges: list[int] = []
    rates = [1.0]
    for one, other in pairwise(sudden):
        begins, ends = _change(speed, one, rough), _change(speed, other, rough)
        first = edges[-1] if edges else 0
        if begins is None or ends is None or min(other - one, one - first) < PACE.least_rows:
            continue
        there = float(np.sqrt(begins / ends))
        rate = min(PACE.offered_rates, key=lambda one: abs(np.log(one / there)))
        by_wind = abs(np.log(begins * ends)) < np.log(1.0 + PACE.wind_share)
        if rate > 1.0 and by_wind and abs(there / rate - 1.0) < PACE.rate_off_share + rough:
            edges += [one, other]
            rates += [rate, 1.0]
    return edges, rates


def _beside(speed: FloatArray, edge: int) -> tuple[FloatArray, FloatArray]:
    """Return the speeds before and after an edge, whose own steps may lie on both sides."""
    rows = PACE.least_rows
    return speed[: edge - 1][-rows:], speed[edge + 2 :][:rows]


def _medians(speed: FloatArray, edge: int) -> tuple[float, float]:
    before, after = _beside(speed, edge)
    return float(np.median(before)), float(np.median(after))


def _change(speed: FloatArray, edge: int, rough: float) -> float | None:
    """Return the factor by which the speed changes at an edge; None where that was no rate of time."""
    beside = _beside(speed, edge)
    if min(part.size for part in beside) < PACE.least_beside:
        return None
    before, after = _medians(speed, edge)
    # How much speeds change from step to step, rms, as a share.
    swings = [float(np.std(np.diff(part))) / max(float(np.median(part)), 1e-6) for part in beside]
    flying = 2.0 * min(before, after) >= PACE.flying_kt * MPS_PER_KT
    return (
        after / before
        if flying and max(swings) < np.hypot(PACE.steady_share, PACE.rough_swings * rough)
        else None
    )


def _rate_after(speed: FloatArray, edge: int, rate: float, rough: float) -> float | None:
    """Return the rate after an edge at which the speed changes, from that before it; None where that was no rate."""
    change = _change(speed, edge, rough)
    if change is None:
        return None
    found = min((1.0, *PACE.offered_rates), key=lambda one: abs(np.log(one / rate / change)))
    if min(rate, found) >= 1.0 and min(_medians(speed, edge)) < PACE.flying_kt * MPS_PER_KT:
        return None
    near = abs(change * rate / found - 1.0) <= PACE.rate_off_share + rough
    return found if found != rate and near else None


def _medians_of_five(values: FloatArray) -> FloatArray:
    """Return the median of each five neighbours: by comparisons, eight times as fast as by sorting."""
    a, b, c, d, e = (values[first : values.size - 4 + first] for first in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.asarray(np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), e)))


def _sudden(flight: RawFlight, speed: FloatArray, unlikely_mps2: float, rough: float) -> list[int]:
    """Find the steps at which a speed changes for good, by a factor and faster than any aeroplane's.

    Where even speeds lie on both sides a change of ``unlikely_mps2`` is one, on a straight way; 0 for a speed that
    knows neither wind nor throttle, which changes by a rate only.
    """
    rows, dt = 5, flight.steps_s
    if speed.size < 2 * rows + 1:
        return []
    medians = _medians_of_five(speed)
    before, after = medians[:-rows], medians[rows:]
    slower, faster = np.minimum(before, after), np.maximum(before, after)
    by_a_rate = faster > PACE.least_rate * np.maximum(slower, PACE.still_mps)
    if not by_a_rate.any():
        return []
    took = dt[rows : rows + before.size]
    # In a hole there is time to turn round in the wind: it counts wherever it lies between the speeds compared.
    longest = np.lib.stride_tricks.sliding_window_view(dt, 2 * rows).max(axis=1)
    impossible = PACE.impossible_mps2 * np.maximum(np.maximum(2.0 * took, 0.5), longest)
    # Evenly flown but for the two steps between, which may have been flown at either rate.
    windows = np.lib.stride_tricks.sliding_window_view(speed, rows - 1)
    spread = np.ptp(windows, axis=1) / np.maximum(np.median(windows, axis=1), PACE.still_mps)
    even = np.maximum(spread[: before.size], spread[rows + 1 :]) < np.hypot(PACE.level_share, 2.0 * rough)
    if unlikely_mps2:
        way = np.cumsum(np.append(0.0, flight.steps_m))
        over = way[rows - 1 :] - way[: 1 - rows]
        turned = np.angle(over[rows + 1 :] * over[: before.size].conj())
        even &= np.abs(turned) < np.radians(PACE.straight_deg)
    unlikely = unlikely_mps2 * np.maximum(3.0 * took, longest)
    sudden = by_a_rate & ((faster - slower > impossible) | (even & (faster - slower > unlikely)))
    # Medians tell an edge from a spike, single steps where it lies.
    changes = np.abs(np.diff(np.log(np.maximum(speed, PACE.still_mps))))
    found = []
    for a, b in runs(sudden):
        first = a + rows - 3
        found.append(first + 1 + int(np.argmax(changes[first : b + rows + 2])))
    return found

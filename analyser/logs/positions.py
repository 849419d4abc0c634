"""Positions no aircraft was at: outside the globe, on the zero island, held while it flew on, spikes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM, MPS_PER_KT
from analyser.errors import LogError
from analyser.logs.log_thresholds import LOOK, MOVED, PLACES
from analyser.logs.movement import offsets
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted, left_out
from analyser.logs.track import Notice, runs
from analyser.logs.track_errors import rounded_to_m, track_errors

BoolArray = NDArray[np.bool_]
Rows = NDArray[np.intp]

_GLOBE = "the globe's latitudes and longitudes"


def drop_impossible(flight: RawFlight, file: str) -> RawFlight:
    """Drop samples without a time or with a position that is none; what is left is finite, longitude in [-180, 180).

    LogError, with the file's name, where nothing is left.
    """
    if are_swapped(flight.lat_deg, flight.lon_deg):
        message = (
            "Every latitude lies beyond 90° and no longitude does: the two are swapped, and were read so."
        )
        swapped = Notice("position-form-assumed", message)
        flight = replace(flight, lat_deg=flight.lon_deg, lon_deg=flight.lat_deg).with_notices((swapped,))
    lon = flight.lon_deg
    with np.errstate(invalid="ignore"):
        # Longitudes may count on round the globe, eastward or westward; beyond that they are faults.
        outside = (np.abs(flight.lat_deg) > 90.0) | (np.abs(lon) > 360.0)
        zero = (np.abs(flight.lat_deg) < PLACES.zero_deg) & (np.abs(lon) < PLACES.zero_deg)
    timed, placed = np.isfinite(flight.time_s), np.isfinite(flight.lat_deg) & np.isfinite(lon)
    keep = timed & placed & ~outside & ~zero
    if not keep.any():
        fix = "record with a position fix"
        nothing = (
            (
                timed,
                "no sample has a readable time",
                "export it with its times, as ISO 8601 (2026-03-14T12:00:00Z)",
            ),
            (placed, "no sample has a position", fix),
            (
                *(placed & ~outside, f"every position lies outside {_GLOBE}"),
                "are latitude and longitude the right columns, in degrees?",
            ),
            (placed & ~zero, "every position is 0°N 0°E: the receiver never had a fix", fix),
            (keep, "no sample has both a time and a position", fix),
        )
        what, mend = next((what, mend) for there, what, mend in nothing if not there.any())
        raise LogError(what, file=file, place=f"all {keep.size:,} samples", mend=mend)
    faults = (
        ("time-missing", ~timed & placed, "has", "have", "no readable time"),
        ("position-out-of-range", outside & placed, "lies", "lie", f"outside {_GLOBE}"),
        ("position-zero", zero & timed, "lies", "lie", "at 0°N 0°E, where receivers without a fix are"),
        (
            "position-missing",
            ~placed & ((~placed).sum() > PLACES.missing_share * placed.size),
            "has",
            "have",
            "no position",
        ),
    )
    notices = [
        Notice(code, left_out(int(rows.sum()), f"sample {one} {what}", f"samples {many} {what}"))
        for code, rows, one, many, what in faults
        if rows.any()
    ]
    kept = flight if keep.all() else flight.take(keep)
    kept = replace(kept, notices=(*kept.notices, *notices))
    if not ((kept.lon_deg >= 180.0) | (kept.lon_deg < -180.0)).any():
        return kept
    return replace(kept, lon_deg=wrap180(kept.lon_deg))


def are_swapped(lat: FloatArray, lon: FloatArray) -> bool:
    """Tell whether degrees called latitudes can only be longitudes, and the other way round."""
    if ((np.abs(lat[: LOOK.first_rows]) <= 90.0) & np.isfinite(lon[: LOOK.first_rows])).any():
        return False
    known = np.isfinite(lat) & np.isfinite(lon)
    lats, lons = lat[known], np.abs(lon[known])
    if not known.any() or np.ptp(lats) > PLACES.swapped_range_deg:
        return False
    return bool(np.abs(lats).min() > 90.0 and np.abs(lats).max() <= 180.0 and 0.0 < lons.max() <= 90.0)


def drop_held(flight: RawFlight) -> RawFlight:
    """Drop repeats of a position while the aircraft moved on: slower receivers, and frozen ones.

    A run of equal positions that ends with a step too long for the last interval alone was held; its first
    sample is real, the others say nothing. An aircraft that is parked keeps its samples. Times increase.
    """
    if flight.samples < 3 or not flight.repeats.any():
        return flight
    repeat = np.concatenate([[False], flight.repeats])
    starts = np.flatnonzero(~repeat)
    ends = np.append(starts[1:], flight.samples)
    following = np.minimum(ends, flight.samples - 1)
    way = flight.apart_m(starts, following)
    span = np.maximum(flight.time_s[following] - flight.time_s[starts], 1e-6)
    moved = way / span > PLACES.moving_kt * MPS_PER_KT
    # The last run has nothing after it: it was held if the aircraft was moving up to it.
    moved[-1] = moved[-2] if moved.size > 1 else False
    held = moved & (ends - starts > 1)
    if not held.any():
        return flight
    step_m = rounded_to_m(flight.lat_deg)
    rounded = held & (way <= PLACES.next_place_steps * step_m)
    # Nothing shows how near the place after the last one was.
    rounded[-1] = False
    # One sample of every run is kept: the first, or where rounding made most of them, at the middle of its time.
    by_rounding = rounded.sum() > 0.5 * held.sum()
    kept, time_s = np.where(rounded & by_rounding, (starts + ends - 1) // 2, starts), flight.time_s.copy()
    time_s[kept] = np.where(rounded & by_rounding, 0.5 * (time_s[starts] + time_s[ends - 1]), time_s[kept])
    stale = np.repeat(moved, ends - starts)
    stale[kept] = False
    count, longest = int(stale.sum()), float((flight.time_s[ends - 1] - flight.time_s[starts])[moved].max())
    if by_rounding:
        repeats, code = counted(count, "repeat", "repeats"), "position-rounded"
        said = (
            f"Positions are rounded to {step_m:.0f} m, farther apart than the log's rows: {repeats} left out, and each "
            "position put at the middle of the time for which it stood."
        )
    elif longest > PLACES.frozen_s:
        some, code = counted(count, "sample", "samples"), "position-frozen"
        said = f"Positions froze while the aircraft moved ({some}, longest {longest:.0f} s); left out."
    else:
        some, code = counted(count, "repeat was", "repeats were"), "position-held"
        said = f"The position changes more slowly than the log is written; {some} left out."
    return replace(flight, time_s=time_s).take(~stale).saying(code, said)


def drop_coasted(flight: RawFlight) -> RawFlight:
    """Drop samples that a feed made up by going straight on where it had lost the aircraft; times increase.

    No aircraft flies so evenly that each step is the one before to the last digit, and then jumps: back onto the path
    it was truly on.
    """
    dt, step = flight.steps_s, flight.steps_m
    velocity = step / dt
    away = 1 + np.flatnonzero(np.abs(velocity[1:-1] - velocity[:-2]) * dt[1:-1] > PLACES.off_line_m)
    came, jump, goes = velocity[away - 1], velocity[away], velocity[away + 1]
    # The step between two chords of a path leads between them, and a clock's error along them: a jump leads aside.
    left, right = np.angle(jump * came.conj()), np.angle(jump * goes.conj())
    ends = np.radians(PLACES.coast_ends_deg)
    aside = (left * right > 0.0) & (np.abs(right) > ends)
    # After half a turn it leads as the path goes on, and faster than anything flies.
    aside |= np.abs(jump) > PLACES.coast_jump_ratio * np.maximum(np.abs(came), np.abs(goes))
    back = away[aside & (np.abs(left) > ends)]
    step_m = rounded_to_m(flight.lat_deg) if back.size else 0.0
    if not back.size or step_m > PLACES.coast_seen_m:
        return flight
    even = np.abs(step[1:] - step[:-1] * dt[1:] / dt[:-1]) < 2.0 * step_m + PLACES.even_m
    # Where most of a track is even its rows were interpolated, or its air and its autopilot are a simulator's.
    if even.mean() > PLACES.coast_most_share:
        return flight
    made_up = np.zeros(flight.samples, dtype=bool)
    for first, end in runs(even):
        # The run's inner samples are those from first + 1 to end; the jump is the step after the last one's next.
        if (
            end - first < PLACES.coast_rows
            or end + 1 not in back
            or abs(velocity[first]) < PLACES.moving_kt * MPS_PER_KT
        ):
            continue
        lasted_s = float(flight.time_s[end + 1] - flight.time_s[first])
        # Whoever was put somewhere else, as in a simulator, had not been lost so far away before.
        jumped_m = abs(step[end + 1] - velocity[first] * dt[end + 1])
        if (
            lasted_s <= PLACES.coast_lasts_s
            and jumped_m < PLACES.coast_away_share * abs(velocity[first]) * lasted_s
        ):
            made_up[first + 1 : end + 2] = True
    if not made_up.any():
        return flight
    spans = [
        float(flight.time_s[min(b, flight.samples - 1)] - flight.time_s[a - 1]) for a, b in runs(made_up)
    ]
    message = (
        f"The positions went straight on where the feed had lost the aircraft, and jumped back onto its path: "
        f"{counted(int(made_up.sum()), 'sample', 'samples')} left out, in {counted(len(spans), 'stretch', 'stretches')}"
        f", the longest {max(spans):.0f} s."
    )
    return flight.take(~made_up).saying("position-coasted", message)


def _drop_spikes(flight: RawFlight, slack_m: float) -> RawFlight:
    """Drop single samples that jump off the path and back.

    A corner is no spike: tracking networks draw paths with corners of 70°, where going through the corner is a
    fifth longer than going across. A spike makes the way at least half as long again.
    """
    off_line, allowed = _off_line(flight)
    allowed = allowed + slack_m
    length = flight.moved_m
    across = np.abs(flight.steps_m[:-1] + flight.steps_m[1:])
    detour = length[:-1] + length[1:] > PLACES.detour_ratio * across + PLACES.off_line_m
    # The neighbours of a spike stand off their lines too, by half as much: only the peak goes.
    peak = np.pad(off_line, 1)
    highest = (off_line >= peak[:-2]) & (off_line >= peak[2:])
    spike = np.concatenate([[False], (off_line > allowed) & detour & highest, [False]])
    # So many are no faults of a receiver: two aircraft are mixed, and the chains will part them.
    return flight if float(spike.mean()) > PLACES.most_spikes_share else _without(flight, spike)


def _off_line(flight: RawFlight) -> tuple[FloatArray, FloatArray]:
    """Return how far each inner sample stands off the line between its neighbours, and how far it may, metres."""
    dt, step = flight.steps_s, flight.steps_m
    off = np.abs(step[:-1] - dt[:-1] / (dt[:-1] + dt[1:]) * (step[:-1] + step[1:]))
    return off, PLACES.off_line_m + 0.5 * PLACES.acceleration_mps2 * np.minimum(
        dt[:-1] * dt[1:], PLACES.turning_s**2
    )


def _without(flight: RawFlight, spike: BoolArray) -> RawFlight:
    return flight.take(~spike).saying(*_spikes(int(spike.sum()))) if spike.any() else flight


def _spikes(count: int) -> tuple[str, str]:
    away = "away from the path and back"
    return "position-spike", left_out(count, f"sample jumps {away}", f"samples jump {away}")


def parted(flight: RawFlight, file: str) -> list[RawFlight]:
    """Take out stretches away from the path, and part what one aircraft cannot have flown; times increase.

    Samples are cut into blocks at jumps; the chain of blocks that holds the most samples and can be flown is
    one flight. Long blocks left over are other flights; short ones are faults of the receiver. Flights come in order of
    time; LogError, with the file's name, where the positions jump so often that no flight can be found in them.
    """
    if flight.samples < 3:
        return [flight]
    off_line, allowed = _off_line(flight)
    # Most logs are sound, and cheap questions show it.
    in_line = not (off_line > allowed).any()
    if in_line and float(flight.moved_m.max()) <= PLACES.reach_m:
        return [flight]
    usual = float(np.percentile(flight.speed_mps, MOVED.usual_speed_percent))
    if in_line and not (flight.moved_m > _within(usual, flight.steps_s)).any():
        return [flight]
    # A clock that wanders moves samples along the track, each by its own error.
    errors = track_errors(flight.time_s, flight.lat_deg, flight.lon_deg, slipping=False)
    # More than half an interval is no jitter: two aircraft are taken in turn.
    believed = errors.time_jitter_s <= max(0.5 * errors.effective_s, PLACES.least_jitter_s)
    slack_m = PLACES.jitter_sigmas * errors.time_jitter_s * usual if believed else 0.0
    flight = _drop_spikes(_drop_early_and_late(flight, usual, slack_m), slack_m)
    speed, steps = _jumps(flight, usual, slack_m)
    # Where every second step jumps, aircraft are taken in turn.
    lags = steps.size < PLACES.most_spikes_share * flight.samples
    jumps = [step for step in steps.tolist() if not (lags and _catches_up(flight, step, float(speed[step])))]
    if not jumps:
        return [flight]
    if len(jumps) >= PLACES.most_blocks:
        raise LogError(
            f"the position jumps {len(jumps):,} times, so no flight can be found in it",
            file=file,
            place=f"sample {jumps[0] + 2} the first",
            mend="are latitude and longitude the right columns?",
        )
    chains: list[Rows] = []
    for rows in _chains(flight, speed, np.array([0, *(step + 1 for step in jumps), flight.samples]), slack_m):
        # Another aircraft is elsewhere; samples of this one that jump along its track are only early or late.
        if not any(_lies_along(flight, rows, one, slack_m) for one in chains):
            chains.append(rows)
    spikes = flight.samples - sum(rows.size for rows in chains)
    flights = [flight.take(rows) for rows in sorted(chains, key=lambda rows: float(flight.time_s[rows[0]]))]
    said = (*([Notice(*_spikes(spikes))] if spikes else []), *_jumped(flights))
    return [replace(part, notices=(*part.notices, *said)) for part in flights]


def _jumps(flight: RawFlight, usual: float, slack_m: float) -> tuple[FloatArray, Rows]:
    """Return the speed round about each step, m/s, and the steps that are longer than it explains.

    Tracking networks move samples in time by seconds, so a step may be twice what the speed explains.
    """
    speed = np.maximum(median_around(flight.speed_mps, PLACES.around_steps), usual)
    return speed, np.flatnonzero(flight.moved_m > _within(speed, flight.steps_s) + slack_m)


def _drop_early_and_late(flight: RawFlight, usual: float, slack_m: float) -> RawFlight:
    """Drop a few samples that jump along the path, ahead of their time or behind it, where it goes on beyond them.

    A feed whose clock slipped writes a place that the aircraft reached seconds later, and waits there for it.
    """
    speed, jumps = _jumps(flight, usual, slack_m)
    wrong = np.zeros(flight.samples, dtype=bool)
    if jumps.size <= PLACES.most_spikes_share * flight.samples:
        for jump in jumps.tolist():
            if not (wrong[jump] or wrong[jump + 1]):
                wrong[_misplaced(flight, jump, float(speed[jump]), slack_m)] = True
    return _without(flight, wrong)


def _misplaced(flight: RawFlight, jump: int, speed: float, slack_m: float) -> slice:
    """Return the shortest run of samples beside a jump without which the path can be flown; empty for none."""
    for count in range(1, PLACES.most_misplaced + 1):
        for before, after in ((jump, jump + 1 + count), (jump - count, jump + 1)):
            if before < 0 or after >= flight.samples:
                continue
            took = flight.time_s[after] - flight.time_s[before]
            reach = PLACES.reach_ratio * speed * took + PLACES.off_line_m + slack_m
            if took <= PLACES.along_s and float(flight.apart_m([before], [after])[0]) <= reach:
                return slice(before + 1, after)
    return slice(0)


def _catches_up(flight: RawFlight, step: int, speed: float) -> bool:
    """Tell whether a jump leads straight on along the track by seconds: a feed that lagged behind its own aircraft."""
    return bool(
        flight.moved_m[step] <= speed * PLACES.along_s
        and flight.aside_deg(step, PLACES.beside_steps) < PLACES.ahead_deg
    )


def _jumped(flights: list[RawFlight]) -> tuple[Notice, ...]:
    """Say where one flight begins, somewhere else, as the one before it ends."""
    found = []
    for before, after in pairwise(flights):
        gap_s = float(after.time_s[0] - before.time_s[-1])
        if gap_s > 0.0:
            ends = before.lat_deg[-1:], before.lon_deg[-1:], after.lat_deg[:1], after.lon_deg[:1]
            away_nm = float(np.hypot(*offsets(*ends))[0]) / METRES_PER_NM
            message = (
                f"After {before.samples:,} samples the position jumps by {away_nm:.1f} NM within {gap_s:.0f} s, which "
                "no aircraft flies (re-positioned in a simulator?): what follows is taken for a flight of its own."
            )
            found.append(Notice("position-jump", message))
    return tuple(found)


def _lies_along(flight: RawFlight, rows: Rows, path: Rows, slack_m: float) -> bool:
    """Tell whether samples lie on a path, no earlier or later than a bad clock puts them, for most of them."""
    time_s = flight.time_s
    if time_s[rows[0]] > time_s[path[-1]] or time_s[rows[-1]] < time_s[path[0]]:
        return False
    place = np.searchsorted(time_s[path], time_s[rows])
    nearest = np.full(rows.size, np.inf)
    for shift in range(-PLACES.along_rows, PLACES.along_rows):
        row = path[np.clip(place + shift, 0, path.size - 1)]
        in_time = np.abs(time_s[row] - time_s[rows]) <= PLACES.along_s
        nearest = np.where(in_time, np.minimum(nearest, flight.apart_m(rows, row)), nearest)
    # A path is a string of samples: half a step may lie between a place on it and the nearest of them.
    step = flight.apart_m(path[:-1], path[1:])
    reach = (
        PLACES.off_line_m + (PLACES.between_share * float(np.median(step)) if step.size else 0.0) + slack_m
    )
    return float(np.mean(nearest <= reach)) > 0.5


def _chains(flight: RawFlight, speed: FloatArray, edges: Rows, slack_m: float) -> list[Rows]:
    """Peel off one flyable chain of the blocks between edges after another; return the rows of the long ones."""
    chains: list[Rows] = []
    first, last = edges[:-1], edges[1:] - 1
    left, visits = np.arange(first.size), 0
    while left.size and visits < PLACES.most_blocks:
        visits += left.size
        chain = left[_longest_chain(flight, speed, first[left], last[left], slack_m)]
        left = np.setdiff1d(left, chain, assume_unique=True)
        rows = np.concatenate([np.arange(first[block], last[block] + 1) for block in chain])
        if not chains or (
            rows.size >= PLACES.spike_samples
            and flight.time_s[rows[-1]] - flight.time_s[rows[0]] >= PLACES.spike_s
        ):
            chains.append(rows)
        elif rows.size < PLACES.spike_samples:
            # Chains come longest first: nothing longer is left.
            break
    return chains


def _longest_chain(
    flight: RawFlight, speed: FloatArray, first: Rows, last: Rows, slack_m: float
) -> list[int]:
    """Find the chain of blocks with the most samples in which each step can be flown (dynamic programming)."""
    best, came_from = last - first + 1.0, np.full(first.size, -1)
    before, after = speed[np.maximum(last - 1, 0)], speed[np.minimum(first, speed.size - 1)]
    for here in range(1, first.size):
        back = slice(max(0, here - PLACES.look_back_blocks), here)
        took = flight.time_s[first[here]] - flight.time_s[last[back]]
        reach = _within(np.maximum(before[back], after[here]), took) + slack_m
        gain = np.where(flight.apart_m(last[back], first[here]) <= reach, best[back], 0.0)
        choice = int(np.argmax(gain))
        if gain[choice] > 0.0:
            best[here] += gain[choice]
            came_from[here] = back.start + choice
    chain, place = [], int(np.argmax(best))
    while place >= 0:
        chain.append(place)
        place = int(came_from[place])
    return chain[::-1]


def _within(speed: FloatArray | float, dt: FloatArray) -> FloatArray:
    """Return how far an aircraft may get in metres: twice as fast as round about, with something to spare."""
    return np.asarray(
        PLACES.reach_m + np.minimum(2.0 * np.asarray(speed) + PLACES.faster_mps, PLACES.fastest_mps) * dt
    )


def median_around(values: FloatArray, reach: int) -> FloatArray:
    """Return the median of each value and so many on either side of it."""
    if values.size <= 2 * reach:
        return np.full(values.size, float(np.median(values)))
    padded = np.pad(values, reach, mode="reflect")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1), axis=1))

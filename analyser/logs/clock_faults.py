"""Clocks that repeat, run backwards, leap or carry the wrong week: put in order, and said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import DAY_S, SIGMA_PER_MEDIAN
from analyser.logs.log_thresholds import CLOCK, MOVED, TIMES
from analyser.logs.movement import offsets
from analyser.logs.raw import FloatArray, RawFlight, beside
from analyser.logs.text import counted, listed
from analyser.logs.track import Notice, Seam, runs
from analyser.logs.track_errors import rounded_to_m

Rows = NDArray[np.intp]

#: 1,024 weeks: a receiver that loses count of them is so much behind.
ROLLOVER_S = 1024 * 7 * DAY_S


def order_clock(flight: RawFlight) -> RawFlight:
    """Bring samples into the order they were flown, with a clock that only runs forward.

    Times and positions are finite. Equal times stay: :func:`drop_duplicates` drops them.
    """
    if flight.samples < 2:
        return flight
    if float(flight.steps_s.min()) < 0.0:
        if (flight.steps_s < 0.0).mean() > CLOCK.shaking_share and _shakes(flight):
            flight = _calmed(flight)
        if 0.0 < (flight.steps_s < 0.0).mean() < CLOCK.most_backward_share:
            flight = _mend_wrong_times(flight)
        if (flight.steps_s < 0.0).any():
            flight = _straighten(flight)
    return _take_out_leaps(flight)


def _usual_s(flight: RawFlight) -> float:
    """Return the usual one of the steps that run forward, seconds."""
    forward = flight.steps_s[flight.steps_s > 0.0]
    return float(np.median(forward)) if forward.size else 1.0


def _usual_way_m(flight: RawFlight) -> float:
    """Return how far the aircraft flies in a usual step when it is fast; NaN where no step runs forward."""
    forward = flight.steps_s > 0.0
    if not forward.any():
        return float("nan")
    speed = float(np.percentile(flight.moved_m[forward] / flight.steps_s[forward], MOVED.usual_speed_percent))
    return speed * _usual_s(flight)


def _near_m(flight: RawFlight) -> float:
    """Return how far neighbours lie apart at most: a few intervals of flight."""
    return CLOCK.near_steps * _usual_way_m(flight) + CLOCK.near_m


def _flies_on(flight: RawFlight) -> bool:
    return bool(np.median(flight.moved_m[flight.steps_s < 0.0]) <= _near_m(flight))


def _by_clock(flight: RawFlight) -> RawFlight:
    return flight.take(np.argsort(flight.time_s, kind="stable"))


def _shakes(flight: RawFlight) -> bool:
    """Tell whether a clock that often steps back goes forward all the same, and the aircraft with it."""
    went_s = float(flight.time_s[-1] - flight.time_s[0])
    goes_on = went_s > 0.5 * CLOCK.calmed_over * float(
        np.percentile(np.abs(flight.steps_s), CLOCK.shaking_percent)
    )
    return bool(goes_on and flight.moved_m.sum() < _by_clock(flight).moved_m.sum() and _flies_on(flight))


def _calmed(flight: RawFlight) -> RawFlight:
    """Write an even beat in place of times that shake by more than the samples lie apart: rows come in their order.

    Sorted, they would shuffle the flight; re-based at each step back, they would stretch it.
    """
    count, half = flight.samples, min(CLOCK.calmed_over, flight.samples // 4)
    row = np.arange(count)
    beat = float(np.median(flight.time_s[count // 2 :] - flight.time_s[: count - count // 2])) / (count // 2)
    off = flight.time_s - beat * row
    around = np.lib.stride_tricks.sliding_window_view(np.pad(off, half, mode="reflect"), 2 * half + 1)
    middles = np.median(around, axis=1)
    # What a single wrong time is off by is not averaged in.
    spread = SIGMA_PER_MEDIAN * float(np.median(np.abs(off - middles)))
    sound = middles + np.clip(off - middles, -CLOCK.outlier_sigmas * spread, CLOCK.outlier_sigmas * spread)
    window = np.ones(2 * half + 1) / (2 * half + 1)
    calm = np.convolve(np.pad(sound, half, mode="reflect"), window, mode="valid")
    back, shaken_s = int((flight.steps_s < 0.0).sum()), np.abs(off - calm)
    # Where most times are right, it is the others that shake; two between which the clock runs back lie a beat apart.
    off_s = shaken_s[shaken_s > CLOCK.right_share * beat]
    about_s = (
        SIGMA_PER_MEDIAN * float(np.median(shaken_s)) if 2 * off_s.size > count else float(np.median(off_s))
    )
    message = (
        f"The clock runs back at {counted(back, 'sample', 'samples')} while the aircraft flies on: its times shake by "
        f"about {about_s:.1f} s. The samples were kept in their order and the times averaged over {2 * half + 1}."
    )
    return flight.saying("time-shaken", message, time_s=np.maximum.accumulate(beat * row + calm))


def _mend_wrong_times(flight: RawFlight) -> RawFlight:
    """Put a few samples between their neighbours that lie there and whose times do not.

    A wrong time shows where the clock steps back: the samples before and after a short run follow one another, and so
    do all their places, but the times inside lie elsewhere. A sample that was only written late lies elsewhere itself.
    """
    time_s = flight.time_s.copy()
    wrong = np.zeros(time_s.size, dtype=bool)
    order = np.argsort(flight.time_s, kind="stable")
    usual_s, near_m = _usual_s(flight), _near_m(flight)
    for back in np.flatnonzero(flight.steps_s < 0.0).tolist():
        run = _wrong_run(time_s, flight.moved_m, back, usual_s, near_m)
        if not run.size and not _lacks_time(time_s, flight.moved_m, back, usual_s):
            run = _wrong_run(time_s, flight.moved_m, back, usual_s, near_m, set_back=False)
        if run.size and not _flown_then(flight, order, run):
            time_s[run] = np.interp(run, run[[0, -1]], time_s[run[[0, -1]]])
            wrong[run[1:-1]] = True
    if not wrong.any():
        return flight
    off_s = float(np.abs(time_s - flight.time_s)[wrong].max())
    message = (
        f"{counted(int(wrong.sum()), 'sample carries a time', 'samples carry times')} off the neighbours', by up to "
        f"{off_s:,.0f} s ({_named(wrong)}); put between them."
    )
    return flight.saying("time-spike", message, time_s=time_s)


def _lacks_time(time_s: FloatArray, moved_m: FloatArray, back: int, usual_s: float) -> bool:
    """Tell whether about a step back the clock ran for less than the way took: set back, and not early once."""
    steps_s = np.diff(time_s)
    near, wide = (slice(max(back - reach, 0), back + reach + 1) for reach in CLOCK.lacks_samples)
    took_s = moved_m[near].sum() * steps_s[wide].sum() / max(float(moved_m[wide].sum()), 1.0)
    return bool(took_s - steps_s[near].sum() > 0.5 * usual_s)


def _wrong_run(
    time_s: FloatArray,
    moved_m: FloatArray,
    back: int,
    usual_s: float,
    near_m: float,
    *,
    set_back: bool = True,
) -> Rows:
    """Find the shortest run of wrong times at a step back, with the sample on either side; empty where there is none.

    Those that end before the step, or those that begin after it; ``set_back`` where it may be the clock instead.
    """
    for count in range(1, CLOCK.most_wrong_times + 1):
        for before in (back - count, back):
            after = before + count + 1
            if before < 0 or after >= time_s.size:
                continue
            inside, took = time_s[before + 1 : after], time_s[after] - time_s[before]
            # By less than an interval a clock may have been set back as well: then the time before and after it lacks.
            over_s = usual_s if set_back and took <= CLOCK.set_back_share * (count + 1) * usual_s else 0.0
            out = (inside > time_s[after] + over_s).all() or (inside < time_s[before] - over_s).all()
            fits = 0.0 < took <= CLOCK.run_ratio * (count + 1) * usual_s
            if fits and out and (moved_m[before:after] <= near_m).all():
                return np.arange(before, after + 1)
    return np.empty(0, dtype=int)


def _flown_then(flight: RawFlight, order: Rows, run: Rows) -> bool:
    """Tell whether the samples inside a run lie where the aircraft was at their times: they were only written late."""
    time_s, inside, ends = flight.time_s, run[1:-1], run[[0, -1]]
    place = int(np.searchsorted(time_s[order], time_s[inside[0]]))
    near = order[max(0, place - CLOCK.then_samples) : place + CLOCK.then_samples]
    near = near[(near < inside[0]) | (near > inside[-1])]
    if near.size < 2 or (time_s[inside] > time_s[near[-1]]).any():
        return False

    def away_m(at: FloatArray | Rows, known: FloatArray | Rows, places: Rows) -> float:
        lat, lon = (np.interp(at, known, values[places]) for values in (flight.lat_deg, flight.lon_deg))
        return float(np.hypot(*offsets(lat, lon, flight.lat_deg[inside], flight.lon_deg[inside])).max())

    return away_m(time_s[inside], time_s[near], near) < 0.5 * away_m(inside, ends, ends)


def _named(which: NDArray[np.bool_]) -> str:
    """Name runs of samples: "sample 14", "samples 14 to 20, 31"."""
    said = listed([f"{a + 1} to {b}" if b > a + 1 else f"{b}" for a, b in runs(which)])
    return f"{'sample' if int(which.sum()) == 1 else 'samples'} {said}"


def _straighten(flight: RawFlight) -> RawFlight:
    """Choose between sorting and re-basing: the aircraft flew the order in which it moved least.

    Sorting is right for samples written late; for a clock set back in flight it would shuffle two stretches
    into one another, and the path shows it: in file order the aircraft flies on over the step without a jump.
    """
    backward = flight.steps_s < 0.0
    count, named = int(backward.sum()), _named(np.concatenate([[False], backward]))
    by_clock = _by_clock(flight)
    restarted = count <= CLOCK.most_restarts and all(
        _goes_on(flight, step) for step in np.flatnonzero(backward).tolist()
    )
    if by_clock.moved_m.sum() <= flight.moved_m.sum() or not (restarted or _flies_on(flight)):
        often = counted(count, "time runs", "times run")
        message = f"{often} backwards ({named}); the samples were sorted by time."
        return by_clock.saying("time-backward", message)
    message = (
        f"The clock was set back {'once' if count == 1 else f'{count} times'} while the aircraft flew on, at {named}; "
        "the times of the samples before were moved back to meet it, from the distance flown."
    )
    mended = _rebase(flight, backward)
    seams = tuple(
        Seam(float(mended.time_s[step + 1]), float(flight.steps_s[step] - mended.steps_s[step]))
        for step in np.flatnonzero(backward & (mended.steps_s > 2.0 * _usual_s(flight)))
    )
    return mended.saying("time-set-back", message, seams=(*flight.seams, *seams))


def _beside(flight: RawFlight, step: int) -> Rows:
    near = np.r_[beside(step, CLOCK.beside_samples)]
    return np.asarray(near[near < flight.samples - 1])


def _goes_on(flight: RawFlight, step: int) -> bool:
    """Tell whether a recorder that was started anew at a step found its aircraft where it had flown on to meanwhile."""
    near = _beside(flight, step)
    took_s = float(flight.steps_s[near].sum())
    speed = float(flight.moved_m[near].sum()) / took_s if took_s > 0.0 else 0.0
    flown_on = speed > CLOCK.flying_mps and flight.moved_m[step] < speed * CLOCK.longest_restart_s
    return bool(flown_on and flight.aside_deg(step, CLOCK.beside_samples) < CLOCK.ahead_deg)


def _rebase(flight: RawFlight, leaps: NDArray[np.bool_]) -> RawFlight:
    """Replace the steps at leaps by the time the distance takes at the speed before, at least one interval."""
    steps, distance, usual_s = flight.steps_s, flight.moved_m, _usual_s(flight)
    sound = ~leaps & (steps > 0.0)
    speed = float(np.median(distance[sound] / steps[sound])) if sound.any() else 0.0
    took = np.where(distance > 2.0 * speed * usual_s, distance / max(speed, 1.0), usual_s)
    time_s = flight.time_s[0] + np.concatenate([[0.0], np.cumsum(np.where(leaps, took, steps))])
    # The end of the log is taken for right: receivers start with a wrong clock and mend it; but not where no log can be
    # of that date.
    if not (flight.dated and flight.time_s[-1] < TIMES.oldest_s <= flight.time_s[0]):
        time_s = time_s + (flight.time_s[-1] - time_s[-1])
    return replace(flight, time_s=time_s)


def _take_out_leaps(flight: RawFlight) -> RawFlight:
    """Take out long steps forward over no more distance than one interval's flight: the clock leapt, no hole."""
    steps, leaps = flight.steps_s, flight.steps_s > CLOCK.leap_s
    if not leaps.any():
        return flight
    # Places may be rounded to more than a step is long.
    rounded_m = 2.0 * rounded_to_m(flight.lat_deg)
    for place in np.flatnonzero(leaps).tolist():
        near = _beside(flight, place)
        near = near[(steps[near] > 0.0) & (steps[near] <= CLOCK.leap_s)]
        speed = float(flight.moved_m[near].sum() / steps[near].sum()) if near.size else 0.0
        usual_m, moved_m = speed * _usual_s(flight), float(flight.moved_m[place])
        least_m, most_m = (share * usual_m for share in CLOCK.leap_way)
        leaps[place] = speed > CLOCK.flying_mps and least_m - rounded_m < moved_m < most_m + rounded_m
    if not leaps.any():
        return flight
    total = float(steps[leaps].sum())
    weeks = ", as a receiver does that has lost 1,024 weeks," if abs(total - ROLLOVER_S) < DAY_S else ""
    message = f"The clock leapt forward by {total:,.0f} s{weeks} without a hole in the flight; the leap was taken out."
    return _rebase(flight, leaps).saying("time-leap", message)


def drop_duplicates(flight: RawFlight) -> RawFlight:
    """Keep the first of samples that carry the same time; times increase or are equal."""
    again = flight.steps_s <= 0.0
    if not again.any():
        return flight
    moved = int((again & ~flight.repeats).sum())
    if moved > 0.5 * flight.samples:
        said = counted(moved, "sample repeats the time before it", "samples repeat the time before them")
        code, said = "time-coarse", f"The clock is coarser than the sampling: {said}; the first of each time"
    else:
        said = counted(int(again.sum()), "sample repeats", "samples repeat")
        code, said = "time-duplicate", f"{said} a time already there; the first of each"
    return flight.take(np.append(True, ~again)).saying(code, f"{said} was kept.")


def doubtful_date(start_s: float, now_s: float) -> Notice | None:
    """Say when a log's date cannot be right, or looks 1,024 weeks behind; both times are POSIX seconds.

    A date with ``"date-impossible"`` must not be used.
    """
    if start_s < TIMES.oldest_s or start_s > now_s + TIMES.ahead_s:
        return Notice("date-impossible", "The log's date lies before 1990 or in the future; it was not used.")
    behind = start_s + ROLLOVER_S
    if now_s - CLOCK.rolled_over_s < behind < now_s + DAY_S:
        return Notice(
            "date-old",
            "The date is about 1,024 weeks ago: receivers that have lost count of the weeks write that. "
            "It is used as it stands.",
        )
    return None
